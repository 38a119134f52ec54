//! How two texts differ, in as few lines as will do.

use std::fmt::Write;

/// How far one side is searched for the other's next line.
const REACH: usize = 200;

/// The lines that differ, with their numbers in `want`: `-` for lines that
/// only `want` has, `+` for those that only `got` has; at most `most` lines.
///
/// ```
/// use etui_tests::differences::differences;
/// assert_eq!(differences("a\nb\nc", "a\nx\nc", 9), "   2 - b\n   2 + x\n");
/// assert_eq!(differences("a", "a", 9), "");
/// ```
#[must_use]
pub fn differences(want: &str, got: &str, most: usize) -> String {
    let want: Vec<&str> = want.lines().collect();
    let got: Vec<&str> = got.lines().collect();
    let (mut at, mut other) = (0, 0);
    let mut lines = Vec::new();
    while at < want.len() || other < got.len() {
        if want.get(at) == got.get(other) {
            at += 1;
            other += 1;
            continue;
        }
        let (gone, come) = next_meeting(&want[at..], &got[other..]);
        lines.extend(want[at..at + gone].iter().map(|line| (at + 1, '-', *line)));
        lines.extend(got[other..other + come].iter().map(|line| (at + 1, '+', *line)));
        at += gone;
        other += come;
    }
    print(&lines, most)
}

/// How many lines to leave out on each side until both go on alike.
fn next_meeting(want: &[&str], got: &[&str]) -> (usize, usize) {
    for distance in 1..REACH {
        for gone in 0..=distance {
            let come = distance - gone;
            if gone < want.len() && come < got.len() && want[gone] == got[come] {
                return (gone, come);
            }
        }
    }
    (want.len(), got.len())
}

fn print(lines: &[(usize, char, &str)], most: usize) -> String {
    let mut text = String::new();
    for (number, sign, line) in lines.iter().take(most) {
        let short: String = line.chars().take(200).collect();
        let _ = writeln!(text, "{number:>4} {sign} {short}");
    }
    if most < lines.len() {
        let _ = writeln!(text, "… and {} more lines", lines.len() - most);
    }
    text
}
