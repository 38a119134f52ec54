//! Reading rule files: one way for all of them.
//!
//! A file of `rules/` is parsed once. Then every key that names sources
//! (`source`, `sources`, `source_…`, `…_source`, at any depth) is looked up in
//! the register, before the rows take shape. A row can hold an [`Origin`] only
//! if it was looked up: no loader keeps a list of what has a source, and none
//! can forget one. Whatever is wrong is one [`RuleFault`] with file and pointer.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::places::{self, Misread, step};
use etui_schema::vocabulary::EvidenceKind;
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use crate::evidence::{Basis, COMMON_PRACTICE, MODEL, Register};
use crate::text::Catalogue;

#[cfg(test)]
mod tests;

/// A file of `rules/`, compiled in.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RuleFile {
    pub(crate) name: &'static str,
    pub(crate) text: &'static str,
}

/// The file of this name below `rules/`.
macro_rules! rule_file {
    ($name:expr) => {
        $crate::rules::RuleFile {
            name: $name,
            text: include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/rules/", $name)),
        }
    };
}
pub(crate) use rule_file;

/// Why rule data was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("rules/{file}{pointer}: {why}")]
pub struct RuleFault {
    /// The file, below `rules/`.
    pub file: String,
    /// JSON pointer into it.
    pub pointer: String,
    /// What is wrong.
    pub why: String,
}

impl RuleFault {
    /// A fault at a place of a file.
    pub(crate) fn new(file: &str, pointer: impl Into<String>, why: impl Into<String>) -> Self {
        Self { file: file.to_owned(), pointer: pointer.into(), why: why.into() }
    }

    /// A fault unless something holds.
    ///
    /// # Errors
    /// The fault.
    pub(crate) fn unless(
        holds: bool,
        file: &str,
        pointer: impl Into<String>,
        why: impl Into<String>,
    ) -> Result<(), Self> {
        if holds { Ok(()) } else { Err(Self::new(file, pointer, why)) }
    }
}

/// The source of one value, looked up.
#[loaded(PartialEq, Eq, PartialOrd, Ord)]
pub struct Origin {
    id: Arc<str>,
    kind: EvidenceKind,
}

impl Origin {
    pub(crate) fn new(id: Arc<str>, kind: EvidenceKind) -> Self {
        Self { id, kind }
    }

    /// The origin of what we assume ourselves.
    pub(crate) fn model() -> Self {
        Self::new(MODEL.into(), EvidenceKind::Model)
    }

    /// The origin of a habit of the trade.
    pub(crate) fn common_practice() -> Self {
        Self::new(COMMON_PRACTICE.into(), EvidenceKind::CommonPractice)
    }

    /// Id in the register.
    #[must_use]
    pub fn id(&self) -> &Arc<str> {
        &self.id
    }

    /// The kind of that source.
    #[must_use]
    pub const fn kind(&self) -> EvidenceKind {
        self.kind
    }

    /// The basis of a value with this origin.
    #[must_use]
    pub fn basis(&self, about: impl Into<Arc<str>>) -> Basis {
        Basis { about: about.into(), source: self.id.clone(), kind: self.kind }
    }
}

/// A value and where it comes from.
#[loaded(PartialEq)]
pub struct Sourced<T> {
    /// The value.
    pub value: T,
    /// Its source.
    pub source: Origin,
}

/// A value with what it may be set to.
#[derive(Debug, Clone, Deserialize)]
#[serde(
    try_from = "RawParameter<T>",
    bound(deserialize = "T: PartialOrd + serde::Deserialize<'de>")
)]
pub(crate) struct Parameter<T> {
    pub(crate) value: T,
    pub(crate) source: Origin,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawParameter<T> {
    value: T,
    least: Option<T>,
    most: Option<T>,
    source: Origin,
}

impl<T: PartialOrd> TryFrom<RawParameter<T>> for Parameter<T> {
    type Error = &'static str;

    fn try_from(raw: RawParameter<T>) -> Result<Self, Self::Error> {
        let RawParameter { value, least, most, source } = raw;
        if least.is_some_and(|least| value < least) || most.is_some_and(|most| most < value) {
            return Err("its value lies outside `least` to `most`");
        }
        Ok(Self { value, source })
    }
}

/// A value known as a range.
#[loaded]
pub(crate) struct Span<T> {
    pub(crate) least: T,
    pub(crate) most: T,
    pub(crate) source: Origin,
}

/// Reads a rule file; every source is looked up.
///
/// # Errors
/// [`RuleFault`] for a file that is unreadable or not of its shape, and for a
/// source that is unknown or missing.
pub(crate) fn load<T: DeserializeOwned>(
    register: &Register,
    file: RuleFile,
) -> Result<T, RuleFault> {
    settled(register, file.name, parse(file)?)
}

fn settled<T: DeserializeOwned>(
    register: &Register,
    file: &str,
    mut value: Value,
) -> Result<T, RuleFault> {
    settle(register, file, "", &mut value)?;
    shape(file, &value)
}

/// The same for files in which the members named `keys` hold the key of a text,
/// at any depth: each must be there.
///
/// # Errors
/// As [`load`], and for a text that is not there.
pub(crate) fn load_saying<T: DeserializeOwned>(
    register: &Register,
    texts: &Catalogue,
    keys: &[&str],
    file: RuleFile,
) -> Result<T, RuleFault> {
    let value = parse(file)?;
    said(texts, keys, file.name, "", &value)?;
    settled(register, file.name, value)
}

/// The same for files whose rows name their sources by id alone: of the same
/// shape as packs, which bring sources of their own.
///
/// # Errors
/// As [`load`].
pub(crate) fn load_by_id<T: DeserializeOwned>(
    register: &Register,
    file: RuleFile,
) -> Result<T, RuleFault> {
    settled_by_id(register, file.name, parse(file)?)
}

fn settled_by_id<T: DeserializeOwned>(
    register: &Register,
    file: &str,
    value: Value,
) -> Result<T, RuleFault> {
    settle(register, file, "", &mut value.clone())?;
    shape(file, &value)
}

/// Reads a file without sources.
///
/// # Errors
/// [`RuleFault`] for a file that is unreadable or not of its shape.
pub(crate) fn plain<T: DeserializeOwned>(file: RuleFile) -> Result<T, RuleFault> {
    shape(file.name, &parse(file)?)
}

fn parse(file: RuleFile) -> Result<Value, RuleFault> {
    toml::from_str(file.text).map_err(|why| RuleFault::new(file.name, "", why.to_string()))
}

/// What is written, a file or a pack, as rows. The fault names the very member that is
/// not of its shape.
///
/// # Errors
/// [`RuleFault`].
pub(crate) fn shape<T: DeserializeOwned>(file: &str, value: &Value) -> Result<T, RuleFault> {
    places::read(value).map_err(|Misread { pointer, why }| RuleFault::new(file, pointer, why))
}

fn names_sources(key: &str) -> bool {
    matches!(key, "source" | "sources") || key.starts_with("source_") || key.ends_with("_source")
}

/// Looks up every source below a value and puts what was found in its place.
fn settle(
    register: &Register,
    file: &str,
    pointer: &str,
    value: &mut Value,
) -> Result<(), RuleFault> {
    match value {
        Value::Object(members) => members.iter_mut().try_for_each(|(key, value)| {
            let pointer = format!("{pointer}/{}", step(key));
            if names_sources(key) {
                look_up(register, file, &pointer, value)
            } else {
                settle(register, file, &pointer, value)
            }
        }),
        Value::Array(items) => {
            let mut items = items.iter_mut().enumerate();
            items.try_for_each(|(n, item)| settle(register, file, &format!("{pointer}/{n}"), item))
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Ok(()),
    }
}

/// Looks for the text behind every member that names one.
fn said(
    texts: &Catalogue,
    keys: &[&str],
    file: &str,
    pointer: &str,
    value: &Value,
) -> Result<(), RuleFault> {
    match value {
        Value::Object(members) => members.iter().try_for_each(|(key, value)| {
            let pointer = format!("{pointer}/{}", step(key));
            let Value::String(text) = value else {
                let done = names_sources(key);
                return if done { Ok(()) } else { said(texts, keys, file, &pointer, value) };
            };
            let holds = !keys.contains(&key.as_str()) || texts.has(text);
            RuleFault::unless(holds, file, pointer, format!("there is no text under `{text}`"))
        }),
        Value::Array(items) => {
            let mut items = items.iter().enumerate();
            items.try_for_each(|(n, item)| said(texts, keys, file, &format!("{pointer}/{n}"), item))
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Ok(()),
    }
}

/// One id, or several: in a list, or by the part that each stands for.
fn look_up(
    register: &Register,
    file: &str,
    pointer: &str,
    value: &mut Value,
) -> Result<(), RuleFault> {
    let inside = |step: String| format!("{pointer}/{step}");
    match value {
        Value::String(id) => {
            let found = register.get(id);
            let source = found.map_err(|why| RuleFault::new(file, pointer, why.to_string()))?;
            *value = json!({ "id": source.id, "kind": source.kind });
            Ok(())
        }
        Value::Array(all) => {
            let mut all = all.iter_mut().enumerate();
            all.try_for_each(|(n, one)| look_up(register, file, &inside(n.to_string()), one))
        }
        Value::Object(all) => all
            .iter_mut()
            .try_for_each(|(part, one)| look_up(register, file, &inside(step(part)), one)),
        Value::Null | Value::Bool(_) | Value::Number(_) => {
            Err(RuleFault::new(file, pointer, "the id of a source is wanted"))
        }
    }
}
