//! Several stores on one database, as several processes have them, all of whose
//! writers reach for the same few records. `ETUI_SEVERAL` says for how many seconds.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::Duration;

use etui_service::store::audit::{AUDIT, Head};
use etui_service::store::database::{Database, Entry};
use etui_service::store::outbox::{self, EVENTS};
use etui_service::store::postgres::{PostgresStore, init};
use etui_service::store::{
    AuditEntry, Batch, Order, Outgoing, Read, Serve, Space, Store, StoreError,
};
use etui_tests::database::Server;
use uuid::Uuid;

const STORES: u64 = 4;
const WRITERS: u64 = 8;
const SECONDS: u64 = 5;
const COUNTERS: Space = Space::new("counters");
const CLAIMS: Space = Space::new("claims");
const PAIRS: Space = Space::new("pairs");

/// What was acknowledged.
#[derive(Default)]
struct Told {
    counted: [AtomicU64; 4],
    claimed: AtomicU64,
    paired: AtomicU64,
    refused: AtomicU64,
}

fn told(batch: Batch, id: u128) -> Batch {
    let entry = AuditEntry {
        at: "2027-03-16T08:00:00Z".into(),
        who: "owner".into(),
        what: "lot.adjust".into(),
        record: format!("lots/{id}"),
        version: 1,
    };
    let event = Outgoing { id: Uuid::from_u128(id), value: id.to_be_bytes().to_vec() };
    batch.audit(entry).event(event)
}

/// One writer: a counter up, a key that is absent claimed, one side of a pair whose other is absent.
async fn write_on(store: PostgresStore, writer: u64, stop: Arc<AtomicBool>, all: Arc<Told>) {
    let mut round = 0_u64;
    while !stop.load(Ordering::SeqCst) {
        round += 1;
        let id = u128::from(writer) << 64 | u128::from(round);
        let (batch, acked) = match round % 3 {
            0 => {
                let which = round / 3 % 4;
                let key = which.to_be_bytes();
                let held = store.snapshot().await.unwrap().get(COUNTERS, &key).await.unwrap();
                let next = held.as_deref().and_then(outbox::number).unwrap_or(0) + 1;
                let batch = Batch::new().expect(COUNTERS, key, held);
                let at = usize::try_from(which).unwrap();
                (batch.put(COUNTERS, key, outbox::key(next)), &all.counted[at])
            }
            1 => {
                // The same keys for everybody, in about the same order.
                let key = (round / 3).to_be_bytes();
                let batch = Batch::new().expect(CLAIMS, key, None);
                (batch.put(CLAIMS, key, writer.to_be_bytes()), &all.claimed)
            }
            _ => {
                let pair = round / 3;
                let side = |side: u64| [pair.to_be_bytes(), side.to_be_bytes()].concat();
                let (mine, other) = (side(writer % 2), side(1 - writer % 2));
                let batch =
                    Batch::new().expect(PAIRS, other, None).expect(PAIRS, mine.clone(), None);
                (batch.put(PAIRS, mine, writer.to_be_bytes()), &all.paired)
            }
        };
        match store.commit(told(batch, id)).await {
            Ok(()) => acked.fetch_add(1, Ordering::SeqCst),
            Err(StoreError::Conflict { .. }) => all.refused.fetch_add(1, Ordering::SeqCst),
            Err(error) => panic!("{error}"),
        };
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_update_is_lost_among_several() {
    let Some(server) = Server::shared() else { return };
    let seconds = std::env::var("ETUI_SEVERAL").ok().and_then(|n| n.parse().ok());
    let (schema, address) = server.schema();
    let database = Database { address, password: None, root: None };
    init(&database, None).await.unwrap();
    let (stop, all) = (Arc::new(AtomicBool::new(false)), Arc::new(Told::default()));
    let mut writers = tokio::task::JoinSet::new();
    let mut stores = Vec::new();
    for at in 0..STORES {
        let store = PostgresStore::open(&database, None, Entry::Beside).await.unwrap();
        store.let_in().await.unwrap();
        for n in 0..WRITERS {
            let writer = at * WRITERS + n + 1;
            writers.spawn(write_on(store.clone(), writer, Arc::clone(&stop), Arc::clone(&all)));
        }
        stores.push(store);
    }
    tokio::time::sleep(Duration::from_secs(seconds.unwrap_or(SECONDS))).await;
    stop.store(true, Ordering::SeqCst);
    while let Some(ended) = writers.join_next().await {
        ended.unwrap();
    }
    let read = |counted: &AtomicU64| counted.load(Ordering::SeqCst);
    let mut snap = stores[0].snapshot().await.unwrap();
    for (which, counted) in (0_u64..).zip(&all.counted) {
        let held = snap.get(COUNTERS, &which.to_be_bytes()).await.unwrap();
        let held = held.as_deref().and_then(outbox::number).unwrap_or(0);
        assert_eq!(held, read(counted), "counter {which}");
    }
    let whole = || Vec::new()..Vec::new();
    let claims = snap.scan(CLAIMS, whole(), Order::Ascending, usize::MAX).await.unwrap();
    assert_eq!(claims.len() as u64, read(&all.claimed), "a key is claimed once");
    let sides = snap.scan(PAIRS, whole(), Order::Ascending, usize::MAX).await.unwrap();
    let mut pairs = BTreeMap::<Vec<u8>, usize>::new();
    for (key, _) in &sides {
        *pairs.entry(key[..8].to_vec()).or_default() += 1;
    }
    assert!(pairs.values().all(|sides| *sides == 1), "both of a pair");
    assert_eq!(pairs.len() as u64, read(&all.paired));
    let acked = all.counted.iter().map(read).sum::<u64>() + read(&all.claimed) + read(&all.paired);
    let events = snap.scan(EVENTS, whole(), Order::Ascending, usize::MAX).await.unwrap();
    for (at, (key, _)) in (1..).zip(&events) {
        assert_eq!(outbox::number(key), Some(at), "numbers without a gap");
    }
    assert_eq!(events.len() as u64, acked);
    let mut chain = Head::default();
    for (_, link) in snap.scan(AUDIT, whole(), Order::Ascending, usize::MAX).await.unwrap() {
        chain.follow(&serde_json::from_slice(&link).unwrap()).unwrap();
    }
    assert_eq!(chain.number, acked);
    // In the order of commits: nobody ever found a number below one that was there.
    let fallen = format!(
        "SELECT count(*) FROM (SELECT event < lag(event) OVER (ORDER BY seq) AS fell FROM \
         {schema}.journal) AS rows WHERE fell"
    );
    assert_eq!(server.sql(&fallen).unwrap(), "0");
    println!("{acked} batches acknowledged, {} refused, none lost", read(&all.refused));
    for store in stores {
        store.close().await.unwrap();
    }
}
