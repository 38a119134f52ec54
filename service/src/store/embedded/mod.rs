//! The embedded store: sled 0.34.7 behind the [`Store`] trait.
//!
//! # A write
//!
//! `commit` puts the batch into a bounded queue and waits. One thread, the
//! committer, takes what is waiting (1–64 batches; it waits a moment for callers
//! that it has just answered), stages all of it in one
//! transaction of the engine, each batch under its own preconditions, flushes,
//! syncs the log file, notes the sequence number, and only then answers. There
//! is no other writer, so a failed precondition is never a false alarm.
//!
//! # A read
//!
//! The engine has no snapshots. The committer therefore remembers, for each
//! group it applies, what the changed keys held before ([`undo`]); a snapshot of
//! version *v* reads the engine and puts back whatever groups after *v* changed.
//! New snapshots start at the newest version that is *on disk*. So nobody sees
//! data that a power cut could take back, no reader waits for a sync, and a
//! long-lived snapshot (an export) holds up nobody.
//!
//! # When the engine fails
//!
//! Its storage errors are sticky. After the first one the group is answered
//! [`StoreError::Unknown`], the instance serves nobody any more, is closed and
//! opened again, with growing pauses; meanwhile everything is answered
//! [`StoreError::Unavailable`]. Damage (a failed checksum, a panic of the
//! engine, acknowledged batches missing) is not retried: the store answers
//! [`StoreError::Damaged`] and writes nothing any more.
//!
//! # Files in the data folder
//!
//! | name | what |
//! |---|---|
//! | `store/` | the engine's files |
//! | `lock` | held while a process has the folder open |
//! | `seq.ack` | sequence number of the newest acknowledged batch: notices a lost tail |
//! | `closed` | present after an orderly end only: sizes and digests of the engine's files |
//! | `store.probe/` | a copy that is examined after an unclean end, then removed |

mod committer;
mod engine;
mod marks;
mod open;
mod snapshot;
mod stage;
mod undo;
mod value;

#[cfg(test)]
mod tests;

pub use open::{OpenError, OpenReport, PreviousEnd, Probe, lock};
pub use snapshot::EmbeddedSnap;

use std::{
    path::PathBuf,
    sync::{
        Arc, Mutex, MutexGuard, OnceLock, PoisonError,
        mpsc::{SyncSender, TrySendError},
    },
};

use tokio::sync::{RwLock, oneshot, watch};

use self::{committer::Work, engine::Engine, snapshot::Views};
use super::{Batch, Health, Serve, Store, StoreError, files};

/// The layout of the stored data that this program writes, and the newest it can open.
pub const SCHEMA: u32 = 1;

/// Where the store lies and how much it may use.
#[derive(Debug, Clone)]
pub struct StoreConfig {
    /// The data folder, on a local disk; made with mode 0700 when it is not there.
    pub dir: PathBuf,
    /// Page cache of the engine in bytes, as it counts them; 48 MiB unless set. Its pages take about
    /// twice as much, and beside them it holds some 200 bytes for each page there is.
    pub cache_bytes: u64,
    /// Free disk space in bytes below which writes are refused; 256 MiB unless set.
    pub min_free_bytes: u64,
    /// How many batches may wait before further ones are refused; 1,024 unless set.
    pub queue_len: usize,
    /// Up to how many bytes of engine files are digested at an orderly end, so that any change
    /// made to them while closed is noticed; 128 MiB unless set. Larger stores compare sizes only.
    pub digest_up_to_bytes: u64,
}

impl StoreConfig {
    /// The usual settings for a data folder.
    #[must_use]
    pub fn new(dir: impl Into<PathBuf>) -> Self {
        Self {
            dir: dir.into(),
            cache_bytes: 48 << 20,
            min_free_bytes: 256 << 20,
            queue_len: 1024,
            digest_up_to_bytes: 128 << 20,
        }
    }

    fn engine_dir(&self) -> PathBuf {
        self.dir.join("store")
    }
}

/// A handle on the open store; clones share it.
#[derive(Clone)]
pub struct EmbeddedStore {
    core: Arc<Core>,
    /// Held for its end: when the last handle goes, the store closes.
    #[expect(dead_code, reason = "held for its drop")]
    last: Arc<LastHandle>,
}

/// Takes the queue away when the last handle goes; the committer then closes the engine.
struct LastHandle(Arc<Core>);

impl Drop for LastHandle {
    fn drop(&mut self) {
        self.0.queue().take();
    }
}

pub(super) struct Core {
    config: StoreConfig,
    slot: Arc<RwLock<Slot>>,
    views: Mutex<Views>,
    queue: Mutex<Option<SyncSender<Work>>>,
    /// Set once when damage is met while running; from then on nothing is served.
    damage: OnceLock<String>,
    /// Tells whoever waits that there is something new on disk.
    grown: watch::Sender<u64>,
}

/// The engine, or what to answer in its absence.
enum Slot {
    Open(Box<Engine>),
    Shut(StoreError),
}

impl EmbeddedStore {
    /// Opens the store in a folder; blocking. Damage does not make this fail: the store then
    /// answers [`StoreError::Damaged`] and [`OpenReport::damage`] says what was found.
    ///
    /// # Errors
    /// [`OpenError`] when the folder cannot be used at all: another process has it open, it was
    /// written by a newer program, or the file system refuses.
    pub fn open(config: StoreConfig) -> Result<(Self, OpenReport), OpenError> {
        open::open(config)
    }

    /// What is damaged and what to do, once damage was found; from then on nothing is served.
    #[must_use]
    pub fn damaged(&self) -> Option<&str> {
        self.core.damage.get().map(String::as_str)
    }

    /// Sequence number of the newest batch on disk: how many batches were ever committed.
    #[must_use]
    pub fn sequence(&self) -> u64 {
        self.core.views().durable
    }
}

impl Store for EmbeddedStore {
    type Snap = EmbeddedSnap;

    async fn commit(&self, batch: Batch) -> Result<(), StoreError> {
        batch.check_limits()?;
        if let Some(state) = self.core.views().state.clone() {
            return Err(state);
        }
        let (reply, answer) = oneshot::channel();
        self.core.enqueue(Work::Commit(batch, reply))?;
        answer.await.unwrap_or_else(|_| Err(StoreError::Unknown("the committer ended".into())))
    }

    async fn snapshot(&self) -> Result<EmbeddedSnap, StoreError> {
        EmbeddedSnap::take(&self.core).await
    }
}

impl Serve for EmbeddedStore {
    /// Asks the file system for its free space.
    fn health(&self) -> Health {
        if let Some(why) = self.core.damage.get() {
            return Health::Damaged(why.clone());
        }
        let state = match self.core.views().state.clone() {
            Some(error) => error,
            None if self.core.is_full() => StoreError::Full,
            None => return Health::Ready,
        };
        match state {
            StoreError::Full => Health::Full,
            StoreError::Damaged(why) => Health::Damaged(why),
            StoreError::Stopping => Health::Closed,
            StoreError::Unavailable(why) | StoreError::Unknown(why) => Health::Reopening(why),
            other @ (StoreError::Conflict { .. } | StoreError::TooLarge { .. }) => {
                Health::Reopening(other.to_string())
            }
        }
    }

    fn grown(&self) -> watch::Receiver<u64> {
        self.core.grown.subscribe()
    }

    /// Flushes, closes the engine and marks the end as orderly. When it could not be marked, the
    /// next start examines the store as after an unclean end. Dropping the last handle does the
    /// same, without waiting for it.
    async fn close(&self) -> Result<(), StoreError> {
        let Some(queue) = self.core.queue().take() else { return Ok(()) };
        let (reply, answer) = oneshot::channel();
        // The queue may be full, and waiting for room must not block the runtime.
        std::thread::spawn(move || drop(queue.send(Work::Close(reply))));
        answer.await.unwrap_or(Err(StoreError::Stopping))
    }
}

impl Core {
    fn enqueue(&self, work: Work) -> Result<(), StoreError> {
        let queue = self.queue().clone().ok_or(StoreError::Stopping)?;
        queue.try_send(work).map_err(|error| match error {
            TrySendError::Full(_) => StoreError::Unavailable("too many writes are waiting".into()),
            TrySendError::Disconnected(_) => StoreError::Stopping,
        })
    }

    fn queue(&self) -> MutexGuard<'_, Option<SyncSender<Work>>> {
        self.queue.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn views(&self) -> MutexGuard<'_, Views> {
        self.views.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn is_full(&self) -> bool {
        // A file system that does not answer is met by the write itself.
        files::free_bytes(&self.config.dir).is_ok_and(|free| free < self.config.min_free_bytes)
    }

    /// Notes damage met by a reader and asks the committer to close the engine.
    fn report_damage(&self, why: String) -> StoreError {
        let why = self.damage.get_or_init(|| open::advice(&why)).clone();
        // A full queue wakes the committer too.
        let _ = self.enqueue(Work::Wake);
        StoreError::Damaged(why)
    }
}
