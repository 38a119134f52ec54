//! Which store the studio runs on. Nothing else of the use cases and of HTTP
//! knows.

use std::ops::Range;
use std::path::{Path, PathBuf};

use prometheus_client::registry::Registry;
use tokio::sync::watch;

use crate::store::database::{Database, DatabaseError, Entry, NOTE};
use crate::store::dump::{self, ImportError, ImportReport, Target};
use crate::store::embedded::EmbeddedSnap;
use crate::store::keyring::KeyStorage;
use crate::store::seal::Entropy;
use crate::store::studio_key::StudioKey;
use crate::store::{
    Batch, Bytes, EmbeddedStore, Health, OpenError, OpenReport, Order, Read, Serve, Space, Store,
    StoreConfig, StoreError, SyncPath, Walk, backup, shared::Looked,
};
#[cfg(feature = "postgres")]
use crate::store::{
    embedded,
    postgres::{self, PostgresSnap, PostgresStore},
};

/// Why no store is there to work on.
#[derive(Debug, thiserror::Error)]
pub enum NoEngine {
    /// The store in the folder.
    #[error("the store in the data folder would not open")]
    Store(#[from] OpenError),
    /// The database.
    #[error(transparent)]
    Database(#[from] DatabaseError),
    /// Two stores for one set of keys.
    #[error(
        "{} holds a store of its own; move it with `etui export` and `etui import --database`, \
         or name a new folder with --data", .0.display()
    )]
    InFolder(PathBuf),
    /// No store where one was.
    #[error("the records of {} lie in a database; say which with --database", .0.display())]
    OnDatabase(PathBuf),
}

/// The store.
#[derive(Clone)]
pub enum Engine {
    /// In the data folder, for one machine.
    Embedded(EmbeddedStore),
    /// On a server that speaks PostgreSQL's protocol.
    #[cfg(feature = "postgres")]
    Postgres(PostgresStore),
}

/// A consistent view of it.
pub enum Snap {
    /// Of the store in the data folder.
    Embedded(EmbeddedSnap),
    /// Of the store on a server.
    #[cfg(feature = "postgres")]
    Postgres(Box<PostgresSnap>),
}

/// What a new data folder is filled from.
#[derive(Debug, Clone, Copy)]
pub enum Saved {
    /// An export.
    Export,
    /// A backup.
    Backup,
}

/// Fills a new data folder, and the database if the records are to lie in one.
///
/// # Errors
/// [`ImportError`].
pub async fn fill(
    from: (Saved, &Path),
    folder: &Path,
    database: Option<&Database>,
    studio: (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<ImportReport, ImportError> {
    match database {
        None => fill_from(from, folder, &StoreConfig::new(folder), studio, entropy).await,
        #[cfg(feature = "postgres")]
        Some(database) => fill_from(from, folder, database, studio, entropy).await,
        #[cfg(not(feature = "postgres"))]
        Some(_) => Err(DatabaseError::NotBuilt.into()),
    }
}

async fn fill_from<T: Target>(
    (saved, from): (Saved, &Path),
    folder: &Path,
    target: &T,
    studio: (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<ImportReport, ImportError> {
    match saved {
        Saved::Export => dump::import(from, folder, target, studio, entropy).await,
        Saved::Backup => backup::restore(from, folder, target, studio, entropy).await,
    }
}

/// The same question to whichever engine it is.
macro_rules! ask {
    ($kind:ident, $of:expr, $engine:ident => $question:expr) => {
        match $of {
            $kind::Embedded($engine) => $question,
            #[cfg(feature = "postgres")]
            $kind::Postgres($engine) => $question,
        }
    };
}

/// Takes the lock of a folder whose keys belong to a database. A store there lets go of it some moments
/// after its service has ended, so whoever comes next waits as it waits for the database itself.
#[cfg(feature = "postgres")]
async fn held(folder: &Path) -> Result<std::fs::File, OpenError> {
    for _ in 0..50 {
        match embedded::lock(folder) {
            Err(OpenError::InUse { .. }) => {
                tokio::time::sleep(std::time::Duration::from_millis(100)).await
            }
            held => return held,
        }
    }
    embedded::lock(folder)
}

impl Engine {
    /// Opens the store in a data folder, or in a database whose keys lie in that folder. Of the
    /// former it is told what was found.
    ///
    /// # Errors
    /// [`NoEngine`].
    pub async fn open(
        config: StoreConfig,
        database: Option<&Database>,
        entry: Entry,
    ) -> Result<(Self, Option<OpenReport>), NoEngine> {
        let Some(database) = database else {
            if config.dir.join(NOTE).exists() {
                return Err(NoEngine::OnDatabase(config.dir));
            }
            let (store, report) = EmbeddedStore::open(config)?;
            return Ok((Self::Embedded(store), Some(report)));
        };
        if config.dir.join("store").exists() {
            return Err(NoEngine::InFolder(config.dir));
        }
        Ok((Self::on(database, &config.dir, entry).await?, None))
    }

    #[cfg(feature = "postgres")]
    async fn on(database: &Database, folder: &Path, entry: Entry) -> Result<Self, NoEngine> {
        // As long as the lock is held, no other process works with what lies in this folder.
        let lock = held(folder).await?;
        postgres::judge_folder(database, folder).await?;
        let store = PostgresStore::open(database, Some(lock), entry).await?;
        store.keep_in(folder).await?;
        Ok(Self::Postgres(store))
    }

    #[cfg(not(feature = "postgres"))]
    async fn on(_database: &Database, _folder: &Path, _entry: Entry) -> Result<Self, NoEngine> {
        Err(DatabaseError::NotBuilt.into())
    }

    /// Whether a database can be what it is said to be, as far as its address tells.
    ///
    /// # Errors
    /// [`DatabaseError`].
    pub fn judge(database: &Database) -> Result<(), DatabaseError> {
        #[cfg(feature = "postgres")]
        {
            crate::store::postgres::judge(database)
        }
        #[cfg(not(feature = "postgres"))]
        {
            let _ = database;
            Err(DatabaseError::NotBuilt)
        }
    }

    /// What the clock of a database's server says, in seconds since 1970.
    ///
    /// # Errors
    /// [`DatabaseError`].
    pub async fn server_time(database: &Database) -> Result<f64, DatabaseError> {
        #[cfg(feature = "postgres")]
        {
            postgres::server_time(database).await
        }
        #[cfg(not(feature = "postgres"))]
        {
            let _ = database;
            Err(DatabaseError::NotBuilt)
        }
    }

    /// Makes the tables that a store in a database needs; answers the layout there was before.
    ///
    /// # Errors
    /// [`DatabaseError`].
    pub async fn init(database: &Database, service: Option<&str>) -> Result<i32, DatabaseError> {
        #[cfg(feature = "postgres")]
        {
            crate::store::postgres::init(database, service).await
        }
        #[cfg(not(feature = "postgres"))]
        {
            let _ = (database, service);
            Err(DatabaseError::NotBuilt)
        }
    }

    /// What is damaged and what to do, once damage was found; from then on nothing is served.
    #[must_use]
    pub fn damaged(&self) -> Option<&str> {
        match self {
            Self::Embedded(store) => store.damaged(),
            // It sees to its own files, and says so with each answer.
            #[cfg(feature = "postgres")]
            Self::Postgres(_) => None,
        }
    }

    /// Whether acknowledged writes survive a power cut, and why. `path` is what was done about it
    /// for files of our own.
    #[must_use]
    pub fn durability(&self, path: &SyncPath) -> (bool, String) {
        match self {
            Self::Embedded(_) => (path.is_durable(), path.to_string()),
            #[cfg(feature = "postgres")]
            Self::Postgres(store) => store.durability(),
        }
    }

    /// Has its own figures told with the others.
    pub fn register(&self, registry: &mut Registry) {
        match self {
            Self::Embedded(_) => {
                let _ = registry;
            }
            #[cfg(feature = "postgres")]
            Self::Postgres(store) => store.register(registry),
        }
    }
}

impl Store for Engine {
    type Snap = Snap;

    async fn commit(&self, batch: Batch) -> Result<(), StoreError> {
        ask!(Self, self, store => store.commit(batch).await)
    }

    async fn snapshot(&self) -> Result<Snap, StoreError> {
        match self {
            Self::Embedded(store) => store.snapshot().await.map(Snap::Embedded),
            #[cfg(feature = "postgres")]
            Self::Postgres(store) => store.snapshot().await.map(Box::new).map(Snap::Postgres),
        }
    }
}

impl Serve for Engine {
    fn health(&self) -> Health {
        ask!(Self, self, store => store.health())
    }

    fn grown(&self) -> watch::Receiver<u64> {
        ask!(Self, self, store => store.grown())
    }

    async fn close(&self) -> Result<(), StoreError> {
        ask!(Self, self, store => store.close().await)
    }

    fn is_shared(&self) -> bool {
        ask!(Self, self, store => store.is_shared())
    }

    async fn look(&self) -> Result<Option<Looked>, StoreError> {
        ask!(Self, self, store => store.look().await)
    }

    fn is_alone(&self) -> bool {
        ask!(Self, self, store => store.is_alone())
    }

    async fn let_in(&self) -> Result<(), StoreError> {
        ask!(Self, self, store => store.let_in().await)
    }

    fn leads(&self) -> bool {
        ask!(Self, self, store => store.leads())
    }

    async fn lead(&self) -> Self {
        match self {
            Self::Embedded(store) => Self::Embedded(store.lead().await),
            #[cfg(feature = "postgres")]
            Self::Postgres(store) => Self::Postgres(store.lead().await),
        }
    }

    async fn over(&self) {
        ask!(Self, self, store => store.over().await);
    }
}

impl Snap {
    /// How often it was read from: once for each question, however much it asked for.
    #[must_use]
    pub fn reads(&self) -> usize {
        ask!(Self, self, snap => snap.reads())
    }
}

impl Read for Snap {
    async fn get(&mut self, space: Space, key: &[u8]) -> Result<Option<Bytes>, StoreError> {
        ask!(Self, self, snap => snap.get(space, key).await)
    }

    async fn get_many(
        &mut self,
        space: Space,
        keys: &[Bytes],
    ) -> Result<Vec<Option<Bytes>>, StoreError> {
        ask!(Self, self, snap => snap.get_many(space, keys).await)
    }

    async fn scan(
        &mut self,
        space: Space,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        ask!(Self, self, snap => snap.scan(space, range, order, limit).await)
    }

    async fn scan_many(
        &mut self,
        space: Space,
        ranges: &[Range<Bytes>],
        order: Order,
        limit: usize,
    ) -> Result<Vec<Vec<(Bytes, Bytes)>>, StoreError> {
        ask!(Self, self, snap => snap.scan_many(space, ranges, order, limit).await)
    }
}

impl Walk for Snap {
    fn version(&self) -> u64 {
        ask!(Self, self, snap => snap.version())
    }

    async fn spaces(&mut self) -> Result<Vec<String>, StoreError> {
        ask!(Self, self, snap => snap.spaces().await)
    }

    async fn rows(&mut self) -> Result<u64, StoreError> {
        ask!(Self, self, snap => snap.rows().await)
    }

    async fn scan_named(
        &mut self,
        space: &str,
        range: Range<Bytes>,
        order: Order,
        limit: usize,
    ) -> Result<Vec<(Bytes, Bytes)>, StoreError> {
        ask!(Self, self, snap => snap.scan_named(space, range, order, limit).await)
    }
}
