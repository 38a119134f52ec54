//! The studio's memory: ordered keys, atomic durable batches, consistent reads.
//!
//! # What a caller sees
//!
//! A [`Space`] is an ordered map from bytes to bytes. A [`Batch`] changes any
//! number of spaces at once, under preconditions ([`Batch::expect`]): all of it
//! happens or none of it, and [`Store::commit`] answers `Ok` only when it is on
//! disk. A [`Store::snapshot`] is one moment of all spaces; it shows nothing
//! that a power cut could take back, does not change while it lives, and holds
//! up nobody who writes.
//!
//! The traits name no engine. Three things implement them: [`EmbeddedStore`]
//! (sled, one machine), `PostgresStore` (a server, with the feature `postgres`)
//! and `MemoryStore` (in tests alone). What a group of batches comes to is decided in
//! one place for all of them (`decide`).
//!
//! # Layers in here
//!
//! | file | what |
//! |---|---|
//! | `key`, `index`, `rows`, `cursor` | keys that sort right, typed ones, walks over them, page cursors |
//! | `record` | versioned JSON values |
//! | `audit`, `outbox` | the hash chain and the events, both numbered by the committer |
//! | `decide` | which batches of a group hold, their numbers, what is to be written |
//! | `memory`, `embedded/`, `postgres/` | the implementations; `database` is where one lies |
//! | `walk` | what exports, checks and the service ask of an engine beyond that |
//! | `sync_path`, `files` | what makes a flush reach the disk; private files |
//! | `seal`, `studio_key`, `studio_seal`, `keyring`, `erasure`, `receipts` | sealing per client, rotation, erasure |
//! | `dump`, `backup`, `folders`, `verify` | export, import, dated backups and where they lie, the walk over everything |
//! | `companion`, `sealed_file` | key material in files |
//! | `shared` | what equal processes on one store have in common |
//!
//! # What is absent
//!
//! No clock and no random number: instants, ids, keys and nonces are arguments.
//! No health data in any error or log line: errors name spaces, never keys or
//! values.

pub mod audit;
pub mod backup;
mod companion;
pub mod counts;
pub mod cursor;
pub mod database;
mod decide;
pub mod dump;
pub mod embedded;
pub mod erasure;
pub mod files;
mod folders;
pub mod index;
pub mod key;
pub mod keyring;
pub mod outbox;
#[cfg(feature = "postgres")]
pub mod postgres;
pub mod progress;
pub mod receipts;
pub mod record;
pub mod rows;
pub mod seal;
pub mod sealed_file;
pub mod shared;
pub mod studio_key;
pub mod studio_seal;
pub mod sync_path;
pub mod verify;
pub mod walk;

#[cfg(test)]
mod conformance;
#[cfg(test)]
mod erasure_tests;
#[cfg(test)]
mod memory;
#[cfg(test)]
mod privacy_tests;

pub use audit::{AUDIT, AuditEntry};
pub use embedded::{EmbeddedStore, OpenError, OpenReport, StoreConfig};
pub use keyring::{KeyStorage, Keyring};
pub use outbox::Outgoing;
pub use seal::{ClientId, ClientKey, Entropy, Identity, NoEntropy, Sealed};
pub use sealed_file::SealedFileError;
pub use studio_key::StudioKey;
pub use studio_seal::StudioSeal;
pub use sync_path::{SyncPath, harden_sync};
pub use walk::{Health, Serve, Walk};

#[cfg(test)]
pub use memory::MemoryStore;

use std::{fmt, future::Future, ops::Range};

/// Keys and values are plain bytes; [`key`] and [`record`] give them form.
pub type Bytes = Vec<u8>;

/// Longest key in bytes. An index page holds up to 256 keys and must stay inside the log.
pub const MAX_KEY_BYTES: usize = 1024;
/// Longest value in bytes (1 MiB).
pub const MAX_VALUE_BYTES: usize = 1 << 20;
/// Largest batch in bytes (4 MiB), keys and values added up.
pub const MAX_BATCH_BYTES: usize = 4 << 20;

/// The name of one ordered map. Lower-case letters and hyphens by convention; names that begin
/// with `_` belong to the store itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Space(&'static str);

impl Space {
    /// A space of this name.
    #[must_use]
    pub const fn new(name: &'static str) -> Self {
        Self(name)
    }

    /// The name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.0
    }
}

impl fmt::Display for Space {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0)
    }
}

/// Why the store did not do what was asked. No variant carries a key or a value.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StoreError {
    /// A precondition did not hold; nothing was written. Read again and decide anew.
    #[error("precondition {index} on space `{space}` does not hold")]
    Conflict {
        /// Place of the failed precondition in [`Batch::expect`], from 0.
        index: usize,
        /// The space it was about.
        space: Space,
    },
    /// A key, a value or the batch is over its limit; nothing was written.
    #[error("{what} of {bytes} bytes is over the limit of {limit} bytes")]
    TooLarge {
        /// `key`, `value` or `batch`.
        what: &'static str,
        /// Its size.
        bytes: usize,
        /// The largest size allowed.
        limit: usize,
    },
    /// Free disk space is under the configured reserve; nothing was written, reads go on.
    #[error("free disk space is below the reserve; writes are refused until space is made")]
    Full,
    /// The stored files are damaged; nothing is read or written until they are restored.
    #[error("the store is damaged: {0}")]
    Damaged(String),
    /// The service is stopping; nothing was written.
    #[error("the store is closing")]
    Stopping,
    /// Not now, and nothing was written: too many waiting writes, or the engine is being reopened.
    #[error("the store is not available now: {0}")]
    Unavailable(String),
    /// The engine failed while this batch was on its way: it may or may not be stored. Read again
    /// before a repeat.
    #[error("the outcome of this write is not known: {0}")]
    Unknown(String),
}

/// One change to one key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Op {
    /// Sets the key to the value, whether or not it exists.
    Put(Space, Bytes, Bytes),
    /// Removes the key; removing an absent key changes nothing.
    Del(Space, Bytes),
}

/// What happens together or not at all.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
#[must_use]
pub struct Batch {
    /// What must be so at the moment of the commit: this key has this value (`None`: is absent).
    pub expect: Vec<(Space, Bytes, Option<Bytes>)>,
    /// The changes, in order: of two changes to one key the later one counts.
    pub ops: Vec<Op>,
    /// An entry for the audit trail. The committer links it to the one before.
    pub audit: Option<AuditEntry>,
    /// What others are to be told. The committer numbers it; see [`outbox`].
    pub events: Vec<Outgoing>,
}

impl Batch {
    /// An empty batch; committing it proves that the store takes writes.
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds the precondition that `key` has `value`, or is absent when `None`.
    pub fn expect(mut self, space: Space, key: impl Into<Bytes>, value: Option<Bytes>) -> Self {
        self.expect.push((space, key.into(), value));
        self
    }

    /// Adds a put.
    pub fn put(mut self, space: Space, key: impl Into<Bytes>, value: impl Into<Bytes>) -> Self {
        self.ops.push(Op::Put(space, key.into(), value.into()));
        self
    }

    /// Adds a removal.
    pub fn del(mut self, space: Space, key: impl Into<Bytes>) -> Self {
        self.ops.push(Op::Del(space, key.into()));
        self
    }

    /// Adds a put of a row.
    pub fn with(self, (space, key): (Space, Bytes), value: impl Into<Bytes>) -> Self {
        self.put(space, key, value)
    }

    /// Adds a removal of a row.
    pub fn without(self, (space, key): (Space, Bytes)) -> Self {
        self.del(space, key)
    }

    /// Sets the audit entry.
    pub fn audit(mut self, entry: AuditEntry) -> Self {
        self.audit = Some(entry);
        self
    }

    /// Adds an event.
    pub fn event(mut self, event: Outgoing) -> Self {
        self.events.push(event);
        self
    }

    /// Size in bytes of all keys and values that would be written or compared.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let expected: usize =
            self.expect.iter().map(|(_, k, v)| k.len() + v.as_ref().map_or(0, Vec::len)).sum();
        let written: usize = self
            .ops
            .iter()
            .map(|op| match op {
                Op::Put(_, k, v) => k.len() + v.len(),
                Op::Del(_, k) => k.len(),
            })
            .sum();
        let told: usize = self.events.iter().map(|event| event.value.len()).sum();
        expected + written + told
    }

    /// Checks every limit.
    ///
    /// # Errors
    /// [`StoreError::TooLarge`] for the first key, value or the whole that is over its limit.
    pub fn check_limits(&self) -> Result<(), StoreError> {
        let over = |what, bytes, limit| {
            if limit < bytes { Err(StoreError::TooLarge { what, bytes, limit }) } else { Ok(()) }
        };
        for (_, key, _) in &self.expect {
            over("key", key.len(), MAX_KEY_BYTES)?;
        }
        for op in &self.ops {
            match op {
                Op::Put(_, key, value) => {
                    over("key", key.len(), MAX_KEY_BYTES)?;
                    over("value", value.len(), MAX_VALUE_BYTES)?;
                }
                Op::Del(_, key) => over("key", key.len(), MAX_KEY_BYTES)?,
            }
        }
        for event in &self.events {
            over("value", event.value.len(), MAX_VALUE_BYTES)?;
        }
        over("batch", self.bytes(), MAX_BATCH_BYTES)
    }
}

/// The direction of a scan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// Smallest key first.
    Ascending,
    /// Largest key first.
    Descending,
}

/// One consistent view of all spaces.
pub trait Read: Send {
    /// The value of a key.
    ///
    /// # Errors
    /// [`StoreError::Damaged`], [`StoreError::Unavailable`] or [`StoreError::Stopping`].
    fn get(
        &mut self,
        space: Space,
        key: &[u8],
    ) -> impl Future<Output = Result<Option<Bytes>, StoreError>> + Send;

    /// The value of each of these keys, in their order: one question where [`Read::get`] would ask
    /// many.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn get_many(
        &mut self,
        space: Space,
        keys: &[Bytes],
    ) -> impl Future<Output = Result<Vec<Option<Bytes>>, StoreError>> + Send {
        async move {
            let mut found = Vec::with_capacity(keys.len());
            for key in keys {
                found.push(self.get(space, key).await?);
            }
            Ok(found)
        }
    }

    /// At most `limit` pairs with a key in `[range.start, range.end)`, in `order`. An empty
    /// `range.end` means no upper end. To go on, ascending, start at the last key plus one zero
    /// byte ([`key::after`]); descending, end at the last key.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn scan(
        &mut self,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> impl Future<Output = Result<Vec<(Bytes, Bytes)>, StoreError>> + Send;

    /// As [`Read::scan`] for each of these ranges, in their order: one question where it would ask
    /// many.
    ///
    /// # Errors
    /// As [`Read::get`].
    fn scan_many(
        &mut self,
        space: Space,
        ranges: &[Range<Bytes>],
        order: Order,
        limit: usize,
    ) -> impl Future<Output = Result<Vec<Vec<(Bytes, Bytes)>>, StoreError>> + Send {
        async move {
            let mut found = Vec::with_capacity(ranges.len());
            for range in ranges {
                found.push(self.scan(space, range.clone(), order, limit).await?);
            }
            Ok(found)
        }
    }
}

/// Durable batches and consistent snapshots.
pub trait Store: Send + Sync + 'static {
    /// The view that [`Store::snapshot`] gives.
    type Snap: Read;

    /// Writes a batch. `Ok`: all of it is on disk.
    ///
    /// # Errors
    /// [`StoreError::Unknown`]: it may be stored or not. Every other error: nothing was written.
    fn commit(&self, batch: Batch) -> impl Future<Output = Result<(), StoreError>> + Send;

    /// One moment of all spaces: everything acknowledged before the call is in it.
    ///
    /// # Errors
    /// [`StoreError::Damaged`], [`StoreError::Unavailable`] or [`StoreError::Stopping`].
    fn snapshot(&self) -> impl Future<Output = Result<Self::Snap, StoreError>> + Send;
}
