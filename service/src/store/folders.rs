//! The folders that hold dated backups of a store which several processes serve.
//!
//! Each process keeps its backups in a folder of its own, and no other touches it.
//! So that an erasure reaches the keys beside all of them, a folder is entered into
//! a list before it holds its first backup. Every erasure leaves one row a folder,
//! and the process that has the folder works its rows off, at its start and while it
//! runs. Until then the receipt says which folders have not heard of it.
//!
//! A folder has a name that is its own: a copy of it, made by whoever copies a data
//! folder to begin another process, is another folder, which begins by hearing of
//! every erasure that ever was.

use std::{
    collections::BTreeMap,
    fs, io,
    os::unix::fs::MetadataExt,
    path::{Path, PathBuf},
};

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use super::{
    Batch, Bytes, Order, Read, Store, StoreError,
    backup::{self, BackupError, Forgot},
    files, key,
    keyring::Keyring,
    receipts::{ERASURES, Receipt},
    record::{self, Record, RecordError, hex},
    seal::{Entropy, draw},
    shared::{FOLDERS, RING, SHARED},
};

/// The file in a folder of backups from which its name follows.
const FILE: &str = "folder";
/// How many rows go into one batch.
const BATCH_ROWS: usize = 500;
/// How often a row is written anew because another process changed it.
const MOST_TRIES: usize = 50;

/// The folders: where each lies, by its name.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Folders {
    paths: BTreeMap<String, String>,
}

impl Record for Folders {
    const KIND: &'static str = "backup_folders";
}

impl Folders {
    /// Reads the row; without one there are none.
    pub(super) fn read(row: Option<&[u8]>) -> Result<Self, RecordError> {
        row.map_or_else(|| Ok(Self::default()), record::decode)
    }

    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.paths.keys().map(String::as_str)
    }

    /// What each is called in a receipt.
    pub(super) fn labels(&self) -> Vec<String> {
        self.paths.iter().map(|(name, path)| label(name, path)).collect()
    }
}

fn label(name: &str, path: &str) -> String {
    format!("{path} ({name})")
}

/// The row by which a folder hears of an erasure.
pub(super) fn row(name: &str, receipt: &str) -> Bytes {
    format!("forget/{name}/{receipt}").into_bytes()
}

/// The name of a folder, if it has one; `None` for one that was never entered.
fn name_of(folder: &Path) -> io::Result<Option<String>> {
    let Some(drawn) = files::read_if_there(&folder.join(FILE))? else { return Ok(None) };
    // A copy has another place on the disk. The disk's own number may be another after each boot.
    let place = fs::metadata(folder)?.ino().to_be_bytes();
    let own = Sha256::new().chain_update(drawn.trim()).chain_update(place).finalize();
    Ok(Some(hex(&own[..8])))
}

/// Enters a folder into the list, if the key ring lies in the store and it is not there yet; from
/// then on it hears of every erasure, and first of all that ever were. Call it with `changing` held.
///
/// # Errors
/// Any [`BackupError`].
pub(super) async fn enter<S: Store>(
    store: &S,
    keyring: &Keyring,
    folder: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<(), BackupError> {
    if !keyring.is_in_store() {
        return Ok(());
    }
    files::create_private_dir(folder)?;
    if name_of(folder)?.is_none() {
        files::replace_secret(&folder.join(FILE), hex(&draw::<16>(entropy)?).as_bytes())?;
    }
    let Some(name) = name_of(folder)? else { return Ok(()) };
    for _ in 0..MOST_TRIES {
        let mut snap = store.snapshot().await?;
        let held = snap.get(SHARED, FOLDERS).await?;
        let ring = snap.get(SHARED, RING).await?;
        let mut folders = Folders::read(held.as_deref())?;
        if folders.paths.contains_key(&name) {
            return Ok(());
        }
        let all = snap.scan(ERASURES, vec![]..vec![], Order::Ascending, usize::MAX).await?;
        drop(snap);
        // The rows first: once it stands in the list it is told of what comes after. An erasure in
        // between changes the ring.
        for some in all.chunks(BATCH_ROWS) {
            let told = some.iter().fold(Batch::new(), |batch, (id, _)| {
                batch.put(SHARED, row(&name, &String::from_utf8_lossy(id)), *b"1")
            });
            store.commit(told).await?;
        }
        let path = folder.canonicalize().unwrap_or_else(|_| PathBuf::from(folder));
        folders.paths.insert(name.clone(), path.display().to_string());
        let entered = record::encode(&folders)?;
        let batch = Batch::new()
            .expect(SHARED, FOLDERS, held)
            .expect(SHARED, RING, ring)
            .put(SHARED, FOLDERS, entered);
        match store.commit(batch).await {
            Ok(()) => return work_off(store, keyring, folder, entropy).await,
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Err(StoreError::Unavailable("others keep changing the list of folders".into()).into())
}

/// Enters a folder that was entered once, where the list has lost it. Call it with `changing` held.
///
/// # Errors
/// Any [`BackupError`].
pub(super) async fn enter_again<S: Store>(
    store: &S,
    keyring: &Keyring,
    folder: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<(), BackupError> {
    match name_of(folder)? {
        Some(_) => enter(store, keyring, folder, entropy).await,
        None => Ok(()),
    }
}

/// Takes the keys of everybody whom this folder has not heard of out of its backups, and says so on
/// the receipts. Call it with `changing` held.
///
/// # Errors
/// Any [`BackupError`]; what was not done is done by the next call.
pub(super) async fn work_off<S: Store>(
    store: &S,
    keyring: &Keyring,
    folder: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<(), BackupError> {
    let Some(name) = name_of(folder)?.filter(|_| keyring.is_in_store()) else { return Ok(()) };
    let mut snap = store.snapshot().await?;
    let range = key::prefix_range(&row(&name, ""));
    let rows = snap.scan(SHARED, range, Order::Ascending, usize::MAX).await?;
    if rows.is_empty() {
        return Ok(());
    }
    let mut receipts = Vec::new();
    for (at, _) in rows {
        let id = at.get(row(&name, "").len()..).unwrap_or_default();
        // One that cannot be read must not keep the others waiting.
        let stored = snap.get(ERASURES, id).await?;
        receipts.extend(stored.and_then(|bytes| record::decode::<Receipt>(&bytes).ok()));
    }
    let path = Folders::read(snap.get(SHARED, FOLDERS).await?.as_deref())?.paths.remove(&name);
    drop(snap);
    let label = label(&name, &path.unwrap_or_default());
    let all: Vec<&mut Receipt> = receipts.iter_mut().collect();
    let forgot = backup::forget(folder, &keyring.studio_key(), &all, entropy)?;
    for (receipt, forgot) in receipts.iter().zip(forgot) {
        tell(store, &receipt.id, (&name, &label), &forgot).await?;
    }
    Ok(())
}

/// Says on a receipt what a folder did.
async fn tell<S: Store>(
    store: &S,
    id: &str,
    (name, label): (&str, &str),
    forgot: &Forgot,
) -> Result<(), BackupError> {
    for _ in 0..MOST_TRIES {
        let held = store.snapshot().await?.get(ERASURES, id.as_bytes()).await?;
        let mut batch = Batch::new();
        if let Some(held) = held {
            let mut receipt: Receipt = record::decode(&held)?;
            let news = forgot.changed.iter().filter(|name| !receipt.backups.contains(name));
            let news: Vec<String> = news.cloned().collect();
            receipt.backups.extend(news);
            // A name without a folder is of a time when there was one folder.
            receipt.unreached.retain(|at| !at.starts_with(label) && at.contains('/'));
            receipt.unreached.extend(forgot.unreached.iter().map(|at| format!("{label}/{at}")));
            receipt.complete = receipt.unreached.is_empty();
            let told = record::encode(&receipt)?;
            batch = batch.expect(ERASURES, id, Some(held)).put(ERASURES, id, told);
        }
        if forgot.unreached.is_empty() {
            batch = batch.del(SHARED, row(name, id));
        }
        match store.commit(batch).await {
            Ok(()) => return Ok(()),
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Err(StoreError::Unavailable("others keep changing the same receipt".into()).into())
}
