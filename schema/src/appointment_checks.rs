//! The pre-appointment check: the main job in one call.

mod needles;

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

pub use needles::{
    CheckNeedles, NeedleReason, NeedleSource, OfferedLot, OfferedNeedle, SetAsideNeedle, SplitView,
};

use crate::aftercare_plans::AftercarePlan;
use crate::answers::{Answer, Answers, MOST_ANSWERS};
use crate::branches::BranchFrom;
use crate::check_materials::{PatchTestCheck, PatchTestTold, PigmentCheck, PigmentTold};
use crate::open::Open;
use crate::sheets::CheckSummary;
use crate::skin_assessments::{Finding, Override, RulebookUsed, Score};
use crate::vocabulary::{
    CivilDate, Confidence, Effect, Instant, Language, Reference, Setting, Skin, Treatment, Verdict,
    Zone, words,
};

words! {
    /// Who has to do something.
    Who, "doer" {
        /// The client.
        Client = "client",
        /// The artist.
        Artist = "artist",
        /// The studio.
        Studio = "studio",
        /// The client's own doctor, specialist or prescriber.
        Doctor = "doctor",
    }
}

words! {
    /// What became of an answer.
    AnswerState, "state of an answer" {
        /// It counts.
        Used = "used",
        /// It is asked again: too old by the day of the visit, or asked for
        /// another area. What was a risk in it goes on counting.
        Stale = "stale",
        /// This treatment does not ask for it.
        NotAsked = "not_asked",
        /// It was left out: there is no such question any more, or it no longer
        /// fits it or what else was told.
        NotUsed = "not_used",
        /// It is kept, and graver than what was sent: it counts until somebody
        /// corrects the client's record.
        Contradicts = "contradicts",
    }
}

/// May this client have this treatment on this day, with which needle, and
/// what must happen first?
#[sent(free)]
pub struct AppointmentCheckRequest {
    /// The booking, by the caller's own reference.
    pub booking_ref: Reference,
    /// The client; what is kept of them counts where this request is silent.
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// What the result should look like.
    pub effect: Effect,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// Where it is to be; the artist's branch if absent.
    pub branch_ref: Option<Reference>,
    /// The zone whose calendar counts; the branch's or the studio's if absent.
    pub zone: Option<Zone>,
    /// The artist; gives the hand and the practice.
    pub artist_ref: Option<Reference>,
    /// The machine; gives stroke, rate and give.
    pub machine_ref: Option<Reference>,
    /// Date of birth; needed here or with the client.
    pub born_on: Option<CivilDate>,
    /// Answers to the screening questions, by question id. What remains, a keloid
    /// for good, a medicine for its days, is kept with the client too.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    #[garde(length(max = MOST_ANSWERS))]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answers: Answers,
    /// The skin; counts before what is kept of the client.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// The circumstances; counts before artist and machine.
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// The studio's skin test. Without one the list says by when it can be made.
    #[garde(dive)]
    pub patch_test: Option<PatchTestTold>,
    /// The bottles of pigment that will be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 20), dive)]
    pub pigments: Vec<PigmentTold>,
    /// Needles to choose from: `drawer` (if absent), `usual`, or label texts.
    pub candidates: Option<NeedleSource>,
    /// How many needles to tell, 1 to 20, of those that suit and of those that were set
    /// aside; 5 and 20 if absent. No verdict and no order depends on it.
    #[garde(range(min = 1, max = 20))]
    pub limit: Option<u16>,
    /// Findings that somebody answers for. The law cannot be overridden.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 50), dive)]
    pub overrides: Vec<Override>,
}

/// The check's answer. It is kept as given.
#[told]
pub struct AppointmentCheck {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: Instant,
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// What the result should look like.
    pub effect: Effect,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// The zone whose calendar counts.
    pub zone: Zone,
    /// The appointment's local date.
    pub on: CivilDate,
    /// The language that its sentences are in; absent in checks of before it was
    /// noted.
    pub language: Option<Language>,
    /// The outcome.
    pub verdict: Open<Verdict>,
    /// The outcome in a few sentences, to be read aloud.
    pub summary: String,
    /// If it is `hold`, or somebody else must look first: not before this day.
    /// Absent while a hold waits for an event or a person.
    pub hold_until: Option<CivilDate>,
    /// The latest day that any hold names. It is no day to book while
    /// `hold_until` is absent: something else has to come first.
    pub not_before: Option<CivilDate>,
    /// Every rule that spoke.
    pub findings: Vec<Finding>,
    /// Questions that still want an answer, by id.
    pub unanswered: Vec<String>,
    /// Which answers were heard, from when, and what became of each; in the order
    /// of the questions.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answers_used: Vec<AnswerUsed>,
    /// The caution score.
    pub score: Score,
    /// Which rules were applied.
    pub rulebook: RulebookUsed,
    /// Which needle, and why; without one where the drawer holds nothing.
    pub needles: Option<CheckNeedles>,
    /// Whether the skin test counts; absent in checks of before there was one.
    pub patch_test: Option<PatchTestCheck>,
    /// Whether the bottles may be used, in the order of the request.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pigments: Vec<PigmentCheck>,
    /// Sessions of this client in this area that the studio has on record,
    /// newest first; at most ten. They count also where the answers differ.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub previous_sessions: Vec<PreviousSession>,
    /// Whether artist, machine, drawer and skin are ready.
    pub readiness: Vec<Readiness>,
    /// What must happen, by whom and by when, soonest first.
    pub todo: Vec<TodoItem>,
    /// What would follow if it goes ahead.
    pub aftercare: AftercarePlan,
    /// The usual cautions.
    pub cautions: Vec<String>,
    /// What differs from the booking's check before.
    pub changes: Option<Changes>,
    /// Where it is to be; `unassigned` if nothing says.
    pub branch_ref: Option<Reference>,
    /// What says so.
    pub branch_from: Option<Open<BranchFrom>>,
}

/// An answer that was heard, and what became of it.
#[told]
pub struct AnswerUsed {
    /// The question.
    pub question: String,
    /// What was answered.
    pub answer: Answer,
    /// The day on which it was given.
    pub given_on: Option<CivilDate>,
    /// The treatment it was asked for, if anybody said.
    pub for_treatment: Option<Treatment>,
    /// Whether it was kept with the client and not sent with the check.
    pub kept: bool,
    /// What became of it.
    pub state: Open<AnswerState>,
    /// Options that may be so by now, or that nobody was asked about.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub open: Vec<String>,
    /// The last day on which it still reassures; absent if it does not age.
    pub good_until: Option<CivilDate>,
}

/// A session that the studio has on record.
#[told]
pub struct PreviousSession {
    /// The treatment; absent where the token that asked does not reach it.
    pub treatment_id: Option<Uuid>,
    /// Its local date.
    pub on: CivilDate,
    /// Days from it to the appointment.
    pub days_before: i32,
}

/// One thing that has to happen.
#[told]
pub struct TodoItem {
    /// A stable key, for messages of the caller's own.
    pub key: String,
    /// What, in words.
    pub text: String,
    /// Who.
    pub who: Open<Who>,
    /// The latest day.
    pub due: Option<CivilDate>,
    /// Whether that day is past already.
    pub late: bool,
    /// The rule or the part of the check it comes from.
    pub from: String,
}

/// Whether something is ready for the appointment.
#[told]
pub struct Readiness {
    /// `drawer`, `practice`, `artist`, `client`, `booked`, `machine` or `healing`.
    pub about: String,
    /// Whether it is.
    pub ready: bool,
    /// Why, in words.
    pub because: String,
    /// How sure that is.
    pub confidence: Confidence,
}

/// What differs between two checks of one booking.
#[told]
pub struct Changes {
    /// The check it is compared with.
    pub since: Uuid,
    /// What differs; empty if nothing that matters does.
    pub differences: Vec<Difference>,
}

/// One difference.
#[told]
pub struct Difference {
    /// Which part: `verdict`, `hold_until`, `findings`, `answers`, `needles`,
    /// `lots`, `first_needle`, `score`, `rulebook`, `unanswered`, `patch_test`,
    /// `pigments`, `readiness`, `record`, `client`, `todo`.
    pub part: String,
    /// What it was.
    pub before: String,
    /// What it is now.
    pub now: String,
    /// Why, as far as it can be told.
    pub because: String,
}

/// A stored check, computed again.
#[told]
pub struct Replay {
    /// The check.
    pub check_id: Uuid,
    /// When it was computed again.
    pub replayed_at: Instant,
    /// Whether nothing that matters differs.
    pub same: bool,
    /// What differs, and why.
    pub differences: Vec<Difference>,
    /// What the verdict would be today.
    pub verdict: Open<Verdict>,
}

/// Which checks to list.
#[asked(Default, Eq)]
pub struct CheckQuery {
    /// Only checks of this booking, in the order in which they were made.
    pub booking_ref: Option<Reference>,
    /// Only checks of this client.
    pub client_ref: Option<Reference>,
    /// Only checks that name this artist. Checks of before 0.2 are not found by it.
    pub artist_ref: Option<Reference>,
    /// Only of this branch, by its calendar; `unassigned`: of none.
    pub branch_ref: Option<Reference>,
    /// Only appointments on or after this day of the studio's calendar.
    pub from: Option<CivilDate>,
    /// Only appointments on or before this day of the studio's calendar.
    pub to: Option<CivilDate>,
    /// Only checks with this verdict; repeated: with one of these.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 10))]
    pub verdict: Vec<Verdict>,
    /// Only those that offer a lot of this configuration, canonical or as a label has it.
    #[schemars(length(min = 1, max = 120))]
    pub configuration: Option<String>,
    /// Only those that offer a lot of this maker, however it is spelled.
    #[schemars(length(min = 1, max = 80))]
    pub maker: Option<String>,
    /// `true`: each row has its `summary`, in the language of `Accept-Language` if it can be made
    /// anew, else in that of the check.
    pub short: Option<bool>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A check in a list. Read the check for the rest.
#[told]
pub struct CheckRow {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: Instant,
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// The artist, if the check names one; not told of checks of before 0.2.
    pub artist_ref: Option<Reference>,
    /// What was found; absent if the client was erased since.
    pub verdict: Option<Open<Verdict>>,
    /// The check in its few lines, if `short` asks for it.
    pub summary: Option<CheckSummary>,
    /// Where it is to be.
    pub branch_ref: Option<Reference>,
}
