//! Sealing of what is known of a person.
//!
//! A subject is a client, or, for a check without a client, its booking. Each
//! subject has a key of its own; erasing the subject destroys the key, and
//! with it everything that was sealed, wherever copies of it lie. A subject
//! that comes back gets a new key, and what was sealed before stays erased: it
//! opens as `None`.
//!
//! What is sealed is a record in the form of [`crate::store::record`], so it has
//! its kind and version inside the seal and is brought up to date like any
//! other. What former builds sealed is the bare data of version 1.

use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use crate::store::keyring::{CLIENT_KEYS, Held, Issue, Keyring, KeyringError};
use crate::store::record::{self, Record};
use crate::store::seal::{ClientId, ClientKey, Identity, SealError, Sealed};
use crate::store::{Batch, Bytes, Space, Store, StoreError};

/// The version of what former builds sealed.
const BARE: u32 = 1;
/// How often a key is looked for in a newer view before it counts as lost.
const MOST_LOOKS: usize = 8;

/// Whose key is meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// A client.
    Client(Reference),
    /// A booking without a client.
    Booking(Reference),
    /// An artist, for what is known of her practice.
    Artist(Reference),
}

impl Subject {
    /// The pseudonym of the subject inside the store.
    #[must_use]
    pub fn id(&self, studio: &Studio) -> ClientId {
        self.id_in(&studio.keyring)
    }

    /// The same, by the key ring alone.
    #[must_use]
    pub fn id_in(&self, keyring: &Keyring) -> ClientId {
        match self {
            Self::Client(reference) => keyring.client_id(reference.as_str()),
            // `/` cannot stand in a reference, so no client can have this name.
            Self::Booking(reference) => keyring.client_id(&format!("booking/{reference}")),
            Self::Artist(reference) => artist_id(keyring, reference),
        }
    }
}

/// The pseudonym of an artist inside the store.
#[must_use]
pub fn artist_id(keyring: &Keyring, artist: &Reference) -> ClientId {
    keyring.client_id(&format!("artist/{artist}"))
}

/// The key of a subject, for one planned write.
pub struct Access {
    id: ClientId,
    key: ClientKey,
    issue: Option<Issue>,
    held: Option<(Space, Vec<u8>, Option<Vec<u8>>)>,
}

/// Gets the key of a subject for a write, making one if there is none.
///
/// # Errors
/// A [`StoreError::Conflict`] if an erasure has come since the view was opened:
/// plan anew. [`Error::Unreadable`] if the key is lost; what the store met.
pub async fn for_write(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    subject: &Subject,
) -> Result<Access, Error> {
    let id = subject.id(studio);
    match studio.keyring.key_of(snap, &id).await {
        Ok(Some(Held { key, expect })) => {
            return Ok(Access { id, key, issue: None, held: Some(expect) });
        }
        Ok(None) => {}
        Err(KeyringError::Renewed) => {
            newer(studio, &id).await?;
            return Err(StoreError::Conflict { index: 0, space: CLIENT_KEYS }.into());
        }
        Err(error) => return Err(lost(studio, &id, error)),
    }
    let issue = studio.keyring.issue(snap, &id, moment.now, &mut moment.entropy()).await?;
    let key = issue.key.clone();
    Ok(Access { id, key, issue: Some(issue), held: None })
}

/// Gets the key of a subject for reading; `None` if it was never there or was
/// erased.
///
/// # Errors
/// [`Error::Unreadable`] if the key is lost; what the store met.
pub async fn for_read(
    studio: &Studio,
    snap: &mut Snap,
    subject: &Subject,
) -> Result<Option<Access>, Error> {
    let id = subject.id(studio);
    let held = studio.keyring.key_of(snap, &id).await;
    opened(studio, id, held).await
}

/// The same for many subjects, with one question; each as its key can be had.
///
/// # Errors
/// What the store met.
pub async fn for_many(
    studio: &Studio,
    snap: &mut Snap,
    subjects: impl Iterator<Item = Subject>,
) -> Result<Vec<Result<Option<Access>, Error>>, Error> {
    let ids: Vec<ClientId> = subjects.map(|subject| subject.id(studio)).collect();
    let mut found = Vec::with_capacity(ids.len());
    for (id, held) in ids.iter().zip(studio.keyring.keys_of(snap, &ids).await?) {
        found.push(opened(studio, *id, held).await);
    }
    Ok(found)
}

async fn opened(
    studio: &Studio,
    id: ClientId,
    held: Result<Option<Held>, KeyringError>,
) -> Result<Option<Access>, Error> {
    let held = match held {
        // The erasure of another client has moved the key since the view was opened. It is the
        // same key, or gone.
        Err(KeyringError::Renewed) => newer(studio, &id).await?,
        held => held.map_err(|error| lost(studio, &id, error))?,
    };
    Ok(held.map(|Held { key, expect }| Access { id, key, issue: None, held: Some(expect) }))
}

/// The key as it lies now.
async fn newer(studio: &Studio, id: &ClientId) -> Result<Option<Held>, Error> {
    for _ in 0..MOST_LOOKS {
        let mut snap = studio.engine.snapshot().await?;
        match studio.keyring.key_of(&mut snap, id).await {
            Err(KeyringError::Renewed) => {}
            held => return held.map_err(|error| lost(studio, id, error)),
        }
    }
    Err(lost(studio, id, KeyringError::Renewed))
}

/// A key that does not open, although the view is up to date.
fn lost(studio: &Studio, id: &ClientId, error: KeyringError) -> Error {
    match error {
        KeyringError::Renewed | KeyringError::Unopened => {
            studio.keyring.note_lost(id);
            Error::Unreadable("a client's key does not open".to_owned())
        }
        error @ (KeyringError::File(_)
        | KeyringError::StudioKey(_)
        | KeyringError::Missing
        | KeyringError::Strange
        | KeyringError::Elsewhere
        | KeyringError::Store(_)
        | KeyringError::NoEntropy(_)) => error.into(),
    }
}

/// Where a sealed value lies: space, key of its record, field.
pub type Place<'a> = (Space, &'a [u8], &'a str);

impl Access {
    /// Seals a value for one field of one record.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be sealed.
    pub fn seal<T: Record>(
        &self,
        moment: &Moment,
        place: Place<'_>,
        value: &T,
    ) -> Result<Sealed, Error> {
        self.seal_bytes(moment, place, &record::encode(value)?)
    }

    /// Seals a value that is JSON already; it comes back byte for byte.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be sealed.
    pub fn seal_json<T: Record>(
        &self,
        moment: &Moment,
        place: Place<'_>,
        json: &[u8],
    ) -> Result<Sealed, Error> {
        self.seal_bytes(moment, place, &record::put_in::<T>(json)?)
    }

    fn seal_bytes(
        &self,
        moment: &Moment,
        (space, key, field): Place<'_>,
        value: &[u8],
    ) -> Result<Sealed, Error> {
        let identity = Identity { client: &self.id, space, key, field };
        Ok(self.key.seal(&identity, value, &mut moment.entropy())?)
    }

    /// Opens a value that was sealed at a time; `None` if it was sealed under a
    /// key that was destroyed.
    ///
    /// # Errors
    /// [`Error::Unreadable`] if it does not open or cannot be read.
    pub fn open<T: Record>(
        &self,
        place: Place<'_>,
        sealed_at: Timestamp,
        sealed: &Sealed,
    ) -> Result<Option<T>, Error> {
        let Some(bytes) = self.open_bytes(place, sealed_at, sealed)? else { return Ok(None) };
        let (version, data) = taken_out::<T>(sealed, &bytes)?;
        Ok(Some(record::read(version, data)?))
    }

    /// Opens a value as JSON: byte for byte as it was sealed, unless it has a
    /// former form.
    ///
    /// # Errors
    /// As [`Access::open`].
    pub fn open_json<T: Record>(
        &self,
        place: Place<'_>,
        sealed_at: Timestamp,
        sealed: &Sealed,
    ) -> Result<Option<Bytes>, Error> {
        let Some(bytes) = self.open_bytes(place, sealed_at, sealed)? else { return Ok(None) };
        let (version, data) = taken_out::<T>(sealed, &bytes)?;
        if version == T::VERSION {
            return Ok(Some(data.as_bytes().to_vec()));
        }
        super::plan::to_json(&record::read::<T>(version, data)?).map(Some)
    }

    fn open_bytes(
        &self,
        (space, key, field): Place<'_>,
        sealed_at: Timestamp,
        sealed: &Sealed,
    ) -> Result<Option<Bytes>, Error> {
        match self.key.open(&Identity { client: &self.id, space, key, field }, sealed) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(SealError::OtherKey) => Ok(None),
            Err(SealError::Unopened)
                if sealed.is_former() && self.key.is_after_former(sealed_at) =>
            {
                Ok(None)
            }
            Err(error) => Err(error.into()),
        }
    }

    /// Adds to a batch what keeps key and values together: the new key, or
    /// that the known one is still there.
    pub fn guard(self, mut batch: Batch) -> Batch {
        if let Some(expect) = self.held {
            batch.expect.push(expect);
        }
        match self.issue {
            Some(issue) => issue.add_to(batch),
            None => batch,
        }
    }
}

/// Version and data of what was opened.
fn taken_out<'b, T: Record>(sealed: &Sealed, bytes: &'b [u8]) -> Result<(u32, &'b str), Error> {
    if !sealed.is_former() {
        return Ok(record::take_out::<T>(bytes)?);
    }
    let data = std::str::from_utf8(bytes)
        .map_err(|_| Error::Unreadable(format!("a sealed {} is no text", T::KIND)))?;
    Ok((BARE, data))
}

impl From<KeyringError> for Error {
    #[expect(clippy::wildcard_enum_match_arm, reason = "every other failure is ours alone")]
    fn from(error: KeyringError) -> Self {
        match error {
            KeyringError::Store(error) => Self::Store(error),
            other => Self::Internal(other.to_string()),
        }
    }
}

impl From<SealError> for Error {
    fn from(error: SealError) -> Self {
        let why = error.to_string();
        match error {
            SealError::OtherKey | SealError::Unopened => Self::Unreadable(why),
            SealError::Unsealable | SealError::NoEntropy(_) => Self::Internal(why),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::record::RecordError;

    /// An answer that has gained a member which every caller gets today.
    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    struct Told {
        level: u8,
        because: String,
    }

    impl Record for Told {
        const KIND: &'static str = "told";
        const VERSION: u32 = 2;

        fn upgrade(_: u32, mut data: serde_json::Value) -> Result<Self, RecordError> {
            data["because"] = "not told then".into();
            let unreadable = |_| RecordError::Unreadable { kind: Self::KIND, line: 0, column: 0 };
            serde_json::from_value(data).map_err(unreadable)
        }
    }

    #[test]
    fn what_was_sealed_before_an_answer_gained_a_member_is_read() {
        let (id, at) = (ClientId::new([1; 32]), Timestamp::UNIX_EPOCH);
        let key = ClientKey::new([2; 32], Some(at));
        let place = (Space::new("told"), b"key".as_slice(), "answer");
        let identity = Identity { client: &id, space: place.0, key: place.1, field: place.2 };
        let mut entropy = |bytes: &mut [u8]| {
            bytes.fill(3);
            Ok(())
        };
        let mut sealed = |text: &str| key.seal(&identity, text.as_bytes(), &mut entropy).unwrap();
        let (old, now, later) = (
            sealed(r#"{"v":1,"kind":"told","data":{"level":4}}"#),
            sealed(r#"{"v":2,"kind":"told","data":{"level":4,"because":"redness"}}"#),
            sealed(r#"{"v":3,"kind":"told","data":{}}"#),
        );
        let access = Access { id, key: key.clone(), issue: None, held: None };
        for (value, because) in [(&old, "not told then"), (&now, "redness")] {
            let want = Told { level: 4, because: because.to_owned() };
            let json = access.open_json::<Told>(place, at, value).unwrap().unwrap();
            assert_eq!(serde_json::from_slice::<Told>(&json).unwrap(), want);
            assert_eq!(access.open::<Told>(place, at, value).unwrap(), Some(want));
        }
        assert!(matches!(access.open::<Told>(place, at, &later), Err(Error::Unreadable(_))));
    }
}
