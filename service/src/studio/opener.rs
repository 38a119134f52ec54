//! How `etui verify` looks at a record: which index rows it must have, whether
//! what is sealed opens, and if not, whether somebody was erased.
//!
//! What was sealed under a destroyed key is as it should be: an erasure says
//! so, or the client's present key is younger. Everything else that does not
//! open is a loss, and is told.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};

use super::vault::Place;
use crate::store::Read;
use crate::store::Space;
use crate::store::keyring::{Keyring, KeyringError};
use crate::store::record::Record;
use crate::store::seal::{ClientId, ClientKey, Identity, SealError, Sealed};
use crate::store::verify::{IndexEntries, Indexed};

/// A request is planned and committed a little after it began; so long may a value be younger
/// than the erasure that took its key.
const UNDER_WAY: SignedDuration = SignedDuration::from_mins(1);

/// A kind of record that is looked at.
pub trait Verified: Record {
    /// Where such records lie.
    const SPACE: Space;
    /// Where their index rows lie, and only they.
    const INDEXES: &'static [Indexed] = &[];

    /// The index rows that one must have.
    ///
    /// # Errors
    /// What is wrong with it, in words that tell nothing of the value.
    fn rows(&self, _: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        Ok(Vec::new())
    }
}

/// Every client's key, and when clients were erased.
pub struct Opener<'a> {
    /// The keys that wrap them.
    pub keyring: &'a Keyring,
    keys: BTreeMap<ClientId, Option<ClientKey>>,
}

impl<'a> Opener<'a> {
    /// Reads all keys of a view.
    ///
    /// # Errors
    /// What the store met.
    pub async fn new<R: Read>(snap: &mut R, keyring: &'a Keyring) -> Result<Self, KeyringError> {
        keyring.remember(snap).await?;
        Ok(Self { keyring, keys: keyring.all_keys(snap).await? })
    }

    /// What is wrong with a sealed value, if anything is.
    ///
    /// # Errors
    /// In words that tell nothing of the value.
    pub fn look(
        &self,
        client: &ClientId,
        (space, key, field): Place<'_>,
        sealed_at: Timestamp,
        sealed: &Sealed,
    ) -> Result<(), String> {
        let erased = || {
            let last = self.keyring.erased_at(client);
            last.is_some_and(|at| sealed_at <= at.checked_add(UNDER_WAY).unwrap_or(at))
        };
        let Some(held) = self.keys.get(client) else {
            return if erased() {
                Ok(())
            } else {
                Err(format!("the key of its `{field}` is missing"))
            };
        };
        let Some(own) = held else { return Err(format!("the key of its `{field}` does not open")) };
        let is_earlier = match own.open(&Identity { client, space, key, field }, sealed) {
            Ok(_) => true,
            // Whenever she was erased: the clock may have stood anywhere.
            Err(SealError::OtherKey) => {
                own.is_younger_than(sealed_at) || self.keyring.erased_at(client).is_some()
            }
            Err(_) => sealed.is_former() && (own.is_after_former(sealed_at) || erased()),
        };
        if is_earlier { Ok(()) } else { Err(format!("its `{field}` does not open")) }
    }
}
