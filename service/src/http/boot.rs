//! From settings to a running server: keys, store, craft, owner's token.

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use jiff::Timestamp;

use super::aside::reason_of;
use super::clock::{NoEntropy, Sources};
use super::server::{Server, StartError};
use super::tokens::Tokens;
use crate::config::{AfterRestore, Config};
use crate::events::target::Policy;
use crate::store::database::Entry;
use crate::store::erasure::{self, EraseError};
use crate::store::files;
use crate::store::keyring::{Keyring, KeyringError};
use crate::store::record::hex;
use crate::store::seal;
use crate::store::studio_key::StudioKeyError;
use crate::store::{OpenReport, Serve, Store, StoreConfig, StoreError, SyncPath};
use crate::studio::clock::Clock;
use crate::studio::common::{self, Differs};
use crate::studio::engine::{Engine, NoEngine};
use crate::studio::plugins::secret::{digest_of, text_of};
use crate::studio::watch::Watch;
use crate::studio::{Craft, CraftError, Studio, clock, lots, packs, reminders, restored, sweep};

/// Why the service did not start.
#[derive(Debug, thiserror::Error)]
pub enum BootError {
    /// Settings under which no backup would be kept.
    #[error(
        "`--backup-keep 0` with `--backup-keep-days 0` would keep no backup: say how many or for \
         how long, or make none with `--backup-every 0s`"
    )]
    NoBackupKept,
    /// Rule data that is not sound.
    #[error("the rule data is not sound")]
    Craft(#[from] CraftError),
    /// The store would not open.
    #[error(transparent)]
    Store(#[from] NoEngine),
    /// A setting that means nothing on a database.
    #[error("`{0}` means nothing with `--database`: the server sees to that; leave it out")]
    NotWithDatabase(&'static str),
    /// A key or token file.
    #[error("a file of the data folder cannot be used")]
    File(#[from] io::Error),
    /// A key file that does not hold a key.
    #[error("`{0}` does not hold what it should; restore it from a backup")]
    BadFile(&'static str),
    /// The studio's key.
    #[error("the studio's key cannot be used")]
    StudioKey(#[from] StudioKeyError),
    /// The keys of the clients.
    #[error("the key ring cannot be used")]
    Keyring(#[from] KeyringError),
    /// The records of the plug-ins.
    #[error("the plug-ins cannot be read: {0}")]
    Plugins(String),
    /// The thread that loads the rule data ended.
    #[error("the rule data could not be loaded")]
    Loading,
    /// An erasure that a crash left half done.
    #[error("an erasure that was begun cannot be finished")]
    Erasure(#[from] EraseError),
    /// The store would not be read.
    #[error("the store in the data folder cannot be read")]
    Read(#[source] StoreError),
    /// The index of packs.
    #[error("the packs in the store cannot be listed")]
    Packs,
    /// Reminders of an earlier version.
    #[error("the reminders in the store cannot be moved to where they lie now: {0}")]
    Reminders(String),
    /// Lots of an earlier version.
    #[error("the rows by which lots are looked up cannot be made: {0}")]
    Lots(String),
    /// What is to be done after a restore.
    #[error("the restored store cannot be made ready: {0}")]
    Restored(String),
    /// The newest moment on record.
    #[error("the audit trail cannot be read: {0}")]
    Clock(String),
    /// Another process serves the same studio with other settings.
    #[error(transparent)]
    Differs(#[from] Differs),
    /// What all processes of a studio have in common.
    #[error("what the processes of this studio have in common cannot be read or written: {0}")]
    Common(String),
    /// No random bytes.
    #[error("no key can be made")]
    Entropy(#[from] NoEntropy),
    /// The address.
    #[error("the server would not start")]
    Listen(#[from] StartError),
}

/// Name of the file with the owner's token.
pub const OWNER_TOKEN: &str = "owner-token";

/// Opens everything and binds the server.
///
/// # Errors
/// [`BootError`] names what is missing or unsound; nothing is half-started.
pub async fn boot(
    config: &Config,
    sources: Arc<dyn Sources>,
    sync_path: SyncPath,
) -> Result<(Server, Option<OpenReport>), BootError> {
    if config.backup.keeps_none() {
        return Err(BootError::NoBackupKept);
    }
    let (studio, report) = open_as(config, sources.as_ref(), sync_path, Entry::Beside).await?;
    let studio_key = studio.keyring.studio_key().name();
    if studio.engine.is_shared() {
        common::agree(&studio.engine, config, &studio_key).await?;
    }
    let tokens = Tokens::default();
    own(&tokens, (config, &studio.engine), sources.as_ref()).await?;
    // A damaged store answers too: that it is damaged, and the way back.
    if studio.engine.damaged().is_none() {
        tokens.load(&studio).await.map_err(|error| BootError::Plugins(format!("{error:?}")))?;
        if config.trust_clock {
            studio.clock.believe(sources.as_ref());
        }
        // Where others serve it already, they have done this, and go on doing it.
        if studio.engine.is_alone() {
            bring_up(config, &studio, sources.as_ref()).await?;
        }
        studio.engine.let_in().await.map_err(BootError::Read)?;
    }
    let settings = common::row(config, &studio_key);
    let settings = settings.map_err(|error| BootError::Common(reason_of(&error)))?;
    Ok((Server::bind(config, studio, (tokens, Some(settings)), sources)?, report))
}

/// What is done with a sound store before anything is answered.
async fn bring_up(
    config: &Config,
    studio: &Studio,
    sources: &dyn Sources,
) -> Result<(), BootError> {
    let moved = reminders::bring_up_to_date(studio).await;
    let moved = moved.map_err(|error| BootError::Reminders(reason_of(&error)))?;
    if 0 < moved {
        tracing::info!(moved, "reminders now lie in the order in which they are due");
    }
    let made = lots::bring_up_to_date(&studio.engine).await;
    let made = made.map_err(|error| BootError::Lots(reason_of(&error)))?;
    if 0 < made {
        tracing::info!(lots = made, "lots are now looked up by rows of their own");
    }
    let settled = restored::settle(studio, sources.now(), config.after_restore).await;
    if let Some(settled) = settled.map_err(|error| BootError::Restored(reason_of(&error)))? {
        let maybe_sent = settled.maybe_sent;
        let held = config.after_restore == AfterRestore::Hold;
        tracing::warn!(
            maybe_sent,
            held,
            "the first start after a restore; events are numbered anew"
        );
    }
    // What fell due while the service was off. A long backlog is gone on with at the first tick.
    if let Some(doubt) = studio.clock.look(sources) {
        tracing::warn!(reason = clock::in_words(&doubt), "the clock is in doubt");
    } else if let Err(error) = sweep::run(studio, sources.now(), sweep::MOST_BATCHES_AT_START).await
    {
        tracing::warn!(reason = reason_of(&error), "what is due cannot be looked for now");
    }
    Ok(())
}

/// Opens store and keys, loads the craft, and finishes what a crash left half
/// erased. No other process works with the store meanwhile.
///
/// # Errors
/// [`BootError`] names what is missing or unsound.
pub async fn open_studio(
    config: &Config,
    sources: &dyn Sources,
    sync_path: SyncPath,
) -> Result<(Studio, Option<OpenReport>), BootError> {
    open_as(config, sources, sync_path, Entry::Alone).await
}

async fn open_as(
    config: &Config,
    sources: &dyn Sources,
    sync_path: SyncPath,
    entry: Entry,
) -> Result<(Studio, Option<OpenReport>), BootError> {
    // The rule data is read while the store opens: the one works, the other waits for the disk.
    let address = config.german;
    let loading = std::thread::spawn(move || Craft::load(address));
    let mut settings = StoreConfig::new(&config.data);
    if let Some(mb) = config.min_free_mb {
        settings.min_free_bytes = mb << 20;
    }
    let database = config.database.find()?;
    if database.is_some() && config.min_free_mb.is_some() {
        return Err(BootError::NotWithDatabase("--min-free-mb"));
    }
    let (engine, report) = Engine::open(settings, database.as_ref(), entry).await?;
    let backups = config.backups.clone().unwrap_or_else(|| config.data.join("backups"));
    let mut entropy = |bytes: &mut [u8]| sources.fill(bytes).map_err(|_| seal::NoEntropy);
    let given = config.studio_key.as_deref();
    let keyring = Keyring::find(&engine, &config.data, given, &mut entropy).await?;
    let builtin = Arc::new(loading.join().map_err(|_| BootError::Loading)??);
    let clock = Arc::new(Clock::default());
    let craft = if engine.damaged().is_some() {
        Arc::clone(&builtin)
    } else {
        erasure::settle(&engine, &keyring, &backups, &mut entropy).await?;
        if engine.is_shared() {
            keyring.move_into(&engine, &mut entropy).await?;
        }
        clock.begin(sources, newest(&engine).await?);
        packed(&builtin, &engine).await?
    };
    let studio = Studio {
        craft,
        builtin,
        engine,
        folder: config.data.clone(),
        clock,
        zone: config.zone.clone(),
        country: config.country,
        here: None,
        language: config.language,
        german: config.german,
        event_source: event_source(config, &keyring),
        index_key: keyring.index_key(),
        cursor_key: keyring.cursor_key(),
        keyring: Arc::new(keyring),
        watch: Watch::new(backups.clone(), config.backup.clone()),
        backups,
        keep: config.keep.clone(),
        sync_path,
        targets: Policy { allow_private: config.allow_private_targets },
    };
    Ok((studio, report))
}

/// What the events say they come from. It follows from the studio's secret, so that it
/// stays after a restore and in another engine, and no two studios share it.
fn event_source(config: &Config, keyring: &Keyring) -> Arc<str> {
    let own = || {
        let hash = keyring.index_key().hash("event-source", &[]);
        format!("/studios/{}", hex(&hash[..8]))
    };
    config.event_source.clone().unwrap_or_else(own).into()
}

/// The newest moment that the store knows.
async fn newest(engine: &Engine) -> Result<Option<Timestamp>, BootError> {
    let mut snap = engine.snapshot().await.map_err(BootError::Read)?;
    clock::newest(&mut snap).await.map_err(|error| BootError::Clock(reason_of(&error)))
}

/// The craft with the packs that are kept. One that is damaged or no longer
/// sound is left out and named: it must not keep the studio from working.
async fn packed(builtin: &Arc<Craft>, engine: &Engine) -> Result<Arc<Craft>, BootError> {
    let mut snap = engine.snapshot().await.map_err(BootError::Read)?;
    let kept = packs::load_all(&mut snap).await.map_err(|_| BootError::Packs)?;
    if kept.is_empty() {
        // A second one would hold some megabytes for nothing.
        return Ok(Arc::clone(builtin));
    }
    let craft = packs::with_packs(builtin, &kept);
    for pack in craft.packs.iter().filter(|pack| !pack.faults.is_empty()) {
        let first = pack.faults.first().map(|f| format!("{}: {}", f.pointer, f.message));
        tracing::warn!(
            pack.kind = %pack.kind,
            pack.name = %pack.name,
            faults = pack.faults.len(),
            reason = first.unwrap_or_default(),
            "a pack is not sound and is not applied"
        );
    }
    Ok(Arc::new(craft))
}

/// Makes the owner known: the token lies in a file that only the owner of the data folder can
/// read. Whoever loses it deletes the file and starts again. Where several processes serve one
/// store it knows the token by its digest, and no process needs the file of another
/// ([`common::owner`] says more).
async fn own(
    tokens: &Tokens,
    (config, engine): (&Config, &Engine),
    sources: &dyn Sources,
) -> Result<(), BootError> {
    let path = config.data.join(OWNER_TOKEN);
    let found = token_in(&path)?;
    if !engine.is_shared() {
        let text = match found {
            Some(text) if !config.new_owner_token => text,
            Some(_) | None => made(&path, sources)?,
        };
        tokens.own(digest_of(&text));
        return Ok(());
    }
    let unreadable = |error| BootError::Common(reason_of(&error));
    let mut snap = engine.snapshot().await.map_err(BootError::Read)?;
    let known = common::owner(&mut snap).await.map_err(unreadable)?;
    drop(snap);
    let digest = match (known, found) {
        (Some(known), found) if !config.new_owner_token => {
            if found.is_some_and(|text| digest_of(&text) != known) {
                tracing::warn!("the file `owner-token` holds a former token, which opens nothing");
            }
            known
        }
        // The first process there is, in a folder that had a token before.
        (None, Some(text)) if !config.new_owner_token => {
            common::set_owner(engine, digest_of(&text)).await.map_err(unreadable)?
        }
        _ => {
            let text = made(&path, sources)?;
            common::set_owner(engine, digest_of(&text)).await.map_err(unreadable)?
        }
    };
    tokens.own(digest);
    Ok(())
}

/// The token in a file, if there is one.
fn token_in(path: &Path) -> Result<Option<String>, BootError> {
    let bad = || BootError::BadFile(OWNER_TOKEN);
    let Some(bytes) = read_if_there(path)? else { return Ok(None) };
    files::make_file_private(path)?;
    let text = String::from_utf8(bytes).map_err(|_| bad())?;
    let text = text.trim();
    if text.len() < 40 { Err(bad()) } else { Ok(Some(text.to_owned())) }
}

/// A new token, in the file.
fn made(path: &Path, sources: &dyn Sources) -> Result<String, BootError> {
    let mut secret = [0; 32];
    sources.fill(&mut secret)?;
    let text = text_of(&secret);
    files::replace_secret(path, text.as_bytes())?;
    Ok(text)
}

fn read_if_there(path: &Path) -> io::Result<Option<Vec<u8>>> {
    match fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(error),
    }
}
