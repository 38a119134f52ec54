//! What is struck through, what people write on packs that are not for use, and dates that no
//! packet can have.

use crate::READER;
use etui_craft::label::{FitnessReason, FitnessState, Policy, Printed, Reading};
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 11, 28);

fn both(text: Option<&str>, symbol: Option<&str>) -> Reading {
    READER.read(&Printed { text, symbol }, AS_OF, Policy::default())
}

fn read(text: &str) -> Reading {
    both(Some(text), None)
}

fn has(reading: &Reading, reason: FitnessReason) -> bool {
    reading.fitness.reasons().any(|r| r == reason)
}

/// Marks that belong to no letter: strokes, tildes, rings and prohibitions over the
/// letter before them, lines over and under it.
const MARKS: [char; 14] = [
    '\u{334}', '\u{335}', '\u{336}', '\u{337}', '\u{338}', '\u{20d2}', '\u{20e0}', '\u{20dd}',
    '\u{20e5}', '\u{305}', '\u{332}', '\u{489}', '\u{5b4}', '\u{64e}',
];

fn over(word: &str, mark: char) -> String {
    word.chars().flat_map(|c| [c, mark]).collect()
}

#[test]
fn a_struck_word_says_nothing_and_is_asked_about() {
    for mark in MARKS {
        let struck = |word| over(word, mark);
        for sterile in [
            format!("{} EO", struck("STERILE")),
            struck("STERILE EO"),
            format!("STERILE{mark} EO"),
            format!("STERILE {mark}EO"),
            format!("STERILE EO{mark}"),
            format!("S{mark}TERILE EO"),
            format!("STERIL{mark} EO"),
            format!("STERILE {}", struck("EO")),
            struck("STERIL"),
            struck("Стерильно"),
        ] {
            let text = format!("0.30 3RL LOT A1 EXP 2028-07-14 {sterile}");
            let reading = read(&text);
            assert!(reading.packet.sterilised_by.is_none(), "{text}");
            assert!(!reading.fitness.usable(), "{text}");
            assert!(has(&reading, FitnessReason::StruckOut), "{text}");
            assert!(reading.unread.iter().any(|part| part.contains(mark)), "{text}");
        }
        for expiry in [struck("EXP 2028-07-14"), format!("EXP {}", struck("2028-07-14"))] {
            let text = format!("0.30 3RL LOT A1 {expiry} STERILE EO");
            let reading = read(&text);
            assert!(reading.packet.expires_on.is_none(), "{text}");
            assert_eq!(reading.fitness.state(), FitnessState::ToConfirm, "{text}");
        }
        let text = format!("0.30 3RL LOT {} EXP 2028-07-14 STERILE EO", struck("A1B2"));
        let reading = read(&text);
        assert!(reading.packet.lot.is_none(), "{text}");
        assert!(has(&reading, FitnessReason::StruckOut), "{text}");
    }
}

/// Marks of the letters of French, Arabic and Hebrew, written behind them.
#[test]
fn marks_of_letters_change_nothing() {
    for (word, fit) in [
        ("STE\u{301}RILE EO", true),
        ("STÉRILE EO", true),
        ("مُعَقَّم EO", false),
        ("סְטֵרִילִי EO", false),
    ] {
        let text = format!("0.30 3RL LOT A1 EXP 2028-07-14 {word}");
        let reading = read(&text);
        assert!(!has(&reading, FitnessReason::StruckOut), "{text}");
        assert!(!fit || reading.fitness.usable(), "{text}");
    }
}

/// Wherever such a mark stands, the pack is not usable, and a warning under it is
/// not forgotten.
#[test]
fn no_place_of_a_mark_makes_a_pack_usable() {
    for end in ["", " NOT STERILE", " DAMAGED", " REUSABLE", " 2020-01"] {
        let letters: Vec<char> =
            format!("0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO{end}").chars().collect();
        for (at, mark) in (0..=letters.len()).flat_map(|at| MARKS.map(|mark| (at, mark))) {
            let mut stained = letters.clone();
            stained.insert(at, mark);
            let text: String = stained.into_iter().collect();
            assert!(!read(&text).fitness.usable(), "{text:?}");
        }
    }
}

#[test]
fn dates_that_no_packet_can_have_are_asked_about() {
    const PACK: &str = "1003RL LOT A1 STERILE EO";
    for (dates, symbol, reasons) in [
        ("EXP 2028-08", None, ""),
        ("EXP 2036-11-28", None, ""),
        ("EXP 2036-11-29", None, "expiry_improbable"),
        ("EXP 2068-08", None, "expiry_improbable"),
        ("EXP 2099-12", None, "expiry_improbable"),
        ("", Some("(01)09521234543213(17)680831"), "expiry_improbable"),
        ("", Some("(01)09521234543213(17)280831"), ""),
        ("", Some("+A123BJC5D6E71/$$3680831A12"), "expiry_improbable"),
        ("(01)09521234543213(17)680831", None, "expiry_improbable"),
        ("MFG 2028-01 EXP 2028-08", None, "manufacture_improbable"),
        ("MFG 2026-11-29 EXP 2028-08", None, "manufacture_improbable"),
        ("MFG 2026-11-28 EXP 2028-08", None, ""),
        ("MFG 2010-01 EXP 2028-08", None, "manufacture_improbable"),
        ("MFG 2018-09 EXP 2028-08", None, ""),
        ("", Some("(01)09521234543213(11)100101(17)280831"), "manufacture_improbable"),
        ("", Some("(01)09521234543213(11)280101(17)280831"), "manufacture_improbable"),
    ] {
        let text = format!("{PACK} {dates}");
        let reading = both(Some(&text), symbol);
        let found: Vec<&str> = reading.fitness.reasons().map(|r| r.as_str()).collect();
        assert_eq!(found.join(" "), reasons, "{text} {symbol:?}");
        assert_eq!(reading.fitness.usable(), reasons.is_empty(), "{text} {symbol:?}");
    }
}

/// A word of "before" that belongs to a date says nothing of sterilising first; one
/// that belongs to the use of the pack does.
#[test]
fn before_a_date_is_not_before_use() {
    for (words, not_sterile) in [
        ("Guna sebelum Ogos 2028 STERILE EO", false),
        ("Käytettävä ennen elokuu 2028 STERILE EO", false),
        ("Použít před 08/2028 STERILE EO", false),
        ("Använd före 08/2028 STERILE EO", false),
        ("Kullan önce 08/2028 STERILE EO", false),
        ("Bruges før august 2028 STERILE EO", false),
        ("STERILE EO Xyz ennen 31.8.2028", false),
        ("STERILE EO Xyz sebelum 2028-08", false),
        ("2028年8月31日前使用 STERILE EO", false),
        ("EXP 2028-08 STERILIZE BEFORE USE", true),
        ("EXP 2028-08 STERILE BEFORE USE 20 PCS", true),
        ("EXP 2028-08 sebelum digunakan STERIL", true),
        ("EXP 2028-08 使用前 灭菌", true),
    ] {
        let reading = read(&format!("0.30 3RL LOT A1 {words}"));
        assert_eq!(has(&reading, FitnessReason::NotSterile), not_sterile, "{words}");
        assert!(!reading.fitness.usable(), "{words}");
    }
}

/// Common practice, no source: what is stamped and written on packs that are set aside.
const NOT_FOR_USE: &[&str] = &[
    "expired",
    "recalled",
    "RECALL",
    "rejected",
    "used",
    "practice only",
    "not for human use",
    "contaminated",
    "defective",
    "failed QC",
    "discard",
    "Do not use",
    "not ok",
    "Seal not intact",
    "nicht verwenden",
    "Packung nicht intakt",
    "Siegel nicht unversehrt",
    "abgelaufen",
    "Ausschuss",
    "kontaminiert",
    "aufbereitet",
    "ne pas utiliser",
    "emballage non intact",
    "périmé",
    "confezione non integra",
    "scaduto",
    "verstreken",
    "udløbet",
    "przeterminowane",
    "vanhentunut",
    "lejárt",
    "utgått",
    "pouch never closed",
    "if pouch intact; pouch not intact",
];

/// A pack whose own words void it is never fit, wherever they stand on it.
#[test]
fn a_pack_that_says_it_is_not_for_use_is_asked_about() {
    for says in NOT_FOR_USE {
        for text in [
            format!("0.30 1RL LOT A17 STERILE EO EXP 2028-05. {says}"),
            format!("{says}. 0.30 1RL LOT A17 STERILE EO EXP 2028-05"),
            format!("0.30 1RL LOT A17 EXP 2028-05. {says}. REF 12 STERILE EO"),
        ] {
            let reading = read(&text);
            assert!(reading.fitness.state() != FitnessState::Fit, "{text}: {:?}", reading.fitness);
        }
    }
}

/// Made sterile again, or no more sterile: no claim of sterility.
#[test]
fn what_was_sterilised_again_is_not_stated_sterile() {
    for says in [
        "reesterilizado",
        "reesterilizada",
        "risterilizzato",
        "risterilizzata",
        "resterilised",
        "esterilizado de nuevo",
        "stérilisé à nouveau",
        "yeniden sterilize",
        "再滅菌",
        "重复灭菌",
        "STERILE EO neu sterilisiert",
        "plus stérile",
        "n'est plus stérile",
        "fails STERILE",
    ] {
        for text in [
            format!("0.30 1RL LOT F55 EXP 2028-05 {says}"),
            format!("0.30 1RL LOT F55 {says} EXP 2028-05 STERILE EO"),
        ] {
            let told_apart = text.ends_with("STERILE EO") && says.contains("plus");
            let reading = read(&text);
            assert!(told_apart || !reading.fitness.usable(), "{text}: {:?}", reading.fitness);
        }
    }
}

/// Bans and notices that stand on every good pack hide nothing.
#[test]
fn what_every_good_pack_says_holds_none() {
    for says in [
        "Do not use if package is damaged",
        "DO NOT RESTERILIZE",
        "Do not reuse",
        "Nicht erneut sterilisieren",
        "Nicht wiederverwenden",
        "Nicht verwenden, wenn die Verpackung beschädigt ist",
        "Ne pas restériliser",
        "Ne pas réutiliser",
        "Non risterilizzare",
        "No reesterilizar",
        "禁止再灭菌",
        "Not made with natural rubber latex",
        "Single use only",
    ] {
        let text = format!("0.30 1RL LOT A17 STERILE EO EXP 2028-05. {says}");
        let reading = read(&text);
        assert!(reading.fitness.usable(), "{text}: {:?}", reading.fitness);
    }
}
