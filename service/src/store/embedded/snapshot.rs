//! One moment of the embedded store.

use std::{collections::BTreeMap, ops::Range, sync::Arc};

use tokio::{runtime::Handle, sync::OwnedRwLockReadGuard, task::spawn_blocking};

use super::{
    Core, Slot,
    engine::{Engine, EngineError},
};
use crate::store::{Bytes, Order, Read, Space, StoreError, Walk};

/// Longest scan, in rows, that runs on the caller's thread: about 1 ms when all pages are cached.
const INLINE_ROWS: usize = 256;

/// Which versions are looked at.
#[derive(Debug, Default)]
pub(super) struct Views {
    /// Version of everything on disk: where new snapshots start.
    pub(super) durable: u64,
    /// Counts the opened instances of the engine.
    pub(super) instance: u64,
    /// What to answer while there is no engine.
    pub(super) state: Option<StoreError>,
    live: BTreeMap<u64, usize>,
}

impl Views {
    /// The oldest version that somebody may still read.
    pub(super) fn oldest(&self) -> u64 {
        self.live.keys().next().copied().unwrap_or(self.durable).min(self.durable)
    }

    /// Makes all snapshots of the instance before invalid.
    pub(super) fn next_instance(&mut self, durable: u64) {
        self.instance += 1;
        self.durable = durable;
        self.live.clear();
    }
}

/// A view of all spaces at one moment. Costs nothing to hold but the memory of what changes
/// meanwhile.
pub struct EmbeddedSnap {
    core: Arc<Core>,
    instance: u64,
    version: u64,
    reads: usize,
}

impl EmbeddedSnap {
    pub(super) async fn take(core: &Arc<Core>) -> Result<Self, StoreError> {
        let slot = core.slot.read().await;
        core.engine(&slot)?;
        let mut views = core.views();
        let (instance, version) = (views.instance, views.durable);
        *views.live.entry(version).or_default() += 1;
        drop(views);
        drop(slot);
        Ok(Self { core: Arc::clone(core), instance, version, reads: 0 })
    }

    /// How often it was read from: once for each question, however much it asked for.
    #[must_use]
    pub fn reads(&self) -> usize {
        self.reads
    }

    async fn read<T>(
        &self,
        run: impl FnOnce(&Engine) -> Result<T, EngineError>,
    ) -> Result<T, StoreError> {
        let slot = self.slot().await?;
        self.core.judge(run(self.core.engine(&slot)?))
    }

    async fn slot(&self) -> Result<OwnedRwLockReadGuard<Slot>, StoreError> {
        let slot = Arc::clone(&self.core.slot).read_owned().await;
        if self.core.views().instance != self.instance {
            return Err(StoreError::Unavailable("this view ended with its engine".into()));
        }
        Ok(slot)
    }
}

impl Walk for EmbeddedSnap {
    fn version(&self) -> u64 {
        self.version
    }

    async fn spaces(&mut self) -> Result<Vec<String>, StoreError> {
        self.read(|engine| Ok(engine.spaces())).await
    }

    async fn rows(&mut self) -> Result<u64, StoreError> {
        self.read(|engine| Ok(engine.rows())).await
    }

    async fn scan_named(
        &mut self,
        space: &str,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        self.reads += 1;
        let version = self.version;
        if limit <= INLINE_ROWS || Handle::try_current().is_err() {
            return self.read(|engine| engine.scan(version, space, &range, order, limit)).await;
        }
        let slot = self.slot().await?;
        let (core, space) = (Arc::clone(&self.core), space.to_owned());
        spawn_blocking(move || {
            let engine = core.engine(&slot)?;
            core.judge(engine.scan(version, &space, &range, order, limit))
        })
        .await
        .unwrap_or(Err(StoreError::Stopping))
    }
}

impl Read for EmbeddedSnap {
    async fn get(&mut self, space: Space, key: &[u8]) -> Result<Option<Bytes>, StoreError> {
        self.reads += 1;
        let version = self.version;
        self.read(|engine| engine.get(version, space.name(), key)).await
    }

    async fn get_many(
        &mut self,
        space: Space,
        keys: &[Bytes],
    ) -> Result<Vec<Option<Bytes>>, StoreError> {
        self.reads += 1;
        let version = self.version;
        let one = |engine: &Engine, key: &Bytes| engine.get(version, space.name(), key);
        self.read(|engine| keys.iter().map(|key| one(engine, key)).collect()).await
    }

    async fn scan(
        &mut self,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        self.scan_named(space.name(), range, order, limit).await
    }

    async fn scan_many(
        &mut self,
        space: Space,
        ranges: &[Range<Bytes>],
        order: Order,
        limit: usize,
    ) -> Result<Vec<Vec<(Bytes, Bytes)>>, StoreError> {
        self.reads += 1;
        let (version, space) = (self.version, space.name());
        let one = |engine: &Engine, range: &Range<Bytes>| {
            engine.scan(version, space, range, order, limit)
        };
        self.read(|engine| ranges.iter().map(|range| one(engine, range)).collect()).await
    }
}

impl Drop for EmbeddedSnap {
    fn drop(&mut self) {
        let mut views = self.core.views();
        if views.instance != self.instance {
            return;
        }
        if let Some(count) = views.live.get_mut(&self.version) {
            *count -= 1;
            if *count == 0 {
                views.live.remove(&self.version);
            }
        }
    }
}

impl Core {
    /// The engine, or what to answer in its absence.
    pub(super) fn engine<'a>(&self, slot: &'a Slot) -> Result<&'a Engine, StoreError> {
        if let Some(why) = self.damage.get() {
            return Err(StoreError::Damaged(why.clone()));
        }
        match slot {
            Slot::Open(engine) => Ok(engine),
            Slot::Shut(error) => Err(error.clone()),
        }
    }

    fn judge<T>(&self, result: Result<T, EngineError>) -> Result<T, StoreError> {
        result.map_err(|error| match error {
            EngineError::Damaged(why) => self.report_damage(why),
            EngineError::Failed(why) => StoreError::Unavailable(why),
        })
    }
}
