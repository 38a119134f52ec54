//! Bad input, named by pointer.

use etui_schema::vocabulary::{Lab, Skin, Treatment, Verdict};
use serde_json::{Value, json};

use super::support::{ON, assess, book, clear, day, visit, with};
use crate::screening::gate::Visit;

fn check(changes: &Value, pointer: &str, says: &str) {
    let faults = with(book(), visit(Treatment::Lips), changes).unwrap_err();
    let found = faults.iter().find(|fault| fault.pointer == pointer);
    let found = found.unwrap_or_else(|| panic!("{changes}: {faults:?}"));
    assert!(found.to_string().contains(says), "{found}");
}

#[test]
fn answers_that_cannot_be_are_named() {
    for (changes, pointer, says) in [
        (json!({"pregnent": true}), "/answers/pregnent", "no question `pregnent`"),
        (json!({"a/b~c": true}), "/answers/a~1b~0c", "no question"),
        (json!({"pregnant": "yes"}), "/answers/pregnant", "true or false"),
        (json!({"pregnant": null}), "/answers/pregnant", "true or false"),
        (json!({"isotretinoin": "sometimes"}), "/answers/isotretinoin", "never, stopped, now"),
        (json!({"isotretinoin": ["now"]}), "/answers/isotretinoin", "one of"),
        (json!({"allergies": "latex"}), "/answers/allergies", "a list"),
        (json!({"allergies": ["latex", "latex"]}), "/answers/allergies", "each once"),
        (json!({"allergies": ["latex", 1]}), "/answers/allergies", "latex"),
        (json!({"allergies": ["latex", "none_of_these"]}), "/answers/allergies", "stands alone"),
        (
            json!({"isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-03-19"}),
            "/answers/isotretinoin_stopped_on",
            "today",
        ),
        (
            json!({"isotretinoin": "stopped", "isotretinoin_stopped_on": "1990-06-14"}),
            "/answers/isotretinoin_stopped_on",
            "birth",
        ),
        (
            json!({"isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-02-30"}),
            "/answers/isotretinoin_stopped_on",
            "YYYY-MM-DD",
        ),
        (
            json!({"isotretinoin": "never", "isotretinoin_stopped_on": "2026-03-01"}),
            "/answers/isotretinoin_stopped_on",
            "/answers/isotretinoin",
        ),
        (
            json!({"nickel_allergy": false, "nickel_allergy_severe": true}),
            "/answers/nickel_allergy_severe",
            "rules this one out",
        ),
        (
            json!({"long_term_conditions": ["diabetes"], "hba1c_mmol_mol": 14.9}),
            "/answers/hba1c_mmol_mol",
            "15 to 200 mmol/mol",
        ),
        (
            json!({"long_term_conditions": ["diabetes"], "hba1c_mmol_mol": 1e300}),
            "/answers/hba1c_mmol_mol",
            "15 to 200",
        ),
    ] {
        check(&changes, pointer, says);
    }
}

#[test]
fn every_fault_is_reported_at_once() {
    let changes = json!({"pregnant": 1, "unknown": 2, "warfarin": "x"});
    let faults = with(book(), visit(Treatment::Brows), &changes).unwrap_err();
    assert_eq!(faults.len(), 3, "{faults:?}");
}

#[test]
fn what_is_not_a_contradiction_is_accepted() {
    for changes in [
        // A follow-up ruled out by its question, with the clear answer.
        json!({"nickel_allergy": false, "nickel_allergy_severe": false}),
        // Questions that serve other treatments.
        json!({"cold_sore_history": true, "waterline_wanted": true}),
        json!({"allergies": ["none_of_these"], "wishes": ["none_of_these"]}),
        // Over by now.
        json!({"cold_sore_active": true, "cold_sore_healed_on": "2027-02-20"}),
    ] {
        let early = Visit { as_of: day("2027-03-01"), ..visit(Treatment::Lips) };
        let found = with(book(), early, &changes).unwrap();
        assert!(found.unanswered.is_empty(), "{changes}");
    }
    let found = with(book(), visit(Treatment::Areola), &json!({"waterline_wanted": true})).unwrap();
    assert!(found.findings.is_empty());
    assert_eq!(
        found.unused.iter().map(|question| &*question.id).collect::<Vec<_>>(),
        ["waterline_wanted"]
    );
}

/// A day on which it will have healed is a guess; that it is there is known.
#[test]
fn healing_is_told_when_it_has_come() {
    let early = Visit { as_of: day("2027-03-01"), ..visit(Treatment::Lips) };
    for question in ["cold_sore_active", "skin_infection"] {
        let healed = question.replace("_active", "").to_owned() + "_healed_on";
        let told = |on: &str| with(book(), early, &json!({question: true, healed.as_str(): on}));
        assert!(told("2027-03-02").is_err(), "{question}");
        assert!(told("2027-03-01").is_ok(), "{question}");
    }
}

#[test]
fn an_empty_list_is_no_clean_bill() {
    let found = with(book(), visit(Treatment::Lips), &json!({"allergies": [], "skin_history": []}));
    let found = found.unwrap();
    assert_eq!(found.verdict, Verdict::Incomplete);
    let open: Vec<&str> = found.unanswered.iter().map(|question| &*question.id).collect();
    assert_eq!(open, ["allergies", "skin_history"]);
}

#[test]
fn an_option_of_other_treatments_is_refused_and_never_dropped() {
    for (treatment, changes, pointer) in [
        (Treatment::Lips, json!({"skin_in_area": ["lax_upper_lid", "scaling"]}), "skin_in_area"),
        (Treatment::Lips, json!({"recent_on_area": ["lash_serum"]}), "recent_on_area"),
        (Treatment::Lips, json!({"skin_history": ["hair_or_skin_picking"]}), "skin_history"),
        (Treatment::Brows, json!({"skin_in_area": ["breast_surgery_scar"]}), "skin_in_area"),
        (
            Treatment::Areola,
            json!({"cancer_treatment": ["tumour_scar_in_area"]}),
            "cancer_treatment",
        ),
    ] {
        let faults = with(book(), visit(treatment), &changes).unwrap_err();
        assert_eq!(faults[0].pointer, format!("/answers/{pointer}"), "{changes}");
        assert!(faults[0].to_string().contains("accepted: "), "{}", faults[0]);
    }
}

#[test]
fn births_must_be_possible() {
    for (born_on, as_of, says) in [
        ("2027-03-19", "2027-03-18", Some("after 2027-03-18")),
        ("2027-03-10", "2027-03-01", Some("after 2027-03-01")),
        ("1850-01-01", "2027-03-18", Some("before the birth of the oldest")),
        ("1907-03-18", "2027-03-18", None),
        ("2027-03-18", "2027-03-18", None),
    ] {
        let born = Visit { born_on: day(born_on), as_of: day(as_of), ..visit(Treatment::Scalp) };
        let answers = clear(book(), &born);
        let found = assess(book(), born, &answers, None, &[]);
        match says {
            None => assert!(found.is_ok(), "{born_on}"),
            Some(says) => {
                let fault = &found.unwrap_err()[0];
                assert_eq!(fault.pointer, "/born_on");
                assert!(fault.to_string().contains(says), "{fault}");
            }
        }
    }
}

#[test]
fn a_colour_no_skin_has_is_refused() {
    let skin = Skin { lab: Some(Lab { l: 60.0, a: 5.0, b: -2.0 }), ..Skin::default() };
    let visit = visit(Treatment::Brows);
    let faults = assess(book(), visit, &clear(book(), &visit), Some(&skin), &[]).unwrap_err();
    assert_eq!(faults[0].pointer, "/skin/lab/b");
}

#[test]
fn a_past_treatment_is_seen_from_its_own_day() {
    let replay = Visit { as_of: day("2028-01-01"), ..visit(Treatment::Brows) };
    let changes = json!({"isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-06-01"});
    let faults = with(book(), replay, &changes).unwrap_err();
    assert!(faults[0].to_string().contains(&ON.to_string()), "{}", faults[0]);
}
