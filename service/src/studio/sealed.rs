//! Records about a person that are made once and never changed: a check, a
//! treatment, an observation, a review, a symptom report.
//!
//! Three parts: the *trace*, which stays after an erasure because the law
//! wants it (ids, pseudonymous references, dates, lots); the *input*, sealed,
//! so that it can be computed again; and the *answer*, sealed, byte for byte
//! as it was given. Both are records of their own kind and version inside the
//! seal.
//!
//! The trace lies open, and a recall rests on it. It is bound to its record by a
//! keyed hash that only this studio can make; `etui verify` holds it against
//! the trace. It stays sound after an erasure. Records of former builds have
//! none.

use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use uuid::Uuid;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::paging::records;
use super::vault::{self, Access, Subject};
use crate::store::keyring::Keyring;
use crate::store::record::{Record, RecordError, decode, encode, hex};
use crate::store::seal::Sealed;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Read, Space};

const INPUT: &str = "input";
const ANSWER: &str = "answer";

/// What stays when the person is forgotten.
pub trait Trace: Clone + Serialize + DeserializeOwned + Send + Sync + 'static {
    /// Where such records lie.
    const SPACE: Space;
    /// Where its index rows lie, and only they.
    const INDEXES: &'static [Indexed];
    /// What they are called, in records and in messages.
    const WHAT: &'static str;
    /// What it is made from.
    type Input: Record;
    /// What it is answered with.
    type Answer: Record;
    /// Whose key seals the rest.
    fn subject(&self) -> Subject;
    /// The index rows of the record.
    fn rows(&self, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)>;
}

/// A record as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(bound = "T: Serialize + DeserializeOwned")]
pub struct StoredSealed<T> {
    /// Its id.
    pub id: Uuid,
    /// What stays.
    pub trace: T,
    /// Keyed hash of the trace as it was written.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    bound: Option<String>,
    input: Sealed,
    answer: Sealed,
}

/// The keyed hash that binds a trace to its record.
fn bound<T: Trace>(keyring: &Keyring, id: Uuid, trace: &str) -> String {
    let parts = [T::SPACE.name().as_bytes(), id.as_bytes(), trace.as_bytes()];
    hex(&keyring.index_key().hash("trace", &parts)[..16])
}

fn bound_to<T: Trace>(keyring: &Keyring, id: Uuid, trace: &T) -> Result<Option<String>, Error> {
    let text =
        serde_json::to_string(trace).map_err(|_| RecordError::Unwritable { kind: T::WHAT })?;
    Ok(Some(bound::<T>(keyring, id, &text)))
}

impl<T: Trace> Record for StoredSealed<T> {
    const KIND: &'static str = T::WHAT;
}

/// Adds a new record to a batch.
///
/// # Errors
/// [`Error::Internal`] if something cannot be sealed or written down.
pub fn add<T: Trace>(
    batch: Batch,
    (keyring, access): (&Keyring, &Access),
    moment: &Moment,
    (id, trace): (Uuid, T),
    input: &T::Input,
    answer: &[u8],
) -> Result<Batch, Error> {
    let key = id.as_bytes().to_vec();
    let record = StoredSealed {
        id,
        bound: bound_to(keyring, id, &trace)?,
        trace,
        input: access.seal(moment, (T::SPACE, &key, INPUT), input)?,
        answer: access.seal_json::<T::Answer>(moment, (T::SPACE, &key, ANSWER), answer)?,
    };
    Ok(batch.expect(T::SPACE, key.clone(), None).put(T::SPACE, key, encode(&record)?))
}

/// Adds to a batch that the trace of a record changes. What is sealed stays as
/// it was, byte for byte.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn retrace<T: Trace>(
    keyring: &Keyring,
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
    record.bound = bound_to(keyring, id, &record.trace)?;
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

/// Reads many records with one question; each as it can be read, or why it
/// cannot.
///
/// # Errors
/// What the store met.
pub async fn load_many<T: Trace>(
    snap: &mut Snap,
    ids: &[Uuid],
) -> Result<Vec<Result<StoredSealed<T>, Error>>, Error> {
    let keys: Vec<Bytes> = ids.iter().map(|id| id.as_bytes().to_vec()).collect();
    records(snap, T::SPACE, &keys).await
}

/// Adds to a batch that a record and its index rows are gone, if it is still as
/// it was read.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn remove<T: Trace>(
    keyring: &Keyring,
    snap: &mut Snap,
    batch: Batch,
    id: Uuid,
) -> Result<Batch, Error> {
    let key = id.as_bytes().to_vec();
    let held = snap.get(T::SPACE, &key).await?;
    let bytes = held.ok_or_else(|| Error::NotFound { what: T::WHAT, id: id.to_string() })?;
    let rows = decode::<StoredSealed<T>>(&bytes)?.trace.rows(keyring, id);
    let batch = batch.expect(T::SPACE, key.clone(), Some(bytes)).del(T::SPACE, key);
    Ok(rows.into_iter().fold(batch, Batch::without))
}

async fn find<T: Trace>(snap: &mut Snap, key: &[u8]) -> Result<Option<StoredSealed<T>>, Error> {
    Ok(snap.get(T::SPACE, key).await?.map(|bytes| decode(&bytes)).transpose()?)
}

impl<T: Trace> StoredSealed<T> {
    /// Its sealed parts, each with its field.
    #[must_use]
    pub fn parts(&self) -> [(&'static str, &Sealed); 2] {
        [(INPUT, &self.input), (ANSWER, &self.answer)]
    }

    /// When it was sealed: an id begins with its time.
    #[must_use]
    pub fn sealed_at(&self) -> Timestamp {
        time_of(self.id)
    }

    fn erased(&self) -> Error {
        Error::NotFound { what: T::WHAT, id: self.id.to_string() }
    }

    /// The key of its subject.
    ///
    /// # Errors
    /// [`Error::NotFound`] if the person was erased; what the store met.
    pub async fn access(&self, studio: &Studio, snap: &mut Snap) -> Result<Access, Error> {
        let access = vault::for_read(studio, snap, &self.trace.subject()).await?;
        access.ok_or_else(|| self.erased())
    }

    /// The answer, byte for byte as it was given, unless it has a former form.
    ///
    /// # Errors
    /// [`Error::NotFound`] if the person was erased; [`Error::Unreadable`].
    pub async fn answer(&self, studio: &Studio, snap: &mut Snap) -> Result<Vec<u8>, Error> {
        let access = self.access(studio, snap).await?;
        self.json_by(&access)?.ok_or_else(|| self.erased())
    }

    /// The same, with the key of its subject at hand; `None` if it was sealed under
    /// one that was destroyed.
    ///
    /// # Errors
    /// [`Error::Unreadable`].
    pub fn json_by(&self, access: &Access) -> Result<Option<Bytes>, Error> {
        let place = (T::SPACE, self.id.as_bytes().as_slice(), ANSWER);
        access.open_json::<T::Answer>(place, self.sealed_at(), &self.answer)
    }

    /// The answer as it can be computed with.
    ///
    /// # Errors
    /// As [`StoredSealed::answer`].
    pub async fn said(&self, studio: &Studio, snap: &mut Snap) -> Result<T::Answer, Error> {
        self.said_by(&self.access(studio, snap).await?)
    }

    /// The same, with the key of its subject at hand.
    ///
    /// # Errors
    /// As [`StoredSealed::answer`].
    pub fn said_by(&self, access: &Access) -> Result<T::Answer, Error> {
        self.said_as(access)
    }

    /// The same, only as much of it as a type takes; it is of the answer's kind.
    ///
    /// # Errors
    /// As [`StoredSealed::answer`].
    pub fn said_as<R: Record>(&self, access: &Access) -> Result<R, Error> {
        let place = (T::SPACE, self.id.as_bytes().as_slice(), ANSWER);
        let found = access.open::<R>(place, self.sealed_at(), &self.answer)?;
        found.ok_or_else(|| self.erased())
    }

    /// What it was made from.
    ///
    /// # Errors
    /// As [`StoredSealed::answer`].
    pub async fn input(&self, studio: &Studio, snap: &mut Snap) -> Result<T::Input, Error> {
        self.input_by(&self.access(studio, snap).await?)
    }

    /// The same, with the key of its subject at hand.
    ///
    /// # Errors
    /// As [`StoredSealed::answer`].
    pub fn input_by(&self, access: &Access) -> Result<T::Input, Error> {
        let place = (T::SPACE, self.id.as_bytes().as_slice(), INPUT);
        let found = access.open::<T::Input>(place, self.sealed_at(), &self.input)?;
        found.ok_or_else(|| self.erased())
    }
}

/// A record as it was written, its trace as text.
#[derive(Deserialize)]
struct Written<'a> {
    #[serde(borrow)]
    data: WrittenData<'a>,
}

#[derive(Deserialize)]
struct WrittenData<'a> {
    id: Uuid,
    #[serde(borrow)]
    trace: &'a RawValue,
    bound: Option<String>,
    input: Sealed,
}

/// Whether the trace in a stored record is the one that this studio wrote. Records of former
/// builds are not bound, and count as whole.
#[must_use]
pub fn is_bound<T: Trace>(keyring: &Keyring, stored: &[u8]) -> bool {
    let Ok(Written { data }) = serde_json::from_slice(stored) else { return false };
    let WrittenData { id, trace, bound: told, input } = data;
    match told {
        Some(told) => told == bound::<T>(keyring, id, trace.get()),
        None => input.is_former(),
    }
}

/// The time with which an id of version 7 begins.
#[must_use]
pub fn time_of(id: Uuid) -> Timestamp {
    let mut millis = [0; 8];
    millis[2..].copy_from_slice(&id.as_bytes()[..6]);
    Timestamp::from_millisecond(i64::from_be_bytes(millis)).unwrap_or(Timestamp::MAX)
}

/// The answer of a record as stored.
///
/// # Errors
/// [`Error::NotFound`] if the person was erased; [`Error::Unreadable`].
pub async fn answer_of<T: Trace>(
    studio: &Studio,
    snap: &mut Snap,
    stored: &[u8],
) -> Result<Vec<u8>, Error> {
    decode::<StoredSealed<T>>(stored)?.answer(studio, snap).await
}
