//! What becomes of a group of batches, decided without writing anything.
//!
//! Every engine commits groups: it reads what the batches expect, decides, and
//! writes the changes at once. The deciding is the same everywhere and stands
//! here, once: whose preconditions hold, which number an event gets, which link
//! of the audit trail follows which. Each batch sees what those before it in the
//! group change; one whose preconditions fail is left out, and the others go on.
//!
//! The heads (the newest event's number, the newest link) are rows like any
//! other. An engine that keeps them elsewhere makes the rows up for the reading
//! and takes them out of the changes.

use std::{borrow::Cow, collections::BTreeMap};

use super::{
    AUDIT, AuditEntry, Batch, Bytes, Op, Outgoing, Space, StoreError,
    audit::{self, AUDIT_HEAD},
    outbox::{self, EVENT_HEAD, EVENTS, EVENTS_BY_ID},
};

/// One change to each key: its value from now on, `None` for a removal.
pub(super) type Changes<'a> = BTreeMap<Space, BTreeMap<Cow<'a, [u8]>, Option<Cow<'a, [u8]>>>>;

/// A group that was decided.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Decided<'a> {
    /// One answer for each batch, to be given when the changes are durable.
    pub(super) answers: Vec<Result<(), StoreError>>,
    /// What is to be written, all of it or nothing.
    pub(super) changes: Changes<'a>,
}

impl Decided<'_> {
    /// How many batches are to be committed.
    pub(super) fn committed(&self) -> u64 {
        self.answers.iter().filter(|answer| answer.is_ok()).count() as u64
    }

    /// Whether every batch was refused.
    pub(super) fn is_refused(&self) -> bool {
        self.answers.iter().all(Result::is_err)
    }
}

/// A head that cannot be read: the store is damaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct BrokenHead(pub(super) &'static str);

impl From<BrokenHead> for StoreError {
    fn from(BrokenHead(why): BrokenHead) -> Self {
        Self::Damaged(why.into())
    }
}

/// Decides a group. `found` gives what a key holds before it.
///
/// # Errors
/// What `found` met, or a [`BrokenHead`].
pub(super) fn decide<'a, E: From<BrokenHead>>(
    batches: &'a [Batch],
    found: impl FnMut(Space, &[u8]) -> Result<Option<Bytes>, E>,
) -> Result<Decided<'a>, E> {
    let mut group = Group { changes: Changes::new(), found };
    let mut answers = Vec::with_capacity(batches.len());
    for batch in batches {
        let answer = group.expectations(batch)?;
        if answer.is_ok() {
            group.take(batch)?;
        }
        answers.push(answer);
    }
    Ok(Decided { answers, changes: group.changes })
}

struct Group<'a, F> {
    changes: Changes<'a>,
    found: F,
}

impl<'a, E, F> Group<'a, F>
where
    E: From<BrokenHead>,
    F: FnMut(Space, &[u8]) -> Result<Option<Bytes>, E>,
{
    fn expectations(&mut self, batch: &Batch) -> Result<Result<(), StoreError>, E> {
        for (index, (space, key, want)) in batch.expect.iter().enumerate() {
            if self.value(*space, key)?.as_deref() != want.as_deref() {
                return Ok(Err(StoreError::Conflict { index, space: *space }));
            }
        }
        Ok(Ok(()))
    }

    /// What a key holds at this batch's turn.
    fn value(&mut self, space: Space, key: &[u8]) -> Result<Option<Cow<'a, [u8]>>, E> {
        match self.changes.get(&space).and_then(|keys| keys.get(key)) {
            Some(changed) => Ok(changed.clone()),
            None => Ok((self.found)(space, key)?.map(Cow::Owned)),
        }
    }

    fn take(&mut self, batch: &'a Batch) -> Result<(), E> {
        for op in &batch.ops {
            match op {
                Op::Put(space, key, value) => {
                    self.set(*space, Cow::Borrowed(key), Some(Cow::Borrowed(value)));
                }
                Op::Del(space, key) => self.set(*space, Cow::Borrowed(key), None),
            }
        }
        if let Some(entry) = &batch.audit {
            self.link(entry)?;
        }
        if !batch.events.is_empty() {
            self.number(&batch.events)?;
        }
        Ok(())
    }

    fn set(&mut self, space: Space, key: Cow<'a, [u8]>, value: Option<Cow<'a, [u8]>>) {
        self.changes.entry(space).or_default().insert(key, value);
    }

    /// Links an entry to the trail.
    fn link(&mut self, entry: &AuditEntry) -> Result<(), E> {
        let broken = || BrokenHead("the head of the audit trail is unreadable");
        let mut head = match self.value(AUDIT_HEAD, audit::HEAD_KEY)? {
            None => audit::Head::default(),
            Some(stored) => serde_json::from_slice(&stored).map_err(|_| broken())?,
        };
        let link = head.link(entry.clone());
        let unwritable = |_| BrokenHead("an audit entry cannot be written");
        let stored = serde_json::to_vec(&link).map_err(unwritable)?;
        let stored_head = serde_json::to_vec(&head).map_err(unwritable)?;
        self.set(AUDIT, audit::key(link.number).into(), Some(stored.into()));
        self.set(AUDIT_HEAD, audit::HEAD_KEY.into(), Some(stored_head.into()));
        Ok(())
    }

    /// Gives each event the next number.
    fn number(&mut self, events: &'a [Outgoing]) -> Result<(), E> {
        let broken = || BrokenHead("the head of the events is unreadable");
        let mut number = match self.value(EVENT_HEAD, outbox::HEAD_KEY)? {
            None => 0,
            Some(stored) => outbox::number(&stored).ok_or_else(broken)?,
        };
        for Outgoing { id, value } in events {
            number += 1;
            let key = outbox::key(number);
            self.set(EVENTS_BY_ID, Cow::Borrowed(id.as_bytes()), Some(key.clone().into()));
            self.set(EVENTS, key.into(), Some(Cow::Borrowed(value)));
        }
        self.set(EVENT_HEAD, outbox::HEAD_KEY.into(), Some(outbox::key(number).into()));
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use uuid::Uuid;

    use super::*;

    const SPACE: Space = Space::new("space");
    const OTHER: Space = Space::new("other");

    type Map = BTreeMap<(Space, Bytes), Bytes>;

    /// Writes what was decided.
    fn apply(map: &mut Map, decided: &Decided<'_>) {
        for (space, keys) in &decided.changes {
            for (key, value) in keys {
                match value {
                    Some(value) => map.insert((*space, key.to_vec()), value.to_vec()),
                    None => map.remove(&(*space, key.to_vec())),
                };
            }
        }
    }

    fn entry(n: usize) -> AuditEntry {
        AuditEntry {
            at: "2027-03-16T08:00:00Z".into(),
            who: "owner".into(),
            what: "lot.adjust".into(),
            record: format!("lots/{n}"),
            version: 1,
        }
    }

    fn change() -> impl Strategy<Value = (bool, u8, Option<u8>)> {
        (any::<bool>(), 0..4_u8, prop::option::of(0..3_u8))
    }

    prop_compose! {
        fn batch()(
            expect in prop::collection::vec(change(), 0..3),
            ops in prop::collection::vec(change(), 0..4),
            is_audited in any::<bool>(),
            events in 0..3_usize,
        ) -> Batch {
            let space = |first| if first { SPACE } else { OTHER };
            let mut batch = Batch::new();
            for (first, key, value) in expect {
                batch = batch.expect(space(first), [key], value.map(|v| vec![v]));
            }
            for (first, key, value) in ops {
                batch = match value {
                    Some(value) => batch.put(space(first), [key], [value]),
                    None => batch.del(space(first), [key]),
                };
            }
            if is_audited {
                let n = batch.ops.len();
                batch = batch.audit(entry(n));
            }
            (0..events).fold(batch, |batch, _| {
                batch.event(Outgoing { id: Uuid::nil(), value: b"told".to_vec() })
            })
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        /// Law: however batches are put into groups, the answers and what is written are those of
        /// each batch alone, one after the other, done by hand.
        #[test]
        fn groups_are_no_matter(
            batches in prop::collection::vec(batch(), 1..12),
            size in 1..13_usize,
        ) {
            let batches: Vec<Batch> = batches.into_iter().enumerate().map(|(at, mut batch)| {
                for (part, event) in batch.events.iter_mut().enumerate() {
                    event.id = Uuid::from_u128((at * 10 + part) as u128);
                }
                batch
            }).collect();
            let (mut grouped, mut answers) = (Map::new(), Vec::new());
            for group in batches.chunks(size) {
                let before = grouped.clone();
                let found = |space: Space, key: &[u8]| {
                    Ok::<_, StoreError>(before.get(&(space, key.to_vec())).cloned())
                };
                let decided = decide(group, found).unwrap();
                prop_assert_eq!(decided.is_refused(), decided.committed() == 0);
                apply(&mut grouped, &decided);
                answers.extend(decided.answers);
            }
            let (mut alone, mut events, mut head) = (Map::new(), 0, audit::Head::default());
            for (batch, answer) in batches.iter().zip(&answers) {
                let failed = batch.expect.iter().position(|(space, key, want)| {
                    alone.get(&(*space, key.clone())) != want.as_ref()
                });
                let want = failed.map_or(Ok(()), |index| {
                    Err(StoreError::Conflict { index, space: batch.expect[index].0 })
                });
                prop_assert_eq!(answer, &want);
                if want.is_err() {
                    continue;
                }
                for op in &batch.ops {
                    match op.clone() {
                        Op::Put(space, key, value) => alone.insert((space, key), value),
                        Op::Del(space, key) => alone.remove(&(space, key)),
                    };
                }
                if let Some(entry) = &batch.audit {
                    let link = serde_json::to_vec(&head.link(entry.clone())).unwrap();
                    alone.insert((AUDIT, audit::key(head.number)), link);
                    let stored = serde_json::to_vec(&head).unwrap();
                    alone.insert((AUDIT_HEAD, audit::HEAD_KEY.to_vec()), stored);
                }
                for event in &batch.events {
                    events += 1;
                    alone.insert((EVENTS, outbox::key(events)), event.value.clone());
                    let by_id = (EVENTS_BY_ID, event.id.as_bytes().to_vec());
                    alone.insert(by_id, outbox::key(events));
                    alone.insert((EVENT_HEAD, outbox::HEAD_KEY.to_vec()), outbox::key(events));
                }
            }
            prop_assert_eq!(grouped, alone);
        }
    }

    #[test]
    fn a_head_that_was_put_counts_from_then_on() {
        let told = || Batch::new().event(Outgoing { id: Uuid::nil(), value: b"told".to_vec() });
        let moved = Batch::new().put(EVENT_HEAD, outbox::HEAD_KEY, outbox::key(41));
        let group = [told(), moved, told()];
        let decided = decide(&group, |_, _| Ok::<_, StoreError>(None)).unwrap();
        let keys: Vec<Bytes> = decided.changes[&EVENTS].keys().map(|key| key.to_vec()).collect();
        assert_eq!(keys, [outbox::key(1), outbox::key(42)]);
    }

    #[test]
    fn a_broken_head_is_damage() {
        let told = Batch::new().event(Outgoing { id: Uuid::nil(), value: Vec::new() });
        let audited = Batch::new().audit(entry(1));
        for batch in [told, audited] {
            let group = [batch];
            let broken = decide(&group, |_, _| Ok::<_, StoreError>(Some(b"?".to_vec())));
            assert!(matches!(broken, Err(StoreError::Damaged(_))));
        }
    }
}
