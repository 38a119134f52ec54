//! Erasing a client: the destruction of every key that could open what is sealed.
//!
//! # Steps
//!
//! 1. A new key for the client's bucket is drawn and put beside the old one in
//!    the key ring's file.
//! 2. The bucket's generation goes up in the store: from here on new clients
//!    are wrapped under the new key, and the old one gets no more of them.
//! 3. One durable batch: whoever is still wrapped under the old key is wrapped
//!    under the new one, the erased client's key is removed, the caller's own
//!    changes happen (its records deleted or reduced to what the law wants
//!    kept), a receipt is stored.
//! 4. The file is rewritten without the old bucket key. **From here on the
//!    client's key cannot be opened by anybody**, whatever old copies of it lie
//!    in the log or on a lost disk.
//! 5. The client's key is taken out of the companions of all backups.
//! 6. The receipt is completed.
//!
//! A crash between steps is settled at the next start ([`settle`]): when the
//! generation did not go up, nothing has happened and the new bucket key is
//! dropped; when it did, whoever is still wrapped under the old key is wrapped
//! anew, the old key is destroyed, and the receipt, if it is there, is completed.
//! An erasure that is refused at step 3 ends the same way, without a receipt.

use std::path::Path;

use serde::{Deserialize, Serialize};

use super::{
    Batch, Op, Order, Read, Space, Store, StoreError,
    backup::{self, BackupError},
    key,
    keyring::{
        BucketKey, CLIENT_KEYS, KEY_EPOCHS, Keyring, KeyringError, bucket_of, client_key_key,
        generation_of, wrap, wrapped_under,
    },
    record::{self, Record, RecordError},
    rows::Rows,
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
    /// The backups whose `.keys` file could not be read or written, so that the key may still lie
    /// there. It is tried again at each start.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unreached: Vec<String>,
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
    raise(store, bucket, &next).await?;
    let mut receipt = Receipt {
        id: erasure.receipt_id,
        at: erasure.at,
        client: erasure.client.hex(),
        had_key: false,
        complete: false,
        backups: Vec::new(),
        unreached: Vec::new(),
    };
    let erased = Some(&erasure.client);
    let (batch, had_key) = renewal(store, keyring, (bucket, &next), erased, entropy).await?;
    receipt.had_key = had_key;
    let batch = batch.put(ERASURES, receipt.id.clone(), record::encode(&receipt)?);
    match store.commit(joined(erasure.batch, batch)).await {
        Ok(()) => keyring.finish(bucket, entropy)?,
        Err(error @ StoreError::Unknown(_)) => return Err(error.into()),
        Err(error) => {
            settle_bucket(store, keyring, bucket, entropy).await?;
            return Err(error.into());
        }
    }
    note(keyring, &receipt);
    complete(store, keyring, backups, receipt, entropy).await
}

/// Lets the key ring know of an erasure that is durable.
fn note(keyring: &Keyring, receipt: &Receipt) {
    if let (Some(id), Ok(at)) = (unhex(&receipt.client), receipt.at.parse()) {
        keyring.note_erased(&ClientId::new(id), at);
    }
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
    if let Err(error) = backup::finish_change(keyring, backups, entropy) {
        // The key ring is under the new key already; the old one is kept until the rest is.
        tracing::error!(reason = %error, "a change of the studio's key cannot be finished");
    }
    for bucket in 0..=u8::MAX {
        settle_bucket(store, keyring, bucket, entropy).await?;
    }
    let mut snap = store.snapshot().await?;
    let rows = snap.scan(ERASURES, vec![]..vec![], Order::Ascending, usize::MAX).await?;
    let mut completed = Vec::new();
    for (_, value) in rows {
        // One that cannot be read must not keep the studio from working.
        let Ok(receipt) = record::decode::<Receipt>(&value) else { continue };
        note(keyring, &receipt);
        if !receipt.complete {
            completed.push(complete(store, keyring, backups, receipt, entropy).await?);
        }
    }
    look_through(&mut snap, keyring).await?;
    Ok(completed)
}

/// Lets the key ring know of every erasure that the store knows of. [`settle`] does it at each start;
/// this is for those who only look.
///
/// # Errors
/// [`EraseError::Store`].
pub async fn remember<R: Read>(snap: &mut R, keyring: &Keyring) -> Result<(), EraseError> {
    for (_, value) in snap.scan(ERASURES, vec![]..vec![], Order::Ascending, usize::MAX).await? {
        if let Ok(receipt) = record::decode::<Receipt>(&value) {
            note(keyring, &receipt);
        }
    }
    Ok(())
}

/// Opens every client's key, so that one that does not open is known from the start.
async fn look_through<R: Read>(snap: &mut R, keyring: &Keyring) -> Result<(), EraseError> {
    let mut rows = Rows::all(CLIENT_KEYS);
    while let Some((at, wrapped)) = rows.next(snap).await? {
        if let Ok(id) = at.as_slice().try_into()
            && keyring.unwrap(&ClientId::new(id), &wrapped).is_err()
        {
            keyring.note_lost(&ClientId::new(id));
        }
    }
    Ok(())
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

/// Step 2.
async fn raise<S: Store>(store: &S, bucket: u8, next: &BucketKey) -> Result<(), EraseError> {
    let held = store.snapshot().await?.get(KEY_EPOCHS, &[bucket]).await?;
    let generation = next.generation.to_be_bytes();
    let batch = Batch::new().expect(KEY_EPOCHS, [bucket], held);
    Ok(store.commit(batch.put(KEY_EPOCHS, [bucket], generation)).await?)
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
    if generation_of(epoch.as_deref()) != next.generation {
        return Ok(keyring.abandon(bucket, entropy)?);
    }
    let (batch, _) = renewal(store, keyring, (bucket, &next), None, entropy).await?;
    store.commit(batch).await?;
    Ok(keyring.finish(bucket, entropy)?)
}

/// What wraps everybody who is not yet wrapped under the new key of a bucket, but for the client
/// who is erased; and whether that one had a key. Nobody can join them any more: new clients are
/// wrapped under the new key, and keys go by erasures alone, of which there is one at a time.
async fn renewal<S: Store>(
    store: &S,
    keyring: &Keyring,
    (bucket, next): (u8, &BucketKey),
    erased: Option<&ClientId>,
    entropy: &mut Entropy<'_>,
) -> Result<(Batch, bool), EraseError> {
    let (mut batch, mut had_key) = (Batch::new(), false);
    let mut snap = store.snapshot().await?;
    let range = key::prefix_range(&[bucket]);
    let erased = erased.map(client_key_key);
    for (at, wrapped) in snap.scan(CLIENT_KEYS, range, Order::Ascending, usize::MAX).await? {
        if Some(&at) == erased.as_ref() {
            had_key = true;
            batch = batch.del(CLIENT_KEYS, at);
            continue;
        }
        let Ok(id) = at.as_slice().try_into() else { continue };
        let other = ClientId::new(id);
        if wrapped_under(&wrapped) == Some(next.generation) {
            continue;
        }
        match keyring.unwrap(&other, &wrapped) {
            Ok(key) => batch = batch.put(CLIENT_KEYS, at, wrap(next, &other, &key, entropy)?),
            // Lost before, and no reason to keep others from being forgotten: it stays as it is.
            Err(_) => keyring.note_lost(&other),
        }
    }
    Ok((batch, had_key))
}

/// The caller's batch with ours after it: the caller's preconditions keep their numbers.
fn joined(mut first: Batch, second: Batch) -> Batch {
    first.expect.extend(second.expect);
    first.ops.extend(second.ops);
    first.events.extend(second.events);
    first
}

/// Steps 5 and 6.
async fn complete<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    mut receipt: Receipt,
    entropy: &mut Entropy<'_>,
) -> Result<Receipt, EraseError> {
    let forgot = backup::forget(backups, &keyring.studio_key(), &receipt, entropy)?;
    for name in forgot.changed {
        if !receipt.backups.contains(&name) {
            receipt.backups.push(name);
        }
    }
    receipt.complete = forgot.unreached.is_empty();
    receipt.unreached = forgot.unreached;
    let ops = vec![Op::Put(ERASURES, receipt.id.clone().into(), record::encode(&receipt)?)];
    store.commit(Batch { ops, ..Batch::default() }).await?;
    Ok(receipt)
}
