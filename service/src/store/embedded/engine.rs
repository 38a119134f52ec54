//! One opened instance of the engine: open, read, apply a group, flush, close.

use std::{
    collections::{BTreeMap, BTreeSet},
    fs::File,
    io,
    ops::Range,
    panic::{AssertUnwindSafe, catch_unwind},
    time::Duration,
};

use sled::transaction::{TransactionError, Transactional};

use super::{
    SCHEMA, StoreConfig,
    stage::Stage,
    undo::UndoLog,
    value::{self, Stored},
};
use crate::store::{
    AUDIT, Batch, Bytes, Op, Order, StoreError,
    audit::AUDIT_HEAD,
    key::bounds,
    outbox::{EVENT_HEAD, EVENTS, EVENTS_BY_ID},
};

const META: &str = "_meta";
const PARTS: &str = "_parts";
const DEFAULT_TREE: &[u8] = b"__sled__default";
pub(super) const SEQUENCE_KEY: &[u8] = b"seq";
const SCHEMA_KEY: &[u8] = b"schema";

/// Why the engine did not do something.
#[derive(Debug, thiserror::Error)]
pub(super) enum EngineError {
    /// The files are not what was written. Never retried.
    #[error("{0}")]
    Damaged(String),
    /// Anything else, mostly of the file system. The instance is of no more use.
    #[error("{0}")]
    Failed(String),
}

impl From<sled::Error> for EngineError {
    fn from(error: sled::Error) -> Self {
        match error {
            sled::Error::Corruption { .. } => {
                Self::Damaged("a checksum of the log does not match".into())
            }
            sled::Error::ReportableBug(_) => {
                Self::Damaged("the engine met a state that cannot be".into())
            }
            sled::Error::Io(error) => Self::Failed(error.to_string()),
            sled::Error::CollectionNotFound(_) | sled::Error::Unsupported(_) => {
                Self::Failed("the engine refused an operation".into())
            }
        }
    }
}

impl From<io::Error> for EngineError {
    fn from(error: io::Error) -> Self {
        Self::Failed(error.to_string())
    }
}

/// Runs the engine's code, in which a panic is its way of reporting damage.
pub(super) fn guarded<T>(run: impl FnOnce() -> Result<T, EngineError>) -> Result<T, EngineError> {
    catch_unwind(AssertUnwindSafe(run))
        .unwrap_or_else(|_| Err(EngineError::Damaged("the engine cannot read its log".into())))
}

/// What became of a group.
pub(super) struct Applied {
    /// One answer for each batch, to be given after the flush.
    pub(super) answers: Vec<Result<(), StoreError>>,
    /// Sequence number after the group.
    pub(super) sequence: u64,
}

/// Counts of a walk over everything.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Walked {
    pub(super) records: u64,
    pub(super) bytes: u64,
}

pub(super) struct Engine {
    db: sled::Db,
    meta: sled::Tree,
    parts: sled::Tree,
    trees: BTreeMap<String, sled::Tree>,
    log: File,
    undo: UndoLog,
}

impl Engine {
    /// Opens the files in `config.engine_dir()` (or makes them) as they are, without any check but
    /// the engine's own.
    pub(super) fn open(dir: &std::path::Path, config: &StoreConfig) -> Result<Self, EngineError> {
        guarded(|| {
            let db = sled::Config::new()
                .path(dir)
                .mode(sled::Mode::LowSpace)
                .cache_capacity(config.cache_bytes)
                .segment_size(value::SEGMENT_BYTES)
                .flush_every_ms(Some(500))
                .open()?;
            let log = File::open(dir.join("db"))?;
            let meta = db.open_tree(META)?;
            let parts = db.open_tree(PARTS)?;
            let mut trees = BTreeMap::new();
            for name in db.tree_names() {
                if name.as_ref() == DEFAULT_TREE {
                    continue;
                }
                let text = String::from_utf8(name.to_vec())
                    .map_err(|_| EngineError::Damaged("a space has no readable name".into()))?;
                if text != META && text != PARTS {
                    trees.insert(text, db.open_tree(&name)?);
                }
            }
            Ok(Self { db, meta, parts, trees, log, undo: UndoLog::default() })
        })
    }

    /// The layout version in the files; 0 in new ones.
    pub(super) fn schema(&self) -> Result<u32, EngineError> {
        guarded(|| match self.meta.get(SCHEMA_KEY)? {
            None => Ok(0),
            Some(bytes) => bytes
                .as_ref()
                .try_into()
                .map(u32::from_be_bytes)
                .map_err(|_| EngineError::Damaged("the layout version is unreadable".into())),
        })
    }

    /// Writes today's layout version and flushes.
    pub(super) fn write_schema(&self) -> Result<(), EngineError> {
        guarded(|| {
            self.meta.insert(SCHEMA_KEY, &SCHEMA.to_be_bytes())?;
            Ok(())
        })?;
        self.flush()
    }

    /// How many batches were ever committed.
    pub(super) fn sequence(&self) -> Result<u64, EngineError> {
        guarded(|| number(self.meta.get(SEQUENCE_KEY)?.as_deref()))
    }

    /// Names of all spaces that were ever written to, sorted.
    pub(super) fn spaces(&self) -> Vec<String> {
        self.trees.keys().cloned().collect()
    }

    /// How many rows there are now.
    pub(super) fn rows(&self) -> u64 {
        self.trees.values().map(|tree| tree.len() as u64).sum()
    }

    /// Applies a group in one transaction: visible in memory, not yet on disk.
    pub(super) fn apply(&mut self, group: &[Batch], oldest: u64) -> Result<Applied, EngineError> {
        self.undo.forget_up_to(oldest);
        let names = self.open_spaces(group)?;
        let mut trees = vec![self.meta.clone(), self.parts.clone()];
        trees.extend(names.iter().filter_map(|name| self.trees.get(*name).cloned()));
        let staged = guarded(|| {
            trees.transaction(|views| Stage::new(views, &names)?.run(group)).map_err(|error| {
                match error {
                    TransactionError::Abort(broken) => broken,
                    TransactionError::Storage(error) => error.into(),
                }
            })
        })?;
        if !staged.is_empty() {
            self.undo.push(staged.undo);
        }
        Ok(Applied { answers: staged.answers, sequence: staged.sequence })
    }

    /// Puts everything applied on disk, twice over: the engine's flush (a sync where
    /// [`harden_sync`](crate::store::harden_sync) holds) and a sync of the log by ourselves.
    pub(super) fn flush(&self) -> Result<(), EngineError> {
        guarded(|| {
            self.db.flush()?;
            self.log.sync_data()?;
            Ok(())
        })
    }

    /// The value of a key at `version`.
    pub(super) fn get(
        &self,
        version: u64,
        space: &str,
        key: &[u8],
    ) -> Result<Option<Bytes>, EngineError> {
        if let Some(before) = self.undo.get(version, space, key) {
            return Ok(before.clone());
        }
        let Some(tree) = self.trees.get(space) else { return Ok(None) };
        guarded(|| match tree.get(key)? {
            None => Ok(None),
            Some(stored) => self.read(space, key, &stored).map(Some),
        })
    }

    /// At most `limit` rows of a range at `version`.
    pub(super) fn scan(
        &self,
        version: u64,
        space: &str,
        range: &Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, EngineError> {
        let before = self.undo.range(version, space, range);
        let Some(bounds) = bounds(range) else { return Ok(Vec::new()) };
        let tree = self.trees.get(space);
        let rows = tree.into_iter().flat_map(|tree| tree.range::<&[u8], _>(bounds)).map(|row| {
            let (key, stored) = row?;
            Ok((key.to_vec(), stored))
        });
        guarded(|| match order {
            Order::Ascending => self.merge(space, rows, before, order, limit),
            Order::Descending => self.merge(space, rows.rev(), before.rev(), order, limit),
        })
    }

    /// Reads every value of every space, checking each.
    pub(super) fn walk(&self) -> Result<Walked, EngineError> {
        let mut walked = Walked::default();
        for (space, tree) in &self.trees {
            guarded(|| {
                for row in tree.iter() {
                    let (key, stored) = row?;
                    let value = self.read(space, &key, &stored)?;
                    walked.records += 1;
                    walked.bytes += (key.len() + value.len()) as u64;
                }
                Ok(())
            })?;
        }
        Ok(walked)
    }

    /// Flushes and closes; returns when the engine's threads have let go of the files.
    pub(super) fn close(self) -> Result<(), EngineError> {
        let flushed = self.flush();
        self.release();
        flushed
    }

    /// Drops the engine without asking for success, and waits for its threads.
    pub(super) fn release(self) {
        let Self { db, meta, parts, trees, log, undo: _ } = self;
        // Dropping flushes; an engine that failed may panic at it, and is done with either way.
        let _ = catch_unwind(AssertUnwindSafe(move || drop((trees, parts, meta, db))));
        // Its threads may hold the file for some moments more.
        for _ in 0..400 {
            if log.try_lock().is_ok() {
                return;
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn open_spaces<'a>(&mut self, group: &'a [Batch]) -> Result<Vec<&'a str>, EngineError> {
        let mut names: BTreeSet<&str> = BTreeSet::new();
        for batch in group {
            names.extend(batch.expect.iter().map(|(space, _, _)| space.name()));
            names.extend(batch.ops.iter().map(|op| match op {
                Op::Put(space, _, _) | Op::Del(space, _) => space.name(),
            }));
            if batch.audit.is_some() {
                names.extend([AUDIT.name(), AUDIT_HEAD.name()]);
            }
            if !batch.events.is_empty() {
                names.extend([EVENTS.name(), EVENTS_BY_ID.name(), EVENT_HEAD.name()]);
            }
        }
        for name in &names {
            if !self.trees.contains_key(*name) {
                let tree = guarded(|| Ok(self.db.open_tree(name)?))?;
                self.trees.insert((*name).to_owned(), tree);
            }
        }
        Ok(names.into_iter().collect())
    }

    /// The value in its stored form, with every check.
    fn read(&self, space: &str, key: &[u8], stored: &[u8]) -> Result<Bytes, EngineError> {
        read_value(space, key, stored, |part| Ok(self.parts.get(part)?))
    }

    /// Rows of the engine with those put back that changed since; both in the same order.
    fn merge<'a>(
        &self,
        space: &str,
        rows: impl Iterator<Item = Result<(Bytes, sled::IVec), EngineError>>,
        before: impl Iterator<Item = (&'a [u8], &'a Option<Bytes>)>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, EngineError> {
        let (mut rows, mut before) = (rows.peekable(), before.peekable());
        let mut out = Vec::new();
        while out.len() < limit {
            let row_key = match rows.peek() {
                Some(Ok((key, _))) => Some(key.as_slice()),
                Some(Err(_)) => {
                    return rows.next().map_or(Ok(out), |row| row.map(|_| Vec::new()));
                }
                None => None,
            };
            let old_is_next = match (row_key, before.peek()) {
                (None, None) => break,
                (Some(row), Some((old, _))) => match order {
                    Order::Ascending => *old <= row,
                    Order::Descending => row <= *old,
                },
                (row, _) => row.is_none(),
            };
            if old_is_next {
                let Some((key, value)) = before.next() else { break };
                // The row of the same key is what it became later.
                let _ = rows.next_if(|row| row.as_ref().is_ok_and(|(k, _)| k == key));
                out.extend(value.as_ref().map(|value| (key.to_vec(), value.clone())));
            } else if let Some(row) = rows.next() {
                let (key, stored) = row?;
                let value = self.read(space, &key, &stored)?;
                out.push((key, value));
            }
        }
        Ok(out)
    }
}

pub(super) fn number(stored: Option<&[u8]>) -> Result<u64, EngineError> {
    stored.map_or(Ok(0), |bytes| {
        bytes
            .try_into()
            .map(u64::from_be_bytes)
            .map_err(|_| EngineError::Damaged("the sequence number is unreadable".into()))
    })
}

pub(super) fn read_value(
    space: &str,
    key: &[u8],
    stored: &[u8],
    mut part: impl FnMut(&[u8]) -> Result<Option<sled::IVec>, EngineError>,
) -> Result<Bytes, EngineError> {
    let damaged = || EngineError::Damaged(format!("a value of space `{space}` fails its checksum"));
    match value::decode(stored).ok_or_else(damaged)? {
        Stored::Inline { check, bytes } => {
            if check == value::check(space, key, bytes) {
                Ok(bytes.to_vec())
            } else {
                Err(damaged())
            }
        }
        Stored::Parted(parts) => {
            let mut value = Bytes::new();
            for part_key in parts.keys() {
                value.extend_from_slice(&part(&part_key)?.ok_or_else(damaged)?);
            }
            if parts.holds(space, key, &value) { Ok(value) } else { Err(damaged()) }
        }
    }
}
