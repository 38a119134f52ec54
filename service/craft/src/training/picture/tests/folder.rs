//! Other sheets with known truth: pictures and a `truth.json` in the folder that
//! `ETUI_SHEETS` names. Each sheet has `file`, `card_mm`, `refuse` (a word or null) and
//! `items`: `dot_row`, `strokes` or `fill`, each with `box_mm`, what was asked and what is
//! true.

use std::path::Path;

use etui_schema::vocabulary::Quantity;
use serde_json::Value;

use super::super::{Bend, Layout, Limits, Measured, PanelKind, Place, ReadError, read};

/// Quantity, member of the truth, how far off it may be, as a share of it or as it is.
type Row = (Quantity, &'static str, f64, bool);

const DOTS: &[Row] = &[
    (Quantity::Count, "count", 0.0, false),
    (Quantity::Skipped, "skipped", 0.0, false),
    (Quantity::Doubled, "doubled", 1.0, false),
    (Quantity::SpacingMm, "spacing_mm", 0.005, true),
    (Quantity::SpacingCv, "spacing_cv", 0.01, false),
    (Quantity::MarkMm, "diameter_mm", 0.035, false),
];
const STROKES: &[Row] = &[
    (Quantity::Count, "count", 0.0, false),
    (Quantity::SpacingMm, "spacing_mm", 0.005, true),
    (Quantity::SpacingCv, "spacing_cv", 0.015, false),
    (Quantity::WidthMm, "width_mm", 0.015, false),
    (Quantity::BowMm, "bow_mm", 0.06, false),
    // At 300 pixels an inch; a quarter of it at 600.
    (Quantity::LiftOff, "end_share", 0.24, false),
];
const FIELDS: &[Row] =
    &[(Quantity::Cover, "coverage", 0.06, false), (Quantity::Overworked, "overworked", 0.0, false)];

fn number(value: &Value) -> f64 {
    value.as_array().map_or_else(|| value.as_f64().unwrap_or(f64::NAN), |all| all.len() as f64)
}

fn place(item: &Value) -> (Place, &'static [Row]) {
    let of = |member: &str| number(&item[member]);
    let all: Vec<f64> = item["box_mm"].as_array().unwrap().iter().map(number).collect();
    let spacing_mm = of("asked_spacing_mm");
    let (kind, rows) = match item["kind"].as_str().unwrap() {
        "dot_row" => (super::row(spacing_mm), DOTS),
        "strokes" => {
            // Roughly what was asked: the truth itself is not told to the reader.
            let width_mm = (20.0 * of("width_mm")).round() / 20.0;
            let (length_mm, is_bent) = (of("length_mm"), 0.0 < of("bow_mm").abs());
            let bend = if is_bent { Bend::Either } else { Bend::None };
            let kind =
                PanelKind::Strokes { spacing_mm, length_mm, width_mm, bend, runs_down: false };
            (kind, STROKES)
        }
        _ => (PanelKind::Field, FIELDS),
    };
    (Place { kind, box_mm: [all[0], all[1], all[2], all[3]] }, rows)
}

/// What is off of one panel, each told.
fn off(case: &str, item: &Value, rows: &[Row], found: &Measured, worst: &mut Vec<String>) {
    for (quantity, member, within, is_share) in rows {
        let want = number(&item[*member]);
        let Some((_, got)) = found.values.iter().find(|(one, _)| one == quantity) else { continue };
        let told = match got {
            Err(why) => format!("{why}"),
            Ok(got) => format!("{got:.4} ({:+.4})", got - want),
        };
        println!("{case} {member}: {told}, true {want:.4}");
        let uneven = 0.2 <= number(&item["spacing_cv"]);
        let room = within * if *is_share { want } else { 1.0 };
        let room = if uneven && *quantity == Quantity::Count { 1.0 } else { room };
        if got.is_ok_and(|got| room + 1e-9 < (got - want).abs()) {
            worst.push(format!("{case} {member}: {told}, true {want:.4}"));
        }
    }
}

#[test]
fn sheets_of_a_folder_are_read_as_their_truth_says() {
    let Some(folder) = std::env::var_os("ETUI_SHEETS") else { return };
    let folder = Path::new(&folder);
    let truth = std::fs::read_to_string(folder.join("truth.json")).unwrap();
    let sheets: Vec<Value> = serde_json::from_str(&truth).unwrap();
    let mut worst = Vec::new();
    for sheet in &sheets {
        let file = sheet["file"].as_str().unwrap();
        let bytes = std::fs::read(folder.join(file)).unwrap();
        let items: Vec<&Value> = sheet["items"].as_array().unwrap().iter().collect();
        let placed: Vec<_> = items.iter().map(|item| place(item)).collect();
        let card_mm = (number(&sheet["card_mm"][0]), number(&sheet["card_mm"][1]));
        let panels = placed.iter().map(|(place, _)| place.clone()).collect();
        let found = read(&bytes, &Layout { card_mm, panels }, &Limits::default());
        match (found, sheet["refuse"].as_str()) {
            (Ok(reading), None) => {
                println!("{file}: {:?}", reading.quality);
                for (nth, ((item, (_, rows)), found)) in
                    items.iter().zip(&placed).zip(&reading.panels).enumerate()
                {
                    off(&format!("{file} {nth}"), item, rows, found, &mut worst);
                }
            }
            (Err(ReadError::Sheet(why, _)), Some(word)) => {
                println!("{file}: {why:?}");
                if !why.iter().any(|one| one.as_str() == word) {
                    worst.push(format!("{file}: {why:?} instead of {word}"));
                }
            }
            (found, word) => worst.push(format!("{file}: {found:?} instead of {word:?}")),
        }
    }
    assert!(worst.is_empty(), "{}", worst.join("\n"));
}
