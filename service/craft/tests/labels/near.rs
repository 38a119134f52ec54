//! Words that a pack is not to be used with one letter lost, misread or torn, German without its umlauts;
//! and ordinary words that one letter parts from them. Common practice, no source.

use etui_craft::label::{FitnessReason, FitnessState, Policy, Printed, Reading};
use jiff::civil::{Date, date};
use serde::Deserialize;

use crate::READER;

const AS_OF: Date = date(2026, 11, 30);

fn read(said: &str) -> Reading {
    let text = format!("0.30 5RL LOT BM1 EXP 2028-01 STERILE EO\nMade in China\n{said}");
    READER.read(&Printed { text: Some(&text), symbol: None }, AS_OF, Policy::default())
}

fn has(reading: &Reading, reason: FitnessReason) -> bool {
    reading.fitness.reasons().any(|found| found == reason)
}

const WORDS: &[&str] = &[
    "opened",
    "geöffnet",
    "abgelaufen",
    "recalled",
    "gebraucht",
    "gesperrt",
    "zurückgerufen",
    "ouvert",
    "abierto",
    "aperto",
    "otwarte",
    "geopend",
    "expired",
    "do not use",
    "nicht verwenden",
    "REJECTED",
    "durchnässt",
    "ungültig",
    "périmé",
    "просрочено",
    "вскрыта",
];

/// One edit makes one of these of a word above: they stand on packs that are fit.
const OTHERS: &[&str] = &["couvert", "opener", "verwenden"];

fn edits(word: &str) -> Vec<String> {
    let letters: Vec<char> = word.chars().collect();
    let mut all = Vec::new();
    for at in 0..letters.len() {
        let mut lost = letters.clone();
        lost.remove(at);
        all.push(lost);
        for other in ['x', '?', '*', '0', ' ', '\n'] {
            let mut wrong = letters.clone();
            wrong[at] = other;
            let mut more = letters.clone();
            more.insert(at, other);
            all.extend([wrong, more]);
        }
    }
    let all = all.into_iter().map(|letters| letters.into_iter().collect::<String>());
    all.filter(|word| !OTHERS.contains(&word.trim())).collect()
}

#[test]
fn no_lost_letter_makes_a_pack_fit() {
    let said = WORDS.iter().flat_map(|word| edits(word));
    let fit: Vec<String> = said.filter(|said| read(said).fitness.usable()).collect();
    assert!(fit.is_empty(), "{}: {fit:?}", fit.len());
}

#[test]
fn german_without_umlauts_is_heard() {
    for said in [
        "geoeffnet",
        "durchnaesst",
        "zurueckgerufen",
        "ungueltig",
        "rueckruf",
        "nur zum Ueben",
        "Ruecklaeufer",
        "ueberlagert",
        "DON'T USE",
        "DONT USE",
        "don\u{2019}t use",
    ] {
        assert!(!read(said).fitness.usable(), "{said}");
    }
}

#[test]
fn what_is_only_near_asks_and_forbids_nothing() {
    for said in ["opned", "opene", "geoffn et", "recaled", "aperta?", "abgelaufn"] {
        let reading = read(said);
        let asked = reading.fitness.state() == FitnessState::ToConfirm
            || said == "aperta?" && has(&reading, FitnessReason::Damaged);
        assert!(asked, "{said} {:?}", reading.fitness);
    }
}

/// Words of every day, names and towns: a pack is fit beside them.
const ORDINARY: &[&str] = &[
    "tapered needles",
    "tempered steel",
    "round tipped",
    "Master Ink",
    "Münster",
    "Canada",
    "Kanada",
    "Roberto",
    "Alberto",
    "Formato",
    "Brutto",
    "zu verwenden",
    "vor Gebrauch",
    "zum Gebrauch",
    "Voor gebruik",
    "avant d'utiliser",
    "antes de utilizar",
    "použití",
    "Használat előtt",
    "Proteger de la humedad",
    "Важно",
    "Leading brand",
    "Berlin",
    "Rotterdam",
    "Hauptstrasse",
    "Warszawa",
    "Beauty Supply Limited",
    "Cosmetics Company",
    "Fabrique en Chine",
    "Produced for",
    "Cartridges",
    "Permanent Makeup",
];

#[test]
fn an_ordinary_word_is_not_near() {
    let held: Vec<_> = ORDINARY
        .iter()
        .filter(|said| {
            let reading = read(said);
            has(&reading, FitnessReason::NotForUse) || has(&reading, FitnessReason::Damaged)
        })
        .collect();
    assert!(held.is_empty(), "{held:?}");
}

/// Words of damage and keeping back that a pack carries in further languages.
const FURTHER: &[&str] = &[
    "hole in pack",
    "hole",
    "Loch",
    "trou",
    "agujero",
    "gat",
    "bucato",
    "nieszczelne",
    "негерметично",
    "fuite",
    "leak",
    "seal missing",
    "seal lifted",
    "moisture inside",
    "mould",
    "rust",
    "dropped",
    "heruntergefallen",
    "resealed",
    "taped",
    "schmutzig",
    "sucio",
    "sporco",
    "brudne",
    "vuil",
    "грязно",
    "tordu",
    "doblado",
    "piegato",
    "gebogen",
    "ritirato",
    "spärrad",
    "заблокировано",
    "隔离",
    "besmet",
    "污染",
    "HOLD",
    "Sperre",
    "storniert",
    "n.i.O.",
    "nepoužitelné",
    "непригодно",
    "practice",
    "training",
    "Übungsware",
    "Kunsthaut",
    "oefenhuid",
    "練習",
    "sample",
];

#[test]
fn further_words_of_damage_are_heard() {
    let fit: Vec<_> = FURTHER.iter().filter(|said| read(said).fitness.usable()).collect();
    assert!(fit.is_empty(), "{fit:?}");
}

#[test]
fn what_keeps_leaks_and_rust_out_is_no_damage() {
    for said in ["anti-leak membrane", "leak-proof", "rust-free"] {
        assert!(!has(&read(said), FitnessReason::NotForUse), "{said}");
    }
}

#[derive(Deserialize)]
struct Rows {
    field: Vec<Row>,
    damage: Damage,
}

#[derive(Deserialize)]
struct Row {
    field: String,
    words: Vec<String>,
}

#[derive(Deserialize)]
struct Damage {
    ordinary: Vec<String>,
}

/// Words of every day but for their marks.
const MARKED: [&str; 2] = ["POUŽIT", "ВІДКРИТЙ"];

/// Every long word of the tables with each of its letters lost, unless that is a word of every day.
#[test]
fn no_word_of_the_tables_is_lost_with_one_letter() {
    let rows: Rows = toml::from_str(include_str!("../../rules/label/fields.toml")).unwrap();
    let of = ["damaged", "doubtful", "not_for_use"];
    let mut fit = Vec::new();
    let rows_of = rows.field.iter().filter(|row| of.contains(&&*row.field));
    for word in rows_of.flat_map(|row| &row.words) {
        let letters: Vec<char> = word.chars().collect();
        let own = letters.iter().filter(|c| c.is_alphabetic());
        let blanks = own.clone().all(|c| *c < '\u{900}' || ('\u{1e00}'..='\u{1fff}').contains(c));
        if own.count() < 6 || !blanks {
            continue;
        }
        for at in (0..letters.len()).filter(|at| letters[*at].is_alphabetic()) {
            let mut lost = letters.clone();
            lost.remove(at);
            let lost: String = lost.into_iter().collect();
            let mut ordinary = rows.damage.ordinary.iter().map(String::as_str).chain(MARKED);
            let first = ordinary.any(|word| {
                lost.strip_prefix(word).is_some_and(|rest| rest.is_empty() || rest.starts_with(' '))
            });
            if !first && read(&lost).fitness.usable() {
                fit.push(lost);
            }
        }
    }
    assert!(fit.is_empty(), "{}: {fit:?}", fit.len());
}
