//! What OCR and typing do to a clear label, and what the reader makes of it.
//!
//! Noise model, one corruption: a look-alike (`0/O`, `1/l/I`, `5/S`, `8/B` in
//! both directions, so `RL/R1` and `RS/R5` too), a blank put in, a separator
//! left out, all lower case, the next word glued on. Every corruption that is
//! possible is tried once; of two, a seeded draw. Run with `--nocapture` for
//! the table.

#![expect(clippy::unwrap_used, reason = "a test fails by its unwrap")]

use etui_craft::label::{Outcome, Policy, Printed, Reader};
use etui_schema::vocabulary::Configuration;
use jiff::civil::date;
use std::sync::LazyLock;

static READER: LazyLock<Reader> = LazyLock::new(|| Reader::builtin().unwrap());

/// Clear labels of every shape: sizes, counts, codes, tapers, separators.
fn clear_labels() -> Vec<String> {
    let mut labels = Vec::new();
    let sizes = [
        ("08", "0.25"),
        ("10", "0.30"),
        ("12", "0.35"),
        ("06", "0.20"),
        ("25", "0.25"),
        ("18", "0.18"),
    ];
    let codes = ["RL", "RS", "F", "M1", "M2", "RM", "SEM", "HRL", "TL", "SL"];
    let counts = ["01", "03", "05", "07", "08", "09", "11", "13", "14", "15", "18"];
    let tapers = ["", "ST", "MT", "LT", "XLT"];
    for (number, mm) in sizes {
        for code in codes {
            for count in counts {
                let short = count.trim_start_matches('0');
                let comma = mm.replace('.', ",");
                for taper in tapers {
                    let end = if taper.is_empty() { String::new() } else { format!(" {taper}") };
                    labels.extend([
                        format!("{number}{count}{code}{taper}"),
                        format!("{number} {count} {code}{end}"),
                        format!("{number}-{count}{code}{end}"),
                        format!("{mm} {short}{code}{end}"),
                    ]);
                }
                labels.extend([
                    format!("{number}/{count}{code}"),
                    format!("{number}_{count}_{code}"),
                    format!("#{} {short}{code}", number.trim_start_matches('0')),
                    format!("{mm}/{short}{code}"),
                    format!("{comma} {short}{code}"),
                    format!("{} {short}{code}", mm.trim_start_matches('0')),
                    format!("{short}{code} {mm}mm"),
                    format!("{code}{short}-{mm}"),
                    format!("{code}{number}{count}"),
                    format!("{}µm {short}{code}", mm.trim_start_matches("0.").to_owned() + "0"),
                    format!("{number}{count}{code} BP"),
                ]);
            }
        }
    }
    labels.sort();
    labels.dedup();
    labels.retain(|label| first(label).0 == Outcome::Clear);
    labels
}

fn first(text: &str) -> (Outcome, Vec<Configuration>) {
    let printed = Printed { text: Some(text), symbol: None };
    let reading = READER.read(&printed, date(2026, 11, 25), Policy::default());
    (reading.outcome, reading.candidates.iter().map(|c| c.configuration).collect())
}

const LOOK_ALIKE: &[(char, &[char])] = &[
    ('0', &['O']),
    ('O', &['0']),
    ('1', &['l', 'I']),
    ('l', &['1', 'I']),
    ('I', &['1', 'l']),
    ('L', &['1']),
    ('5', &['S']),
    ('S', &['5']),
    ('8', &['B']),
    ('B', &['8']),
];

/// Every text that one corruption makes of a text.
fn corruptions(text: &str) -> Vec<String> {
    let chars: Vec<char> = text.chars().collect();
    let mut out = vec![text.to_lowercase(), format!("{text}STERILE")];
    for (i, c) in chars.iter().enumerate() {
        let with = |new: &[char]| -> String {
            chars[..i].iter().chain(new).chain(&chars[i + 1..]).collect()
        };
        for (from, to) in LOOK_ALIKE {
            if from == c {
                out.extend(to.iter().map(|t| with(&[*t])));
            }
        }
        if 0 < i && *c != ' ' && chars[i - 1] != ' ' {
            out.push(with(&[' ', *c]));
        }
        if matches!(c, ' ' | '-' | '/' | '_') {
            out.push(with(&[]));
        }
    }
    out.retain(|made| made != text);
    out.sort();
    out.dedup();
    out
}

#[derive(Default)]
struct Tally {
    texts: usize,
    first: usize,
    among: usize,
    wrong_clear: usize,
    examples: Vec<String>,
}

impl Tally {
    fn add(&mut self, text: &str, truth: Configuration) {
        let (outcome, found) = first(text);
        self.texts += 1;
        self.first += usize::from(found.first() == Some(&truth));
        self.among += usize::from(found.contains(&truth));
        if outcome == Outcome::Clear && found.first() != Some(&truth) {
            self.wrong_clear += 1;
            self.examples.push(format!("{text} (is {})", truth.canonical()));
        }
    }

    fn share(&self, of: usize) -> f64 {
        100.0 * f64::from(u32::try_from(of).unwrap())
            / f64::from(u32::try_from(self.texts).unwrap())
    }

    fn row(&self, corruptions: usize) -> String {
        format!(
            "{corruptions} corruptions: {:>7} texts, first {:6.2} %, among {:6.2} %, wrong and clear {:.3} %",
            self.texts,
            self.share(self.first),
            self.share(self.among),
            self.share(self.wrong_clear),
        )
    }
}

/// A small generator with a seed, so that every run draws the same.
fn draw(state: &mut u64, below: usize) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*state >> 33).unwrap() % below
}

#[test]
fn a_wrong_reading_of_a_corrupted_label_is_hardly_ever_called_clear() {
    let labels = clear_labels();
    assert!(1_000 < labels.len(), "{}", labels.len());
    let mut tallies = [Tally::default(), Tally::default(), Tally::default()];
    let mut seed = 7;
    for label in &labels {
        let truth = first(label).1[0];
        tallies[0].add(label, truth);
        let once = corruptions(label);
        for text in &once {
            tallies[1].add(text, truth);
        }
        for _ in 0..4 {
            let twice = corruptions(&once[draw(&mut seed, once.len())]);
            tallies[2].add(&twice[draw(&mut seed, twice.len())], truth);
        }
    }
    for (n, tally) in tallies.iter().enumerate() {
        println!("{}", tally.row(n));
        println!("   {:?}", tally.examples.iter().take(12).collect::<Vec<_>>());
    }
    assert_eq!(tallies[0].first, tallies[0].texts);
    // The error that hurts: at most one in a thousand at one corruption.
    assert!(tallies[1].share(tallies[1].wrong_clear) <= 0.1, "{}", tallies[1].row(1));
    assert!(99.0 <= tallies[1].share(tallies[1].among), "{}", tallies[1].row(1));
    assert!(tallies[2].share(tallies[2].wrong_clear) <= 1.0, "{}", tallies[2].row(2));
}
