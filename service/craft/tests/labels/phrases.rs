//! Phrases as packets break them, months of every language, dates that stand there and are not
//! read, and single characters beside a word that counts.

use etui_craft::label::{FitnessReason, Policy, Printed, Reading};
use jiff::civil::{Date, date};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};

use crate::READER;

const AS_OF: Date = date(2026, 11, 25);

fn read(text: &str) -> Reading {
    READER.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

fn has(reading: &Reading, reason: FitnessReason) -> bool {
    reading.fitness.reasons().any(|r| r == reason)
}

/// Every day that an expiry may be, the one that counts first.
fn days(reading: &Reading) -> Vec<Date> {
    let expiry = reading.packet.expires_on.iter();
    expiry.flat_map(|e| std::iter::once(e.date).chain(e.also.iter().copied())).collect()
}

/// Names of months by language and form, January first.
#[derive(Deserialize)]
struct Months {
    languages: BTreeMap<String, BTreeMap<String, Vec<String>>>,
}

/// Held in every form: it is also the word of an article number, whose digits are no date.
const HELD: [&str; 1] = ["Ean"];

/// Words that two languages have for different months (computed over the names below): the label
/// alone does not settle them, so the earlier month counts, the other is told, and a person looks.
const SHARED: [(&str, [i8; 2]); 5] = [
    ("lip", [6, 7]),   // Croatian June, Polish July
    ("srp", [7, 8]),   // Croatian July, Czech August
    ("lis", [10, 11]), // Croatian October, Czech and Polish November
    ("listopad", [10, 11]),
    ("listopada", [10, 11]),
];

/// How a language writes a day with the name of its month. Names with a number and a mark stand
/// where their language puts them.
fn usual(language: &str, name: &str) -> String {
    match language {
        "zh" | "zh_Hant" | "ja" => format!("2028年{name}14日"),
        "ko" => format!("2028년 {name} 14일"),
        "vi" => format!("ngày 14 {name} năm 2028"),
        _ => format!("14 {name} 2028"),
    }
}

/// Unicode Common Locale Data Repository, names of months: each is read as its month in the shape
/// of its language, or named above as one that is asked about; in no shape is it another month
/// unnoticed, nor a later one at all.
#[test]
fn every_month_of_every_language_is_its_month_or_asked_about() {
    let months: Months = serde_json::from_str(include_str!("../data/labels/months.json")).unwrap();
    let (mut words, mut asked, mut faults) = (0, BTreeSet::new(), Vec::new());
    let names = months.languages.iter().flat_map(|(language, forms)| {
        let lists = forms.values().flat_map(|list| (1_i8..).zip(list));
        lists.map(move |(month, name)| (language.as_str(), month, name.as_str()))
    });
    for (language, month, name) in names {
        words += 1;
        let day = date(2028, month, 14);
        for (n, (form, want)) in [
            (usual(language, name), day),
            (format!("14 {name} 2028"), day),
            (format!("14-{name}-2028"), day),
            (format!("2028 {name} 14"), day),
            (format!("{name} 14, 2028"), day),
            (format!("{name} 2028"), day.last_of_month()),
            (format!("2028 {name}"), day.last_of_month()),
            (format!("{name}2028"), day.last_of_month()),
        ]
        .into_iter()
        .enumerate()
        {
            let reading = read(&format!("0.30 3RL LOT A1 EXP {form} STERILE EO"));
            let (found, fit) = (days(&reading), reading.fitness.usable());
            let is_read = found == [want] && fit;
            let counts = found.first().is_none_or(|first| *first <= want);
            let shared = SHARED.iter().find(|(word, of)| *word == name && of.contains(&month));
            if HELD.contains(&name) {
                if fit {
                    faults.push(format!("{language} {form} is held: {found:?} {fit}"));
                }
                continue;
            }
            if n == 0 && !is_read {
                asked.insert(name);
                let told = shared.map(|(_, of)| of.map(|month| date(2028, month, 14)));
                if fit || told.is_none_or(|told| found != told) {
                    faults.push(format!("{language} {form}: {found:?} {fit}"));
                }
            }
            if fit && !is_read || !counts {
                faults.push(format!("{language} {form}, not {want}: {found:?} {fit}"));
            }
        }
    }
    assert_eq!(words, 1116);
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
    let shared: BTreeSet<&str> = SHARED.iter().map(|(word, _)| *word).collect();
    assert_eq!(asked, shared);
}

/// A word of the same language settles which month a shared name is.
#[test]
fn a_word_of_its_language_settles_a_shared_month() {
    for (text, month) in [
        ("Termin ważności 14 lip 2028", 7),
        ("Rok valjanosti 14 lip 2028", 6),
        ("Termin ważności 14 lis 2028", 11),
        ("Rok valjanosti 14 listopada 2028", 10),
        ("Použitelné do 14 srp 2028", 8),
        ("Rok valjanosti 14 srp 2028", 7),
    ] {
        let reading = read(&format!("0.30 3RL LOT A1 {text} STERILE EO"));
        assert_eq!(days(&reading), [date(2028, month, 14)], "{text}");
    }
}

/// What stands between the words of a phrase on packets: blanks, line breaks, marks.
const JOINTS: [&str; 15] = [
    " ", "  ", "\n", "\r\n", "\t", " \n ", "\u{a0}", "-", ".", "_", "/", ":", "\u{2013}",
    "\u{2014}", "-\n",
];

/// Blanks, marks and line breaks within phrases change nothing of what they say.
#[test]
fn a_phrase_is_the_same_however_it_is_broken() {
    const PACK: &str = "0.30 3RL LOT A1";
    let mut faults = Vec::new();
    for joint in JOINTS {
        let broken = |words: &str| words.replace('|', joint);
        for words in [
            "NON|STERILE",
            "NOT|STERILE",
            "NICHT|STERIL",
            "NICHT|STERILISIERT",
            "NO|ESTERIL",
            "not|sterilized",
            "non|sterilised",
            "STERILE|NO",
            "TO|BE|STERILIZED",
            "MUST|BE|STERILIZED|BEFORE|USE",
            "sterilize|before|use",
            "Niet|steriel",
            "Nie|sterylne",
            "Не|стерильно",
        ] {
            let reading = read(&format!("{PACK} EXP 2028-07-14 {}", broken(words)));
            let right = reading.packet.sterilised_by.is_none()
                && has(&reading, FitnessReason::NotSterile)
                && !reading.fitness.usable();
            faults.extend((!right).then(|| format!("{words} by {joint:?}: {:?}", reading.fitness)));
        }
        for words in ["USE|BY", "USE|BY|DATE", "EXPIRY|DATE", "verwendbar|bis", "Termin|ważności"]
        {
            let reading = read(&format!("{PACK} {} 2028-07-14 STERILE EO", broken(words)));
            let right = days(&reading) == [date(2028, 7, 14)] && reading.fitness.usable();
            faults.extend((!right).then(|| format!("{words} by {joint:?}: {:?}", reading.packet)));
        }
        for words in ["DO|NOT|REUSE", "DO|NOT|RE|USE", "SINGLE|USE", "Nicht|wiederverwenden"] {
            let reading = read(&format!("{PACK} EXP 2028-07-14 STERILE EO {}", broken(words)));
            let once = reading.packet.single_use.as_ref().is_some_and(|said| said.value);
            let right = once && reading.fitness.usable();
            faults.extend((!right).then(|| format!("{words} by {joint:?}: {:?}", reading.fitness)));
        }
        let reading = read(&format!("{PACK} EXP 2028-07-14 {}", broken("STERILE|EO")));
        let told = reading.packet.sterilised_by.as_ref().map(|said| said.value.as_str());
        let right = told == Some("ethylene_oxide") && reading.fitness.usable();
        faults.extend((!right).then(|| format!("STERILE EO by {joint:?}: {:?}", reading.fitness)));
        // An underscore may be part of a lot.
        if joint != "_" {
            let reading = read(&format!("0.30 3RL {} EXP 2028-07-14 STERILE EO", broken("LOT|A1")));
            let lot = reading.packet.lot.as_ref().map(|said| said.value.as_str());
            let right = lot == Some("A1") && reading.packet.quantity.is_none();
            faults.extend((!right).then(|| format!("LOT A1 by {joint:?}: {:?}", reading.packet)));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// Ways to write 9 March of a year, or its month, and what nobody can read; `Y` stands for the
/// year, `y` for its last two digits.
const PRINTED: &[&str] = &[
    "9.3.y",
    "9 mars Y",
    "9 avril Y",
    "03\nY",
    "9. März Y",
    "9 de marzo de Y",
    "9 marzo Y",
    "9 marca Y",
    "9.III.Y",
    "9 مارس Y",
    "Y-3-9",
    "9/3/y",
    "09 MAR y",
    "9-3-y",
    "9 3 y",
    "9,3,y",
    "٩/٣/Y",
    "Y.3",
    "3.Y",
    "9 Mrz Y",
    "9 maart Y",
    "9 марта Y",
    "9 березня Y",
    "9 Μαρτίου Y",
    "9 mart Y",
    "9 tháng 3 Y",
    "9 มีนาคม Y",
    "9 xxzz Y",
    "9.?.y",
    "##.##.y",
    "9 ??? Y",
    "9th of ... Y",
    "March the ninth Y",
    "9/Mär/Y",
    "9-3-Y?",
    "Y 3月9",
    "Y年3月9日",
    "Y年3月",
    "Y년 3월 9일",
    "Y'03",
    "Y/III",
    "Y:03:09",
    "Y_03_09",
    "Y|03|09",
    "Y;03",
    "Y(03)",
    "Y~03",
    "Y\\03",
    "Y* 03",
    "Y O3",
    "Y-0?",
    "Y-13",
    "Y mars",
    "Y juil.",
    "Y-MARZO",
    "Y\n03",
    "Y-\n03",
    "Y-03-l9",
    "Y-03-\n09",
    "31/04/Y",
    "Y-O3-O9",
];

/// A date that stands behind its word is read, never later than its last possible day, or has a
/// reason of its own; neither way is a pack usable that is over, and a year is not all that is left.
#[test]
fn a_date_that_stands_there_is_read_or_missed() {
    let mut faults = Vec::new();
    for (form, year) in PRINTED.iter().flat_map(|form| [(form, 2025_i16), (form, 2028)]) {
        let printed = form.replace('Y', &year.to_string()).replace('y', &(year - 2000).to_string());
        let reading = read(&format!("0.25 5RS LOT B7 EXP {printed} STERILE EO"));
        let found = days(&reading);
        // The latest month among the forms is July; an impossible month may be any.
        let last = if form.contains("-13") { date(year, 12, 31) } else { date(year, 7, 31) };
        let (first, fit) = (found.first().copied(), reading.fitness.usable());
        let right = match first {
            None => !fit && has(&reading, FitnessReason::ExpiryUnreadable),
            Some(day) => day <= last && (AS_OF < date(year, 12, 31) || !fit),
        };
        let quantity = reading.packet.quantity.is_some();
        if !right || quantity {
            let reasons: Vec<_> = reading.fitness.reasons().map(|r| r.as_str()).collect();
            faults.push(format!("{printed:?}: {found:?} {fit} {reasons:?} {quantity}"));
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// One character alone beside a claim of sterility, or beside the word of a date, may be what is
/// left of a negation, of a day or of a box that was ticked. Known are the letters of the symbol's
/// box (ISO 15223-1, 5.2.2 to 5.2.4: A and R; EO has two) where the box is; frames and separators are
/// print. Before the word of a date one says nothing of the date, which has a region of its own,
/// and behind a whole day no letter makes it an earlier one.
#[test]
fn one_character_alone_beside_a_word_that_counts_is_asked_about() {
    const LETTERS: &str = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
    let mut faults = Vec::new();
    for c in ('0'..='9').chain('A'..='Z').chain(['?', '^', '~', '%', '§', '<', '>', '¿', '□']) {
        for (pack, known) in [
            ("0.30 3RL LOT A1 EXP 2028-07-14 _ STERILE EO", "R?"),
            ("0.30 3RL LOT A1 EXP 2028-07-14\n_\nSTERILE EO", "R?"),
            ("0.30 3RL LOT A1 EXP 2028-07-14 STERILE _ EO", "AR"),
            ("0.30 3RL LOT A1 EXP 2028-07-14 STERILE _", "AR"),
            ("0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO _", "R"),
            ("0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO\n_", "R"),
            ("STERILE EO _ LOT A1 EXP 2028-07-14 0.30 3RL", "R"),
            ("STERILE _ 0.30 3RL LOT A1 EXP 2028-07-14", "AR"),
            ("0.30 3RL _ STERILE LOT A1 EXP 2028-07-14", "R?"),
            ("0.30 3RL STERILE _ LOT A1 EXP 2028-07-14", "AR"),
            ("0.30 3RL LOT A1 EXP _ 2028-07-14 STERILE EO", ""),
            ("0.30 3RL LOT A1 STERILE EO EXP 2028-07-14 _", LETTERS),
            ("0.30 3RL STERILE EO EXP 2028-07-14 _ LOT A1", LETTERS),
        ] {
            let text = pack.replace('_', &c.to_string());
            let fit = read(&text).fitness.usable();
            if fit && !known.contains(c) {
                faults.push(text);
            }
        }
    }
    assert!(faults.is_empty(), "{}\n{}", faults.len(), faults.join("\n"));
}

/// What is a part of the symbol, a frame or a separator is print, and holds no pack.
#[test]
fn a_known_part_beside_a_claim_holds_nothing() {
    for claim in [
        "STERILE R",
        "STERILE A",
        "STERILE EO",
        "STERILE E O",
        "STERILE E0",
        "STERILE | EO",
        "[STERILE|R]",
        "| STERILE R |",
        "STERILE - EO",
        "STERILE / EO",
        "STERILE: EO",
        "STERILE (EO)",
        "R STERILE",
        "STERILE EO.",
        "STERILE EO |",
        "STERILE EO / 20 PCS",
    ] {
        for text in [
            format!("0.30 3RL LOT A1 EXP 2028-07-14 {claim}"),
            format!("{claim} 0.30 3RL LOT A1 EXP 2028-07-14"),
            format!("LOT A1 EXP 2028-07-14 {claim} 0.30 3RL"),
            format!("LOT A1 EXP 2028-07-14 0.30 3 RL {claim}"),
            format!("{claim} #8 3RL LOT A1 EXP 2028-07-14"),
        ] {
            let reading = read(&text);
            assert!(reading.fitness.usable(), "{text}: {:?}", reading.fitness);
        }
    }
}

/// What follows an empty or a relative expiry, or stands beside a claim, lends it nothing: no pack of
/// these is fit, and none has a day that is not printed as its expiry.
#[test]
fn what_is_of_another_field_makes_no_pack_fit() {
    let mut faults = Vec::new();
    for text in [
        "0.30 3RL LOT A1 MFG 03/2024 EXP 24 tháng\n12 2028 STERILE EO",
        "0.30 3RL LOT A1 MFG 03/2024 EXP: 24 tháng\n5 - 2028 STERILE EO",
        "0.30 3RL LOT A1 MFG 03/2024 EXP 24 tháng 12\n2028 STERILE EO",
        "0.30 3RL LOT A1 STERILE EO EXP: EAN 2034 REF X1",
        "0.30 3RL LOT A1 STERILE EO EXP\nEAN 2034",
        "0.30 3RL LOT A1 STERILE EO EXP [ ] EAN 2034 REF X1",
        "0.30 3RL LOT A1 STERILE EO EXP 03 EAN 2034",
        "0.30 3RL LOT A1 STERILE EO EXP 15 EAN 2034\n567890123",
        "0.30 3RL LOT A1 EXP 2028-07-14 #0 STERILE EO",
        "0.30 3RL LOT A1 EXP 2028-07-14 #1 STERILE EO",
        "0.30 3RL LOT A1 EXP 2028-07-14 STERILE EO #0",
    ] {
        let reading = read(text);
        if reading.fitness.usable() {
            faults.push(format!("{text:?}: {:?}", days(&reading)));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    // Good packs stay what they are.
    for (text, day) in [
        ("0.30 3RL LOT A1 STERILE EO EXP 03/2028 EAN 2034 5678", date(2028, 3, 31)),
        ("0.30 3RL LOT A1 STERILE EO EXP 14 tháng 7 2028", date(2028, 7, 14)),
        ("0.30 3RL LOT A1 STERILE EO EXP 14 tháng 7 năm 2028", date(2028, 7, 14)),
    ] {
        let reading = read(text);
        let why = &reading.fitness;
        assert_eq!((days(&reading), why.usable()), (vec![day], true), "{text}: {why:?}");
    }
}
