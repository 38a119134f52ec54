//! Dated backups, sealed.
//!
//! `etui-20260301T100000Z.backup` is an export ([`dump`]), sealed
//! under a key of its own that lies, with the clients' keys, in
//! `etui-20260301T100000Z.backup.keys`, itself sealed under the studio's key.
//! A restore needs both files and the studio's key. Erasing a client rewrites
//! the small file only ([`forget`]).
//!
//! A backup on the same disk guards against damage and mistakes, not against
//! the loss of the disk: copy both files elsewhere, and the `.keys` file again
//! after each erasure.

mod stream;

use std::{
    collections::BTreeSet,
    fs,
    io::{self, BufReader, BufWriter, Write},
    path::{Path, PathBuf},
};

use jiff::{SignedDuration, Timestamp, civil::DateTime, tz::TimeZone};

use super::{
    Serve, Store, StoreError,
    companion::{self, Companion},
    dump::{self, ExportError, ExportReport, ImportError, ImportReport, Target},
    files, folders,
    keyring::{KeyStorage, Keyring, KeyringError},
    progress::{self, Counted},
    receipts::Receipt,
    record::RecordError,
    seal::{Entropy, NoEntropy, draw},
    sealed_file::SealedFileError,
    studio_key::StudioKey,
};

/// The folder of the backups in the data folder.
pub const FOLDER: &str = "backups";

const PREFIX: &str = "etui-";
const ENDING: &str = ".backup";
const STAMP: &str = "%Y%m%dT%H%M%SZ";

/// Why a backup was not made, read or changed.
#[derive(Debug, thiserror::Error)]
pub enum BackupError {
    /// The file system refuses.
    #[error("the backup folder cannot be read or written")]
    Io(#[from] io::Error),
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The clients' keys.
    #[error(transparent)]
    Keyring(#[from] KeyringError),
    /// The file of keys beside a backup.
    #[error(transparent)]
    Keys(#[from] SealedFileError),
    /// A stored receipt, or the list of the folders.
    #[error(transparent)]
    Record(#[from] RecordError),
    /// No random bytes.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
}

impl From<ExportError> for BackupError {
    fn from(error: ExportError) -> Self {
        match error {
            ExportError::Io(error) => error.into(),
            ExportError::Store(error) => error.into(),
            ExportError::Keyring(error) => error.into(),
            ExportError::Keys(error) => error.into(),
        }
    }
}

/// A backup in the folder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Backup {
    /// Where it lies; its keys lie beside it.
    pub path: PathBuf,
    /// When it was made, to the second.
    pub at: Timestamp,
    /// Its size in bytes.
    pub bytes: u64,
}

/// How long backups are kept: whatever one of the two wants to keep stays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Retention {
    /// The newest so many, however old.
    pub keep_last: usize,
    /// All that are at most so old.
    pub keep_for: SignedDuration,
}

/// Makes a backup in `folder`, named after `now`.
///
/// # Errors
/// Any [`BackupError`]; then no backup is left behind.
pub async fn make<S: Serve>(
    store: &S,
    keyring: &Keyring,
    folder: &Path,
    now: Timestamp,
    entropy: &mut Entropy<'_>,
) -> Result<(Backup, ExportReport), BackupError> {
    files::create_private_dir(folder)?;
    let path = folder.join(format!("{PREFIX}{}{ENDING}", now.strftime(STAMP)));
    let key = draw(entropy)?;
    // One erasure at a time, and none while keys are copied out of the store.
    let _one = keyring.changing.lock().await;
    // Before its moment: whoever is erased after it must know of this folder.
    folders::enter(store, keyring, folder, entropy).await?;
    let mut snap = store.snapshot().await?;
    let keys = Companion::collect(&mut snap, keyring, Some(key)).await?;
    let temporary = path.with_extension("part");
    let written = async {
        let file = files::open_private(&temporary)?;
        file.set_len(0)?;
        let at = now.to_string();
        let mut out = stream::Writer::start(BufWriter::new(file), key, &at, entropy)?;
        let report = dump::write_rows(&mut snap, &at, &mut out).await?;
        let mut out = out.finish()?;
        out.flush()?;
        out.get_ref().sync_all()?;
        keys.write(&companion::path_of(&path), &keyring.studio_key(), entropy)?;
        fs::rename(&temporary, &path)?;
        files::sync_dir(folder)?;
        Ok::<_, BackupError>(report)
    }
    .await;
    if written.is_err() {
        let _ = fs::remove_file(&temporary);
    }
    let report = written?;
    let bytes = path.metadata()?.len();
    Ok((Backup { path, at: now, bytes }, report))
}

/// Restores a backup into a new data folder, and a store that has nothing in it yet.
///
/// # Errors
/// Any [`ImportError`]; nothing is left in the target folder.
pub async fn restore<T: Target>(
    path: &Path,
    folder: &Path,
    target: &T,
    studio: (StudioKey, KeyStorage),
    entropy: &mut Entropy<'_>,
) -> Result<ImportReport, ImportError> {
    let keys_path = companion::path_of(path);
    let keys =
        Companion::read(&keys_path, &studio.0)?.ok_or(ImportError::NoKeys { path: keys_path })?;
    let key =
        keys.stream_key().ok_or(ImportError::Form { why: "keys of another file", line: 1 })?;
    progress::expect_file(path, dump::PASSES)?;
    let open = || {
        let reader = stream::Reader::start(BufReader::new(Counted::open(path)?), key)?;
        Ok(BufReader::new(reader))
    };
    dump::load(open, &keys, (folder, target), studio, entropy).await
}

/// The backups in a folder, oldest first; other files are passed over.
///
/// # Errors
/// Any [`io::Error`] but `NotFound`: a folder that is not there holds none.
pub fn list(folder: &Path) -> io::Result<Vec<Backup>> {
    let entries = match files::entries(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        entries => entries?,
    };
    entries
        .into_iter()
        .filter_map(|path| Some((made_at(&path)?, path)))
        .map(|(at, path)| Ok(Backup { bytes: path.metadata()?.len(), path, at }))
        .collect()
}

/// Whether the newest backup is at least `every` old, or there is none.
///
/// # Errors
/// As [`list`].
pub fn is_due(folder: &Path, now: Timestamp, every: SignedDuration) -> io::Result<bool> {
    let newest = newest(&list(folder)?, now);
    Ok(newest.is_none_or(|at| every <= now.duration_since(at)))
}

/// When the newest of some backups was made. One that is dated in the future was made by a clock
/// that ran ahead: nobody knows when.
#[must_use]
pub fn newest(backups: &[Backup], now: Timestamp) -> Option<Timestamp> {
    backups.iter().map(|backup| backup.at).filter(|at| *at <= now).max()
}

/// The backups that `retention` does not keep, oldest first.
///
/// # Errors
/// As [`list`].
pub fn expired(folder: &Path, now: Timestamp, retention: Retention) -> io::Result<Vec<Backup>> {
    let mut backups = list(folder)?;
    // One that is dated in the future takes nobody's place.
    backups.retain(|backup| backup.at <= now);
    backups.truncate(backups.len().saturating_sub(retention.keep_last));
    backups.retain(|backup| retention.keep_for < now.duration_since(backup.at));
    Ok(backups)
}

/// Removes a backup and its keys.
///
/// # Errors
/// Any [`io::Error`].
pub fn remove(backup: &Backup) -> io::Result<()> {
    files::remove_secret(&companion::path_of(&backup.path))?;
    files::remove(&backup.path)
}

/// What [`forget`] reached for one client.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Forgot {
    /// File names of the backups that held the key.
    pub(super) changed: Vec<String>,
    /// File names of the backups whose keys could not be read or written.
    pub(super) unreached: Vec<String>,
}

/// Takes the keys of erased clients out of every backup in the folder; what that reached for each
/// of them. A backup whose keys cannot be read does not keep it from the others.
///
/// # Errors
/// [`BackupError::Io`] when the folder cannot be read.
pub(super) fn forget(
    folder: &Path,
    studio: &StudioKey,
    receipts: &[&mut Receipt],
    entropy: &mut Entropy<'_>,
) -> Result<Vec<Forgot>, BackupError> {
    let mut forgot = vec![Forgot::default(); receipts.len()];
    for backup in expected(folder)? {
        let held = forget_in(&companion::path_of(&backup.path), studio, receipts, entropy);
        for (n, forgot) in forgot.iter_mut().enumerate() {
            match &held {
                Ok(held) if held.contains(&n) => forgot.changed.push(name_of(&backup)),
                Ok(_) => {}
                Err(_) => forgot.unreached.push(name_of(&backup)),
            }
        }
    }
    Ok(forgot)
}

/// Takes the keys out of one file of keys; the places of those that were there.
fn forget_in(
    path: &Path,
    studio: &StudioKey,
    receipts: &[&mut Receipt],
    entropy: &mut Entropy<'_>,
) -> Result<BTreeSet<usize>, SealedFileError> {
    let Some(mut keys) = Companion::read(path, studio)? else { return Ok(BTreeSet::new()) };
    let held = receipts.iter().enumerate().filter(|(_, receipt)| keys.remove(receipt));
    let held: BTreeSet<usize> = held.map(|(n, _)| n).collect();
    if !held.is_empty() {
        keys.write(path, studio, entropy)?;
    }
    Ok(held)
}

/// Puts a new studio key in place of the old one: the key ring and the keys of every backup in the
/// folder are sealed anew, no record is touched. With the key in a file, the old one stays until
/// everything is under the new one. Answers the file names of backups whose keys open under neither.
///
/// # Errors
/// Any [`BackupError`]. The change may be under way then; [`finish_change`] goes on with it, or, with
/// a key that lies elsewhere, the same call with the same keys.
pub async fn change_studio_key<S: Store>(
    (store, keyring): (&S, &Keyring),
    folder: &Path,
    (old, new): (&StudioKey, &StudioKey),
    storage: KeyStorage,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<String>, BackupError> {
    if keyring.studio_key().name() != new.name() {
        keyring.begin_change(store, new.clone(), storage, entropy).await?;
    } else if storage == KeyStorage::File {
        // Another process has changed the ring they share: of this folder the rest is left.
        keyring.stage(new)?;
    }
    let unreached = rekey(folder, old, new, entropy)?;
    if storage == KeyStorage::File {
        keyring.end_change()?;
    }
    Ok(unreached)
}

/// Goes on with a change of the studio's key that was cut short; `None` if there is none.
///
/// # Errors
/// As [`change_studio_key`].
pub fn finish_change(
    keyring: &Keyring,
    folder: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<Option<Vec<String>>, BackupError> {
    let Some(old) = keyring.former()? else { return Ok(None) };
    let unreached = rekey(folder, &old, &keyring.studio_key(), entropy)?;
    keyring.end_change()?;
    Ok(Some(unreached))
}

/// Seals the keys of every backup in the folder under a new studio key; those that are under it
/// already are passed over.
fn rekey(
    folder: &Path,
    old: &StudioKey,
    new: &StudioKey,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<String>, BackupError> {
    let mut unreached = Vec::new();
    for backup in expected(folder)? {
        let path = companion::path_of(&backup.path);
        if Companion::read(&path, new).is_ok() {
            continue;
        }
        match Companion::read(&path, old) {
            Ok(Some(keys)) => keys.write(&path, new, entropy)?,
            Ok(None) => {}
            Err(_) => unreached.push(name_of(&backup)),
        }
    }
    Ok(unreached)
}

/// The backups of a folder, each of which is counted as it is gone through.
fn expected(folder: &Path) -> io::Result<impl Iterator<Item = Backup>> {
    let all = list(folder)?;
    progress::expect(all.len() as u64);
    Ok(all.into_iter().inspect(|_| progress::records(1)))
}

fn name_of(backup: &Backup) -> String {
    backup.path.file_name().unwrap_or_default().to_string_lossy().into_owned()
}

fn made_at(path: &Path) -> Option<Timestamp> {
    let name = path.file_name()?.to_str()?;
    let stamp = name.strip_prefix(PREFIX)?.strip_suffix(ENDING)?;
    let at = DateTime::strptime(STAMP, stamp).ok()?;
    TimeZone::UTC.to_timestamp(at).ok()
}
