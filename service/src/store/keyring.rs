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
//! Where several processes serve one store, the ring is a row of the store instead
//! of a file (`in_store` says what that means).
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

use super::{
    Space, StoreError, files,
    record::{HashKey, hex},
    seal::{ClientId, Entropy, NoEntropy, draw},
    sealed_file::{self, SealedFileError},
    studio_key::{StudioKey, StudioKeyError, unhex},
    studio_seal::StudioSeal,
};

mod change;
mod clients;
mod content;
mod in_store;

pub use super::studio_key::KEYRING_FILE as FILE;
pub use clients::{Held, Issue};
pub(super) use content::{
    BucketKey, bucket_of, client_key_key, generation_of, wrap, wrapped_under,
};

use self::change::in_force;
pub use self::change::judge;
use self::content::{Bucket, Content};

/// Wrapped client keys.
pub const CLIENT_KEYS: Space = Space::new("_client-keys");
/// Generation in force of each bucket key.
pub const KEY_EPOCHS: Space = Space::new("_key-epochs");

const KIND: &str = "etui-keyring";

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
    /// A folder beside a database that is not its own.
    #[error("the file `keyring` of the data folder is another studio's; name a new folder")]
    Strange,
    /// Records in a database without a key ring, as former builds imported them.
    #[error(
        "the database has records and no key ring yet: that lies in the data folder which was made by \
         the import or restore; start the process of that folder first"
    )]
    Elsewhere,
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
    /// Where it lies, unless it lies in the store.
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
    /// Whether it lies in the store, so that others may change it.
    is_in_store: bool,
    /// When clients were erased last; fills in for keys that do not know when they were issued.
    erased: BTreeMap<ClientId, Timestamp>,
    /// Clients whose keys were found not to open.
    lost: BTreeSet<ClientId>,
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

    /// Puts a new key beside each bucket's own, in the file.
    pub(super) fn begin(
        &self,
        buckets: &BTreeSet<u8>,
        entropy: &mut Entropy<'_>,
    ) -> Result<BTreeMap<u8, BucketKey>, KeyringError> {
        let mut next = BTreeMap::new();
        for bucket in buckets {
            let key = hex(&draw::<32>(entropy)?);
            let generation = self.current(*bucket).generation + 1;
            next.insert(*bucket, BucketKey { generation, key });
        }
        self.change(buckets, entropy, |bucket, entry| entry.next = next.get(&bucket).cloned())?;
        Ok(next)
    }

    /// Destroys each bucket's own key and puts the new one in its place.
    pub(super) fn finish(
        &self,
        buckets: &BTreeSet<u8>,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        self.change(buckets, entropy, |_, entry| {
            if let Some(next) = entry.next.take() {
                entry.current = next;
            }
        })
    }

    /// Drops the new keys.
    pub(super) fn abandon(
        &self,
        buckets: &BTreeSet<u8>,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        self.change(buckets, entropy, |_, entry| entry.next = None)
    }

    fn of(path: PathBuf, is_new: bool, studio: StudioKey, content: Content) -> Self {
        let root = HashKey::new(unhex(&content.index).unwrap_or_default());
        let index = root.derive("index");
        let (erased, lost) = (BTreeMap::new(), BTreeSet::new());
        let state = RwLock::new(State { studio, content, is_in_store: false, erased, lost });
        Self { path, is_new, index, state, changing: tokio::sync::Mutex::new(()) }
    }

    fn change(
        &self,
        buckets: &BTreeSet<u8>,
        entropy: &mut Entropy<'_>,
        mut change: impl FnMut(u8, &mut Bucket),
    ) -> Result<(), KeyringError> {
        // Whoever changes it holds `changing`; whoever reads does not wait for the disk.
        let (studio, mut content) = {
            let state = self.read();
            (state.studio.clone(), state.content.clone())
        };
        for bucket in buckets {
            change(*bucket, &mut content.buckets[usize::from(*bucket)]);
        }
        sealed_file::write(&self.path, KIND, &studio, &content, entropy)?;
        self.write().content = content;
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

fn damaged() -> KeyringError {
    KeyringError::File(SealedFileError::Form { file: FILE.to_owned() })
}
