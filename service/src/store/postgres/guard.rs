//! That one process at a time serves a database.
//!
//! Keys, tokens and packs live in one process. So a process takes a lock of the
//! session on a connection of its own, and another that finds it taken does not
//! start. When that connection is lost nothing is written until the lock is had
//! again. The lock alone would not do: a process that is frozen for long, or cut
//! off, does not know that it lost it. Therefore each begins with a row of the
//! journal under its own name, and whoever finds a row of another behind its own
//! has been followed by it and serves nothing any more.

use std::{
    sync::{Arc, Mutex, MutexGuard, PoisonError},
    time::{Duration, Instant},
};

use uuid::Uuid;

use super::{
    Core,
    heads::Heads,
    session::{HEADS, Session, bare, unavailable},
    settings::Link,
};
use crate::store::{Health, StoreError, database::DatabaseError};

/// How often the connection is tried.
const BEAT: Duration = Duration::from_secs(2);
/// How long a start waits for a process that is just ending.
const FOLLOWING: Duration = Duration::from_secs(5);
const LOCK: &str = "
    SELECT pg_try_advisory_lock(hashtextextended('etui ' || current_schema(), 0)),
           hashtextextended('etui ' || current_schema(), 0), gen_random_uuid()";
const LOOK: &str = "
    SELECT current_setting('synchronous_standby_names'),
           (SELECT count(*) FROM pg_stat_replication),
           (SELECT max(extract(epoch FROM replay_lag))::float8 FROM pg_stat_replication)";

/// What the service may do at the moment.
pub(super) struct State {
    writer: Uuid,
    inner: Mutex<Inner>,
}

#[derive(Debug)]
struct Inner {
    /// Why nothing is written, while the lock is not had.
    unheld: Option<String>,
    followed: bool,
    closed: bool,
    /// What kept the last group from being written.
    failed: Option<StoreError>,
    standbys: String,
}

impl State {
    pub(super) fn new(writer: Uuid) -> Self {
        let unheld = Some("the database is being opened".to_owned());
        let standbys = "no standby is known".to_owned();
        let inner = Inner { unheld, followed: false, closed: false, failed: None, standbys };
        Self { writer, inner: Mutex::new(inner) }
    }

    /// Whether a group may be written now.
    pub(super) fn may_write(&self) -> Result<(), StoreError> {
        let inner = self.inner();
        if inner.closed {
            return Err(StoreError::Stopping);
        }
        if inner.followed {
            return Err(followed());
        }
        inner.unheld.clone().map_or(Ok(()), |why| Err(StoreError::Unavailable(why)))
    }

    /// Whether nobody else has written since we began.
    pub(super) fn is_ours(&self, heads: &Heads) -> Result<(), StoreError> {
        if heads.writer == self.writer {
            return Ok(());
        }
        let mut inner = self.inner();
        if !inner.followed {
            inner.followed = true;
            tracing::error!("store.followed: another process serves this database");
        }
        Err(followed())
    }

    /// Whether views are given out.
    pub(super) fn may_read(&self) -> Result<(), StoreError> {
        let inner = self.inner();
        match (inner.closed, inner.followed) {
            (true, _) => Err(StoreError::Stopping),
            (_, true) => Err(followed()),
            _ => Ok(()),
        }
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
        if inner.followed {
            return Health::Reopening(followed().to_string());
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

    fn hold(&self) {
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
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn followed() -> StoreError {
    let why = "another etui process has taken over this database; stop this one";
    StoreError::Unavailable(why.into())
}

/// The connection that holds the lock.
pub(super) struct Guard {
    session: Session<()>,
    key: i64,
    /// A name for this process in the journal. The server draws it: it must be another one at each
    /// start, also where chance is scripted.
    pub(super) name: Uuid,
}

impl Guard {
    /// Takes the lock, or says that another has it.
    pub(super) async fn take(link: &Link) -> Result<Self, DatabaseError> {
        let unreachable = |error: StoreError| DatabaseError::Reach(error.to_string());
        let began = Instant::now();
        loop {
            if let Some(guard) = Self::try_take(link).await.map_err(unreachable)? {
                return Ok(guard);
            }
            if FOLLOWING < began.elapsed() {
                return Err(DatabaseError::InUse);
            }
            tokio::time::sleep(Duration::from_millis(100)).await;
        }
    }

    async fn try_take(link: &Link) -> Result<Option<Self>, StoreError> {
        let session = bare(link).await?;
        let failed = |error: tokio_postgres::Error| unavailable(&error);
        let row = session.client.query_one(LOCK, &[]).await.map_err(failed)?;
        let is_taken: bool = row.try_get(0).map_err(failed)?;
        let (key, name) = (row.try_get(1).map_err(failed)?, row.try_get(2).map_err(failed)?);
        Ok(is_taken.then_some(Self { session, key, name }))
    }

    /// Keeps the lock until the store is closed.
    pub(super) async fn keep(self, core: Arc<Core>) {
        let mut closing = core.closing.subscribe();
        let mut held = Some(self);
        loop {
            held = match held {
                Some(guard) => match guard.beat(&core).await {
                    Ok(()) => Some(guard),
                    Err(error) => {
                        core.state.lose(&format!("the connection that guards it is lost: {error}"));
                        None
                    }
                },
                None => core.regain().await,
            };
            tokio::select! {
                _ = closing.wait_for(|closing| *closing) => break,
                () = tokio::time::sleep(if held.is_some() { BEAT } else { BEAT / 8 }) => {}
            }
        }
        if let Some(Self { session, key, name: _ }) = held {
            let _ = session.client.query("SELECT pg_advisory_unlock($1)", &[&key]).await;
        }
        core.let_go.send_replace(true);
    }

    async fn beat(&self, core: &Core) -> Result<(), StoreError> {
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
        Ok(())
    }
}

impl Core {
    /// Takes the lock again, if nobody has written meanwhile.
    async fn regain(&self) -> Option<Guard> {
        let guard = match Guard::try_take(&self.link).await {
            Ok(Some(guard)) => guard,
            Ok(None) => {
                self.state.lose("another etui process holds this database");
                return None;
            }
            Err(error) => {
                self.state.lose(&error.to_string());
                return None;
            }
        };
        let newest = guard.session.client.query_opt(HEADS, &[]).await;
        let heads = Heads::of(newest.ok()?.as_ref()).ok()?;
        if self.state.is_ours(&heads).is_ok() {
            tracing::info!("store.guard_regained");
            self.state.hold();
        }
        Some(guard)
    }

    /// The lock is had and the first row is written: from here on it is served.
    pub(super) fn hold(&self) {
        self.state.hold();
    }
}
