//! A store in memory, for tests: the same promises but the disk.

use std::{
    collections::BTreeMap,
    ops::Range,
    sync::{Arc, Mutex, MutexGuard, PoisonError},
};

use super::{
    Batch, Bytes, Order, Read, Space, Store, StoreError,
    decide::{Decided, decide},
    key::bounds,
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

    fn apply(&self, batch: &Batch) -> Result<(), StoreError> {
        batch.check_limits()?;
        let mut map = self.lock();
        let found = |space: Space, key: &[u8]| {
            Ok::<_, StoreError>(map.get(space.name()).and_then(|keys| keys.get(key)).cloned())
        };
        let Decided { answers, changes } = decide(std::slice::from_ref(batch), found)?;
        let map = Arc::make_mut(&mut map);
        for (space, keys) in changes {
            let rows = map.entry(space.name()).or_default();
            for (key, value) in keys {
                match value {
                    Some(value) => rows.insert(key.into_owned(), value.into_owned()),
                    None => rows.remove(&*key),
                };
            }
        }
        answers.into_iter().collect()
    }
}

impl Store for MemoryStore {
    type Snap = MemorySnap;

    async fn commit(&self, batch: Batch) -> Result<(), StoreError> {
        self.apply(&batch)
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
