//! Laws of the label reader.

use crate::{READER, laws};
use etui_craft::label::{FitnessReason, FitnessState, Outcome, Policy, Printed, Reading};
use etui_schema::vocabulary::{Configuration, Grouping, Taper};
use jiff::civil::{Date, date};
use proptest::prelude::*;

const AS_OF: Date = date(2026, 11, 25);

fn read(text: Option<&str>, symbol: Option<&str>) -> Reading {
    READER.read(&Printed { text, symbol }, AS_OF, Policy::default())
}

/// Every complete configuration of the diameters sold, to the hundredth.
fn every_configuration() -> impl Iterator<Item = Configuration> {
    (150..=450).step_by(5).flat_map(|mm| {
        (1..=49).flat_map(move |count| {
            Grouping::ALL.iter().flat_map(move |grouping| {
                let tapers = Taper::ALL.iter().copied().map(Some);
                std::iter::once(None).chain(tapers).map(move |taper| Configuration {
                    diameter_mm: Some(f64::from(mm) / 1000.0),
                    count: Some(count),
                    grouping: Some(*grouping),
                    taper,
                })
            })
        })
    })
}

#[test]
fn the_canonical_text_of_every_configuration_reads_back_to_itself() {
    for configuration in every_configuration() {
        let text = configuration.canonical();
        let reading = read(Some(&text), None);
        assert_eq!(reading.outcome, Outcome::Clear, "{text}");
        assert_eq!(reading.candidates.len(), 1, "{text}");
        assert_eq!(reading.candidates[0].configuration, configuration, "{text}");
        assert!(reading.unread.is_empty(), "{text}");
    }
}

#[test]
fn what_is_missing_stays_missing() {
    for grouping in Grouping::ALL {
        let whole = Configuration {
            diameter_mm: Some(0.3),
            count: Some(3),
            grouping: Some(*grouping),
            taper: Some(Taper::Long),
        };
        for (configuration, missing) in [
            (Configuration { diameter_mm: None, ..whole }, "diameter_mm"),
            (Configuration { count: None, ..whole }, "count"),
            (Configuration { grouping: None, ..whole }, "grouping"),
        ] {
            let text = configuration.canonical();
            let reading = read(Some(&text), None);
            assert_eq!(reading.outcome, Outcome::Incomplete, "{text}");
            assert_eq!(reading.candidates[0].configuration, configuration, "{text}");
            let told: Vec<_> = reading.candidates[0].missing().collect();
            assert_eq!(told, [missing], "{text}");
        }
    }
}

fn holds(reading: &Reading, text: &str) {
    let sure: Vec<f64> = reading.candidates.iter().map(|c| c.certainty).collect();
    assert!(sure.iter().all(|c| (0.0..=1.0).contains(c)), "{text:?} {sure:?}");
    assert!(sure.is_sorted_by(|a, b| b <= a), "{text:?} {sure:?}");
    let chars = text.chars().count();
    for span in &reading.spans {
        assert!(span.start < span.end && span.end <= chars, "{text:?} {span:?}");
    }
    let worst = reading.fitness.reasons().map(FitnessReason::state).max();
    assert_eq!(reading.fitness.usable(), worst.is_none_or(|state| state == FitnessState::Fit));
    if reading.outcome == Outcome::Clear {
        assert_eq!(reading.candidates.len(), 1, "{text:?}");
        assert_eq!(reading.candidates[0].missing().count(), 0, "{text:?}");
    }
}

/// Pieces that packets are made of, so that the deep branches are reached.
const PIECES: &[&str] = &[
    "10",
    "03",
    "RL",
    "1203RS",
    "0.30",
    "#",
    "8",
    " ",
    "-",
    "/",
    "LOT ",
    "EXP ",
    "2027-08",
    "08/27",
    "STERILE",
    "EO",
    "M1",
    "ST",
    "(01)",
    "09521234543213",
    "(17)",
    "270831",
    "]d2",
    "]C1",
    "\u{1d}",
    "+A123BJC5D6E71G",
    "$$",
    "https://a/01/",
    "?17=",
    "%",
    "MFG",
    "20 PCS",
    "Ø",
    "µm",
    "x",
    "blade",
    "失效期",
    "２",
    "USE BY",
    ".",
    ",",
    "^",
    "*",
    "prong",
    "O",
    "l",
    "REF",
    "\u{200f}",
    "é",
    "🙂",
    "\0",
];

proptest! {
    #![proptest_config(ProptestConfig {
        cases: laws::cases(400),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn no_string_panics(text in "\\PC{0,200}", symbol in "\\PC{0,200}") {
        holds(&read(Some(&text), Some(&symbol)), &text);
    }

    #[test]
    fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..4096)) {
        let text = String::from_utf8_lossy(&bytes);
        holds(&read(Some(&text), None), &text);
        let _ = read(None, Some(&text));
    }

    #[test]
    fn nothing_made_of_packet_pieces_panics(
        text in proptest::collection::vec(proptest::sample::select(PIECES), 0..40),
        symbol in proptest::collection::vec(proptest::sample::select(PIECES), 0..12),
    ) {
        let (text, symbol) = (text.concat(), symbol.concat());
        holds(&read(Some(&text), Some(&symbol)), &text);
    }

    #[test]
    fn the_order_of_a_batch_is_irrelevant(
        batch in proptest::collection::vec(proptest::sample::select(PIECES), 2..12),
    ) {
        let one_way: Vec<Reading> = batch.iter().map(|t| read(Some(t), None)).collect();
        let mut other: Vec<Reading> = batch.iter().rev().map(|t| read(Some(t), None)).collect();
        other.reverse();
        prop_assert_eq!(one_way, other);
    }

    #[test]
    fn a_swap_of_two_characters_passes_mod_43(i in 1_usize..14, j in 1_usize..14) {
        // The check is a plain sum (ANSI/HIBC 2.6), so it is blind to this.
        let mut data = *b"+$$52001510X3GD";
        let last = data.len() - 1;
        data.swap(i.min(last - 1), j.min(last - 1));
        let text = String::from_utf8(data.to_vec()).unwrap();
        let reading = read(None, Some(&text));
        let codes: Vec<_> =
            reading.symbol.unwrap().faults.iter().map(|f| f.code.as_str()).collect();
        prop_assert!(!codes.contains(&"hibc_check"), "{text} {codes:?}");
    }
}

#[test]
fn what_must_not_be_read_is_refused_with_what_to_do() {
    let long = "1003RL ".repeat(20_000);
    for (text, want) in [
        ("", "empty"),
        (" \t \n ", "empty"),
        ("\u{3000}", "empty"),
        ("🙂", "pictures"),
        ("1003RL 🙂", "pictures"),
        (long.as_str(), "too_long"),
        ("1003RL 1005RS", "several_labels"),
        ("\u{202e}LR3001", "direction_marks"),
        ("1003\u{200b}RL", "invisible_characters"),
        ("1003\0RL", "control_characters"),
        ("1003RL\u{1d}", "control_characters"),
        ("1649M1", "no_such_size"),
        ("0.30x40", "filiform"),
        ("hello world", "not_a_label"),
    ] {
        let reading = read(Some(text), None);
        let refusal = reading.refusal.map_or("none", |r| r.as_str());
        assert_eq!((reading.outcome, refusal), (Outcome::Refused, want), "{:.20}", text);
        assert!(!reading.fitness.usable(), "{:.20}", text);
    }
    assert_eq!(read(None, Some("")).outcome, Outcome::Refused);
}

/// What the service takes, at its longest and its most repetitive. A slow build
/// on a busy machine stays far below the limit.
#[test]
fn no_repetition_takes_long() {
    let limit = std::time::Duration::from_secs(1);
    for piece in PIECES {
        let text: String = piece.repeat(2_000).chars().take(2_000).collect();
        let symbol: String = piece.repeat(4_096).chars().take(4_096).collect();
        for (text, symbol) in [(Some(&*text), None), (None, Some(&*symbol))] {
            let begin = std::time::Instant::now();
            let _ = read(text, symbol);
            let took = begin.elapsed();
            assert!(took < limit, "{piece:?} {took:?}");
        }
        holds(&read(Some(&text), None), &text);
    }
}

/// Pieces of a configuration, and signs that may hide one.
const SIGNS: &[&str] = &[
    "10", "03", "RL", "1203RS", "0.30", "#", "8", " ", " ", "-", "/", "M1", "ST", "x", "blade",
    "T", "$", "&", "No.", "in", "\"", "G", "mm", "30", "\n", "F", "slope", "25", "bugpin", "|",
    "~", "?", "!",
];

proptest! {
    #![proptest_config(ProptestConfig {
        cases: laws::cases(2_000),
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn nothing_is_passed_over_in_silence(
        pieces in proptest::collection::vec(proptest::sample::select(SIGNS), 1..9),
    ) {
        let text = pieces.concat();
        let reading = read(Some(&text), None);
        if reading.outcome != Outcome::Refused {
            // In the notation of the service a question mark says that a part is not told.
            let is_notation = reading.candidates.iter().any(|c| c.canonical() == text);
            let signs = if is_notation { "$&~!" } else { "$&~?!" };
            let says = |c: &char| c.is_ascii_alphanumeric() || signs.contains(*c);
            let spans = &reading.spans;
            let outside = text.chars().enumerate().filter(|(at, c)| {
                says(c) && !spans.iter().any(|s| s.start <= *at && *at < s.end)
            });
            let told: usize = reading.unread.iter().map(|u| u.chars().filter(says).count()).sum();
            prop_assert!(outside.count() <= told, "{text:?} {:?} {:?}", spans, reading.unread);
            if reading.outcome == Outcome::Clear {
                prop_assert!(!text.contains(['$', '&', '~', '?', '!']), "{text:?}");
            }
        }
    }
}
