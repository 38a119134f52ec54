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
use jiff::civil::Date;

use crate::rules::{self, RuleFault, RuleFile};

/// The texts of one area of the trade in every language.
#[derive(Debug, Clone, Default)]
pub struct Catalogue {
    en: BTreeMap<String, String>,
    de: BTreeMap<String, String>,
}

/// The catalogue of an area, with the keys that it must have.
macro_rules! texts {
    ($area:literal, $keys:expr) => {
        $crate::text::Catalogue::read(
            $crate::rules::rule_file!(concat!("texts/", $area, ".en.toml")),
            $crate::rules::rule_file!(concat!("texts/", $area, ".de.toml")),
        )
        .and_then(|texts| {
            texts.require(concat!("texts/", $area, ".en.toml"), $keys)?;
            Ok(texts)
        })
    };
}
pub(crate) use texts;

impl Catalogue {
    /// Reads both languages and holds them against each other.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is unreadable, or a key or a place differs.
    pub(crate) fn read(en: RuleFile, de: RuleFile) -> Result<Self, RuleFault> {
        let catalogue = Self { en: rules::plain(en)?, de: rules::plain(de)? };
        let fault = |key: &str, why| Err(RuleFault::new(de.name, format!("/{key}"), why));
        for (key, en) in &catalogue.en {
            match catalogue.de.get(key) {
                None => return fault(key, "is missing"),
                Some(de) if places(en) != places(de) => {
                    return fault(key, "is filled in other places than the English sentence");
                }
                Some(_) => {}
            }
        }
        match catalogue.de.keys().find(|key| !catalogue.en.contains_key(*key)) {
            Some(key) => fault(key, "is unknown to English"),
            None => Ok(catalogue),
        }
    }

    /// Requires texts under some keys that the file `named` names or that code
    /// says.
    ///
    /// # Errors
    /// [`RuleFault`] for the first key without a text.
    pub(crate) fn require<K: AsRef<str>>(
        &self,
        named: &str,
        keys: impl IntoIterator<Item = K>,
    ) -> Result<(), RuleFault> {
        keys.into_iter().try_for_each(|key| {
            let key = key.as_ref();
            let why = format!("there is no text under `{key}`");
            RuleFault::unless(self.has(key), named, "", why)
        })
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

    /// The sentence with its places filled as [`fill`] fills them, for one or for
    /// many.
    #[must_use]
    pub fn fill(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        let one = values.contains(&("n", "1"));
        let single = one.then(|| format!("{key}.one")).filter(|single| self.has(single));
        fill(self.get(language, single.as_deref().unwrap_or(key)), values)
    }
}

/// A sentence with its places filled. A place without a value stays as it is
/// written; a value is never searched for places of its own.
#[must_use]
pub fn fill(sentence: &str, values: &[(&str, &str)]) -> String {
    let mut rest = sentence;
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

const MONTHS_DE: [&str; 12] = [
    "Januar",
    "Februar",
    "März",
    "April",
    "Mai",
    "Juni",
    "Juli",
    "August",
    "September",
    "Oktober",
    "November",
    "Dezember",
];

/// A day in words: `14 March 2027`, `14. März 2027`.
#[must_use]
pub fn day(language: Language, day: Date) -> String {
    match language {
        Language::En => day.strftime("%-d %B %Y").to_string(),
        Language::De => {
            let month = usize::try_from(day.month() - 1).ok().and_then(|at| MONTHS_DE.get(at));
            format!("{}. {} {}", day.day(), month.unwrap_or(&""), day.year())
        }
    }
}

/// A number with the decimal sign of the language.
#[must_use]
pub fn number(language: Language, plain: &str) -> String {
    match language {
        Language::En => plain.to_owned(),
        Language::De => plain.replace('.', ","),
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

    fn read(en: &'static str, de: &'static str) -> Result<Catalogue, RuleFault> {
        let [en, de] = [("en", en), ("de", de)].map(|(name, text)| RuleFile { name, text });
        Catalogue::read(en, de)
    }

    #[test]
    fn a_language_must_say_everything_and_nothing_more() {
        let en = "a = \"Wait {days} days.\"";
        assert!(read(en, "a = \"Bitte {days} Tage warten.\"").is_ok());
        for (de, why) in [
            ("", "missing"),
            ("a = \"Warten.\"", "other places"),
            ("a = \"{days}\"\nb = \"x\"", "unknown"),
        ] {
            let fault = read(en, de).unwrap_err().to_string();
            assert!(fault.contains(why), "{fault}");
        }
    }

    #[test]
    fn places_are_filled() {
        let texts = read("a = \"Wait {days} days.\"", "a = \"{days} Tage warten.\"").unwrap();
        assert_eq!(texts.fill(Language::De, "a", &[("days", "14")]), "14 Tage warten.");
        assert_eq!(texts.get(Language::En, "nothing"), "nothing");
        let (en, de) = (
            "a = \"{n} days\"\n\"a.one\" = \"{n} day\"",
            "a = \"{n} Tage\"\n\"a.one\" = \"{n} Tag\"",
        );
        let texts = read(en, de).unwrap();
        for (n, want) in [("0", "0 Tage"), ("1", "1 Tag"), ("11", "11 Tage")] {
            assert_eq!(texts.fill(Language::De, "a", &[("n", n)]), want);
        }
        let texts = read("a = \"{b} {c} {\"", "a = \"{b} {c} {\"").unwrap();
        assert_eq!(texts.fill(Language::En, "a", &[("b", "{c}")]), "{c} {c} {");
    }
}
