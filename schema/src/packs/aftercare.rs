//! An aftercare pack: steps a studio adds to its clients' plans.

use super::PackText;
use crate::kinds::sent;
use crate::vocabulary::aftercare::StepKind;
use crate::vocabulary::{Reference, Treatment, words};

words! {
    /// What a step asks of the client.
    StepWhen, "trait" {
        /// Nothing: it is for everybody.
        Always = "always",
        /// Oily skin.
        Oily = "oily",
        /// Dry skin, or signs of it.
        Dry = "dry",
        /// Tan or darker skin.
        Darker = "darker",
        /// Diabetes.
        Diabetes = "diabetes",
        /// Smokes.
        Smoker = "smoker",
        /// Cold sores now and then.
        ColdSoreHistory = "cold_sore_history",
    }
}

words! {
    /// What the days of a step are counted from.
    StepAnchor, "anchor" {
        /// The session.
        Session = "session",
        /// The next session of a series.
        NextSession = "next_session",
        /// The first day of the review.
        Review = "review",
        /// The first day of the touch-up.
        TouchUp = "touch_up",
        /// The last day of the touch-up.
        TouchUpCloses = "touch_up_closes",
        /// The day from which the colour may want a refresh.
        Refresh = "refresh",
        /// The day from which blood may be given again.
        Donation = "donation",
    }
}

/// Steps a studio adds to the aftercare. A pack changes no built-in step and
/// takes none away.
#[sent(free)]
pub struct AftercarePack {
    /// The author's own version.
    #[garde(length(chars, min = 1, max = 40))]
    pub version: Option<String>,
    /// What the pack is for, for people.
    #[garde(length(chars, min = 1, max = 500))]
    pub about: Option<String>,
    /// Who has read its sentences and stands for them, by the studio's reference; wanted where one
    /// has a word that is not known to be plain.
    pub read_by: Option<Reference>,
    /// Whether to apply it. A pack that is not applied is checked all the same.
    #[serde(default = "super::yes")]
    pub enabled: bool,
    /// Steps it adds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 100), dive)]
    pub step: Vec<PackStep>,
}

impl Default for AftercarePack {
    /// A pack that is applied and adds nothing yet.
    fn default() -> Self {
        Self { version: None, about: None, read_by: None, enabled: true, step: Vec::new() }
    }
}

/// A step that a pack adds.
#[sent(free)]
pub struct PackStep {
    /// Stable key, new among all steps: 1 to 48 of a-z 0-9 _, a letter first.
    #[garde(length(chars, min = 1, max = 60))]
    pub key: String,
    /// What it is.
    pub kind: StepKind,
    /// For which treatments; all if absent.
    #[garde(length(min = 1, max = 5))]
    pub treatments: Option<Vec<Treatment>>,
    /// For which clients; all if absent.
    pub when: Option<StepWhen>,
    /// What its days are counted from; the session if absent.
    pub anchor: Option<StepAnchor>,
    /// First day; day 0 is that of the anchor.
    #[garde(range(min = -60, max = 400))]
    pub from_day: i32,
    /// Last day; for good if absent.
    #[garde(range(min = -60, max = 400))]
    pub to_day: Option<i32>,
    /// Whether it is sent as a message; else it stands on the sheet only. Packs send at
    /// most 5 messages on one day of a treatment, all of them together.
    #[serde(default)]
    pub message: bool,
    /// The day it is sent on; the first day if absent.
    #[garde(range(min = -60, max = 400))]
    pub send_day: Option<i32>,
    /// What it says, at most 300 characters. `{days}` becomes the last day,
    /// `{date}` the day of the anchor.
    #[garde(dive)]
    pub text: PackText,
    /// Where days and text come from, as ids of `GET /v1/sources`.
    #[garde(dive)]
    pub sources: PackStepSources,
}

/// Where the parts of a step come from.
#[sent(Eq)]
pub struct PackStepSources {
    /// The days.
    #[garde(length(chars, min = 1, max = 80))]
    pub days: String,
    /// What it says.
    #[garde(length(chars, min = 1, max = 80))]
    pub text: String,
}
