//! A sign-off as it is kept.
//!
//! Who signed what for whom and until when lies open, as treatments and checks
//! point to it. What was written beside it is sealed under the studio's key.

use etui_craft::training::SignedOff;
use etui_schema::sign_offs::{Covers, SignOff, Withdrawal};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Rung};
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{BY_ARTIST, SIGN_OFFS, artist_hash};
use crate::store::Space;
use crate::store::record::{Record, RecordError};
use crate::store::seal::Sealed;
use crate::store::studio_seal::StudioSeal;
use crate::store::verify::{IndexEntries, Indexed};
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::opener::{Opener, Verified};

/// A sign-off as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredSignOff {
    /// Its id.
    pub id: Uuid,
    /// Who is signed off.
    pub artist_ref: Reference,
    /// For what.
    pub covers: Covers,
    /// How far it goes.
    pub rung: Rung,
    /// Who signed.
    pub signed_by: Reference,
    /// When.
    pub signed_at: Instant,
    /// Its last day.
    pub valid_until: CivilDate,
    /// When it was taken back and by whom.
    pub withdrawn: Option<StoredWithdrawal>,
    /// What was written beside it.
    words: Sealed,
    /// Counts the changes, from 1.
    pub version: u64,
}

/// That a sign-off was taken back.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredWithdrawal {
    /// When.
    pub at: Instant,
    /// By whom.
    pub by: Reference,
}

/// What people wrote.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Words {
    /// Beside the sign-off.
    pub note: Option<String>,
    /// Why it was taken back.
    pub reason: Option<String>,
}

impl Words {
    /// Seals them for the sign-off of an id.
    ///
    /// # Errors
    /// [`Error::Internal`] if they cannot be sealed.
    pub fn sealed(&self, seal: &StudioSeal, moment: &Moment, id: Uuid) -> Result<Sealed, Error> {
        let unwritable = |_| RecordError::Unwritable { kind: StoredSignOff::KIND };
        let text = serde_json::to_vec(self).map_err(unwritable)?;
        let place = (SIGN_OFFS, id.as_bytes().as_slice());
        seal.seal(place, &text, &mut moment.entropy())
            .map_err(|error| Error::Internal(error.to_string()))
    }
}

impl StoredSignOff {
    /// The sign-off after it was taken back.
    #[must_use]
    pub fn taken_back(self, at: Instant, by: Reference, words: Sealed) -> Self {
        let version = self.version + 1;
        Self { withdrawn: Some(StoredWithdrawal { at, by }), words, version, ..self }
    }

    /// What was written beside it.
    ///
    /// # Errors
    /// [`Error::Unreadable`].
    pub fn words(&self, seal: &StudioSeal) -> Result<Words, Error> {
        let place = (SIGN_OFFS, self.id.as_bytes().as_slice());
        let open = seal.open(place, &self.words).map_err(|e| Error::Unreadable(e.to_string()))?;
        let unreadable = |_| Error::Unreadable("the words of a sign-off".to_owned());
        serde_json::from_slice(&open).map_err(unreadable)
    }

    /// What a caller gets.
    ///
    /// # Errors
    /// As [`StoredSignOff::words`].
    pub fn answer(&self, seal: &StudioSeal) -> Result<SignOff, Error> {
        let Words { note, reason } = self.words(seal)?;
        let Self {
            id,
            artist_ref,
            covers,
            rung,
            signed_by,
            signed_at,
            valid_until,
            withdrawn,
            words: _,
            version: _,
        } = self.clone();
        let withdrawn = withdrawn.map(|StoredWithdrawal { at, by }| Withdrawal {
            at,
            by,
            reason: reason.unwrap_or_default(),
        });
        Ok(SignOff {
            id,
            artist_ref,
            covers,
            rung,
            signed_by,
            signed_at,
            valid_until,
            note,
            withdrawn,
        })
    }

    /// The trainer's word as the craft weighs it, by the studio's calendar.
    #[must_use]
    pub fn weighed(&self, zone: &TimeZone) -> SignedOff {
        SignedOff {
            covers: self.covers,
            rung: self.rung,
            from: zone.to_datetime(self.signed_at.0).date(),
            until: self.valid_until.0,
            is_withdrawn: self.withdrawn.is_some(),
            is_in_doubt: false,
        }
    }
}

impl Record for StoredSignOff {
    const KIND: &'static str = "sign-off";
    const VERSION: u32 = 1;
}

impl Verified for StoredSignOff {
    const SPACE: Space = SIGN_OFFS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_ARTIST.space())];

    fn rows(&self, _: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        let seal = opener.keyring.studio_seal();
        self.words(&seal).map_err(|_| "what is written beside it does not open".to_owned())?;
        let artist = artist_hash(&opener.keyring.index_key(), &self.artist_ref);
        Ok(vec![BY_ARTIST.row(&(artist, self.id))])
    }
}

/// What is written down of a new one.
pub(super) struct Given {
    pub(super) id: Uuid,
    pub(super) artist_ref: Reference,
    pub(super) covers: Covers,
    pub(super) rung: Rung,
    pub(super) signed_by: Reference,
    pub(super) signed_at: Instant,
    pub(super) valid_until: CivilDate,
}

impl Given {
    pub(super) fn with(self, words: Sealed) -> StoredSignOff {
        let Self { id, artist_ref, covers, rung, signed_by, signed_at, valid_until } = self;
        StoredSignOff {
            id,
            artist_ref,
            covers,
            rung,
            signed_by,
            signed_at,
            valid_until,
            withdrawn: None,
            words,
            version: 1,
        }
    }
}
