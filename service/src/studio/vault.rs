//! Sealing of what is known of a person.
//!
//! A subject is a client, or, for a check without a client, its booking. Each
//! subject has a key of its own; erasing the subject destroys the key, and
//! with it everything that was sealed, wherever copies of it lie.

use etui_schema::vocabulary::Reference;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use crate::store::keyring::{Held, Issue, KeyringError};
use crate::store::seal::{ClientId, ClientKey, Identity, SealError, Sealed};
use crate::store::{Batch, Space};

/// Whose key is meant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// A client.
    Client(Reference),
    /// A booking without a client.
    Booking(Reference),
}

impl Subject {
    /// The pseudonym of the subject inside the store.
    #[must_use]
    pub fn id(&self, studio: &Studio) -> ClientId {
        match self {
            Self::Client(reference) => studio.keyring.client_id(reference.as_str()),
            // `/` cannot stand in a reference, so no client can have this name.
            Self::Booking(reference) => studio.keyring.client_id(&format!("booking/{reference}")),
        }
    }
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
/// What the store or the key ring met.
pub async fn for_write(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    subject: &Subject,
) -> Result<Access, Error> {
    let id = subject.id(studio);
    if let Some(Held { key, expect }) = studio.keyring.key_of(snap, &id).await? {
        return Ok(Access { id, key, issue: None, held: Some(expect) });
    }
    let issue = studio.keyring.issue(&id, &mut moment.entropy())?;
    let key = issue.key.clone();
    Ok(Access { id, key, issue: Some(issue), held: None })
}

/// Gets the key of a subject for reading; `None` if it was never there or was
/// erased.
///
/// # Errors
/// What the store or the key ring met.
pub async fn for_read(
    studio: &Studio,
    snap: &mut Snap,
    subject: &Subject,
) -> Result<Option<Access>, Error> {
    let id = subject.id(studio);
    let held = studio.keyring.key_of(snap, &id).await?;
    Ok(held.map(|Held { key, expect }| Access { id, key, issue: None, held: Some(expect) }))
}

impl Access {
    /// Seals a value for one field of one record.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be sealed.
    pub fn seal<T: Serialize>(
        &self,
        moment: &Moment,
        (space, key, field): (Space, &[u8], &str),
        value: &T,
    ) -> Result<Sealed, Error> {
        let identity = Identity { client: &self.id, space, key, field };
        Ok(self.key.seal_json(&identity, value, &mut moment.entropy())?)
    }

    /// Seals bytes as they are.
    ///
    /// # Errors
    /// [`Error::Internal`] if they cannot be sealed.
    pub fn seal_bytes(
        &self,
        moment: &Moment,
        (space, key, field): (Space, &[u8], &str),
        value: &[u8],
    ) -> Result<Sealed, Error> {
        let identity = Identity { client: &self.id, space, key, field };
        Ok(self.key.seal(&identity, value, &mut moment.entropy())?)
    }

    /// Opens a value.
    ///
    /// # Errors
    /// [`Error::Internal`] if it does not open.
    pub fn open<T: DeserializeOwned>(
        &self,
        (space, key, field): (Space, &[u8], &str),
        sealed: &Sealed,
    ) -> Result<T, Error> {
        Ok(self.key.open_json(&Identity { client: &self.id, space, key, field }, sealed)?)
    }

    /// Opens bytes.
    ///
    /// # Errors
    /// [`Error::Internal`] if they do not open.
    pub fn open_bytes(
        &self,
        (space, key, field): (Space, &[u8], &str),
        sealed: &Sealed,
    ) -> Result<Vec<u8>, Error> {
        Ok(self.key.open(&Identity { client: &self.id, space, key, field }, sealed)?)
    }

    /// Adds to a batch what keeps key and values together: the new key, or
    /// that the known one is still there.
    #[must_use]
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
        Self::Internal(error.to_string())
    }
}
