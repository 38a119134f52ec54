//! What is used on the skin, for a check: the skin test and the bottles.

use crate::describe::JsonSchema;
use crate::kinds::{sent, told};
use garde::Validate;
use serde::{Deserialize, Serialize};

use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::{CivilDate, Instant, Reference, words};
use crate::written::NAMED;

words! {
    /// What was seen of a skin test.
    PatchTestResult, "result" {
        /// Nothing.
        Clear = "clear",
        /// A reaction.
        Reacted = "reacted",
        /// It has not been looked at.
        NotRead = "not_read",
    }
}

words! {
    /// Whether a skin test counts for an appointment.
    PatchTestStanding, "standing" {
        /// It counts.
        Met = "met",
        /// There is none.
        Missing = "missing",
        /// It was made less than 24 hours before, or after the beginning.
        TooLate = "too_late",
        /// It is too old.
        Expired = "expired",
        /// Another batch of pigment will be used.
        OtherBatch = "other_batch",
        /// It counts if the batch to be used is the tested one, and that is not known.
        ToCompare = "to_compare",
        /// It has not been looked at.
        Unread = "unread",
        /// The skin reacted: a doctor looks first.
        Reacted = "reacted",
    }
}

words! {
    /// Whether a thing stands on a label.
    SeenOnLabel, "sight" {
        /// It is there.
        Yes = "yes",
        /// It is not.
        No = "no",
        /// Nobody looked, or it could not be read.
        NotSeen = "not_seen",
    }
}

words! {
    /// Whether a bottle may be used.
    PigmentFitness, "fitness" {
        /// Nothing on the label stands against it.
        Usable = "usable",
        /// Not before somebody has looked at what is open.
        Look = "look",
        /// Not on this client.
        NotForThisClient = "not_for_this_client",
        /// Not at all.
        NotUsable = "not_usable",
    }
}

/// A skin test that the studio made.
#[sent(free)]
pub struct PatchTestTold {
    /// When it was put on.
    pub made_at: Instant,
    /// When it was looked at.
    pub read_at: Option<Instant>,
    /// What was seen. A reaction is kept with the client, as the answer
    /// `skin_test_reacted`, and counts in every later check until that answer is
    /// put to `false` in the client's record.
    pub result: PatchTestResult,
    /// Batch of the pigment that was tested.
    #[garde(length(chars, min = 1, max = 60), pattern(NAMED))]
    pub pigment_batch: Option<String>,
}

/// A bottle of pigment that will be used.
#[sent(free)]
pub struct PigmentTold {
    /// The batch reference on the bottle.
    #[garde(length(chars, min = 1, max = 60), pattern(NAMED))]
    pub batch: Option<String>,
    /// The studio's own name for the pigment.
    pub pigment_ref: Option<Reference>,
    /// What stands on its label.
    #[serde(default)]
    #[garde(dive)]
    pub label: PigmentLabelSeen,
}

/// What stands on a bottle's label, as paragraph 7 of entry 75 of Annex XVII
/// to REACH (Regulation (EU) 2020/2081) asks; what is absent was not seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields, default)]
#[garde(allow_unvalidated)]
pub struct PigmentLabelSeen {
    /// That it is a mixture for use in tattoos or permanent make-up.
    pub statement: SeenOnLabel,
    /// A number that identifies the batch; `yes` if a batch was given.
    pub batch: SeenOnLabel,
    /// The list of ingredients.
    pub ingredients: SeenOnLabel,
    /// "Contains nickel. Can cause allergic reactions."
    pub nickel_notice: SeenOnLabel,
    /// "Contains chromium (VI). Can cause allergic reactions."
    pub chromium_notice: SeenOnLabel,
    /// Safety instructions.
    pub safety_instructions: SeenOnLabel,
}

impl Default for PigmentLabelSeen {
    fn default() -> Self {
        Self {
            statement: SeenOnLabel::NotSeen,
            batch: SeenOnLabel::NotSeen,
            ingredients: SeenOnLabel::NotSeen,
            nickel_notice: SeenOnLabel::NotSeen,
            chromium_notice: SeenOnLabel::NotSeen,
            safety_instructions: SeenOnLabel::NotSeen,
        }
    }
}

/// Whether a skin test counts for the appointment, and what it does not prove.
#[told]
pub struct PatchTestCheck {
    /// Whether it counts.
    pub standing: Open<PatchTestStanding>,
    /// The same in words, and what must be said with it.
    pub says: Vec<String>,
    /// The first day on which a test for this appointment counts.
    pub made_from: CivilDate,
    /// The latest instant at which one can be made.
    pub made_by: Instant,
    /// The latest day that also leaves time for a reading on day two.
    pub better_by: CivilDate,
    /// The first day on which the test that was told can be read: day two.
    pub look_from: Option<CivilDate>,
    /// The last day to look at a test: that of the appointment.
    pub look_by: Option<CivilDate>,
    /// Where the limits come from.
    pub basis: Vec<Basis>,
}

/// Whether a bottle may be used on this client, by its label.
#[told]
pub struct PigmentCheck {
    /// The batch reference on the bottle.
    pub batch: Option<String>,
    /// The studio's own name for the pigment.
    pub pigment_ref: Option<Reference>,
    /// Whether it may be used.
    pub fitness: Open<PigmentFitness>,
    /// What is to be said about it, gravest first.
    pub remarks: Vec<PigmentRemark>,
    /// What the client must be shown.
    pub pass_on: String,
    /// Where the check comes from.
    pub basis: Vec<Basis>,
}

/// One thing about a bottle.
#[told(Eq)]
pub struct PigmentRemark {
    /// `not_for_skin`, `nickel_for_allergic`, `chromium_for_allergic`,
    /// `missing_PART`, `look_PART` or `no_proof`.
    pub code: String,
    /// In words.
    pub text: String,
}
