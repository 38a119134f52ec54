//! Opening: the folder's lock, the mark of the last end, the examination after
//! an unclean one, the layout version, the lost tail.
//!
//! The engine repairs its log as it opens it, cutting off what it cannot read.
//! After an unclean end that could be damage, and the repair would destroy what
//! a person might still save. So the first look is taken at a copy: opened,
//! every value read and checked, the sequence number compared with the newest
//! acknowledged one. Only when the copy proves sound is the original opened.

use std::{
    fs::{self, File, TryLockError},
    io,
    path::{Path, PathBuf},
    sync::{Arc, Mutex, OnceLock, mpsc},
    thread,
};

use tokio::sync::RwLock;

use super::{
    Core, EmbeddedStore, LastHandle, SCHEMA, Slot, StoreConfig, committer,
    engine::{Engine, EngineError, Walked},
    marks::{AckFile, ClosedMark},
    snapshot::Views,
};
use crate::store::{StoreError, files};

/// Room that must remain beside the copy that is examined, in bytes.
const PROBE_RESERVE_BYTES: u64 = 64 << 20;

/// Why a folder cannot be used at all.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// Another process has it open.
    #[error("{} is in use by another etui process; stop that one, or choose another folder with --data", dir.display())]
    InUse {
        /// The data folder.
        dir: PathBuf,
    },
    /// A newer program wrote it.
    #[error("the data in {} have layout {found}; this program knows layouts up to {known}: use the newer program", dir.display())]
    Newer {
        /// The data folder.
        dir: PathBuf,
        /// Its layout version.
        found: u32,
        /// The newest that this program knows.
        known: u32,
    },
    /// The file system refuses.
    #[error("cannot use {}", dir.display())]
    Io {
        /// The data folder.
        dir: PathBuf,
        /// What it said.
        #[source]
        source: io::Error,
    },
}

/// What the last process left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PreviousEnd {
    /// Nothing: the store was made just now.
    None,
    /// It closed the store.
    Orderly,
    /// It was killed, or the power went.
    Unclean,
}

/// What the examination after an unclean end looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Probe {
    /// Whether it was a copy; without room for one the original is opened at once.
    pub on_copy: bool,
    /// Records read and checked.
    pub records: u64,
    /// Their bytes, keys and values.
    pub bytes: u64,
}

/// What was found at opening.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenReport {
    /// How the last process ended.
    pub previous_end: PreviousEnd,
    /// The examination after an unclean end.
    pub probe: Option<Probe>,
    /// Sequence number of the newest batch; 0 when damaged.
    pub sequence: u64,
    /// What is damaged and what to do; `None` when the store is in order.
    pub damage: Option<String>,
}

/// Says what to do about damage.
pub(super) fn advice(why: &str) -> String {
    format!(
        "{why}; nothing will be written: keep this folder and restore the newest backup into a \
         new one (`etui restore --from BACKUP --data NEW-FOLDER --studio-key OLD-FOLDER/studio-key`)"
    )
}

pub(super) fn open(config: StoreConfig) -> Result<(EmbeddedStore, OpenReport), OpenError> {
    let dir = config.dir.clone();
    let io = |source| OpenError::Io { dir: dir.clone(), source };
    let lock = lock(&dir)?;
    let ack = AckFile::open(&dir).map_err(io)?;
    let mut report =
        OpenReport { previous_end: PreviousEnd::None, probe: None, sequence: 0, damage: None };
    let slot = match find(&config, &mut report) {
        Ok(engine) => Slot::Open(Box::new(engine)),
        Err(Stop::Refuse(error)) => return Err(error),
        Err(Stop::Damaged(why)) => {
            let why = advice(&why);
            report.damage = Some(why.clone());
            Slot::Shut(StoreError::Damaged(why))
        }
    };
    Ok((start(config, slot, report.sequence, ack, lock).map_err(io)?, report))
}

/// Opens the engine again in the running process; the log is not damaged, an operation failed.
pub(super) fn reopen(config: &StoreConfig) -> Result<(Engine, u64), EngineError> {
    let engine = Engine::open(&config.engine_dir(), config)?;
    let checked = check_tail(config, &engine);
    match checked {
        Ok(sequence) => Ok((engine, sequence)),
        Err(error) => {
            engine.release();
            Err(error)
        }
    }
}

enum Stop {
    Refuse(OpenError),
    Damaged(String),
}

/// Makes a data folder if it is not there, and keeps other processes out of it for as long as the
/// file is held.
///
/// # Errors
/// [`OpenError::InUse`], [`OpenError::Io`].
pub fn lock(dir: &Path) -> Result<File, OpenError> {
    let io = |source| OpenError::Io { dir: dir.to_path_buf(), source };
    files::create_private_dir(dir).map_err(io)?;
    let file = files::open_private(&dir.join("lock")).map_err(io)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(OpenError::InUse { dir: dir.to_path_buf() }),
        Err(TryLockError::Error(error)) => Err(io(error)),
    }
}

/// Finds the engine's files in order and opens them.
fn find(config: &StoreConfig, report: &mut OpenReport) -> Result<Engine, Stop> {
    let io = |source| Stop::Refuse(OpenError::Io { dir: config.dir.clone(), source });
    let engine_dir = config.engine_dir();
    // An unreadable mark counts as none: the store is then examined.
    let mark = ClosedMark::read(&config.dir).unwrap_or(None);
    if !engine_dir.join("db").exists() {
        return make(config, mark.is_some());
    }
    match &mark {
        Some(mark) => {
            report.previous_end = PreviousEnd::Orderly;
            check_schema(config, mark.schema)?;
            if let Some(path) = mark.changed_file(&engine_dir).map_err(io)? {
                let path = path.display();
                return Err(Stop::Damaged(format!("file store/{path} changed while closed")));
            }
        }
        None => {
            report.previous_end = PreviousEnd::Unclean;
            report.probe = probe_copy(config)?;
        }
    }
    files::remove(&ClosedMark::path(&config.dir)).map_err(io)?;
    let engine = Engine::open(&engine_dir, config).map_err(|e| stop(config, e))?;
    let checked = check(config, &engine, report);
    if let Err(stop) = checked {
        engine.release();
        return Err(stop);
    }
    files::make_private(&engine_dir).map_err(io)?;
    Ok(engine)
}

fn check(config: &StoreConfig, engine: &Engine, report: &mut OpenReport) -> Result<(), Stop> {
    let failed = |error| stop(config, error);
    check_schema(config, engine.schema().map_err(failed)?)?;
    report.sequence = check_tail(config, engine).map_err(failed)?;
    if report.previous_end == PreviousEnd::Unclean && report.probe.is_none() {
        let Walked { records, bytes } = engine.walk().map_err(failed)?;
        report.probe = Some(Probe { on_copy: false, records, bytes });
    }
    Ok(())
}

/// Makes a new store, unless there was one before.
fn make(config: &StoreConfig, was_closed: bool) -> Result<Engine, Stop> {
    let io = |source| Stop::Refuse(OpenError::Io { dir: config.dir.clone(), source });
    if was_closed || 0 < AckFile::read(&config.dir).map_err(io)? {
        return Err(Stop::Damaged("the log file store/db is missing".into()));
    }
    let failed = |error| stop(config, error);
    // Made under another name first: a start that is cut short leaves nothing half made behind.
    let young = config.dir.join("store.new");
    if young.exists() {
        fs::remove_dir_all(&young).map_err(io)?;
    }
    files::create_private_dir(&young).map_err(io)?;
    let engine = Engine::open(&young, config).map_err(failed)?;
    let written = engine.write_schema();
    engine.release();
    written.map_err(failed)?;
    let engine_dir = config.engine_dir();
    sync_all(&young).and_then(|()| fs::rename(&young, &engine_dir)).map_err(io)?;
    files::sync_dir(&config.dir).map_err(io)?;
    let engine = Engine::open(&engine_dir, config).map_err(failed)?;
    files::make_private(&engine_dir).map_err(io)?;
    Ok(engine)
}

fn sync_all(dir: &Path) -> io::Result<()> {
    for (path, _) in files::walk(dir)? {
        File::open(path)?.sync_all()?;
    }
    files::sync_dir(dir)
}

/// Examines a copy; `None` when there is no room for one.
fn probe_copy(config: &StoreConfig) -> Result<Option<Probe>, Stop> {
    let io = |source| Stop::Refuse(OpenError::Io { dir: config.dir.clone(), source });
    let copy = config.dir.join("store.probe");
    if copy.exists() {
        fs::remove_dir_all(&copy).map_err(io)?;
    }
    let found = files::walk(&config.engine_dir()).map_err(io)?;
    let bytes: u64 = found.iter().map(|(_, bytes)| bytes).sum();
    if files::free_bytes(&config.dir).map_err(io)? < bytes + PROBE_RESERVE_BYTES {
        return Ok(None);
    }
    let probed = copy_files(&config.engine_dir(), &copy, &found)
        .map_err(EngineError::from)
        .and_then(|()| probe(config, &copy));
    fs::remove_dir_all(&copy).map_err(io)?;
    let Walked { records, bytes } = probed.map_err(|e| stop(config, e))?;
    Ok(Some(Probe { on_copy: true, records, bytes }))
}

fn probe(config: &StoreConfig, copy: &Path) -> Result<Walked, EngineError> {
    let engine = Engine::open(copy, config)?;
    let walked = check_tail(config, &engine).and_then(|_| engine.walk());
    engine.release();
    walked
}

fn copy_files(from: &Path, to: &Path, found: &[(PathBuf, u64)]) -> io::Result<()> {
    files::create_private_dir(to)?;
    for (path, _) in found {
        let target = to.join(path.strip_prefix(from).unwrap_or(path));
        if let Some(parent) = target.parent() {
            files::create_private_dir(parent)?;
        }
        fs::copy(path, target)?;
    }
    Ok(())
}

fn check_schema(config: &StoreConfig, found: u32) -> Result<(), Stop> {
    if SCHEMA < found {
        let dir = config.dir.clone();
        return Err(Stop::Refuse(OpenError::Newer { dir, found, known: SCHEMA }));
    }
    Ok(())
}

/// The engine cuts off what it cannot read at the end of its log and says nothing; the sequence
/// number tells.
fn check_tail(config: &StoreConfig, engine: &Engine) -> Result<u64, EngineError> {
    let sequence = engine.sequence()?;
    let acknowledged = AckFile::read(&config.dir)?;
    if sequence < acknowledged {
        let missing = acknowledged - sequence;
        return Err(EngineError::Damaged(format!(
            "the newest {missing} acknowledged batches are missing from the log (it ends at \
             {sequence}, {acknowledged} were acknowledged)"
        )));
    }
    Ok(sequence)
}

fn stop(config: &StoreConfig, error: EngineError) -> Stop {
    match error {
        EngineError::Damaged(why) => Stop::Damaged(why),
        EngineError::Failed(why) => {
            Stop::Refuse(OpenError::Io { dir: config.dir.clone(), source: io::Error::other(why) })
        }
    }
}

fn start(
    config: StoreConfig,
    slot: Slot,
    sequence: u64,
    ack: AckFile,
    lock: File,
) -> io::Result<EmbeddedStore> {
    let mut views = Views::default();
    views.next_instance(sequence);
    if let Slot::Shut(error) = &slot {
        views.state = Some(error.clone());
    }
    let damage = OnceLock::new();
    if let Slot::Shut(StoreError::Damaged(why)) = &slot {
        let _ = damage.set(why.clone());
    }
    let (sender, receiver) = mpsc::sync_channel(config.queue_len);
    let core = Arc::new(Core {
        config,
        slot: Arc::new(RwLock::new(slot)),
        views: Mutex::new(views),
        queue: Mutex::new(Some(sender)),
        damage,
        grown: tokio::sync::watch::Sender::new(0),
    });
    let thread_core = Arc::clone(&core);
    thread::Builder::new()
        .name("store-commit".into())
        .spawn(move || committer::run(&thread_core, &receiver, ack, lock))?;
    Ok(EmbeddedStore { last: Arc::new(LastHandle(Arc::clone(&core))), core })
}
