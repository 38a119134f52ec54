//! Clients: a pseudonymous reference, a skin, answers. No name is needed.

use garde::Validate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::answers::{Answers, MOST_ANSWERS};
use crate::vocabulary::{CivilDate, Instant, Language, Reference, Skin, Zone};

/// What is kept of a client. Health answers and the skin are sealed under a
/// key of this client.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
pub struct ClientRecord {
    /// Date of birth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub born_on: Option<CivilDate>,
    /// What is known of the skin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Answers to the screening questions, by question id.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    #[garde(length(max = MOST_ANSWERS))]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answers: Answers,
    /// Language of messages to the client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub language: Option<Language>,
    /// The client's time zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub zone: Option<Zone>,
}

/// A client as stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Client {
    /// The caller's own reference.
    pub client_ref: Reference,
    /// Date of birth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub born_on: Option<CivilDate>,
    /// What is known of the skin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub skin: Option<Skin>,
    /// Answers to the screening questions, by question id.
    pub answers: Answers,
    /// Language of messages to the client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<Language>,
    /// The client's time zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zone: Option<Zone>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}

/// What was done to forget a client.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ErasureReceipt {
    /// The reference, which stays in trace records as the law wants.
    pub client_ref: Reference,
    /// When the key was destroyed.
    pub erased_at: Instant,
    /// What can no longer be read by anyone.
    pub unreadable: String,
    /// What stays, and why.
    pub kept: String,
}
