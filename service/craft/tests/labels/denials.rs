//! What denies a claim of sterility, or makes it less, with only what is read between: codes, numbers,
//! where it was made, the heading of another column. Common practice, no source, but for the
//! negations of each language (labels of the trade, and the symbol's title "non-sterile", ISO 15223-1,
//! 5.2.7).

use etui_craft::label::{FitnessReason, Policy, Printed, Reading};
use jiff::civil::{Date, date};

use crate::READER;

const AS_OF: Date = date(2026, 11, 29);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

fn is_denied(reading: &Reading) -> bool {
    reading.fitness.reasons().any(|reason| reason == FitnessReason::NotSterile)
}

/// Not sterile, and nothing else can be meant.
const DENIED: &[&str] = &[
    "STERILE: NO\n0.30 3RL\nLOT A1\nEXP 2028-07",
    "STERILE NO\n1203RL\nEXP 2028-07",
    "STERILE: NO\n#12 3RL EXP 2028-07",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE: NO 20 PCS",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE: NO 5",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO NO\n0.30",
    "0.30 3RL LOT A1 EXP 2028-07 STERILE MADE IN CHINA: No",
    "0.30 3RL LOT A1 EXP 2028-07 STERILE CE 0123: NO",
    "0.30 3RL LOT A1 EXP 2028-07 STERILE SINGLE USE: NO",
    "0.30 3RL LOT A1 EXP 2028-07 Sterile LOT B2: no",
    "0.30 3RL LOT UN STERILE EXP 2028-07",
    "0.30 3RL LOT A1-NON STERILE EXP 2028-07",
    "0.30 3RL LOT A1NON STERILE EXP 2028-07",
    "0.30 3RL REF X-NON STERILE LOT A1 EXP 2028-07",
];

/// Not sterile, or to be asked about.
const OPEN: &[&str] = &[
    "Sterile no 1205RM LOT K7 EXP 2029-03",
    "0.30 3RL LOT A1 EXP 2028-07 Не MADE IN CHINA стерильно",
    "0.30 3RL LOT A1 EXP 2028-07 STERILE SINGLE USE LATEX FREE\nNO YES YES",
    "0.30 3RL LOT NE STERIL EXP 2028-07",
    "NON07.2028\n-STERILE\n0.25/3RL\nMFG 2023-07\nEXP: 14 JUL 2028\nLOT A1",
    "0.30 1RL Nich PKICE 12.90\nt steril LOT 23A114 EXP 2028-07",
    "EXP\n 07/2028\nUN\n0.35 5RM\nSTERILE LOT A1",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO de sterilizat",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA לא עוקר",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA غیراستریل",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA بدون استریل",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA استریل نشده",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA निर्जमित नहीं",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO MADE IN CHINA अनिर्जमित",
];

/// Of a part, of some, or not yet.
const LESS: &[&str] = &[
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO needle only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE R cartridge only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO 3 of 5",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO 5 of 10 STERILE",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE R cartridge 80 %",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE R cartridge subject to release test",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO cartridge pending",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO cartridge unvalidated",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO cartridge none",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO needle PMU only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO disposable only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO LOT B2 pending",
];

/// Claims of the whole pack, with a *no* that speaks of something else.
const WHOLE: &[&str] = &[
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO No latex",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO CE 0123 MADE IN CHINA REF NO. 22",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO for PMU",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO for permanent makeup",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO Rx only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO for professional use only",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO Made in Poland",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO stainless steel",
    "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO Long taper",
    "0.30 3RL LOT A1 EXP 2028-07-14 Pre-sterilized by EO gas",
    "0.30 3RL STERILE EO LOT 23-U EXP 2028-07",
    "0.30 3RL LOT 22NO STERILE EO EXP 2028-07",
    "- 0.30 3RL\n- STERILE EO\n- LOT A1\n- EXP 2028-07",
];

#[test]
fn a_denial_is_heard_over_what_is_read_between() {
    let deaf: Vec<_> = DENIED.iter().filter(|text| !is_denied(&read(text))).collect();
    let usable = |text: &&&str| read(text).fitness.usable();
    let fit: Vec<_> = OPEN.iter().chain(LESS).filter(usable).collect();
    assert!(deaf.is_empty() && fit.is_empty(), "not heard: {deaf:#?}\nfit: {fit:#?}");
}

#[test]
fn a_denial_of_something_else_is_none() {
    let held: Vec<_> = WHOLE.iter().filter(|text| !read(text).fitness.usable()).collect();
    assert!(held.is_empty(), "{held:#?}");
}

/// However many read things stand between, and whatever they are.
#[test]
fn nothing_that_is_read_hides_a_denial() {
    const BETWEEN: &[&str] = &[
        "MADE IN CHINA",
        "CE 0123",
        "SINGLE USE",
        "LATEX FREE",
        "LOT B2",
        "0.30",
        "3RL",
        "20 PCS",
        "needle",
        "DO NOT REUSE",
        "REF 44",
        "QTY 20",
    ];
    let mut fit = Vec::new();
    for one in BETWEEN {
        for two in BETWEEN {
            for text in [
                format!("0.30 3RL LOT A1 EXP 2028-07 STERILE {one} {two}: NO"),
                format!("0.30 3RL LOT A1 EXP 2028-07 STERILE\n{one}\n{two}\nNO"),
                format!("0.30 3RL LOT A1 EXP 2028-07\nUN\n{one} {two}\nSTERILE"),
                format!("0.30 3RL LOT A1 EXP 2028-07 STERILE R {one} {two} pending"),
            ] {
                fit.extend(read(&text).fitness.usable().then_some(text));
            }
        }
    }
    assert!(fit.is_empty(), "{}: {fit:#?}", fit.len());
}
