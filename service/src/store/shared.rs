//! What equal processes on one store have in common: the rows by which each
//! learns what another changed, and what is kept once for all of them.
//!
//! Nobody is told anything. Whoever changes what others hold in memory raises a
//! row in the same batch, and whoever depends on it asks for that row first
//! ([`Serve::look`](super::Serve::look)). So what was revoked by one process, once
//! that has been answered, opens nothing at any other, without a wait on either
//! side.
//!
//! | key in [`SHARED`] | value |
//! |---|---|
//! | [`TOKENS`] | how often tokens were changed (`u64`, big-endian) |
//! | [`OWNER`] | SHA-256 of the owner's token |
//! | [`SETTINGS`] | the settings that every process must have been started with |
//! | [`LEAD`] | how often the work of one at a time changed hands |
//! | [`RING`] | the key ring, sealed under the studio's key |
//! | [`NAME`] | the name by which a data folder knows the database again |
//! | [`RESTORED`] | when the state was saved that was imported; gone after the first start |
//! | `newest`, bucket | the client of that bucket who got a key last |
//! | [`FOLDERS`] | the folders that hold dated backups |
//! | `forget/`, folder, `/`, receipt | an erasure that a folder's backups have not heard of |
//!
//! On a store that one process serves at a time only [`TOKENS`] is ever written, and
//! nobody reads it.

use super::{Batch, Bytes, Read, Space, StoreError, outbox};

/// The space; an export leaves it out.
pub const SHARED: Space = Space::new("_shared");

/// A row by which changes are noticed.
pub type Row = (Space, &'static [u8]);

/// How often packs were changed.
pub const PACKS: Row = (Space::new("pack-changes"), b"all");
/// How often tokens were changed.
pub const TOKENS: Row = (SHARED, b"tokens");
/// What every process must have been started with.
pub const SETTINGS: Row = (SHARED, b"settings");
/// What is asked for before a request is let in.
pub const LOOKED: [Row; 3] = [PACKS, TOKENS, SETTINGS];

/// What [`LOOKED`] holds at one moment.
pub type Looked = [Option<Bytes>; 3];

/// SHA-256 of the owner's token.
pub const OWNER: &[u8] = b"owner";
/// How often the work of one at a time changed hands.
pub const LEAD: &[u8] = b"lead";
/// The key ring.
pub const RING: &[u8] = b"ring";
/// The name by which a data folder knows the database again.
pub const NAME: &[u8] = b"name";
/// When the state was saved that was imported; gone after the first start.
pub const RESTORED: &[u8] = b"restored";
/// The folders that hold dated backups.
pub const FOLDERS: &[u8] = b"folders";

/// The row of the client of a bucket who got a key last.
pub(super) fn newest(bucket: u8) -> Bytes {
    [b"newest".as_slice(), &[bucket]].concat()
}

/// What the rows of [`LOOKED`] hold in a view.
///
/// # Errors
/// What the store met.
pub async fn looked<R: Read>(snap: &mut R) -> Result<Looked, StoreError> {
    let mut found = Looked::default();
    for (found, (space, key)) in found.iter_mut().zip(LOOKED) {
        *found = snap.get(space, key).await?;
    }
    Ok(found)
}

/// Adds to a batch that tokens were changed, and by nobody else meanwhile.
///
/// # Errors
/// What the store met.
pub async fn raise_tokens<R: Read>(snap: &mut R, batch: Batch) -> Result<Batch, StoreError> {
    let (space, key) = TOKENS;
    let held = snap.get(space, key).await?;
    let next = next(held.as_deref());
    Ok(batch.expect(space, key, held).put(space, key, next))
}

/// The count behind a stored one.
pub(super) fn next(held: Option<&[u8]>) -> Bytes {
    outbox::key(held.and_then(outbox::number).unwrap_or(0).wrapping_add(1))
}
