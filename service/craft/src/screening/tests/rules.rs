//! One table for every rule: where it speaks, where it just does not, and what
//! it asks for. The source of each rule stands beside it in `rules/screening`.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::vocabulary::{Skin, Treatment, Verdict};
use serde::Deserialize;
use serde_json::{Map, Value, json};

use super::support::{ON, assess, book, clear, day, visit, with};
use crate::screening::country::Country;
use crate::screening::gate::{Override, Visit};
use crate::screening::question::Stage;

const CASES: &str = include_str!("rules.jsonl");

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RuleCase {
    rule: String,
    treatment: Treatment,
    #[serde(default)]
    answers: Map<String, Value>,
    skin: Option<Skin>,
    on: Option<String>,
    as_of: Option<String>,
    born_on: Option<String>,
    country: Option<Country>,
    speaks: bool,
    verdict: Option<Verdict>,
    /// The day by which a hold ends, or `event`.
    until: Option<String>,
    /// Beside an event: the day before which it cannot be.
    not_before: Option<String>,
    due: Option<String>,
    tells: Option<String>,
}

fn cases() -> Vec<RuleCase> {
    CASES
        .lines()
        .filter(|line| !line.starts_with("//"))
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn check(case: &RuleCase, line: &str) {
    let on = case.on.as_deref().map_or(ON, day);
    let base = visit(case.treatment);
    let visit = Visit {
        on,
        on_in_studio: on,
        country: case.country,
        as_of: case.as_of.as_deref().map_or(on, day),
        born_on: case.born_on.as_deref().map_or(base.born_on, day),
        ..base
    };
    let mut answers = clear(book(), &visit);
    answers.extend(case.answers.clone());
    let found = assess(book(), visit, &answers, case.skin.as_ref(), &[]);
    let found = found.unwrap_or_else(|faults| panic!("{line}: {faults:?}"));
    let finding = found.findings.iter().find(|finding| *finding.rule.id == *case.rule);
    assert_eq!(finding.is_some(), case.speaks, "{line}");
    let Some(finding) = finding else { return };
    assert_eq!(Some(finding.verdict), case.verdict, "{line}");
    let until = case.until.as_deref().filter(|until| *until != "event").map(day);
    // Beside something that has no day, none is one to book.
    assert_eq!(finding.hold_until, until.filter(|_| !finding.is_beside), "{line}");
    assert!(!finding.is_beside || found.hold_until.is_none(), "{line}");
    let not_before = until.or(case.not_before.as_deref().map(day));
    assert_eq!(finding.not_before, not_before, "{line}");
    assert_eq!(finding.waits_for_event, case.until.as_deref() == Some("event"), "{line}");
    assert_eq!(finding.due, case.due.as_deref().map(day), "{line}");
    if case.tells.is_some() {
        assert_eq!(finding.tells, case.tells.as_deref().map(day), "{line}");
    }
}

#[test]
fn every_case_is_as_the_table_says() {
    let lines = CASES.lines().filter(|line| !line.starts_with("//"));
    for (case, line) in cases().iter().zip(lines) {
        check(case, line);
    }
}

#[test]
fn every_rule_is_in_the_table_speaking_in_every_area_and_silent_once() {
    let mut speaking: BTreeMap<String, BTreeSet<Treatment>> = BTreeMap::new();
    let mut silent = BTreeSet::new();
    for case in cases() {
        assert!(book().rule(&case.rule).is_some(), "{} is no rule", case.rule);
        if case.speaks {
            speaking.entry(case.rule).or_default().insert(case.treatment);
        } else {
            silent.insert(case.rule);
        }
    }
    for rule in book().all_rules() {
        let areas: BTreeSet<Treatment> = rule.treatments.iter().collect();
        assert_eq!(speaking.get(&*rule.id), Some(&areas), "{}", rule.id);
        assert!(silent.contains(&*rule.id), "{} is never just outside", rule.id);
    }
}

#[test]
fn a_client_with_nothing_to_say_may_come_and_answers_26_questions_at_most() {
    for treatment in Treatment::ALL {
        for as_of in [ON, day("2027-02-25")] {
            let visit = Visit { as_of, ..visit(*treatment) };
            let asked = book().questions(visit.treatment, visit.on, visit.today());
            let base = asked.filter(|question| question.follows.is_none()).count();
            assert!(base <= 26, "{treatment}: {base}");
            let found = with(book(), visit, &json!({})).unwrap();
            assert_eq!(found.verdict, Verdict::Proceed, "{treatment}");
            assert_eq!((found.unanswered.len(), found.score.points), (0, 0));
            assert_eq!(found.score.band.map(|band| &*band.id), Some("low"));
        }
    }
}

#[test]
fn questions_of_the_day_are_asked_on_the_day() {
    let on_the_day = |as_of| {
        book().questions(Treatment::Brows, ON, as_of).any(|question| question.stage == Stage::Day)
    };
    assert!(!on_the_day(day("2027-03-17")));
    assert!(on_the_day(ON));
}

#[test]
fn holds_combine_by_the_latest_and_never_by_the_sum() {
    // Holds of 14, 28 and 180 days from the day of the treatment.
    let found = with(
        book(),
        visit(Treatment::Lips),
        &json!({
            "skin_infection": true, "skin_infection_healed_on": "2027-03-18",
            "recent_on_area": ["retinoid"], "retinoid_last_on": "2027-03-18",
            "isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-03-18",
        }),
    )
    .unwrap();
    assert_eq!(found.verdict, Verdict::Hold);
    assert_eq!(found.hold_until, Some(day("2027-09-18")));
    assert!(!found.waits_for_event);
}

#[test]
fn the_law_stands_and_the_rest_gives_way_to_a_reason() {
    let wish = |rule: &str, reason: &str| Override {
        rule: rule.to_owned(),
        reason: reason.to_owned(),
        by_ref: "artist-1".parse().unwrap(),
    };
    let minor = Visit { born_on: day("2009-03-19"), ..visit(Treatment::Brows) };
    let answers = clear(book(), &minor);
    let faults =
        assess(book(), minor, &answers, None, &[wish("under_18", "parents agree")]).unwrap_err();
    assert_eq!(faults[0].pointer, "/overrides/0/rule");
    assert!(faults[0].to_string().contains("nothing overrides"), "{}", faults[0]);

    let mut answers = clear(book(), &visit(Treatment::Brows));
    answers.insert("warfarin".into(), json!(true));
    let overrides = [wish("warfarin", "written view of the GP of 1 March")];
    let found = assess(book(), visit(Treatment::Brows), &answers, None, &overrides).unwrap();
    assert_eq!(found.verdict, Verdict::ProceedWithConditions);
    let finding = found.findings.iter().find(|finding| &*finding.rule.id == "warfarin").unwrap();
    assert_eq!((finding.verdict, finding.overridden), (Verdict::Refer, Some(0)));

    for (overrides, pointer) in [
        (vec![wish("no_such_rule", "because")], "/overrides/0/rule"),
        (vec![wish("warfarin", "  ")], "/overrides/0/reason"),
        (vec![wish("warfarin", "because"), wish("warfarin", "again")], "/overrides/1/rule"),
        (vec![wish("cold_sore_history", "lips only")], "/overrides/0/rule"),
    ] {
        let faults = assess(book(), visit(Treatment::Brows), &answers, None, &overrides);
        assert_eq!(faults.unwrap_err()[0].pointer, pointer);
    }
}

#[test]
fn a_missing_answer_is_incomplete_unless_something_worse_is_certain() {
    let visit = visit(Treatment::Lips);
    let mut answers = clear(book(), &visit);
    answers.remove("warfarin");
    let found = assess(book(), visit, &answers, None, &[]).unwrap();
    assert_eq!(found.verdict, Verdict::Incomplete);
    assert_eq!(found.unanswered.iter().map(|q| &*q.id).collect::<Vec<_>>(), ["warfarin"]);
    for (id, value, verdict) in [
        ("mole_in_area", json!(true), Verdict::Incomplete),
        ("pregnant", json!(true), Verdict::Hold),
        ("wishes", json!(["pressed_by_others"]), Verdict::Refer),
        ("on_the_day", json!(["alcohol_or_drugs"]), Verdict::Decline),
    ] {
        let mut answers = answers.clone();
        answers.insert(id.to_owned(), value);
        let found = assess(book(), visit, &answers, None, &[]).unwrap();
        assert_eq!((found.verdict, found.unanswered.len()), (verdict, 1), "{id}");
    }
    let nothing = assess(book(), visit, &Map::new(), None, &[]).unwrap();
    assert_eq!(nothing.verdict, Verdict::Incomplete);
    assert!(20 < nothing.unanswered.len());
}
