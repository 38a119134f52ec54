//! Erasing a client: the destruction of every key that could open what is sealed.
//!
//! # Steps
//!
//! 1. A new key for the client's bucket is drawn and put beside the old one in
//!    the key ring's file.
//! 2. One durable batch: the other clients of the bucket are wrapped under the
//!    new key, the erased one's key is removed, the bucket's generation goes up,
//!    the caller's own changes happen (its records deleted or reduced to what
//!    the law wants kept), a receipt is stored.
//! 3. The file is rewritten without the old bucket key. **From here on the
//!    client's key cannot be opened by anybody**, whatever old copies of it lie
//!    in the log or on a lost disk.
//! 4. The client's key is taken out of the companions of all backups.
//! 5. The receipt is completed.
//!
//! A crash between steps is settled at the next start ([`settle`]): when the
//! batch of step 2 is in the store, the rest is done; when it is not, nothing
//! has happened and the new bucket key is dropped.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{
    Batch, Op, Order, Read, Space, Store, StoreError,
    backup::{self, BackupError},
    key,
    keyring::{
        BucketKey, CLIENT_KEYS, KEY_EPOCHS, Keyring, KeyringError, bucket_of, client_key_key, wrap,
    },
    record::{self, Record, RecordError},
    seal::{ClientId, Entropy},
    studio_key::unhex,
};

/// The receipts, by their id.
pub const ERASURES: Space = Space::new("erasures");

/// What is to be erased.
pub struct Erasure {
    /// Whose key is destroyed.
    pub client: ClientId,
    /// Id of the receipt.
    pub receipt_id: String,
    /// When, RFC 3339.
    pub at: String,
    /// The caller's own changes, preconditions and audit entry: one batch with the key's removal.
    pub batch: Batch,
}

/// Says that a client's key was destroyed, and what that reached.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Receipt {
    /// Its id.
    pub id: String,
    /// When the erasure was asked for, RFC 3339.
    pub at: String,
    /// Pseudonym of the client, hexadecimal.
    pub client: String,
    /// Whether there was a key to destroy. Without one nothing of the client was sealed.
    pub had_key: bool,
    /// Whether every step is done.
    pub complete: bool,
    /// The backups from which the client's key was taken, by file name. Copies of their `.keys`
    /// files kept elsewhere must be replaced by the owner.
    pub backups: Vec<String>,
}

impl Record for Receipt {
    const KIND: &'static str = "erasure";
    const VERSION: u32 = 1;
}

/// Why an erasure did not happen, or not wholly.
#[derive(Debug, thiserror::Error)]
pub enum EraseError {
    /// The store; a conflict is one of the caller's own preconditions.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The key ring.
    #[error(transparent)]
    Keyring(#[from] KeyringError),
    /// The companion of a backup; the client's key is destroyed in the store.
    #[error("the key is destroyed in the store, and not yet in every backup")]
    Backup(#[from] BackupError),
    /// A stored receipt.
    #[error(transparent)]
    Record(#[from] RecordError),
}

/// Erases a client. `backups` is the folder of the backups. May be called again for the same
/// client; it then reaches what the first call did not.
///
/// # Errors
/// [`EraseError::Store`] with a conflict: nothing happened. Otherwise the erasure may be under way
/// and is finished by the next call or the next [`settle`].
pub async fn erase<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    erasure: Erasure,
    entropy: &mut Entropy<'_>,
) -> Result<Receipt, EraseError> {
    let _one = keyring.changing.lock().await;
    let bucket = bucket_of(&erasure.client);
    settle_bucket(store, keyring, bucket, entropy).await?;
    let next = keyring.begin(bucket, entropy)?;
    let mut receipt = Receipt {
        id: erasure.receipt_id,
        at: erasure.at,
        client: erasure.client.hex(),
        had_key: false,
        complete: false,
        backups: Vec::new(),
    };
    let batch = renewal(store, keyring, &next, &erasure.client, &mut receipt, entropy).await?;
    let batch = joined(erasure.batch, batch);
    match store.commit(batch).await {
        Ok(()) => keyring.finish(bucket, entropy)?,
        Err(error @ StoreError::Unknown(_)) => return Err(error.into()),
        Err(error) => {
            keyring.abandon(bucket, entropy)?;
            return Err(error.into());
        }
    }
    complete(store, keyring, backups, receipt, entropy).await
}

/// Finishes what a crash left half done. Call it at each start, before anything else is served.
/// Answers the receipts that were completed.
///
/// # Errors
/// [`KeyringError::Missing`] when the store has clients' keys and the key ring was made anew;
/// otherwise as [`erase`].
pub async fn settle<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<Receipt>, EraseError> {
    let _one = keyring.changing.lock().await;
    check_belongs(store, keyring).await?;
    for bucket in 0..=u8::MAX {
        settle_bucket(store, keyring, bucket, entropy).await?;
    }
    let mut snap = store.snapshot().await?;
    let rows = snap.scan(ERASURES, vec![]..vec![], Order::Ascending, usize::MAX).await?;
    let mut completed = Vec::new();
    for (_, value) in rows {
        let receipt: Receipt = record::decode(&value)?;
        if !receipt.complete {
            completed.push(complete(store, keyring, backups, receipt, entropy).await?);
        }
    }
    Ok(completed)
}

/// A key ring that was made just now cannot have sealed the keys that the store has.
async fn check_belongs<S: Store>(store: &S, keyring: &Keyring) -> Result<(), EraseError> {
    if !keyring.is_new() {
        return Ok(());
    }
    let mut snap = store.snapshot().await?;
    let first = snap.scan(CLIENT_KEYS, vec![]..vec![], Order::Ascending, 1).await?;
    let opens = first.iter().all(|(at, wrapped)| {
        at.as_slice().try_into().is_ok_and(|id| keyring.unwrap(&ClientId::new(id), wrapped).is_ok())
    });
    if opens { Ok(()) } else { Err(KeyringError::Missing.into()) }
}

/// Decides a bucket with two keys by the generation in the store.
async fn settle_bucket<S: Store>(
    store: &S,
    keyring: &Keyring,
    bucket: u8,
    entropy: &mut Entropy<'_>,
) -> Result<(), EraseError> {
    let Some(next) = keyring.next(bucket) else { return Ok(()) };
    let epoch = store.snapshot().await?.get(KEY_EPOCHS, &[bucket]).await?;
    if epoch.as_deref() == Some(&next.generation.to_be_bytes()) {
        keyring.finish(bucket, entropy)?;
    } else {
        keyring.abandon(bucket, entropy)?;
    }
    Ok(())
}

/// The batch of step 2 without the caller's part.
async fn renewal<S: Store>(
    store: &S,
    keyring: &Keyring,
    next: &BucketKey,
    client: &ClientId,
    receipt: &mut Receipt,
    entropy: &mut Entropy<'_>,
) -> Result<Batch, EraseError> {
    let bucket = bucket_of(client);
    let mut snap = store.snapshot().await?;
    let epoch = snap.get(KEY_EPOCHS, &[bucket]).await?;
    let range = key::prefix_range(&[bucket]);
    let rows = snap.scan(CLIENT_KEYS, range, Order::Ascending, usize::MAX).await?;
    let mut batch = Batch::new().expect(KEY_EPOCHS, [bucket], epoch).put(
        KEY_EPOCHS,
        [bucket],
        next.generation.to_be_bytes(),
    );
    let erased = client_key_key(client);
    for (at, wrapped) in rows {
        if at == erased {
            receipt.had_key = true;
            batch = batch.del(CLIENT_KEYS, at);
            continue;
        }
        let id = at.as_slice().try_into().map_err(|_| KeyringError::Unopened)?;
        let other = ClientId::new(id);
        let key = keyring.unwrap(&other, &wrapped)?;
        batch = batch.put(CLIENT_KEYS, at, wrap(next, &other, &key, entropy)?);
    }
    Ok(batch.put(ERASURES, receipt.id.clone(), record::encode(receipt)?))
}

/// The caller's batch with ours after it: the caller's preconditions keep their numbers.
fn joined(mut first: Batch, second: Batch) -> Batch {
    first.expect.extend(second.expect);
    first.ops.extend(second.ops);
    first.events.extend(second.events);
    first
}

/// Steps 4 and 5.
async fn complete<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    mut receipt: Receipt,
    entropy: &mut Entropy<'_>,
) -> Result<Receipt, EraseError> {
    let id = unhex(&receipt.client).ok_or(RecordError::Kind { kind: Receipt::KIND })?;
    receipt.backups = backup::forget(backups, &keyring.studio_key(), &ClientId::new(id), entropy)?;
    receipt.complete = true;
    let ops = vec![Op::Put(ERASURES, receipt.id.clone().into(), record::encode(&receipt)?)];
    store.commit(Batch { ops, ..Batch::default() }).await?;
    Ok(receipt)
}
