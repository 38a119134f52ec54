//! What a sentence of a pack may not say.
//!
//! The sentences that are built in are read by people before they are shipped; a
//! pack's go from a form to a client's phone. So a pack is held to more than
//! [`crate::screening::wording`]: its sentence is a plain one, it names no
//! medicine at all (the built-in rules do, and say whom to ask), says nothing
//! that could keep somebody from getting help, and lifts nothing that a rule
//! found. Every list is read in both languages, whatever language the sentence
//! is said to be in.
//!
//! Words hidden behind other letters, marks between letters or directions of
//! writing are not searched for but refused: plain Latin letters are all that
//! the two languages need.
//!
//! The lists err on the side of refusing; the fault names the words, so that the
//! author can say it otherwise. They are common practice, no source.

mod dose;
mod words;

use etui_schema::vocabulary::Language;

use self::dose::dose_in_words;
use self::words::{CALMING, FOUND, HELP, LIFTED, MEDICINE, PROMISE, RED_FLAG};
use crate::screening::wording::{self, Objection};

/// Where the sentence is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speaks {
    /// In the screening, to somebody who is asked before a visit.
    BeforeVisit,
    /// In the aftercare, to somebody who may have to recognise a complication:
    /// the built-in messages name those, and a pack adds nothing to them.
    AfterVisit,
}

/// What stands against a sentence of a pack, if anything.
///
/// ```
/// use etui_craft::guard::{Speaks, objection};
/// let kept = |text| objection(text, Speaks::AfterVisit).is_none();
/// assert!(kept("Use a thin layer of the balm we gave you."));
/// assert!(!kept("Do not call a doctor, whatever it looks like."));
/// ```
#[must_use]
pub fn objection(text: &str, speaks: Speaks) -> Option<Objection> {
    if let Some(found) = text.chars().find(|c| !is_plain(*c)) {
        return Some(Objection::Character { code: u32::from(found) });
    }
    let lower = text.to_lowercase();
    if let Some(found) = ["<", ">", "://", "www.", "{{"].into_iter().find(|m| lower.contains(m)) {
        return Some(Objection::Markup { found: found.to_owned() });
    }
    if let Some(found) = spelled_out(&lower) {
        return Some(Objection::Markup { found });
    }
    let closed = close_up(&lower);
    if closed.split(|c: char| !c.is_alphanumeric()).any(|word| word == "hiv" || word == "aids") {
        return Some(Objection::Hiv);
    }
    if let Some(found) = Language::ALL.iter().find_map(|l| wording::objection(*l, &closed)) {
        return Some(found);
    }
    if let Some(found) = find(&closed, PROMISE) {
        return Some(Objection::Promise { found });
    }
    if let Some(found) = find(&closed, MEDICINE) {
        return Some(Objection::Medicine { found });
    }
    if let Some(found) = dose_in_words(&closed) {
        return Some(Objection::Dose { found });
    }
    if let (Some(found), Some(lifted)) = (find(&closed, FOUND), find(&closed, LIFTED)) {
        return Some(Objection::Lifts { found, lifted });
    }
    let calm = find(&closed, CALMING);
    match (find(&closed, RED_FLAG), find(&closed, HELP), calm) {
        (Some(found), _, _) if speaks == Speaks::AfterVisit => Some(Objection::RedFlag { found }),
        (Some(found), _, Some(calm)) | (None, Some(found), Some(calm)) => {
            Some(Objection::Calms { calm, found })
        }
        _ => None,
    }
}

/// Letters of the two languages, digits, and the usual marks: no control, no
/// direction, nothing invisible, no look-alike of another script.
fn is_plain(c: char) -> bool {
    let letters = matches!(c, ' '..='~' | '\u{a0}'..='\u{ac}' | '\u{ae}'..='\u{17f}');
    letters || matches!(c, '\u{2010}'..='\u{2015}' | '\u{2018}'..='\u{201e}' | '…' | '€')
}

/// Four letters or more that stand apart, as no plain sentence has them.
fn spelled_out(lower: &str) -> Option<String> {
    let mut run = Vec::new();
    for word in lower.split(|c: char| !c.is_alphanumeric()) {
        match word.chars().count() {
            0 => {}
            1 => run.push(word),
            _ if 3 < run.len() => break,
            _ => run.clear(),
        }
    }
    (3 < run.len()).then(|| run.join("."))
}

/// The text with single letters drawn together (`h.i.v.`, `h i v`) and marks
/// within words left out, so that nothing hides between its own letters.
fn close_up(lower: &str) -> String {
    let straight = lower.replace(['\u{2018}', '\u{2019}'], "'").replace('\u{a0}', " ");
    let chars: Vec<char> = straight.chars().collect();
    let letter =
        |at: Option<usize>| at.and_then(|at| chars.get(at)).is_some_and(|c| c.is_alphabetic());
    let single =
        |at: usize| letter(Some(at)) && !letter(at.checked_sub(1)) && !letter(at.checked_add(1));
    let mut out = String::with_capacity(straight.len());
    for (at, c) in chars.iter().copied().enumerate() {
        let between = at.checked_sub(1).is_some_and(single) && single(at + 1);
        let within = letter(at.checked_sub(1)) && letter(Some(at + 1));
        let dropped =
            between && !c.is_alphanumeric() || within && matches!(c, '.' | '_' | '*' | '·');
        if !dropped {
            out.push(c);
        }
    }
    out
}

/// The first of the patterns that stands in the text.
fn find(text: &str, patterns: &[&str]) -> Option<String> {
    let hit = |pattern: &&&str| {
        let whole = pattern.strip_suffix('$');
        let anywhere = pattern.strip_prefix('~');
        let word = whole.or(anywhere).unwrap_or(pattern);
        text.match_indices(word).any(|(at, _)| {
            let begins = text[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric());
            let ends = text[at + word.len()..].chars().next().is_none_or(|c| !c.is_alphanumeric());
            let clitic = word.starts_with("n't");
            (anywhere.is_some() || begins || clitic) && (whole.is_none() || ends)
        })
    };
    let found = patterns.iter().find(hit)?;
    Some(found.trim_matches(['~', '$']).to_owned())
}
