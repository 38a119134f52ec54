//! One connection, with what it needs to be told and its statements prepared.

use std::{
    future::poll_fn,
    sync::{
        Arc,
        atomic::{AtomicBool, Ordering},
    },
    time::Duration,
};

use tokio::io::{AsyncRead, AsyncWrite};
use tokio_postgres::{AsyncMessage, Client, Connection, Error, NoTls, Statement};

use super::settings::Link;
use crate::store::StoreError;

/// Longest time from the first packet to the last prepared statement.
const CONNECT: Duration = Duration::from_secs(10);

/// What every connection is told. A plan is always the walk over the primary key: with statistics
/// that are not up to date the server would read whole tables instead. A ban makes a plan that has no
/// other way seem dear, and a dear plan would be compiled anew each time. Whoever has switched off that
/// a commit waits for the disk has it switched on again.
const MANNERS: &str = "
    SET client_min_messages = 'warning';
    SET statement_timeout = '30s';
    SET lock_timeout = '20s';
    SET tcp_keepalives_idle = 10;
    SET tcp_keepalives_interval = 5;
    SET tcp_keepalives_count = 3;
    SET enable_seqscan = off;
    SET enable_hashjoin = off;
    SET enable_mergejoin = off;
    SET jit = off;
    SELECT set_config('synchronous_commit', 'on', false)
     WHERE current_setting('synchronous_commit') IN ('off', 'local');
";
/// A writer that is frozen while it holds the turn stops everybody.
const WRITER: &str = "SET idle_in_transaction_session_timeout = '5s'";
/// A process that is frozen or cut off loses what it holds alone; whoever lives says so more often.
pub(super) const GUARD: &str = "SET idle_session_timeout = '8s'";
/// A view that nobody reads from holds up the clearing away of old rows.
const READER: &str = "SET idle_in_transaction_session_timeout = '60s'";

pub(super) const HEADS: &str =
    "SELECT seq, event, audit, hash FROM journal ORDER BY seq DESC LIMIT 1";
const MANY: &str = "
    SELECT wanted.at, found.value
      FROM unnest($1::text[], $2::bytea[]) WITH ORDINALITY AS wanted (space, key, at)
     CROSS JOIN LATERAL (
        SELECT value FROM kv WHERE kv.space = wanted.space AND kv.key = wanted.key LIMIT 1
     ) AS found";
const PUT: &str = "
    INSERT INTO kv (space, key, value) SELECT * FROM unnest($1::text[], $2::bytea[], $3::bytea[])
    ON CONFLICT (space, key) DO UPDATE SET value = excluded.value";
const DEL: &str = "
    DELETE FROM kv USING unnest($1::text[], $2::bytea[]) AS gone (space, key)
     WHERE kv.space = gone.space AND kv.key = gone.key";
const NOTE: &str = "
    INSERT INTO journal (seq, writer, serial, event, audit, hash) VALUES ($1, $2, $3, $4, $5, $6)";
/// Never together with a read in one statement: that would read what was before the wait.
const TURN: &str = "SELECT one FROM turn WHERE one FOR UPDATE";
const SPACES: &str = "
    WITH RECURSIVE walk AS (
        (SELECT space FROM kv ORDER BY space LIMIT 1)
        UNION ALL
        SELECT (SELECT kv.space FROM kv WHERE kv.space > walk.space ORDER BY kv.space LIMIT 1)
          FROM walk WHERE walk.space IS NOT NULL
    ) SELECT space FROM walk WHERE space IS NOT NULL";

/// A connection.
pub(super) struct Session<S> {
    pub(super) client: Client,
    pub(super) says: S,
    /// Whether the server warned since this was reset.
    warned: Arc<AtomicBool>,
}

impl<S> Session<S> {
    /// Forgets earlier warnings.
    pub(super) fn hush(&self) {
        self.warned.store(false, Ordering::SeqCst);
    }

    /// Whether the server warned since. It warns of a commit that is on its own disk and perhaps
    /// nowhere else, and then answers as if all were well.
    pub(super) fn was_warned(&self) -> bool {
        self.warned.load(Ordering::SeqCst)
    }
}

/// The statements of a writer.
pub(super) struct Writing {
    pub(super) turn: Statement,
    pub(super) heads: Statement,
    pub(super) many: Statement,
    pub(super) put: Statement,
    pub(super) del: Statement,
    pub(super) note: Statement,
}

/// The statements of a reader.
pub(super) struct Reading {
    pub(super) heads: Statement,
    pub(super) get: Statement,
    pub(super) many: Statement,
    pub(super) spaces: Statement,
    /// Ascending, descending; without and with an upper end.
    pub(super) scan: [Statement; 4],
    /// Ascending, descending.
    pub(super) scan_many: [Statement; 2],
}

/// Connects without statements.
pub(super) async fn bare(link: &Link) -> Result<Session<()>, StoreError> {
    within(async { open(link).await }).await
}

/// Connects as a writer.
pub(super) async fn writer(link: &Link) -> Result<Session<Writing>, StoreError> {
    within(async {
        let Session { client, says: (), warned } = open(link).await?;
        client.batch_execute(WRITER).await?;
        let (turn, heads, many, put, del, note) = tokio::try_join!(
            client.prepare(TURN),
            client.prepare(HEADS),
            client.prepare(MANY),
            client.prepare(PUT),
            client.prepare(DEL),
            client.prepare(NOTE),
        )?;
        let says = Writing { turn, heads, many, put, del, note };
        Ok(Session { client, says, warned })
    })
    .await
}

/// Connects as a reader.
pub(super) async fn reader(link: &Link) -> Result<Session<Reading>, StoreError> {
    within(async {
        let Session { client, says: (), warned } = open(link).await?;
        client.batch_execute(READER).await?;
        let scan = |end: &str, order: &str| {
            format!(
                "SELECT key, value FROM kv WHERE space = $1 AND $2 <= key {end} \
                 ORDER BY key {order} LIMIT $3"
            )
        };
        let (all, up_to) = ("", "AND key < $4");
        let texts = [scan(all, "ASC"), scan(all, "DESC"), scan(up_to, "ASC"), scan(up_to, "DESC")];
        let lateral = |order: &str| {
            format!(
                "SELECT wanted.at, found.key, found.value
                   FROM unnest($2::bytea[], $3::bytea[]) WITH ORDINALITY AS wanted (start, stop, at)
                  CROSS JOIN LATERAL (
                     SELECT key, value FROM kv
                      WHERE space = $1 AND wanted.start <= key AND key < wanted.stop
                      ORDER BY key {order} LIMIT $4
                  ) AS found"
            )
        };
        let laterals = [lateral("ASC"), lateral("DESC")];
        let (heads, get, many, spaces, s0, s1, s2, s3, m0, m1) = tokio::try_join!(
            client.prepare(HEADS),
            client.prepare("SELECT value FROM kv WHERE space = $1 AND key = $2"),
            client.prepare(MANY),
            client.prepare(SPACES),
            client.prepare(&texts[0]),
            client.prepare(&texts[1]),
            client.prepare(&texts[2]),
            client.prepare(&texts[3]),
            client.prepare(&laterals[0]),
            client.prepare(&laterals[1]),
        )?;
        let (scan, scan_many) = ([s0, s1, s2, s3], [m0, m1]);
        let says = Reading { heads, get, many, spaces, scan, scan_many };
        Ok(Session { client, says, warned })
    })
    .await
}

async fn within<T>(work: impl Future<Output = Result<T, Error>>) -> Result<T, StoreError> {
    match tokio::time::timeout(CONNECT, work).await {
        Ok(done) => done.map_err(|error| unavailable(&error)),
        Err(_) => Err(StoreError::Unavailable("the database does not answer".into())),
    }
}

async fn open(link: &Link) -> Result<Session<()>, Error> {
    let warned = Arc::new(AtomicBool::new(false));
    let client = match &link.tls {
        None => {
            let (client, connection) = link.config.connect(NoTls).await?;
            tokio::spawn(drive(connection, Arc::clone(&warned)));
            client
        }
        Some(tls) => {
            let (client, connection) = link.config.connect(tls.clone()).await?;
            tokio::spawn(drive(connection, Arc::clone(&warned)));
            client
        }
    };
    client.batch_execute(MANNERS).await?;
    Ok(Session { client, says: (), warned })
}

/// Moves what goes over a connection until it ends. A warning is noted before the answer that
/// follows it is given.
async fn drive<S, T>(mut connection: Connection<S, T>, warned: Arc<AtomicBool>)
where
    S: AsyncRead + AsyncWrite + Unpin,
    T: AsyncRead + AsyncWrite + Unpin,
{
    while let Some(Ok(message)) = poll_fn(|context| connection.poll_message(context)).await {
        if let AsyncMessage::Notice(notice) = message {
            warned.store(true, Ordering::SeqCst);
            tracing::warn!(code = notice.code().code(), why = notice.message(), "store.notice");
        }
    }
}

/// What the server or the way to it said, without any value.
pub(super) fn in_words(error: &Error) -> String {
    match error.as_db_error() {
        Some(said) => format!("{} ({})", said.message(), said.code().code()),
        None => {
            let cause = std::error::Error::source(error).map(ToString::to_string);
            cause.unwrap_or_else(|| error.to_string())
        }
    }
}

/// The error of a read, or of what was surely not written.
pub(super) fn unavailable(error: &Error) -> StoreError {
    StoreError::Unavailable(in_words(error))
}
