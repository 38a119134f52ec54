//! Words that may become more.
//!
//! Lists of words in answers grow: a service that is newer than its client says one that the
//! client does not know. A word of a list that is only answered, and a verdict, is kept as it came
//! ([`Open::Unknown`]), and everything beside it counts.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator};
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A word of a list, or one that is newer than this build; that comes behind all words of the list.
///
/// ```
/// use etui_schema::events::EventType;
/// use etui_schema::open::Open;
/// let known: Open<EventType> = serde_json::from_str("\"lot.recalled\"").unwrap();
/// assert_eq!(known, EventType::LotRecalled);
/// let newer: Open<EventType> = serde_json::from_str("\"lot.returned\"").unwrap();
/// assert_eq!((newer.known(), newer.to_string().as_str()), (None, "lot.returned"));
/// assert_eq!(serde_json::to_string(&newer).unwrap(), "\"lot.returned\"");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Open<T> {
    /// A word of the list.
    Known(T),
    /// Another text, as it came.
    Unknown(Box<str>),
}

impl<T: Copy> Open<T> {
    /// The word, if it is of the list.
    #[must_use]
    pub fn known(&self) -> Option<T> {
        match self {
            Self::Known(word) => Some(*word),
            Self::Unknown(_) => None,
        }
    }
}

impl<T: AsRef<str>> Open<T> {
    /// The spelling used on the wire, known or not.
    #[must_use]
    pub fn as_str(&self) -> &str {
        match self {
            Self::Known(word) => word.as_ref(),
            Self::Unknown(text) => text,
        }
    }
}

impl<T> From<T> for Open<T> {
    fn from(word: T) -> Self {
        Self::Known(word)
    }
}

impl<T: PartialEq> PartialEq<T> for Open<T> {
    fn eq(&self, other: &T) -> bool {
        matches!(self, Self::Known(word) if word == other)
    }
}

impl<T: fmt::Display> fmt::Display for Open<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known(word) => word.fmt(f),
            Self::Unknown(text) => f.write_str(text),
        }
    }
}

impl<T: Serialize> Serialize for Open<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Known(word) => word.serialize(serializer),
            Self::Unknown(text) => serializer.serialize_str(text),
        }
    }
}

impl<'de, T: FromStr> Deserialize<'de> for Open<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(deserializer)?;
        Ok(text.parse().map_or_else(|_| Self::Unknown((*text).into()), Self::Known))
    }
}

#[cfg(feature = "describe")]
impl<T: JsonSchema> JsonSchema for Open<T> {
    fn schema_name() -> Cow<'static, str> {
        T::schema_name()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }
}
