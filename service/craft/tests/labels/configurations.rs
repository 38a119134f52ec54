//! Needle labels: what the trade writes, and what it means.
//!
//! The table is common practice, no source: no standard fixes the wording of
//! needle labels.

use etui_craft::label::{Outcome, Policy, Printed, Reader, Reading, Topics};
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 11, 25);

fn read(reader: &Reader, text: &str) -> Reading {
    reader.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

#[test]
fn every_label_of_the_table_reads_as_the_trade_reads_it() {
    let reader = Reader::builtin().unwrap();
    let mut wrong = Vec::new();
    let table = include_str!("../data/labels/configurations.tsv");
    for line in table.lines().filter(|l| !l.starts_with("# ") || l.starts_with("# 12")) {
        let [label, class, first, further] =
            line.split('|').collect::<Vec<_>>().try_into().expect("four columns");
        let want = match class {
            "C" => Outcome::Clear,
            "A" => Outcome::Ambiguous,
            "I" => Outcome::Incomplete,
            _ => Outcome::Refused,
        };
        let reading = read(&reader, label);
        let found: Vec<String> = reading.candidates.iter().map(|c| c.canonical()).collect();
        let firsts = found.first().map_or("", String::as_str);
        let all =
            further.split(';').filter(|f| !f.is_empty()).all(|f| found.iter().any(|c| c == f));
        if reading.outcome != want || firsts != first || !all {
            wrong.push(format!(
                "{label}: want {want:?} {first} +{further}, got {:?} {found:?}",
                reading.outcome
            ));
        }
    }
    assert!(wrong.is_empty(), "{} wrong:\n{}", wrong.len(), wrong.join("\n"));
}

/// A question is asked about what the readings differ in, or about what lacks.
#[test]
fn what_is_not_clear_has_the_question_that_settles_it() {
    let reader = Reader::builtin().unwrap();
    for (label, key, choices) in [
        ("3RL 12", "configuration_pack", vec!["0.35 3RL", "? 3RL"]),
        ("12 5RL", "configuration_pack", vec!["0.35 5RL", "? 5RL"]),
        ("1313M1", "configuration_diameter", vec!["0.40 13M1", "0.375 13M1"]),
        ("1005FS", "configuration_grouping", vec!["0.30 5F", "0.30 5SL"]),
        ("7 slope 0.30", "configuration_grouping", vec!["0.30 7SL", "0.30 7M"]),
        ("10", "configuration_reading", vec!["0.30 ??", "? 10?"]),
        ("103RL", "configuration_confirm", vec!["0.30 3RL"]),
        ("3RL", "configuration_diameter", vec![]),
        ("0.30 RL", "configuration_count", vec![]),
        ("#10", "configuration_count", vec![]),
    ] {
        let reading = read(&reader, label);
        let question = reading.question().expect(label);
        let found: Vec<String> = question.choices.iter().map(|c| c.canonical()).collect();
        assert_eq!((question.key, found), (key, choices.iter().map(|c| (*c).to_owned()).collect()));
        assert!(reader.texts().has(question.key));
    }
    for label in ["1003RL", "0.60 5RS", "hello"] {
        assert!(read(&reader, label).question().is_none(), "{label}");
    }
}

#[test]
fn what_readings_rest_on_is_named() {
    let reader = Reader::builtin().unwrap();
    for (label, want) in [
        ("1003RL", vec!["common-practice", "etui-model"]),
        ("30G 3RL", vec!["common-practice", "etui-model", "gauge-chart"]),
        ("0.30x40", vec!["iso-17218"]),
    ] {
        let basis = reader.basis(Topics::of(&read(&reader, label)));
        let mut sources: Vec<&str> = basis.iter().map(|b| &*b.source).collect();
        sources.sort_unstable();
        sources.dedup();
        assert_eq!(sources, want, "{label}");
    }
}

/// A diameter in inches that no needle has is none in millimetres either; two diameters are both offered.
#[test]
fn inches_that_no_needle_has_are_asked_about() {
    let reader = Reader::builtin().unwrap();
    for unit in [" inch", " in", "\"", " Zoll", " pouces", " pulgadas", " inches", "''", "in"] {
        for text in [format!("5RL 0.30{unit}"), format!("0.30{unit} 5RL")] {
            let found = read(&reader, &text);
            assert_ne!(found.outcome, Outcome::Clear, "{text}");
        }
    }
    for text in ["5RL 0.30 in blister", "\"5RL 0.30\"", "0.30 mm 5RL"] {
        assert_eq!(read(&reader, text).outcome, Outcome::Clear, "{text}");
    }
    for text in ["0.35mm (0.012in) 5RL", "5RL 0.35mm (0.012in)"] {
        let found = read(&reader, text);
        let offered =
            |mm: f64| found.candidates.iter().any(|c| c.configuration.diameter_mm == Some(mm));
        assert!(offered(0.35) && offered(0.3), "{text} {:?}", found.candidates);
    }
}
