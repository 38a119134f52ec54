//! What a person types for a lot code: one code, several, or none.
//!
//! Whoever copies a code off a box or a notice copies what stands beside it, and types what is not known
//! as it comes. A notice that is kept under something else than a code never meets any packs, and packs
//! under such a code are never met. Which words stand for none is said where labels are read. Forms:
//! common practice, no source.

use crate::label::Reader;

/// Why what was typed is no lot code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CodeFault {
    /// It looks like several codes, or like the first and the last of them.
    Several,
    /// It says no code, or leaves a part of it open.
    Unknown,
}

/// Words between codes: and, or, until.
const BETWEEN: [&str; 27] = [
    "to", "thru", "through", "until", "till", "and", "or", "bis", "und", "oder", "a", "à", "et",
    "ou", "al", "y", "o", "e", "ed", "tot", "en", "of", "og", "och", "do", "i", "lub",
];
/// Signs between codes, or in place of what is left out.
const SIGNS: [&str; 11] =
    [",", ";", "\n", "..", "\u{2026}", "\u{3001}", "&", "+", "|", "~", "\u{2192}"];
/// Signs that stand between codes where blanks are round them or the same letters on both sides.
const JOINTS: [char; 5] = ['-', '/', '\u{2013}', '\u{2014}', '\u{2010}'];
/// Signs in place of what was not read.
const OPEN: [char; 8] = ['?', '*', '_', '\u{fffd}', '#', '\u{2588}', '\u{2022}', '%'];

/// What is wrong with a lot code that somebody typed; nothing if it may be one.
///
/// ```
/// use etui_craft::drawer::{CodeFault, code_fault};
/// # let reader = etui_craft::label::Reader::builtin()?;
/// assert_eq!(code_fault(&reader, "AB-12/3"), None);
/// assert_eq!(code_fault(&reader, "B7 to B9"), Some(CodeFault::Several));
/// assert_eq!(code_fault(&reader, "KL12-KL15"), Some(CodeFault::Several));
/// assert_eq!(code_fault(&reader, "unknown"), Some(CodeFault::Unknown));
/// assert_eq!(code_fault(&reader, "B12?"), Some(CodeFault::Unknown));
/// # Ok::<(), etui_craft::rules::RuleFault>(())
/// ```
#[must_use]
pub fn code_fault(reader: &Reader, code: &str) -> Option<CodeFault> {
    let words: Vec<&str> = code.split_whitespace().collect();
    let inner = words.get(1..words.len().saturating_sub(1)).unwrap_or_default();
    let is_joint = |word: &str| word.chars().all(|c| JOINTS.contains(&c));
    let between = |word: &&str| is_joint(word) || BETWEEN.contains(&&*word.to_lowercase());
    let onward = words.iter().skip(1).any(|word| {
        let word = word.trim_end_matches('.').to_lowercase();
        ["ff", "f", "etc", "usw"].contains(&&*word)
    });
    let is_series = JOINTS.iter().any(|joint| is_series(code, *joint));
    if inner.iter().any(between)
        || onward
        || is_series
        || SIGNS.iter().any(|sign| code.contains(sign))
    {
        return Some(CodeFault::Several);
    }
    (is_open(code) || says_none(reader, code, &words)).then_some(CodeFault::Unknown)
}

/// Whether a part of a code was not read. A line between a code and letters or digits joins a serial
/// number to it: `23K8_003`.
fn is_open(code: &str) -> bool {
    let is_joint = |at: usize| {
        let (head, behind) = (code.get(..at), code.get(at + 1..));
        head.is_some_and(|head| {
            head.ends_with(char::is_alphanumeric) && head.contains(|c: char| c.is_ascii_digit())
        }) && behind.is_some_and(|serial| serial.starts_with(char::is_alphanumeric))
    };
    code.match_indices(OPEN).any(|(at, sign)| sign != "_" || !is_joint(at))
}

/// Whether what has no digit is no code: no letter, one letter over and over, several words, or one for
/// "none".
fn says_none(reader: &Reader, code: &str, words: &[&str]) -> bool {
    if code.chars().any(char::is_numeric) {
        return false;
    }
    let letters: String = code.to_lowercase().chars().filter(|c| c.is_alphabetic()).collect();
    let mut all = letters.chars();
    let first = all.next();
    first.is_none()
        || 1 < letters.chars().count() && all.all(|c| Some(c) == first)
        || 1 < words.len()
        || reader.is_no_code(&letters)
}

/// Whether a sign stands between two codes that begin with the same letters.
fn is_series(code: &str, joint: char) -> bool {
    let parts: Vec<&str> = code.split(joint).map(str::trim).collect();
    let [first, last] = *parts else { return false };
    let letters = |part: &str| -> String {
        part.chars().take_while(|c| c.is_alphabetic()).collect::<String>().to_uppercase()
    };
    let is_code = |part: &str| part.chars().any(|c| c.is_ascii_digit());
    let shared = letters(first);
    !shared.is_empty() && shared == letters(last) && is_code(first) && is_code(last)
}
