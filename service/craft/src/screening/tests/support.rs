//! What the tests of the rulebook share: a client on whom nothing speaks, and
//! one way to assess her.

use std::sync::OnceLock;

use etui_schema::vocabulary::{CivilDate, Skin, Treatment};
use jiff::civil::{Date, date};
use serde_json::{Map, Value};

use crate::evidence::Register;
use crate::screening::answers::{Answers, Given};
use crate::screening::faults::Fault;
use crate::screening::gate::{Assessment, Case, Override, Visit};
use crate::screening::rulebook::Rulebook;

/// The day of the treatment unless a case says otherwise.
pub(crate) const ON: Date = date(2027, 3, 18);

/// The built-in rulebook, loaded once.
pub(crate) fn book() -> &'static Rulebook {
    static BOOK: OnceLock<Rulebook> = OnceLock::new();
    BOOK.get_or_init(|| match Rulebook::builtin(&Register::builtin().unwrap()) {
        Ok(book) => book,
        Err(faults) => panic!("{faults}"),
    })
}

/// A visit of somebody of 36 on [`ON`], assessed that day.
pub(super) fn visit(treatment: Treatment) -> Visit {
    Visit {
        treatment,
        on: ON,
        on_in_studio: ON,
        as_of: ON,
        born_on: date(1990, 6, 15),
        country: None,
    }
}

/// The clear answer to every question that is asked of everybody.
pub(super) fn clear(book: &Rulebook, visit: &Visit) -> Map<String, Value> {
    book.questions(visit.treatment, visit.on, visit.today())
        .filter(|question| question.follows.is_none())
        .filter_map(|question| Some((question.id.to_string(), question.clear_answer()?)))
        .collect()
}

/// Assesses answers as they are.
pub(super) fn assess<'b>(
    book: &'b Rulebook,
    visit: Visit,
    answers: &Map<String, Value>,
    skin: Option<&Skin>,
    overrides: &[Override],
) -> Result<Assessment<'b>, Vec<Fault>> {
    let answers = Answers::read(book, &visit, given(&lists(answers)))?;
    book.assess(&Case { visit, answers: &answers, skin, overrides })
}

/// JSON values with their lists as lists of text; what is no text stays visible.
pub(super) fn lists(answers: &Map<String, Value>) -> Vec<(String, Value, Vec<String>)> {
    let text = |value: &Value| value.as_str().map_or_else(|| value.to_string(), str::to_owned);
    let list = |value: &Value| {
        value.as_array().map_or_else(Vec::new, |all| all.iter().map(text).collect())
    };
    answers.iter().map(|(id, value)| (id.clone(), value.clone(), list(value))).collect()
}

/// The answers as they are given. What JSON can say and no answer is becomes
/// a number that no question accepts.
pub(super) fn given(
    lists: &[(String, Value, Vec<String>)],
) -> impl DoubleEndedIterator<Item = (&str, Given<'_>)> {
    lists.iter().map(|(id, value, list)| {
        let given = match value {
            Value::Bool(yes) => Given::YesNo(*yes),
            Value::Number(number) => Given::Number(number.as_f64().unwrap_or(f64::NAN)),
            Value::String(text) => Given::Text(text),
            Value::Array(_) => Given::Choices(list),
            Value::Null | Value::Object(_) => Given::Number(f64::NAN),
        };
        (id.as_str(), given)
    })
}

/// Assesses the clear answers with some changed.
pub(super) fn with<'b>(
    book: &'b Rulebook,
    visit: Visit,
    changes: &Value,
) -> Result<Assessment<'b>, Vec<Fault>> {
    let mut answers = clear(book, &visit);
    answers.extend(changes.as_object().cloned().unwrap_or_default());
    assess(book, visit, &answers, None, &[])
}

pub(super) fn day(text: &str) -> Date {
    text.parse::<CivilDate>().unwrap().0
}
