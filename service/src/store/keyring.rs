//! The key ring: which keys open the clients' keys.
//!
//! # Why two layers
//!
//! Each client has a data key. It lies in the store, wrapped, and is written in
//! the same batch as the client. But the engine's log keeps old bytes until
//! their segment is used again, and backups keep them longer: deleting the
//! wrapped key destroys nothing. So it is wrapped under a *bucket key*, and the
//! bucket keys lie outside the log, in the small file `keyring`, itself sealed
//! under the studio's key. Clients fall into 256 buckets.
//!
//! To erase a client the bucket gets a new key, the other clients of the bucket
//! are wrapped anew, and the old bucket key is destroyed by rewriting the file.
//! From then on no copy of the erased client's wrapped key, wherever it may
//! lie, can be opened by anybody, the studio included. `erasure` has the steps.
//!
//! A new studio key means rewriting this file only.
//!
//! # In the store
//!
//! | space | key | value |
//! |---|---|---|
//! | [`CLIENT_KEYS`] | client id; its first byte is the bucket | generation of the bucket key (`u32`), sealed data key |
//! | [`KEY_EPOCHS`] | bucket | generation in force (`u32`); absent: 1 |
//!
//! Every batch that adds a key expects the generation it was wrapped under, so
//! a client that arrives during an erasure is never wrapped under a key that is
//! about to be destroyed.

use std::{
    path::{Path, PathBuf},
    sync::{PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard},
};

use serde::{Deserialize, Serialize};

use super::{
    Batch, Bytes, Op, Read, Space, StoreError,
    record::{HashKey, hex},
    seal::{self, ClientId, ClientKey, Entropy, NoEntropy, draw},
    sealed_file::{self, SealedFileError},
    studio_key::{self, StudioKey, StudioKeyError, unhex},
    studio_seal::StudioSeal,
};

/// Name of the file in the data folder.
pub const FILE: &str = "keyring";
/// Wrapped client keys.
pub const CLIENT_KEYS: Space = Space::new("_client-keys");
/// Generation in force of each bucket key.
pub const KEY_EPOCHS: Space = Space::new("_key-epochs");

const KIND: &str = "etui-keyring";
const BUCKETS: usize = 256;
const FIRST_GENERATION: u32 = 1;

/// Why a key was not found or made. Says nothing of any key.
#[derive(Debug, thiserror::Error)]
pub enum KeyringError {
    /// The file of the key ring.
    #[error(transparent)]
    File(#[from] SealedFileError),
    /// The file of the studio's key.
    #[error(transparent)]
    StudioKey(#[from] StudioKeyError),
    /// The store has clients' keys and the file of the key ring is gone.
    #[error("the file `keyring` is missing; put back the newest copy of it")]
    Missing,
    /// The key was wrapped anew while it was read: read again.
    #[error("the client's key was renewed meanwhile; read again")]
    Renewed,
    /// The wrapped key does not open.
    #[error("a client's key does not open: damaged, or another key ring")]
    Unopened,
    /// The store.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// No random bytes.
    #[error(transparent)]
    NoEntropy(#[from] NoEntropy),
}

/// The bucket keys and the secrets that outlive them.
pub struct Keyring {
    path: PathBuf,
    is_new: bool,
    /// For keyed hashes in index keys; outlives every change of the other keys.
    index: HashKey,
    state: RwLock<State>,
    /// One erasure or rotation at a time.
    pub(super) changing: tokio::sync::Mutex<()>,
}

struct State {
    studio: StudioKey,
    content: Content,
}

/// What the file holds.
#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Content {
    /// Root of the keyed hashes in index keys and cursors, hexadecimal.
    index: String,
    buckets: Vec<Bucket>,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Bucket {
    current: BucketKey,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    next: Option<BucketKey>,
}

#[derive(Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct BucketKey {
    pub(super) generation: u32,
    /// 64 hexadecimal digits.
    pub(super) key: String,
}

/// A new client's key, and what its batch must carry.
pub struct Issue {
    /// The key, to seal the client's first values.
    pub key: ClientKey,
    expect: [(Space, Bytes, Option<Bytes>); 2],
    op: Op,
}

impl Issue {
    /// Adds the wrapped key to the batch that makes the client. The batch fails with a conflict
    /// when the client has a key already or an erasure came between: read again and start anew.
    #[must_use]
    pub fn add_to(self, mut batch: Batch) -> Batch {
        batch.expect.extend(self.expect);
        batch.ops.push(self.op);
        batch
    }
}

/// A client's key as it was in a snapshot.
pub struct Held {
    /// The key.
    pub key: ClientKey,
    /// That the key is still there: a batch with this precondition fails when the client was
    /// erased meanwhile.
    pub expect: (Space, Bytes, Option<Bytes>),
}

impl Keyring {
    /// Opens the key ring of a data folder, or makes one. `studio` comes from
    /// [`StudioKey::find_or_make`]. A change of the studio's key that was cut short is finished.
    ///
    /// # Errors
    /// [`KeyringError::File`], [`KeyringError::StudioKey`], [`KeyringError::NoEntropy`].
    pub fn open(
        dir: &Path,
        studio: StudioKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<Self, KeyringError> {
        let path = dir.join(FILE);
        let studio = finish_rotation(dir, studio)?;
        let found = sealed_file::read::<Content>(&path, KIND, &studio)?;
        let is_new = found.is_none();
        let content = match found {
            Some(content) => content.checked().ok_or_else(damaged)?,
            None => {
                let index = draw(entropy)?;
                let content = Content::new(index, entropy)?;
                sealed_file::write(&path, KIND, &studio, &content, entropy)?;
                content
            }
        };
        Ok(Self::of(path, is_new, studio, content))
    }

    /// Makes the key ring of an imported folder: bucket keys anew, `index` as it was.
    pub(super) fn make(
        dir: &Path,
        studio: StudioKey,
        index: [u8; 32],
        entropy: &mut Entropy<'_>,
    ) -> Result<Self, KeyringError> {
        let path = dir.join(FILE);
        let content = Content::new(index, entropy)?;
        sealed_file::write(&path, KIND, &studio, &content, entropy)?;
        Ok(Self::of(path, false, studio, content))
    }

    /// The pseudonym of a client: the keyed hash of the caller's reference.
    #[must_use]
    pub fn client_id(&self, reference: &str) -> ClientId {
        ClientId::new(self.index.reference("client", reference))
    }

    /// The key for keyed hashes of references in index keys.
    #[must_use]
    pub fn index_key(&self) -> HashKey {
        self.index.clone()
    }

    /// The key for page cursors.
    #[must_use]
    pub fn cursor_key(&self) -> HashKey {
        HashKey::new(self.index_root()).derive("cursor")
    }

    /// What seals the studio's own small secrets.
    #[must_use]
    pub fn studio_seal(&self) -> StudioSeal {
        StudioSeal::new(HashKey::new(self.index_root()).derive("studio-secrets"))
    }

    /// Makes the key of a new client.
    ///
    /// # Errors
    /// [`KeyringError::NoEntropy`].
    pub fn issue(
        &self,
        client: &ClientId,
        entropy: &mut Entropy<'_>,
    ) -> Result<Issue, KeyringError> {
        let key = ClientKey::new(draw(entropy)?);
        let bucket = bucket_of(client);
        let bucket_key = self.current(bucket);
        let epoch = (bucket_key.generation != FIRST_GENERATION)
            .then(|| bucket_key.generation.to_be_bytes().to_vec());
        let wrapped = wrap(&bucket_key, client, &key, entropy)?;
        Ok(Issue {
            key,
            expect: [
                (KEY_EPOCHS, vec![bucket], epoch),
                (CLIENT_KEYS, client_key_key(client), None),
            ],
            op: Op::Put(CLIENT_KEYS, client_key_key(client), wrapped),
        })
    }

    /// The key of a client in a view of the store; `None` for one who was never there or was
    /// erased.
    ///
    /// # Errors
    /// [`KeyringError::Renewed`]: take a new snapshot. [`KeyringError::Unopened`],
    /// [`KeyringError::Store`].
    pub async fn key_of<R: Read>(
        &self,
        snap: &mut R,
        client: &ClientId,
    ) -> Result<Option<Held>, KeyringError> {
        let at = client_key_key(client);
        let Some(wrapped) = snap.get(CLIENT_KEYS, &at).await? else { return Ok(None) };
        let key = self.unwrap(client, &wrapped)?;
        Ok(Some(Held { key, expect: (CLIENT_KEYS, at, Some(wrapped)) }))
    }

    /// Puts a new studio key in place of the old one: the key ring is sealed anew, no record is
    /// touched. With the key in a file (`in_file`), the file is replaced too. The keys of backups
    /// are sealed anew by [`backup::rekey`](super::backup::rekey).
    ///
    /// # Errors
    /// [`KeyringError::File`], [`KeyringError::StudioKey`]; then the old key is still in force, or
    /// the next start finishes the change.
    pub async fn rotate(
        &self,
        studio: StudioKey,
        storage: KeyStorage,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        let _one = self.changing.lock().await;
        let next = self.path.with_file_name(studio_key::NEXT_FILE);
        if storage == KeyStorage::File {
            studio.write(&next).map_err(StudioKeyError::from)?;
        }
        let mut state = self.write();
        sealed_file::write(&self.path, KIND, &studio, &state.content, entropy)?;
        state.studio = studio;
        if storage == KeyStorage::File {
            place(&next).map_err(StudioKeyError::from)?;
        }
        Ok(())
    }

    /// The studio's key in force.
    #[must_use]
    pub fn studio_key(&self) -> StudioKey {
        self.read().studio.clone()
    }

    pub(super) fn index_root(&self) -> [u8; 32] {
        unhex(&self.read().content.index).unwrap_or_default()
    }

    pub(super) fn is_new(&self) -> bool {
        self.is_new
    }

    pub(super) fn current(&self, bucket: u8) -> BucketKey {
        self.read().content.buckets[usize::from(bucket)].current.clone()
    }

    pub(super) fn next(&self, bucket: u8) -> Option<BucketKey> {
        self.read().content.buckets[usize::from(bucket)].next.clone()
    }

    /// Puts a new key beside the bucket's own, in the file.
    pub(super) fn begin(
        &self,
        bucket: u8,
        entropy: &mut Entropy<'_>,
    ) -> Result<BucketKey, KeyringError> {
        let key = hex(&draw::<32>(entropy)?);
        let next = BucketKey { generation: self.current(bucket).generation + 1, key };
        self.change(bucket, entropy, |entry| entry.next = Some(next.clone()))?;
        Ok(next)
    }

    /// Destroys the bucket's own key and puts the new one in its place.
    pub(super) fn finish(&self, bucket: u8, entropy: &mut Entropy<'_>) -> Result<(), KeyringError> {
        self.change(bucket, entropy, |entry| {
            if let Some(next) = entry.next.take() {
                entry.current = next;
            }
        })
    }

    /// Drops the new key.
    pub(super) fn abandon(
        &self,
        bucket: u8,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        self.change(bucket, entropy, |entry| entry.next = None)
    }

    /// A client's key, wrapped under the key in force.
    pub(super) fn wrapped(
        &self,
        client: &ClientId,
        key: &ClientKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<Bytes, KeyringError> {
        wrap(&self.current(bucket_of(client)), client, key, entropy)
    }

    /// Opens a wrapped key.
    pub(super) fn unwrap(
        &self,
        client: &ClientId,
        wrapped: &[u8],
    ) -> Result<ClientKey, KeyringError> {
        let (generation, sealed) =
            wrapped.split_first_chunk::<4>().ok_or(KeyringError::Unopened)?;
        let generation = u32::from_be_bytes(*generation);
        let bucket = bucket_of(client);
        let known = [Some(self.current(bucket)), self.next(bucket)];
        let Some(key) = known.into_iter().flatten().find(|k| k.generation == generation) else {
            let renewed = generation < self.current(bucket).generation;
            return Err(if renewed { KeyringError::Renewed } else { KeyringError::Unopened });
        };
        let bucket_key = unhex(&key.key).ok_or(KeyringError::Unopened)?;
        let bytes = seal::open(&bucket_key, &bound(client, generation), sealed)
            .map_err(|_| KeyringError::Unopened)?;
        bytes.try_into().map(ClientKey::new).map_err(|_| KeyringError::Unopened)
    }

    fn of(path: PathBuf, is_new: bool, studio: StudioKey, content: Content) -> Self {
        let root = HashKey::new(unhex(&content.index).unwrap_or_default());
        let index = root.derive("index");
        let state = RwLock::new(State { studio, content });
        Self { path, is_new, index, state, changing: tokio::sync::Mutex::new(()) }
    }

    fn change(
        &self,
        bucket: u8,
        entropy: &mut Entropy<'_>,
        change: impl FnOnce(&mut Bucket),
    ) -> Result<(), KeyringError> {
        let mut state = self.write();
        let mut content = state.content.clone();
        change(&mut content.buckets[usize::from(bucket)]);
        sealed_file::write(&self.path, KIND, &state.studio, &content, entropy)?;
        state.content = content;
        Ok(())
    }

    fn read(&self) -> RwLockReadGuard<'_, State> {
        self.state.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn write(&self) -> RwLockWriteGuard<'_, State> {
        self.state.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Where the studio's key is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeyStorage {
    /// In the file `studio-key` of the data folder.
    File,
    /// Outside, handed in at each start.
    Environment,
}

impl Content {
    fn new(index: [u8; 32], entropy: &mut Entropy<'_>) -> Result<Self, NoEntropy> {
        let bucket = |_| {
            let key = hex(&draw::<32>(entropy)?);
            let current = BucketKey { generation: FIRST_GENERATION, key };
            Ok(Bucket { current, next: None })
        };
        let buckets = (0..BUCKETS).map(bucket).collect::<Result<_, NoEntropy>>()?;
        Ok(Self { index: hex(&index), buckets })
    }

    fn checked(self) -> Option<Self> {
        let keys = self.buckets.iter().flat_map(|b| [Some(&b.current), b.next.as_ref()]).flatten();
        let sound = keys.map(|k| &k.key).chain([&self.index]).all(|key| unhex(key).is_some());
        (sound && self.buckets.len() == BUCKETS).then_some(self)
    }
}

/// The data key of `client`, wrapped under a bucket key.
pub(super) fn wrap(
    bucket_key: &BucketKey,
    client: &ClientId,
    key: &ClientKey,
    entropy: &mut Entropy<'_>,
) -> Result<Bytes, KeyringError> {
    let generation = bucket_key.generation;
    let wrapping = unhex(&bucket_key.key).ok_or(KeyringError::Unopened)?;
    let sealed = seal::seal(&wrapping, &bound(client, generation), key.bytes(), entropy)
        .map_err(|_| NoEntropy)?;
    let mut wrapped = generation.to_be_bytes().to_vec();
    wrapped.extend_from_slice(&sealed);
    Ok(wrapped)
}

/// The bucket of a client.
pub(super) fn bucket_of(client: &ClientId) -> u8 {
    client.bytes()[0]
}

/// The key of [`CLIENT_KEYS`] for a client: ids begin with their bucket.
pub(super) fn client_key_key(client: &ClientId) -> Bytes {
    client.bytes().to_vec()
}

fn bound(client: &ClientId, generation: u32) -> Bytes {
    let mut bound = b"client-key".to_vec();
    bound.extend_from_slice(client.bytes());
    bound.extend_from_slice(&generation.to_be_bytes());
    bound
}

fn damaged() -> KeyringError {
    KeyringError::File(SealedFileError::Form { file: FILE.to_owned() })
}

/// A rotation writes the new key beside the old one, seals the key ring under it, and puts it in
/// the old one's place. Whichever key opens the key ring is the one in force.
fn finish_rotation(dir: &Path, studio: StudioKey) -> Result<StudioKey, KeyringError> {
    let next_path = dir.join(studio_key::NEXT_FILE);
    let Some(next) = StudioKey::read(&next_path)? else { return Ok(studio) };
    if sealed_file::read::<Content>(&dir.join(FILE), KIND, &next).is_ok_and(|c| c.is_some()) {
        place(&next_path).map_err(StudioKeyError::from)?;
        return Ok(next);
    }
    super::files::remove_secret(&next_path).map_err(StudioKeyError::from)?;
    Ok(studio)
}

fn place(next: &Path) -> std::io::Result<()> {
    let text = std::fs::read(next)?;
    super::files::replace_secret(&next.with_file_name(studio_key::FILE), &text)?;
    super::files::remove_secret(next)
}
