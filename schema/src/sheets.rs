//! The short view of a check, and pages to be printed.

use crate::kinds::{asked, told};
use uuid::Uuid;

use crate::open::Open;
use crate::vocabulary::{CivilDate, Effect, Instant, Language, Reference, Treatment, Verdict};
use crate::words::words;

words! {
    /// For whom a page is.
    SheetFor, "reader" {
        /// What the client does before she comes.
        Client = "client",
        /// What the studio does, and with which needle.
        Studio = "studio",
    }
}

/// A check in its few lines. It says as much as the check does: what stands
/// only there is counted.
#[told]
pub struct CheckSummary {
    /// The check.
    pub check_id: Uuid,
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
    /// The appointment's local date.
    pub on: CivilDate,
    /// When it was made: what was answered or found since is not in it.
    pub made_at: Instant,
    /// The language that the sentences are in.
    pub language: Language,
    /// The outcome.
    pub verdict: Open<Verdict>,
    /// The outcome in one or two sentences, as the client is told.
    pub says: String,
    /// The same for the studio, with what it hangs on.
    pub says_studio: String,
    /// As in the check.
    pub hold_until: Option<CivilDate>,
    /// As in the check.
    pub not_before: Option<CivilDate>,
    /// What the client is told more: at most four sentences, what is graver first.
    #[schemars(length(max = 4))]
    pub client: Vec<String>,
    /// What the studio has to do, soonest first.
    pub studio: Vec<SummaryTask>,
    /// The needles that suit best, at most three: the first of the ranking, in its order.
    #[schemars(length(max = 3))]
    pub needles: Vec<SummaryNeedle>,
    /// What to mind with each of these needles.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mind: Vec<String>,
    /// What to bear in mind with every answer.
    pub caution: Option<String>,
}

/// One thing the studio has to do.
#[told]
pub struct SummaryTask {
    /// What, in words.
    pub text: String,
    /// The latest day.
    pub due: Option<CivilDate>,
    /// Whether that day is past already.
    pub late: bool,
}

/// One needle in a line.
#[told]
pub struct SummaryNeedle {
    /// The configuration in canonical text.
    pub canonical: String,
    /// Why, and what to mind first.
    pub line: String,
    /// Lots of the drawer with it that may still be used, first expired first.
    pub lot_ids: Vec<Uuid>,
}

/// For whom a page is.
#[asked(Default, Eq)]
pub struct SheetQuery {
    /// For whom; the client if absent.
    #[serde(rename = "for")]
    pub audience: Option<SheetFor>,
}
