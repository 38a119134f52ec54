//! Connections to the database that are cut round a commit, in every way that a
//! network has: what the store answers is what became of the batch.
//!
//! Each batch expects a key of its own to be absent and tells of itself. So one
//! that was written and then run again meets itself, one that was acknowledged
//! and is not there is missed at the end, and the events and the audit trail say
//! how many there were.

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, AtomicUsize, Ordering};
use std::time::Duration;

use etui_service::store::database::{Database, Entry};
use etui_service::store::postgres::{PostgresStore, init};
use etui_service::store::verify::verify;
use etui_service::store::{
    AuditEntry, Batch, Order, Outgoing, Read, Serve, Space, Store, StoreError, outbox,
};
use etui_tests::database::Server;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream, UnixStream};
use uuid::Uuid;

const SPACE: Space = Space::new("cut");
const WRITERS: u64 = 8;
/// Cuts unless `ETUI_CUTS` says how many.
const CUTS: usize = 25;

/// What becomes of a connection when a commit passes.
#[derive(Debug, Clone, Copy)]
enum Cut {
    /// The commit arrives, its answer does not.
    AnswerLost,
    /// The commit does not arrive.
    NeverSent,
    /// The commit is sent, and both ends are closed at once.
    SentThenShut,
    /// The commit does not arrive, and the server learns of the end 0.3 s later.
    Kept,
    /// The commit arrives 0.3 s after its sender was cut off.
    Late,
}

const WAYS: [Cut; 5] = [Cut::AnswerLost, Cut::NeverSent, Cut::SentThenShut, Cut::Kept, Cut::Late];

/// Stands between the store and the server.
struct Between {
    socket: PathBuf,
    /// Cuts the next commit that passes.
    armed: AtomicBool,
    cuts: AtomicUsize,
}

impl Between {
    async fn listen(self: Arc<Self>, listener: TcpListener) {
        while let Ok((client, _)) = listener.accept().await {
            tokio::spawn(Arc::clone(&self).pass(client));
        }
    }

    async fn pass(self: Arc<Self>, client: TcpStream) {
        let Ok(server) = UnixStream::connect(&self.socket).await else { return };
        let ((mut from_client, mut to_client), (mut from_server, mut to_server)) =
            (client.into_split(), server.into_split());
        let mut answers = tokio::spawn(async move {
            let _ = tokio::io::copy(&mut from_server, &mut to_client).await;
        });
        let mut buffer = vec![0; 1 << 16];
        loop {
            let read = tokio::select! {
                read = from_client.read(&mut buffer) => read.unwrap_or(0),
                _ = &mut answers => return,
            };
            let chunk = &buffer[..read];
            if read == 0 {
                return;
            }
            let commits = chunk.windows(7).any(|window| window == b"COMMIT\0");
            if !(commits && self.armed.swap(false, Ordering::SeqCst)) {
                if to_server.write_all(chunk).await.is_err() {
                    return;
                }
                continue;
            }
            let way = WAYS[self.cuts.fetch_add(1, Ordering::SeqCst) % WAYS.len()];
            let later = Duration::from_millis(300);
            // What the server answers reaches nobody from here on.
            answers.abort();
            match way {
                Cut::NeverSent => {}
                Cut::AnswerLost => {
                    let _ = to_server.write_all(chunk).await;
                    drop(from_client);
                    tokio::time::sleep(later).await;
                }
                Cut::SentThenShut => {
                    let _ = to_server.write_all(chunk).await;
                }
                Cut::Kept => {
                    drop(from_client);
                    tokio::time::sleep(later).await;
                }
                Cut::Late => {
                    drop(from_client);
                    tokio::time::sleep(later).await;
                    let _ = to_server.write_all(chunk).await;
                    tokio::time::sleep(later).await;
                }
            }
            return;
        }
    }
}

/// What the writers were told.
#[derive(Default)]
pub(crate) struct Told {
    pub(crate) written: AtomicU64,
    refused: AtomicU64,
    unknown: AtomicU64,
    wrong: AtomicU64,
}

pub(crate) async fn write_on(
    store: PostgresStore,
    writer: u64,
    stop: Arc<AtomicBool>,
    told: Arc<Told>,
) {
    let mut n = 0_u64;
    while !stop.load(Ordering::SeqCst) {
        let key = [writer.to_be_bytes(), n.to_be_bytes()].concat();
        let id = Uuid::from_u64_pair(writer + 1, n);
        let entry = AuditEntry {
            at: "2027-03-16T08:00:00Z".into(),
            who: "writer".into(),
            what: "cut.test".into(),
            record: format!("cut/{writer}-{n}"),
            version: 1,
        };
        let batch = Batch::new()
            .expect(SPACE, key.clone(), None)
            .put(SPACE, key, n.to_be_bytes())
            .audit(entry)
            .event(Outgoing { id, value: b"told".to_vec() });
        match store.commit(batch).await {
            Ok(()) => {
                told.written.fetch_add(1, Ordering::SeqCst);
                n += 1;
            }
            // Nothing was written: the same batch again must not meet itself.
            Err(StoreError::Unavailable(_)) => {
                told.refused.fetch_add(1, Ordering::SeqCst);
                tokio::time::sleep(Duration::from_millis(20)).await;
            }
            Err(StoreError::Unknown(_)) => {
                told.unknown.fetch_add(1, Ordering::SeqCst);
                n += 1;
            }
            Err(error) => {
                eprintln!("WRONG: batch {n} of writer {writer}: {error}");
                told.wrong.fetch_add(1, Ordering::SeqCst);
                n += 1;
            }
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_commit_that_is_cut_is_told_rightly() {
    let Some(server) = Server::shared() else { return };
    let wanted = std::env::var("ETUI_CUTS").ok().and_then(|n| n.parse().ok()).unwrap_or(CUTS);
    let (schema, direct) = server.schema();
    let of = |address| Database { address, password: None, root: None };
    init(&of(direct), None).await.unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let port = listener.local_addr().unwrap().port();
    let (armed, cuts) = (AtomicBool::new(false), AtomicUsize::new(0));
    let between = Arc::new(Between { socket: server.socket(), armed, cuts });
    tokio::spawn(Arc::clone(&between).listen(listener));
    let address =
        format!("postgres://owner@127.0.0.1:{port}/postgres?options=-c%20search_path%3D{schema}");
    let store = PostgresStore::open(&of(address), None, Entry::Alone).await.unwrap();

    let (stop, told) = (Arc::new(AtomicBool::new(false)), Arc::new(Told::default()));
    let mut writers = tokio::task::JoinSet::new();
    for writer in 0..WRITERS {
        writers.spawn(write_on(store.clone(), writer, Arc::clone(&stop), Arc::clone(&told)));
    }
    let began = std::time::Instant::now();
    let mut seen = 0;
    while seen < wanted {
        // Some of them fall on the very next commit: that of whoever asks what became of the last.
        let more = told.written.load(Ordering::SeqCst) + [40, 8, 0, 20][seen % 4];
        while told.written.load(Ordering::SeqCst) < more {
            tokio::time::sleep(Duration::from_millis(1)).await;
            assert!(began.elapsed() < Duration::from_secs(600), "nothing is written any more");
        }
        between.armed.store(true, Ordering::SeqCst);
        while between.cuts.load(Ordering::SeqCst) == seen {
            tokio::time::sleep(Duration::from_millis(1)).await;
            assert!(began.elapsed() < Duration::from_secs(600), "the cuts do not come");
        }
        seen += 1;
    }
    tokio::time::sleep(Duration::from_secs(1)).await;
    stop.store(true, Ordering::SeqCst);
    while let Some(ended) = writers.join_next().await {
        ended.unwrap();
    }

    println!(
        "{seen} cuts in {:.1} s: {}",
        began.elapsed().as_secs_f64(),
        is_as_told(&store, &told).await
    );
    store.close().await.unwrap();
}

/// Holds what is stored against what the writers were told; what that was, in words.
pub(crate) async fn is_as_told(store: &PostgresStore, told: &Told) -> String {
    let count = |of: &AtomicU64| of.load(Ordering::SeqCst);
    let (written, unknown) = (count(&told.written), count(&told.unknown));
    assert_eq!((count(&told.wrong), unknown), (0, 0), "wrong, unknown");
    let mut snap = store.snapshot().await.unwrap();
    let all = || Vec::new()..Vec::new();
    let rows = snap.scan(SPACE, all(), Order::Ascending, usize::MAX).await.unwrap();
    assert_eq!(rows.len() as u64, written, "each acknowledged batch once, and no other");
    let events = snap.scan(outbox::EVENTS, all(), Order::Ascending, usize::MAX).await.unwrap();
    let numbers: Vec<u64> = events.iter().filter_map(|(key, _)| outbox::number(key)).collect();
    assert_eq!(numbers, (1..=written).collect::<Vec<_>>(), "numbered without a gap");
    drop(snap);
    let report = verify(store, None, Vec::new(), &[]).await.unwrap();
    assert!(report.is_sound(), "{:?}", report.listed);
    assert_eq!(report.audit_links, written);
    let refused = count(&told.refused);
    format!("{written} acknowledged, {refused} refused and tried again, 0 unknown, 0 wrong")
}
