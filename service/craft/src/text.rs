//! Texts for people, behind keys, one file a language.
//!
//! `rules/texts/<area>.<language>.toml` maps a key to a sentence. A sentence
//! may hold places such as `{days}`, filled by [`Catalogue::fill`]. Where the
//! place `{n}` is filled with 1, the sentence under `<key>.one` speaks instead,
//! if there is one: no language here needs more than one and many. English is
//! the reference: a language file with a missing or a surplus key, or with
//! other places than the English sentence, is refused when it is loaded.
//!
//! German says Sie. What a client reads can be said with du as well: an overlay
//! `<area>.de-du.toml` holds the sentences that then sound otherwise and no
//! others ([`Catalogue::with_du`]), and a studio chooses ([`Address`]).
//!
//! A language is its files, `rules/texts/<area>.<language>.toml` and what is of it
//! and no sentence, `rules/languages/<language>.toml` (`tongue.rs`), and a line in the
//! table of [`Language`]. No code names a language but English, the reference, and
//! German for its du; a test of this module holds that, and its others say what the
//! files of a language lack, also before it has its line.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use etui_schema::packs::PackText;
use etui_schema::vocabulary::{Address, Language};
use jiff::civil::Date;

use crate::rules::{self, RuleFault, RuleFile};

#[cfg(test)]
pub(crate) mod tests;
mod tongue;

pub(crate) use tongue::{Plain, tongue};

/// Sentences by key.
type Texts = BTreeMap<String, String>;

/// The texts of one area of the trade in every language.
#[derive(Debug, Clone, Default)]
pub struct Catalogue {
    /// In the order of [`Language::ALL`].
    languages: Vec<Texts>,
    /// What German says otherwise to whom it says du.
    du: Texts,
}

/// The files of an area, one a language, in the order of [`Language::ALL`].
macro_rules! text_files {
    ($area:literal) => {
        etui_schema::each_language!([$crate::text::files_of] concat!("texts/", $area, "."))
    };
}
pub(crate) use text_files;

/// The files of some languages, whose names begin alike.
macro_rules! files_of {
    (($begin:expr) $($name:ident $tag:literal $member:ident,)+) => {
        [$($crate::rules::rule_file!(concat!($begin, $tag, ".toml"))),+]
    };
}
pub(crate) use files_of;

/// The catalogue of an area, with keys that it must have: those that code puts together. What code
/// says by the whole key, a test of this module looks up.
macro_rules! texts {
    ($area:literal, $keys:expr) => {
        $crate::text::Catalogue::read(&$crate::text::text_files!($area)).and_then(|texts| {
            texts.require(concat!("texts/", $area, ".en.toml"), $keys)?;
            Ok(texts)
        })
    };
}
pub(crate) use texts;

/// The sentences of an area that sound otherwise with du.
macro_rules! du_file {
    ($area:literal) => {
        $crate::rules::rule_file!(concat!("texts/", $area, ".de-du.toml"))
    };
}
pub(crate) use du_file;

/// What every area says alike: days, numbers, lists.
static COMMON: LazyLock<Catalogue> =
    LazyLock::new(|| texts!("common", [] as [&str; 0]).unwrap_or_default());

impl Catalogue {
    /// Reads the file of each language, English first, and holds them against
    /// it.
    ///
    /// # Errors
    /// [`RuleFault`] if a file is unreadable or missing, or a key or a place
    /// differs.
    pub(crate) fn read(files: &[RuleFile]) -> Result<Self, RuleFault> {
        let mut catalogue = Self::default();
        for (at, language) in Language::ALL.iter().enumerate() {
            let file = files.get(at).ok_or_else(|| no_file("texts", *language))?;
            let texts: Texts = rules::plain(*file)?;
            if let Some(english) = catalogue.languages.first()
                && let Some(fault) = lacks(english, &texts, file.name).into_iter().next()
            {
                return Err(fault);
            }
            catalogue.languages.push(texts);
        }
        Ok(catalogue)
    }

    /// With the German sentences of a file, for clients to whom the studio says du.
    ///
    /// # Errors
    /// [`RuleFault`] if a sentence of it is unknown, is what it is with Sie, or
    /// has other places.
    pub(crate) fn with_du(mut self, file: RuleFile) -> Result<Self, RuleFault> {
        let du: Texts = rules::plain(file)?;
        let german = self.texts(Language::De);
        for (key, text) in &du {
            let why = match german.and_then(|texts| texts.get(key)) {
                None => "is unknown to German",
                Some(sie) if sie == text => "is the same with Sie: leave it out",
                Some(sie) if places(sie) != places(text) => "is filled in other places",
                Some(_) => continue,
            };
            return Err(RuleFault::new(file.name, format!("/{key}"), why));
        }
        self.du = du;
        Ok(self)
    }

    /// These texts in a studio's form of address. There is no way back.
    pub(crate) fn speak(&mut self, address: Address) {
        let german = self.languages.get_mut(Language::De as usize);
        match (address, german) {
            (Address::Du, Some(german)) => german.append(&mut self.du),
            (Address::Sie | Address::Du, _) => {}
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

    /// Adds a pack's text under a new key. A language without a text of its own speaks
    /// English.
    pub(crate) fn add(&mut self, key: &str, text: &PackText) {
        for (language, texts) in Language::ALL.iter().zip(&mut self.languages) {
            let own = text.said().find(|(of, _)| of == language).map(|(_, own)| own);
            texts.insert(key.to_owned(), own.unwrap_or(&text.en).to_owned());
        }
    }

    fn texts(&self, language: Language) -> Option<&Texts> {
        self.languages.get(language as usize)
    }

    /// Whether there is a text under this key.
    #[must_use]
    pub fn has(&self, key: &str) -> bool {
        self.texts(Language::En).is_some_and(|texts| texts.contains_key(key))
    }

    /// Every key, in order.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.texts(Language::En).into_iter().flat_map(|texts| texts.keys().map(String::as_str))
    }

    /// The sentence under a key; the key itself if there is none, so that a
    /// missing text is visible and harmless. Loaders and tests refuse unknown keys
    /// before it can come to that.
    #[must_use]
    pub fn get<'a>(&'a self, language: Language, key: &'a str) -> &'a str {
        self.find(language, key).unwrap_or(key)
    }

    /// The sentence under a key, if there is one.
    #[must_use]
    pub fn find(&self, language: Language, key: &str) -> Option<&str> {
        self.texts(language)?.get(key).map(String::as_str)
    }

    /// The sentence with its places filled as [`fill`] fills them, for one or for
    /// many.
    #[must_use]
    pub fn fill(&self, language: Language, key: &str, values: &[(&str, &str)]) -> String {
        let one = values.contains(&("n", "1"));
        let single = one.then(|| format!("{key}.one")).filter(|single| self.has(single));
        fill(self.get(language, single.as_deref().unwrap_or(key)), values)
    }

    /// These texts in one language.
    #[must_use]
    pub const fn voice(&self, language: Language) -> Voice<'_> {
        Voice { texts: self, language }
    }
}

fn no_file(folder: &str, language: Language) -> RuleFault {
    RuleFault::new(folder, "", format!("there is no file for `{language}`"))
}

/// What the texts of a language lack against the English ones.
fn lacks(english: &Texts, texts: &Texts, file: &str) -> Vec<RuleFault> {
    let fault = |key: &String, why| RuleFault::new(file, format!("/{key}"), why);
    let of = |(key, en): (&String, &String)| match texts.get(key) {
        None => Some(fault(key, "is missing")),
        Some(text) if places(en) != places(text) => {
            Some(fault(key, "is filled in other places than the English sentence"))
        }
        Some(_) => None,
    };
    let surplus = texts.keys().filter(|key| !english.contains_key(*key));
    english
        .iter()
        .filter_map(of)
        .chain(surplus.map(|key| fault(key, "is unknown to English")))
        .collect()
}

/// A catalogue in one language.
#[derive(Debug, Clone, Copy)]
pub struct Voice<'a> {
    texts: &'a Catalogue,
    language: Language,
}

impl<'a> Voice<'a> {
    /// The language.
    #[must_use]
    pub const fn language(self) -> Language {
        self.language
    }

    /// As [`Catalogue::get`].
    #[must_use]
    pub fn get(self, key: &'a str) -> &'a str {
        self.texts.get(self.language, key)
    }

    /// As [`Catalogue::fill`].
    #[must_use]
    pub fn fill(self, key: &str, values: &[(&str, &str)]) -> String {
        self.texts.fill(self.language, key, values)
    }

    /// As [`number`].
    #[must_use]
    pub fn number(self, plain: &str) -> String {
        number(self.language, plain)
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

/// A day in words: `14 March 2027`, `14. März 2027`.
#[must_use]
pub fn day(language: Language, day: Date) -> String {
    let month = format!("month.{}", day.month());
    let values = [
        ("day", &*day.day().to_string()),
        ("month", COMMON.get(language, &month)),
        ("year", &day.year().to_string()),
    ];
    COMMON.fill(language, "day", &values)
}

/// A number with the decimal sign of the language.
#[must_use]
pub fn number(language: Language, plain: &str) -> String {
    plain.replace('.', COMMON.get(language, "decimal"))
}

/// A text with a capital before it.
pub(crate) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

/// The sentences of a text; a point behind a digit, as in `4. April`, ends none.
pub(crate) fn sentences(text: &str) -> impl Iterator<Item = &str> {
    let mut rest = text;
    std::iter::from_fn(move || {
        let ends = rest.match_indices(['.', '?', '!']).map(|(at, end)| (at, at + end.len()));
        let mut ends =
            ends.filter_map(|(at, after)| Some((after, rest.get(..at)?, rest.get(at..)?)));
        let is_end = |before: &str, from: &str| {
            let (stop, more) = from.split_at(1);
            let is_within = stop == "." && before.ends_with(|c: char| c.is_ascii_digit());
            more.starts_with(' ') && !is_within
        };
        let end = ends.find(|(_, before, from)| is_end(before, from));
        let (sentence, left) = end.map_or((rest, ""), |(after, _, _)| rest.split_at(after));
        rest = left.trim_start();
        (!sentence.is_empty()).then_some(sentence)
    })
}

/// Words in a row: `fine, dry and mature`.
#[must_use]
pub fn list(language: Language, words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [only] => (*only).to_owned(),
        [most @ .., last] => {
            let most = most.join(COMMON.get(language, "list.between"));
            format!("{most}{}{last}", COMMON.get(language, "list.last"))
        }
    }
}

/// A word that every area says alike.
pub(crate) fn word(language: Language, key: &str) -> Option<&'static str> {
    COMMON.texts(language)?.get(key).map(String::as_str)
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
