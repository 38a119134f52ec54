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

use etui_schema::kinds::loaded;
use std::collections::BTreeMap;
use std::sync::Arc;

pub use etui_schema::packs::SourceRead;
pub use etui_schema::service::Basis;
use etui_schema::vocabulary::{EvidenceKind, Language};
use serde::Deserialize;

use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};
use crate::text;

/// Id of the source that stands for a habit of the trade.
pub const COMMON_PRACTICE: &str = "common-practice";
/// Id of the source that stands for our own modelling assumption.
pub const MODEL: &str = "etui-model";

/// One source.
#[loaded(PartialEq, Eq)]
pub struct Source {
    /// Short stable id, lower case with hyphens.
    pub id: Arc<str>,
    /// The citation, for people.
    pub cite: String,
    /// What kind of thing it is.
    pub kind: EvidenceKind,
    /// How it was read.
    pub read: SourceRead,
}

/// A pointer into nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("source `{id}` is not registered")]
pub struct UnknownSource {
    /// The id.
    pub id: String,
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
const FILES: &[RuleFile] = &[
    rule_file!("sources/general.toml"),
    rule_file!("sources/labels.toml"),
    rule_file!("sources/needles.toml"),
    rule_file!("sources/selection.toml"),
    rule_file!("sources/screening.toml"),
    rule_file!("sources/aftercare.toml"),
    rule_file!("sources/hand.toml"),
    rule_file!("sources/training.toml"),
];

impl Register {
    /// The register compiled into this build.
    ///
    /// The same source may stand in two files if it is the same to the letter.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is unreadable or one id has two contents.
    pub fn builtin() -> Result<Self, RuleFault> {
        let mut register = Self::default();
        for file in FILES {
            let SourceFile { source } = rules::plain(*file)?;
            for (at, source) in source.into_iter().enumerate() {
                let known = register.by_id.entry(source.id.clone()).or_insert(source.clone());
                let why = format!("`{}` is registered twice with different content", source.id);
                RuleFault::unless(*known == source, file.name, format!("/source/{at}"), why)?;
            }
        }
        Ok(register)
    }

    /// Looks a source up.
    ///
    /// # Errors
    /// [`UnknownSource`] if there is none of that id.
    pub fn get(&self, id: &str) -> Result<&Source, UnknownSource> {
        self.by_id.get(id).ok_or_else(|| UnknownSource { id: id.to_owned() })
    }

    /// The origin of a value with this source.
    ///
    /// # Errors
    /// [`UnknownSource`] if there is none of that id.
    pub fn origin(&self, id: &str) -> Result<Origin, UnknownSource> {
        self.get(id).map(|source| Origin::new(source.id.clone(), source.kind))
    }

    /// Every source in the order of their ids.
    pub fn iter(&self) -> impl Iterator<Item = &Source> {
        self.by_id.values()
    }
}

/// How far the trade agrees: a count (`3`, `11/14`), or a word for it out of
/// `rules/texts/common.*.toml`.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(try_from = "String")]
pub(crate) enum Agreement {
    Count(Arc<str>),
    Word(String),
}

impl TryFrom<String> for Agreement {
    type Error = String;

    fn try_from(text: String) -> Result<Self, Self::Error> {
        let number = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        if text.split('/').all(number) && text.split('/').count() <= 2 {
            return Ok(Self::Count(text.into()));
        }
        let key = format!("agreement.{text}");
        match text::word(Language::En, &key) {
            Some(_) => Ok(Self::Word(key)),
            None => {
                Err(format!("`{text}` is no count such as `3` or `11/14`, and no word for one"))
            }
        }
    }
}

impl Agreement {
    /// The same for people.
    pub(crate) fn in_words(&self, language: Language) -> Arc<str> {
        match self {
            Self::Count(count) => Arc::clone(count),
            Self::Word(key) => text::word(language, key).unwrap_or_default().into(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_register_loads_and_knows_its_two_stand_ins() {
        let register = Register::builtin().unwrap();
        assert_eq!(register.get(COMMON_PRACTICE).unwrap().kind, EvidenceKind::CommonPractice);
        assert_eq!(register.get(MODEL).unwrap().kind, EvidenceKind::Model);
        assert!(register.get("nobody").is_err());
    }

    #[test]
    fn the_trade_agrees_by_a_count_or_a_known_word() {
        let read = |text: &str| Agreement::try_from(text.to_owned());
        for (text, en, de) in
            [("3", "3", "3"), ("11/14", "11/14", "11/14"), ("most", "most", "die meisten")]
        {
            let read = read(text).unwrap();
            assert_eq!((&*read.in_words(Language::En), &*read.in_words(Language::De)), (en, de));
        }
        for text in ["", "3 pages", "1/2/3", "/3", "nobody"] {
            assert!(read(text).is_err(), "{text}");
        }
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
