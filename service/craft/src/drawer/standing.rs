//! What a lot is worth on a day.

use etui_schema::vocabulary::chair::{LotQuestion, LotState};
use jiff::civil::Date;

use crate::label::{FitnessReason, FitnessState};

/// No complete configuration is known.
pub const CONFIGURATION_OPEN: &str = "configuration_open";
/// Somebody put the packs aside.
pub const HELD_BY_HAND: &str = "held_by_hand";
/// Nobody knows whether a recall notice means the packs.
pub const RECALL_POSSIBLE: &str = "recall_possible";
/// Other packs of the same code have an earlier last day of use.
pub const EXPIRY_DIFFERS: &str = "expiry_differs";
/// Other packs of the same code are out of use for what may be of these as well.
pub const CODE_HELD: &str = "code_held";
/// No last day of use is known.
pub const EXPIRY_UNKNOWN: &str = FitnessReason::ExpiryUnknown.as_str();
/// Nobody knows whether the packs are sterile.
pub const STERILITY_UNKNOWN: &str = FitnessReason::SterilityUnknown.as_str();
/// The packs are not sterile.
pub const NOT_STERILE: &str = FitnessReason::NotSterile.as_str();

/// What is known of a lot.
#[derive(Debug, Clone, Copy)]
pub struct Known<'a> {
    /// Whether it was called back.
    pub recalled: bool,
    /// Packs left.
    pub packs: u32,
    /// The last day of use.
    pub expires_on: Option<Date>,
    /// Whether the packs are sterile.
    pub sterile: Option<bool>,
    /// Whether diameter, count and grouping are all known.
    pub complete: bool,
    /// What else speaks against it: codes of [`FitnessReason`] or of this
    /// module.
    pub held: &'a [String],
    /// The latest day that the print allows, in the year that was read.
    pub printed_until: Option<Date>,
}

/// What a lot is worth on a day, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// The state.
    pub state: LotState,
    /// Why its packs may not be used; empty if they may.
    pub reasons: Vec<String>,
    /// What a person has to settle; empty unless it is held.
    pub questions: Vec<LotQuestion>,
}

/// What a lot is worth on a day.
///
/// ```
/// use etui_craft::drawer::{Known, standing};
/// use etui_schema::vocabulary::chair::LotState;
/// use jiff::civil::date;
/// let known = Known {
///     recalled: false,
///     packs: 5,
///     expires_on: Some(date(2028, 1, 31)),
///     sterile: Some(true),
///     complete: true,
///     held: &[],
///     printed_until: None,
/// };
/// let day = date(2026, 11, 25);
/// assert_eq!(standing(&known, day).state, LotState::Usable);
/// assert_eq!(standing(&Known { sterile: None, ..known }, day).state, LotState::Held);
/// ```
#[must_use]
pub fn standing(known: &Known<'_>, day: Date) -> Standing {
    let plain = |state: LotState| Standing {
        state,
        reasons: vec![state.as_str().to_owned()],
        questions: Vec::new(),
    };
    if known.recalled {
        return plain(LotState::Recalled);
    }
    if known.expires_on.is_some_and(|last| last < day) {
        return plain(LotState::Expired);
    }
    if known.packs == 0 {
        return plain(LotState::Empty);
    }
    let reasons = open(known);
    if reasons.is_empty() {
        return Standing { state: LotState::Usable, reasons, questions: Vec::new() };
    }
    let mut questions: Vec<_> = reasons.iter().filter_map(|reason| question(reason)).collect();
    questions.sort_unstable();
    questions.dedup();
    // What forbids the use is settled by nobody, so nothing is asked.
    if reasons.iter().any(|reason| forbids(reason)) {
        questions.clear();
    }
    Standing { state: LotState::Held, reasons, questions }
}

/// Everything that keeps the packs out of use but a recall, the date and an
/// empty box.
#[must_use]
pub fn open(known: &Known<'_>) -> Vec<String> {
    let mut reasons: Vec<String> = Vec::new();
    let mut add = |reason: &str| {
        if !reasons.iter().any(|known| known == reason) {
            reasons.push(reason.to_owned());
        }
    };
    known.held.iter().for_each(|reason| add(reason));
    if known.expires_on.is_none() {
        add(EXPIRY_UNKNOWN);
    }
    match known.sterile {
        None => add(STERILITY_UNKNOWN),
        Some(false) => add(NOT_STERILE),
        Some(true) => {}
    }
    if !known.complete {
        add(CONFIGURATION_OPEN);
    }
    reasons
}

/// The reason of a code, if it is one of the label's.
fn of_label(reason: &str) -> Option<FitnessReason> {
    FitnessReason::ALL.iter().copied().find(|known| known.as_str() == reason)
}

/// Whether a reason forbids the use, whoever says what.
#[must_use]
pub fn forbids(reason: &str) -> bool {
    of_label(reason).is_some_and(|reason| reason.state() == FitnessState::Unfit)
}

/// Whether a reason keeps packs aside, rather than only asking what nobody has read yet: whoever uses
/// them all the same says why.
#[must_use]
pub fn keeps_aside(reason: &str) -> bool {
    forbids(reason) || matches!(reason, HELD_BY_HAND | RECALL_POSSIBLE | EXPIRY_DIFFERS | CODE_HELD)
}

/// The question that settles a reason; none if nothing does, or if it only
/// asks for care.
#[must_use]
pub fn question(reason: &str) -> Option<LotQuestion> {
    let Some(reason) = of_label(reason) else {
        return Some(match reason {
            CONFIGURATION_OPEN => LotQuestion::Configuration,
            RECALL_POSSIBLE => LotQuestion::Lot,
            EXPIRY_DIFFERS => LotQuestion::Expiry,
            _ => LotQuestion::Hand,
        });
    };
    match reason {
        FitnessReason::Expired
        | FitnessReason::NotSterile
        | FitnessReason::Damaged
        | FitnessReason::Reusable
        | FitnessReason::CheckPack => None,
        FitnessReason::LotUnreadable => Some(LotQuestion::Lot),
        FitnessReason::LabelConflict
        | FitnessReason::SymbolFaulty
        | FitnessReason::StruckOut
        | FitnessReason::NotForUse => Some(LotQuestion::Print),
        FitnessReason::Unreadable => Some(LotQuestion::Configuration),
        FitnessReason::SwallowedSeparator
        | FitnessReason::DatesContradict
        | FitnessReason::ManufactureImprobable
        | FitnessReason::DateWithoutWord
        | FitnessReason::AmbiguousExpiry
        | FitnessReason::ExpiryUnreadable
        | FitnessReason::ExpiryWordUnproven
        | FitnessReason::ExpiryImprobable
        | FitnessReason::ExpiryUnknown => Some(LotQuestion::Expiry),
        FitnessReason::SterilityUnknown => Some(LotQuestion::Sterility),
    }
}
