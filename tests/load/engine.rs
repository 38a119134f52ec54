//! The bare engine under one committer: what durable writes cost without a
//! service around them.
//!
//! One thread takes what is waiting (at most 64), applies each in one
//! transaction, flushes, syncs the log file, and only then answers: the same
//! syncs as the service's store.

use std::fs::File;
use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::time::{Duration, Instant};

use sled::Transactional;
use sled::transaction::ConflictableTransactionError;

/// Most writes under one flush.
const GROUP: usize = 64;
/// Trees that there are: more than one write touches.
const TREES: usize = 40;

/// One write: its rows, each with the tree that it goes to.
pub(crate) type Write = Vec<(usize, Vec<u8>, Vec<u8>)>;

/// Writes a second from so many writers at once.
pub(crate) fn writes_a_second(
    folder: &Path,
    writers: usize,
    lasts: Duration,
    write: impl Fn(usize, u64) -> Write + Sync,
) -> f64 {
    let db = sled::Config::new()
        .path(folder)
        .mode(sled::Mode::LowSpace)
        .cache_capacity(128 << 20)
        .flush_every_ms(Some(500))
        .open()
        .expect("the engine opens");
    let log = File::options().read(true).write(true).open(folder.join("db")).expect("its log");
    let trees: Vec<sled::Tree> =
        (0..TREES).map(|n| db.open_tree(format!("tree-{n}")).expect("a tree")).collect();
    let (queue, waiting) = sync_channel::<(Write, SyncSender<()>)>(1024);
    let (done, count) = (AtomicBool::new(false), AtomicU64::new(0));
    let started = Instant::now();
    std::thread::scope(|scope| {
        scope.spawn(|| commit(&db, &log, &trees, waiting));
        for writer in 0..writers {
            let (queue, write, done, count) = (queue.clone(), &write, &done, &count);
            scope.spawn(move || {
                for n in 0.. {
                    if done.load(Ordering::Relaxed) {
                        return;
                    }
                    let (reply, answer) = sync_channel(1);
                    queue.send((write(writer, n), reply)).expect("the committer listens");
                    answer.recv().expect("an answer");
                    count.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        drop(queue);
        std::thread::sleep(lasts);
        done.store(true, Ordering::Relaxed);
    });
    #[expect(clippy::cast_precision_loss, reason = "a count of some thousands")]
    let written = count.load(Ordering::Relaxed) as f64;
    written / started.elapsed().as_secs_f64()
}

fn commit(
    db: &sled::Db,
    log: &File,
    trees: &[sled::Tree],
    waiting: Receiver<(Write, SyncSender<()>)>,
) {
    while let Ok(first) = waiting.recv() {
        let mut group = vec![first];
        while group.len() < GROUP {
            match waiting.try_recv() {
                Ok(next) => group.push(next),
                Err(_) => break,
            }
        }
        let applied = trees.transaction(|views| {
            for (write, _) in &group {
                for (tree, key, value) in write {
                    views[*tree].insert(key.as_slice(), value.as_slice())?;
                }
            }
            Ok::<(), ConflictableTransactionError<()>>(())
        });
        assert!(applied.is_ok(), "the engine takes it");
        db.flush().expect("a flush");
        log.sync_data().expect("a sync");
        for (_, reply) in group {
            let _ = reply.send(());
        }
    }
}
