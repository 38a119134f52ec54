//! Answers to the screening questions, by question id.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::collections::BTreeMap;
use std::fmt;

use serde::de::{self, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// Most answers one body may carry.
pub const MOST_ANSWERS: usize = 300;
/// Longest text of one answer, in characters.
pub const LONGEST_TEXT: usize = 200;

/// One answer. Which kind a question takes is told by
/// `GET /v1/screening-questions`.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Yes (`true`) or no (`false`).
    YesNo(bool),
    /// A number.
    Number(f64),
    /// One choice, or a date `YYYY-MM-DD`.
    Text(String),
    /// Several choices.
    Choices(Vec<String>),
}

/// Answers by question id.
pub type Answers = BTreeMap<String, Answer>;

impl Serialize for Answer {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::YesNo(yes) => serializer.serialize_bool(*yes),
            Self::Number(number) => serializer.serialize_f64(*number),
            Self::Text(text) => serializer.serialize_str(text),
            Self::Choices(all) => all.serialize(serializer),
        }
    }
}

struct AnswerVisitor;

impl<'de> Visitor<'de> for AnswerVisitor {
    type Value = Answer;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("true or false, a number, a text of at most 200 characters or a list of texts")
    }

    fn visit_bool<E: de::Error>(self, yes: bool) -> Result<Answer, E> {
        Ok(Answer::YesNo(yes))
    }

    fn visit_i64<E: de::Error>(self, number: i64) -> Result<Answer, E> {
        self.visit_f64(number as f64)
    }

    fn visit_u64<E: de::Error>(self, number: u64) -> Result<Answer, E> {
        self.visit_f64(number as f64)
    }

    fn visit_f64<E: de::Error>(self, number: f64) -> Result<Answer, E> {
        Ok(Answer::Number(number))
    }

    fn visit_str<E: de::Error>(self, text: &str) -> Result<Answer, E> {
        if LONGEST_TEXT < text.chars().count() {
            return Err(E::custom("a text of at most 200 characters is wanted"));
        }
        Ok(Answer::Text(text.to_owned()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<Answer, A::Error> {
        let mut all = Vec::new();
        while let Some(item) = items.next_element::<String>()? {
            if 100 <= all.len() || LONGEST_TEXT < item.chars().count() {
                return Err(de::Error::custom(
                    "at most 100 texts of at most 200 characters are wanted",
                ));
            }
            all.push(item);
        }
        Ok(Answer::Choices(all))
    }
}

impl<'de> Deserialize<'de> for Answer {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(AnswerVisitor)
    }
}

#[cfg(feature = "describe")]
impl JsonSchema for Answer {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Answer".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "One answer: yes or no, a number, one choice or a date as text, or several choices.",
            "anyOf": [
                { "type": "boolean" },
                { "type": "number" },
                { "type": "string", "maxLength": LONGEST_TEXT },
                { "type": "array", "maxItems": 100, "items": { "type": "string", "maxLength": LONGEST_TEXT } }
            ]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_keep_their_kind() {
        for text in ["true", "37.5", "\"never\"", "[\"latex\",\"nickel\"]"] {
            let answer: Answer = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&answer).unwrap(), text);
        }
        for bad in ["null", "{}", "[1]", "[[]]"] {
            assert!(serde_json::from_str::<Answer>(bad).is_err(), "{bad}");
        }
    }
}
