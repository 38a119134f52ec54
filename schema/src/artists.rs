//! Artists: how firmly they work and what they have practised.

use crate::kinds::{sent, told};
use crate::vocabulary::{ArtistStanding, CivilDate, Configuration, Hand, Instant, Reference};

/// What is kept of an artist. No name is needed.
#[sent(free)]
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
    /// How the artist stands; as before if absent, and `artist` at first. That a
    /// student is one no longer says only a token with `admin`.
    pub standing: Option<ArtistStanding>,
    /// Whether the artist signs off others; as before if absent. Only a token with
    /// `admin` changes it.
    pub trainer: Option<bool>,
    /// Since when the artist holds her own licence; as before if absent. The law of a
    /// place may ask so many years of whoever trains. Only a token with `admin` changes it.
    pub licensed_on: Option<CivilDate>,
    /// Her branch; as before if absent.
    pub branch_ref: Option<Reference>,
}

/// One practised configuration.
#[sent(free)]
pub struct Practice {
    /// What was practised.
    #[garde(dive)]
    pub configuration: Configuration,
    /// When.
    pub on: CivilDate,
    /// Who is told to have signed it off, by the studio's reference. It is told, and
    /// signs nothing: sign-offs are given at `/v1/sign-offs`.
    pub signed_off_by: Option<Reference>,
}

/// An artist as stored.
#[told]
pub struct Artist {
    /// The studio's reference.
    pub artist_ref: Reference,
    /// How firmly the artist works.
    pub hand: Hand,
    /// Configurations practised outside a face.
    pub practice: Vec<Practice>,
    /// How the artist stands.
    pub standing: ArtistStanding,
    /// Whether the artist signs off others.
    pub trainer: bool,
    /// Since when the artist holds her own licence, if that was told.
    pub licensed_on: Option<CivilDate>,
    /// Her branch.
    pub branch_ref: Option<Reference>,
    /// Counts the changes, from 1.
    pub version: u64,
    /// When it was last changed.
    pub updated_at: Instant,
}
