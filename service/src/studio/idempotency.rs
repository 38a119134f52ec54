//! Keys under which a write can be repeated safely.
//!
//! Key = hash(holder, method and path, key). The record holds a fingerprint of
//! the request and how a repeat is answered: the answer itself, or, where it
//! holds something of a client, the record it was stored with, or, where it
//! holds a secret that is shown once, the answer without it. It is written in
//! the same batch as the change, so a repeat never does anything twice.
//!
//! | space | key | value |
//! |---|---|---|
//! | `idempotency` | hash | fingerprint, how a repeat is answered, until when |
//! | `idempotency-by-end` | until when, hash | – |

use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::opener::{Opener, Verified};
use super::plan::{Planned, Repeat};
use crate::store::index::Index;
use crate::store::record::{Record, decode, encode};
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Read, Space};

/// The records.
pub const ATTEMPTS: Space = Space::new("idempotency");
/// Hashes by the end of their time.
pub const BY_END: Index<(Timestamp, [u8; 32])> = Index::new("idempotency-by-end");
/// How long a key is remembered.
pub const KEPT: SignedDuration = SignedDuration::from_hours(24);
/// Attempts that one batch forgets.
const FORGOTTEN: usize = 100;

/// A repeatable request.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Hash of holder, operation and key.
    pub key: [u8; 32],
    /// Hash of the body.
    pub fingerprint: [u8; 32],
}

impl Attempt {
    /// The attempt of one caller with one key at one place.
    #[must_use]
    pub fn new(studio: &Studio, holder: &str, place: &str, key: &str, body: &[u8]) -> Self {
        let parts: [&[u8]; 3] = [holder.as_bytes(), place.as_bytes(), key.as_bytes()];
        Self {
            key: studio.index_key.hash("idempotency", &parts),
            fingerprint: studio.index_key.hash("fingerprint", &[body]),
        }
    }
}

/// What became of an earlier attempt.
#[derive(Debug)]
pub enum Earlier {
    /// There was none, or it is too old. The stored value, for the precondition.
    None(Option<Bytes>),
    /// The same request was answered with this.
    Answered(Repeated),
    /// The key was used for another request.
    Other,
}

/// The answer to repeat.
#[derive(Debug)]
pub struct Repeated {
    /// Whether something new came to be.
    pub created: bool,
    /// Path of the record.
    pub location: Option<String>,
    /// How to get the answer.
    pub how: Kept,
}

/// Where the answer lies.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kept {
    /// Here.
    Answer(String),
    /// With a record: the name of its space and its key.
    Record(String, Bytes),
}

/// An attempt as stored.
#[derive(Debug, Serialize, Deserialize)]
pub struct StoredAttempt {
    fingerprint: [u8; 32],
    created: bool,
    location: Option<String>,
    kept: Kept,
    until: Instant,
}

impl Record for StoredAttempt {
    const KIND: &'static str = "attempt";
    const VERSION: u32 = 1;
}

/// Looks for an earlier attempt.
///
/// # Errors
/// What the store met.
pub async fn earlier<R: Read>(
    snap: &mut R,
    attempt: &Attempt,
    now: Timestamp,
) -> Result<Earlier, Error> {
    let Some(bytes) = snap.get(ATTEMPTS, &attempt.key).await? else {
        return Ok(Earlier::None(None));
    };
    let StoredAttempt { fingerprint, created, location, kept, until } = decode(&bytes)?;
    if until.0 <= now {
        return Ok(Earlier::None(Some(bytes)));
    }
    if fingerprint != attempt.fingerprint {
        return Ok(Earlier::Other);
    }
    Ok(Earlier::Answered(Repeated { created, location, how: kept }))
}

/// Adds the memory of this attempt to the batch it belongs to.
///
/// # Errors
/// [`Error::Internal`] if the record cannot be written down.
pub fn remember(
    attempt: &Attempt,
    held: Option<Bytes>,
    planned: &Planned,
    now: Timestamp,
) -> Result<Batch, Error> {
    let text = |bytes: &[u8]| Kept::Answer(String::from_utf8_lossy(bytes).into_owned());
    let kept = match &planned.repeat {
        Repeat::Answer => text(&planned.answer),
        Repeat::Instead(shown) => text(shown),
        Repeat::Record(space, key) => Kept::Record(space.name().to_owned(), key.clone()),
    };
    let stored = StoredAttempt {
        fingerprint: attempt.fingerprint,
        created: planned.created,
        location: planned.location.clone(),
        kept,
        until: Instant(now.checked_add(KEPT).unwrap_or(Timestamp::MAX)),
    };
    let mut batch = planned.batch.clone();
    if let Some(old) = &held {
        // Its time is over, and the key is used anew.
        batch = batch.without(row(&attempt.key, &decode(old)?));
    }
    let batch = batch.with(row(&attempt.key, &stored), Vec::new());
    Ok(batch.expect(ATTEMPTS, attempt.key, held).put(ATTEMPTS, attempt.key, encode(&stored)?))
}

impl Verified for StoredAttempt {
    const SPACE: Space = ATTEMPTS;
    // Keys from before they were forgotten have no row.
    const INDEXES: &'static [Indexed] = &[Indexed::Part(BY_END.space())];

    fn rows(&self, key: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        let key = key.try_into().map_err(|_| "its key is not a hash".to_owned())?;
        Ok(vec![row(key, self)])
    }
}

/// The index row of an attempt.
fn row(key: &[u8; 32], stored: &StoredAttempt) -> (Space, Bytes) {
    BY_END.row(&(stored.until.0, *key))
}

/// A batch that forgets attempts whose time is over; `None` if there is none.
///
/// # Errors
/// What the store met.
pub async fn forget(snap: &mut Snap, now: Timestamp) -> Result<Option<Batch>, Error> {
    let over = BY_END.before(&(now,)).most(snap, FORGOTTEN).await?;
    if over.is_empty() {
        return Ok(None);
    }
    let keys: Vec<Bytes> = over.iter().map(|(_, key)| key.to_vec()).collect();
    let held = snap.get_many(ATTEMPTS, &keys).await?;
    let mut batch = Batch::new();
    for (row, held) in over.iter().zip(held) {
        batch = batch.expect(ATTEMPTS, row.1, held).del(ATTEMPTS, row.1);
        batch = batch.without(BY_END.row(row));
    }
    Ok(Some(batch))
}
