//! Mutated labels and symbols, as many as a time allows.
//!
//! No input may panic, and none of the size that the service takes may have a processor for longer
//! than a tenth of a second. `ETUI_FUZZ_SECONDS` (10) says how long
//! to go on, `ETUI_FUZZ_SEED` repeats a run: every run draws a fresh seed and
//! prints it. What was found once is kept in `data/labels/fuzz.txt`, one input a
//! line, escaped as in JSON, and is read first by every run.

#![expect(clippy::unwrap_used, reason = "a test fails by its unwrap")]

use std::hash::{BuildHasher, Hasher, RandomState};
use std::time::{Duration, Instant};

use etui_craft::label::{Policy, Printed, Reader};
use etui_schema::vocabulary::Language;
use jiff::civil::date;

/// Longest inputs that the service takes, in characters and in bytes.
const LONGEST_TEXT: usize = 2_000;
const LONGEST_SYMBOL: usize = 4_096;
/// No input of the allowed size takes longer than so many ordinary packets, in whatever build.
const PACKETS: u32 = 1_000;
/// How often a slow one is read again, each after a pause; the shortest counts, since who else had
/// the caches then does not come again and work that the input makes does.
const AGAIN: usize = 8;
const PAUSE: Duration = Duration::from_millis(30);

/// Pieces that labels and symbols are made of.
const PIECES: &[&str] = &[
    "0",
    "1",
    "3",
    "5",
    "9",
    "00",
    "10",
    "12",
    "18",
    "30",
    "0.30",
    "0.012",
    ".25",
    "0,35",
    "255",
    "1003",
    "RL",
    "RS",
    "M1",
    "SEM",
    "F",
    "U",
    "T",
    "X",
    "R",
    "L",
    " ",
    "\n",
    "-",
    "/",
    "|",
    "\"",
    "''",
    "#",
    "No.",
    "号",
    "№",
    "Ø",
    "µm",
    "mm",
    "in",
    "G",
    "thou",
    "blade",
    "bugpin",
    "prong",
    "LOT ",
    "EXP ",
    "2027-08",
    "29/02/2027",
    "2026年3月9日",
    "STERILE EO",
    "NON",
    "REF ",
    "20 PCS",
    "(01)09521234543213",
    "(17)270831",
    "(10)",
    "]d2",
    "]C1",
    "]Q3",
    "]E0",
    "\u{1d}",
    "^",
    "+",
    "$$",
    "+A123BJC5D6E71G",
    "https://id.gs1.org/01/09521234543213",
    "/10/A",
    "?17=270831",
    "&98=Y",
    "%2",
    "0109521234543213",
    "10A\u{1d}",
    "37",
    "8030",
    "٣",
    "𝟑",
    "М",
    "год",
    "🙂",
    "\u{200f}",
    "\0",
    "é",
];

struct Draw(u64);

impl Draw {
    fn below(&mut self, most: usize) -> usize {
        // xorshift64*, good enough to wander with.
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let mixed = self.0.wrapping_mul(0x2545_f491_4f6c_dd1d) >> 33;
        usize::try_from(mixed).unwrap() % most.max(1)
    }

    fn of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

/// Labels, symbols and what was found before.
fn corpus() -> Vec<String> {
    let labels = include_str!("data/labels/configurations.tsv").lines();
    let labels = labels.filter_map(|line| line.split('|').next().map(str::to_owned));
    let symbols: Vec<serde_json::Value> =
        serde_json::from_str(include_str!("data/labels/gs1.json")).unwrap();
    let symbols = symbols.into_iter().filter_map(|case| case["input"].as_str().map(str::to_owned));
    kept().into_iter().chain(labels).chain(symbols).collect()
}

fn kept() -> Vec<String> {
    let lines = include_str!("data/labels/fuzz.txt").lines();
    lines.map(|line| serde_json::from_str(&format!("\"{line}\"")).unwrap()).collect()
}

/// A few changes of a text: pieces in, out, doubled, repeated, exchanged.
fn mutated(text: &str, other: &str, draw: &mut Draw) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    for _ in 0..=draw.below(4) {
        let at = draw.below(chars.len() + 1);
        let to = (at + draw.below(6)).min(chars.len());
        match draw.below(7) {
            0 => drop(chars.splice(at..at, draw.of(PIECES).chars())),
            1 => drop(chars.splice(at..to, draw.of(PIECES).chars())),
            2 => drop(chars.drain(at..to)),
            3 => {
                let piece: Vec<char> = chars[at..to].to_vec();
                let times = [2, 12, 400][draw.below(3)];
                drop(chars.splice(at..at, piece.repeat(times)));
            }
            4 => chars.extend(other.chars()),
            5 => {
                if let Some(c) = chars.get_mut(at) {
                    *c = char::from(u8::try_from(32 + draw.below(95)).unwrap());
                }
            }
            _ => {
                let digit = char::from(b'0' + u8::try_from(draw.below(10)).unwrap());
                drop(chars.splice(at..at, std::iter::repeat_n(digit, 1 + draw.below(14))));
            }
        }
        chars.truncate(LONGEST_SYMBOL);
    }
    chars.into_iter().collect()
}

/// How long this thread has had a processor, where the system tells: what others do beside it does
/// not count. Else the time that has passed.
fn used(begin: Instant) -> Duration {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let told = told.and_then(|told| told.split_whitespace().next()?.parse().ok());
    told.map_or_else(|| begin.elapsed(), Duration::from_nanos)
}

/// Reads one input as text and as symbol; how long the longer of them took.
fn read(reader: &Reader, input: &str) -> Duration {
    let text: String = input.chars().take(LONGEST_TEXT).collect();
    let day = date(2026, 11, 25);
    let mut longest = Duration::ZERO;
    for printed in [
        Printed { text: Some(&text), symbol: None },
        Printed { text: None, symbol: Some(input) },
        Printed { text: Some(&text), symbol: Some(input) },
    ] {
        let begin = Instant::now();
        let before = used(begin);
        let reading = reader.read(&printed, day, Policy::default());
        for candidate in &reading.candidates {
            assert!((0.0..=1.0).contains(&candidate.certainty));
            let _ = candidate
                .because()
                .iter()
                .map(|reason| reason.says(reader.voice(Language::De)).len())
                .sum::<usize>();
        }
        longest = longest.max(used(begin).saturating_sub(before));
    }
    longest
}

/// How long an input may take at most, on whatever machine.
fn slow(reader: &Reader) -> Duration {
    let packet = "0.30 5RL LOT 23A114 EXP 2027-08 STERILE EO";
    (0..PACKETS).map(|_| read(reader, packet)).sum()
}

#[test]
fn no_mutated_label_or_symbol_panics_or_hangs() {
    let told = |name: &str| std::env::var(name).ok().and_then(|value| value.parse::<u64>().ok());
    let seed = told("ETUI_FUZZ_SEED").unwrap_or_else(|| RandomState::new().build_hasher().finish());
    let seconds = told("ETUI_FUZZ_SECONDS").unwrap_or(10);
    println!("ETUI_FUZZ_SEED={seed} ETUI_FUZZ_SECONDS={seconds}");
    let reader = Reader::builtin().unwrap();
    let slow = slow(&reader);
    let mut corpus = corpus();
    let mut draw = Draw(seed | 1);
    let (mut inputs, mut longest) = (0_u64, (Duration::ZERO, String::new()));
    let first = kept().len();
    let begin = Instant::now();
    while begin.elapsed() < Duration::from_secs(seconds) {
        let index = usize::try_from(inputs).unwrap();
        let input = if index < first {
            corpus[index].clone()
        } else {
            let (a, b) = (draw.below(corpus.len()), draw.below(corpus.len()));
            mutated(&corpus[a], &corpus[b], &mut draw)
        };
        let took = std::panic::catch_unwind(|| read(&reader, &input));
        let mut took = took.unwrap_or_else(|_| panic!("panicked; seed {seed}: {input:?}"));
        for _ in 0..AGAIN {
            if slow < took {
                std::thread::sleep(PAUSE);
                took = took.min(read(&reader, &input));
            }
        }
        assert!(took <= slow, "{took:?}; seed {seed}: {input:?}");
        inputs += 1;
        if longest.0 < took {
            longest = (took, input.clone());
        }
        // Now and then what came out is gone on from.
        if draw.below(8) == 0 && input.len() < 300 {
            let place = first + draw.below(corpus.len() - first);
            corpus[place] = input;
        }
    }
    let (took, of) = longest;
    println!("{inputs} inputs, longest {took:?} of {slow:?}: {of:.300?}");
}
