//! The store on a server that speaks PostgreSQL's protocol.
//!
//! # A write
//!
//! `commit` puts the batch into a bounded queue and waits. One task takes what is
//! waiting, takes the *turn* (a row that is locked and never changed), reads the
//! newest row of the *journal* (append only: how many batches there were, the
//! last event's number, the audit trail's head) and whatever the batches expect,
//! decides, writes, adds one row to the journal and commits ([`committer`]). So
//! the order of commits is the order of numbers, without a gap.
//!
//! # A commit whose answer was lost
//!
//! is not guessed. The journal's row carries who wrote it and the how manyth of
//! its writer it is; on a new connection, with the turn in hand, the row is there
//! or it is not. Not there: the group is run again and nobody notices. Only when
//! nobody can be asked for half a minute is the answer
//! [`StoreError::Unknown`].
//!
//! # A read
//!
//! A snapshot is a read-only transaction on a connection of its own out of a
//! bounded pool; it begins with the newest row of the journal.
//!
//! # Several processes
//!
//! may serve a database at the same time: who does what is said by the [`guard`],
//! and what the others changed is seen by a [`look`].
//!
//! Connections live on a runtime of the store's own: the service's workers are
//! for computing, and some of its threads have no way to wait for a socket.

mod committer;
mod guard;
mod heads;
mod home;
mod layout;
mod look;
mod meters;
mod pool;
mod session;
mod settings;
mod snapshot;

#[cfg(test)]
mod tests;

pub use home::judge as judge_folder;
pub use layout::{init, server_time};
pub use settings::judge;
pub use snapshot::PostgresSnap;

use std::{fs::File, path::Path, sync::Arc};

use prometheus_client::registry::Registry;
use tokio::{
    runtime::{Builder, Handle, Runtime},
    sync::{mpsc, oneshot, watch},
};
use uuid::Uuid;

use self::{
    committer::{Committer, Work},
    guard::{Gate, Guard, State},
    layout::Server,
    look::Asked,
    meters::Meters,
    pool::Pool,
    settings::Link,
};
use super::{
    Batch, Bytes, Health, Serve, Store, StoreError,
    database::{Database, DatabaseError, Entry},
    dump::{ImportError, Target},
    shared::{LEAD, Looked, SHARED},
};

/// How many batches may wait before further ones are refused.
const QUEUE: usize = 1024;
/// Threads for connections.
const THREADS: usize = 2;

/// A handle on the open store; clones share it.
#[derive(Clone)]
pub struct PostgresStore {
    core: Arc<Core>,
    /// For the work of one at a time: the row of the lead as each batch must find it.
    term: Option<Bytes>,
    /// Held for its end: when the last handle goes, so do the connections.
    #[expect(dead_code, reason = "held for its drop")]
    life: Arc<Life>,
}

/// The runtime of the connections.
struct Life {
    runtime: Option<Runtime>,
    /// Of the data folder.
    #[expect(dead_code, reason = "held for its drop")]
    lock: Option<File>,
}

impl Drop for Life {
    fn drop(&mut self) {
        if let Some(runtime) = self.runtime.take() {
            // Not waited for: this may be dropped where nothing may wait.
            runtime.shutdown_background();
        }
    }
}

struct Core {
    runtime: Handle,
    link: Link,
    pool: Pool,
    /// This process, in the journal.
    writer: Uuid,
    state: State,
    server: Server,
    queue: mpsc::Sender<Work>,
    questions: mpsc::UnboundedSender<Asked>,
    grown: watch::Sender<u64>,
    /// Whether nobody served it when this process began.
    was_alone: bool,
    gate: watch::Sender<Gate>,
    /// The row of the lead as it was raised; `None` while another has it, or nobody.
    lead: watch::Sender<Option<Bytes>>,
    closing: watch::Sender<bool>,
    let_go: watch::Sender<bool>,
    meters: Meters,
}

impl PostgresStore {
    /// Opens the store in a database that [`init`] has prepared. `lock` is kept until it is gone.
    ///
    /// # Errors
    /// [`DatabaseError`]: it cannot be reached, is not as it must be, or another process has it.
    pub async fn open(
        database: &Database,
        lock: Option<File>,
        entry: Entry,
    ) -> Result<Self, DatabaseError> {
        Self::begin(database, lock, (entry, false)).await
    }

    /// Notes in a data folder that it belongs to this database.
    ///
    /// # Errors
    /// [`DatabaseError`].
    pub async fn keep_in(&self, folder: &Path) -> Result<(), DatabaseError> {
        home::keep(self, folder).await
    }

    async fn begin(
        database: &Database,
        lock: Option<File>,
        how: (Entry, bool),
    ) -> Result<Self, DatabaseError> {
        let link = Link::new(database)?;
        let runtime = Builder::new_multi_thread()
            .worker_threads(THREADS)
            .thread_name("store")
            .enable_all()
            .build()
            .map_err(|error| DatabaseError::Server(error.to_string()))?;
        let handle = runtime.handle().clone();
        let life = Arc::new(Life { runtime: Some(runtime), lock });
        let started = handle.clone().spawn(start(handle, link, how));
        let core = started.await.map_err(|error| DatabaseError::Server(error.to_string()))??;
        Ok(Self { core, term: None, life })
    }

    /// Whether a commit survives a power cut of the server, and what it says of itself.
    #[must_use]
    pub fn durability(&self) -> (bool, String) {
        let Server { is_durable, says } = &self.core.server;
        let who = if self.core.leads() { "this process" } else { "another process" };
        let standbys = self.core.state.standbys();
        (*is_durable, format!("{says}; {standbys}; {who} does what one does at a time"))
    }

    /// Sequence number of the newest batch that this process knows of.
    #[must_use]
    pub fn sequence(&self) -> u64 {
        *self.core.grown.borrow()
    }

    /// Has its figures told with the others.
    pub fn register(&self, registry: &mut Registry) {
        self.core.meters.register(registry);
    }
}

/// What is done on the store's own runtime before anything is served.
async fn start(
    runtime: Handle,
    link: Link,
    (entry, for_import): (Entry, bool),
) -> Result<Arc<Core>, DatabaseError> {
    // Looked at once without the lock, for the sake of what is said when there is no layout.
    let (_, server) = layout::look_only(&link).await?;
    let guard = Guard::take(&link, entry).await?;
    layout::settle(&link, for_import).await?;
    let writer = guard.name;
    let (queue, work) = mpsc::channel(QUEUE);
    let (questions, asked) = mpsc::unbounded_channel();
    let gate = if guard.is_alone { Gate::Alone } else { Gate::Shared };
    let core = Arc::new(Core {
        runtime,
        link,
        pool: Pool::new(),
        writer,
        state: State::new(),
        server,
        queue,
        questions,
        grown: watch::Sender::new(0),
        was_alone: guard.is_alone,
        gate: watch::Sender::new(gate),
        lead: watch::Sender::new(None),
        closing: watch::Sender::new(false),
        let_go: watch::Sender::new(false),
        meters: Meters::new(),
    });
    let sequence = Committer::open(&core).await;
    let sequence = sequence.map_err(|error| DatabaseError::Server(error.to_string()))?;
    core.saw(sequence);
    core.state.hold();
    core.runtime.spawn(guard.keep(Arc::clone(&core)));
    core.runtime.spawn(committer::run(Arc::clone(&core), work));
    core.runtime.spawn(look::run(Arc::clone(&core), asked));
    Ok(core)
}

impl Core {
    /// Puts a batch into the queue and waits for what becomes of it.
    async fn submit(&self, batch: Batch) -> Result<(), StoreError> {
        batch.check_limits()?;
        self.state.may_write()?;
        let (reply, answer) = oneshot::channel();
        self.queue.try_send(Work::Commit(batch, reply)).map_err(|error| match error {
            mpsc::error::TrySendError::Full(_) => {
                StoreError::Unavailable("too many writes are waiting".into())
            }
            mpsc::error::TrySendError::Closed(_) => StoreError::Stopping,
        })?;
        answer.await.unwrap_or_else(|_| Err(StoreError::Unknown("the committer ended".into())))
    }

    /// Wakes whoever waits for something new, if this is.
    fn saw(&self, sequence: u64) {
        self.grown.send_if_modified(|newest| {
            let is_new = *newest < sequence;
            *newest = sequence.max(*newest);
            is_new
        });
    }

    fn leads(&self) -> bool {
        self.lead.borrow().is_some()
    }
}

impl Store for PostgresStore {
    type Snap = PostgresSnap;

    async fn commit(&self, mut batch: Batch) -> Result<(), StoreError> {
        let Some(term) = &self.term else { return self.core.submit(batch).await };
        let last = batch.expect.len();
        batch = batch.expect(SHARED, LEAD, Some(term.clone()));
        match self.core.submit(batch).await {
            Err(StoreError::Conflict { index, .. }) if index == last => {
                Err(StoreError::Unavailable("another process does this work now".into()))
            }
            done => done,
        }
    }

    async fn snapshot(&self) -> Result<PostgresSnap, StoreError> {
        self.core.state.may_read()?;
        let taking = self.core.runtime.spawn(PostgresSnap::take(Arc::clone(&self.core)));
        taking.await.unwrap_or(Err(StoreError::Stopping))
    }
}

impl Serve for PostgresStore {
    fn health(&self) -> Health {
        self.core.state.health()
    }

    fn grown(&self) -> watch::Receiver<u64> {
        self.core.grown.subscribe()
    }

    async fn close(&self) -> Result<(), StoreError> {
        let (reply, answer) = oneshot::channel();
        if self.core.queue.send(Work::Close(reply)).await.is_err() {
            return Ok(());
        }
        let answer = answer.await.unwrap_or(Ok(()));
        self.core.state.close();
        self.core.pool.close();
        self.core.closing.send_replace(true);
        let mut let_go = self.core.let_go.subscribe();
        let _ = let_go.wait_for(|gone| *gone).await;
        answer
    }

    fn is_shared(&self) -> bool {
        true
    }

    async fn look(&self) -> Result<Option<Looked>, StoreError> {
        self.core.state.may_read()?;
        let (ask, answer) = oneshot::channel();
        self.core.questions.send(ask).map_err(|_| StoreError::Stopping)?;
        answer.await.unwrap_or(Err(StoreError::Stopping)).map(Some)
    }

    fn is_alone(&self) -> bool {
        self.core.was_alone
    }

    async fn let_in(&self) -> Result<(), StoreError> {
        let is_first = |gate: &mut Gate| {
            let is_first = *gate == Gate::Alone;
            if is_first {
                *gate = Gate::Opening;
            }
            is_first
        };
        self.core.gate.send_if_modified(is_first);
        let mut gate = self.core.gate.subscribe();
        gate.wait_for(|gate| *gate == Gate::Shared)
            .await
            .map(drop)
            .map_err(|_| StoreError::Stopping)
    }

    fn leads(&self) -> bool {
        self.core.leads()
    }

    async fn lead(&self) -> Self {
        let mut lead = self.core.lead.subscribe();
        let term = lead.wait_for(Option::is_some).await.ok().and_then(|term| term.clone());
        Self { term, ..self.clone() }
    }

    async fn over(&self) {
        let mut lead = self.core.lead.subscribe();
        let _ = lead.wait_for(|term| *term != self.term).await;
    }
}

/// An import needs the role that owns the tables.
impl Target for Database {
    type Store = PostgresStore;

    async fn open(&self, folder: &Path) -> Result<PostgresStore, ImportError> {
        let store = PostgresStore::begin(self, None, (Entry::Alone, true)).await?;
        store.keep_in(folder).await?;
        Ok(store)
    }

    async fn loaded(&self, _store: &PostgresStore) -> Result<(), ImportError> {
        Ok(())
    }

    async fn placed(&self, store: &PostgresStore) -> Result<(), ImportError> {
        let core = Arc::clone(&store.core);
        let marking = store.core.runtime.spawn(async move { layout::ready(&core.link).await });
        marking.await.map_err(|error| DatabaseError::Server(error.to_string()))??;
        Ok(store.close().await?)
    }
}
