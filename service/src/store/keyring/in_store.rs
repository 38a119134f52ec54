//! The key ring of a store that several processes serve: a row of it, sealed under
//! the studio's key, which no store holds.
//!
//! Every erasure puts the new ring into the batch that removes the client's key and
//! wraps the others of her bucket anew. So a view has a ring that opens every key
//! in it, and a process that finds a key of a generation it does not know reads the
//! ring of that view. Nothing needs to be settled after a crash.
//!
//! Whoever gets a key puts her name into the row of her bucket
//! ([`shared::newest`]), and an erasure expects that row as it was: a client who
//! comes while the bucket is being wrapped anew is never left out.

use std::path::Path;

use super::content::{BucketKey, Content};
use super::{FILE, KIND, Keyring, KeyringError, damaged};
use crate::store::files;
use crate::store::record::hex;
use crate::store::seal::{Entropy, draw};
use crate::store::sealed_file;
use crate::store::shared::{RING, SHARED};
use crate::store::studio_key::{self, StudioKey, StudioKeyError};
use crate::store::{Batch, Bytes, Read, Serve, Store, Walk};

/// What the row is called where it cannot be used.
const NAME: &str = "the key ring in the database";

impl Keyring {
    /// Finds the key ring that belongs to a store: in it, if several processes may serve it and one
    /// lies there, else in the data folder. `given` is the studio's key from outside.
    ///
    /// # Errors
    /// As [`Keyring::open`]; [`StudioKeyError::Missing`] where a ring is and no key for it;
    /// [`KeyringError::Elsewhere`] where none is and records are.
    pub async fn find<S: Serve>(
        store: &S,
        dir: &Path,
        given: Option<&str>,
        entropy: &mut Entropy<'_>,
    ) -> Result<Self, KeyringError> {
        if store.is_shared() {
            let mut snap = store.snapshot().await?;
            if let Some(sealed) = snap.get(SHARED, RING).await? {
                return Self::of_row(dir, given, &sealed);
            }
            // One that was made now would open nothing of what is there.
            let is_new = snap.spaces().await?.iter().all(|space| space == SHARED.name());
            if !is_new && !dir.join(FILE).exists() {
                return Err(KeyringError::Elsewhere);
            }
        }
        Self::open(dir, StudioKey::find_or_make(dir, given, entropy)?, entropy)
    }

    /// Whether a key ring belongs to a store already.
    ///
    /// # Errors
    /// What the store met.
    pub async fn is_there<S: Serve>(store: &S, dir: &Path) -> Result<bool, KeyringError> {
        let lies_in_it =
            store.is_shared() && store.snapshot().await?.get(SHARED, RING).await?.is_some();
        Ok(lies_in_it || dir.join(FILE).exists())
    }

    /// The key ring that was found in a store.
    pub(in crate::store) fn of_row(
        dir: &Path,
        given: Option<&str>,
        sealed: &[u8],
    ) -> Result<Self, KeyringError> {
        let studio = match given {
            Some(text) => Some(StudioKey::parse(text)?),
            None => StudioKey::read(&dir.join(studio_key::FILE))?,
        };
        let studio = studio.ok_or(StudioKeyError::Missing)?;
        // A change of the studio's key that was cut short: whichever opens the ring is in force.
        let next = StudioKey::read(&dir.join(studio_key::NEXT_FILE))?;
        let opens = |key: StudioKey| opened(sealed, &key).ok().map(|content| (key, content));
        let (studio, content) = match next.and_then(opens) {
            Some(both) => both,
            None => {
                let content = opened(sealed, &studio)?;
                (studio, content)
            }
        };
        let left = dir.join(FILE);
        if let Some(own) = sealed_file::read::<Content>(&left, KIND, &studio)? {
            if own.index != content.index {
                return Err(KeyringError::Strange);
            }
            // It was moved, and the end of that was cut short.
            files::remove_secret(&left).map_err(StudioKeyError::from)?;
        }
        let keyring = Self::of(left, false, studio, content);
        keyring.write().is_in_store = true;
        Ok(keyring)
    }

    /// Moves the key ring out of the data folder into the store, where every process finds it.
    ///
    /// # Errors
    /// What the store met; [`StoreError::Conflict`](crate::store::StoreError::Conflict) if one lies
    /// there.
    pub async fn move_into<S: Store>(
        &self,
        store: &S,
        entropy: &mut Entropy<'_>,
    ) -> Result<(), KeyringError> {
        let _one = self.changing.lock().await;
        if self.is_in_store() {
            return Ok(());
        }
        let sealed = self.sealed(&self.read().content.clone(), entropy)?;
        store.commit(Batch::new().expect(SHARED, RING, None).put(SHARED, RING, sealed)).await?;
        self.write().is_in_store = true;
        Ok(files::remove_secret(&self.path).map_err(StudioKeyError::from)?)
    }

    /// Whether it lies in the store.
    #[must_use]
    pub fn is_in_store(&self) -> bool {
        self.read().is_in_store
    }

    /// Reads the ring of a view, if it lies in the store, and takes it over where it is newer than
    /// what is known; the row as it was found.
    pub(in crate::store) async fn follow<R: Read>(
        &self,
        snap: &mut R,
    ) -> Result<Option<Bytes>, KeyringError> {
        if !self.is_in_store() {
            return Ok(None);
        }
        let sealed = snap.get(SHARED, RING).await?.ok_or(KeyringError::Missing)?;
        let content = opened(&sealed, &self.studio_key())?;
        if self.read().content.age() < content.age() {
            // First who was erased: whoever sees the new ring must know.
            self.remember(snap).await?;
            self.take(content);
        }
        Ok(Some(sealed))
    }

    /// The ring as a view has it, with its row, if it lies in the store. It stays as it is, while the
    /// one that is known goes on with what other processes do.
    pub(in crate::store) async fn of_view<R: Read>(
        &self,
        snap: &mut R,
    ) -> Result<Option<(Self, Bytes)>, KeyringError> {
        let Some(row) = self.follow(snap).await? else { return Ok(None) };
        let studio = self.studio_key();
        let content = opened(&row, &studio)?;
        let own = Self::of(self.path.clone(), false, studio, content);
        {
            let mut state = own.write();
            state.is_in_store = true;
            state.erased.clone_from(&self.read().erased);
        }
        Ok(Some((own, row)))
    }

    /// The same, if one of these keys was wrapped by a newer ring than the one that is known.
    pub(super) async fn keep_up<R: Read>(
        &self,
        snap: &mut R,
        wanted: &[(u8, u32)],
    ) -> Result<(), KeyringError> {
        let is_newer =
            |(bucket, generation): &(u8, u32)| self.current(*bucket).generation < *generation;
        if self.is_in_store() && wanted.iter().any(is_newer) {
            self.follow(snap).await?;
        }
        Ok(())
    }

    /// The ring with a new key in place of a bucket's own: that key, the ring, and the row of it.
    pub(in crate::store) fn renewed(
        &self,
        bucket: u8,
        entropy: &mut Entropy<'_>,
    ) -> Result<(BucketKey, Renewal), KeyringError> {
        let key = hex(&draw::<32>(entropy)?);
        let mut content = self.read().content.clone();
        let own = &mut content.buckets[usize::from(bucket)].current;
        *own = BucketKey { generation: own.generation + 1, key };
        let key = own.clone();
        let row = self.sealed(&content, entropy)?;
        Ok((key, Renewal { content, row }))
    }

    /// Takes over a ring that was committed.
    pub(in crate::store) fn renew(&self, renewal: Renewal) {
        self.take(renewal.content);
    }

    /// The ring under another studio key, as a row.
    pub(super) fn sealed_under(
        &self,
        studio: &StudioKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<Bytes, KeyringError> {
        Ok(sealed_file::seal_row(NAME, KIND, studio, &self.read().content.clone(), entropy)?)
    }

    fn sealed(&self, content: &Content, entropy: &mut Entropy<'_>) -> Result<Bytes, KeyringError> {
        Ok(sealed_file::seal_row(NAME, KIND, &self.studio_key(), content, entropy)?)
    }

    fn take(&self, content: Content) {
        let mut state = self.write();
        if state.content.age() < content.age() {
            state.content = content;
        }
    }
}

/// A ring that is to be committed.
pub(in crate::store) struct Renewal {
    content: Content,
    /// What the row will hold.
    pub(in crate::store) row: Bytes,
}

fn opened(sealed: &[u8], studio: &StudioKey) -> Result<Content, KeyringError> {
    let content: Content = sealed_file::open_row(NAME, KIND, studio, sealed)?;
    content.checked().ok_or_else(damaged)
}
