//! The register of sources: a rule or constant without a birth certificate
//! does not exist.
//!
//! `rules/sources/*.toml` lists every source with its citation, its kind and
//! how it was read. Rule data points into the register *per field*: the
//! condition of a rule may be sourced while its number of days is common
//! practice. Two sources stand for the absence of one: [`COMMON_PRACTICE`]
//! (a habit of the trade, nothing published) and [`MODEL`] (our own named,
//! changeable assumption).
//!
//! ```toml
//! [[source]]
//! id = "romgens-2014"
//! cite = "Römgens et al. 2014, J Mech Behav Biomed Mater, doi 10.1016/j.jmbbm.2014.09.015"
//! kind = "study"
//! read = "abstract"
//! ```

use std::collections::BTreeMap;
use std::sync::Arc;

use etui_schema::vocabulary::EvidenceKind;
use serde::Deserialize;

/// Id of the source that stands for a habit of the trade.
pub const COMMON_PRACTICE: &str = "common-practice";
/// Id of the source that stands for our own modelling assumption.
pub const MODEL: &str = "etui-model";

/// How much of a source was read before it was entered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadAs {
    /// The whole text.
    Whole,
    /// A page or the opening of one.
    Page,
    /// The abstract.
    Abstract,
    /// A table or a data set, recomputed here.
    Data,
    /// Only through another page that quotes it.
    SecondHand,
    /// Only that it exists.
    Title,
    /// Not a document: practice or assumption.
    None,
}

impl ReadAs {
    /// The word used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Whole => "whole",
            Self::Page => "page",
            Self::Abstract => "abstract",
            Self::Data => "data",
            Self::SecondHand => "second_hand",
            Self::Title => "title",
            Self::None => "none",
        }
    }
}

/// One source.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Source {
    /// Short stable id, lower case with hyphens.
    pub id: Arc<str>,
    /// The citation, for people.
    pub cite: String,
    /// What kind of thing it is.
    pub kind: EvidenceKind,
    /// How it was read.
    pub read: ReadAs,
}

/// Why the register was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EvidenceError {
    /// The data is not readable.
    #[error("sources `{file}`: {why}")]
    Unreadable {
        /// Which file.
        file: &'static str,
        /// What the reader said.
        why: String,
    },
    /// Two different sources under one id.
    #[error("source `{id}` is registered twice with different content")]
    Twice {
        /// The id.
        id: String,
    },
    /// A pointer into nothing.
    #[error("source `{id}` is not registered")]
    Unknown {
        /// The id.
        id: String,
    },
}

/// Every source, by id.
#[derive(Debug, Clone, Default)]
pub struct Register {
    by_id: BTreeMap<Arc<str>, Source>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SourceFile {
    source: Vec<Source>,
}

/// The files of the register, one an area of the trade.
const FILES: &[(&str, &str)] = &[
    ("general", include_str!("../rules/sources/general.toml")),
    ("labels", include_str!("../rules/sources/labels.toml")),
    ("needles", include_str!("../rules/sources/needles.toml")),
    ("selection", include_str!("../rules/sources/selection.toml")),
    ("screening", include_str!("../rules/sources/screening.toml")),
    ("aftercare", include_str!("../rules/sources/aftercare.toml")),
    ("hand", include_str!("../rules/sources/hand.toml")),
];

impl Register {
    /// The register compiled into this build.
    ///
    /// The same source may stand in two files if it is the same to the letter.
    ///
    /// # Errors
    /// [`EvidenceError`] if a file is unreadable or one id has two contents.
    pub fn builtin() -> Result<Self, EvidenceError> {
        let mut register = Self::default();
        for (file, text) in FILES {
            register.read(file, text)?;
        }
        Ok(register)
    }

    fn read(&mut self, file: &'static str, text: &str) -> Result<(), EvidenceError> {
        let parsed: SourceFile = toml::from_str(text)
            .map_err(|e| EvidenceError::Unreadable { file, why: e.to_string() })?;
        for source in parsed.source {
            match self.by_id.get(&source.id) {
                Some(known) if *known == source => {}
                Some(_) => return Err(EvidenceError::Twice { id: source.id.to_string() }),
                None => {
                    self.by_id.insert(source.id.clone(), source);
                }
            }
        }
        Ok(())
    }

    /// Looks a source up.
    ///
    /// # Errors
    /// [`EvidenceError::Unknown`] if there is none of that id.
    pub fn get(&self, id: &str) -> Result<&Source, EvidenceError> {
        self.by_id.get(id).ok_or_else(|| EvidenceError::Unknown { id: id.to_owned() })
    }

    /// Every source in the order of their ids.
    pub fn iter(&self) -> impl Iterator<Item = &Source> {
        self.by_id.values()
    }

    /// The basis of one value: what it is about and where it came from.
    ///
    /// # Errors
    /// [`EvidenceError::Unknown`] if the source is not registered.
    pub fn basis(&self, about: impl Into<Arc<str>>, id: &str) -> Result<Basis, EvidenceError> {
        let source = self.get(id)?;
        Ok(Basis { about: about.into(), source: source.id.clone(), kind: source.kind })
    }
}

/// Where one value of an answer came from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Basis {
    /// What the value is, in a few words.
    pub about: Arc<str>,
    /// Id in the register.
    pub source: Arc<str>,
    /// The kind of that source.
    pub kind: EvidenceKind,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_register_loads_and_knows_its_two_stand_ins() {
        let register = Register::builtin().unwrap();
        assert_eq!(register.get(COMMON_PRACTICE).unwrap().kind, EvidenceKind::CommonPractice);
        assert_eq!(register.get(MODEL).unwrap().kind, EvidenceKind::Model);
        assert!(matches!(register.get("nobody"), Err(EvidenceError::Unknown { .. })));
    }

    #[test]
    fn ids_are_lower_case_words_and_citations_are_not_empty() {
        for source in Register::builtin().unwrap().iter() {
            assert!(
                source
                    .id
                    .bytes()
                    .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'),
                "{}",
                source.id
            );
            assert!(10 < source.cite.len(), "{}", source.id);
        }
    }
}
