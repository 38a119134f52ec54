//! What the database costs, beside the store in the folder and beside the same
//! rows inserted plainly. By hand:
//!
//! ```sh
//! cargo test --release -p etui-tests --features postgres --test faults -- rates:: --ignored --nocapture
//! ```

use std::process::Command;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use etui_service::store::database::{Database, Entry};
use etui_service::store::postgres::{PostgresStore, init};
use etui_service::store::{
    AuditEntry, Batch, EmbeddedStore, Order, Outgoing, Read, Serve, Space, Store, StoreConfig,
    harden_sync,
};
use etui_tests::database::{Server, installed};
use uuid::Uuid;

const RECORDS: Space = Space::new("records");
const INDEX: Space = Space::new("records-by-number");
const ROUND: Duration = Duration::from_secs(3);
const CALLERS: [u64; 3] = [1, 4, 16];
/// Rows among which a page is read unless `ETUI_ROWS` says how many.
const ROWS: u64 = 200_000;

/// Three records of 600 bytes, four index rows, an event, an audit link.
fn batch(caller: u64, n: u64) -> Batch {
    let key = |part: u64| [caller, n, part].map(u64::to_be_bytes).concat();
    let batch = (0..3).fold(Batch::new(), |batch, part| batch.put(RECORDS, key(part), [7; 600]));
    let batch = (0..4).fold(batch, |batch, part| batch.put(INDEX, key(part), ""));
    let entry = AuditEntry {
        at: "2027-03-16T08:00:00Z".into(),
        who: "owner".into(),
        what: "record.put".into(),
        record: "records/1".into(),
        version: 1,
    };
    let id = Uuid::from_u64_pair(caller + 1, n);
    batch.audit(entry).event(Outgoing { id, value: vec![7; 200] })
}

/// Batches a second, and the median and 99th percentile in milliseconds.
async fn rate<S: Store + Clone>(store: &S, callers: u64, round: u64) -> (f64, f64, f64) {
    let (stop, count) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicU64::new(0)));
    let mut tasks = tokio::task::JoinSet::new();
    for caller in 0..callers {
        let (store, stop, count) = (store.clone(), Arc::clone(&stop), Arc::clone(&count));
        tasks.spawn(async move {
            let (mut took, mut n) = (Vec::new(), 0);
            while !stop.load(Ordering::Relaxed) {
                let began = Instant::now();
                store.commit(batch(caller + 100 * round, n)).await.unwrap();
                took.push(began.elapsed().as_secs_f64() * 1e3);
                count.fetch_add(1, Ordering::Relaxed);
                n += 1;
            }
            took
        });
    }
    let began = Instant::now();
    tokio::time::sleep(ROUND).await;
    stop.store(true, Ordering::Relaxed);
    let mut took: Vec<f64> = tasks.join_all().await.concat();
    let rate = f64::from(u32::try_from(count.load(Ordering::Relaxed)).unwrap())
        / began.elapsed().as_secs_f64();
    took.sort_by(f64::total_cmp);
    (rate, took[took.len() / 2], took[took.len() * 99 / 100])
}

/// The same ten rows in transactions of their own, by the server's own means.
fn plain(server: &Server, schema: &str, callers: u64) -> f64 {
    let script = std::env::temp_dir().join(format!("{schema}.sql"));
    let rows: Vec<String> = (0..10)
        .map(|n| {
            let bytes = [600, 600, 600, 0, 0, 0, 0, 200, 8, 350][n];
            format!("('plain', decode(md5(random()::text) || '{n:02}', 'hex'), convert_to(repeat('7', {bytes}), 'UTF8'))")
        })
        .collect();
    std::fs::write(&script, format!("INSERT INTO {schema}.kv VALUES {};\n", rows.join(", ")))
        .unwrap();
    let socket = server.socket().parent().unwrap().display().to_string();
    let mut command = Command::new(installed().unwrap().join("pgbench"));
    command.args(["-n", "-M", "prepared", "-U", "owner", "-T", "3", "-h", &socket]);
    command.args(["-c", &callers.to_string(), "-j", "2", "-f"]).arg(&script).arg("postgres");
    let done = command.output().unwrap();
    let told = String::from_utf8_lossy(&done.stdout).into_owned();
    let line = told.lines().find(|line| line.starts_with("tps")).unwrap_or_default();
    line.split_whitespace().nth(2).and_then(|rate| rate.parse().ok()).unwrap_or_default()
}

async fn page<S: Store>(store: &S, rows: u64, limit: usize) -> (f64, f64) {
    let mut took = Vec::new();
    for n in 0..200_u64 {
        let start = (n * 7919 * 131 % (rows - 2_500)).to_be_bytes().to_vec();
        let began = Instant::now();
        let mut snap = store.snapshot().await.unwrap();
        let page = snap.scan(RECORDS, start..Vec::new(), Order::Ascending, limit).await.unwrap();
        assert_eq!(page.len(), limit);
        drop(snap);
        took.push(began.elapsed().as_secs_f64() * 1e3);
    }
    took.sort_by(f64::total_cmp);
    (took[100], took[197])
}

async fn fill<S: Store>(store: &S, rows: u64) {
    for from in (0..rows).step_by(1_000) {
        let put = |batch: Batch, n: u64| batch.put(RECORDS, n.to_be_bytes(), [7; 600]);
        store.commit((from..from + 1_000).fold(Batch::new(), put)).await.unwrap();
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "measures; by hand on a quiet machine"]
async fn what_it_costs() {
    let Some(server) = Server::shared() else { return };
    assert!(harden_sync().is_durable());
    let folder = tempfile::tempdir().unwrap();
    let embedded = EmbeddedStore::open(StoreConfig::new(folder.path())).unwrap().0;
    let (schema, address) = server.schema();
    let database = Database { address, password: None, root: None };
    init(&database, None).await.unwrap();
    let store = PostgresStore::open(&database, None, Entry::Alone).await.unwrap();
    println!("durable batches of ten rows a second (p50 / p99 ms)");
    for (round, callers) in CALLERS.into_iter().enumerate() {
        let round = round as u64 + 1;
        let plain = plain(server, &schema, callers);
        let (a, a50, a99) = rate(&store, callers, round).await;
        let (b, b50, b99) = rate(&embedded, callers, round).await;
        println!(
            "{callers:>2} callers: plain inserts {plain:.0}; database {a:.0} ({a50:.2} / {a99:.2}), \
             {:.0} %; folder {b:.0} ({b50:.2} / {b99:.2})",
            a / plain * 100.0
        );
    }
    store.close().await.unwrap();
    let rows = std::env::var("ETUI_ROWS").ok().and_then(|n| n.parse().ok()).unwrap_or(ROWS);
    let (_, address) = server.schema();
    let database = Database { address, password: None, root: None };
    init(&database, None).await.unwrap();
    let store = PostgresStore::open(&database, None, Entry::Alone).await.unwrap();
    let folder = tempfile::tempdir().unwrap();
    let embedded = EmbeddedStore::open(StoreConfig::new(folder.path())).unwrap().0;
    fill(&store, rows).await;
    fill(&embedded, rows).await;
    for limit in [100, 2_000] {
        let (a, a99) = page(&store, rows, limit).await;
        let (b, b99) = page(&embedded, rows, limit).await;
        println!(
            "{limit} of {rows} rows with their view: database {a:.2} / {a99:.2} ms, folder {b:.2} / {b99:.2} ms"
        );
    }
    store.close().await.unwrap();
    embedded.close().await.unwrap();
}
