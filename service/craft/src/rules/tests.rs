//! A source that is forgotten or misspelt does not load, in any file.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::Value;

use super::*;
use crate::aftercare::{country, parameters, review, rows, triage};
use crate::configuration::{circumstances, documentation, parameters as model, skin};
use crate::label::{code_lists, gs1, tables};
use crate::screening::{country as law, data, typing};
use crate::selection::rules as selection;
use crate::trauma::rules as trauma;
use crate::{hand, training, visit};

/// Reads a file, of which a value was changed.
type Load = fn(&Register, &str, Value) -> Result<(), RuleFault>;

fn is<T: DeserializeOwned>(register: &Register, file: &str, value: Value) -> Result<(), RuleFault> {
    settled::<T>(register, file, value).map(drop)
}

fn by_id<T: DeserializeOwned>(
    register: &Register,
    file: &str,
    value: Value,
) -> Result<(), RuleFault> {
    settled_by_id::<T>(register, file, value).map(drop)
}

macro_rules! files {
    ($($name:literal: $load:expr),+ $(,)?) => {
        const FILES: &[(RuleFile, Load)] = &[$((rule_file!($name), $load)),+];
    };
}

files! {
    "aftercare/areola.toml": is::<rows::StepFile>,
    "aftercare/brows.toml": is::<rows::StepFile>,
    "aftercare/countries.toml": is::<country::Countries>,
    "aftercare/eyeliner.toml": is::<rows::StepFile>,
    "aftercare/lips.toml": is::<rows::StepFile>,
    "aftercare/modifiers.toml": is::<rows::ModifierFile>,
    "aftercare/parameters.toml": is::<parameters::Parameters>,
    "aftercare/review.toml": is::<review::Rules>,
    "aftercare/scalp.toml": is::<rows::StepFile>,
    "aftercare/steps.toml": is::<rows::StepFile>,
    "aftercare/triage.toml": is::<triage::Rules>,
    "configuration/circumstances.toml": is::<circumstances::Defaults>,
    "configuration/measures.toml": is::<documentation::File>,
    "configuration/parameters.toml": is::<model::File>,
    "configuration/skin.toml": is::<skin::File>,
    "hand.toml": is::<hand::Rules>,
    "label/application_identifiers.toml": is::<gs1::TableFile>,
    "label/code_lists.toml": is::<code_lists::CodeListFile>,
    "label/configuration.toml": is::<tables::ConfigurationFile>,
    "label/fields.toml": is::<tables::FieldFile>,
    "label/months.toml": is::<tables::MonthFile>,
    "screening/allergies.toml": by_id::<data::Chapter>,
    "screening/area.toml": by_id::<data::Chapter>,
    "screening/body.toml": by_id::<data::Chapter>,
    "screening/book.toml": by_id::<data::Head>,
    "screening/countries.toml": is::<law::RawCountries>,
    "screening/eyes.toml": by_id::<data::Chapter>,
    "screening/freshness.toml": is::<visit::freshness::File>,
    "screening/law.toml": by_id::<data::Chapter>,
    "screening/medicines.toml": by_id::<data::Chapter>,
    "screening/person.toml": by_id::<data::Chapter>,
    "screening/recent.toml": by_id::<data::Chapter>,
    "screening/record.toml": by_id::<data::Chapter>,
    "screening/skin.toml": by_id::<data::Chapter>,
    "screening/typing.toml": is::<typing::Typing>,
    "selection/areola.toml": is::<selection::TreatmentRules>,
    "selection/brows.toml": is::<selection::TreatmentRules>,
    "selection/eyeliner.toml": is::<selection::TreatmentRules>,
    "selection/general.toml": is::<selection::GeneralFile>,
    "selection/hints.toml": is::<selection::HintFile>,
    "selection/lips.toml": is::<selection::TreatmentRules>,
    "selection/notes.toml": is::<selection::NoteFile>,
    "selection/scalp.toml": is::<selection::TreatmentRules>,
    "training.toml": is::<training::Rules>,
    "trauma/signs.toml": is::<trauma::SignFile>,
    "trauma/steps.toml": is::<trauma::StepFile>,
}

/// Files in which nothing has a source: each packing was computed here, a question
/// is settled by the rules that use it, and each school of a split trade is counted
/// in its own words. What a pack's sentence may not say is common practice as a whole.
const WITHOUT: [&str; 4] = [
    "configuration/packing.toml",
    "guard.toml",
    "screening/questions.toml",
    "selection/views.toml",
];

/// The pointer of every source, and of every list and table of them.
fn sources(value: &Value) -> Vec<String> {
    fn walk(value: &Value, pointer: &str, inside: bool, found: &mut Vec<String>) {
        let step = |key: &str| format!("{pointer}/{}", step(key));
        match value {
            Value::String(_) if inside => found.push(pointer.to_owned()),
            Value::Object(all) => all
                .iter()
                .for_each(|(key, one)| walk(one, &step(key), inside || names_sources(key), found)),
            Value::Array(all) => all
                .iter()
                .enumerate()
                .for_each(|(n, one)| walk(one, &step(&n.to_string()), inside, found)),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
        }
    }
    let mut found = Vec::new();
    walk(value, "", false, &mut found);
    found
}

/// Takes the value at a pointer away; tells whether it stood in a table.
fn remove(value: &mut Value, pointer: &str) -> bool {
    let (parent, last) = pointer.rsplit_once('/').unwrap();
    let parent = value.pointer_mut(parent).unwrap();
    parent.as_object_mut().is_some_and(|members| members.remove(last).is_some())
}

#[test]
fn every_rule_file_is_held_to_its_sources() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules");
    let mut found = BTreeSet::new();
    let mut folders = vec![root.clone()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                found.insert(path.strip_prefix(&root).unwrap().to_string_lossy().into_owned());
            }
        }
    }
    let apart = ["languages/", "sources/", "texts/"];
    found.retain(|name| !apart.iter().any(|folder| name.starts_with(folder)));
    let held = FILES.iter().map(|(file, _)| file.name).chain(WITHOUT);
    assert_eq!(found, held.map(str::to_owned).collect());
}

#[test]
fn a_misspelt_source_is_refused_at_its_place() {
    let register = Register::builtin().unwrap();
    for (file, load) in FILES {
        let whole = parse(*file).unwrap();
        load(&register, file.name, whole.clone()).unwrap();
        let sources = sources(&whole);
        assert!(!sources.is_empty(), "{}", file.name);
        for pointer in sources {
            let mut changed = whole.clone();
            *changed.pointer_mut(&pointer).unwrap() = "nobody-1900".into();
            let fault = load(&register, file.name, changed).unwrap_err();
            assert_eq!((&*fault.file, &fault.pointer), (file.name, &pointer));
        }
    }
}

/// Where a row may name a source of its own in the place of the file's, or brings
/// one for a value that it may leave out: that the two go together is for the
/// loader of the rows.
fn may_lack(file: &str, pointer: &str) -> bool {
    file == "label/fields.toml" && pointer.starts_with("/field/")
        || pointer.ends_with("/sources/same_day")
        || pointer.ends_with("/sources/from_age_years")
}

#[test]
fn a_missing_source_is_refused_at_the_row_that_lacks_it() {
    let register = Register::builtin().unwrap();
    for (file, load) in FILES {
        let whole = parse(*file).unwrap();
        for pointer in sources(&whole).into_iter().filter(|one| !may_lack(file.name, one)) {
            let mut changed = whole.clone();
            // One of a list may go; a list that goes whole is tried by its key.
            if !remove(&mut changed, &pointer) {
                let (list, _) = pointer.rsplit_once('/').unwrap();
                assert!(remove(&mut changed, list), "{}{pointer}", file.name);
            }
            let fault = load(&register, file.name, changed).unwrap_err();
            assert_eq!(&*fault.file, file.name);
            assert!(pointer.starts_with(&fault.pointer), "{fault} but {pointer}");
        }
    }
}
