//! The tables: made by `etui init`, looked at before anything is served.

use tokio_postgres::Client;

use super::session::{Session, bare, in_words};
use super::settings::Link;
use crate::store::database::{Database, DatabaseError};

/// The layouts, oldest first. `init` brings a database to the newest in one transaction.
///
/// `kv` has the rows of all spaces; its order is that of bytes, whatever the server's language is.
/// `turn` is locked by whoever writes and never changed. `journal` has one row for each group of
/// batches and is never changed: heads in a row that is updated would leave a dead version with
/// every commit, and each look would walk over all that some long view keeps from being cleared.
const LAYOUTS: [&str; 1] = ["
    CREATE TABLE kv (
        space text COLLATE \"C\" NOT NULL, key bytea NOT NULL, value bytea NOT NULL,
        PRIMARY KEY (space, key));
    CREATE TABLE turn (one boolean PRIMARY KEY DEFAULT true CHECK (one));
    INSERT INTO turn VALUES (true);
    CREATE TABLE journal (
        seq bigint PRIMARY KEY, writer uuid NOT NULL, serial bigint NOT NULL,
        event bigint NOT NULL, audit bigint NOT NULL, hash text NOT NULL, UNIQUE (writer, serial));
    CREATE TABLE layout (version int NOT NULL, state text NOT NULL);
    INSERT INTO layout VALUES (1, 'empty');
"];
const NEWEST: i32 = 1;

/// No version of PostgreSQL before this is supported by its makers (14).
const OLDEST_SERVER: i32 = 140_000;

/// Makes the tables, or brings them up to date, and lets a role work with them.
///
/// # Errors
/// [`DatabaseError`]; then nothing has changed.
pub async fn init(database: &Database, service: Option<&str>) -> Result<i32, DatabaseError> {
    let link = Link::new(database)?;
    let Session { client, .. } = reach(&link).await?;
    // What could never be served is not prepared either.
    look(&client).await?;
    let failed = |error: tokio_postgres::Error| DatabaseError::Server(in_words(&error));
    if schema(&client).await?.is_none() {
        let why = "the role's `search_path` names no schema that is there";
        return Err(DatabaseError::Server(why.into()));
    }
    client.batch_execute("BEGIN").await.map_err(failed)?;
    // Two at once would both find nothing.
    let one = "SELECT pg_advisory_xact_lock(hashtextextended('etui init', 0))";
    client.batch_execute(one).await.map_err(failed)?;
    let found = version(&client).await?.unwrap_or(0);
    if NEWEST < found {
        return Err(DatabaseError::Newer { found, known: NEWEST });
    }
    for layout in LAYOUTS.iter().skip(usize::try_from(found).unwrap_or(usize::MAX)) {
        client.batch_execute(layout).await.map_err(failed)?;
    }
    if 0 < found {
        client.execute("UPDATE layout SET version = $1", &[&NEWEST]).await.map_err(failed)?;
    }
    if let Some(role) = service {
        client.batch_execute(&grants(role)).await.map_err(failed)?;
    }
    client.batch_execute("COMMIT").await.map_err(failed)?;
    Ok(found)
}

/// What the server's clock says, in seconds since 1970.
///
/// # Errors
/// [`DatabaseError`].
pub async fn server_time(database: &Database) -> Result<f64, DatabaseError> {
    let Session { client, .. } = reach(&Link::new(database)?).await?;
    let row = client.query_one("SELECT extract(epoch FROM clock_timestamp())::float8", &[]).await;
    row.and_then(|row| row.try_get(0)).map_err(|error| DatabaseError::Server(in_words(&error)))
}

/// What the role of the service needs, and no more: it cannot change the tables, nor the journal.
fn grants(role: &str) -> String {
    let role = format!("\"{}\"", role.replace('"', "\"\""));
    format!(
        "GRANT SELECT, INSERT, UPDATE, DELETE ON kv TO {role};
         GRANT SELECT, UPDATE ON turn, layout TO {role};
         GRANT SELECT, INSERT ON journal TO {role};"
    )
}

/// What was found of the server, in words and with whether a commit survives a power cut there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Server {
    pub(super) is_durable: bool,
    pub(super) says: String,
}

/// Looks at the server and its tables without changing anything; the connection that it did so on.
pub(super) async fn look_only(link: &Link) -> Result<(Session<()>, Server), DatabaseError> {
    let session = reach(link).await?;
    let server = look(&session.client).await?;
    match version(&session.client).await? {
        None => Err(DatabaseError::NoLayout),
        Some(found) if NEWEST < found => Err(DatabaseError::Newer { found, known: NEWEST }),
        Some(found) if found < NEWEST => Err(DatabaseError::Older { found, known: NEWEST }),
        Some(_) => Ok((session, server)),
    }
}

/// Marks what is done with the tables from now on; call it with the lock in hand. For an import
/// there must be nothing in them.
pub(super) async fn settle(link: &Link, for_import: bool) -> Result<(), DatabaseError> {
    let Session { client, .. } = reach(link).await?;
    let failed = |error: tokio_postgres::Error| DatabaseError::Server(in_words(&error));
    let row = client.query_one("SELECT state FROM layout", &[]).await.map_err(failed)?;
    let state: String = row.try_get(0).map_err(failed)?;
    match (state.as_str(), for_import) {
        ("ready", false) => Ok(()),
        ("empty", false) => mark(&client, "ready").await,
        (_, false) => Err(DatabaseError::Importing),
        ("ready", true) => Err(DatabaseError::NotEmpty),
        // One that was cut short is begun anew.
        (_, true) => {
            mark(&client, "importing").await?;
            client.batch_execute("TRUNCATE kv, journal").await.map_err(failed)
        }
    }
}

/// The import is done.
pub(super) async fn ready(link: &Link) -> Result<(), DatabaseError> {
    let Session { client, .. } = reach(link).await?;
    mark(&client, "ready").await
}

async fn mark(client: &Client, state: &str) -> Result<(), DatabaseError> {
    let marked = client.execute("UPDATE layout SET state = $1", &[&state]).await;
    marked.map(drop).map_err(|error| DatabaseError::Server(in_words(&error)))
}

async fn reach(link: &Link) -> Result<Session<()>, DatabaseError> {
    bare(link).await.map_err(|error| DatabaseError::Reach(error.to_string()))
}

async fn schema(client: &Client) -> Result<Option<String>, DatabaseError> {
    let row = client.query_one("SELECT current_schema()::text", &[]).await;
    row.and_then(|row| row.try_get(0)).map_err(|error| DatabaseError::Server(in_words(&error)))
}

async fn version(client: &Client) -> Result<Option<i32>, DatabaseError> {
    let failed = |error: tokio_postgres::Error| DatabaseError::Server(in_words(&error));
    let is_there = "SELECT to_regclass(quote_ident(current_schema()) || '.layout') IS NOT NULL";
    let row = client.query_one(is_there, &[]).await.map_err(failed)?;
    if !row.try_get::<_, bool>(0).map_err(failed)? {
        return Ok(None);
    }
    let row = client.query_one("SELECT version FROM layout", &[]).await.map_err(failed)?;
    row.try_get(0).map(Some).map_err(failed)
}

async fn look(client: &Client) -> Result<Server, DatabaseError> {
    let failed = |error: tokio_postgres::Error| DatabaseError::Server(in_words(&error));
    let settings = "
        SELECT current_setting('server_version_num')::int, current_setting('server_version'),
               current_setting('server_encoding'), current_setting('fsync'),
               current_setting('full_page_writes'), current_setting('synchronous_commit'),
               current_setting('data_checksums')";
    let row = client.query_one(settings, &[]).await.map_err(failed)?;
    let number: i32 = row.try_get(0).map_err(failed)?;
    let text = |at| row.try_get::<_, String>(at).map_err(failed);
    let (version, encoding) = (text(1)?, text(2)?);
    if number < OLDEST_SERVER {
        let why = format!("it is version {version}; wanted: 14 or newer");
        return Err(DatabaseError::Server(why));
    }
    if encoding != "UTF8" {
        let why = format!("its encoding is {encoding}; wanted: UTF8");
        return Err(DatabaseError::Server(why));
    }
    let (fsync, pages, commit, sums) = (text(3)?, text(4)?, text(5)?, text(6)?);
    let is_durable = fsync == "on" && pages == "on" && !["off", "local"].contains(&commit.as_str());
    let says = format!(
        "PostgreSQL {version}: fsync {fsync}, full_page_writes {pages}, synchronous_commit \
         {commit}, data_checksums {sums}"
    );
    Ok(Server { is_durable, says })
}
