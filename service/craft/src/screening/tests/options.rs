//! Whatever somebody ticks is answered.

use etui_schema::vocabulary::{Treatment, Verdict};
use serde_json::{Map, Value, json};

use super::support::{assess, book, clear, visit};
use crate::screening::answers::Given;
use crate::screening::question::{Kind, NONE_OF_THESE, Question};

/// What is only told with more: nothing is the matter while the follow-up says so.
const STEADY: [(&str, &str); 2] =
    [("long_term_conditions", "thyroid_anaemia_liver_kidney"), ("recent_procedures", "filler")];

/// The answers to a question that are not the clear one.
fn ticked(question: &Question) -> Vec<(&str, Value)> {
    match &question.kind {
        Kind::YesNo => vec![("", json!(true))],
        Kind::Choice { options, clear } => {
            let others = options.iter().enumerate().filter(|(at, _)| at != clear);
            others.map(|(_, option)| (&*option.id, json!(&*option.id))).collect()
        }
        Kind::Choices { options } => {
            let others = options.iter().filter(|option| &*option.id != NONE_OF_THESE);
            others.map(|option| (&*option.id, json!([&*option.id]))).collect()
        }
        Kind::Date { .. } | Kind::Number { .. } => Vec::new(),
    }
}

fn leads(parent: &Question, value: &Value, follow_up: &Question) -> bool {
    let list: Vec<String> = serde_json::from_value(value.clone()).unwrap_or_default();
    let given = match value {
        Value::Bool(yes) => Given::YesNo(*yes),
        Value::String(text) => Given::Text(text),
        Value::Null | Value::Number(_) | Value::Array(_) | Value::Object(_) => {
            Given::Choices(&list)
        }
    };
    follow_up.is_led_to_by(parent.bits(given))
}

/// The answers that lead to a question, if it follows one.
fn on_the_way(question: &Question) -> Map<String, Value> {
    let Some(follows) = question.follows else { return Map::new() };
    let parent = &book().all_questions()[follows.question];
    let mut all = on_the_way(parent);
    let told = ticked(parent).into_iter().find(|(_, value)| leads(parent, value, question));
    all.insert(parent.id.to_string(), told.unwrap().1);
    all
}

/// The rules that speak, with what they ask for; every follow-up has its clear answer, and one for
/// a day the day that is told.
fn spoken(
    treatment: Treatment,
    told: &Map<String, Value>,
    day: Option<&str>,
) -> Option<Vec<(String, Verdict)>> {
    let visit = visit(treatment);
    let mut answers = clear(book(), &visit);
    answers.extend(told.clone());
    for question in book().all_questions().iter().filter(|one| one.treatments.has(treatment)) {
        let Some(follows) = question.follows else { continue };
        let parent = &book().all_questions()[follows.question];
        let is_led = answers.get(&*parent.id).is_some_and(|value| leads(parent, value, question));
        let day = day.filter(|_| matches!(question.kind, Kind::Date { .. }));
        let clear = question.clear_answer().or_else(|| day.map(|day| json!(day)));
        if let Some(clear) = clear.filter(|_| is_led) {
            answers.entry(question.id.to_string()).or_insert(clear);
        }
    }
    let found = assess(book(), visit, &answers, None, &[]).ok()?;
    Some(found.findings.iter().map(|one| (one.rule.id.to_string(), one.verdict)).collect())
}

/// "Active or widespread now", and nothing said to it. A follow-up that says that all is well
/// takes nothing of that away.
#[test]
fn nothing_that_is_ticked_stays_silent() {
    let mut looked = 0;
    for question in book().all_questions() {
        let before = on_the_way(question);
        for (option, value) in ticked(question) {
            let mut told = before.clone();
            told.insert(question.id.to_string(), value);
            // Some speak while their day is open, others of what is left once it is long past.
            let days = [None, Some("2020-01-01")];
            let is_heard = Treatment::ALL.iter().any(|treatment| {
                days.iter().any(|day| {
                    let silent = spoken(*treatment, &before, *day).unwrap_or_default();
                    let all = spoken(*treatment, &told, *day).unwrap_or_default();
                    all.iter().any(|one| !silent.contains(one))
                })
            });
            let is_steady = STEADY.contains(&(&*question.id, option));
            assert!(is_heard != is_steady, "{} {option}", question.id);
            looked += 1;
        }
    }
    assert!(90 < looked, "{looked}");
}
