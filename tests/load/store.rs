//! Figures of the store: `cargo bench -p etui-tests --bench store [-- RECORDS]`.
//!
//! 1. Durable writes of 16 tasks, beside the same work through a bare committer
//!    on the same engine with the same syncs, in turns in the same run.
//! 2. With RECORDS (for example 1000000): loads so many treatment records, then
//!    in a fresh process opens them, looks up the exposures of one lot, reads
//!    pages, and tells times and memory.
//!
//! Prints one line a figure. Times are of this machine at this moment; the
//! ratio is what is promised.

use std::{
    fs::File,
    path::Path,
    process::Command,
    sync::mpsc,
    time::{Duration, Instant},
};

use etui_service::store::{
    Batch, Bytes, EmbeddedStore, Order, Read, Space, Store, StoreConfig, harden_sync,
    key::{self, KeyWriter},
};
use sled::transaction::{ConflictableTransactionError, Transactional};
use tokio::sync::oneshot;

const TASKS: u64 = 16;
const ROUND: Duration = Duration::from_secs(2);
const ROUNDS: usize = 3;

const TREATMENTS: Space = Space::new("treatments");
const BY_CLIENT: Space = Space::new("treatments-by-client");
const BY_LOT: Space = Space::new("treatments-by-lot");
const BY_DAY: Space = Space::new("treatments-by-day");
const SPACES: [Space; 4] = [TREATMENTS, BY_CLIENT, BY_LOT, BY_DAY];

/// Treatments of one lot.
const PER_LOT: u64 = 200;

fn main() {
    let sync = harden_sync();
    let args: Vec<String> = std::env::args().skip(1).filter(|a| !a.starts_with("--")).collect();
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
    match args.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["read", dir, records] => {
            runtime.block_on(read(Path::new(dir), records.parse().unwrap()));
        }
        [records] => {
            println!("durable path: {sync}");
            writes(&runtime);
            loaded(&runtime, records.parse().unwrap());
        }
        _ => {
            println!("durable path: {sync}");
            writes(&runtime);
        }
    }
}

/// One treatment: its record and three index entries.
fn rows(n: u64) -> [(Space, Bytes, Bytes); 4] {
    let (lot, client) = (n / PER_LOT, n.wrapping_mul(0x9E37_79B9_7F4A_7C15) >> 44);
    let id = KeyWriter::new().u64(n).u64(client).finish();
    let len = 300 + usize::try_from(client % 1200).unwrap();
    let text = format!(r#"{{"v":1,"kind":"treatment","data":{{"lot":{lot},"client":{client},"#);
    let value: Bytes = text.bytes().cycle().take(len).collect();
    [
        (BY_CLIENT, KeyWriter::new().u64(client).blob(&id).finish(), Bytes::new()),
        (BY_LOT, [lot.to_be_bytes().as_slice(), &id].concat(), Bytes::new()),
        (BY_DAY, KeyWriter::new().u64(n / 1000).blob(&id).finish(), Bytes::new()),
        (TREATMENTS, id, value),
    ]
}

fn batch(n: u64) -> Batch {
    rows(n)
        .into_iter()
        .fold(Batch::new(), |batch, (space, key, value)| batch.put(space, key, value))
}

fn writes(runtime: &tokio::runtime::Runtime) {
    let mut ratios = Vec::new();
    for round in 0..ROUNDS {
        let ours = runtime.block_on(our_writes());
        let bare = runtime.block_on(bare_writes());
        println!("round {round}: {ours:.0} durable writes/s, bare engine {bare:.0}/s");
        ratios.push(ours / bare);
    }
    ratios.sort_by(f64::total_cmp);
    println!("durable writes, {TASKS} tasks: {:.2} of the bare engine", ratios[ROUNDS / 2]);
}

async fn our_writes() -> f64 {
    let dir = tempfile::tempdir().unwrap();
    let (store, _) = EmbeddedStore::open(StoreConfig::new(dir.path())).unwrap();
    let rate = rate(|n| {
        let store = store.clone();
        async move { store.commit(batch(n)).await.unwrap() }
    })
    .await;
    store.close().await.unwrap();
    rate
}

async fn bare_writes() -> f64 {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().to_owned();
    let (sender, receiver) = mpsc::sync_channel::<(Rows, oneshot::Sender<()>)>(1024);
    let committer = std::thread::spawn(move || bare_committer(&path, &receiver));
    let rate = rate(|n| {
        let sender = sender.clone();
        async move {
            let (reply, answer) = oneshot::channel();
            sender.send((rows(n), reply)).unwrap();
            answer.await.unwrap();
        }
    })
    .await;
    drop(sender);
    committer.join().unwrap();
    rate
}

type Rows = [(Space, Bytes, Bytes); 4];

/// The engine alone: one transaction a batch, one flush and one sync of the log a group.
fn bare_committer(path: &Path, receiver: &mpsc::Receiver<(Rows, oneshot::Sender<()>)>) {
    let db = sled::Config::new().path(path).cache_capacity(128 << 20).open().unwrap();
    let trees: Vec<sled::Tree> = SPACES.iter().map(|s| db.open_tree(s.name()).unwrap()).collect();
    let log = File::open(path.join("db")).unwrap();
    while let Ok(first) = receiver.recv() {
        let mut group = vec![first];
        group.extend(receiver.try_iter().take(63));
        for (rows, _) in &group {
            let done = trees.as_slice().transaction(|views| {
                for (space, key, value) in rows {
                    let at = SPACES.iter().position(|s| s == space).unwrap();
                    views[at].insert(key.as_slice(), value.as_slice())?;
                }
                Ok::<(), ConflictableTransactionError<()>>(())
            });
            done.unwrap();
        }
        db.flush().unwrap();
        log.sync_data().unwrap();
        for (_, reply) in group {
            let _ = reply.send(());
        }
    }
}

/// Writes per second of 16 tasks, each with one write on its way.
async fn rate<F: Future<Output = ()> + Send + 'static>(
    write: impl Fn(u64) -> F + Clone + Send + 'static,
) -> f64 {
    let start = Instant::now();
    let mut tasks = tokio::task::JoinSet::new();
    for task in 0..TASKS {
        let write = write.clone();
        tasks.spawn(async move {
            let mut count = 0_u32;
            while start.elapsed() < ROUND {
                write(u64::from(count) * TASKS + task).await;
                count += 1;
            }
            count
        });
    }
    let written: u32 = tasks.join_all().await.into_iter().sum();
    f64::from(written) / start.elapsed().as_secs_f64()
}

fn loaded(runtime: &tokio::runtime::Runtime, records: u64) {
    let dir = tempfile::tempdir().unwrap();
    let start = Instant::now();
    runtime.block_on(load(dir.path(), records));
    println!("load of {records} records: {:.1} s", start.elapsed().as_secs_f64());
    let disk: u64 = etui_service::store::files::walk(dir.path()).unwrap().iter().map(|f| f.1).sum();
    println!("on disk: {} MB", disk >> 20);
    let program = std::env::current_exe().unwrap();
    let status =
        Command::new(program).arg("read").arg(dir.path()).arg(records.to_string()).status();
    assert!(status.unwrap().success());
}

async fn load(dir: &Path, records: u64) {
    let (store, _) = EmbeddedStore::open(StoreConfig::new(dir)).unwrap();
    let mut n = 0;
    while n < records {
        let mut group = Batch::new();
        for m in n..records.min(n + 200) {
            group.ops.extend(batch(m).ops);
        }
        store.commit(group).await.unwrap();
        n += 200;
    }
    store.close().await.unwrap();
}

/// In a process of its own, so that the memory is that of an open store.
async fn read(dir: &Path, records: u64) {
    let start = Instant::now();
    let (store, report) = EmbeddedStore::open(StoreConfig::new(dir)).unwrap();
    println!(
        "open after an orderly end: {:.2} s ({:?})",
        start.elapsed().as_secs_f64(),
        report.damage
    );
    println!("memory after opening: {} MB", resident_mb());
    let lots = records / PER_LOT;
    let mut exposures = Vec::new();
    for i in 0..200 {
        let start = Instant::now();
        let found = exposures_of(&store, (i * 7919) % lots).await;
        exposures.push(start.elapsed());
        assert_eq!(found, PER_LOT);
    }
    tell("exposures of one lot, 200 rows with their records", exposures);
    let mut pages = Vec::new();
    for i in 0..500 {
        let start = Instant::now();
        let from = KeyWriter::new().u64((i * 104_729) % (records - 100)).finish();
        let mut snap = store.snapshot().await.unwrap();
        let page = snap.scan(TREATMENTS, from..vec![], Order::Ascending, 100).await.unwrap();
        assert_eq!(page.len(), 100);
        pages.push(start.elapsed());
    }
    tell("page of 100 treatments", pages);
    println!("memory after reading: {} MB", resident_mb());
    store.close().await.unwrap();
}

async fn exposures_of(store: &EmbeddedStore, lot: u64) -> u64 {
    let mut snap = store.snapshot().await.unwrap();
    let range = key::prefix_range(&lot.to_be_bytes());
    let entries = snap.scan(BY_LOT, range, Order::Ascending, 10_000).await.unwrap();
    let mut found = 0;
    for (entry, _) in entries {
        found += u64::from(snap.get(TREATMENTS, &entry[8..]).await.unwrap().is_some());
    }
    found
}

fn tell(what: &str, mut times: Vec<Duration>) {
    times.sort();
    let at = |percent: usize| times[(times.len() - 1) * percent / 100].as_secs_f64() * 1e3;
    println!("{what}: p50 {:.2} ms, p99 {:.2} ms", at(50), at(99));
}

fn resident_mb() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kilobytes = line.and_then(|text| text.split_whitespace().next()?.parse::<u64>().ok());
    kilobytes.unwrap_or(0) / 1024
}
