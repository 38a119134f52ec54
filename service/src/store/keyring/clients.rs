//! Clients' keys: made, read, opened; those that do not open, and those that were
//! destroyed.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::content::{
    Bucket, bound, bucket_of, client_key_key, generation_of, instant_of, wrap, wrapped_under,
};
use super::{CLIENT_KEYS, KEY_EPOCHS, Keyring, KeyringError};
use crate::store::receipts;
use crate::store::rows::Rows;
use crate::store::seal::{self, ClientId, ClientKey, Entropy, draw};
use crate::store::shared::{SHARED, newest};
use crate::store::studio_key::unhex;
use crate::store::{Batch, Bytes, Op, Read, Space};

/// A new client's key, and what its batch must carry.
pub struct Issue {
    /// The key, to seal the client's first values.
    pub key: ClientKey,
    expect: [(Space, Bytes, Option<Bytes>); 2],
    ops: Vec<Op>,
}

impl Issue {
    /// Adds the wrapped key to the batch that makes the client. The batch fails with a conflict
    /// when the client has a key already or an erasure came between: read again and start anew.
    pub fn add_to(self, mut batch: Batch) -> Batch {
        batch.expect.extend(self.expect);
        batch.ops.extend(self.ops);
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

/// The bucket and the generation that a wrapped key needs.
fn wanted(client: &ClientId, wrapped: Option<&[u8]>) -> Option<(u8, u32)> {
    Some((bucket_of(client), wrapped_under(wrapped?)?))
}

impl Keyring {
    /// Makes the key of a new client in a view of the store. It is younger than the client's last
    /// erasure, whatever the clock says.
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
        let bucket = bucket_of(client);
        let epoch = snap.get(KEY_EPOCHS, &[bucket]).await?;
        let generation = generation_of(epoch.as_deref());
        self.keep_up(snap, &[(bucket, generation)]).await?;
        let issued = self.erased_at(client).map_or(now, |erased| erased.max(now));
        let key = ClientKey::new(draw(entropy)?, Some(issued));
        // A view from before an erasure: the batch will not hold, whatever the key is wrapped under.
        let Bucket { current, next } = self.bucket(bucket);
        let bucket_key = next.filter(|next| next.generation == generation).unwrap_or(current);
        let wrapped = wrap(&bucket_key, client, &key, entropy)?;
        let mut ops = vec![Op::Put(CLIENT_KEYS, client_key_key(client), wrapped)];
        if self.is_in_store() {
            ops.push(Op::Put(SHARED, newest(bucket), client.bytes().to_vec()));
        }
        Ok(Issue {
            key,
            expect: [
                (KEY_EPOCHS, vec![bucket], epoch),
                (CLIENT_KEYS, client_key_key(client), None),
            ],
            ops,
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
        let wrapped = snap.get(CLIENT_KEYS, &client_key_key(client)).await?;
        self.keep_up(snap, &wanted(client, wrapped.as_deref()).into_iter().collect::<Vec<_>>())
            .await?;
        self.held(client, wrapped)
    }

    /// The keys of many clients with one question, each as [`Keyring::key_of`] would answer.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn keys_of<R: Read>(
        &self,
        snap: &mut R,
        clients: &[ClientId],
    ) -> Result<Vec<Result<Option<Held>, KeyringError>>, KeyringError> {
        let places: Vec<Bytes> = clients.iter().map(client_key_key).collect();
        let found = snap.get_many(CLIENT_KEYS, &places).await?;
        let both = clients.iter().zip(&found);
        let wanted: Vec<_> =
            both.filter_map(|(client, key)| wanted(client, key.as_deref())).collect();
        self.keep_up(snap, &wanted).await?;
        Ok(clients.iter().zip(found).map(|(client, wrapped)| self.held(client, wrapped)).collect())
    }

    fn held(
        &self,
        client: &ClientId,
        wrapped: Option<Bytes>,
    ) -> Result<Option<Held>, KeyringError> {
        let Some(wrapped) = wrapped else { return Ok(None) };
        let key = self.unwrap(client, &wrapped)?;
        Ok(Some(Held { key, expect: (CLIENT_KEYS, client_key_key(client), Some(wrapped)) }))
    }

    /// Every client's key in a view; `None` for one that does not open.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn all_keys<R: Read>(
        &self,
        snap: &mut R,
    ) -> Result<BTreeMap<ClientId, Option<ClientKey>>, KeyringError> {
        let own = self.of_view(snap).await?;
        let own = own.as_ref().map_or(self, |(ring, _)| ring);
        let rows = Rows::all(CLIENT_KEYS).take(snap, usize::MAX).await?;
        let known = rows.into_iter().filter_map(|(at, wrapped)| {
            let client = ClientId::new(at.try_into().ok()?);
            let key = own.unwrap(&client, &wrapped).ok();
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

    /// Whether a view has a key of each of these clients, be it one that opens or not.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn have_keys<R: Read>(
        &self,
        snap: &mut R,
        clients: &[ClientId],
    ) -> Result<Vec<bool>, KeyringError> {
        let places: Vec<Bytes> = clients.iter().map(client_key_key).collect();
        let found = snap.get_many(CLIENT_KEYS, &places).await?;
        Ok(found.iter().map(Option::is_some).collect())
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
    pub(in crate::store) fn note_erased(&self, client: &ClientId, at: Timestamp) {
        let mut state = self.write();
        state.lost.remove(client);
        let last = state.erased.entry(*client).or_insert(at);
        *last = at.max(*last);
    }

    /// Learns of every erasure that a view knows of. Each start does; this is for those who only look,
    /// and for who was erased by another process.
    ///
    /// # Errors
    /// [`KeyringError::Store`].
    pub async fn remember<R: Read>(&self, snap: &mut R) -> Result<(), KeyringError> {
        for receipt in receipts::all(snap).await? {
            if let Some((client, at)) = receipt.names() {
                self.note_erased(&client, at);
            }
        }
        Ok(())
    }

    /// When a client was erased last.
    #[must_use]
    pub fn erased_at(&self, client: &ClientId) -> Option<Timestamp> {
        self.read().erased.get(client).copied()
    }

    /// A client's key, wrapped under the key in force.
    pub(in crate::store) fn wrapped(
        &self,
        client: &ClientId,
        key: &ClientKey,
        entropy: &mut Entropy<'_>,
    ) -> Result<Bytes, KeyringError> {
        wrap(&self.current(bucket_of(client)), client, key, entropy)
    }

    /// Opens a wrapped key.
    pub(in crate::store) fn unwrap(
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
        Ok(match issued_at {
            // It came to be after the last erasure, if there was one.
            [] => ClientKey::former(*key, self.erased_at(client)),
            told => ClientKey::new(*key, Some(instant_of(told).ok_or(KeyringError::Unopened)?)),
        })
    }
}
