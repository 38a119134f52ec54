//! Ignorance is never better than knowledge: facts are taken away, blurred,
//! doubled and moved, and nothing gets nearer to being done.
//!
//! Three things are no facts about the client. Which numbing product is planned is
//! the studio's own plan: left out, none is. A figure that the client need not
//! know (a blood pressure, a long-term sugar value) leaves the condition that
//! asks for it. A day that is still ahead is the client's own plan (a tan next week):
//! without it the condition stays that says from when on to leave it, which the plan
//! would break. `ETUI_LAW_CASES` makes more cases than usual.

use etui_schema::vocabulary::{CivilDate, Skin, Treatment, Verdict};
use jiff::Span;
use proptest::prelude::*;
use serde_json::{Map, Value, json};

use super::laws::{answers, any_skin, any_visit, dice};
use super::support::{ON, assess, book, clear, day, visit, with};
use crate::laws;
use crate::screening::gate::{Finding, Visit, may_begin};
use crate::screening::question::{Kind, Question};

fn question(id: &str) -> &'static Question {
    book().all_questions().iter().find(|question| *question.id == *id).unwrap()
}

/// What a case comes to; what is refused lets nothing begin.
fn nearness(
    visit: Visit,
    answers: &Map<String, Value>,
    skin: Option<&Skin>,
) -> (u8, Option<Verdict>) {
    match assess(book(), visit, answers, skin, &[]) {
        Ok(found) => {
            let lacks = found.verdict == Verdict::Incomplete && found.unanswered.is_empty();
            assert!(!lacks, "an incomplete outcome names its question");
            (may_begin(found.verdict), Some(found.verdict))
        }
        Err(_) => (may_begin(Verdict::Incomplete), None),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(laws::cases(400)))]

    #[test]
    fn a_fact_taken_away_blurred_doubled_or_moved_brings_nothing_nearer(
        visit in any_visit(), skin in any_skin(), mut dice in dice(), gap in any::<bool>(),
    ) {
        let Visit { treatment, as_of, .. } = visit;
        let nearness = |visit, answers: &Map<String, Value>| nearness(visit, answers, skin.as_ref());
        let mut given = answers(&Visit { as_of: ON, ..visit }, &mut dice, gap);
        given.retain(|id, _| as_of == ON || id != "on_the_day");
        // A day that lies after `as_of` is refused for what has ended; that is no case here.
        let Ok(before) = assess(book(), visit, &given, skin.as_ref(), &[]) else { return Ok(()) };
        for (id, value) in &given {
            let asked = question(id);
            if &*asked.id == "numbing_cream" {
                continue;
            }
            let is_figure = matches!(asked.kind, Kind::Number { .. }) && asked.optional;
            let told = value.as_str().and_then(|text| text.parse::<CivilDate>().ok());
            let is_plan = asked.optional && told.is_some_and(|day| as_of < day.0);
            let most = if is_figure || is_plan { 1 } else { 2 };
            let floor = may_begin(before.verdict).min(most);
            let mut without = given.clone();
            without.remove(id);
            let after = nearness(visit, &without);
            prop_assert!(floor <= after.0, "without {id} of {given:?}: {after:?}");
            let Value::Array(list) = value else { continue };
            let mut blurred = given.clone();
            blurred.insert(id.clone(), json!([]));
            prop_assert!(floor <= nearness(visit, &blurred).0, "{id} empty in {given:?}");
            let mut doubled = given.clone();
            let twice: Vec<Value> = list.iter().chain(list).cloned().collect();
            doubled.insert(id.clone(), Value::Array(twice));
            prop_assert!(floor <= nearness(visit, &doubled).0, "{id} twice in {given:?}");
            for option in asked.kind.options().iter().filter(|o| !o.treatments.has(treatment)) {
                let mut moved = given.clone();
                moved.insert(id.clone(), json!([&*option.id]));
                prop_assert_eq!(nearness(visit, &moved), (2, None), "{} in {}", option.id, id);
            }
        }
    }

    /// Without skin type and colour the answer asks for them. Two things cannot be missed where
    /// they are not told: a sign that nobody saw, and one of type and colour where the two say
    /// different things: alone, each is believed.
    #[test]
    fn a_skin_less_known_brings_nothing_nearer_or_asks(
        visit in any_visit(), skin in any_skin(), mut dice in dice(),
    ) {
        let Some(skin) = skin else { return Ok(()) };
        let mut given = answers(&Visit { as_of: ON, ..visit }, &mut dice, false);
        given.retain(|id, _| visit.as_of == ON || id != "on_the_day");
        let Ok(before) = assess(book(), visit, &given, Some(&skin), &[]) else { return Ok(()) };
        prop_assert_eq!(before.is_tone_unknown, skin.phototype.is_none() && skin.lab.is_none());
        let Skin { age_years: _, phototype, lab: _, oiliness: _, thickness: _, sensitivity: _, signs } = &skin;
        let of_note = |phototype, lab| book().is_tone_of_note(phototype, lab);
        let both = phototype.is_some() && skin.lab.is_some();
        let differ = both && of_note(*phototype, None) != of_note(None, skin.lab);
        let seen = || Skin { signs: signs.clone(), ..Skin::default() };
        for less in [
            seen(),
            Skin { phototype: None, ..skin.clone() },
            Skin { phototype: *phototype, ..seen() },
            Skin { lab: None, ..skin.clone() },
            Skin { age_years: None, oiliness: None, thickness: None, sensitivity: None, ..skin.clone() },
        ] {
            let after = assess(book(), visit, &given, Some(&less), &[]).unwrap();
            let asks = after.is_tone_unknown || differ;
            prop_assert!(asks || may_begin(before.verdict) <= may_begin(after.verdict), "{less:?}");
            let same = |one: &Finding<'_>| after.findings.iter().any(|other| other.rule.id == one.rule.id);
            prop_assert!(asks || before.findings.iter().all(same), "{less:?}");
        }
    }

    #[test]
    fn a_passed_wait_never_deletes_its_event_or_its_person(days in 400_i64..9_000) {
        let long_ago = ON.saturating_sub(Span::new().days(days)).to_string();
        for (treatment, answers) in [
            (Treatment::Brows, json!({"cancer_treatment": ["chemotherapy_past_year"], "chemotherapy_ended_on": long_ago})),
            (Treatment::Brows, json!({"cancer_treatment": ["radiotherapy_to_area"], "radiotherapy_ended_on": long_ago})),
            (Treatment::Eyeliner, json!({"eyes": ["eye_surgery"], "eye_surgery_on": long_ago})),
            (Treatment::Scalp, json!({"recent_procedures": ["pigment_removal"], "pigment_removal_on": long_ago})),
            (Treatment::Lips, json!({"skin_in_area": ["scar"], "scar_since": long_ago, "scar_state": "pale_and_flat"})),
            (Treatment::Areola, json!({"skin_in_area": ["breast_surgery_scar"], "breast_surgery_on": long_ago, "scar_state": "pale_and_flat"})),
            (Treatment::Brows, json!({"skin_in_area": ["active_psoriasis"], "psoriasis_settled_on": long_ago})),
        ] {
            let found = with(book(), visit(treatment), &answers).unwrap();
            prop_assert!(1 <= may_begin(found.verdict), "{answers}");
        }
    }

    #[test]
    fn nobody_comes_of_age_by_a_zone(shift in -2_i64..=2, short in 1_i64..400, country in proptest::option::of(proptest::sample::select(vec!["GB", "AT", "DE", "FR"]))) {
        let country = country.map(|code| code.parse().unwrap());
        let born_on = day("2009-03-18").saturating_add(Span::new().days(short));
        let on_in_studio = ON.saturating_add(Span::new().days(shift));
        let minor = Visit { born_on, on_in_studio, country, ..visit(Treatment::Brows) };
        let found = assess(book(), minor, &clear(book(), &minor), None, &[]).unwrap();
        prop_assert_eq!(found.verdict, Verdict::Decline);
        prop_assert!(found.findings[0].rule.firm);
    }
}

/// Of age only if it is so in both calendars; law only where the law was read.
#[test]
fn age_is_law_where_the_text_was_read_and_the_studios_rule_elsewhere() {
    // GB: Tattooing of Minors Act 1969; AT: BGBl. II 141/2003; DK: act 695 of 2018.
    for (born_on, in_studio, country, verdict, law) in [
        ("2009-03-18", "2027-03-18", None, Verdict::Proceed, false),
        ("2009-03-18", "2027-03-17", None, Verdict::Decline, false),
        ("2009-03-19", "2027-03-19", None, Verdict::Decline, false),
        ("2009-03-19", "2027-03-18", Some("GB"), Verdict::Decline, true),
        ("2009-03-19", "2027-03-18", Some("DE"), Verdict::Decline, false),
        ("2009-03-19", "2027-03-18", Some("FR"), Verdict::Decline, false),
        ("2009-03-19", "2027-03-18", Some("AT"), Verdict::Decline, false),
        ("2011-03-19", "2027-03-18", Some("AT"), Verdict::Decline, true),
        ("2009-03-19", "2027-03-18", Some("DK"), Verdict::Decline, true),
        ("2009-03-18", "2027-03-18", Some("GB"), Verdict::Proceed, false),
    ] {
        let case = Visit {
            born_on: day(born_on),
            on_in_studio: day(in_studio),
            country: country.map(|code| code.parse().unwrap()),
            ..visit(Treatment::Brows)
        };
        let found = assess(book(), case, &clear(book(), &case), None, &[]).unwrap();
        assert_eq!(found.verdict, verdict, "{born_on} in {country:?}");
        if let Some(finding) = found.findings.first() {
            assert_eq!(finding.law, law, "{born_on} in {country:?}");
            let said = book().because(finding, etui_schema::vocabulary::Language::En);
            assert_eq!(said.contains("law"), law, "{said}");
        }
    }
}

/// Cases in which an answer was told and nothing came of it, or too little.
#[test]
fn what_was_told_is_heard() {
    use Verdict::{Hold, ProceedWithConditions, Refer};
    for (treatment, answers, verdict, rule) in [
        (
            Treatment::Lips,
            json!({"cancer_treatment": ["chemotherapy_planned"]}),
            Refer,
            "chemotherapy_soon",
        ),
        (
            Treatment::Lips,
            json!({"cold_sore_active": true, "cold_sore_healed_on": "2027-01-01", "cold_sore_history": false}),
            ProceedWithConditions,
            "cold_sore_history",
        ),
        (
            Treatment::Lips,
            json!({"cold_sore_active": true, "cold_sore_healed_on": "2027-01-01", "cold_sore_history": false}),
            ProceedWithConditions,
            "cold_sore_answers_differ",
        ),
        (
            Treatment::Brows,
            json!({"skin_in_area": ["active_psoriasis"], "psoriasis_settled_on": "2026-11-03"}),
            ProceedWithConditions,
            "psoriasis_calm_in_area",
        ),
        (
            Treatment::Scalp,
            json!({"skin_in_area": ["scar"], "scar_since": "2021-06-01", "scar_state": "raised", "skin_history": ["hypertrophic_scar"]}),
            Hold,
            "scar_not_settled",
        ),
        (
            Treatment::Areola,
            json!({"skin_in_area": ["breast_surgery_scar"], "breast_surgery_on": "2026-01-01", "scar_state": "pale_and_flat"}),
            Refer,
            "breast_surgery_scar",
        ),
        (
            Treatment::Areola,
            json!({"skin_in_area": ["breast_surgery_scar"], "breast_surgery_on": "2026-01-01", "scar_state": "pale_and_flat", "breast_team_view": "agreed_in_writing"}),
            ProceedWithConditions,
            "scar_in_area",
        ),
        (Treatment::Brows, json!({"skin_in_area": ["open_or_weeping"]}), Hold, "open_or_weeping"),
        (
            Treatment::Brows,
            json!({"allergies": ["local_anaesthetic"], "numbing_cream": "lidocaine", "numbing_cream_lidocaine_percent": 4}),
            Hold,
            "numbing_for_allergic",
        ),
        (Treatment::Eyeliner, json!({"waterline_wanted": true}), Hold, "waterline_wanted"),
        (
            Treatment::Eyeliner,
            json!({"numbing_cream": "lidocaine_prilocaine", "numbing_cream_lidocaine_percent": 2.5}),
            Hold,
            "prilocaine_near_eye",
        ),
    ] {
        let found = with(book(), visit(treatment), &answers).unwrap();
        assert_eq!(found.verdict, verdict, "{answers}");
        assert!(
            found.findings.iter().any(|finding| &*finding.rule.id == rule),
            "{rule}: {answers}"
        );
    }
}

/// Nobody is told to take what has ended.
#[test]
fn a_medicine_that_ended_is_not_to_be_taken() {
    use etui_schema::vocabulary::Language;
    for (answers, rule) in [
        (json!({"medicines": ["steroids"], "steroids_ended_on": "2027-03-10"}), "steroids"),
        (
            json!({"medicines": ["antibiotics"], "antibiotics_ended_on": "2027-03-10"}),
            "antibiotics",
        ),
        (json!({"medicines": ["heparin"], "blood_thinner_ended_on": "2027-03-10"}), "heparin"),
        (json!({"warfarin": true, "warfarin_ended_on": "2027-03-10"}), "warfarin"),
        (
            json!({"medicines": ["direct_oral_anticoagulant"], "blood_thinner_ended_on": "2027-03-10"}),
            "direct_oral_anticoagulant",
        ),
        (
            json!({"medicines": ["prescribed_aspirin_or_clopidogrel"], "blood_thinner_ended_on": "2027-03-10"}),
            "prescribed_antiplatelet",
        ),
    ] {
        let found = with(book(), visit(Treatment::Brows), &answers).unwrap();
        let finding = found.findings.iter().find(|finding| &*finding.rule.id == rule).unwrap();
        for language in Language::ALL {
            let said = book().condition(finding, ON, *language);
            let takes = ["taking", "take ", "Nehmen Sie", "nehmen"];
            assert!(!takes.iter().any(|word| said.contains(word)), "{said}");
            assert!(!said.contains('{'), "{said}");
        }
    }
}
