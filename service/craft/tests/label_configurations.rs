//! Needle labels: what the trade writes, and what it means.
//!
//! The table is common practice, no source: no standard fixes the wording of
//! needle labels.

use etui_craft::label::{Outcome, Policy, Printed, Reader, Reading};
use jiff::civil::{Date, date};

const AS_OF: Date = date(2026, 11, 25);

fn read(reader: &Reader, text: &str) -> Reading {
    reader.read(&Printed { text: Some(text), symbol: None }, AS_OF, Policy::default())
}

#[test]
fn every_label_of_the_table_reads_as_the_trade_reads_it() {
    let reader = Reader::builtin().unwrap();
    let mut wrong = Vec::new();
    let table = include_str!("data/labels/configurations.tsv");
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
