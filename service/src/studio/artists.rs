//! Artists: how firmly they work and what they have practised.

use etui_schema::artists::{Artist, ArtistRecord, Practice};
use etui_schema::vocabulary::{Hand, Instant, Reference};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::documents::Document;
use super::sent_back::SentBack;
use crate::store::Space;
use crate::store::record::Record;

/// An artist as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredArtist {
    artist_ref: Reference,
    hand: Hand,
    practice: Vec<Practice>,
    version: u64,
    updated_at: Instant,
}

impl StoredArtist {
    /// How firmly the artist works.
    #[must_use]
    pub fn hand(&self) -> Hand {
        self.hand
    }

    /// What the artist has practised.
    #[must_use]
    pub fn practice(&self) -> &[Practice] {
        &self.practice
    }
}

impl Record for StoredArtist {
    const KIND: &'static str = "artist";
    const VERSION: u32 = 1;
}

impl Document for StoredArtist {
    const SPACE: Space = Space::new("artists");
    const WHAT: &'static str = "artist";
    const REFERENCE: &'static str = "artist_ref";
    type Request = ArtistRecord;
    type Answer = Artist;

    fn sent_back(request: &ArtistRecord) -> SentBack<'_> {
        let ArtistRecord { artist_ref: reference, version, updated_at, .. } = request;
        SentBack { reference: reference.as_ref(), version: *version, updated_at: *updated_at }
    }

    fn of(reference: &Reference, request: &ArtistRecord, version: u64, at: Timestamp) -> Self {
        let ArtistRecord { hand, practice, artist_ref: _, version: _, updated_at: _ } =
            request.clone();
        Self { artist_ref: reference.clone(), hand, practice, version, updated_at: Instant(at) }
    }

    fn stamp(&self) -> (u64, Instant) {
        (self.version, self.updated_at)
    }

    fn answer(&self) -> Artist {
        let Self { artist_ref, hand, practice, version, updated_at } = self.clone();
        Artist { artist_ref, hand, practice, version, updated_at }
    }
}
