//! Whole deliveries: many lots taken in or confirmed in one call, and what is
//! kept of a supplier's habits.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::lots::{Confirmed, Lot, LotQuestion, LotRequest};
use crate::open::Open;
use crate::problem::Fault;
use crate::vocabulary::{Instant, Reference, words};

words! {
    /// What became of one lot of a confirmation.
    ConfirmationOutcomeKind, "outcome" {
        /// Nothing is open any more; its packs may be used.
        Released = "released",
        /// Something is still open, or what was said keeps it out of use.
        StillHeld = "still_held",
        /// Nothing was changed.
        Refused = "refused",
    }
}

words! {
    /// Which day a supplier means who prints a month under words such as "use by".
    MonthHabit, "reading of a month" {
        /// The last day of the month that is printed.
        LastDay = "last_day",
        /// The last day of the month before.
        LastDayBefore = "last_day_before",
    }
}

/// Several lots taken in at once.
#[sent]
pub struct LotDeliveryRequest {
    /// The lots, 1 to 200. Each is taken in or refused by itself.
    #[garde(length(min = 1, max = 200), dive)]
    pub lots: Vec<LotRequest>,
}

/// What became of a delivery.
#[told]
pub struct LotDelivery {
    /// When it was taken in; when this was answered, in a dry run.
    pub received_at: Instant,
    /// Whether this only says what would happen: the ids of its lots lead nowhere.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// What became of each lot, in the order of the request.
    pub outcomes: Vec<LotDeliveryOutcome>,
}

/// What became of one lot of a delivery.
#[told]
pub struct LotDeliveryOutcome {
    /// The lot as it was taken in; absent if it was not.
    pub lot: Option<Lot>,
    /// Why it was not taken in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
}

/// What somebody settled about lots that are held.
#[sent(free)]
pub struct ConfirmationRequest {
    /// Who looked at the packs.
    pub by: Reference,
    /// What holds for each lot that does not say otherwise.
    #[garde(dive)]
    pub confirmed: Option<Confirmed>,
    /// The lots, 1 to 200, each once.
    #[garde(length(min = 1, max = 200), dive)]
    pub lots: Vec<LotConfirmation>,
}

/// What somebody settled about one lot.
#[sent(free)]
pub struct LotConfirmation {
    /// The lot.
    pub lot_id: Uuid,
    /// What is settled for this lot; members that are absent are taken from
    /// what holds for all.
    #[garde(dive)]
    pub confirmed: Option<Confirmed>,
}

/// What became of a confirmation.
#[told]
pub struct Confirmation {
    /// When.
    pub confirmed_at: Instant,
    /// Who looked at the packs.
    pub by: Reference,
    /// What became of each lot, in the order of the request.
    pub outcomes: Vec<ConfirmationOutcome>,
}

/// What became of one lot of a confirmation.
#[told]
pub struct ConfirmationOutcome {
    /// The lot.
    pub lot_id: Uuid,
    /// What became of it.
    pub outcome: Open<ConfirmationOutcomeKind>,
    /// What was settled now.
    pub settled: Vec<Open<LotQuestion>>,
    /// What is still open.
    pub open: Vec<Open<LotQuestion>>,
    /// The lot after the confirmation; absent if there is none.
    pub lot: Option<Lot>,
    /// Why nothing was changed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
}

/// What is known of how a supplier prints its packs. It is used for later
/// deliveries that fit everything that is named here; at least one of `maker`,
/// `gtin_prefix` and `reference_prefix` is.
#[sent(free)]
pub struct HabitRecord {
    /// The maker or supplier, as lots name it.
    #[garde(length(chars, min = 1, max = 80))]
    pub maker: Option<String>,
    /// How its article numbers begin, in the 14-digit form, 4 to 14 digits.
    #[garde(length(chars, min = 4, max = 14))]
    pub gtin_prefix: Option<String>,
    /// How its catalogue numbers begin.
    #[garde(length(chars, min = 2, max = 40))]
    pub reference_prefix: Option<String>,
    /// Which day it means by a month.
    pub month: Option<MonthHabit>,
    /// `true` if its packs are sterile although the label does not say so.
    /// What a label says itself always comes first.
    pub sterile: Option<bool>,
    /// Who knows it.
    pub confirmed_by: Reference,
    /// From where, in words.
    #[garde(length(chars, min = 1, max = 300))]
    pub note: Option<String>,
    /// As it was read; the path says it.
    pub habit_ref: Option<Reference>,
    /// As it was read; the service counts.
    pub version: Option<u64>,
    /// As it was read; the service sets it.
    pub updated_at: Option<Instant>,
}

/// A supplier's habit as stored.
#[told]
pub struct HabitAsStored {
    /// The studio's reference for it.
    pub habit_ref: Reference,
    /// The maker or supplier, as lots name it.
    pub maker: Option<String>,
    /// How its article numbers begin.
    pub gtin_prefix: Option<String>,
    /// How its catalogue numbers begin.
    pub reference_prefix: Option<String>,
    /// Which day it means by a month.
    pub month: Option<MonthHabit>,
    /// Whether its packs are sterile although the label does not say so.
    pub sterile: Option<bool>,
    /// Who knows it.
    pub confirmed_by: Reference,
    /// From where, in words.
    pub note: Option<String>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}
