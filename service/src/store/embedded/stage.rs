//! A group of batches on its way through one transaction of the engine.
//!
//! Each batch sees what the ones before it in the group staged. One whose
//! preconditions fail is left out; the others go on.

use std::collections::BTreeMap;

use sled::transaction::{ConflictableTransactionError, TransactionalTree};

use super::{
    engine::{EngineError, SEQUENCE_KEY, number, read_value},
    undo::Undo,
    value::{self, PART_BYTES, Parts, Stored},
};
use crate::store::{
    AUDIT, AuditEntry, Batch, Bytes, Op, Outgoing, StoreError,
    audit::{self, AUDIT_HEAD, HEAD_KEY},
    outbox::{self, EVENT_HEAD, EVENTS, EVENTS_BY_ID},
};

/// Stands in the place of a change's number for the head of the trail, which is never long.
const HEAD_NUMBER: usize = 0;

/// Aborts a transaction over a broken value.
pub(super) type StageError = ConflictableTransactionError<EngineError>;

/// A group on its way through one transaction.
pub(super) struct Stage<'a> {
    meta: &'a TransactionalTree,
    parts: &'a TransactionalTree,
    spaces: BTreeMap<&'a str, &'a TransactionalTree>,
    /// The head of the audit trail, once a batch of the group has an entry.
    trail: Option<audit::Head>,
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
        Ok(Self { meta, parts, spaces, trail: None, out: Staged { sequence, ..Staged::default() } })
    }

    /// Stages each batch whose preconditions hold at its turn.
    pub(super) fn run(mut self, group: &[Batch]) -> Result<Staged, StageError> {
        for batch in group {
            let answer = self.expectations(batch)?;
            if answer.is_ok() {
                self.out.sequence += 1;
                self.changes(batch)?;
            }
            self.out.answers.push(answer);
        }
        if let Some(head) = self.trail.take() {
            self.put(AUDIT_HEAD.name(), HEAD_KEY, &json(&head)?, HEAD_NUMBER)?;
        }
        if !self.out.is_empty() {
            self.meta.insert(SEQUENCE_KEY, &self.out.sequence.to_be_bytes())?;
        }
        self.out.undo.version = self.out.sequence;
        Ok(self.out)
    }

    fn expectations(&self, batch: &Batch) -> Result<Result<(), StoreError>, StageError> {
        for (index, (space, key, want)) in batch.expect.iter().enumerate() {
            let tree = self.space(space.name())?;
            let found = match tree.get(key)? {
                None => None,
                Some(stored) => Some(self.read(space.name(), key, &stored)?),
            };
            if found != *want {
                return Ok(Err(StoreError::Conflict { index, space: *space }));
            }
        }
        Ok(Ok(()))
    }

    fn changes(&mut self, batch: &Batch) -> Result<(), StageError> {
        for (number, op) in batch.ops.iter().enumerate() {
            match op {
                Op::Put(space, key, value) => self.put(space.name(), key, value, number)?,
                Op::Del(space, key) => {
                    let old = self.space(space.name())?.remove(key.as_slice())?;
                    self.replaced(space.name(), key, old.as_deref())?;
                }
            }
        }
        if let Some(entry) = &batch.audit {
            self.audit(entry, batch.ops.len())?;
        }
        if !batch.events.is_empty() {
            self.events(&batch.events, batch.ops.len() + 1)?;
        }
        Ok(())
    }

    /// Links an entry to the trail; the head is written at the end of the group.
    fn audit(&mut self, entry: &AuditEntry, number: usize) -> Result<(), StageError> {
        let mut head = match self.trail.take() {
            Some(head) => head,
            None => self.stored_head()?,
        };
        let link = head.link(entry.clone());
        self.trail = Some(head);
        self.put(AUDIT.name(), &audit::key(link.number), &json(&link)?, number)
    }

    fn stored_head(&self) -> Result<audit::Head, StageError> {
        let Some(stored) = self.space(AUDIT_HEAD.name())?.get(HEAD_KEY)? else {
            return Ok(audit::Head::default());
        };
        let value = self.read(AUDIT_HEAD.name(), HEAD_KEY, &stored)?;
        serde_json::from_slice(&value).map_err(|_| {
            let why = "the head of the audit trail is unreadable";
            abort(EngineError::Damaged(why.into()))
        })
    }

    /// Numbers the events of a batch; `first` is the number of the first change made for them.
    fn events(&mut self, events: &[Outgoing], first: usize) -> Result<(), StageError> {
        let stored = self.space(EVENT_HEAD.name())?.get(outbox::HEAD_KEY)?;
        let mut head = match stored {
            None => 0,
            Some(stored) => {
                let value = self.read(EVENT_HEAD.name(), outbox::HEAD_KEY, &stored)?;
                outbox::number(&value).ok_or_else(|| {
                    let why = "the head of the events is unreadable";
                    abort(EngineError::Damaged(why.into()))
                })?
            }
        };
        for (at, Outgoing { id, value }) in events.iter().enumerate() {
            head += 1;
            let key = outbox::key(head);
            self.put(EVENTS_BY_ID.name(), id.as_bytes(), &key, first + at)?;
            self.put(EVENTS.name(), &key, value, first + at)?;
        }
        self.put(EVENT_HEAD.name(), outbox::HEAD_KEY, &outbox::key(head), first)
    }

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
                .map_err(|_| abort(EngineError::Failed("too many changes in a batch".into())))?;
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

fn json(value: &impl serde::Serialize) -> Result<Bytes, StageError> {
    serde_json::to_vec(value)
        .map_err(|_| abort(EngineError::Failed("an audit entry cannot be written".into())))
}
