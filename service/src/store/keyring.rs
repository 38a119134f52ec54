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
//! A new studio key means rewriting this file and the keys beside the backups;
//! no record is touched.
//!
//! # In the store
//!
//! | space | key | value |
//! |---|---|---|
//! | [`CLIENT_KEYS`] | client id; its first byte is the bucket | generation of the bucket key (`u32`), sealed: data key (32), when it was issued (`i64`, milliseconds; former keys lack it) |
//! | [`KEY_EPOCHS`] | bucket | generation under which new keys are wrapped (`u32`); absent: 1 |
//!
//! Every batch that adds a key expects the generation it was wrapped under, and
//! an erasure raises that generation before it reads which keys it has to wrap
//! anew: whatever comes later is wrapped under the new key already. So a client
//! that arrives during an erasure is never wrapped under a key that is about to
//! be destroyed, and no number of arrivals holds an erasure up.
//!
//! # Keys that do not open
//!
//! A damaged key, or one that lost its bucket key, is a loss for its client and
//! for nobody else: copies are made without it, an erasure leaves it as it lies,
//! and [`Keyring::lost`] counts it for the health check.

use std::{
    collections::{BTreeMap, BTreeSet},
    path::{Path, PathBuf},
    sync::{PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard},
};

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::{
    Batch, Bytes, Op, Order, Read, Space, StoreError, files,
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
    /// When clients were erased last; fills in for keys that do not know when they were issued.
    erased: BTreeMap<ClientId, Timestamp>,
    /// Clients whose keys were found not to open.
    lost: BTreeSet<ClientId>,
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
    /// [`StudioKey::find_or_make`]. Where a change of the studio's key was cut short, the key that
    /// opens the key ring is in force ([`backup::finish_change`](super::backup::finish_change)).
    ///
    /// # Errors
    /// [`KeyringError::File`], [`KeyringError::StudioKey`], [`KeyringError::NoEntropy`].
    pub fn open(
        dir: &Path,
        studio: StudioKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<Self, KeyringError> {
        let path = dir.join(FILE);
        let studio = in_force(dir, studio)?;
        let found = sealed_file::read::<Content>(&path, KIND, &studio)?;
        let is_new = found.is_none();
        if !is_new {
            files::make_file_private(&path).map_err(StudioKeyError::from)?;
        }
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

    /// Makes the key of a new client in a view of the store.
    ///
    /// # Errors
    /// [`KeyringError::NoEntropy`], [`KeyringError::Store`], [`KeyringError::Unopened`].
    pub async fn issue<R: Read>(
        &self,
        snap: &mut R,
        client: &ClientId,
        now: Timestamp,
        entropy: &mut Entropy<'_>,
    ) -> Result<Issue, KeyringError> {
        let key = ClientKey::new(draw(entropy)?, Some(now));
        let bucket = bucket_of(client);
        let epoch = snap.get(KEY_EPOCHS, &[bucket]).await?;
        let generation = generation_of(epoch.as_deref());
        // A view from before an erasure: the batch will not hold, whatever the key is wrapped under.
        let Bucket { current, next } = self.bucket(bucket);
        let bucket_key = next.filter(|next| next.generation == generation).unwrap_or(current);
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

    /// Every client's key in a view; `None` for one that does not open.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn all_keys<R: Read>(
        &self,
        snap: &mut R,
    ) -> Result<BTreeMap<ClientId, Option<ClientKey>>, KeyringError> {
        let rows = snap.scan(CLIENT_KEYS, vec![]..vec![], Order::Ascending, usize::MAX).await?;
        let known = rows.into_iter().filter_map(|(at, wrapped)| {
            let client = ClientId::new(at.try_into().ok()?);
            let key = self.unwrap(&client, &wrapped).ok();
            Some((client, key))
        });
        Ok(known.collect())
    }

    /// Whether a view has a key of a client, be it one that opens or not.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn has_key<R: Read>(
        &self,
        snap: &mut R,
        client: &ClientId,
    ) -> Result<bool, KeyringError> {
        Ok(snap.get(CLIENT_KEYS, &client_key_key(client)).await?.is_some())
    }

    /// Notes that the key of a client does not open in a view that is up to date.
    pub fn note_lost(&self, client: &ClientId) {
        self.write().lost.insert(*client);
    }

    /// How many clients' keys were found not to open.
    #[must_use]
    pub fn lost(&self) -> usize {
        self.read().lost.len()
    }

    /// Notes when a client was erased.
    pub(super) fn note_erased(&self, client: &ClientId, at: Timestamp) {
        let mut state = self.write();
        state.lost.remove(client);
        let last = state.erased.entry(*client).or_insert(at);
        *last = at.max(*last);
    }

    /// When a client was erased last.
    #[must_use]
    pub fn erased_at(&self, client: &ClientId) -> Option<Timestamp> {
        self.read().erased.get(client).copied()
    }

    /// Seals the key ring under a new studio key; no record is touched. With the key in a file,
    /// the new one lies beside the old one from then on, until [`Keyring::end_change`].
    pub(super) async fn begin_change(
        &self,
        studio: StudioKey,
        storage: KeyStorage,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        let _one = self.changing.lock().await;
        if storage == KeyStorage::File {
            let next = self.path.with_file_name(studio_key::NEXT_FILE);
            studio.write(&next).map_err(StudioKeyError::from)?;
        }
        let mut state = self.write();
        sealed_file::write(&self.path, KIND, &studio, &state.content, entropy)?;
        state.studio = studio;
        Ok(())
    }

    /// The studio's key from before a change that has not come to its end.
    pub(super) fn former(&self) -> Result<Option<StudioKey>, KeyringError> {
        if !self.path.with_file_name(studio_key::NEXT_FILE).exists() {
            return Ok(None);
        }
        Ok(StudioKey::read(&self.path.with_file_name(studio_key::FILE))?)
    }

    /// Puts the new key in the place of the old one, which is destroyed.
    pub(super) fn end_change(&self) -> Result<(), KeyringError> {
        let next = self.path.with_file_name(studio_key::NEXT_FILE);
        Ok(place(&next).map_err(StudioKeyError::from)?)
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

    /// Both keys of a bucket, as they are at one moment.
    fn bucket(&self, bucket: u8) -> Bucket {
        self.read().content.buckets[usize::from(bucket)].clone()
    }

    pub(super) fn current(&self, bucket: u8) -> BucketKey {
        self.bucket(bucket).current
    }

    pub(super) fn next(&self, bucket: u8) -> Option<BucketKey> {
        self.bucket(bucket).next
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
        let Bucket { current, next } = self.bucket(bucket);
        let newest = current.generation;
        let mut known = [Some(current), next].into_iter().flatten();
        let Some(key) = known.find(|key| key.generation == generation) else {
            let renewed = generation < newest;
            return Err(if renewed { KeyringError::Renewed } else { KeyringError::Unopened });
        };
        let bucket_key = unhex(&key.key).ok_or(KeyringError::Unopened)?;
        let bytes = seal::open(&bucket_key, &bound(client, generation), sealed)
            .map_err(|_| KeyringError::Unopened)?;
        let (key, issued_at) = bytes.split_first_chunk().ok_or(KeyringError::Unopened)?;
        let issued_at = match issued_at {
            // Of a former build: it came to be after the last erasure, if there was one.
            [] => self.erased_at(client),
            told => Some(instant_of(told).ok_or(KeyringError::Unopened)?),
        };
        Ok(ClientKey::new(*key, issued_at))
    }

    fn of(path: PathBuf, is_new: bool, studio: StudioKey, content: Content) -> Self {
        let root = HashKey::new(unhex(&content.index).unwrap_or_default());
        let index = root.derive("index");
        let (erased, lost) = (BTreeMap::new(), BTreeSet::new());
        let state = RwLock::new(State { studio, content, erased, lost });
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
    let mut content = key.bytes().to_vec();
    if let Some(at) = key.issued_at() {
        content.extend_from_slice(&at.as_millisecond().to_be_bytes());
    }
    let sealed = seal::seal(&wrapping, &bound(client, generation), &content, entropy)
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

/// The generation that a value of [`KEY_EPOCHS`] names.
pub(super) fn generation_of(epoch: Option<&[u8]>) -> u32 {
    epoch.and_then(|bytes| bytes.try_into().ok()).map_or(FIRST_GENERATION, u32::from_be_bytes)
}

/// The generation that a wrapped key was wrapped under.
pub(super) fn wrapped_under(wrapped: &[u8]) -> Option<u32> {
    wrapped.first_chunk().copied().map(u32::from_be_bytes)
}

fn instant_of(millis: &[u8]) -> Option<Timestamp> {
    Timestamp::from_millisecond(i64::from_be_bytes(millis.try_into().ok()?)).ok()
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

/// A change of the studio's key writes the new key beside the old one, seals the key ring under it,
/// then the keys of the backups, and then puts it in the old one's place. Whichever key opens the
/// key ring is the one in force; one that does not open it has sealed nothing yet.
fn in_force(dir: &Path, studio: StudioKey) -> Result<StudioKey, KeyringError> {
    let next_path = dir.join(studio_key::NEXT_FILE);
    let Some(next) = StudioKey::read(&next_path)? else { return Ok(studio) };
    if sealed_file::read::<Content>(&dir.join(FILE), KIND, &next).is_ok_and(|c| c.is_some()) {
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
