//! Spellings that packs add to the reader, and whose labels they read.
//!
//! A pack either names whose labels it reads (a maker, how article or catalogue
//! numbers begin) and is used for those alone, or it is used for every label and
//! then adds only what the built-in tables do not read at all
//! ([`Reader::spelling_faults`](super::Reader::spelling_faults)). A label of which it is
//! not known whose it is, is read without the packs that name somebody.

use etui_schema::kinds::loaded;
use std::borrow::Cow;
use std::sync::Arc;

use super::lineage::Whose;
use super::tables::{Code, Size, TaperWord};
use crate::rules::{RuleFault, shape};

/// What faults of a pack's spellings name as their file.
const SPELLINGS: &str = "label-spellings";

/// What a label-spellings pack may add.
///
/// ```
/// use etui_craft::label::Spellings;
/// use serde_json::json;
/// let code = json!({ "text": "LN", "grouping": "round_liner" });
/// let pack = json!({ "count_first": true, "code": [code] });
/// assert_eq!(Spellings::from_json(&pack).unwrap().code.len(), 1);
/// assert!(Spellings::from_json(&json!({ "colour": 1 })).is_err());
/// ```
#[loaded(Default, PartialEq)]
pub struct Spellings {
    /// The studio's name for the pack.
    #[serde(skip)]
    pub name: Arc<str>,
    /// The maker or supplier whose labels it reads.
    pub maker: Option<String>,
    /// How the article numbers of those labels begin.
    pub gtin_prefix: Option<String>,
    /// How the catalogue numbers of those labels begin.
    pub reference_prefix: Option<String>,
    /// Four digits are count, then diameter.
    #[serde(default)]
    pub count_first: bool,
    /// Sizes.
    #[serde(default)]
    pub size: Vec<Size>,
    /// Grouping codes.
    #[serde(default)]
    pub code: Vec<Code>,
    /// Taper words.
    #[serde(default)]
    pub taper: Vec<TaperWord>,
    /// Words that say nothing about the configuration.
    #[serde(default)]
    pub noise: Vec<String>,
}

impl Spellings {
    /// Reads a pack out of JSON; what the loader of labels says of it is [`Spellings::faults`].
    ///
    /// # Errors
    /// [`RuleFault`] if a member is not of this shape.
    pub fn from_json(pack: &serde_json::Value) -> Result<Self, RuleFault> {
        shape(SPELLINGS, pack)
    }

    /// Whose labels it reads; those of everybody if nothing is named.
    pub(crate) fn whose(&self) -> Whose<'_> {
        Whose {
            maker: self.maker.as_deref(),
            gtin_prefix: self.gtin_prefix.as_deref(),
            reference_prefix: self.reference_prefix.as_deref(),
        }
    }

    /// The same pack under the studio's name for it; readings carry it.
    #[must_use]
    pub fn named(mut self, name: &str) -> Self {
        self.name = name.into();
        self
    }

    /// The first fault, as an error of the loader.
    pub(crate) fn check(&self) -> Result<(), RuleFault> {
        match self.faults().into_iter().next() {
            None => Ok(()),
            Some(SpellingFault { pointer, why }) => Err(RuleFault::new(SPELLINGS, pointer, why)),
        }
    }

    /// Everything that is wrong with the pack, each with its place.
    #[must_use]
    pub fn faults(&self) -> Vec<SpellingFault> {
        let mut faults = self.whose().faults();
        let mut texts = std::collections::BTreeSet::new();
        for (pointer, text) in self.texts() {
            let why = if !is_word(text) {
                "a text is 1 to 40 of A-Z, 0-9 and blank, and begins with a letter"
            } else if !texts.insert(closed_up(text)) {
                "the same text stands twice; it can mean one thing only"
            } else {
                continue;
            };
            faults.push(SpellingFault::new(pointer, why));
        }
        let mut numbers = std::collections::BTreeSet::new();
        for (n, size) in self.size.iter().enumerate() {
            if let Some((field, why)) = size_fault(size) {
                let pointer = format!("/size/{n}/{field}");
                faults.push(SpellingFault::new(pointer, why));
            }
            if !numbers.insert(size.number) {
                let why = "the same size stands twice; it can be one diameter only";
                let pointer = format!("/size/{n}/number");
                faults.push(SpellingFault::new(pointer, why));
            }
        }
        faults
    }

    /// Every text of the pack with its place.
    pub(crate) fn texts(&self) -> impl Iterator<Item = (String, &String)> {
        let codes = self.code.iter().enumerate().map(|(n, c)| (format!("/code/{n}/text"), &c.text));
        let tapers =
            self.taper.iter().enumerate().map(|(n, t)| (format!("/taper/{n}/text"), &t.text));
        let noise = self.noise.iter().enumerate().map(|(n, text)| (format!("/noise/{n}"), text));
        codes.chain(tapers).chain(noise)
    }

    /// Where this pack says something else than another one that may read the same
    /// label: the same text or the same size with another meaning. One of the two
    /// would win unseen.
    #[must_use]
    pub fn contradictions(&self, other: &Self) -> Vec<SpellingFault> {
        if !self.whose().meets(&other.whose()) {
            return Vec::new();
        }
        let theirs: Vec<(String, String)> =
            other.meanings().map(|(_, text, meaning)| (text, meaning)).collect();
        let differs = |text: &str, meaning: &str| {
            let same = theirs.iter().find(|(their, _)| their == text);
            same.filter(|(_, their)| their != meaning).map(|(_, their)| their.clone())
        };
        let fault = |(pointer, text, meaning): (String, String, String)| {
            let their = differs(&text, &meaning)?;
            let name = &other.name;
            let why = format!("`{text}` is {their} in the pack `{name}`; both cannot hold at once");
            Some(SpellingFault::new(pointer, why))
        };
        self.meanings().filter_map(fault).collect()
    }

    /// Place, text and meaning of each row.
    fn meanings(&self) -> impl Iterator<Item = (String, String, String)> {
        let codes = self.code.iter().map(|code| code.grouping.to_string());
        let tapers = self.taper.iter().map(|word| word.taper.to_string());
        let noise = self.noise.iter().map(|_| "no word of the configuration".to_owned());
        let words = self.texts().zip(codes.chain(tapers).chain(noise));
        let words = words.map(|((pointer, text), meaning)| (pointer, closed_up(text), meaning));
        let sizes = self.size.iter().enumerate().map(|(n, size)| {
            (format!("/size/{n}"), format!("#{}", size.number), format!("{} mm", size.mm))
        });
        words.chain(sizes)
    }
}

/// A blank stands for any joint or none, so it tells no two texts apart.
pub(crate) fn closed_up(text: &str) -> String {
    text.replace(' ', "")
}

/// One fault of a label-spellings pack.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {why}")]
pub struct SpellingFault {
    /// JSON pointer into the pack.
    pub pointer: String,
    /// What is wrong, and what would be accepted.
    pub why: Cow<'static, str>,
}

impl SpellingFault {
    pub(super) fn new(pointer: impl Into<String>, why: impl Into<Cow<'static, str>>) -> Self {
        Self { pointer: pointer.into(), why: why.into() }
    }
}

fn is_word(text: &str) -> bool {
    (1..=40).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_uppercase() || b.is_ascii_digit() || b == b' ')
        && text.starts_with(|c: char| c.is_ascii_uppercase())
        && !text.ends_with(' ')
}

fn size_fault(size: &Size) -> Option<(&'static str, &'static str)> {
    let sold = 0.1..=0.6;
    if !(1..=99).contains(&size.number) {
        return Some(("number", "a size is 1 to 99"));
    }
    if !sold.contains(&size.mm) {
        return Some(("mm", "a diameter is 0.1 to 0.6 mm"));
    }
    if size.least_mm.is_some_and(|least| !sold.contains(&least) || size.mm < least) {
        return Some(("least_mm", "the least diameter is 0.1 mm to the diameter itself"));
    }
    if size.most_mm.is_some_and(|most| !sold.contains(&most) || most < size.mm) {
        return Some(("most_mm", "the greatest diameter is the diameter itself to 0.6 mm"));
    }
    if size.also_mm.iter().any(|also| !sold.contains(also)) {
        return Some(("also_mm", "a diameter is 0.1 to 0.6 mm"));
    }
    None
}
