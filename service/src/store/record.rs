//! Stored values: JSON in a versioned envelope, and keyed hashes for index keys.
//!
//! ```text
//! {"v": 2, "kind": "lot", "data": { … }}
//! ```
//!
//! A value of an older version is read for ever: [`Record::upgrade`] turns it
//! into today's form; where a kind has only gained members, its list of what
//! [`Came`] does. A value of a newer version or of another kind is refused, never
//! guessed at. Errors say where and why, never what the value was: it may
//! be health data.

use std::borrow::Cow;

use hmac::{Hmac, KeyInit, Mac};
use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_json::Value;
use serde_json::value::RawValue;
use sha2::Sha256;

use super::Bytes;

/// A type that is stored.
pub trait Record: Serialize + DeserializeOwned {
    /// What it is, for example `lot`; a value of another kind is refused.
    const KIND: &'static str;
    /// What documents of older versions lack, and what they say by that.
    const CAME: &'static [Came] = &[];
    /// The version that is written today, from 1; told where older ones differ by more.
    const VERSION: u32 = newest(Self::CAME);

    /// Turns the data of an older version into today's form.
    ///
    /// # Errors
    /// [`RecordError::Version`] unless the type knows that version.
    fn upgrade(version: u32, mut data: Value) -> Result<Self, RecordError> {
        let since = || Self::CAME.iter().filter(|came| version < came.with);
        if since().next().is_none() {
            let (kind, known) = (Self::KIND, Self::VERSION);
            return Err(RecordError::Version { kind, found: version, known });
        }
        since().for_each(|came| put_in_place(came.at, came.then, &mut data));
        serde_json::from_slice(data.to_string().as_bytes()).map_err(unreadable::<Self>)
    }
}

/// A member that came to a kind with a version.
#[derive(Debug, Clone, Copy)]
pub struct Came {
    /// The first version whose documents have it.
    pub with: u32,
    /// Where it stands: names between slashes, `*` for every item of a list or map.
    pub at: &'static str,
    /// What a document of before says by not having it.
    pub then: fn() -> Value,
}

/// The version to which such a list leads.
const fn newest(came: &[Came]) -> u32 {
    match came {
        [] => 1,
        [before @ .., last] if last.with < newest(before) => newest(before),
        [.., last] => last.with,
    }
}

/// Puts a value where a member is missing. What is there stays.
fn put_in_place(at: &str, then: fn() -> Value, data: &mut Value) {
    let (name, inner) = at.split_once('/').unwrap_or((at, ""));
    match (name, data) {
        ("*", Value::Array(all)) => all.iter_mut().for_each(|one| put_in_place(inner, then, one)),
        ("*", Value::Object(all)) => {
            all.values_mut().for_each(|one| put_in_place(inner, then, one))
        }
        (_, Value::Object(members)) if inner.is_empty() => {
            members.entry(name).or_insert_with(then);
        }
        (_, Value::Object(members)) => {
            if let Some(member) = members.get_mut(name) {
                put_in_place(inner, then, member);
            }
        }
        (
            _,
            Value::Array(_) | Value::String(_) | Value::Number(_) | Value::Bool(_) | Value::Null,
        ) => {}
    }
}

/// Why a stored value could not be read. Holds nothing of the value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum RecordError {
    /// Not the JSON that was expected.
    #[error("stored {kind} is unreadable at line {line}, column {column}")]
    Unreadable {
        /// The kind that was expected.
        kind: &'static str,
        /// Line, from 1; 0 when unknown.
        line: usize,
        /// Column, from 1; 0 when unknown.
        column: usize,
    },
    /// A value of another kind.
    #[error("stored value is not a {kind}")]
    Kind {
        /// The kind that was expected.
        kind: &'static str,
    },
    /// A version that this program does not know.
    #[error("stored {kind} has version {found}; this program knows versions up to {known}")]
    Version {
        /// The kind.
        kind: &'static str,
        /// The version found.
        found: u32,
        /// The newest version known.
        known: u32,
    },
    /// It cannot be written as JSON (a map with keys that are no text, for example).
    #[error("{kind} cannot be written as JSON")]
    Unwritable {
        /// The kind.
        kind: &'static str,
    },
}

#[derive(Serialize)]
struct EnvelopeOut<'a, T: ?Sized> {
    v: u32,
    kind: &'a str,
    data: &'a T,
}

/// The data stays text until its version is known: that of today is read straight into its type.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct EnvelopeIn<'a> {
    v: u32,
    #[serde(borrow)]
    kind: Cow<'a, str>,
    #[serde(borrow)]
    data: &'a RawValue,
}

/// The bytes to store.
///
/// # Errors
/// [`RecordError::Unwritable`].
pub fn encode<T: Record>(record: &T) -> Result<Bytes, RecordError> {
    serde_json::to_vec(&EnvelopeOut { v: T::VERSION, kind: T::KIND, data: record })
        .map_err(|_| RecordError::Unwritable { kind: T::KIND })
}

/// The record in stored bytes.
///
/// # Errors
/// Every [`RecordError`] but `Unwritable`.
pub fn decode<T: Record>(bytes: &[u8]) -> Result<T, RecordError> {
    let (version, data) = take_out::<T>(bytes)?;
    read(version, data)
}

/// The bytes to store of a record whose data are JSON already; it stays as it is, byte for byte.
///
/// # Errors
/// [`RecordError::Unwritable`].
pub fn put_in<T: Record>(json: &[u8]) -> Result<Bytes, RecordError> {
    let unwritable = |_| RecordError::Unwritable { kind: T::KIND };
    let data: &RawValue = serde_json::from_slice(json).map_err(unwritable)?;
    serde_json::to_vec(&EnvelopeOut { v: T::VERSION, kind: T::KIND, data }).map_err(unwritable)
}

/// The version and the data in stored bytes, as they were written.
///
/// # Errors
/// Every [`RecordError`] but `Unwritable`.
pub fn take_out<T: Record>(bytes: &[u8]) -> Result<(u32, &str), RecordError> {
    let EnvelopeIn { v, kind, data } = serde_json::from_slice(bytes).map_err(unreadable::<T>)?;
    if kind != T::KIND {
        return Err(RecordError::Kind { kind: T::KIND });
    }
    if v == 0 || T::VERSION < v {
        return Err(RecordError::Version { kind: T::KIND, found: v, known: T::VERSION });
    }
    Ok((v, data.get()))
}

/// The record in data of a version.
///
/// # Errors
/// Every [`RecordError`] but `Unwritable` and `Kind`.
pub fn read<T: Record>(version: u32, data: &str) -> Result<T, RecordError> {
    if version == T::VERSION {
        return serde_json::from_slice(data.as_bytes()).map_err(unreadable::<T>);
    }
    T::upgrade(version, serde_json::from_str(data).map_err(unreadable::<T>)?)
}

/// What lies in version 1 of a kind whose members are the same in version 2: what
/// they mean is told by the caller.
///
/// # Errors
/// [`RecordError::Version`] for any other version; [`RecordError::Unreadable`].
pub fn of_first<T: Record>(version: u32, data: Value) -> Result<T, RecordError> {
    if version != 1 {
        return Err(RecordError::Version { kind: T::KIND, found: version, known: T::VERSION });
    }
    serde_json::from_slice(data.to_string().as_bytes()).map_err(unreadable::<T>)
}

fn unreadable<T: Record>(error: serde_json::Error) -> RecordError {
    RecordError::Unreadable { kind: T::KIND, line: error.line(), column: error.column() }
}

/// A secret for keyed hashes (HMAC-SHA-256). Has no `Debug`, so that it cannot be logged.
#[derive(Clone)]
pub struct HashKey([u8; 32]);

impl HashKey {
    /// A key of these bytes, which must be secret and random.
    #[must_use]
    pub fn new(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The keyed hash of `parts`, each with its length, so that they cannot run into each other.
    #[must_use]
    pub fn hash(&self, label: &str, parts: &[&[u8]]) -> [u8; 32] {
        self.mac(label, parts).finalize().into_bytes().into()
    }

    /// The keyed hash of a reference that could be personal, to be used in index keys in its
    /// place. `label` keeps the hashes of different kinds of reference apart.
    ///
    /// ```
    /// use etui_service::store::record::HashKey;
    /// let key = HashKey::new([7; 32]);
    /// assert_eq!(key.reference("client", "c-17"), key.reference("client", "c-17"));
    /// assert_ne!(key.reference("client", "c-17"), key.reference("artist", "c-17"));
    /// ```
    #[must_use]
    pub fn reference(&self, label: &str, reference: &str) -> [u8; 32] {
        self.hash(label, &[reference.as_bytes()])
    }

    /// A key for another purpose, from which this one cannot be told.
    #[must_use]
    pub fn derive(&self, purpose: &str) -> Self {
        Self(self.hash("derive", &[purpose.as_bytes()]))
    }

    /// Whether `tag` begins the keyed hash of `parts`; compared in constant time.
    #[must_use]
    pub fn verify(&self, label: &str, parts: &[&[u8]], tag: &[u8]) -> bool {
        self.mac(label, parts).verify_truncated_left(tag).is_ok()
    }

    pub(crate) fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    fn mac(&self, label: &str, parts: &[&[u8]]) -> Hmac<Sha256> {
        // A key shorter than the block is padded with zeros (RFC 2104): 32 of 64 bytes.
        let mut block = [0_u8; 64];
        block[..32].copy_from_slice(&self.0);
        let mut mac = <Hmac<Sha256> as KeyInit>::new(&block.into());
        for part in [label.as_bytes()].iter().chain(parts) {
            mac.update(&(part.len() as u64).to_be_bytes());
            mac.update(part);
        }
        mac
    }
}

/// Bytes as lower-case hexadecimal.
#[must_use]
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    bytes
        .iter()
        .flat_map(|b| [DIGITS[usize::from(b >> 4)], DIGITS[usize::from(b & 15)]])
        .map(char::from)
        .collect()
}

#[cfg(test)]
mod tests;
