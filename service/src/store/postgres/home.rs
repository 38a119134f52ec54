//! Which database a data folder belongs to.
//!
//! A database has a name of its own: drawn once, and a row of it. So one that moved to another
//! server, a standby that was promoted, and one that came out of `pg_dump` are what they were, and
//! an address says nothing. A data folder notes the name in its file [`NOTE`], beside words that tell
//! people which database that is. A folder that is pointed at another one by mistake is refused
//! before anything is written there: else a new studio would begin beside the keys of this one.
//!
//! What an import or a restore fills has a new name, and the folder that comes with it notes that one.

use std::{io::Write, path::Path};

use serde::{Deserialize, Serialize};
use tokio_postgres::{Config, config::Host};

use super::{
    PostgresStore, layout,
    session::{Session, in_words},
    settings::Link,
};
use crate::store::{
    Batch, Store, StoreError,
    database::{Database, DatabaseError, NOTE},
    files,
    shared::{NAME, SHARED},
};

/// What a folder notes of its database.
#[derive(Debug, Serialize, Deserialize)]
struct Note {
    /// The name that it has in itself.
    name: String,
    /// Where it lay, for people.
    place: String,
}

/// What a database is.
struct Found {
    /// Its name, once a folder was opened with it.
    name: Option<String>,
    /// One that it can be given.
    drawn: String,
    place: String,
}

/// Refuses a data folder that belongs to another database; changes nothing.
///
/// # Errors
/// [`DatabaseError::OtherFolder`], or why the database cannot be looked at.
pub async fn judge(database: &Database, folder: &Path) -> Result<(), DatabaseError> {
    let noted = files::read_if_there(&folder.join(NOTE)).map_err(|error| unkept(&error))?;
    let Some(noted) = noted else { return Ok(()) };
    let link = Link::new(database)?;
    let Found { name, place: here, .. } = found(&link).await?;
    let (is_same, there) = match serde_json::from_str::<Note>(&noted) {
        Ok(note) => (name.as_ref() == Some(&note.name), note.place),
        // Former builds noted the address.
        Err(_) => match noted.parse::<Config>() {
            Ok(former) => (is_same_place(&former, &link.config), place_of(&former)),
            Err(_) => (false, "one that its file `database` does not name".to_owned()),
        },
    };
    let folder = folder.display().to_string();
    if is_same { Ok(()) } else { Err(DatabaseError::OtherFolder { folder, there, here }) }
}

/// Notes in a data folder that it belongs to this database, which is given a name if it has none.
pub(super) async fn keep(store: &PostgresStore, folder: &Path) -> Result<(), DatabaseError> {
    let failed = |error: StoreError| DatabaseError::Server(error.to_string());
    let link = &store.core.link;
    let mut here = found(link).await?;
    if here.name.is_none() {
        let batch = Batch::new().expect(SHARED, NAME, None).put(SHARED, NAME, here.drawn);
        match store.commit(batch).await {
            // Another process may have been faster.
            Ok(()) | Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(failed(error)),
        }
        here = found(link).await?;
    }
    let note = Note { name: here.name.unwrap_or_default(), place: here.place };
    let note = serde_json::to_vec(&note).map_err(|error| unkept(&error.into()))?;
    files::replace(&folder.join(NOTE), |file| file.write_all(&note)).map_err(|error| unkept(&error))
}

fn unkept(error: &std::io::Error) -> DatabaseError {
    DatabaseError::Note(error.to_string())
}

async fn found(link: &Link) -> Result<Found, DatabaseError> {
    let (Session { client, .. }, _) = layout::look_only(link).await?;
    let failed = |error: tokio_postgres::Error| DatabaseError::Server(in_words(&error));
    let asked = "
        SELECT (SELECT convert_from(value, 'UTF8') FROM kv WHERE space = $1 AND key = $2),
               gen_random_uuid()::text, current_schema()::text";
    let row = client.query_one(asked, &[&SHARED.name(), &NAME]).await.map_err(failed)?;
    let schema: String = row.try_get(2).map_err(failed)?;
    Ok(Found {
        name: row.try_get(0).map_err(failed)?,
        drawn: row.try_get(1).map_err(failed)?,
        place: format!("{}, schema `{schema}`", place_of(&link.config)),
    })
}

/// A database and its servers in words, without the role.
fn place_of(config: &Config) -> String {
    let ports = config.get_ports();
    let server = |(at, host): (usize, &Host)| {
        let port = ports.get(at).or(ports.first()).filter(|port| **port != 5432);
        let port = port.map_or(String::new(), |port| format!(":{port}"));
        match host {
            Host::Tcp(name) => format!("{name}{port}"),
            Host::Unix(path) => format!("{}{port}", path.display()),
        }
    };
    let servers: Vec<String> = config.get_hosts().iter().enumerate().map(server).collect();
    format!("`{}` on {}", config.get_dbname().unwrap_or_default(), servers.join(", "))
}

/// Whether two addresses lead to the same place, whichever role goes there.
fn is_same_place(one: &Config, other: &Config) -> bool {
    let place = |of: &Config| (place_of(of), of.get_options().map(str::to_owned));
    place(one) == place(other)
}
