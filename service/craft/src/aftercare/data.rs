//! What the rule files of aftercare have in common: values with an origin,
//! ranges, and the one error their loaders share.

use std::sync::Arc;

use etui_schema::vocabulary::EvidenceKind;
use serde::{Deserialize, Deserializer};

use crate::evidence::{Basis, EvidenceError, Register};
use crate::text::{Catalogue, TextError};

/// Why the rule data of aftercare was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LoadError {
    /// A file is not readable.
    #[error("aftercare rules `{file}`: {why}")]
    Unreadable {
        /// Which file.
        file: &'static str,
        /// What the reader said.
        why: String,
    },
    /// A row contradicts itself or another row.
    #[error("aftercare rules `{file}`, row `{key}`: {fault}")]
    Row {
        /// Which file.
        file: &'static str,
        /// Key of the row.
        key: String,
        /// What is wrong with it.
        fault: &'static str,
    },
    /// A row points to a source that is not registered.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// A text is missing or differs between the languages.
    #[error(transparent)]
    Text(#[from] TextError),
}

/// The source of one value.
///
/// The file names the id alone; [`Origin::settle`] looks the kind up while the
/// rules are loaded, and an unknown id stops the loading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Origin {
    id: Arc<str>,
    kind: EvidenceKind,
}

impl<'de> Deserialize<'de> for Origin {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(Self { id: Arc::deserialize(deserializer)?, kind: EvidenceKind::Memory })
    }
}

impl Origin {
    /// Looks the kind up.
    ///
    /// # Errors
    /// [`EvidenceError::Unknown`] if the source is not registered.
    pub(crate) fn settle(&mut self, register: &Register) -> Result<(), EvidenceError> {
        self.kind = register.get(&self.id)?.kind;
        Ok(())
    }

    /// The basis of a value with this origin.
    pub(crate) fn basis(&self, about: &str) -> Basis {
        Basis { about: about.into(), source: self.id.clone(), kind: self.kind }
    }
}

/// Rows whose origins are looked up after reading.
pub(crate) trait Sourced {
    /// Every origin of the row.
    fn origins(&mut self) -> Vec<&mut Origin>;
}

/// Looks up every origin of every row.
///
/// # Errors
/// [`EvidenceError::Unknown`] for the first source that is not registered.
pub(crate) fn settle<'a, T: Sourced + 'a>(
    rows: impl IntoIterator<Item = &'a mut T>,
    register: &Register,
) -> Result<(), EvidenceError> {
    for row in rows {
        for origin in row.origins() {
            origin.settle(register)?;
        }
    }
    Ok(())
}

/// A value with what it may be set to.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Parameter<T> {
    pub(crate) value: T,
    #[serde(default)]
    pub(crate) least: Option<T>,
    #[serde(default)]
    pub(crate) most: Option<T>,
    pub(crate) source: Origin,
}

impl<T: PartialOrd> Parameter<T> {
    /// Whether the value lies in its own range.
    pub(crate) fn in_range(&self) -> bool {
        self.least.as_ref().is_none_or(|least| *least <= self.value)
            && self.most.as_ref().is_none_or(|most| self.value <= *most)
    }
}

/// A value known as a range.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Span<T> {
    pub(crate) least: T,
    pub(crate) most: T,
    pub(crate) source: Origin,
}

/// Reads one rule file.
///
/// # Errors
/// [`LoadError::Unreadable`].
pub(crate) fn read<T: serde::de::DeserializeOwned>(
    file: &'static str,
    text: &str,
) -> Result<T, LoadError> {
    toml::from_str(text).map_err(|e| LoadError::Unreadable { file, why: e.to_string() })
}

/// Requires a text under a key.
///
/// # Errors
/// [`TextError::Unknown`] if there is none.
pub(crate) fn require_text(texts: &Catalogue, key: &str) -> Result<(), LoadError> {
    if texts.has(key) {
        return Ok(());
    }
    Err(LoadError::Text(TextError::Unknown { key: key.to_owned() }))
}

/// The texts of aftercare in every language.
///
/// # Errors
/// [`TextError`] if the languages do not say the same things.
pub(crate) fn texts() -> Result<Catalogue, TextError> {
    Catalogue::read(
        include_str!("../../rules/texts/aftercare.en.toml"),
        include_str!("../../rules/texts/aftercare.de.toml"),
    )
}
