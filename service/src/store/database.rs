//! A database of the studio's own instead of the store in the data folder: where
//! it lies, and why it cannot be used. Known to every build; the engine itself
//! is there with the feature `postgres` only.

use std::{fmt, path::PathBuf};

/// The file in a data folder whose records lie in a database, which says in which. Without it a start
/// that forgets `--database` would begin an empty store beside the keys.
pub const NOTE: &str = "database";

/// Where a database lies, and what it takes to be let in.
#[derive(Debug, Clone)]
pub struct Database {
    /// Its address, `postgres://role@host/name`; never with a password.
    pub address: String,
    /// The role's password.
    pub password: Option<Password>,
    /// A file with the certificates (PEM) that its own must rest on; the system's if not given.
    pub root: Option<PathBuf>,
}

/// How a process comes to a database.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Entry {
    /// To have it for itself.
    Alone,
    /// To serve it, beside others if there are any.
    Beside,
}

/// A password; no log and no error shows it.
#[derive(Clone)]
pub struct Password(String);

impl Password {
    /// A password out of its text, without the end of the line that a file has.
    #[must_use]
    pub fn new(text: &str) -> Self {
        Self(text.trim_end_matches(['\n', '\r']).to_owned())
    }

    /// Its text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Password {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Password(…)")
    }
}

/// Why a database cannot be used. No variant holds a key, a value or a password.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DatabaseError {
    /// This program knows no database.
    #[error(
        "this program was built without the engine for `--database`; build it with \
         `cargo build --release -p etui-service --features postgres`"
    )]
    NotBuilt,
    /// An address that says nothing.
    #[error("the database's address cannot be used ({0}); wanted: postgres://role@host/name")]
    Address(String),
    /// A secret where others can see it.
    #[error(
        "the database's address holds a password; put it into a file \
         (`--database-password-file`) or into ETUI_DATABASE_PASSWORD"
    )]
    PasswordInAddress,
    /// Across a network without TLS.
    #[error("`{0}` is not this machine; take `sslmode=disable` out of the address")]
    Plain(String),
    /// The certificates to trust.
    #[error("the certificates that the database's own must rest on cannot be used: {0}")]
    Root(String),
    /// It does not answer, or does not let us in.
    #[error("the database cannot be reached: {0}")]
    Reach(String),
    /// No tables.
    #[error("the database holds no store yet; `etui init --database ADDRESS` makes one")]
    NoLayout,
    /// A newer program made it.
    #[error(
        "the database has layout {found}; this program knows layouts up to {known}: use the \
         newer program"
    )]
    Newer {
        /// Its layout.
        found: i32,
        /// The newest that this program knows.
        known: i32,
    },
    /// An older program made it.
    #[error(
        "the database has layout {found}, and this program works on {known}; run \
         `etui init --database ADDRESS` with the role that owns the tables"
    )]
    Older {
        /// Its layout.
        found: i32,
        /// The one this program works on.
        known: i32,
    },
    /// An import that was cut short.
    #[error("an import into this database was cut short; run it again into a new data folder")]
    Importing,
    /// Something is in it already.
    #[error("the database holds a store already; import goes into an empty one")]
    NotEmpty,
    /// Another process has it.
    #[error(
        "another etui process works on this database, and one of the two wants it for itself; stop \
         the other first"
    )]
    InUse,
    /// A data folder whose keys belong to another database.
    #[error(
        "{folder} belongs to another database than the one that was named: its own is {there}, and \
         this is {here}. Say the right one with --database, or name a new folder with --data. Where \
         this one has taken the place of the other on purpose (it was imported into, or restored), \
         remove the file `database` from the folder"
    )]
    OtherFolder {
        /// The folder.
        folder: String,
        /// Its database, without the role.
        there: String,
        /// The one that was named.
        here: String,
    },
    /// The file that says which database a folder belongs to.
    #[error("the file `database` of the data folder cannot be read or written: {0}")]
    Note(String),
    /// The server is not as it must be.
    #[error("the database's server cannot be used: {0}")]
    Server(String),
}
