//! Which processes serve a database, and which of them does what one does at a
//! time.
//!
//! A process holds two locks of the session, on a connection of its own:
//!
//! - The *gate*. Whoever finds it free takes it alone, does what is done once (an
//!   import, a change of the studio's key, what a first start has to move), and
//!   then shares it. Whoever finds it shared shares it; whoever finds it taken
//!   waits, or does not start.
//! - The *lead*, which one of those who share the gate has: it tells what is due,
//!   delivers and makes dated backups. At taking it over the row
//!   [`LEAD`] is raised, and each batch of that work expects the row
//!   as it was raised. So whoever lost the lead without knowing writes nothing of
//!   that work any more.
//!
//! The server ends the connection of a process that says nothing for some seconds,
//! because it is frozen or cut off, and with it both locks; another takes the lead
//! over. Without the gate nothing is written until it is shared again.

use std::{
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    time::{Duration, Instant},
};

use tokio_postgres::{Client, Error};
use uuid::Uuid;

use super::{
    Core,
    session::{GUARD, Session, bare, unavailable},
    settings::Link,
};
use crate::store::{
    Batch, Bytes, Health, StoreError,
    database::{DatabaseError, Entry},
    shared::{self, LEAD, SHARED},
};

/// How often the connection is tried.
const BEAT: Duration = Duration::from_secs(2);
/// How long a start waits for a process that is just ending.
const FOLLOWING: Duration = Duration::from_secs(5);
/// How long it waits for one that is just starting.
const JOINING: Duration = Duration::from_secs(60);
const NAMES: &str = "
    SELECT hashtextextended('etui ' || current_schema(), 0),
           hashtextextended('etui lead ' || current_schema(), 0), gen_random_uuid()";
const ALONE: &str = "SELECT pg_try_advisory_lock($1)";
const BESIDE: &str = "SELECT pg_try_advisory_lock_shared($1)";
const LEAVE: &str = "SELECT pg_advisory_unlock($1)";
const TERM: &str = "SELECT value FROM kv WHERE space = $1 AND key = $2";
const LOOK: &str = "
    SELECT current_setting('synchronous_standby_names'),
           (SELECT count(*) FROM pg_stat_replication),
           (SELECT max(extract(epoch FROM replay_lag))::float8 FROM pg_stat_replication)";

/// How the gate is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Gate {
    Alone,
    /// It is to be shared.
    Opening,
    Shared,
}

/// What the service may do at the moment.
pub(super) struct State(Mutex<Inner>);

#[derive(Debug)]
struct Inner {
    /// Why nothing is written, while the gate is not had.
    unheld: Option<String>,
    closed: bool,
    /// What kept the last group from being written.
    failed: Option<StoreError>,
    standbys: String,
}

impl State {
    pub(super) fn new() -> Self {
        let unheld = Some("the database is being opened".to_owned());
        let standbys = "no standby is known".to_owned();
        Self(Mutex::new(Inner { unheld, closed: false, failed: None, standbys }))
    }

    /// Whether a group may be written now.
    pub(super) fn may_write(&self) -> Result<(), StoreError> {
        let inner = self.inner();
        if inner.closed {
            return Err(StoreError::Stopping);
        }
        inner.unheld.clone().map_or(Ok(()), |why| Err(StoreError::Unavailable(why)))
    }

    /// Whether views are given out.
    pub(super) fn may_read(&self) -> Result<(), StoreError> {
        if self.inner().closed { Err(StoreError::Stopping) } else { Ok(()) }
    }

    /// Notes how the last group ended.
    pub(super) fn note(&self, error: Option<&StoreError>) {
        self.inner().failed = error.cloned();
    }

    pub(super) fn close(&self) {
        self.inner().closed = true;
    }

    pub(super) fn standbys(&self) -> String {
        self.inner().standbys.clone()
    }

    pub(super) fn health(&self) -> Health {
        let inner = self.inner();
        if inner.closed {
            return Health::Closed;
        }
        if let Some(why) = &inner.unheld {
            return Health::Reopening(why.clone());
        }
        match &inner.failed {
            None | Some(StoreError::Conflict { .. } | StoreError::TooLarge { .. }) => Health::Ready,
            Some(StoreError::Full) => Health::Full,
            Some(StoreError::Damaged(why)) => Health::Damaged(why.clone()),
            Some(StoreError::Stopping) => Health::Closed,
            Some(StoreError::Unavailable(why) | StoreError::Unknown(why)) => {
                Health::Reopening(why.clone())
            }
        }
    }

    pub(super) fn hold(&self) {
        self.inner().unheld = None;
    }

    fn lose(&self, why: &str) {
        let mut inner = self.inner();
        if inner.unheld.is_none() {
            tracing::warn!(why, "store.guard_lost");
        }
        inner.unheld = Some(why.to_owned());
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The connection that holds the locks.
pub(super) struct Guard {
    session: Session<()>,
    gate: i64,
    lead: i64,
    pub(super) is_alone: bool,
    /// A name for this process in the journal. The server draws it: it must be another one at each
    /// start, also where chance is scripted.
    pub(super) name: Uuid,
}

impl Guard {
    /// Takes the gate, or says that another has it.
    pub(super) async fn take(link: &Link, entry: Entry) -> Result<Self, DatabaseError> {
        let unreachable = |error: StoreError| DatabaseError::Reach(error.to_string());
        let (began, patience) = match entry {
            Entry::Alone => (Instant::now(), FOLLOWING),
            Entry::Beside => (Instant::now(), JOINING),
        };
        let mut guard = Self::connect(link).await.map_err(unreachable)?;
        loop {
            if guard.enter(entry).await.map_err(unreachable)? {
                return Ok(guard);
            }
            if patience < began.elapsed() {
                return Err(DatabaseError::InUse);
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    async fn connect(link: &Link) -> Result<Self, StoreError> {
        let session = bare(link).await?;
        let failed = |error: Error| unavailable(&error);
        session.client.batch_execute(GUARD).await.map_err(failed)?;
        let row = session.client.query_one(NAMES, &[]).await.map_err(failed)?;
        let (gate, lead) = (row.try_get(0).map_err(failed)?, row.try_get(1).map_err(failed)?);
        let name = row.try_get(2).map_err(failed)?;
        Ok(Self { session, gate, lead, is_alone: false, name })
    }

    /// Takes the gate alone, or beside others if it may be shared.
    async fn enter(&mut self, entry: Entry) -> Result<bool, StoreError> {
        let client = &self.session.client;
        self.is_alone = ask(client, ALONE, self.gate).await?;
        let joins = entry == Entry::Beside && !self.is_alone;
        Ok(self.is_alone || (joins && ask(client, BESIDE, self.gate).await?))
    }

    /// Shares the gate: taken beside first, so that it is held all the time.
    async fn share(&self) -> Result<(), StoreError> {
        ask(&self.session.client, BESIDE, self.gate).await?;
        ask(&self.session.client, LEAVE, self.gate).await.map(drop)
    }

    /// Keeps the locks until the store is closed.
    pub(super) async fn keep(self, core: Arc<Core>) {
        let mut closing = core.closing.subscribe();
        let mut gate = core.gate.subscribe();
        let mut held = Some(self);
        loop {
            held = match held {
                Some(guard) => match guard.beat(&core).await {
                    Ok(()) => Some(guard),
                    Err(error) => {
                        core.lead.send_replace(None);
                        core.state.lose(&format!("the connection that guards it is lost: {error}"));
                        None
                    }
                },
                None => core.regain().await,
            };
            let pause = if held.is_some() { BEAT } else { BEAT / 8 };
            tokio::select! {
                _ = closing.wait_for(|closing| *closing) => break,
                _ = gate.wait_for(|gate| *gate == Gate::Opening), if held.is_some() => {}
                () = tokio::time::sleep(pause) => {}
            }
        }
        core.lead.send_replace(None);
        if let Some(guard) = held {
            let _ = guard.session.client.batch_execute("SELECT pg_advisory_unlock_all()").await;
        }
        core.let_go.send_replace(true);
    }

    async fn beat(&self, core: &Arc<Core>) -> Result<(), StoreError> {
        let look = tokio::time::timeout(2 * BEAT, self.session.client.query_one(LOOK, &[])).await;
        let late = |_| StoreError::Unavailable("the database does not answer".into());
        let row = look.map_err(late)?.map_err(|error| unavailable(&error))?;
        let names: String = row.try_get(0).unwrap_or_default();
        let standbys: i64 = row.try_get(1).unwrap_or(0);
        let lag: Option<f64> = row.try_get(2).unwrap_or(None);
        let waits =
            if names.is_empty() { "commits wait for none" } else { "commits wait for them" };
        let lag = lag.map_or(String::new(), |lag| format!(", {lag:.1} s behind at most"));
        core.state.inner().standbys = format!("{standbys} standby server(s){lag}; {waits}");
        let gate = *core.gate.borrow();
        if gate == Gate::Opening {
            self.share().await?;
            core.gate.send_replace(Gate::Shared);
        }
        if gate != Gate::Alone
            && !core.leads()
            && ask(&self.session.client, ALONE, self.lead).await?
        {
            self.take_over(core).await?;
        }
        Ok(())
    }

    /// Raises the row of the lead. What kept it from that is tried again with the next beat.
    async fn take_over(&self, core: &Arc<Core>) -> Result<(), StoreError> {
        let row = self.session.client.query_opt(TERM, &[&SHARED.name(), &LEAD]).await;
        let held: Option<Bytes> = row
            .and_then(|row| row.map(|row| row.try_get(0)).transpose())
            .map_err(|error| unavailable(&error))?;
        let term = shared::next(held.as_deref());
        let batch = Batch::new().expect(SHARED, LEAD, held).put(SHARED, LEAD, term.clone());
        match tokio::time::timeout(2 * BEAT, core.submit(batch)).await {
            Ok(Ok(())) => {
                tracing::info!("store.lead: what is due is told and delivered from here");
                core.lead.send_replace(Some(term));
                Ok(())
            }
            Ok(Err(_)) | Err(_) => ask(&self.session.client, LEAVE, self.lead).await.map(drop),
        }
    }
}

async fn ask(client: &Client, lock: &str, key: i64) -> Result<bool, StoreError> {
    let row = client.query_one(lock, &[&key]).await;
    row.and_then(|row| row.try_get(0)).map_err(|error| unavailable(&error))
}

impl Core {
    /// Takes the gate again, as it was held.
    async fn regain(&self) -> Option<Guard> {
        let again = async {
            let mut guard = Guard::connect(&self.link).await?;
            let has = match *self.gate.borrow() {
                Gate::Alone | Gate::Opening => Entry::Alone,
                Gate::Shared => Entry::Beside,
            };
            if !guard.enter(has).await? {
                let why = "another etui process has this database for itself";
                return Err(StoreError::Unavailable(why.into()));
            }
            if has == Entry::Beside && guard.is_alone {
                guard.share().await?;
            }
            Ok(guard)
        };
        match again.await {
            Ok(guard) => {
                tracing::info!("store.guard_regained");
                self.state.hold();
                Some(guard)
            }
            Err(error) => {
                self.state.lose(&error.to_string());
                None
            }
        }
    }
}
