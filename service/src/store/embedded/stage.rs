//! A group of batches on its way through one transaction of the engine.

use std::collections::BTreeMap;

use sled::transaction::{ConflictableTransactionError, TransactionalTree};

use super::{
    engine::{EngineError, SEQUENCE_KEY, number, read_value},
    undo::Undo,
    value::{self, PART_BYTES, Parts, Stored},
};
use crate::store::{
    Batch, Bytes, StoreError,
    decide::{BrokenHead, Decided, decide},
};

/// Aborts a transaction over a broken value.
pub(super) type StageError = ConflictableTransactionError<EngineError>;

impl From<BrokenHead> for StageError {
    fn from(BrokenHead(why): BrokenHead) -> Self {
        abort(EngineError::Damaged(why.into()))
    }
}

/// A group on its way through one transaction.
pub(super) struct Stage<'a> {
    meta: &'a TransactionalTree,
    parts: &'a TransactionalTree,
    spaces: BTreeMap<&'a str, &'a TransactionalTree>,
    out: Staged,
}

/// A group that was staged.
#[derive(Default)]
pub(super) struct Staged {
    /// One answer for each batch.
    pub(super) answers: Vec<Result<(), StoreError>>,
    /// Sequence number after the group.
    pub(super) sequence: u64,
    /// What the changed keys held before.
    pub(super) undo: Undo,
}

impl Staged {
    /// Whether every batch was refused.
    pub(super) fn is_empty(&self) -> bool {
        self.answers.iter().all(Result::is_err)
    }
}

impl<'a> Stage<'a> {
    /// `views` are the engine's own two spaces, then those named in `names`, in that order.
    pub(super) fn new(
        views: &'a [TransactionalTree],
        names: &[&'a str],
    ) -> Result<Self, StageError> {
        let [meta, parts, spaces @ ..] = views else {
            return Err(abort(EngineError::Failed("the engine gave too few spaces".into())));
        };
        let sequence = number(meta.get(SEQUENCE_KEY)?.as_deref()).map_err(abort)?;
        let spaces = names.iter().copied().zip(spaces).collect();
        Ok(Self { meta, parts, spaces, out: Staged { sequence, ..Staged::default() } })
    }

    /// Stages what is decided about the group.
    pub(super) fn run(mut self, group: &[Batch]) -> Result<Staged, StageError> {
        let decided = decide(group, |space, key| match self.space(space.name())?.get(key)? {
            None => Ok(None),
            Some(stored) => self.read(space.name(), key, &stored).map(Some),
        })?;
        if !decided.is_refused() {
            self.out.sequence += decided.committed();
            self.changes(&decided)?;
            self.meta.insert(SEQUENCE_KEY, &self.out.sequence.to_be_bytes())?;
        }
        self.out.answers = decided.answers;
        self.out.undo.version = self.out.sequence;
        Ok(self.out)
    }

    fn changes(&mut self, decided: &Decided<'_>) -> Result<(), StageError> {
        let mut number = 0;
        for (space, keys) in &decided.changes {
            for (key, value) in keys {
                match value {
                    Some(value) => self.put(space.name(), key, value, number)?,
                    None => {
                        let old = self.space(space.name())?.remove(&**key)?;
                        self.replaced(space.name(), key, old.as_deref())?;
                    }
                }
                number += 1;
            }
        }
        Ok(())
    }

    /// `number` is that of the change in its group.
    fn put(
        &mut self,
        space: &'static str,
        key: &[u8],
        value: &[u8],
        number: usize,
    ) -> Result<(), StageError> {
        let stored = if value.len() <= PART_BYTES {
            value::encode_inline(space, key, value)
        } else {
            let number = u32::try_from(number)
                .map_err(|_| abort(EngineError::Failed("too many changes in a group".into())))?;
            let parts = Parts::new(space, key, value, self.out.sequence, number);
            for (part, bytes) in parts.keys().zip(value.chunks(PART_BYTES)) {
                self.parts.insert(&part, bytes)?;
            }
            parts.encode()
        };
        let old = self.space(space)?.insert(key, stored)?;
        self.replaced(space, key, old.as_deref())
    }

    /// Remembers what a key held and removes the parts of a long value.
    fn replaced(
        &mut self,
        space: &'static str,
        key: &[u8],
        old: Option<&[u8]>,
    ) -> Result<(), StageError> {
        let value = match old {
            None => None,
            Some(stored) => {
                let value = self.read(space, key, stored)?;
                if let Some(Stored::Parted(parts)) = value::decode(stored) {
                    for part in parts.keys() {
                        self.parts.remove(&part)?;
                    }
                }
                Some(value)
            }
        };
        self.out.undo.remember(space, key, value);
        Ok(())
    }

    fn read(&self, space: &str, key: &[u8], stored: &[u8]) -> Result<Bytes, StageError> {
        // The engine's own error must pass through unwrapped: some of them mean "run again".
        let mut inner = None;
        let value = read_value(space, key, stored, |part| {
            self.parts.get(part).map_err(|error| {
                inner = Some(error);
                EngineError::Failed("the engine interrupted a read".into())
            })
        });
        match inner {
            Some(error) => Err(error.into()),
            None => value.map_err(abort),
        }
    }

    fn space(&self, name: &str) -> Result<&'a TransactionalTree, StageError> {
        self.spaces
            .get(name)
            .copied()
            .ok_or_else(|| abort(EngineError::Failed("a space is not open".into())))
    }
}

fn abort(error: EngineError) -> StageError {
    ConflictableTransactionError::Abort(error)
}
