//! A sign-off as it is kept.
//!
//! Who signed what for whom and until when lies open, as treatments and checks
//! point to it. What was written beside it is sealed under the key of the artist who was
//! signed off, and goes with it; former builds sealed it under the studio's.

use etui_craft::training::SignedOff;
use etui_schema::sign_offs::{Covers, SignOff, Withdrawal};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Rung};
use jiff::Timestamp;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::{BY_ARTIST, SIGN_OFFS, artist_hash};
use crate::store::Space;
use crate::store::record::Record;
use crate::store::seal::Sealed;
use crate::store::studio_seal::StudioSeal;
use crate::store::verify::{IndexEntries, Indexed};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::opener::{Opener, Verified};
use crate::studio::plan::to_json;
use crate::studio::vault::{self, Access, Subject};

/// The field of what was written beside a sign-off.
const WORDS: &str = "words";

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
    /// Whether the artist's key seals that, and not the studio's.
    #[serde(default)]
    is_hers: bool,
    /// Whether it was in doubt when the results that say so were forgotten.
    #[serde(default)]
    pub is_doubted: bool,
    /// What the watch over healed results came to at the last of them: those of a client who
    /// is forgotten count in it.
    #[serde(default)]
    pub watched: f64,
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
    /// Seals them for the sign-off of an id, with the artist's key.
    ///
    /// # Errors
    /// [`Error::Internal`] if they cannot be sealed.
    pub fn sealed(&self, access: &Access, moment: &Moment, id: Uuid) -> Result<Sealed, Error> {
        access.seal(moment, (SIGN_OFFS, id.as_bytes().as_slice(), WORDS), self)
    }
}

impl StoredSignOff {
    /// Whose key seals what was written beside it.
    #[must_use]
    pub fn subject(&self) -> Subject {
        Subject::Artist(self.artist_ref.clone())
    }

    /// The sign-off after it was taken back.
    #[must_use]
    pub fn taken_back(self, at: Instant, by: Reference, words: Sealed) -> Self {
        let (version, is_hers) = (self.version + 1, true);
        Self { withdrawn: Some(StoredWithdrawal { at, by }), words, is_hers, version, ..self }
    }

    /// The sign-off of a former build without what was written beside it, if something
    /// was.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be sealed.
    pub fn without_words(&self, seal: &StudioSeal, moment: &Moment) -> Result<Option<Self>, Error> {
        let nothing = Words::default();
        if self.is_hers || self.by_studio(seal).is_ok_and(|words| words == nothing) {
            return Ok(None);
        }
        let text = to_json(&nothing)?;
        let place = (SIGN_OFFS, self.id.as_bytes().as_slice());
        let words = seal.seal(place, &text, &mut moment.entropy())?;
        Ok(Some(Self { words, ..self.clone() }))
    }

    fn by_studio(&self, seal: &StudioSeal) -> Result<Words, Error> {
        let place = (SIGN_OFFS, self.id.as_bytes().as_slice());
        let open = seal.open(place, &self.words)?;
        let unreadable = |_| Error::Unreadable("the words of a sign-off".to_owned());
        serde_json::from_slice(&open).map_err(unreadable)
    }

    /// What was written beside it; `None` if her practice was forgotten since.
    ///
    /// # Errors
    /// [`Error::Unreadable`]; what the store met.
    pub async fn words(&self, studio: &Studio, snap: &mut Snap) -> Result<Option<Words>, Error> {
        if !self.is_hers {
            return self.by_studio(&studio.keyring.studio_seal()).map(Some);
        }
        let access = vault::for_read(studio, snap, &self.subject()).await?;
        let Some(access) = access else { return Ok(None) };
        let place = (SIGN_OFFS, self.id.as_bytes().as_slice(), WORDS);
        access.open(place, self.sealed_at(), &self.words)
    }

    fn sealed_at(&self) -> Timestamp {
        self.withdrawn.as_ref().map_or(self.signed_at, |withdrawn| withdrawn.at).0
    }

    /// What a caller gets, with what was written beside it.
    #[must_use]
    pub fn answer(&self, Words { note, reason }: Words) -> SignOff {
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
            is_hers: _,
            is_doubted: _,
            watched: _,
            version: _,
        } = self.clone();
        let withdrawn = withdrawn.map(|StoredWithdrawal { at, by }| Withdrawal {
            at,
            by,
            reason: reason.unwrap_or_default(),
        });
        SignOff { id, artist_ref, covers, rung, signed_by, signed_at, valid_until, note, withdrawn }
    }

    /// The trainer's word as the craft weighs it, by the studio's calendar.
    #[must_use]
    pub fn weighed(&self, zone: &TimeZone) -> SignedOff {
        SignedOff {
            covers: self.covers,
            rung: self.rung,
            from: zone.to_datetime(self.signed_at.0).date(),
            until: self.valid_until.0,
            given_at: Some(self.signed_at.0),
            is_withdrawn: self.withdrawn.is_some(),
            withdrawn_at: self.withdrawn.as_ref().map(|withdrawn| withdrawn.at.0),
            is_in_doubt: self.is_doubted,
        }
    }
}

impl Record for StoredSignOff {
    const KIND: &'static str = "sign-off";
}

impl Verified for StoredSignOff {
    const SPACE: Space = SIGN_OFFS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_ARTIST.space())];

    fn rows(&self, key: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        if self.is_hers {
            let client = self.subject().id_in(opener.keyring);
            opener.look(&client, (SIGN_OFFS, key, WORDS), self.sealed_at(), &self.words)?;
        } else {
            let opens = self.by_studio(&opener.keyring.studio_seal());
            opens.map_err(|_| "what is written beside it does not open".to_owned())?;
        }
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
            is_hers: true,
            is_doubted: false,
            watched: 0.0,
            version: 1,
        }
    }
}
