//! Why a healed result cannot be judged, and where that stands.

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::ReviewZone;
use jiff::Timestamp;

/// Why a healed result cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReviewError {
    /// Looked at before it was done.
    #[error(
        "the review of {reviewed_at} lies before the treatment of {performed_at}; it must not be earlier"
    )]
    BeforeTreatment {
        /// When it is looked at.
        reviewed_at: Timestamp,
        /// When the session was.
        performed_at: Timestamp,
    },
    /// No part was told.
    #[error("no part was judged; at least one is needed, `whole` if they are all alike")]
    NothingKept,
    /// A part that this treatment does not have.
    #[error("`{zone}` is no part of {treatment}; accepted: {accepted}")]
    Zone {
        /// Its place in the list.
        index: usize,
        /// Which one.
        zone: ReviewZone,
        /// Of what.
        treatment: Treatment,
        /// What would be accepted.
        accepted: String,
    },
    /// The same part twice.
    #[error("`{zone}` is told twice; tell each part once")]
    Twice {
        /// Place of the second one.
        index: usize,
        /// Which one.
        zone: ReviewZone,
    },
    /// The calendar ends before the touch-up.
    #[error("the treatment lies too late in the calendar; years up to 9000 are accepted")]
    OutOfCalendar,
}

impl ReviewError {
    /// Pointer to the field that is at fault.
    #[must_use]
    pub fn pointer(&self) -> String {
        match self {
            Self::BeforeTreatment { .. } => "/reviewed_at".to_owned(),
            Self::NothingKept => "/zones".to_owned(),
            Self::Zone { index, .. } | Self::Twice { index, .. } => format!("/zones/{index}/zone"),
            Self::OutOfCalendar => "/performed_at".to_owned(),
        }
    }
}
