//! Planned writes: what a use case wants to happen, all of it or nothing.
//!
//! A use case reads from a snapshot and gives back a [`Planned`]. Whoever runs
//! it (`http::write`) commits the batch and, when a precondition no longer
//! holds, reads again and plans anew. So a use case never sees a half-done
//! state and never has to retry.

use std::borrow::Cow;

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use sha2::{Digest, Sha256};

use super::error::Error;
use crate::store::{Batch, Bytes, Space};

/// What a caller knows of the record it wants to change.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Precondition {
    /// The list of `If-Match`.
    pub if_match: Option<String>,
    /// `If-None-Match: *`: only if there is nothing yet.
    pub only_new: bool,
}

impl Precondition {
    /// Holds the precondition against what is there (`None`: nothing).
    ///
    /// # Errors
    /// [`Error::Changed`] if another version is there, [`Error::NeedsVersion`]
    /// if something is there and no version was named.
    pub fn check(&self, current: Option<&[u8]>) -> Result<(), Error> {
        match (current, &self.if_match) {
            // Both are looked at where both are sent (RFC 9110, 13.2.2).
            (Some(_), _) if self.only_new => Err(Error::Changed),
            (Some(_), None) => Err(Error::NeedsVersion),
            (Some(bytes), Some(list)) if lists_strongly(list, &tag_of(bytes)) => Ok(()),
            (None, None) => Ok(()),
            (Some(_) | None, Some(_)) => Err(Error::Changed),
        }
    }

    /// The same where a version may be left out: what is taken away is taken away whatever it says.
    ///
    /// # Errors
    /// [`Error::Changed`] if another version was named.
    pub fn check_if_sent(&self, current: &[u8]) -> Result<(), Error> {
        if self.if_match.is_none() { Ok(()) } else { self.check(Some(current)) }
    }
}

/// A strong entity tag over the bytes of an answer.
#[must_use]
pub fn tag_of(bytes: &[u8]) -> String {
    format!("\"{}\"", BASE64_URL_SAFE_NO_PAD.encode(&Sha256::digest(bytes)[..15]))
}

/// Whether a tag is in the list of `If-None-Match`, which compares weakly
/// (RFC 9110, 13.1.2).
#[must_use]
pub fn lists(header: &str, tag: &str) -> bool {
    header.split(',').any(|one| one.trim().strip_prefix("W/").is_some_and(|one| plain(one) == tag))
        || lists_strongly(header, tag)
}

/// What the tag of a short view ends in.
pub const SHORT_TAG: &str = ".short\"";

/// A tag as it is before its answer was shortened or compressed (`http::short` and
/// `http::encoding` say so at its end; former builds knew `br`): it names the same version.
fn plain(tag: &str) -> Cow<'_, str> {
    let mut plain = Cow::Borrowed(tag);
    for end in [".gzip\"", ".br\"", SHORT_TAG] {
        if let Some(before) = plain.strip_suffix(end) {
            plain = Cow::Owned(format!("{before}\""));
        }
    }
    plain
}

/// Whether a tag is in the list of `If-Match`, which compares strongly: a weak
/// tag never fits (RFC 9110, 13.1.1).
fn lists_strongly(header: &str, tag: &str) -> bool {
    header.split(',').map(str::trim).any(|one| one == "*" || plain(one) == tag)
}

/// What a repeated request with the same key is answered with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Repeat {
    /// The answer holds nothing of a client: keep it as it is.
    Answer,
    /// The answer was sealed with this record, which never changes; read it from
    /// there, so that it is erased with the client.
    Record(Space, Bytes),
    /// The answer follows from this record as it is written now; the record
    /// itself may change or go. What is a client's in it is sealed.
    Copy(Space, Bytes),
    /// The answer holds a secret that is shown once: keep this in its place.
    /// It is also what the entity tag is made of.
    Instead(Vec<u8>),
}

/// A write that is ready to be committed.
#[derive(Debug, Clone)]
pub struct Planned {
    /// HTTP-agnostic outcome: whether something new came to be.
    pub created: bool,
    /// The JSON of the answer.
    pub answer: Vec<u8>,
    /// Path of the new record.
    pub location: Option<String>,
    /// What has to be written.
    pub batch: Batch,
    /// How a repeat is answered.
    pub repeat: Repeat,
}

impl Planned {
    /// Something new comes to be; a repeat gets the same answer.
    ///
    /// # Errors
    /// As [`to_json`].
    pub fn made<T: serde::Serialize>(answer: &T, batch: Batch) -> Result<Self, Error> {
        let answer = to_json(answer)?;
        Ok(Self { created: true, answer, location: None, batch, repeat: Repeat::Answer })
    }

    /// The same for what was there before.
    ///
    /// # Errors
    /// As [`to_json`].
    pub fn changed<T: serde::Serialize>(answer: &T, batch: Batch) -> Result<Self, Error> {
        Ok(Self { created: false, ..Self::made(answer, batch)? })
    }

    /// The same with the path of the new record.
    #[must_use]
    pub fn at(self, path: String) -> Self {
        Self { location: Some(path), ..self }
    }
}

/// The JSON of an answer.
///
/// # Errors
/// [`Error::Internal`]: our own types cannot fail to serialise, short of a bug.
pub fn to_json<T: serde::Serialize>(answer: &T) -> Result<Vec<u8>, Error> {
    serde_json::to_vec(answer).map_err(|e| Error::Internal(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_names_the_version_it_was_made_for() {
        let tag = tag_of(b"one");
        let with = |if_match: Option<&str>, only_new| Precondition {
            if_match: if_match.map(str::to_owned),
            only_new,
        };
        assert!(with(None, false).check(None).is_ok());
        assert!(matches!(with(None, false).check(Some(b"one")), Err(Error::NeedsVersion)));
        assert!(matches!(with(None, true).check(Some(b"one")), Err(Error::Changed)));
        assert!(with(Some(&tag), false).check(Some(b"one")).is_ok());
        let weak = format!("W/{tag}");
        assert!(matches!(with(Some(&weak), false).check(Some(b"one")), Err(Error::Changed)));
        assert!(lists(&weak, &tag));
        for end in ["gzip", "br"] {
            let coded = format!("{}.{end}\"", tag.trim_end_matches('"'));
            assert!(with(Some(&coded), false).check(Some(b"one")).is_ok(), "{coded}");
            assert!(lists(&format!("W/{coded}"), &tag), "{coded}");
        }
        assert!(matches!(with(Some(&tag), false).check(Some(b"two")), Err(Error::Changed)));
        assert!(matches!(with(Some(&tag), false).check(None), Err(Error::Changed)));
    }
}
