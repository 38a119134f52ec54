//! The pre-appointment check: the main job in one call.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::vocabulary::{Instant, Reference, Treatment};

/// Which checks to list.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckQuery {
    /// Only checks of this booking.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub booking_ref: Option<Reference>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A check in a list: what is not health data. Read the check for the rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckRow {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: Instant,
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// When the appointment starts.
    pub starts_at: Instant,
}
