//! Reminders: due messages, shared among scripts.

use crate::kinds::{asked, sent, told};
use uuid::Uuid;

use crate::open::Open;
use crate::vocabulary::aftercare::StepKind;
use crate::vocabulary::{Instant, Reference, Treatment, words};

words! {
    /// Where a reminder is on its way.
    ReminderState, "reminder state" {
        /// Waits for its time, or for a claim.
        Scheduled = "scheduled",
        /// A script holds it; when the lease has run out it can be claimed again.
        Leased = "leased",
        /// Held back while a symptom report of this client's treatment is open;
        /// no claim gets it. It goes on, or is overtaken, when the report is settled.
        Paused = "paused",
        /// Held back after a restore, because the store that was lost may have sent it, or
        /// because the client wants no messages; no claim gets it until a person releases it (`POST /v1/reminder-releases`).
        Held = "held",
        /// Sent.
        Delivered = "delivered",
        /// Could not be sent, and is not tried again.
        Failed = "failed",
        /// Left out on purpose.
        Skipped = "skipped",
        /// Its time had passed; it is not sent any more.
        Overtaken = "overtaken",
        /// A later session of the same treatment took its place, or its record was struck.
        Cancelled = "cancelled",
    }
}

words! {
    /// What became of a claimed reminder.
    ReminderOutcome, "outcome" {
        /// Sent.
        Delivered = "delivered",
        /// Could not be sent; `reason` says why.
        Failed = "failed",
        /// Left out on purpose.
        Skipped = "skipped",
    }
}

words! {
    /// Why a reminder could not be sent.
    FailureReason, "failure reason" {
        /// There is no address, or a wrong one.
        NoAddress = "no_address",
        /// The client does not want messages: all that are still to come to her are held,
        /// also those of later treatments, until a person releases one.
        Unwanted = "unwanted",
        /// The carrier refused it.
        Refused = "refused",
        /// The carrier could not be reached.
        Unreachable = "unreachable",
        /// Something else.
        Other = "other",
    }
}

words! {
    /// What is to become of reminders that are held.
    ReleaseDecision, "decision" {
        /// Send it: it can be claimed again, with `maybe_sent`.
        Send = "send",
        /// Leave it out: it was sent, or is not wanted any more.
        Skip = "skip",
    }
}

/// A message to a client.
#[told(Eq)]
pub struct Reminder {
    /// Its id.
    pub id: Uuid,
    /// The treatment it belongs to.
    pub treatment_id: Uuid,
    /// Whom it is for.
    pub client_ref: Reference,
    /// What was treated.
    pub treatment: Treatment,
    /// Key of the step of the aftercare plan.
    pub key: String,
    /// What the step is.
    pub kind: Open<StepKind>,
    /// What to send, in the client's language, at most 500 characters.
    pub text: String,
    /// When it is due; what would go out by night, in the morning.
    pub due_at: Instant,
    /// The same in the client's zone, with its offset.
    #[schemars(extend("format" = "date-time"))]
    pub local: String,
    /// From this instant on it is overtaken.
    pub latest: Instant,
    /// Where it is on its way.
    pub state: Open<ReminderState>,
    /// How often it was claimed.
    pub attempts: u32,
    /// Whether an earlier claim ran out without an outcome, or the store was restored
    /// since it was due: whoever held it may have sent it.
    pub maybe_sent: bool,
    /// How often it was reported as delivered; more than once if two scripts
    /// sent it.
    pub deliveries: u32,
    /// The claim that holds it.
    pub lease: Option<Lease>,
    /// Why it could not be sent.
    pub reason: Option<FailureReason>,
    /// When it came to its end.
    pub closed_at: Option<Instant>,
    /// The branch of the treatment.
    pub branch_ref: Option<Reference>,
}

/// Who holds a reminder, and how long.
#[told(Copy, Eq)]
pub struct Lease {
    /// The claim.
    pub claim_id: Uuid,
    /// When it ends.
    pub until: Instant,
}

/// Which reminders to list: by the time they are due, or, of one treatment, by their ids.
#[asked(Default, Eq)]
pub struct ReminderQuery {
    /// In this state; repeated: in one of these, state by state. `scheduled` if absent.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 10))]
    pub state: Vec<ReminderState>,
    /// Only of this branch, by its calendar; `unassigned`: of none.
    pub branch_ref: Option<Reference>,
    /// Due at this instant or later.
    pub due_from: Option<Instant>,
    /// Due before this instant.
    pub due_before: Option<Instant>,
    /// Only to this client.
    pub client_ref: Option<Reference>,
    /// Only of this treatment.
    pub treatment_id: Option<Uuid>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A claim on due reminders.
#[sent(Copy, Eq)]
pub struct ReminderClaimRequest {
    /// At most this many, 1 to 200.
    #[garde(range(min = 1, max = 200))]
    pub limit: u16,
    /// How long nobody else gets them, 10 seconds to an hour. Report before it
    /// ends: then they can be claimed again.
    #[garde(range(min = 10, max = 3600))]
    pub lease_seconds: u16,
}

/// What was claimed.
#[told(Eq)]
pub struct ReminderClaim {
    /// Its id; outcomes name it. Absent where nothing was claimed.
    pub claim_id: Option<Uuid>,
    /// When the lease ends.
    pub until: Instant,
    /// The reminders, those that were due first first.
    pub reminders: Vec<Reminder>,
    /// How many were closed as overtaken on the way.
    pub overtaken: u32,
    /// Whether more may be due: claim again.
    pub more: bool,
}

/// A claim that holds something.
#[told(Copy, Eq)]
pub struct HeldClaim {
    /// The claim.
    pub claim_id: Uuid,
    /// When the lease ends.
    pub until: Instant,
    /// How many reminders it holds.
    pub reminders: u32,
}

/// What a claim holds is to be kept for longer.
#[sent(Copy, Eq)]
pub struct ClaimExtensionRequest {
    /// How long from now on nobody else gets them, 10 seconds to an hour.
    #[garde(range(min = 10, max = 3600))]
    pub lease_seconds: u16,
}

/// A claim that was extended.
#[told(Eq)]
pub struct ClaimExtension {
    /// The claim.
    pub claim_id: Uuid,
    /// When the lease ends now.
    pub until: Instant,
    /// The reminders that it still holds. One that is absent had run out, or came to its end.
    pub reminders: Vec<Uuid>,
}

/// What a claim holds is given back, since it was not sent.
#[sent(Default, Eq)]
pub struct ClaimReturnRequest {
    /// Which reminders, 1 to 200; all that the claim holds if absent.
    #[garde(length(min = 1, max = 200))]
    pub reminders: Option<Vec<Uuid>>,
}

/// What was given back.
#[told(Eq)]
pub struct ClaimReturn {
    /// The claim.
    pub claim_id: Uuid,
    /// When.
    pub returned_at: Instant,
    /// What became of each reminder, in the order of the request.
    pub outcomes: Vec<ReturnOutcome>,
}

/// What became of one reminder that was to be given back.
#[told(Eq)]
pub struct ReturnOutcome {
    /// The reminder.
    pub reminder_id: Uuid,
    /// Whether the claim held it, and does not any more.
    pub returned: bool,
    /// Where it is now; absent if the claim did not hold it.
    pub state: Option<Open<ReminderState>>,
}

/// What became of a reminder.
#[sent(Copy, Eq, free)]
pub struct OutcomeRequest {
    /// The claim under which it was held.
    pub claim_id: Uuid,
    /// What became of it.
    pub outcome: ReminderOutcome,
    /// Why it could not be sent; with `failed` only.
    pub reason: Option<FailureReason>,
    /// After a failure: due again in so many seconds, a minute to a week, if it
    /// is not overtaken by then.
    #[garde(range(min = 60, max = 604_800))]
    pub retry_after_seconds: Option<u32>,
}

/// What an outcome changed.
#[told(Eq)]
pub struct OutcomeReceipt {
    /// The reminder.
    pub reminder_id: Uuid,
    /// Where it is now.
    pub state: Open<ReminderState>,
    /// Whether the lease had ended, or another claim held it: it may have been
    /// sent twice.
    pub late: bool,
    /// How often it was reported as delivered.
    pub deliveries: u32,
    /// When it is due again, after a failure that is tried again.
    pub due_at: Option<Instant>,
}

/// What a person decided about reminders that are held.
#[sent(Eq, free)]
pub struct ReminderReleaseRequest {
    /// What is to become of them.
    pub decision: ReleaseDecision,
    /// The reminders, 1 to 200. One that is named twice is released once.
    #[garde(length(min = 1, max = 200))]
    pub reminders: Vec<Uuid>,
}

/// What became of a release.
#[told(Eq)]
pub struct ReminderRelease {
    /// When.
    pub released_at: Instant,
    /// What became of each reminder, in the order of the request.
    pub outcomes: Vec<ReleaseOutcome>,
}

/// What became of one reminder of a release.
#[told(Eq)]
pub struct ReleaseOutcome {
    /// The reminder.
    pub reminder_id: Uuid,
    /// Whether it was held, and is not any more.
    pub released: bool,
    /// Where it is now: one whose time has passed is `overtaken`, one that waits for a
    /// symptom report is `paused`. Absent if there is no such reminder.
    pub state: Option<Open<ReminderState>>,
}
