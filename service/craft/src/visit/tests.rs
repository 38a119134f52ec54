//! Which kept answers count.

mod laws;
mod remains;

use std::sync::OnceLock;

use etui_schema::vocabulary::{Lab, Phototype, Skin, Treatment};
use jiff::Span;
use jiff::civil::{Date, date};

use super::freshness::Freshness;
use super::record::{self, Record};
use super::{Gathered, Heard, Kept, State, Voices, gather, kept_skin};
use crate::evidence::Register;
use crate::screening::answers::Given;
use crate::screening::gate::{Assessment, Case, Visit};
use crate::screening::question::{NONE_OF_THESE, Stage};
use crate::screening::rulebook::Rulebook;

const ON: Date = date(2027, 3, 18);

fn loaded() -> &'static (Rulebook, Freshness) {
    static LOADED: OnceLock<(Rulebook, Freshness)> = OnceLock::new();
    LOADED.get_or_init(|| {
        let register = Register::builtin().unwrap();
        (Rulebook::builtin(&register).unwrap(), Freshness::builtin(&register).unwrap())
    })
}

fn visit(treatment: Treatment) -> Visit {
    Visit {
        treatment,
        on: ON,
        on_in_studio: ON,
        as_of: ON,
        born_on: date(1990, 6, 15),
        country: None,
    }
}

fn ago(days: i64) -> Option<Date> {
    Some(ON.saturating_sub(Span::new().days(days)))
}

/// An answer as a record holds it.
#[derive(Debug, Clone, PartialEq)]
enum Value {
    YesNo(bool),
    Number(f64),
    Text(String),
    List(Vec<String>),
}

#[derive(Debug, Clone, PartialEq)]
struct Stored {
    question: String,
    value: Value,
    on: Option<Date>,
    treatment: Option<Treatment>,
}

fn given(value: &Value) -> Given<'_> {
    match value {
        Value::YesNo(yes) => Given::YesNo(*yes),
        Value::Number(number) => Given::Number(*number),
        Value::Text(text) => Given::Text(text),
        Value::List(list) => Given::Choices(list),
    }
}

fn kept(stored: &[Stored]) -> Vec<Kept<'_>> {
    stored
        .iter()
        .map(|one| Kept {
            question: &one.question,
            answer: given(&one.value),
            on: one.on,
            treatment: one.treatment,
        })
        .collect()
}

fn hear(visit: &Visit, sent: &[(&str, Given<'_>)], stored: &[Stored]) -> Gathered {
    let (book, freshness) = loaded();
    let kept = kept(stored);
    let voices = Voices { sent, kept: &kept, ..Voices::default() };
    gather(book, freshness, visit, &voices)
        .unwrap_or_else(|faults| panic!("{stored:?}: {faults:?}"))
}

fn open_questions(gathered: &Gathered) -> Vec<String> {
    gathered.answers.unanswered(&loaded().0).map(|question| question.id.to_string()).collect()
}

fn said<'g>(gathered: &'g Gathered, question: &str) -> &'g Heard {
    gathered.heard.iter().find(|heard| *heard.question == *question).expect("it was heard")
}

fn assess<'b>(visit: &Visit, gathered: &Gathered) -> Assessment<'b> {
    let case = Case { visit: *visit, answers: &gathered.answers, skin: None, overrides: &[] };
    loaded().0.assess(&case).unwrap()
}

fn stored(question: &str, value: Value, days_ago: i64, treatment: Treatment) -> Stored {
    let (on, treatment) = (ago(days_ago), Some(treatment));
    Stored { question: question.to_owned(), value, on, treatment }
}

fn none() -> Value {
    Value::List(vec![NONE_OF_THESE.to_owned()])
}

fn list(options: &[&str]) -> Value {
    Value::List(options.iter().map(|option| (*option).to_owned()).collect())
}

/// The days are our own, no source: they stand in the rule data. Here stand the
/// last day that reassures and the first that does not.
#[test]
fn a_no_reassures_for_its_days_and_not_one_more() {
    let lips = Treatment::Lips;
    for (question, value, last) in [
        ("pregnant", Value::YesNo(false), 14),
        ("cold_sore_active", Value::YesNo(false), 3),
        ("skin_infection", Value::YesNo(false), 3),
        ("recent_on_area", none(), 7),
        ("recent_procedures", none(), 14),
        ("skin_in_area", none(), 3),
        ("breastfeeding", Value::YesNo(false), 90),
        ("warfarin", Value::YesNo(false), 30),
        ("isotretinoin", Value::Text("never".to_owned()), 30),
        ("cancer_treatment", none(), 60),
        ("long_term_conditions", none(), 180),
        ("allergies", none(), 365),
        ("nickel_allergy", Value::YesNo(false), 365),
        ("cold_sore_history", Value::YesNo(false), 365),
        ("mole_in_area", Value::YesNo(false), 90),
        ("previous_pmu_in_area", Value::YesNo(false), 30),
        ("wishes", none(), 90),
    ] {
        for (days, state) in [(0, State::Used), (last, State::Used), (last + 1, State::Stale)] {
            let gathered = hear(&visit(lips), &[], &[stored(question, value.clone(), days, lips)]);
            assert_eq!(said(&gathered, question).state, state, "{question} of {days} days ago");
            let is_open = open_questions(&gathered).contains(&question.to_owned());
            assert_eq!(is_open, state == State::Stale, "{question} of {days} days ago");
        }
    }
}

#[test]
fn a_yes_stays_and_a_told_day_never_ages() {
    let lips = Treatment::Lips;
    let told = [
        stored("pregnant", Value::YesNo(true), 400, lips),
        stored("nickel_allergy", Value::YesNo(true), 4000, lips),
        stored("warfarin", Value::YesNo(true), 900, lips),
        stored("skin_in_area", list(&["scar"]), 0, lips),
        stored("scar_since", Value::Text("2024-01-01".to_owned()), 900, lips),
        stored("scar_state", Value::Text("raised".to_owned()), 900, lips),
    ];
    let gathered = hear(&visit(lips), &[], &told);
    assert!(gathered.heard.iter().all(|heard| heard.state == State::Used), "{:?}", gathered.heard);
    let open = open_questions(&gathered);
    assert!(!open.iter().any(|id| told.iter().any(|one| one.question == *id)), "{open:?}");
}

/// How long an answer stays true, row by row: what is asked, for which visits it holds, and for how
/// many days. No figure has been published; they are the project's own.
#[test]
fn every_row_of_the_table_of_freshness_is_carried_out() {
    use super::freshness::HoldsFor::{Area, Face, Person, Visit};
    let (book, freshness) = loaded();
    for (row, asked, holds_for, days) in [
        ("on the day", "on_the_day", Visit, 0),
        ("pregnant", "pregnant", Person, 14),
        ("cold sore now", "cold_sore_active", Face, 3),
        // The question asks for an infection wherever it is.
        ("infection now", "skin_infection", Person, 3),
        ("open skin", "skin_in_area/open_or_weeping", Area, 3),
        (
            "flares, sunburn, tan",
            "skin_in_area/eczema skin_in_area/active_psoriasis skin_in_area/acne_or_rosacea \
             skin_in_area/scaling recent_on_area/sunburn recent_on_area/tan",
            Area,
            14,
        ),
        (
            "what is used there",
            "recent_on_area/acids recent_on_area/retinoid recent_on_area/steroid_cream \
             recent_on_area/lash_serum recent_on_area/waxing recent_on_area/tint \
             eyes/lash_extensions",
            Area,
            7,
        ),
        ("numbing product planned", "numbing_cream numbing_cream_lidocaine_percent", Visit, 0),
        (
            "procedures",
            "botulinum recent_procedures/filler recent_procedures/light_peel \
             recent_procedures/deep_peel recent_procedures/laser_light_or_needling \
             recent_procedures/pigment_removal",
            Area,
            14,
        ),
        (
            "antibiotics, vaccination",
            "medicines/antibiotics recent_procedures/vaccination",
            Person,
            14,
        ),
        ("surgery", "recent_procedures/surgery_or_anaesthetic eyes/eye_surgery", Person, 30),
        ("breastfeeding", "breastfeeding", Person, 90),
        (
            "medicines that change monthly",
            "warfarin medicines/direct_oral_anticoagulant medicines/heparin \
             medicines/prescribed_aspirin_or_clopidogrel medicines/steroids immunosuppression isotretinoin",
            Person,
            30,
        ),
        ("other medicines, fish oil", "medicines/own_choice_painkillers fish_oil", Person, 90),
        (
            "cancer",
            "cancer_treatment/chemotherapy_now cancer_treatment/chemotherapy_past_year \
             cancer_treatment/chemotherapy_planned",
            Person,
            60,
        ),
        ("diabetes", "diabetes_out_of_range hba1c_mmol_mol hba1c_percent", Person, 180),
        ("blood pressure", "blood_pressure_systolic_mmhg blood_pressure_diastolic_mmhg", Person, 0),
        (
            "last event",
            "epilepsy_last_fit_on lupus_last_flare_on vitiligo_last_change_on",
            Person,
            30,
        ),
        (
            "long-term illness",
            "long_term_conditions/heart_valve_or_structural long_term_conditions/epilepsy \
             long_term_conditions/bleeding_disorder skin_history/lupus skin_history/other_autoimmune",
            Person,
            180,
        ),
        (
            "scars and allergies",
            "skin_history/keloid skin_history/sarcoidosis allergies/tattoo_ink allergies/latex \
             allergies/hair_dye allergies/local_anaesthetic nickel_allergy",
            Person,
            365,
        ),
        ("cold-sore history", "cold_sore_history", Person, 365),
        ("eyes", "eyes/glaucoma eyes/dry_eye_or_lid_disease eyes/contact_lenses", Person, 180),
        ("mole, spot, scar", "mole_in_area skin_in_area/changing_spot skin_in_area/scar", Area, 90),
        ("earlier work", "previous_pmu_in_area", Area, 30),
        ("wishes", "wishes", Area, 90),
    ] {
        for one in asked.split_whitespace() {
            let (id, option) = one.split_once('/').map_or((one, None), |(id, o)| (id, Some(o)));
            let question = &book.all_questions()[book.question(id).unwrap()];
            let is_there = |o: &str| question.kind.options().iter().any(|option| &*option.id == o);
            assert!(option.is_none_or(is_there), "{row}: {one}");
            let found = freshness.of(book, question, option);
            assert_eq!((found.holds_for, found.days), (holds_for, days), "{row}: {one}");
        }
    }
    assert_eq!(
        (freshness.skin.holds_for, freshness.skin.days),
        (Area, 365),
        "skin type and colour"
    );
}

/// A type or colour that is old, or of another area, asks for care as before and no longer says
/// that none is needed.
#[test]
fn a_skin_type_reassures_for_a_year_in_its_area() {
    let (book, freshness) = loaded();
    let (light, dark) = ("II", "V");
    let measured = |l: f64| Lab { l, a: 8.0, b: 15.0 };
    let here = Some(Treatment::Brows);
    for (days, asked_for, is_fresh) in [
        (Some(0), here, true),
        (Some(365), here, true),
        (Some(366), here, false),
        (Some(0), Some(Treatment::Lips), false),
        (Some(0), None, false),
        (None, here, false),
    ] {
        for (word, lab, reassures) in [(light, measured(65.0), true), (dark, measured(40.0), false)]
        {
            let phototype: Phototype = word.parse().unwrap();
            let skin = Skin { phototype: Some(phototype), lab: Some(lab), ..Skin::default() };
            let given = (days.and_then(ago), asked_for);
            let heard = kept_skin((book, freshness), (Treatment::Brows, ON), &skin, given);
            let counts = is_fresh || !reassures;
            assert_eq!(heard.phototype.is_some(), counts, "{word} {days:?} {asked_for:?}");
            assert_eq!(heard.lab.is_some(), counts, "{word} {days:?} {asked_for:?}");
        }
    }
}

/// A cold sore that was over two weeks ago says nothing of today.
#[test]
fn what_was_said_to_be_over_grows_old_like_a_no() {
    let lips = Treatment::Lips;
    let told = |days: i64| {
        [
            stored("cold_sore_active", Value::YesNo(true), days, lips),
            stored("cold_sore_healed_on", Value::Text("2027-03-01".to_owned()), days, lips),
        ]
    };
    let open = |days: i64| {
        open_questions(&hear(&visit(lips), &[], &told(days)))
            .contains(&"cold_sore_active".to_owned())
    };
    assert_eq!((open(3), open(4)), (false, true));
}

#[test]
fn an_answer_on_the_area_holds_for_that_area() {
    let brows = visit(Treatment::Brows);
    for (question, value, asked_for, state) in [
        ("mole_in_area", Value::YesNo(false), Some(Treatment::Brows), State::Used),
        ("mole_in_area", Value::YesNo(false), Some(Treatment::Lips), State::Stale),
        ("mole_in_area", Value::YesNo(false), None, State::Stale),
        ("mole_in_area", Value::YesNo(true), Some(Treatment::Lips), State::Stale),
        ("cold_sore_active", Value::YesNo(false), Some(Treatment::Lips), State::Used),
        ("cold_sore_active", Value::YesNo(false), None, State::Stale),
        ("pregnant", Value::YesNo(false), None, State::Used),
        ("recent_on_area", none(), Some(Treatment::Lips), State::Stale),
        ("cold_sore_history", Value::YesNo(false), Some(Treatment::Lips), State::NotAsked),
        ("moonlight", Value::YesNo(true), Some(Treatment::Lips), State::NotUsed),
        ("pregnant", none(), Some(Treatment::Lips), State::NotUsed),
    ] {
        let one =
            Stored { question: question.to_owned(), value, on: Some(ON), treatment: asked_for };
        let gathered = hear(&brows, &[], &[one]);
        assert_eq!(said(&gathered, question).state, state, "{question} asked for {asked_for:?}");
    }
}

#[test]
fn an_option_that_was_not_offered_was_not_answered() {
    // Chosen on the form for the lips, which does not ask for skin picking.
    let told = stored("skin_history", list(&["psoriasis_elsewhere"]), 0, Treatment::Lips);
    let gathered = hear(&visit(Treatment::Scalp), &[], &[told]);
    let heard = said(&gathered, "skin_history");
    assert_eq!(heard.state, State::Stale);
    assert!(heard.open.iter().any(|option| &**option == "hair_or_skin_picking"), "{heard:?}");
    assert!(open_questions(&gathered).contains(&"skin_history".to_owned()));
    let found = assess(&visit(Treatment::Scalp), &gathered);
    assert!(found.findings.iter().any(|f| f.rule.id.contains("psoriasis")), "the yes counts");
}

#[test]
fn what_is_kept_is_never_the_fault_of_what_was_sent() {
    let lips = Treatment::Lips;
    let told = [
        stored("cold_sore_active", Value::YesNo(true), 1, lips),
        stored("cold_sore_healed_on", Value::Text("2027-01-01".to_owned()), 1, lips),
        stored("nickel_allergy", Value::YesNo(false), 1, lips),
    ];
    let sent =
        [("cold_sore_active", Given::YesNo(false)), ("nickel_allergy_severe", Given::YesNo(true))];
    let gathered = hear(&visit(lips), &sent, &told);
    assert_eq!(said(&gathered, "cold_sore_healed_on").state, State::NotUsed);
    assert_eq!(said(&gathered, "nickel_allergy").state, State::NotUsed);
    assert!(open_questions(&gathered).contains(&"nickel_allergy".to_owned()));
}

#[test]
fn what_was_sent_is_refused_or_in_a_replay_left_out() {
    let (book, freshness) = loaded();
    let sent = [("moonlight", Given::YesNo(true)), ("pregnant", Given::YesNo(false))];
    let now = Voices { sent: &sent, ..Voices::default() };
    let faults = gather(book, freshness, &visit(Treatment::Lips), &now).unwrap_err();
    assert_eq!(faults[0].pointer, "/answers/moonlight");
    let later = Voices { sent_long_ago: true, ..now };
    let gathered = gather(book, freshness, &visit(Treatment::Lips), &later).unwrap();
    assert_eq!(said(&gathered, "moonlight").state, State::NotUsed);
    assert_eq!(said(&gathered, "pregnant").state, State::Used);
}

/// A day that was told for an older yes is no day of the yes of today.
#[test]
fn a_follow_up_goes_with_the_answer_it_followed() {
    let brows = Treatment::Brows;
    let told = [
        stored("botulinum", Value::YesNo(true), 60, brows),
        stored("botulinum_on", Value::Text("2026-12-01".to_owned()), 60, brows),
    ];
    let gathered = hear(&visit(brows), &[("botulinum", Given::YesNo(true))], &told);
    assert_eq!(said(&gathered, "botulinum_on").state, State::Stale);
    assert!(open_questions(&gathered).contains(&"botulinum_on".to_owned()));
}

#[test]
fn the_record_stands_against_what_was_told() {
    let (book, freshness) = loaded();
    let visit = visit(Treatment::Lips);
    let session = date(2027, 3, 10);
    for (sent, counted) in [
        (vec![], true),
        (vec![("previous_pmu_in_area", Given::YesNo(false))], true),
        (
            vec![
                ("previous_pmu_in_area", Given::YesNo(true)),
                ("previous_pmu_on", Given::Text("2027-03-09")),
            ],
            true,
        ),
        (
            vec![
                ("previous_pmu_in_area", Given::YesNo(true)),
                ("previous_pmu_on", Given::Text("2027-03-11")),
            ],
            false,
        ),
    ] {
        let voices = Voices {
            sent: &sent,
            record: Record { last_session: Some(session), ..Record::default() },
            ..Voices::default()
        };
        let gathered = gather(book, freshness, &visit, &voices).unwrap();
        assert_eq!(gathered.record_counted, counted, "{sent:?}");
        let open = open_questions(&gathered);
        assert!(!open.iter().any(|id| id.starts_with("previous_pmu")), "{sent:?}: {open:?}");
    }
}

/// A patient who reacts once may react again (Schubert et al. 2023): a reaction stays until the
/// client's record says no.
#[test]
fn a_reaction_to_a_skin_test_counts_until_it_is_settled() {
    let (book, freshness) = loaded();
    let visit = visit(Treatment::Lips);
    let no = [(record::SKIN_TEST, Given::YesNo(false))];
    let told = |yes| [stored(record::SKIN_TEST, Value::YesNo(yes), 700, Treatment::Brows)];
    let (yes, settled) = (told(true), told(false));
    for (sent, stored, has_reacted, refers) in [
        (&[][..], &[][..], false, false),
        (&[], &[], true, true),
        (&no, &[], true, true),
        (&[], &settled, true, true),
        (&[], &yes, false, true),
        (&no, &yes, false, true),
        (&[], &settled, false, false),
    ] {
        let stored = kept(stored);
        let record = Record { has_reacted, ..Record::default() };
        let voices = Voices { sent, kept: &stored, record, ..Voices::default() };
        let gathered = gather(book, freshness, &visit, &voices).unwrap();
        let found = assess(&visit, &gathered);
        let spoke = found.findings.iter().any(|one| &*one.rule.id == record::SKIN_TEST);
        assert_eq!(spoke, refers, "{sent:?} {stored:?} {has_reacted}");
        assert!(!refers || found.verdict == etui_schema::vocabulary::Verdict::Refer);
    }
}

/// Skin that scarred after earlier work asks for a test spot wherever the next work is, and no
/// answer takes that back.
#[test]
fn a_scar_of_earlier_work_is_minded_in_every_area() {
    let (book, freshness) = loaded();
    for treatment in Treatment::ALL {
        let visit = visit(*treatment);
        for (has_scarred, sent) in
            [(false, &[][..]), (true, &[]), (true, &[(record::SCARRED, Given::YesNo(false))])]
        {
            let record = Record { has_scarred, ..Record::default() };
            let voices = Voices { sent, record, ..Voices::default() };
            let gathered = gather(book, freshness, &visit, &voices).unwrap();
            let found = assess(&visit, &gathered);
            let spoke = found.findings.iter().any(|one| &*one.rule.id == record::SCARRED);
            assert_eq!(spoke, has_scarred, "{treatment:?} {sent:?}");
        }
    }
}

/// Every question and option that has a row.
fn named(freshness: &Freshness) -> impl Iterator<Item = (&str, Option<&str>)> {
    let rows = freshness.rows.keys().map(|(question, option)| (&**question, option.as_deref()));
    let remains = freshness.remains().flat_map(|row| {
        let options = row.options.iter().map(|option| Some(&**option));
        let options = move || options.clone().chain(row.options.is_empty().then_some(None));
        row.questions.iter().flat_map(move |question| options().map(|o| (&**question, o)))
    });
    let lasted = freshness.lasted().flat_map(|row| {
        let options = row.options.iter().map(|option| (&*row.question, Some(&**option)));
        options.chain([(&*row.question, None), (&*row.ended_on, None)])
    });
    let implies = freshness.implies().flat_map(|row| {
        let options = row.options.iter().map(|option| (&*row.question, Some(&**option)));
        options.chain([(&*row.question, None), (&*row.says, row.option.as_deref())])
    });
    let ends = freshness.ends().iter().map(|question| (&**question, None));
    rows.chain(remains).chain(lasted).chain(implies).chain(ends)
}

#[test]
fn every_row_names_what_is_asked() {
    let (book, freshness) = loaded();
    for (question, option) in named(freshness) {
        let at = book.question(question).unwrap_or_else(|| panic!("no question `{question}`"));
        let options = book.all_questions()[at].kind.options();
        if let Some(option) = option {
            assert!(options.iter().any(|o| &*o.id == option), "`{question}` has no `{option}`");
        }
    }
}

#[test]
fn no_question_of_ours_is_left_to_the_row_for_all() {
    let (book, freshness) = loaded();
    let left: Vec<&str> = book
        .all_questions()
        .iter()
        .filter(|question| question.follows.is_none() && question.stage != Stage::Record)
        .filter(|question| freshness.row(&question.id, None).is_none())
        .map(|question| &*question.id)
        .collect();
    assert!(left.is_empty(), "no row in freshness.toml for {left:?}");
}
