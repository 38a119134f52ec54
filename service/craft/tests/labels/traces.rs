//! Print that looks like the data of a symbol and is not read as such, and symbols that carry free
//! text, leave the pack to be confirmed. Forms: GS1 General Specifications (elements, their print),
//! HIBC supplier labelling standard, GS1 digital link, ISO/IEC 15424 (prefixes of scanners); damage to
//! them: common practice, no source.

use etui_craft::label::{FitnessReason, Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn both(text: &str, symbol: Option<&str>) -> Reading {
    READER.read(&Printed { text: Some(text), symbol }, AS_OF, Policy::default())
}

const TRACES: &[&str] = &[
    "0.30 3RL (01)09521234543213 [17]260731[10]A1 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 {17}260731 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213  17 260731 10 A1 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (l7)260731 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (I7)260731(10)A1 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (17 260731 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (17):260731 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (17)26-07-31 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (17)2026-07-31 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL (01)09521234543213 (17)20260731 EXP 2028-07 STERILE EO LOT A1",
    "0.30 3RL LOT A1 STERILE EO (17)261031\nEXP 2029-03",
    "0.30 3RL LOT A1 STERILE EO (17)281331(10)A1 EXP 2028-12",
    "0.30 3RL LOT A1 STERILE EO 0109521234543213172607311 0A1 EXP 2028-07",
    "0.30 3RL LOT A1 STERILE EO ]d2010952123454321317260731 EXP 2028-07",
    "0.30 3RL LOT A1 STERILE EO https://id.gs1.org/01/09521234543213/10/A1?17=260731 EXP 2028-07",
    "0.30 3RL LOT A1 STERILE EO AI17: 260731 EXP 2028-07",
    "0.30 3RL LOT A1 STERILE EO +A99912345/$$3260731A1/16D20230101 EXP 2028-07",
    "0.30 3RL LOT A1 STERILE EO +A99912345/$10X3/14D20260731 EXP 2028-07",
];

const SENTENCES: &[&str] = &[
    "]Q1EXP 2026-10",
    "]Q1NON STERILE",
    "]d1NOT STERILE",
    "]Q1{\"exp\":\"2026-07-31\"}",
    "]Q1STERILITY:NO",
    "]d1USE BY 2026-10",
];

#[test]
fn data_of_a_symbol_that_is_not_read_is_asked_about() {
    let mut faults = Vec::new();
    for text in TRACES {
        let reading = both(text, None);
        let early = reading.packet.expires_on.as_ref().is_some_and(|e| e.date < date(2026, 11, 1));
        let faulty = reading.fitness.reasons().any(|r| r == FitnessReason::SymbolFaulty);
        if reading.fitness.usable() || !faulty && !early {
            faults.push(format!("{text:?}: {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn a_sentence_in_a_symbol_is_not_dropped() {
    const GOOD: &str = "0.30 3RL LOT A1 EXP 2028-07 STERILE EO";
    for symbol in SENTENCES {
        assert!(!both(GOOD, Some(symbol)).fitness.usable(), "{symbol}");
    }
    for symbol in ["]Q1AB-123", "]C0", "]d1https://id.gs1.org/01/09521234543213"] {
        assert!(both(GOOD, Some(symbol)).fitness.usable(), "{symbol}");
    }
}

/// Of a printed symbol that is read and a word with another day the earlier counts.
#[test]
fn a_printed_symbol_is_held_against_the_expiry() {
    for (text, day, usable) in [
        ("EXP 2028-07 (01)09521234543213(17)260731(10)A1", date(2026, 7, 31), false),
        ("(01)09521234543213(17)260731(10)A1 EXP 2028-07", date(2026, 7, 31), false),
        ("EXP 2026-12 (01)09521234543213(17)280731(10)A1", date(2026, 12, 31), false),
        ("EXP 2028-07 (01)09521234543213(17)280731(10)A1", date(2028, 7, 31), true),
        ("EXP 2028-07 (01)09521234543213(17)280715(10)A1", date(2028, 7, 15), true),
    ] {
        let reading = both(&format!("0.30 3RL LOT A1 STERILE EO {text}"), None);
        assert_eq!(reading.packet.expires_on.as_ref().unwrap().date, day, "{text}");
        assert_eq!(reading.fitness.usable(), usable, "{text} {:?}", reading.fitness);
    }
}

#[test]
fn numbers_of_packs_are_no_traces() {
    for text in [
        "REF 17 LOT 280731",
        "LOT 17-280731",
        "CE 0123 TEL 86 17 2807 3155",
        "REF 0117280731",
        "http://example.com/17/eifu",
        "ISO 15223-1 2021",
    ] {
        let reading = both(&format!("0.30 3RL LOT A1 EXP 2028-07 STERILE EO {text}"), None);
        let faulty = reading.fitness.reasons().any(|r| r == FitnessReason::SymbolFaulty);
        assert!(!faulty, "{text}");
    }
}
