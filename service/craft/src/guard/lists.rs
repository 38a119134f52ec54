//! The words that the guard looks for: `rules/guard.toml`.

use std::sync::LazyLock;

use serde::Deserialize;

use crate::rules::{self, RuleFault, rule_file};

/// Beginnings of words; one that ends with `$` ends there, one that begins with `~`
/// may stand within a word.
pub(super) type Words = Vec<String>;

static LISTS: LazyLock<Result<Lists, RuleFault>> =
    LazyLock::new(|| rules::plain(rule_file!("guard.toml")));

/// The lists. Without them no sentence of a pack is kept.
pub(super) fn lists() -> Result<&'static Lists, &'static RuleFault> {
    LISTS.as_ref()
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Lists {
    pub(super) medicine: Words,
    pub(super) red_flag: Words,
    pub(super) help: Words,
    pub(super) calming: Words,
    pub(super) promise: Words,
    pub(super) found: Words,
    pub(super) lifted: Words,
    pub(super) asked: Words,
    pub(super) untrue: Words,
    pub(super) status: Words,
    pub(super) heeding: Words,
    pub(super) asking: Words,
    pub(super) telling: Words,
    pub(super) taking: Words,
    pub(super) rhythm: Words,
    pub(super) every: Words,
    pub(super) hours: Words,
    pub(super) numbers: Words,
    pub(super) measures: Words,
    pub(super) worried: Words,
    pub(super) before: Words,
    pub(super) after: Words,
    pub(super) closing: Words,
    pub(super) turned: Words,
    pub(super) joins: Words,
    pub(super) or: Words,
    pub(super) nor: Words,
    pub(super) none: Words,
    pub(super) is: Words,
    pub(super) breaks: Words,
    pub(super) fillers: Words,
    pub(super) deeds: Words,
    pub(super) risk: Risk,
    pub(super) protection: Protection,
    pub(super) sends: Vec<Sends>,
    pub(super) governed: Vec<Governed>,
}

/// Those at risk, and how they may be spoken of.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Risk {
    pub(super) words: Words,
    pub(super) care: Words,
    pub(super) reassurance: Words,
}

/// What protects, what slights it, and what speaks of it firmly all the same.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Protection {
    pub(super) words: Words,
    pub(super) slights: Words,
    pub(super) firm: Words,
}

/// A sentence that sends somebody to those who help.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sends {
    pub(super) words: Words,
    pub(super) needs: Vec<Words>,
}

/// What is spoken of only to be forbidden.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Governed {
    pub(super) what: String,
    pub(super) words: Words,
    #[serde(default)]
    pub(super) apart: Words,
    #[serde(default)]
    pub(super) also: Words,
}

/// Where a pattern stands in a text: the first and one past the last byte of each hit.
pub(super) fn hits<'a>(
    text: &'a str,
    pattern: &'a str,
) -> impl Iterator<Item = (usize, usize)> + 'a {
    let whole = pattern.strip_suffix('$');
    let rest = whole.unwrap_or(pattern);
    let anywhere = rest.strip_prefix('~');
    let word = anywhere.unwrap_or(rest);
    text.match_indices(word).map(|(at, found)| (at, at + found.len())).filter(
        move |&(at, behind)| {
            let begins = text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric());
            let ends = text[behind..].chars().next().is_none_or(|c| !c.is_alphanumeric());
            let clitic = word.starts_with("n't");
            (anywhere.is_some() || begins || clitic) && (whole.is_none() || ends)
        },
    )
}

/// The first of the patterns that stands in the text.
pub(crate) fn find(text: &str, patterns: &[String]) -> Option<String> {
    let found = patterns.iter().find(|pattern| hits(text, pattern).next().is_some())?;
    Some(found.trim_matches(['~', '$']).to_owned())
}
