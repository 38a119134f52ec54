//! What the craft's loaders refuse, in the words of the wire.

use std::fmt;

use etui_craft::aftercare::pack::{PackFault, PackProblem};
use etui_craft::guard::{Speaks, strange_word};
use etui_craft::label::SpellingFault;
use etui_craft::rules::RuleFault;
use etui_craft::screening::faults::{BookFaults, BookProblem};
use etui_schema::problem::{Fault, FaultCode};
use serde_json::Value;

/// Most faults that one answer names.
const MOST_FAULTS: usize = 100;

fn at(pointer: &str, code: FaultCode, why: &dyn fmt::Display) -> Fault {
    Fault::new(format!("#{pointer}"), code, why.to_string())
}

/// A pack that is not of its shape.
pub(super) fn unreadable(fault: &RuleFault) -> Vec<Fault> {
    vec![at(&fault.pointer, FaultCode::WrongFormat, &fault.why)]
}

/// What is wrong with a rules pack.
pub(super) fn of_rules(faults: &BookFaults) -> Vec<Fault> {
    let code = |problem: &BookProblem| match problem {
        BookProblem::Unreadable { .. } | BookProblem::Id { .. } => FaultCode::WrongFormat,
        BookProblem::Twice { .. } => FaultCode::Duplicate,
        BookProblem::Source { .. } | BookProblem::Unknown { .. } => FaultCode::UnknownReference,
        BookProblem::Evidence { .. } | BookProblem::Contradiction { .. } => {
            FaultCode::Contradiction
        }
        BookProblem::Text { .. } => FaultCode::Missing,
        BookProblem::Wording { .. }
        | BookProblem::Unreachable { .. }
        | BookProblem::Loosens { .. } => FaultCode::NotAllowed,
        BookProblem::Range { .. } => FaultCode::OutOfRange,
    };
    let fault =
        |f: &etui_craft::screening::faults::BookFault| at(&f.pointer, code(&f.problem), &f.problem);
    faults.0.iter().take(MOST_FAULTS).map(fault).collect()
}

/// What is wrong with a label-spellings pack.
pub(super) fn of_spellings(faults: &[SpellingFault]) -> Vec<Fault> {
    let fault = |f: &SpellingFault| at(&f.pointer, FaultCode::NotAllowed, &f.why);
    faults.iter().take(MOST_FAULTS).map(fault).collect()
}

/// What is wrong with an aftercare pack.
pub(super) fn of_aftercare(faults: &[PackFault]) -> Vec<Fault> {
    let code = |problem: &PackProblem| match problem {
        PackProblem::Unreadable { .. } | PackProblem::Key { .. } => FaultCode::WrongFormat,
        PackProblem::Twice { .. } => FaultCode::Duplicate,
        PackProblem::Days { .. } => FaultCode::Contradiction,
        PackProblem::Range { .. } => FaultCode::WrongLength,
        PackProblem::Place { .. } => FaultCode::UnknownValue,
        PackProblem::Wording(_) => FaultCode::NotAllowed,
        PackProblem::Source(_) => FaultCode::UnknownReference,
    };
    let fault = |f: &PackFault| at(&f.pointer, code(&f.problem), &f.problem);
    faults.iter().take(MOST_FAULTS).map(fault).collect()
}

/// Sentences that the guard cannot judge, if nobody is named who has read them: they go to clients
/// in the studio's name. A pack that is kept already is applied without it.
pub(super) fn unread(pack: &Value) -> Vec<Fault> {
    if pack.get("read_by").is_some() {
        return Vec::new();
    }
    let texts = pack["texts"].as_object().into_iter().flatten();
    let before = |(key, text): (&String, _)| {
        (Speaks::of_key(key), format!("/texts/{}", key.replace('/', "~1")), text)
    };
    let steps = pack["step"].as_array().into_iter().flatten().enumerate();
    let steps =
        steps.map(|(step, row)| (Speaks::AfterVisit, format!("/step/{step}/text"), &row["text"]));
    let said = texts.map(before).chain(steps).flat_map(|(speaks, place, text)| {
        let forms = text.as_object().into_iter().flatten();
        forms.map(move |(language, text)| (speaks, format!("{place}/{language}"), text.as_str()))
    });
    said.filter_map(|(speaks, place, text)| {
        let word = strange_word(text?, speaks)?;
        let why = format!(
            "`{word}` is not known to be plain; say it otherwise, or name in `read_by` who has read \
             this sentence and stands for it"
        );
        Some(at(&place, FaultCode::NotAllowed, &why))
    })
    .take(MOST_FAULTS)
    .collect()
}
