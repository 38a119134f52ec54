//! Keys under which a write can be repeated safely.
//!
//! Key = hash(holder, method and path, key). The record holds a fingerprint of
//! the request and how a repeat is answered: the answer itself, or, where it
//! holds something of a client, the record it was stored with, or, where it
//! holds a secret that is shown once, the answer without it. It is written in
//! the same batch as the change, so a repeat never does anything twice.

use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};

use super::Studio;
use super::error::Error;
use super::plan::{Planned, Repeat};
use crate::store::record::{Record, decode, encode};
use crate::store::{Batch, Bytes, Read, Space};

const SPACE: Space = Space::new("idempotency");
/// How long a key is remembered.
pub const KEPT: SignedDuration = SignedDuration::from_hours(24);

/// A repeatable request.
#[derive(Debug, Clone)]
pub struct Attempt {
    /// Hash of holder, operation and key.
    pub key: Bytes,
    /// Hash of the body.
    pub fingerprint: [u8; 32],
}

impl Attempt {
    /// The attempt of one caller with one key at one place.
    #[must_use]
    pub fn new(studio: &Studio, holder: &str, place: &str, key: &str, body: &[u8]) -> Self {
        let parts: [&[u8]; 3] = [holder.as_bytes(), place.as_bytes(), key.as_bytes()];
        Self {
            key: studio.index_key.hash("idempotency", &parts).to_vec(),
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

#[derive(Debug, Serialize, Deserialize)]
struct StoredAttempt {
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
    let Some(bytes) = snap.get(SPACE, &attempt.key).await? else { return Ok(Earlier::None(None)) };
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
    Ok(planned.batch.clone().expect(SPACE, attempt.key.clone(), held).put(
        SPACE,
        attempt.key.clone(),
        encode(&stored)?,
    ))
}
