//! What nobody told beside the complaints and would make the answer graver: a blood thinner,
//! contact lenses, a temperature. The answer asks for it, and what is kept counts. Levels are
//! those of the table (`triage_rows`), with and without the fact.

use etui_schema::answers::{Answer as Told, Answers};
use etui_schema::vocabulary::Treatment::{self, Brows, Eyeliner, Lips};
use etui_schema::vocabulary::aftercare::{Level, Symptom};
use proptest::prelude::*;

use super::super::triage::{Answer, Report};
use super::triage::{any_report, triage};
use super::triage_rows::{D, report};
use crate::evidence::Register;
use crate::screening::rulebook::Rulebook;

use Level::{Artist, Doctor, Emergency, Expected, SameDay};

const THINNER: &str = "blood_thinner_taken";
const LENS: &str = "contact_lens_worn";
const HOT: &str = "38.4C";

fn judged(report: &Report) -> Answer {
    triage().judge(report).unwrap()
}

fn asked(answer: &Answer) -> Vec<&str> {
    answer.ask.iter().map(|question| &*question.key).collect()
}

#[test]
fn what_would_make_it_graver_is_asked() {
    const FEVER: &[&str] = &["ask_fever"];
    const BLEEDS: &[&str] = &["ask_bleeding"];
    for (treatment, hours, signs, level, asks, fact, with) in [
        (Brows, 1, "bleeding", Artist, &["ask_fever", "ask_bleeding"][..], THINNER, SameDay),
        (Brows, 1, "bleeding~", Expected, FEVER, THINNER, Expected),
        (Brows, 1, "bleeding!", SameDay, BLEEDS, THINNER, Emergency),
        (Brows, 1, "bleeding_will_not_stop", SameDay, BLEEDS, THINNER, Emergency),
        (Eyeliner, 30, "sticky_lids~", Expected, &["ask_lids", "ask_fever"], LENS, SameDay),
        (Lips, 2 * D, "watery_eyes", Artist, &["ask_lids", "ask_fever"], LENS, SameDay),
        (Brows, 80, "redness~", Expected, FEVER, HOT, SameDay),
        (Lips, 54, "swelling", Expected, FEVER, HOT, SameDay),
        (Brows, 54, "weeping~", Artist, FEVER, HOT, SameDay),
        (Brows, 80, "pain+", SameDay, FEVER, HOT, Emergency),
        (Brows, 20 * D, "nodules~", Doctor, FEVER, HOT, SameDay),
        // What was measured or told is not asked again, nor what makes nothing graver.
        (Brows, 80, "redness~ 36.8C", Expected, &[], THINNER, Expected),
        (Brows, 80, "redness~ fever~", SameDay, &[], HOT, SameDay),
        (Brows, 80, "pus", SameDay, &[], LENS, SameDay),
        (Brows, 80, "pain?", SameDay, &["ask_how", "ask_fever"], HOT, Emergency),
        // Nobody fills in a form while she calls an ambulance.
        (Brows, 1, "wheeze", Emergency, &[], THINNER, Emergency),
        // What she takes or wears is no complaint of its own.
        (Brows, 80, "redness~ blood_thinner_taken 36.8C", Expected, &[], LENS, Expected),
    ] {
        let what = format!("{treatment} after {hours} h: {signs}");
        let answer = judged(&report(treatment, hours, signs));
        assert_eq!((answer.level, asked(&answer)), (level, asks.to_vec()), "{what}");
        let told = judged(&report(treatment, hours, &format!("{signs} {fact}")));
        assert_eq!(told.level, with, "{what} {fact}");
    }
}

#[test]
fn what_is_kept_of_her_counts_as_told() {
    let (thinner, lens) = (Symptom::BloodThinnerTaken, Symptom::ContactLensWorn);
    for (treatment, hours, signs, kept, level, says) in [
        (Brows, 1, "bleeding 36.8C", thinner, SameDay, Some("assumed_thinner")),
        (Brows, 1, "bleeding!", thinner, Emergency, Some("assumed_thinner")),
        (Brows, 1, "bleeding_will_not_stop", thinner, Emergency, Some("assumed_thinner")),
        (Brows, 1, "bleeding! blood_thinner_taken", thinner, Emergency, None),
        (Eyeliner, 30, "sticky_lids~ 36.8C", lens, SameDay, Some("assumed_lenses")),
        // It cries no wolf, and no silence becomes a complaint.
        (Brows, 80, "redness~ 36.8C", thinner, Expected, None),
        (Eyeliner, 30, "redness~ 36.8C", lens, Expected, None),
        (Brows, 50, "36.8C", thinner, Artist, None),
    ] {
        let what = format!("{treatment} after {hours} h: {signs}, {kept} is kept");
        let answer = judged(&Report { kept: vec![kept], ..report(treatment, hours, signs) });
        let said: Vec<&str> = answer.assumed.iter().map(|(_, say)| &*say.key).collect();
        let said = said.into_iter().find(|key| ["assumed_thinner", "assumed_lenses"].contains(key));
        assert_eq!((answer.level, said), (level, says), "{what}");
        if says.is_some() {
            assert!(asked(&answer).is_empty(), "{what}: {:?}", answer.ask);
        }
    }
}

#[test]
fn kept_answers_tell_of_thinners_and_lenses() {
    let (thinner, lens) = (Symptom::BloodThinnerTaken, Symptom::ContactLensWorn);
    let choices = |of: &[&str]| Told::Choices(of.iter().map(|one| (*one).to_owned()).collect());
    for (question, answer, want) in [
        ("warfarin", Told::YesNo(true), &[thinner][..]),
        ("warfarin", Told::YesNo(false), &[]),
        ("medicines", choices(&["antibiotics", "heparin"]), &[thinner]),
        ("medicines", choices(&["direct_oral_anticoagulant"]), &[thinner]),
        ("medicines", choices(&["prescribed_aspirin_or_clopidogrel"]), &[thinner]),
        ("medicines", choices(&["steroids"]), &[]),
        ("eyes", choices(&["contact_lenses"]), &[lens]),
        ("eyes", choices(&["glaucoma"]), &[]),
        ("pregnant", Told::YesNo(true), &[]),
    ] {
        let answers = Answers::from([(question.to_owned(), answer.clone())]);
        assert_eq!(triage().kept(&answers), want, "{question}: {answer:?}");
        // The questions are those that clients are asked.
        let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
        assert!(book.question(question).is_some(), "{question}");
    }
}

/// A report with one more fact, and the question that would have brought it out.
fn facts(one: &Report) -> Vec<(&'static str, Report)> {
    let mut facts = Vec::new();
    for (symptom, question) in
        [(Symptom::BloodThinnerTaken, "ask_bleeding"), (Symptom::ContactLensWorn, "ask_lids")]
    {
        if one.symptoms.iter().all(|told| told.symptom != symptom) {
            let mut with = one.clone();
            with.symptoms.extend(report(Treatment::Brows, 0, symptom.as_str()).symptoms);
            facts.push((question, with));
            facts.push((question, Report { kept: vec![symptom], ..one.clone() }));
        }
    }
    if one.temperature_c.is_none() {
        let measured = |celsius| Report { temperature_c: Some(celsius), ..one.clone() };
        facts.extend([34.5, 36.8, 38.0, 40.5].map(|celsius| ("ask_fever", measured(celsius))));
    }
    facts
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(4_000)))]

    /// Law: a fact that was left out makes nothing graver unless it was asked for, and
    /// telling it makes nothing milder.
    #[test]
    fn no_fact_makes_it_graver_that_was_not_asked_for(one in any_report(), measured in any::<bool>()) {
        let temperature_c = one.temperature_c.filter(|_| measured);
        let one = Report { temperature_c, ..one };
        let before = judged(&one);
        for (question, with) in facts(&one) {
            let after = judged(&with).level;
            prop_assert!(before.level <= after, "{question} {with:?}");
            let is_asked = asked(&before).contains(&question);
            prop_assert!(after == before.level || is_asked, "{question} {before:?} {with:?}");
        }
    }
}
