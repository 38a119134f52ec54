//! Retention: how long records are kept, what a sweep would remove, and what
//! it removed.

use crate::kinds::{sent, told};
use crate::open::Open;
use crate::vocabulary::{CivilDate, Instant, words};

words! {
    /// A kind of record with a period of its own.
    RecordKind, "record kind" {
        /// Reminders that came to their end.
        Reminders = "reminders",
        /// Checks before an appointment.
        Checks = "checks",
        /// Everything that is sealed of a client: answers, skin, what treatments
        /// say beyond their trace.
        Health = "health",
        /// The trace of treatments: pseudonymous reference, date, lots.
        Traces = "traces",
    }
}

/// What a sweep would remove now.
#[told(Eq)]
pub struct RetentionReport {
    /// The day it is about.
    pub as_of: CivilDate,
    /// Each kind of record with its period.
    pub kinds: Vec<RetentionKind>,
    /// Stands for exactly what one sweep would remove; send it with the sweep.
    pub digest: String,
}

/// One kind of record, its period, and what is past it.
#[told(Eq)]
pub struct RetentionKind {
    /// Which kind.
    pub kind: Open<RecordKind>,
    /// How long it is kept (ISO 8601).
    pub keep_for: String,
    /// What lies before this day is past its period.
    pub before: CivilDate,
    /// What the period counts from, and what a removal means.
    pub means: String,
    /// How many one sweep would remove.
    pub records: u32,
    /// Whether there are more, for further sweeps.
    pub more: bool,
}

/// An order to remove what was looked at.
#[sent(Eq)]
pub struct SweepRequest {
    /// The `digest` under which `GET /v1/retention` showed it.
    #[garde(length(chars, min = 43, max = 43))]
    pub digest: String,
}

/// What a sweep removed, or would remove.
#[told(Eq)]
pub struct Sweep {
    /// When.
    pub swept_at: Instant,
    /// Whether this only says what would happen.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub dry_run: bool,
    /// How many of each kind.
    pub removed: Vec<Removed>,
    /// Whether there are more, for further sweeps.
    pub more: bool,
}

/// How many records of one kind were removed.
#[told(Eq)]
pub struct Removed {
    /// Which kind.
    pub kind: Open<RecordKind>,
    /// How many.
    pub records: u32,
    /// How many could not be removed; the log says why. The next sweep tries again.
    #[serde(default, skip_serializing_if = "is_none")]
    pub failed: u32,
}

fn is_none(count: &u32) -> bool {
    *count == 0
}
