//! A store in memory, for tests: the same promises but the disk.

use std::{
    collections::BTreeMap,
    ops::{Bound, Range},
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

use super::{
    AUDIT, AuditEntry, Batch, Bytes, Op, Order, Outgoing, Read, Space, Store, StoreError,
    audit::{self, AUDIT_HEAD, HEAD_KEY, Head},
    outbox::{self, EVENT_HEAD, EVENTS, EVENTS_BY_ID},
};

type Map = BTreeMap<&'static str, BTreeMap<Bytes, Bytes>>;

/// All spaces in one map; a snapshot shares it until the next write.
#[derive(Debug, Clone, Default)]
pub struct MemoryStore {
    map: Arc<Mutex<Arc<Map>>>,
}

/// A view of a [`MemoryStore`].
#[derive(Debug, Clone)]
pub struct MemorySnap {
    map: Arc<Map>,
}

impl MemoryStore {
    /// An empty store.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    fn lock(&self) -> MutexGuard<'_, Arc<Map>> {
        self.map.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn apply(&self, mut batch: Batch) -> Result<(), StoreError> {
        batch.check_limits()?;
        let mut map = self.lock();
        for (index, (space, key, value)) in batch.expect.iter().enumerate() {
            let found = map.get(space.name()).and_then(|keys| keys.get(key));
            if found != value.as_ref() {
                return Err(StoreError::Conflict { index, space: *space });
            }
        }
        if let Some(entry) = batch.audit.take() {
            let head = map.get(AUDIT_HEAD.name()).and_then(|keys| keys.get(HEAD_KEY));
            batch.ops.extend(audit_ops(head, entry).map_err(|error| {
                StoreError::Unavailable(format!("audit entry cannot be written: {error}"))
            })?);
        }
        if !batch.events.is_empty() {
            let head = map.get(EVENT_HEAD.name()).and_then(|keys| keys.get(outbox::HEAD_KEY));
            batch.ops.extend(event_ops(head, std::mem::take(&mut batch.events)));
        }
        let map = Arc::make_mut(&mut map);
        for op in batch.ops {
            match op {
                Op::Put(space, key, value) => {
                    map.entry(space.name()).or_default().insert(key, value);
                }
                Op::Del(space, key) => {
                    map.entry(space.name()).or_default().remove(&key);
                }
            }
        }
        Ok(())
    }
}

fn audit_ops(head: Option<&Bytes>, entry: AuditEntry) -> serde_json::Result<[Op; 2]> {
    let mut head: Head = head.map_or(Ok(Head::default()), |bytes| serde_json::from_slice(bytes))?;
    let link = head.link(entry);
    Ok([
        Op::Put(AUDIT, audit::key(link.number), serde_json::to_vec(&link)?),
        Op::Put(AUDIT_HEAD, HEAD_KEY.to_vec(), serde_json::to_vec(&head)?),
    ])
}

fn event_ops(head: Option<&Bytes>, events: Vec<Outgoing>) -> Vec<Op> {
    let mut number = head.and_then(|bytes| outbox::number(bytes)).unwrap_or(0);
    let mut ops = Vec::new();
    for Outgoing { id, value } in events {
        number += 1;
        ops.push(Op::Put(EVENTS, outbox::key(number), value));
        ops.push(Op::Put(EVENTS_BY_ID, id.as_bytes().to_vec(), outbox::key(number)));
    }
    ops.push(Op::Put(EVENT_HEAD, outbox::HEAD_KEY.to_vec(), outbox::key(number)));
    ops
}

impl Store for MemoryStore {
    type Snap = MemorySnap;

    async fn commit(&self, batch: Batch) -> Result<(), StoreError> {
        self.apply(batch)
    }

    async fn snapshot(&self) -> Result<MemorySnap, StoreError> {
        Ok(MemorySnap { map: Arc::clone(&self.lock()) })
    }
}

impl Read for MemorySnap {
    async fn get(&mut self, space: Space, key: &[u8]) -> Result<Option<Bytes>, StoreError> {
        Ok(self.map.get(space.name()).and_then(|keys| keys.get(key)).cloned())
    }

    async fn scan(
        &mut self,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        let Some(keys) = self.map.get(space.name()) else { return Ok(Vec::new()) };
        let Some(bounds) = bounds(&range) else { return Ok(Vec::new()) };
        let rows = keys.range::<[u8], _>(bounds).map(|(k, v)| (k.clone(), v.clone()));
        Ok(match order {
            Order::Ascending => rows.take(limit).collect(),
            Order::Descending => rows.rev().take(limit).collect(),
        })
    }
}

/// Lower and upper end of a range of keys.
pub(super) type Bounds<'a> = (Bound<&'a [u8]>, Bound<&'a [u8]>);

/// The bounds of a range with an empty end for "no upper end"; `None` when nothing lies in it.
pub(super) fn bounds(range: &Range<Bytes>) -> Option<Bounds<'_>> {
    let start = Bound::Included(range.start.as_slice());
    if range.end.is_empty() {
        return Some((start, Bound::Unbounded));
    }
    (range.start < range.end).then_some((start, Bound::Excluded(range.end.as_slice())))
}
