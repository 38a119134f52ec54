//! Every sentence of the screening, built in or from packs, and the small
//! grammar that puts dates, periods and numbers into them.
//!
//! | key | what it is |
//! |---|---|
//! | `question.<id>.ask`, `.why` | the question, and why it is asked |
//! | `option.<question>.<option>` | the label of an option |
//! | `rule.<id>.because` | why a finding stands there |
//! | `rule.<id>.say` | what to do or to know |
//! | `rule.<id>.by` | what the client can still do in time |
//! | `rule.<id>.dated` | instead of `say`, if the day is known on which its period begins |
//! | `rule.<id>.late` | instead of `say`, if its latest day is past |
//! | `rule.<id>.stays` | what stays to be done once a wait has passed |
//! | `rule.<id>.topic` | what it is about, in a word or two; opens its lines on the list |
//! | `rule.<id>.client`, `.studio` | its line on the list, for the one or the other |
//! | `until.<id>` | the event a hold waits for |
//! | `until.<id>.dated` | the same, if a day is known too |
//! | `whom.<id>` | whom to ask |
//! | `refer.<id>` | the sentence of a referral to that person, instead of the usual one |
//!
//! Places of a rule's sentences: its values, `{due}`, `{date}` (the day that it
//! tells, or not before which it is), `{period}` and `{period_dative}`, `{whom}` and
//! `{whom_accusative}` (`whom.<id>.accusative`, where it differs).

use std::collections::BTreeMap;
use std::sync::Arc;

use etui_schema::vocabulary::Language;
use jiff::civil::Date;

use super::data::RawText;
use super::period::{Period, Unit};
use crate::text::{Catalogue, TextError};

/// The sentences in every language.
#[derive(Debug, Clone)]
pub struct Sentences {
    builtin: Arc<Catalogue>,
    packs: BTreeMap<String, RawText>,
}

impl Sentences {
    /// Reads the built-in sentences.
    ///
    /// # Errors
    /// [`TextError`] if a language is incomplete.
    pub(super) fn builtin(en: &str, de: &str) -> Result<Self, TextError> {
        Ok(Self { builtin: Arc::new(Catalogue::read(en, de)?), packs: BTreeMap::new() })
    }

    pub(super) fn add(&mut self, key: &str, text: RawText) {
        self.packs.insert(key.to_owned(), text);
    }

    /// Whether there is a sentence under this key.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.builtin.has(key) || self.packs.contains_key(key)
    }

    /// Every key: the built-in ones, then those of packs.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.builtin.keys().chain(self.packs.keys().map(String::as_str))
    }

    /// The sentence under a key; the key itself if there is none (the loader
    /// refuses that). A pack without German speaks English.
    #[must_use]
    pub fn get<'a>(&'a self, language: Language, key: &'a str) -> &'a str {
        match (self.packs.get(key), language) {
            (None, _) => self.builtin.get(language, key),
            (Some(RawText { de: Some(de), .. }), Language::De) => de,
            (Some(text), _) => &text.en,
        }
    }

    /// The sentence with its places filled.
    #[must_use]
    pub fn fill(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        let mut sentence = self.get(language, key).to_owned();
        for (place, value) in values {
            sentence = sentence.replace(&format!("{{{place}}}"), value);
        }
        sentence
    }

    /// A day in words: `14 March 2027`, `14. März 2027`.
    #[must_use]
    pub fn day(&self, language: Language, day: Date) -> String {
        let month = format!("month.{}", day.month());
        let month = self.get(language, &month);
        let values = [
            ("day", &*day.day().to_string()),
            ("month", month),
            ("year", &*day.year().to_string()),
        ];
        self.fill(language, "date.long", &values)
    }

    /// A period in words: `6 months`, `2 weeks`; in German as a subject,
    /// `6 Monate`.
    #[must_use]
    pub fn period(&self, language: Language, period: Period) -> String {
        self.period_in(language, period, "")
    }

    /// A period in words as it stands after a preposition: `6 months`, in
    /// German `6 Monaten`.
    #[must_use]
    pub fn period_dative(&self, language: Language, period: Period) -> String {
        self.period_in(language, period, ".dative")
    }

    fn period_in(&self, language: Language, period: Period, case: &str) -> String {
        let words: Vec<String> = period
            .spoken()
            .map(|(number, unit)| {
                let key = match unit {
                    Unit::Months => "period.months",
                    Unit::Weeks => "period.weeks",
                    Unit::Days => "period.days",
                };
                self.fill(language, &format!("{key}{case}"), &[("n", &number.to_string())])
            })
            .collect();
        words.join(self.get(language, "period.and"))
    }

    /// Somebody to ask, as the object of a sentence; where that is the same as
    /// the subject, there is no text of its own.
    #[must_use]
    pub fn accusative<'a>(&'a self, language: Language, whom: &'a str) -> &'a str {
        let key = format!("{whom}.accusative");
        let key = self.keys().find(|known| *known == key).unwrap_or(whom);
        self.get(language, key)
    }

    /// A number as the language writes it, with as many places as it needs.
    #[must_use]
    pub fn number(language: Language, number: f64) -> String {
        let text = number.to_string();
        match language {
            Language::En => text,
            Language::De => text.replace('.', ","),
        }
    }
}

/// The names between braces.
pub(super) fn places(sentence: &str) -> impl Iterator<Item = &str> {
    sentence.split('{').skip(1).filter_map(|part| part.split_once('}')).map(|(name, _)| name)
}
