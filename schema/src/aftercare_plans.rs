//! Aftercare plans: what a client sees, does and avoids, and when it is said.

use crate::describe::JsonSchema;
use crate::kinds::{asked, sent, sparing, told};
use garde::Validate;
use serde::{Deserialize, Serialize};

use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::aftercare::{
    ClosedDay, Condition, HealingPhase, Shift, StepKind, TimeOfDay,
};
use crate::vocabulary::{CivilDate, Instant, Skin, Treatment, Zone};
use crate::written::COUNTRY;

/// What a plan is made from.
#[sparing]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct AftercarePlanRequest {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session. It may lie ahead, for a preview; after a touch-up it
    /// is the end of that touch-up, which starts every clock again.
    pub performed_at: Instant,
    /// The client's time zone. A message at nine is at nine there, also across
    /// a change of the clocks.
    pub zone: Zone,
    /// Country in two letters (ISO 3166-1), for the numbers to call and the rules
    /// of its blood services. Without it general words are used; it is never
    /// guessed from a language.
    #[garde(length(chars, min = 2, max = 2), pattern(COUNTRY))]
    pub country: Option<String>,
    /// What is known of the skin. What is not told is assumed, and said.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// What the client has told that changes the aftercare.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 3))]
    pub conditions: Vec<Condition>,
    /// Local time of messages; 09:00 if absent.
    pub message_time: Option<TimeOfDay>,
    /// Local hours in which no message is sent; 21:00 to 08:00 if absent, unless
    /// `message_time` lies in them.
    #[garde(dive)]
    pub quiet_hours: Option<Hours>,
    /// Days on which the studio sees nobody: they move suggested appointments,
    /// never messages.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 400))]
    pub closed_days: Vec<ClosedDay>,
    /// When the studio opens and closes; suggested appointments start when it
    /// opens, 10:00 if absent.
    #[garde(dive)]
    pub opening_hours: Option<Hours>,
}

/// Two times of the day: `from` counts, `until` does not. Quiet hours may wrap
/// midnight; opening hours may not.
#[sent(Copy, Eq, free)]
pub struct Hours {
    /// Start.
    pub from: TimeOfDay,
    /// End.
    pub until: TimeOfDay,
}

/// A client's aftercare, dated.
#[told]
pub struct AftercarePlan {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session.
    pub performed_at: Instant,
    /// Its local date: day 0 of the plan.
    pub performed_on: CivilDate,
    /// The zone in which days are counted.
    pub zone: Zone,
    /// Revision of the rules.
    pub revision: u32,
    /// In the order of their instants.
    pub steps: Vec<AftercareStep>,
    /// The dates the plan works towards.
    pub milestones: Milestones,
    /// How the skin heals meanwhile; the phases overlap.
    pub healing: Vec<Phase>,
    /// What to bear in mind.
    pub cautions: Vec<AftercareCaution>,
    /// What was not told, and what was taken instead.
    pub assumed: Vec<Assumed>,
}

/// One step of a plan.
#[told]
pub struct AftercareStep {
    /// Stable key, unique within a plan; a plan for a moved session has the
    /// same keys.
    pub key: String,
    /// What it is.
    pub kind: StepKind,
    /// First day, counted from the session (day 0).
    pub from_day: i32,
    /// Last day; absent if it holds for good.
    pub to_day: Option<i32>,
    /// The shortest the trade asks for, where `to_day` is the longest.
    pub to_day_least: Option<i32>,
    /// Trade sources put it this many days earlier or later; 0 where they agree.
    pub spread_days: i32,
    /// Whether it is sent as a message of its own. Else it stands on the
    /// aftercare sheet and `at` is when it begins; what a client is to do or to
    /// avoid is then said in a message that bundles several (`care_…`).
    pub message: bool,
    /// When it is sent, or begins.
    pub at: Instant,
    /// The same in the client's zone, with its offset.
    #[schemars(extend("format" = "date-time"))]
    pub local: String,
    /// What moved it from where the clock alone would have put it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shifts: Vec<Open<Shift>>,
    /// From this instant on it is overtaken: closed, not sent.
    pub latest: Instant,
    /// What it says, at most 500 characters.
    pub text: String,
    /// Where days and text come from.
    pub basis: Vec<Basis>,
    /// The aftercare pack that added it; absent if it is built in.
    pub pack: Option<String>,
}

/// The dates a plan works towards, in local days of the client's zone.
#[told]
pub struct Milestones {
    /// Skin fully healed.
    pub healed: Window,
    /// The next session of a series; for the scalp only.
    pub next_session: Option<Window>,
    /// The healed result can be judged, not earlier.
    pub review_window: Window,
    /// First day on which this skin may be worked again, by age.
    pub touch_up_earliest: CivilDate,
    /// From there to the end of the time for a touch-up.
    pub touch_up_window: Window,
    /// The weeks in which a touch-up is usually done.
    pub touch_up_usual: Window,
    /// The colour may want a refresh.
    pub colour_refresh: Window,
    /// Blood may be given again, counted from this session, if `donation_dated`;
    /// else the day from which on it makes sense to ask the blood service.
    pub donation_date: CivilDate,
    /// Whether the country says when blood may be given again.
    #[serde(default)]
    pub donation_dated: bool,
    /// Where the donation date comes from.
    pub donation_basis: Vec<Basis>,
}

/// Some days, both ends included.
#[told]
pub struct Window {
    /// First day.
    pub from: CivilDate,
    /// Last day.
    pub until: CivilDate,
    /// First appointment from the first day on that the studio's days allow.
    pub suggested: Option<SuggestedAppointment>,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// An appointment the studio's days allow.
#[told]
pub struct SuggestedAppointment {
    /// When.
    pub at: Instant,
    /// The same in the client's zone, with its offset.
    #[schemars(extend("format" = "date-time"))]
    pub local: String,
    /// What moved it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shifts: Vec<Open<Shift>>,
}

/// A phase of healing, both days included.
#[told]
pub struct Phase {
    /// Which one.
    pub phase: Open<HealingPhase>,
    /// First day.
    pub from_day: i32,
    /// Last day.
    pub to_day: i32,
    /// Where the days come from.
    pub basis: Basis,
}

/// Something to bear in mind with the whole plan.
#[told]
pub struct AftercareCaution {
    /// Stable key.
    pub key: String,
    /// What it says.
    pub text: String,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// Something that was not told.
#[told]
pub struct Assumed {
    /// Pointer to the field of the request.
    pub pointer: String,
    /// What was taken instead.
    pub text: String,
}

/// How much a calendar tells.
#[asked(Copy, Default, Eq)]
pub struct CalendarQuery {
    /// Whether titles say what each entry is about. Without it every title is
    /// neutral, since a calendar is seen by many eyes.
    pub detail: Option<bool>,
}
