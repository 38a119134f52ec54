//! Reviews: how a treatment healed, and what to change next time.

use crate::kinds::{sent, told};
use uuid::Uuid;

use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::aftercare::{HealedColour, HealedSurface, Retention, ReviewZone};
use crate::vocabulary::{CivilDate, Instant, words};

words! {
    /// What a review comes to.
    ReviewOutcome, "review outcome" {
        /// It cannot be judged yet.
        TooEarly = "too_early",
        /// A doctor first.
        Refer = "refer",
        /// It was not told what the surface shows: that is asked first.
        Ask = "ask",
        /// The skin needs more time.
        Wait = "wait",
        /// It has held.
        Nothing = "nothing",
        /// Work it over, on the day named or later.
        TouchUp = "touch_up",
    }
}

/// What is seen on the healed work.
#[sent(free)]
pub struct ReviewRequest {
    /// When it was looked at; now if absent.
    pub reviewed_at: Option<Instant>,
    /// Each part that was judged, once; `whole` if they are all alike.
    #[garde(length(min = 1, max = 10), dive)]
    pub zones: Vec<ZoneKept>,
    /// How the colour compares with what was planned.
    pub colour: Option<HealedColour>,
    /// What the surface shows.
    pub surface: Option<HealedSurface>,
    /// Whether a doctor has seen these parts since and agrees that they may be worked
    /// on again. Without it what was found once stays: a growing scar, lumps (with whichever
    /// treatment of the area), and a report on this treatment that may have been an allergy.
    pub doctor_agrees: Option<bool>,
    /// Whether the skin was hurt during the session. Signs of it that were
    /// recorded then count on their own; say `false` only if none were.
    pub trauma_seen: Option<bool>,
    /// In words; sealed like everything of the client's health.
    #[garde(length(chars, min = 1, max = 500))]
    pub note: Option<String>,
}

/// How much of the colour one part kept.
#[sent(Copy, Eq, free)]
pub struct ZoneKept {
    /// The part.
    pub zone: ReviewZone,
    /// Share of the placed colour that is left.
    pub kept: Retention,
}

/// A healed result, and what it asks for.
#[told]
pub struct Review {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was looked at.
    pub reviewed_at: Instant,
    /// Day of the review, counted from the session (day 0).
    pub day: i32,
    /// Each part that was judged.
    pub zones: Vec<ZoneKept>,
    /// How the colour compares with what was planned.
    pub colour: Option<HealedColour>,
    /// What the surface shows.
    pub surface: Option<HealedSurface>,
    /// Whether a doctor has agreed that it may be worked on again.
    pub doctor_agrees: Option<bool>,
    /// Whether the skin was hurt during the session, as recorded then or told
    /// now; absent if nobody said.
    pub trauma_seen: Option<bool>,
    /// In words.
    pub note: Option<String>,
    /// What is to happen.
    pub outcome: Open<ReviewOutcome>,
    /// For `too_early` the first day on which it can be judged, for `touch_up`
    /// the first on which it may be worked over.
    pub not_before: Option<CivilDate>,
    /// What to change, most important first. Poor hold on hurt skin is never
    /// answered with more depth.
    pub advice: Vec<ReviewAdvice>,
}

/// One piece of advice.
#[told]
pub struct ReviewAdvice {
    /// Stable key.
    pub key: String,
    /// The parts it is about; absent for all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zones: Vec<ReviewZone>,
    /// What it says.
    pub text: String,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}
