//! What deliveries of one code say of each other.
//!
//! A lot has one last day of use: where two deliveries of it have two, one is wrong, and the later
//! asks. What keeps packs out of use and is no matter of what is missing on their label may be of all
//! that have their code, and the others ask. Both are common practice, no source.

use super::fits::differs;
use super::settle::wants_look;
use super::standing::{CODE_HELD, EXPIRY_DIFFERS, HELD_BY_HAND, Known, forbids, keeps_aside, open};
use crate::label::FitnessReason;
use etui_schema::vocabulary::Configuration;

/// Whether packs that are out of use for this reason are reason to look at others of their code.
pub(super) fn is_of_code(reason: &str) -> bool {
    let is_hand = reason == HELD_BY_HAND;
    is_hand || wants_look(reason) || forbids(reason) && reason != FitnessReason::Expired.as_str()
}

/// Why packs are out of use, as far as it may be of all that have their code.
pub fn kept_out(known: &Known<'_>) -> impl Iterator<Item = String> {
    open(known).into_iter().filter(|reason| is_of_code(reason))
}

/// Whether what is held of packs speaks against one that was in use, whatever its day: what hurts may
/// be the needle itself.
#[must_use]
pub fn speaks_against(known: &Known<'_>) -> bool {
    known.recalled || open(known).iter().any(|reason| is_of_code(reason) || keeps_aside(reason))
}

/// What a lot asks because of another of its code: whether that expires earlier, and whether it is
/// out of use for what may be of the code. Needles that contradict each other are of two articles,
/// and their days say nothing of each other.
#[must_use]
pub fn asked_beside(
    (known, needle): (&Known<'_>, Option<&Configuration>),
    (other, others): (&Known<'_>, Option<&Configuration>),
) -> Vec<&'static str> {
    let is_later =
        matches!((known.expires_on, other.expires_on), (Some(own), Some(its)) if its < own);
    let is_one = !needle.zip(others).is_some_and(|(one, other)| differs(one, other));
    let asked =
        [(is_later && is_one, EXPIRY_DIFFERS), (kept_out(other).next().is_some(), CODE_HELD)];
    asked.into_iter().filter(|(is_asked, _)| *is_asked).map(|(_, reason)| reason).collect()
}
