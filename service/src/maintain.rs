//! What is done to a data folder while the service is stopped: export, import, restore,
//! verify, erase.

mod exposures;

use std::path::{Path, PathBuf};

use etui_schema::vocabulary::{Reference, Zone};
use serde_json::{Value, json};

use crate::config::{Config, DatabaseConfig};
use crate::http::aside::reason_of;
use crate::http::boot;
use crate::http::clock::{Sources, System};
use crate::store::backup;
use crate::store::database::Entry;
use crate::store::dump;
use crate::store::keyring::{KeyStorage, Keyring, KeyringError};
use crate::store::sealed_file::SealedFileError;
use crate::store::studio_key::StudioKey;
use crate::store::verify::{Finding, Indexed, VerifyReport, verify};
use crate::store::{Serve, Store, StoreConfig, Walk, progress, seal};
pub use crate::studio::engine::Saved;
use crate::studio::engine::{self, Engine};
use crate::studio::kinds::{keeps_in, kinds};
use crate::studio::moment::{Mandate, Moment};
use crate::studio::opener::Opener;
use crate::studio::plan::Precondition;
use crate::studio::{Error, branches, erasures, lots};

/// Why something could not be done.
type Failed = Box<dyn std::error::Error>;

fn entropy(bytes: &mut [u8]) -> Result<(), seal::NoEntropy> {
    System.fill(bytes).map_err(|_| seal::NoEntropy)
}

/// What a command works on: a data folder, and the database if the records lie in one.
#[derive(Debug, Clone)]
pub struct Place {
    /// The data folder.
    pub data: PathBuf,
    /// The database.
    pub database: DatabaseConfig,
}

impl<P: AsRef<Path> + ?Sized> From<&P> for Place {
    fn from(data: &P) -> Self {
        Self { data: data.as_ref().to_owned(), database: DatabaseConfig::default() }
    }
}

impl Place {
    /// The store, which must be there already. As long as it is open here, no service opens it.
    async fn store(&self) -> Result<Engine, Failed> {
        let database = self.database.find()?;
        if database.is_none() && !self.data.join("store").is_dir() {
            return Err(format!("{} holds no store", self.data.display()).into());
        }
        let opened =
            Engine::open(StoreConfig::new(&self.data), database.as_ref(), Entry::Alone).await;
        Ok(opened?.0)
    }

    async fn open(&self) -> Result<(Engine, Keyring), Failed> {
        let store = self.store().await?;
        let given = std::env::var("ETUI_STUDIO_KEY").ok();
        let keyring = Keyring::find(&store, &self.data, given.as_deref(), &mut entropy).await?;
        Ok((store, keyring))
    }
}

/// Makes the tables in a database, or brings them up to date; `service` is the role that may work
/// with them from then on.
///
/// # Errors
/// What the database refused.
pub async fn init(database: &DatabaseConfig, service: Option<&str>) -> Result<Value, Failed> {
    let database = database.find()?.ok_or("say --database ADDRESS (ETUI_DATABASE)")?;
    let before = Engine::init(&database, service).await?;
    Ok(json!({ "database": database.address, "layout_before": before, "may_work": service }))
}

/// Writes everything as JSON Lines with a digest, and the clients' keys beside
/// it, sealed under the studio's key.
///
/// # Errors
/// Whatever kept it from being whole; then there is no file of that name.
pub async fn export(from: impl Into<Place>, to: &Path) -> Result<Value, Failed> {
    if to.exists() {
        return Err(format!("{} is there already; name a file that is not", to.display()).into());
    }
    let (store, keyring) = from.into().open().await?;
    progress::expect(store.snapshot().await?.rows().await?);
    let at = System.now().to_string();
    let report = dump::export(&store, &keyring, to, &at, &mut entropy).await?;
    store.close().await?;
    Ok(json!({
        "file": to.display().to_string(),
        "records": report.records,
        "content_sha256": report.content_sha256,
        "sequence": report.sequence,
    }))
}

/// Fills a new folder from an export or a backup, under the studio's key it was
/// made with; with a database, its records into that.
///
/// # Errors
/// A file that is not whole, a folder or a database that is not empty, another key.
pub async fn fill(
    from: (Saved, &Path),
    to: impl Into<Place>,
    key_file: Option<&PathBuf>,
) -> Result<Value, Failed> {
    let (studio, Place { data, database }) = (studio_key(key_file)?, to.into());
    let database = database.find()?;
    let report = engine::fill(from, &data, database.as_ref(), studio, &mut entropy).await?;
    Ok(json!({
        "data": data.display().to_string(),
        "records": report.records,
        "content_sha256": report.content_sha256,
        "exported_at": report.exported_at,
        "client_keys": report.client_keys,
        "note": "the first start writes a new `owner-token`; the former one opens nothing here",
    }))
}

/// The studio's key out of a file or the environment.
fn studio_key(key_file: Option<&PathBuf>) -> Result<(StudioKey, KeyStorage), Failed> {
    let (text, storage) = match (key_file, std::env::var("ETUI_STUDIO_KEY")) {
        (Some(file), _) => (std::fs::read_to_string(file)?, KeyStorage::File),
        (None, Ok(text)) => (text, KeyStorage::Environment),
        (None, Err(_)) => {
            return Err(
                "say --studio-key FILE (the old folder's `studio-key`) or set ETUI_STUDIO_KEY"
                    .into(),
            );
        }
    };
    Ok((StudioKey::parse(&text)?, storage))
}

/// Walks every record, every index row, the audit chain and the clients' keys.
///
/// # Errors
/// A store that does not open or fails a checksum, or, with the report in its
/// text, one that is not sound.
pub async fn check(at: impl Into<Place>) -> Result<Value, Failed> {
    let (store, keyring) = at.into().open().await?;
    let mut snap = store.snapshot().await?;
    progress::expect(snap.rows().await?);
    let opener = Opener::new(&mut snap, &keyring).await?;
    // What an earlier version wrote last lacks rows until the next start.
    let is_former = !lots::former(&mut snap).await?.is_empty();
    drop(snap);
    let checkers = kinds().map(|kind| kind.checker(&opener)).collect();
    let indexes = kinds().flat_map(|kind| kind.indexes).map(|index| {
        let made_later = is_former && index.space() == lots::ALIKE.space();
        if made_later { Indexed::Part(index.space()) } else { *index }
    });
    let indexes: Vec<Indexed> = indexes.collect();
    let mut report = verify(&store, Some(&keyring), checkers, &indexes).await?;
    report.add(strange_spaces(&report));
    report.add(exposures::look(&mut store.snapshot().await?).await?);
    report.add(branches::strays(&mut store.snapshot().await?).await?);
    store.close().await?;
    let listed: Vec<Value> = report
        .listed
        .iter()
        .map(|finding| json!({ "space": finding.space, "key": finding.key, "what": finding.what }))
        .collect();
    let told = json!({
        "sound": report.is_sound(),
        "records": report.records,
        "sequence": report.sequence,
        "audit_links": report.audit_links,
        "findings": report.findings,
        "listed": listed,
    });
    if report.is_sound() { Ok(told) } else { Err(format!("the store is not sound: {told}").into()) }
}

/// What lies where this program keeps nothing: an export that was written by hand, or by a
/// program that is newer than this one.
fn strange_spaces(report: &VerifyReport) -> Vec<Finding> {
    let strange = report.records.keys().filter(|space| !keeps_in(space));
    strange
        .map(|space| Finding {
            space: space.clone(),
            key: String::new(),
            what: "nothing of this program lies in a space of that name".to_owned(),
        })
        .collect()
}

/// Puts a new studio key in place of the old one, over the key ring and the
/// keys of the backups. The new one is read from a file, or made if the old one
/// lies in the folder. A change that was cut short is finished instead.
///
/// # Errors
/// A service that runs on the folder; whatever kept it from being done.
pub async fn change_studio_key(
    at: impl Into<Place>,
    backups: Option<&PathBuf>,
    new_key: Option<&PathBuf>,
) -> Result<Value, Failed> {
    let at = at.into();
    let store = at.store().await?;
    let data = at.data.as_path();
    let folder = backups.cloned().unwrap_or_else(|| data.join(backup::FOLDER));
    let given = std::env::var("ETUI_STUDIO_KEY").ok();
    // A change that was cut short may have left the key ring under the new key.
    if !Keyring::is_there(&store, data).await? {
        return Err(KeyringError::Missing.into());
    }
    let told = new_key.map(std::fs::read_to_string).transpose()?;
    let keyring = match Keyring::find(&store, data, given.as_deref(), &mut entropy).await {
        Err(first) if told.is_some() => {
            let found = Keyring::find(&store, data, told.as_deref(), &mut entropy).await;
            found.map_err(|_| first)?
        }
        // Of processes that share a ring one has changed it.
        Err(KeyringError::File(first @ SealedFileError::OtherKey { .. })) if store.is_shared() => {
            return Err(format!("{first}; the one in force is said by --new-key FILE").into());
        }
        found => found?,
    };
    let old = StudioKey::find_or_make(data, given.as_deref(), &mut entropy)?;
    let storage = if given.is_some() { KeyStorage::Environment } else { KeyStorage::File };
    let new = match (told, storage) {
        (Some(new), _) => StudioKey::parse(&new)?,
        (None, KeyStorage::File) => StudioKey::new(seal::draw(&mut entropy)?),
        (None, KeyStorage::Environment) => {
            return Err("say --new-key FILE: what ETUI_STUDIO_KEY will be from then on".into());
        }
    };
    let unreached = match backup::finish_change(&keyring, &folder, &mut entropy)? {
        Some(unreached) => unreached,
        None => {
            let both = (&old, &new);
            backup::change_studio_key((&store, &keyring), &folder, both, storage, &mut entropy)
                .await?
        }
    };
    store.close().await?;
    Ok(json!({
        "studio_key": keyring.studio_key().name(),
        "before": old.name(),
        "not_reached": unreached,
        "note": "exports, and copies of backups made before, open under the former key only; \
                 keep a copy of the new key apart from the backups",
    }))
}

/// Forgets a client while the service is stopped.
///
/// # Errors
/// If nothing is kept of the client, or what kept it from being done.
pub async fn erase(
    at: impl Into<Place>,
    zone: Zone,
    client_ref: &Reference,
) -> Result<Value, Failed> {
    let Place { data, database } = at.into();
    let mut config = Config::in_folder(data, zone);
    if database.address.is_some() {
        config.min_free_mb = None;
    } else if !config.data.join("store").is_dir() {
        return Err(format!("{} holds no store", config.data.display()).into());
    }
    config.database = database;
    let sources = std::sync::Arc::new(System);
    let (studio, _) =
        boot::open_studio(&config, sources.as_ref(), crate::store::harden_sync()).await?;
    let now = sources.now();
    let moment = Moment {
        now,
        dated: now,
        today: studio.zone.rules().to_datetime(now).date(),
        holder: "command line".to_owned(),
        mandate: Mandate::default(),
        event_source: studio.event_source.clone(),
        sources,
    };
    let whatever = Precondition { if_match: Some("*".to_owned()), only_new: false };
    let receipt =
        erasures::erase(&studio, &moment, client_ref, &whatever, false).await.map_err(|error| {
            if matches!(error, Error::NotFound { .. }) {
                return format!("nothing is kept of a client `{client_ref}`");
            }
            format!("the client was not erased: {}", reason_of(&error))
        })?;
    studio.engine.close().await?;
    Ok(serde_json::to_value(&receipt)?)
}
