//! Which engine the services of the tests run on: the store in their data folder,
//! or, with `ETUI_TEST_ENGINE=postgres` and the feature `postgres`, a database on
//! a server that the first of them starts. Each data folder has a schema of its
//! own there, so that whoever starts on it again finds what it left.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Mutex, OnceLock, PoisonError};

use etui_service::config::{Config, DatabaseConfig};
use etui_service::maintain::{self, Place};

use crate::database::Server;
use crate::running::ZONE;

/// Whether the services run on a database.
#[must_use]
pub fn is_postgres() -> bool {
    std::env::var("ETUI_TEST_ENGINE").is_ok_and(|engine| engine == "postgres")
}

/// The database that belongs to a data folder; none where its records lie in it.
///
/// # Panics
/// If a database is wanted and there is none.
#[must_use]
pub fn database(folder: &Path) -> DatabaseConfig {
    static SCHEMAS: OnceLock<Mutex<HashMap<PathBuf, String>>> = OnceLock::new();
    // One that was made by another build has its store in it.
    if !is_postgres() || folder.join("store").exists() {
        return DatabaseConfig::default();
    }
    let known = SCHEMAS.get_or_init(Mutex::default);
    let mut known = known.lock().unwrap_or_else(PoisonError::into_inner);
    // A folder that was lost takes its database with it.
    if !folder.exists() {
        known.remove(folder);
    }
    let address = known.entry(folder.to_owned()).or_insert_with(|| {
        let server = Server::shared().expect("ETUI_TEST_ENGINE=postgres, and no server here");
        let address = server.schema().1;
        prepare(DatabaseConfig { address: Some(address.clone()), ..DatabaseConfig::default() });
        address
    });
    DatabaseConfig { address: Some(address.clone()), ..DatabaseConfig::default() }
}

/// The program with arguments, on the database that belongs to the folder they name.
#[must_use]
pub fn command(program: &str, arguments: &[&str]) -> Command {
    let mut command = Command::new(program);
    command.args(arguments);
    let folder = arguments.iter().skip_while(|word| **word != "--data").nth(1);
    if let Some(address) = folder.and_then(|folder| database(Path::new(folder)).address) {
        command.env("ETUI_DATABASE", address);
    }
    command
}

/// Whether a test that looks into the files of the store has something to look into; says so if not.
#[must_use]
pub fn lies_in_folder(test: &str) -> bool {
    if is_postgres() {
        eprintln!("SKIPPED on a database: {test}");
    }
    !is_postgres()
}

/// What a command works on.
#[must_use]
pub fn place(folder: &Path) -> Place {
    Place { data: folder.to_owned(), database: database(folder) }
}

/// Makes the tables. On a thread of its own: the caller may be inside a runtime.
fn prepare(database: DatabaseConfig) {
    let made = std::thread::spawn(move || {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
        let made = runtime.expect("a runtime").block_on(maintain::init(&database, None));
        made.map(drop).map_err(|error| error.to_string())
    });
    made.join().expect("no panic").expect("the tables are made");
}

/// A service on a free loopback port with its data in a folder, and its records where they belong.
///
/// # Panics
/// If a database is wanted and there is none.
#[must_use]
pub fn settings(folder: &Path) -> Config {
    let mut config = Config::in_folder(folder.to_owned(), ZONE.parse().expect("a zone"));
    config.database = database(folder);
    if config.database.address.is_some() {
        config.min_free_mb = None;
    }
    config
}
