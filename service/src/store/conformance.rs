//! What every store must keep, run against each implementation.

use std::{collections::BTreeSet, sync::Arc};

use uuid::Uuid;

use super::{
    Batch, Bytes, Order, Outgoing, Read, Serve, Space, Store, StoreError, key,
    outbox::{self, EVENTS, EVENTS_BY_ID},
};

const COUNTER: Space = Space::new("counter");
const ROWS: Space = Space::new("rows");
const INDEX: Space = Space::new("rows-by-number");

/// All of it. Each part uses keys of its own.
pub(super) async fn check<S: Store>(store: Arc<S>) {
    point_and_range_reads(&*store).await;
    preconditions(&*store).await;
    snapshots_stay_as_they_are(&*store).await;
    long_values(&*store).await;
    limits(&*store).await;
    concurrent_counter(Arc::clone(&store)).await;
    a_follower_of_the_outbox_misses_nothing(store).await;
}

fn number(n: u64) -> Bytes {
    n.to_be_bytes().to_vec()
}

async fn counter<R: Read>(snap: &mut R) -> u64 {
    let value = snap.get(COUNTER, b"n").await.unwrap();
    value.map_or(0, |v| u64::from_be_bytes(v.try_into().unwrap()))
}

async fn keys<R: Read>(
    snap: &mut R,
    space: Space,
    range: std::ops::Range<&str>,
    order: Order,
    limit: usize,
) -> String {
    let range = range.start.as_bytes().to_vec()..range.end.as_bytes().to_vec();
    let rows = snap.scan(space, range, order, limit).await.unwrap();
    rows.into_iter().map(|(k, _)| String::from_utf8(k).unwrap()).collect()
}

async fn point_and_range_reads<S: Store>(store: &S) {
    const SPACE: Space = Space::new("letters");
    let mut batch = Batch::new();
    for letter in ["b", "d", "a", "e", "c"] {
        batch = batch.put(SPACE, letter, letter.to_uppercase());
    }
    store.commit(batch).await.unwrap();
    let mut snap = store.snapshot().await.unwrap();
    assert_eq!(snap.get(SPACE, b"c").await, Ok(Some(b"C".to_vec())));
    assert_eq!(snap.get(SPACE, b"x").await, Ok(None));
    assert_eq!(snap.get(Space::new("never-written"), b"c").await, Ok(None));
    for (start, end, order, limit, want) in [
        ("", "", Order::Ascending, 9, "abcde"),
        ("", "", Order::Descending, 9, "edcba"),
        ("b", "d", Order::Ascending, 9, "bc"),
        ("b", "d", Order::Descending, 9, "cb"),
        ("b", "", Order::Ascending, 2, "bc"),
        ("", "d", Order::Descending, 2, "cb"),
        ("d", "b", Order::Ascending, 9, ""),
        ("b", "b", Order::Ascending, 9, ""),
        ("", "", Order::Ascending, 0, ""),
    ] {
        let got = keys(&mut snap, SPACE, start..end, order, limit).await;
        assert_eq!(got, want, "{start:?}..{end:?} {order:?} limit {limit}");
    }
    let got = keys(&mut snap, Space::new("never-written"), "".."", Order::Ascending, 9).await;
    assert_eq!(got, "");
}

async fn preconditions<S: Store>(store: &S) {
    const SPACE: Space = Space::new("expected");
    let put = |expect: Option<&str>, value: &str| {
        Batch::new().expect(SPACE, "k", expect.map(|e| e.into())).put(SPACE, "k", value)
    };
    let conflict = Err(StoreError::Conflict { index: 0, space: SPACE });
    assert_eq!(store.commit(put(Some("one"), "x")).await, conflict, "absent");
    assert_eq!(store.commit(put(None, "one")).await, Ok(()));
    assert_eq!(store.commit(put(None, "x")).await, conflict, "present");
    assert_eq!(store.commit(put(Some("two"), "x")).await, conflict, "another value");
    assert_eq!(store.commit(put(Some("one"), "two")).await, Ok(()));
    // Of two preconditions the failed one is named, and nothing of the batch happens.
    let batch = put(Some("two"), "x").expect(SPACE, "other", Some("y".into())).del(SPACE, "k");
    let second = Err(StoreError::Conflict { index: 1, space: SPACE });
    assert_eq!(store.commit(batch).await, second);
    // Of two changes to one key the later counts.
    store.commit(Batch::new().put(SPACE, "k", "three").del(SPACE, "k")).await.unwrap();
    assert_eq!(store.snapshot().await.unwrap().get(SPACE, b"k").await, Ok(None));
    store.commit(Batch::new().del(SPACE, "k").put(SPACE, "k", "four")).await.unwrap();
    let mut snap = store.snapshot().await.unwrap();
    assert_eq!(snap.get(SPACE, b"k").await, Ok(Some(b"four".to_vec())));
    store.commit(Batch::new()).await.unwrap();
}

async fn snapshots_stay_as_they_are<S: Store>(store: &S) {
    const SPACE: Space = Space::new("moments");
    let first = ["a", "b", "c"].into_iter().fold(Batch::new(), |b, k| b.put(SPACE, k, "1"));
    store.commit(first).await.unwrap();
    let mut before = store.snapshot().await.unwrap();
    // Held across a commit by the same task: nothing may wait for it.
    store.commit(Batch::new().put(SPACE, "aa", "2").del(SPACE, "b")).await.unwrap();
    let mut between = store.snapshot().await.unwrap();
    store
        .commit(Batch::new().put(SPACE, "b", "3").del(SPACE, "c").put(SPACE, "a", "3"))
        .await
        .unwrap();
    let mut after = store.snapshot().await.unwrap();
    for (name, snap, want, b) in [
        ("before", &mut before, ["a", "b", "c"].as_slice(), Some("1")),
        ("between", &mut between, &["a", "aa", "c"], None),
        ("after", &mut after, &["a", "aa", "b"], Some("3")),
    ] {
        for order in [Order::Ascending, Order::Descending] {
            let mut want = want.to_vec();
            if order == Order::Descending {
                want.reverse();
            }
            let got = keys(snap, SPACE, "".."", order, 9).await;
            assert_eq!(got, want.concat(), "{name} {order:?}");
            let got = keys(snap, SPACE, "".."", order, 2).await;
            assert_eq!(got, want[..2].concat(), "{name} {order:?}, first two");
        }
        let got = snap.get(SPACE, b"b").await.unwrap();
        assert_eq!(got.as_deref(), b.map(str::as_bytes), "{name}");
        many_at_once(snap, SPACE).await;
    }
}

/// Many questions at once are answered as one after the other.
async fn many_at_once<R: Read>(snap: &mut R, space: Space) {
    let some = ["", "a", "aa", "b", "c", "d"].map(|key| key.as_bytes().to_vec());
    let values = snap.get_many(space, &some).await.unwrap();
    assert_eq!(values.len(), some.len());
    for (key, value) in some.iter().zip(values) {
        assert_eq!(snap.get(space, key).await, Ok(value), "{key:?}");
    }
    let ends = some.iter().flat_map(|start| some.iter().map(|end| start.clone()..end.clone()));
    let ranges: Vec<_> = ends.collect();
    for (order, limit) in [(Order::Ascending, 9), (Order::Descending, 1), (Order::Ascending, 0)] {
        let found = snap.scan_many(space, &ranges, order, limit).await.unwrap();
        assert_eq!(found.len(), ranges.len());
        for (range, rows) in ranges.iter().zip(found) {
            let one = snap.scan(space, range.clone(), order, limit).await;
            assert_eq!(one, Ok(rows), "{range:?} {order:?}");
        }
    }
}

async fn long_values<S: Store>(store: &S) {
    const SPACE: Space = Space::new("long");
    for len in [0, 1, 16 << 10, (16 << 10) + 1, 100_000, super::MAX_VALUE_BYTES] {
        let value: Bytes = (0..len).map(|i| u8::try_from(i % 251).unwrap()).collect();
        store.commit(Batch::new().put(SPACE, "k", value.clone())).await.unwrap();
        let mut old = store.snapshot().await.unwrap();
        let batch = Batch::new().expect(SPACE, "k", Some(value.clone())).put(SPACE, "k", "short");
        store.commit(batch).await.unwrap();
        assert_eq!(old.get(SPACE, b"k").await, Ok(Some(value)), "{len} bytes, replaced since");
    }
}

async fn limits<S: Store>(store: &S) {
    use super::{MAX_BATCH_BYTES, MAX_KEY_BYTES, MAX_VALUE_BYTES};
    const SPACE: Space = Space::new("limits");
    let whole = (0..5_u8).fold(Batch::new(), |b, i| b.put(SPACE, [i], vec![0; MAX_VALUE_BYTES]));
    for (what, bytes, limit, batch) in [
        (
            "key",
            MAX_KEY_BYTES + 1,
            MAX_KEY_BYTES,
            Batch::new().put(SPACE, vec![0; MAX_KEY_BYTES + 1], ""),
        ),
        (
            "value",
            MAX_VALUE_BYTES + 1,
            MAX_VALUE_BYTES,
            Batch::new().put(SPACE, "k", vec![0; MAX_VALUE_BYTES + 1]),
        ),
        ("batch", whole.bytes(), MAX_BATCH_BYTES, whole),
    ] {
        assert_eq!(store.commit(batch).await, Err(StoreError::TooLarge { what, bytes, limit }));
    }
}

/// 16 tasks count one counter up, each time with a row and its index entry; a checker takes
/// snapshots all the while; at the end the rows are paged through.
async fn concurrent_counter<S: Store>(store: Arc<S>) {
    const TASKS: u64 = 16;
    const ROUNDS: u64 = 20;
    let mut tasks = tokio::task::JoinSet::new();
    for task in 0..TASKS {
        let store = Arc::clone(&store);
        tasks.spawn(async move {
            for round in 0..ROUNDS {
                count_up(&*store, task * ROUNDS + round).await;
            }
        });
    }
    let mut views = 0;
    while !tasks.is_empty() {
        while let Some(ended) = tasks.try_join_next() {
            ended.unwrap();
        }
        check_view(&mut store.snapshot().await.unwrap()).await;
        views += 1;
        tokio::task::yield_now().await;
    }
    assert!(0 < views);
    let mut snap = store.snapshot().await.unwrap();
    assert_eq!(counter(&mut snap).await, TASKS * ROUNDS);
    check_view(&mut snap).await;
}

async fn count_up<S: Store>(store: &S, row: u64) {
    loop {
        let mut snap = store.snapshot().await.unwrap();
        let n = counter(&mut snap).await;
        let batch = Batch::new()
            .expect(COUNTER, "n", (0 < n).then(|| number(n)))
            .put(COUNTER, "n", number(n + 1))
            .put(ROWS, number(row), number(n + 1))
            .put(INDEX, number(n + 1), number(row));
        match store.commit(batch).await {
            Ok(()) => return,
            Err(StoreError::Conflict { .. }) => {}
            Err(other) => panic!("{other}"),
        }
    }
}

/// In every view the counter, the rows and the index agree.
async fn check_view<R: Read>(snap: &mut R) {
    let n = counter(snap).await;
    let rows = pages(snap, ROWS, 50).await;
    let index = pages(snap, INDEX, 50).await;
    assert_eq!(rows.len() as u64, n, "rows of the counter");
    let turned: BTreeSet<_> = rows.into_iter().map(|(k, v)| (v, k)).collect();
    assert_eq!(turned, index.into_iter().collect(), "index of the rows");
}

async fn pages<R: Read>(snap: &mut R, space: Space, size: usize) -> Vec<(Bytes, Bytes)> {
    let mut rows: Vec<(Bytes, Bytes)> = Vec::new();
    loop {
        let start = rows.last().map(|(k, _)| key::after(k)).unwrap_or_default();
        let page = snap.scan(space, start..Bytes::new(), Order::Ascending, size).await.unwrap();
        let last = page.len() < size;
        rows.extend(page);
        if last {
            return rows;
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn memory_store() {
    check(Arc::new(super::MemoryStore::new())).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn embedded_store() {
    assert!(super::harden_sync().is_durable());
    let dir = tempfile::tempdir().unwrap();
    let config = super::StoreConfig { min_free_bytes: 0, ..super::StoreConfig::new(dir.path()) };
    let (store, _) = super::EmbeddedStore::open(config).unwrap();
    check(Arc::new(store.clone())).await;
    store.close().await.unwrap();
}

/// Many write at once, some of them in vain; one follows by number. It must see every event that
/// was committed, once, without a gap, and none of the batches that were refused.
async fn a_follower_of_the_outbox_misses_nothing<S: Store>(store: Arc<S>) {
    const SPACE: Space = Space::new("told");
    const TASKS: u8 = 8;
    const EACH: u8 = 20;
    let id = |task: u8, round: u8, part: u8| {
        Uuid::from_bytes([task + 1, round, part].repeat(6)[..16].try_into().unwrap())
    };
    let mut tasks = tokio::task::JoinSet::new();
    for task in 0..TASKS {
        let store = Arc::clone(&store);
        tasks.spawn(async move {
            for round in 0..EACH {
                let batch = [0, 1].into_iter().fold(Batch::new(), |batch, part| {
                    let value = vec![task, round, part];
                    batch.event(Outgoing { id: id(task, round, part), value })
                });
                let refused = batch.clone().expect(SPACE, "absent", Some(b"x".to_vec()));
                assert!(store.commit(refused).await.is_err());
                store.commit(batch.put(SPACE, vec![task, round], "")).await.unwrap();
            }
        });
    }
    let (mut seen, mut last) = (Vec::new(), 0);
    loop {
        let done = tasks.is_empty();
        let mut snap = store.snapshot().await.unwrap();
        let from = outbox::key(last + 1)..Bytes::new();
        for (key, value) in snap.scan(EVENTS, from, Order::Ascending, 7).await.unwrap() {
            let number = outbox::number(&key).unwrap();
            assert_eq!(number, last + 1, "a gap that may close later");
            last = number;
            let by_id = snap.get(EVENTS_BY_ID, id(value[0], value[1], value[2]).as_bytes()).await;
            assert_eq!(by_id, Ok(Some(key)));
            // Both events of a batch, or neither, and with them what they tell of.
            assert!(snap.get(SPACE, &value[..2]).await.unwrap().is_some());
            seen.push(value);
        }
        let all = 2 * usize::from(TASKS) * usize::from(EACH);
        if done && seen.len() == all {
            break;
        }
        while let Some(ended) = tasks.try_join_next() {
            ended.unwrap();
        }
        tokio::task::yield_now().await;
    }
    for pair in seen.chunks(2) {
        assert_eq!((&pair[0][..2], pair[0][2], pair[1][2]), (&pair[1][..2], 0, 1));
    }
}
