//! The score: worked sums, caps, withheld bands.

use etui_schema::vocabulary::{EvidenceKind, Language, Phototype, Skin, Treatment};
use serde_json::{Value, json};

use super::support::{assess, book, clear, visit, with};
use crate::screening::score::{Band, band};

fn check(changes: &Value, points: u16, at_most: u16, band: Option<&str>) {
    let found = with(book(), visit(Treatment::Brows), changes).unwrap();
    let score = &found.score;
    // With no skin known, one point of colour stays possible.
    let got = (score.points, score.at_most, score.band.map(|band| &*band.id));
    assert_eq!(got, (points, at_most, band), "{changes}");
}

#[test]
fn points_add_up_under_their_caps() {
    // Points are our own judgement; these sums are worked by hand from the rule files.
    check(&json!({}), 0, 1, Some("low"));
    check(&json!({"nickel_allergy": true, "nickel_allergy_severe": false}), 2, 3, None);
    // Diabetes 2, out of range 2, picking 2: one group, capped at 5.
    check(
        &json!({
            "long_term_conditions": ["diabetes"], "diabetes_out_of_range": true,
            "skin_history": ["hair_or_skin_picking"],
        }),
        5,
        6,
        Some("moderate"),
    );
    check(&json!({"fish_oil": true, "pregnant": true}), 0, 1, Some("low"));
    check(&json!({"warfarin": true, "skin_history": ["keloid"]}), 7, 8, Some("high"));
}

#[test]
fn shares_name_the_evidence_and_the_skin_narrows_the_range() {
    let visit = visit(Treatment::Brows);
    let mut answers = clear(book(), &visit);
    answers.insert("warfarin".into(), json!(true));
    answers.insert("also_tell_us".into(), json!(["fainting_or_needle_fear"]));
    answers.insert("recent_on_area".into(), json!(["acids"]));
    for (phototype, points, at_most) in [(Phototype::III, 5, 5), (Phototype::V, 6, 6)] {
        let skin = Skin { phototype: Some(phototype), ..Skin::default() };
        let found = assess(book(), visit, &answers, Some(&skin), &[]).unwrap();
        assert_eq!((found.score.points, found.score.at_most), (points, at_most));
        let guideline =
            found.score.evidence_share.iter().find(|(kind, _)| *kind == EvidenceKind::Guideline);
        assert_eq!(guideline, Some(&(EvidenceKind::Guideline, 4)));
    }
    for language in Language::ALL {
        assert!(book().score_statement(*language).len() > 80);
    }
}

#[test]
fn bands_leave_no_gap() {
    for (points, id) in [
        (0, "low"),
        (2, "low"),
        (3, "moderate"),
        (6, "moderate"),
        (7, "high"),
        (11, "high"),
        (12, "very_high"),
        (u16::MAX, "very_high"),
    ] {
        assert_eq!(band(book().bands(), points).map(|band| &*band.id), Some(id), "{points}");
    }
    assert_eq!(band(&[Band { id: "a".into(), from: 1 }], 0), None);
}
