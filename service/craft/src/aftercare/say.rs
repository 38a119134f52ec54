//! A text behind a key, with what goes into its places.

use std::sync::Arc;

use etui_schema::vocabulary::Language;

use crate::text::{self, Catalogue};

/// What goes into a place of a text.
#[derive(Debug, Clone, PartialEq)]
pub enum Value {
    /// A whole number.
    Number(i32),
    /// A number with one decimal.
    Decimal(f64),
    /// A day, written as the language writes it.
    Date(jiff::civil::Date),
    /// A time of the day.
    Time(jiff::civil::Time),
    /// Words of another text, already in the language of the answer, or of
    /// the studio.
    Words(Words),
    /// Whole sentences, one after the other.
    Said(Vec<Say>),
}

/// Words that stand in a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Words {
    /// Another text of the catalogue.
    Key(Arc<str>),
    /// The studio's own words, as they are.
    Own(Arc<str>),
    /// Numbers of which one is enough.
    AnyOf(Vec<Arc<str>>),
    /// Words that always stand, and the studio's own beside them.
    Beside(Box<Self>, Arc<str>),
}

/// One thing said: the key of a text and the values of its places.
#[derive(Debug, Clone, PartialEq)]
pub struct Say {
    /// Key in the catalogue of aftercare.
    pub key: Arc<str>,
    /// Values by the name of their place.
    pub places: Vec<(&'static str, Value)>,
}

impl Say {
    /// A text without places.
    pub(crate) fn plain(key: &str) -> Self {
        Self { key: key.into(), places: Vec::new() }
    }

    /// The same with one more place filled.
    pub(crate) fn with(mut self, place: &'static str, value: Value) -> Self {
        self.places.push((place, value));
        self
    }

    /// The same with places left open that say whom to call: it can change until somebody reads
    /// the sentence ([`Plans::calling`](super::Plans::calling)). `None` if it says nobody.
    #[must_use]
    pub fn open(&self) -> Option<Self> {
        let mut open = self.clone();
        let mut says_any = false;
        for (place, value) in &mut open.places {
            if let Value::Words(words) = value {
                *words = Words::Own(format!("{{{place}}}").into());
                says_any = true;
            }
        }
        says_any.then_some(open)
    }

    /// The sentence in a language.
    #[must_use]
    pub fn in_language(&self, texts: &Catalogue, language: Language) -> String {
        let values: Vec<(&str, String)> = self
            .places
            .iter()
            .map(|(place, value)| (*place, write(value, texts, language)))
            .collect();
        let values: Vec<(&str, &str)> = values.iter().map(|(p, v)| (*p, v.as_str())).collect();
        let said = texts.fill(language, &self.key, &values);
        begun_where(texts.get(language, &self.key), said)
    }
}

fn write(value: &Value, texts: &Catalogue, language: Language) -> String {
    match value {
        Value::Number(number) => number.to_string(),
        Value::Decimal(number) => text::number(language, &format!("{number:.1}")),
        Value::Date(date) => text::day(language, *date),
        Value::Time(time) => format!("{:02}:{:02}", time.hour(), time.minute()),
        Value::Words(words) => call(words, texts, language),
        Value::Said(all) => {
            let said: Vec<String> =
                all.iter().map(|say| say.in_language(texts, language)).collect();
            said.join(" ")
        }
    }
}

pub(super) fn call(words: &Words, texts: &Catalogue, language: Language) -> String {
    match words {
        Words::Key(key) => texts.get(language, key).to_owned(),
        Words::Own(words) => words.to_string(),
        Words::AnyOf(all) => all.join(&format!(" {} ", texts.get(language, "or"))),
        Words::Beside(first, own) => format!("{} ({own})", call(first, texts, language)),
    }
}

/// What begins with a filled place begins with a capital all the same.
pub(super) fn begun_where(sentence: &str, said: String) -> String {
    // A part of a sentence is one place and nothing else.
    if !(sentence.starts_with('{') && sentence.contains("} ")) {
        return said;
    }
    let mut letters = said.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}
