//! Codes of lots that are read in part: what may be missing is asked about, and both codes count.
//! Rows are own compilation: what blanks, breaks, stains and letters of other alphabets make of a code.

use etui_craft::label::{FitnessReason, Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn read(lot: &str) -> Reading {
    let text = format!("0.25 5RS {lot}\nEXP 2028-03 STERILE EO");
    READER.read(&Printed { text: Some(&text), symbol: None }, AS_OF, Policy::default())
}

fn asks(reading: &Reading) -> bool {
    reading.fitness.reasons().any(|reason| reason == FitnessReason::LotUnreadable)
}

/// What is printed, and a code that is among those the pack counts under.
const PARTS: &[(&str, &str)] = &[
    ("LOT 23K 811", "23K811"),
    ("LOT 23K\n811", "23K811"),
    ("LOT 23K·811", "23K811"),
    ("LOT 23K|811", "23K811"),
    ("LOT 23K:811", "23K811"),
    ("LOT 23K, 811", "23K811"),
    ("LOT 23K / 811", "23K811"),
    ("LOT K 230811", "K230811"),
    ("LOT AB 23 C9", "AB23C9"),
    ("LOT 2308 1142 77", "2308114277"),
    ("LOT Q77?Z1", "Q77"),
    ("LOT 23ЗK811", "23"),
    ("LOT 4711...", "4711"),
    ("LOT 4711…", "4711"),
    ("LOT ...4711", "4711"),
    ("LOT 4711 Beta", "4711Beta"),
    ("LOT 23K-\n811", "23K811"),
    ("LOT 23K*", "23K"),
    ("Charge 23K 811", "23K811"),
    ("Lot-Nr. 23k 811", "23k811"),
    ("LOT \"23K 811\"", "23K811"),
    ("LOT 23K811 ?", "23K811"),
];

#[test]
fn a_code_that_may_be_a_part_is_asked_about() {
    let mut faults = Vec::new();
    for (lot, code) in PARTS {
        let reading = read(lot);
        let packet = &reading.packet;
        let mut codes: Vec<&str> = packet.lot.iter().map(|said| &*said.value).collect();
        codes.extend(packet.other_lots.iter().map(String::as_str));
        if !asks(&reading) || !codes.contains(code) {
            faults.push(format!("{lot:?}: {codes:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

#[test]
fn a_code_of_which_only_a_stain_is_left_is_asked_about() {
    for lot in ["LOT ?1", "LOT ???", "LOT …1", "LOT ЗЖ811"] {
        assert!(asks(&read(lot)), "{lot}");
    }
}

/// A code that is torn, with another field behind it; and what is no code.
#[test]
fn a_torn_code_is_asked_about_whatever_follows() {
    let mut clear = Vec::new();
    for lot in [
        "BN12_",
        "BN12-",
        "BN12[illegible]",
        "BN12 [illegible]",
        "B12█",
        "B12(?)",
        "B12[?]",
        "B12 (?)",
        "B12•",
        "[B12",
        "B12]",
        "B12[ ]",
        "_B12",
        "B12¿",
    ] {
        for behind in
            [" EXP 2028-01 STERILE EO", "\nEXP 2028-01 STERILE EO", " STERILE EO EXP 2028-01"]
        {
            let text = format!("0.25 5RS LOT {lot}{behind}");
            let printed = Printed { text: Some(&text), symbol: None };
            let reading = READER.read(&printed, AS_OF, Policy::default());
            clear.extend((!asks(&reading)).then_some(text));
        }
    }
    assert!(clear.is_empty(), "{}: {clear:#?}", clear.len());
}

#[test]
fn a_word_in_place_of_a_code_is_none() {
    for word in [
        "siehe Rückseite",
        "see bottom",
        "unknown",
        "unlesbar",
        "illegible",
        "keine",
        "none",
        "n/a",
        "N/A",
        "XXXX",
        "UNKNOWN",
        "SEE BOX",
        "voir au dos",
        "zie achterkant",
        "inconnu",
        "desconocido",
    ] {
        let reading = read(&format!("LOT {word}"));
        assert!(asks(&reading) && reading.packet.lot.is_none(), "{word} {:?}", reading.packet.lot);
    }
}

#[test]
fn what_print_sets_beside_a_code_is_none_of_it() {
    for (lot, code) in [
        ("LOT [B12]", "B12"),
        ("[LOT] B12", "B12"),
        ("[LOT B12]", "B12"),
        ("LOT B12 (EU)", "B12"),
        ("LOT B12 - REF 77", "B12"),
        ("LOT ABCD", "ABCD"),
        ("LOT NA2308", "NA2308"),
        ("LOT SEE23", "SEE23"),
        ("LOT B12 • 20 PCS", "B12"),
        ("[LOT]B12[REF]44", "B12"),
    ] {
        let reading = read(lot);
        let found = reading.packet.lot.as_ref().map(|said| &*said.value);
        assert!(!asks(&reading) && found == Some(code), "{lot} {found:?} {:?}", reading.fitness);
    }
}

/// What is printed, and the whole code.
const WHOLE: &[(&str, &str)] = &[
    ("LOT 23K811", "23K811"),
    ("LOT: 23K-811", "23K-811"),
    ("LOT \"23K811\"", "23K811"),
    ("LOT “23K811”", "23K811"),
    ("LOT (10)23K811", "23K811"),
    ("LOT 23K811.", "23K811"),
    ("LOT 23K811 REF 1205RS", "23K811"),
    ("LOT 23K811 20 PCS", "23K811"),
    ("LOT 23K811 QTY 20", "23K811"),
    ("LOT 23K811 MFG 2025-03", "23K811"),
    ("LOT 23K811 2025-03", "23K811"),
    ("LOT 23K811 15.03.2025", "23K811"),
    ("LOT 23K811 Made in Poland", "23K811"),
    ("LOT 23K811 Made in Atlantis", "23K811"),
    ("LOT 23K811 CE 0123", "23K811"),
    ("LOT 23K811\nSome Maker GmbH", "23K811"),
    ("LOT 23K811 cartridges", "23K811"),
    ("LOT 23K811 单支", "23K811"),
];

#[test]
fn a_whole_code_is_not_asked_about() {
    let mut faults = Vec::new();
    for (lot, code) in WHOLE {
        let reading = read(lot);
        let found = reading.packet.lot.as_ref().map(|said| &*said.value);
        if !reading.fitness.usable() || found != Some(code) {
            faults.push(format!("{lot:?}: {found:?} {:?}", reading.fitness));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// A configuration behind the code is none of it.
#[test]
fn a_configuration_behind_a_code_is_none_of_it() {
    for size in ["0.25 5RS", "12 5RL", "1203RL", "#12 5RL", "3 RL 0.30", "Ø0.30 3RL", "0.30mm 3RL"]
    {
        let text = format!("LOT 23K811 {size} STERILE EO EXP 2028-03");
        let printed = Printed { text: Some(&text), symbol: None };
        let reading = READER.read(&printed, AS_OF, Policy::default());
        assert!(!asks(&reading), "{text} {:?}", reading.fitness);
    }
}

/// However a code is broken, no part of it counts alone, unless what is left is a configuration.
#[test]
fn no_break_leaves_a_part_of_a_code_alone() {
    let mut clear = Vec::new();
    for code in ["23K811", "AB23C9", "2308114277", "A1B2C3D4"] {
        for at in 1..code.len() {
            for sign in [" ", "\n", "·", "|", ":", ",", " / ", "?", "...", "…", "  "] {
                let lot = format!("LOT {}{sign}{}", &code[..at], &code[at..]);
                let reading = read(&lot);
                let whole = reading.packet.lot.as_ref().is_some_and(|said| said.value == code);
                clear.extend((!asks(&reading) && !whole).then_some(lot));
            }
        }
    }
    assert!(clear.is_empty(), "{}: {clear:?}", clear.len());
}
