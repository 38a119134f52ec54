//! What a person's word settles, and what it cannot.

use etui_schema::vocabulary::chair::LotQuestion;
use etui_schema::vocabulary::label::FitnessReason;
use jiff::civil::Date;

use super::code::CodeFault;
use super::standing::{CODE_HELD, Known, forbids, open, question};

/// What a person says of a lot.
#[derive(Debug, Clone, Copy, Default)]
pub struct Said {
    /// Whether somebody is named who looked.
    pub named: bool,
    /// The last day of use.
    pub expires_on: Option<Date>,
    /// Whether the packs are sterile.
    pub sterile: Option<bool>,
    /// Whether diameter, count and grouping are known with what was said.
    pub complete: bool,
    /// Whether it says the lot code.
    pub code: bool,
    /// Whether it says which is right where print and symbol differ.
    pub print: bool,
    /// Whether the lot is to be taken out of quarantine by this: what somebody
    /// put aside by hand is settled too.
    pub looked: bool,
}

/// What was settled, and what is still open.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Settled {
    /// The questions that are answered now.
    pub settled: Vec<LotQuestion>,
    /// Reasons that are left.
    pub left: Vec<String>,
}

/// Why what was said changes nothing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unsettled {
    /// The lot was called back.
    Recalled,
    /// The code of what forbids the use.
    Forbidden(String),
    /// The day that was said lies behind the last that the print allows.
    LaterThanPrinted(Date),
    /// The day that was said lies further ahead than any pack lasts; the last that is taken.
    Improbable(Date),
    /// Print or symbol clearly say otherwise: of which member, and what.
    ReadOtherwise(&'static str, String),
    /// What was said for the lot code is none.
    NoCode(CodeFault),
    /// Nobody is named who looked, and these want somebody.
    Unnamed(Vec<LotQuestion>),
}

/// Holds what a person says against what is open.
///
/// A question that somebody must answer for is not settled by a word without a
/// name. That the packs are not sterile is taken from anybody.
///
/// # Errors
/// [`Unsettled`]: nothing of it may be taken over.
pub fn settle(known: &Known<'_>, said: &Said) -> Result<Settled, Unsettled> {
    if known.recalled {
        return Err(Unsettled::Recalled);
    }
    let reasons = open(known);
    if let Some(reason) = reasons.iter().find(|reason| forbids(reason)) {
        return Err(Unsettled::Forbidden(reason.clone()));
    }
    if let (Some(day), Some(last)) = (said.expires_on, known.printed_until)
        && last < day
    {
        return Err(Unsettled::LaterThanPrinted(last));
    }
    let (mut outcome, mut unnamed) = (Settled::default(), Vec::new());
    for reason in reasons {
        match question(&reason) {
            Some(question) if answers(question, said) && (said.looked || !wants_look(&reason)) => {
                if wants_name(question) || reason == CODE_HELD {
                    unnamed.push(question);
                }
                if !outcome.settled.contains(&question) {
                    outcome.settled.push(question);
                }
            }
            Some(_) | None => outcome.left.push(reason),
        }
    }
    unnamed.sort_unstable();
    unnamed.dedup();
    if !said.named && !unnamed.is_empty() {
        return Err(Unsettled::Unnamed(unnamed));
    }
    outcome.settled.sort_unstable();
    Ok(outcome)
}

/// Whether what was said answers a question.
const fn answers(question: LotQuestion, said: &Said) -> bool {
    match question {
        LotQuestion::Expiry => said.expires_on.is_some(),
        LotQuestion::Sterility => matches!(said.sterile, Some(true)),
        LotQuestion::Configuration => said.complete,
        LotQuestion::Lot => said.code || said.looked,
        LotQuestion::Print => said.print,
        LotQuestion::Hand => said.looked,
    }
}

/// Whether only somebody who lets the packs go settles it: a lot or a date that is told again says
/// nothing of a word such as "do not use".
pub(super) fn wants_look(reason: &str) -> bool {
    [FitnessReason::NotForUse, FitnessReason::StruckOut].iter().any(|one| one.as_str() == reason)
}

/// Whether somebody must answer for it.
const fn wants_name(question: LotQuestion) -> bool {
    match question {
        LotQuestion::Expiry | LotQuestion::Sterility | LotQuestion::Lot | LotQuestion::Print => {
            true
        }
        LotQuestion::Configuration | LotQuestion::Hand => false,
    }
}
