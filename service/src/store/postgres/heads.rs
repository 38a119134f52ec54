//! The heads: the newest row of the journal. For everybody else they are rows,
//! as they are on the other engines, so that exports are equal.

use std::borrow::Cow;

use tokio_postgres::Row;

use crate::store::{
    Bytes, Space, StoreError,
    audit::{self, AUDIT_HEAD},
    decide::{BrokenHead, Changes},
    outbox::{self, EVENT_HEAD},
};

/// What the newest row of the journal says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Heads {
    /// How many batches were ever committed.
    pub(super) seq: i64,
    event: u64,
    audit: audit::Head,
}

impl Heads {
    /// Reads the row; without one nothing was ever written.
    pub(super) fn of(row: Option<&Row>) -> Result<Self, StoreError> {
        let Some(row) = row else {
            let audit = audit::Head::default();
            return Ok(Self { seq: 0, event: 0, audit });
        };
        let broken = |_| StoreError::Damaged("the journal is unreadable".into());
        let number = |at| row.try_get::<_, i64>(at).map_err(broken);
        let count = |n: i64| {
            u64::try_from(n).map_err(|_| StoreError::Damaged("the journal is unreadable".into()))
        };
        Ok(Self {
            seq: number(0)?,
            event: count(number(1)?)?,
            audit: audit::Head {
                number: count(number(2)?)?,
                hash: row.try_get(3).map_err(broken)?,
            },
        })
    }

    /// The sequence number as others count it.
    pub(super) fn sequence(&self) -> u64 {
        u64::try_from(self.seq).unwrap_or(0)
    }

    /// The columns of a journal row: event, audit, hash.
    pub(super) fn columns(&self) -> Result<(i64, i64, &str), StoreError> {
        let number = |n: u64| {
            i64::try_from(n).map_err(|_| StoreError::Damaged("a number is too large".into()))
        };
        Ok((number(self.event)?, number(self.audit.number)?, &self.audit.hash))
    }

    /// The row that a head space would hold; `None` for every other space, or while there is none.
    pub(super) fn row(&self, space: &str) -> Option<(Bytes, Bytes)> {
        if space == EVENT_HEAD.name() && 0 < self.event {
            return Some((outbox::HEAD_KEY.to_vec(), outbox::key(self.event)));
        }
        if space == AUDIT_HEAD.name() && 0 < self.audit.number {
            let stored = serde_json::to_vec(&self.audit).ok()?;
            return Some((audit::HEAD_KEY.to_vec(), stored));
        }
        None
    }

    /// What a key of a head space holds.
    pub(super) fn value(&self, space: &str, key: &[u8]) -> Option<Bytes> {
        self.row(space).filter(|(at, _)| at == key).map(|(_, value)| value)
    }

    /// Takes the heads out of what is to be written, and moves on to them.
    pub(super) fn move_on(&mut self, changes: &mut Changes<'_>) -> Result<(), BrokenHead> {
        if let Some(keys) = changes.remove(&EVENT_HEAD) {
            self.event = match head(keys, outbox::HEAD_KEY)? {
                None => 0,
                Some(stored) => outbox::number(&stored)
                    .ok_or(BrokenHead("the head of the events is unreadable"))?,
            };
        }
        if let Some(keys) = changes.remove(&AUDIT_HEAD) {
            self.audit = match head(keys, audit::HEAD_KEY)? {
                None => audit::Head::default(),
                Some(stored) => serde_json::from_slice(&stored)
                    .map_err(|_| BrokenHead("the head of the audit trail is unreadable"))?,
            };
        }
        Ok(())
    }
}

/// Whether a space is made up from the journal.
pub(super) fn is_head(space: &str) -> bool {
    [EVENT_HEAD, AUDIT_HEAD].map(Space::name).contains(&space)
}

type Keys<'a> = std::collections::BTreeMap<Cow<'a, [u8]>, Option<Cow<'a, [u8]>>>;

/// The one key that a head space may hold.
fn head<'a>(keys: Keys<'a>, key: &[u8]) -> Result<Option<Cow<'a, [u8]>>, BrokenHead> {
    let mut found = None;
    for (at, value) in keys {
        if *at != *key {
            return Err(BrokenHead("a head space holds its head and nothing else"));
        }
        found = value;
    }
    Ok(found)
}
