//! What a sentence of a pack may not say.
//!
//! The sentences that are built in are read by people before they are shipped; a
//! pack's go from a form to a client's phone. So a pack is held to more than
//! [`crate::screening::wording`]: its sentence is a plain one, it names no
//! medicine at all (the built-in rules do, and say whom to ask), says nothing
//! that could keep somebody from getting help, and lifts nothing that a rule
//! found. Every list holds all languages, whatever language the sentence is said to
//! be in. One that no list knows has no plain words either: what a pack says in it,
//! somebody has read.
//!
//! Words hidden behind other letters, marks between letters or directions of
//! writing are not searched for but refused: plain Latin letters are all that
//! is needed.
//!
//! What the built-in steps tell clients to avoid is spoken of only to forbid it
//! (`clauses`), those at risk only with care, and sent to a doctor is somebody only in
//! words that do nothing else.
//!
//! A list of what harms never ends. So there is one of plain words as well (`rules/languages`,
//! [`strange_word`]): a sentence that nothing stands against and that has another word is kept only
//! once somebody is named who has read it.
//!
//! The lists (`rules/guard.toml`) err on the side of refusing; the fault names the words, so that the
//! author can say it otherwise. They are common practice, no source.

mod clauses;
mod dose;
mod lists;
mod plain;

use etui_schema::vocabulary::Language;

use self::dose::dose_in_words;
pub(crate) use self::lists::find;
use self::lists::{Lists, lists};
pub use self::plain::strange_word;
use crate::screening::wording::{self, Objection};

/// Where the sentence is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speaks {
    /// In the screening, as a question to somebody before a visit.
    Asking,
    /// In the screening, as what a rule says or why something is asked.
    BeforeVisit,
    /// In the aftercare, to somebody who may have to recognise a complication:
    /// the built-in messages name those, and a pack adds nothing to them.
    AfterVisit,
}

impl Speaks {
    /// How the text under a key of a rules pack speaks.
    #[must_use]
    pub fn of_key(key: &str) -> Self {
        let asks = key.starts_with("question.") && key.ends_with(".ask");
        if asks { Self::Asking } else { Self::BeforeVisit }
    }
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
    if let Some(found) = Language::ALL.iter().find_map(|l| wording::objection(*l, &closed)) {
        return Some(found);
    }
    let lists = match lists() {
        Ok(lists) => lists,
        Err(fault) => return Some(Objection::Unread { why: fault.to_string() }),
    };
    if find(&closed, &lists.status).is_some() {
        return Some(Objection::Hiv);
    }
    if let Some(found) = find(&closed, &lists.promise) {
        return Some(Objection::Promise { found });
    }
    if !sends(lists, &closed)
        && let Some(found) = unhelpful(lists, &closed, speaks)
    {
        return Some(found);
    }
    sentences(&closed).find_map(|sentence| {
        let asks = speaks == Speaks::Asking && is_question(lists, sentence);
        let found = || {
            at_risk(lists, sentence)
                .or_else(|| slighted(lists, sentence))
                .or_else(|| governed(lists, sentence))
        };
        if asks { None } else { found() }
    })
}

/// A medicine, a dose, a finding lifted, a sign or those who help made light of.
fn unhelpful(lists: &Lists, closed: &str, speaks: Speaks) -> Option<Objection> {
    if let Some(found) = find(closed, &lists.medicine) {
        return Some(Objection::Medicine { found });
    }
    if let Some(found) = dose_in_words(lists, closed) {
        return Some(Objection::Dose { found });
    }
    let lifts = |of: &[String], by: &[String]| find(closed, of).zip(find(closed, by));
    let lifted = lifts(&lists.found, &lists.lifted).or_else(|| lifts(&lists.asked, &lists.untrue));
    if let Some((found, lifted)) = lifted {
        return Some(Objection::Lifts { found, lifted });
    }
    let worried = find(closed, &lists.worried);
    let rest = worried.map_or_else(|| closed.to_owned(), |worried| closed.replace(&worried, ""));
    let red_flag = find(closed, &lists.red_flag);
    match (red_flag, find(closed, &lists.help), find(&rest, &lists.calming)) {
        (Some(found), _, _) if speaks == Speaks::AfterVisit => Some(Objection::RedFlag { found }),
        (Some(found), _, Some(calm)) | (None, Some(found), Some(calm)) => {
            Some(Objection::Calms { calm, found })
        }
        (Some(_), _, None) => sentences(closed).find_map(|sentence| stated(lists, sentence)),
        _ => None,
    }
}

/// Of a sign it is said before a visit that she tells of it, or that the visit is put off; nothing else.
fn stated(lists: &Lists, sentence: &str) -> Option<Objection> {
    let found = find(sentence, &lists.red_flag)?;
    let heeds = is_question(lists, sentence) || find(sentence, &lists.heeding).is_some();
    (!heeds).then_some(Objection::Stated { found })
}

/// The sentences of a text, each with its mark.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(['.', '!', '?', ';', '…']).filter(|it| it.contains(char::is_alphanumeric))
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty())
}

/// Whether all of it sends somebody to those who help, in words that are known to do
/// nothing else.
fn sends(lists: &Lists, text: &str) -> bool {
    let plain = |sentence: &str| {
        lists.sends.iter().any(|kind| {
            words(sentence).all(|word| kind.words.iter().any(|known| known == word))
                && kind.needs.iter().all(|need| find(sentence, need).is_some())
        })
    };
    sentences(text).all(plain)
}

/// Whether somebody is asked, rather than talked into it.
fn is_question(lists: &Lists, sentence: &str) -> bool {
    let mut said = words(sentence).skip(1);
    let mut next_is =
        |list: &[String]| said.next().is_some_and(|word| list.iter().any(|one| one == word));
    sentence.ends_with('?') && next_is(&lists.asking) && !next_is(&lists.telling)
}

fn at_risk(lists: &Lists, sentence: &str) -> Option<Objection> {
    let risk = &lists.risk;
    let found = find(sentence, &risk.words)?;
    let care = find(sentence, &risk.care).or_else(|| find(sentence, &lists.help));
    let reassured = find(sentence, &risk.reassurance);
    (care.is_none() || reassured.is_some()).then_some(Objection::AtRisk { found })
}

fn slighted(lists: &Lists, sentence: &str) -> Option<Objection> {
    let protection = &lists.protection;
    let found = find(sentence, &protection.words)?;
    let slight = find(sentence, &protection.slights)?;
    let firm = find(sentence, &protection.firm).is_some();
    (!firm).then_some(Objection::Slights { slight, found })
}

fn governed(lists: &Lists, sentence: &str) -> Option<Objection> {
    let clauses::Spoken { found, what } = clauses::spoken(lists, sentence)?;
    Some(Objection::Governed { found, what })
}

/// Latin letters, digits, and the usual marks: no control, no
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
