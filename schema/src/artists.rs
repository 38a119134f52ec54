//! Artists: how firmly they work and what they have practised.

use garde::Validate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_with::skip_serializing_none;

use crate::vocabulary::{CivilDate, Configuration, Hand, Instant, Reference};

/// What is kept of an artist. No name is needed.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct ArtistRecord {
    /// How firmly the artist works.
    pub hand: Hand,
    /// Configurations practised outside a face, newest last; at most 500.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 500), dive)]
    pub practice: Vec<Practice>,
    /// As it was read; the path says it.
    pub artist_ref: Option<Reference>,
    /// As it was read; the service counts.
    pub version: Option<u64>,
    /// As it was read; the service sets it.
    pub updated_at: Option<Instant>,
}

/// One practised configuration.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct Practice {
    /// What was practised.
    #[garde(dive)]
    pub configuration: Configuration,
    /// When.
    pub on: CivilDate,
    /// Who signed it off, by the studio's reference; absent while it is not.
    pub signed_off_by: Option<Reference>,
}

/// An artist as stored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Artist {
    /// The studio's reference.
    pub artist_ref: Reference,
    /// How firmly the artist works.
    pub hand: Hand,
    /// Configurations practised outside a face.
    pub practice: Vec<Practice>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}
