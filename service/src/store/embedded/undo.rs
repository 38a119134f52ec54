//! What keys held before the groups that are not yet visible to everybody.

use std::{
    collections::{BTreeMap, VecDeque},
    ops::Range,
};

use crate::store::{Bytes, memory::bounds};

/// What the changed keys of one group held before it; `None`: they were absent.
#[derive(Debug, Default)]
pub(super) struct Undo {
    /// Sequence number of the group's last batch.
    pub(super) version: u64,
    before: BTreeMap<&'static str, BTreeMap<Bytes, Option<Bytes>>>,
}

/// The groups that some snapshot may still have to look behind, oldest first.
#[derive(Debug, Default)]
pub(super) struct UndoLog {
    groups: VecDeque<Undo>,
}

impl Undo {
    /// Notes what a key held; the first note of a group counts.
    pub(super) fn remember(&mut self, space: &'static str, key: &[u8], before: Option<Bytes>) {
        let keys = self.before.entry(space).or_default();
        if !keys.contains_key(key) {
            keys.insert(key.to_vec(), before);
        }
    }
}

impl UndoLog {
    pub(super) fn push(&mut self, undo: Undo) {
        self.groups.push_back(undo);
    }

    /// Forgets the groups that every view from `oldest` on includes anyway.
    pub(super) fn forget_up_to(&mut self, oldest: u64) {
        while self.groups.front().is_some_and(|undo| undo.version <= oldest) {
            self.groups.pop_front();
        }
    }

    /// What a key held at `version`: `None` when it has not changed since.
    pub(super) fn get(&self, version: u64, space: &str, key: &[u8]) -> Option<&Option<Bytes>> {
        self.after(version).find_map(|undo| undo.before.get(space)?.get(key))
    }

    /// What the keys of a range that changed since `version` held then.
    pub(super) fn range(
        &self,
        version: u64,
        space: &str,
        range: &Range<Bytes>,
    ) -> BTreeMap<&[u8], &Option<Bytes>> {
        let mut found = BTreeMap::new();
        let Some(bounds) = bounds(range) else { return found };
        for keys in self.after(version).filter_map(|undo| undo.before.get(space)) {
            for (key, before) in keys.range::<[u8], _>(bounds) {
                found.entry(key.as_slice()).or_insert(before);
            }
        }
        found
    }

    fn after(&self, version: u64) -> impl Iterator<Item = &Undo> {
        let start = self.groups.partition_point(|undo| undo.version <= version);
        self.groups.range(start..)
    }
}
