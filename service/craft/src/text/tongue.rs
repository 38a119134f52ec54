//! What is of a language and is no sentence: `rules/languages/<language>.toml`.

use std::collections::HashSet;
use std::sync::LazyLock;

use etui_schema::vocabulary::Language;
use serde::Deserialize;

use super::{files_of, no_file};
use crate::rules::{self, RuleFault, RuleFile};

const FILES: &[RuleFile] = &etui_schema::each_language!([files_of] "languages/");

static TONGUES: LazyLock<Result<Vec<Tongue>, RuleFault>> =
    LazyLock::new(|| FILES.iter().copied().map(rules::plain).collect());

/// What is of a language.
///
/// # Errors
/// [`RuleFault`] if the file of one cannot be read: then no sentence can be judged.
pub(crate) fn tongue(language: Language) -> Result<&'static Tongue, RuleFault> {
    let all = TONGUES.as_ref().map_err(Clone::clone)?;
    all.get(language as usize).ok_or_else(|| no_file("languages", language))
}

/// The words that a language has for what no sentence may say, and how its texts are
/// counted.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Tongue {
    /// Beginnings of words of stopping.
    pub(crate) stopping: Vec<String>,
    /// Beginnings of words for medicines.
    pub(crate) medicine: Vec<String>,
    /// Beginnings of words that promise safety.
    pub(crate) promise: Vec<String>,
    /// Words in which medicines are measured out.
    pub(crate) doses: Vec<String>,
    #[cfg_attr(not(test), expect(dead_code, reason = "counted where the sentences are tested"))]
    pub(crate) ease: Ease,
    /// Without them, somebody has read whatever a pack says in this language.
    #[serde(default)]
    pub(crate) plain: Plain,
}

/// How easily a text is read.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(not(test), expect(dead_code, reason = "counted where the sentences are tested"))]
pub(crate) struct Ease {
    /// Of a text of no words.
    pub(crate) whole: f64,
    /// Less for each word of a sentence.
    pub(crate) length: f64,
    /// Less for each syllable of a word.
    pub(crate) weight: f64,
    /// Letters of which each group is a syllable.
    pub(crate) vowels: String,
    /// One that is none at the end of a word.
    pub(crate) silent: Option<char>,
}

/// Words that are plain wherever they stand, and what may stand behind each.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Plain {
    pub(crate) endings: Vec<String>,
    pub(crate) words: HashSet<String>,
}
