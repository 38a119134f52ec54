//! What keys held before the groups that are not yet visible to everybody.

use std::{
    collections::{BTreeMap, VecDeque},
    ops::Range,
};

use crate::store::{Bytes, key::bounds};

/// What the changed keys of one group held before it; `None`: they were absent.
#[derive(Debug, Default)]
pub(super) struct Undo {
    /// Sequence number of the group's last batch.
    pub(super) version: u64,
    before: BTreeMap<&'static str, BTreeMap<Bytes, Option<Bytes>>>,
}

/// What a key held before some groups changed it, oldest first: the group's
/// version, and the value.
type Held = VecDeque<(u64, Option<Bytes>)>;

/// What keys held before the groups that some snapshot may still have to look
/// behind. A question costs the same however many groups there are.
#[derive(Debug, Default)]
pub(super) struct UndoLog {
    /// The keys of each group, oldest group first.
    groups: VecDeque<(u64, Vec<(&'static str, Bytes)>)>,
    held: BTreeMap<&'static str, BTreeMap<Bytes, Held>>,
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
        let Undo { version, before } = undo;
        let mut keys = Vec::new();
        for (space, changed) in before {
            let held = self.held.entry(space).or_default();
            for (key, before) in changed {
                keys.push((space, key.clone()));
                held.entry(key).or_default().push_back((version, before));
            }
        }
        self.groups.push_back((version, keys));
    }

    /// Forgets the groups that every view from `oldest` on includes anyway.
    pub(super) fn forget_up_to(&mut self, oldest: u64) {
        while self.groups.front().is_some_and(|(version, _)| *version <= oldest) {
            let keys = self.groups.pop_front().map(|(_, keys)| keys);
            for (space, key) in keys.into_iter().flatten() {
                let Some(held) = self.held.get_mut(space) else { continue };
                if let Some(values) = held.get_mut(&key) {
                    values.pop_front();
                    if values.is_empty() {
                        held.remove(&key);
                    }
                }
            }
        }
    }

    /// What a key held at `version`: `None` when it has not changed since.
    pub(super) fn get(&self, version: u64, space: &str, key: &[u8]) -> Option<&Option<Bytes>> {
        at(self.held.get(space)?.get(key)?, version)
    }

    /// What the keys of a range that changed since `version` held then, in order.
    pub(super) fn range<'a>(
        &'a self,
        version: u64,
        space: &str,
        range: &'a Range<Bytes>,
    ) -> impl DoubleEndedIterator<Item = (&'a [u8], &'a Option<Bytes>)> {
        let keys = self.held.get(space).zip(bounds(range));
        let keys = keys.into_iter().flat_map(|(keys, bounds)| keys.range::<[u8], _>(bounds));
        keys.filter_map(move |(key, held)| Some((key.as_slice(), at(held, version)?)))
    }
}

/// What a key held at `version`: before the first group after it.
fn at(held: &Held, version: u64) -> Option<&Option<Bytes>> {
    held.get(held.partition_point(|(changed, _)| *changed <= version)).map(|(_, before)| before)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const SPACE: &str = "space";

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        /// Against the whole state after each group, kept aside: whatever was
        /// forgotten, every view from the oldest on sees what it saw.
        #[test]
        fn every_view_sees_what_it_saw(
            groups in prop::collection::vec(prop::collection::vec((0..6_u8, prop::option::of(any::<u8>())), 0..5), 1..12),
            oldest in 0..12_usize,
        ) {
            let mut log = UndoLog::default();
            let mut now: BTreeMap<Bytes, Bytes> = BTreeMap::new();
            let mut states = vec![now.clone()];
            for (n, group) in groups.iter().enumerate() {
                let mut undo = Undo { version: n as u64 + 1, before: BTreeMap::new() };
                for (key, value) in group {
                    let key = vec![*key];
                    undo.remember(SPACE, &key, now.get(&key).cloned());
                    match value {
                        Some(value) => now.insert(key, vec![*value]),
                        None => now.remove(&key),
                    };
                }
                log.push(undo);
                states.push(now.clone());
            }
            let oldest = oldest.min(groups.len());
            log.forget_up_to(oldest as u64);
            let all = Vec::new()..Vec::new();
            for (version, state) in states.iter().enumerate().skip(oldest) {
                let mut seen = now.clone();
                for (key, before) in log.range(version as u64, SPACE, &all) {
                    prop_assert_eq!(log.get(version as u64, SPACE, key), Some(before));
                    match before {
                        Some(value) => seen.insert(key.to_vec(), value.clone()),
                        None => seen.remove(key),
                    };
                }
                prop_assert_eq!(&seen, state, "version {}", version);
            }
            log.forget_up_to(u64::MAX);
            prop_assert!(log.held.values().all(BTreeMap::is_empty));
        }
    }
}
