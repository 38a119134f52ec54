//! What went wrong once, each under its own words, beside the tables of rules, ignorance and lists.

use etui_schema::vocabulary::{Language, Treatment, Verdict};
use serde_json::{Value, json};

use super::support::{ON, assess, book, clear, visit, with};
use crate::screening::gate::Override;

fn joined(one: &Value, other: &Value) -> Value {
    let mut all = one.clone();
    all.as_object_mut().unwrap().extend(other.as_object().unwrap().clone());
    all
}

/// A filler that waits until 22 March, beside what has no day.
#[test]
fn a_client_who_waits_for_something_is_told_no_day_to_come_on() {
    let filler = json!({"recent_procedures": ["filler"], "filler_on": "2027-02-22", "filler_place": "in_area"});
    for (words, other) in [
        ("pregnant", json!({"pregnant": true})),
        ("breastfeeding", json!({"breastfeeding": true})),
        ("chemotherapy now", json!({"cancer_treatment": ["chemotherapy_now"]})),
        ("isotretinoin now", json!({"isotretinoin": "now"})),
        ("bacteria that resist", json!({"skin_history": ["mrsa"]})),
        ("skin that weeps", json!({"skin_in_area": ["open_or_weeping"]})),
        ("a keloid, for a skin doctor", json!({"skin_history": ["keloid"]})),
        ("a blood thinner, for its prescriber", json!({"warfarin": true})),
        (
            "months that are over, the cancer team still to agree",
            json!({"cancer_treatment": ["chemotherapy_past_year"], "chemotherapy_ended_on": "2026-06-01"}),
        ),
        ("a follow-up that nobody answered", json!({"botulinum": true})),
    ] {
        let found = with(book(), visit(Treatment::Brows), &joined(&filler, &other)).unwrap();
        assert!(found.waits_for_event && found.hold_until.is_none(), "{words}");
        assert!(found.findings.iter().all(|finding| finding.hold_until.is_none()), "{words}");
        let finding = found.findings.iter().find(|one| &*one.rule.id == "filler").unwrap();
        for (language, said) in [
            (
                Language::En,
                "For this alone: not before 22 March 2027; what else stands in the way counts too.",
            ),
            (
                Language::De,
                "Allein deswegen: frühestens am 22. März 2027; es zählt auch, was sonst noch im Weg steht.",
            ),
        ] {
            assert_eq!(book().condition(finding, ON, language), said, "{words}");
            let list = book().todo(&found, ON, ON, language);
            for todo in list.iter().filter(|todo| &*todo.from == "filler") {
                assert!(todo.due.is_none() && todo.text.contains(said), "{words}: {todo:?}");
            }
        }
    }
    let alone = with(book(), visit(Treatment::Brows), &filler).unwrap();
    assert_eq!(alone.hold_until, alone.findings[0].hold_until);
    let said = book().condition(&alone.findings[0], ON, Language::En);
    assert_eq!(said, "A visit is possible from 22 March 2027 on.");
}

/// Who is told of the shortest of several waits comes after it. The order is the project's own:
/// what lasts for months, or ends by somebody's word, before what has a day.
#[test]
fn of_several_waits_the_longest_is_told_first() {
    for (treatment, changes, said) in [
        (
            Treatment::Lips,
            json!({"medicines": ["antibiotics"], "pregnant": true}),
            vec![
                "Pregnancy, for this alone: once the pregnancy is over",
                "Antibiotics: If you take antibiotics now",
            ],
        ),
        (
            Treatment::Lips,
            json!({"cold_sore_active": true, "pregnant": true}),
            vec![
                "Pregnancy, for",
                "Cold sore, for this alone: once it has been fully healed for 2 weeks.",
            ],
        ),
        (
            Treatment::Lips,
            json!({"recent_procedures": ["filler"], "pregnant": true}),
            vec![
                "Pregnancy, for",
                "Filler, for this alone: 4 weeks after the procedure at the earliest.",
            ],
        ),
        (
            Treatment::Lips,
            json!({"medicines": ["antibiotics"], "isotretinoin": "now"}),
            vec!["Isotretinoin: ", "Antibiotics: "],
        ),
        (
            Treatment::Brows,
            json!({
                "skin_infection": true, "botulinum": true, "botulinum_on": "2027-03-10", "pregnant": true,
                "skin_in_area": ["open_or_weeping"],
            }),
            vec!["Pregnancy, for", "Skin infection, for", "Botulinum toxin: ", "Open skin, for"],
        ),
        (
            Treatment::Lips,
            json!({"medicines": ["steroids"], "cold_sore_active": true, "pregnant": true}),
            vec!["Pregnancy, for", "Cold sore, for"],
        ),
        (
            Treatment::Lips,
            json!({"cold_sore_active": true}),
            vec!["Cold sore: A visit is possible once"],
        ),
        (Treatment::Lips, json!({"pregnant": true}), vec!["Pregnancy: A visit is possible once"]),
    ] {
        let found = with(book(), visit(treatment), &changes).unwrap();
        let told = book().waits(&found.findings, ON, Language::En);
        assert_eq!(told.len(), said.len(), "{changes}: {told:?}");
        for (told, begin) in told.iter().zip(said) {
            assert!(told.starts_with(begin), "{changes}: {told}");
        }
    }
}

/// A birthday is no day to come on either.
#[test]
fn a_minor_who_waits_for_something_is_told_no_day() {
    let minor = crate::screening::gate::Visit {
        born_on: super::support::day("2010-03-01"),
        ..visit(Treatment::Brows)
    };
    for (changes, day) in [(json!({}), true), (json!({"pregnant": true}), false)] {
        let found = with(book(), minor, &changes).unwrap();
        assert_eq!((found.verdict, found.hold_until), (Verdict::Decline, None));
        for language in Language::ALL {
            let finding = found.findings.iter().find(|one| &*one.rule.id == "under_18").unwrap();
            let said = book().condition(finding, ON, *language);
            assert_eq!(said.contains("2028"), day, "{said}");
        }
    }
}

/// "Work without any numbing product" and "at most 4 %" in one answer.
#[test]
fn an_allergy_silences_the_limit_of_strength() {
    let changes = json!({
        "allergies": ["local_anaesthetic"], "numbing_cream": "lidocaine",
        "numbing_cream_lidocaine_percent": 30,
    });
    let found = with(book(), visit(Treatment::Brows), &changes).unwrap();
    let rules: Vec<&str> = found.findings.iter().map(|finding| &*finding.rule.id).collect();
    assert!(rules.contains(&"numbing_for_allergic"), "{rules:?}");
    assert!(!rules.contains(&"numbing_cream_too_strong"), "{rules:?}");
}

/// What a question must name, or a client on a biologic says no.
#[test]
fn the_questions_name_medicines_and_illnesses() {
    let words = book().sentences();
    for (key, named) in [
        (
            "question.immunosuppression.ask",
            ["ethotrexat", "zathioprin", "iclosporin", "ycophenolat", "JAK"],
        ),
        (
            "option.long_term_conditions.heart_valve_or_structural",
            [
                "hypertroph",
                "ardiomyopath",
                "valve|lappe",
                "ndocarditis|nnenhautentz",
                "birth|angeboren",
            ],
        ),
        (
            "option.medicines.prescribed_aspirin_or_clopidogrel",
            ["spirin|ASS", "lopidogrel", "rasugrel", "icagrelor", "doctor|ärztlich|verordnet"],
        ),
        (
            "option.medicines.direct_oral_anticoagulant",
            ["pixaban", "abigatran", "doxaban", "ivaroxaban", "newer|neuer"],
        ),
        ("option.medicines.heparin", ["eparin", "eparin", "eparin", "eparin", "njections|pritz"]),
    ] {
        for language in [Language::En, Language::De] {
            let said = words.get(language, key);
            for word in named {
                assert!(word.split('|').any(|word| said.contains(word)), "{key} {word}: {said}");
            }
        }
    }
    for language in [Language::En, Language::De] {
        let said = words.get(language, "question.immunosuppression.ask");
        assert!(said.contains("You need not name") || said.contains("keine Krankheit nennen"));
    }
}

/// An option that was too mild, or a wish that could not be told.
#[test]
fn what_was_taken_too_lightly_is_taken_as_the_facts_ask() {
    use Verdict::{Decline, Hold, Proceed, Refer};
    for (words, treatment, changes, rule, verdict) in [
        (
            "black henna is no mere skin test",
            "brows",
            json!({"allergies": ["black_henna"]}),
            "hair_dye_allergy",
            Refer,
        ),
        (
            "the artist doubts the wish",
            "brows",
            json!({"on_the_day": ["artist_doubts_wish"]}),
            "artist_doubts_wish",
            Refer,
        ),
        (
            "alcohol allows no consent",
            "brows",
            json!({"on_the_day": ["alcohol_or_drugs"]}),
            "intoxicated",
            Decline,
        ),
        (
            "psoriasis flares in the area",
            "brows",
            json!({"skin_in_area": ["active_psoriasis"]}),
            "psoriasis_active",
            Hold,
        ),
        (
            "filler elsewhere holds nothing here",
            "brows",
            json!({"recent_procedures": ["filler"], "filler_on": "2027-03-10", "filler_place": "elsewhere"}),
            "",
            Proceed,
        ),
    ] {
        let found = with(book(), visit(treatment.parse().unwrap()), &changes).unwrap();
        let spoke: Vec<&str> = found.findings.iter().map(|finding| &*finding.rule.id).collect();
        assert_eq!(found.verdict, verdict, "{words}: {spoke:?}");
        assert!(rule.is_empty() && spoke.is_empty() || spoke.contains(&rule), "{words}: {spoke:?}");
    }
}

/// "Not today" and conditions in one answer: consent is not there, and nobody answers for that.
#[test]
fn nobody_answers_for_consent_that_is_not_there() {
    let visit = visit(Treatment::Brows);
    let mut answers = clear(book(), &visit);
    answers.insert("on_the_day".into(), json!(["alcohol_or_drugs"]));
    let wish = Override {
        rule: "intoxicated".to_owned(),
        reason: "she seems well".to_owned(),
        by_ref: "artist-1".parse().unwrap(),
    };
    let faults = assess(book(), visit, &answers, None, &[wish]).unwrap_err();
    assert_eq!(faults[0].pointer, "/overrides/0/rule");
}

/// Of age on 1 March: common practice, no source; a law may read it otherwise.
#[test]
fn who_was_born_on_a_leap_day_is_told_how_it_is_read() {
    let young = |born_on: &str| crate::screening::gate::Visit {
        born_on: super::support::day(born_on),
        ..visit(Treatment::Brows)
    };
    for (born_on, told) in [("2012-02-29", true), ("2012-02-28", false), ("2000-02-29", false)] {
        let found = with(book(), young(born_on), &json!({})).unwrap();
        for (language, day) in [(Language::En, "1 March"), (Language::De, "1. März")] {
            let said = book().leap_day(&found, language);
            assert_eq!(said.is_some_and(|said| said.contains(day)), told, "{born_on}: {said:?}");
        }
    }
}
