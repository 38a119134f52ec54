//! Records about a person that are made once and never changed: a check, a
//! treatment, an observation, a review, a symptom report.
//!
//! Three parts: the *trace*, which stays after an erasure because the law
//! wants it (ids, pseudonymous references, dates, lots); the *input*, sealed,
//! so that it can be computed again; and the *answer*, sealed, byte for byte
//! as it was given.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::vault::{self, Access, Subject};
use crate::store::record::{Record, decode, encode};
use crate::store::seal::Sealed;
use crate::store::{Batch, Read, Space};

const INPUT: &str = "input";
const ANSWER: &str = "answer";

/// What stays when the person is forgotten.
pub trait Trace: Clone + Serialize + DeserializeOwned {
    /// Where such records lie.
    const SPACE: Space;
    /// What they are called, in records and in messages.
    const WHAT: &'static str;
    /// Whose key seals the rest.
    fn subject(&self) -> Subject;
}

/// A record as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(bound = "T: Serialize + DeserializeOwned")]
pub struct StoredSealed<T> {
    /// Its id.
    pub id: Uuid,
    /// What stays.
    pub trace: T,
    input: Sealed,
    answer: Sealed,
}

impl<T: Trace> Record for StoredSealed<T> {
    const KIND: &'static str = T::WHAT;
    const VERSION: u32 = 1;
}

/// Adds a new record to a batch.
///
/// # Errors
/// [`Error::Internal`] if something cannot be sealed or written down.
pub fn add<T: Trace, I: Serialize>(
    batch: Batch,
    access: &Access,
    moment: &Moment,
    (id, trace): (Uuid, T),
    input: &I,
    answer: &[u8],
) -> Result<Batch, Error> {
    let key = id.as_bytes().to_vec();
    let record = StoredSealed {
        id,
        trace,
        input: access.seal(moment, (T::SPACE, &key, INPUT), input)?,
        answer: access.seal_bytes(moment, (T::SPACE, &key, ANSWER), answer)?,
    };
    Ok(batch.expect(T::SPACE, key.clone(), None).put(T::SPACE, key, encode(&record)?))
}

/// Adds to a batch that the trace of a record changes. What is sealed stays as
/// it was, byte for byte.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn retrace<T: Trace>(
    snap: &mut Snap,
    batch: Batch,
    id: Uuid,
    change: impl FnOnce(&mut T),
) -> Result<Batch, Error> {
    let key = id.as_bytes().to_vec();
    let held = snap.get(T::SPACE, &key).await?;
    let bytes = held.ok_or_else(|| Error::NotFound { what: T::WHAT, id: id.to_string() })?;
    let mut record: StoredSealed<T> = decode(&bytes)?;
    change(&mut record.trace);
    Ok(batch.expect(T::SPACE, key.clone(), Some(bytes)).put(T::SPACE, key, encode(&record)?))
}

/// Reads a record.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn load<T: Trace>(snap: &mut Snap, id: Uuid) -> Result<StoredSealed<T>, Error> {
    find(snap, id.as_bytes())
        .await?
        .ok_or_else(|| Error::NotFound { what: T::WHAT, id: id.to_string() })
}

async fn find<T: Trace>(snap: &mut Snap, key: &[u8]) -> Result<Option<StoredSealed<T>>, Error> {
    Ok(snap.get(T::SPACE, key).await?.map(|bytes| decode(&bytes)).transpose()?)
}

impl<T: Trace> StoredSealed<T> {
    async fn access(&self, studio: &Studio, snap: &mut Snap) -> Result<Access, Error> {
        vault::for_read(studio, snap, &self.trace.subject())
            .await?
            .ok_or_else(|| Error::NotFound { what: T::WHAT, id: self.id.to_string() })
    }

    /// The answer, byte for byte as it was given.
    ///
    /// # Errors
    /// [`Error::NotFound`] if the person was erased.
    pub async fn answer(&self, studio: &Studio, snap: &mut Snap) -> Result<Vec<u8>, Error> {
        let access = self.access(studio, snap).await?;
        access.open_bytes((T::SPACE, self.id.as_bytes(), ANSWER), &self.answer)
    }

    /// What it was made from.
    ///
    /// # Errors
    /// [`Error::NotFound`] if the person was erased.
    pub async fn input<I: DeserializeOwned>(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<I, Error> {
        let access = self.access(studio, snap).await?;
        access.open((T::SPACE, self.id.as_bytes(), INPUT), &self.input)
    }
}

/// The answer of a record known by its key only.
///
/// # Errors
/// [`Error::NotFound`] if it is gone or the person was erased.
pub async fn answer_at<T: Trace>(
    studio: &Studio,
    snap: &mut Snap,
    key: &[u8],
) -> Result<Vec<u8>, Error> {
    match find::<T>(snap, key).await? {
        Some(record) => record.answer(studio, snap).await,
        None => Err(Error::NotFound { what: T::WHAT, id: String::new() }),
    }
}
