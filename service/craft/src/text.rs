//! Texts for people, behind keys, one file a language.
//!
//! `rules/texts/<area>.<language>.toml` maps a key to a sentence. A sentence
//! may hold places such as `{days}`, filled by [`Catalogue::fill`]. Where the
//! place `{n}` is filled with 1, the sentence under `<key>.one` speaks instead,
//! if there is one: both languages need no more than one and many. English is
//! the reference: a language file with a missing or a surplus key, or with
//! other places than the English sentence, is refused when it is loaded.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::vocabulary::Language;

/// Why a catalogue was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TextError {
    /// The file is not readable.
    #[error("texts in `{language}`: {why}")]
    Unreadable {
        /// Which language.
        language: Language,
        /// What the reader said.
        why: String,
    },
    /// A key is missing or surplus in a language.
    #[error("texts in `{language}`: key `{key}` is {fault}")]
    Key {
        /// Which language.
        language: Language,
        /// The key.
        key: String,
        /// What is wrong with it.
        fault: &'static str,
    },
    /// A rule names a text that does not exist.
    #[error("there is no text under `{key}`")]
    Unknown {
        /// The key.
        key: String,
    },
}

/// The texts of one area of the trade in every language.
#[derive(Debug, Clone, Default)]
pub struct Catalogue {
    en: BTreeMap<String, String>,
    de: BTreeMap<String, String>,
}

impl Catalogue {
    /// Reads both languages and holds them against each other.
    ///
    /// # Errors
    /// [`TextError`] if a file is unreadable, or a key or a place differs.
    pub fn read(en: &str, de: &str) -> Result<Self, TextError> {
        let read = |language, text: &str| {
            toml::from_str::<BTreeMap<String, String>>(text)
                .map_err(|e| TextError::Unreadable { language, why: e.to_string() })
        };
        let catalogue = Self { en: read(Language::En, en)?, de: read(Language::De, de)? };
        catalogue.check()?;
        Ok(catalogue)
    }

    fn check(&self) -> Result<(), TextError> {
        let fault = |key: &str, fault| TextError::Key {
            language: Language::De,
            key: key.to_owned(),
            fault,
        };
        for (key, en) in &self.en {
            let de = self.de.get(key).ok_or_else(|| fault(key, "missing"))?;
            if places(en) != places(de) {
                return Err(fault(key, "filled in other places than the English sentence"));
            }
        }
        match self.de.keys().find(|key| !self.en.contains_key(*key)) {
            Some(key) => Err(fault(key, "unknown to English")),
            None => Ok(()),
        }
    }

    /// Adds a text under a new key. A language without a text of its own speaks
    /// English.
    pub(crate) fn add(&mut self, key: &str, en: &str, de: Option<&str>) {
        self.en.insert(key.to_owned(), en.to_owned());
        self.de.insert(key.to_owned(), de.unwrap_or(en).to_owned());
    }

    /// Whether there is a text under this key.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.en.contains_key(key)
    }

    /// Every key, in order.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.en.keys().map(String::as_str)
    }

    /// The sentence under a key; the key itself if there is none, so that a
    /// missing text is visible and harmless. Loaders refuse unknown keys with
    /// [`Catalogue::has`] before it can come to that.
    #[must_use]
    pub fn get<'a>(&'a self, language: Language, key: &'a str) -> &'a str {
        let texts = match language {
            Language::En => &self.en,
            Language::De => &self.de,
        };
        texts.get(key).map_or(key, String::as_str)
    }

    /// The sentence with its places filled, for one or for many. A place without a value stays as
    /// it is written; a value is never searched for places of its own.
    #[must_use]
    pub fn fill(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        let one = values.iter().any(|value| *value == ("n", "1"));
        let single = one.then(|| format!("{key}.one")).filter(|single| self.has(single));
        let mut rest = self.get(language, single.as_deref().unwrap_or(key));
        if values.is_empty() {
            return rest.to_owned();
        }
        let mut sentence = String::with_capacity(rest.len() + 32);
        while let Some((before, after)) = rest.split_once('{') {
            sentence.push_str(before);
            let named = after.split_once('}').and_then(|(name, after)| {
                let (_, value) = values.iter().find(|(place, _)| *place == name)?;
                Some((*value, after))
            });
            rest = match named {
                Some((value, after)) => {
                    sentence.push_str(value);
                    after
                }
                None => {
                    sentence.push('{');
                    after
                }
            };
        }
        sentence.push_str(rest);
        sentence
    }
}

/// The names between braces.
pub(crate) fn places(sentence: &str) -> BTreeSet<&str> {
    sentence
        .split('{')
        .skip(1)
        .filter_map(|part| part.split_once('}'))
        .map(|(name, _)| name)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_language_must_say_everything_and_nothing_more() {
        let en = "a = \"Wait {days} days.\"";
        assert!(Catalogue::read(en, "a = \"Bitte {days} Tage warten.\"").is_ok());
        for (de, why) in [
            ("", "missing"),
            ("a = \"Warten.\"", "other places"),
            ("a = \"{days}\"\nb = \"x\"", "unknown"),
        ] {
            let fault = Catalogue::read(en, de).unwrap_err().to_string();
            assert!(fault.contains(why), "{fault}");
        }
    }

    #[test]
    fn places_are_filled() {
        let texts =
            Catalogue::read("a = \"Wait {days} days.\"", "a = \"{days} Tage warten.\"").unwrap();
        assert_eq!(texts.fill(Language::De, "a", &[("days", "14")]), "14 Tage warten.");
        assert_eq!(texts.get(Language::En, "nothing"), "nothing");
        let (en, de) = (
            "a = \"{n} days\"\n\"a.one\" = \"{n} day\"",
            "a = \"{n} Tage\"\n\"a.one\" = \"{n} Tag\"",
        );
        let texts = Catalogue::read(en, de).unwrap();
        for (n, want) in [("0", "0 Tage"), ("1", "1 Tag"), ("11", "11 Tage")] {
            assert_eq!(texts.fill(Language::De, "a", &[("n", n)]), want);
        }
        let texts = Catalogue::read("a = \"{b} {c} {\"", "a = \"{b} {c} {\"").unwrap();
        assert_eq!(texts.fill(Language::En, "a", &[("b", "{c}")]), "{c} {c} {");
    }
}
