//! Erasing clients: the destruction of every key that could open what is sealed.
//!
//! # Steps
//!
//! Any number of clients are erased together; each step waits for the disk once,
//! however many there are.
//!
//! 1. A new key for each of their buckets is drawn and put beside the old one in
//!    the key ring's file.
//! 2. The buckets' generations go up in the store: from here on new clients are
//!    wrapped under the new keys, and the old ones get no more of them.
//! 3. One durable batch a client: the erased client's key is removed, the
//!    caller's own changes happen (its records deleted or reduced to what the law
//!    wants kept), a receipt is stored. Beside them one a bucket: whoever else is
//!    still wrapped under the old key is wrapped under the new one.
//! 4. The file is rewritten without the old bucket keys. **From here on the
//!    clients' keys cannot be opened by anybody**, whatever old copies of them lie
//!    in the log or on a lost disk.
//! 5. The clients' keys are taken out of the companions of all backups.
//! 6. The receipts are completed.
//!
//! An erasure that is refused at step 3 (one of the caller's preconditions does
//! not hold) keeps none of the others from being done: its client is wrapped anew
//! before step 4, and there is no receipt.
//!
//! Where the key ring lies in the store ([`in_store`]) the first four steps are one batch.
//!
//! A crash between steps is settled at the next start ([`settle`]): where the
//! generation did not go up, nothing has happened and the new bucket key is
//! dropped; where it did, whoever is still wrapped under the old key is wrapped
//! anew, the old key is destroyed, and the receipts that are there are completed.

mod in_store;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use futures_util::future::{join, join_all};
use jiff::Timestamp;

use super::{
    Batch, Bytes, Order, Read, Store, StoreError,
    backup::{self, BackupError},
    folders, key,
    keyring::{
        BucketKey, CLIENT_KEYS, KEY_EPOCHS, Keyring, KeyringError, bucket_of, client_key_key,
        generation_of, wrap, wrapped_under,
    },
    progress,
    receipts::{self, ERASURES, Receipt},
    record::{self, RecordError},
    rows::Rows,
    seal::{ClientId, Entropy},
};

/// What is to be erased.
pub struct Erasure {
    /// Whose key is destroyed.
    pub client: ClientId,
    /// Id of the receipt.
    pub receipt_id: String,
    /// When; not before what the store knows, or records of a clock that ran ahead would be taken
    /// for damaged ones.
    pub at: Timestamp,
    /// The caller's own changes, preconditions and audit entry: one batch with the key's removal.
    pub batch: Batch,
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

/// Erases clients together. `backups` is the folder of the backups. What became of each stands at
/// its place. May be called again for the same client; it then reaches what the first call did not.
///
/// # Errors
/// At its place [`StoreError::Conflict`]: of that one nothing happened. Otherwise the erasures may be
/// under way and are finished by the next call or the next [`settle`].
pub async fn erase_all<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    erasures: Vec<Erasure>,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<Result<Receipt, StoreError>>, EraseError> {
    let _one = keyring.changing.lock().await;
    if keyring.is_in_store() {
        // Whatever became of the list, the backups beside this process are reached.
        folders::enter_again(store, keyring, backups, entropy).await?;
        let mut outcomes = Vec::with_capacity(erasures.len());
        for erasure in erasures {
            outcomes.push(in_store::erase(store, keyring, erasure, entropy).await?);
        }
        // Every key is destroyed by now: what a folder refuses stands on the receipts.
        if let Err(error) = folders::work_off(store, keyring, backups, entropy).await {
            tracing::error!(reason = %error, "an erasure has not reached the backups yet");
        }
        in_store::read_again(store, &mut outcomes).await?;
        return Ok(outcomes);
    }
    let clients: Vec<ClientId> = erasures.iter().map(|erasure| erasure.client).collect();
    let buckets: BTreeSet<u8> = clients.iter().map(bucket_of).collect();
    settle_buckets(store, keyring, buckets.iter().copied(), entropy).await?;
    let next = keyring.begin(&buckets, entropy)?;
    raise(store, &next).await?;

    let had_keys = keyring.have_keys(&mut store.snapshot().await?, &clients).await?;
    let mut asked = Vec::new();
    let mut receipts = Vec::new();
    for (erasure, had_key) in erasures.into_iter().zip(had_keys) {
        let receipt = Receipt {
            id: erasure.receipt_id,
            at: erasure.at.to_string(),
            client: erasure.client.hex(),
            had_key,
            complete: false,
            backups: Vec::new(),
            unreached: Vec::new(),
        };
        let batch = erasure.batch.put(ERASURES, receipt.id.clone(), record::encode(&receipt)?);
        asked.push(batch.del(CLIENT_KEYS, client_key_key(&erasure.client)));
        receipts.push(receipt);
    }
    let erased = clients.iter().map(client_key_key).collect();
    let renewals = renewals(&mut store.snapshot().await?, keyring, &next, &erased, entropy).await?;
    let commit = |batch: Batch| store.commit(batch);
    let (done, renewed) =
        join(join_all(asked.into_iter().map(commit)), join_all(renewals.into_iter().map(commit)))
            .await;
    for outcome in renewed {
        outcome?;
    }
    let mut outcomes = Vec::new();
    for (receipt, outcome) in receipts.into_iter().zip(done) {
        match outcome {
            Err(error @ StoreError::Unknown(_)) => return Err(error.into()),
            outcome => outcomes.push(outcome.map(|()| receipt)),
        }
    }
    if outcomes.iter().all(Result::is_ok) {
        keyring.finish(&buckets, entropy)?;
    } else {
        settle_buckets(store, keyring, buckets.into_iter(), entropy).await?;
    }
    let receipts = outcomes.iter_mut().flatten();
    complete(store, keyring, backups, receipts.collect(), entropy).await?;
    Ok(outcomes)
}

/// Lets the key ring know of an erasure that is durable.
fn note(keyring: &Keyring, receipt: &Receipt) {
    if let Some((client, at)) = receipt.names() {
        keyring.note_erased(&client, at);
    }
}

/// Finishes what a crash left half done. Call it at each start, before anything else is served.
/// Answers the receipts that were completed.
///
/// # Errors
/// [`KeyringError::Missing`] when the store has clients' keys and the key ring was made anew;
/// otherwise as [`erase_all`].
pub async fn settle<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<Receipt>, EraseError> {
    let one = keyring.changing.lock().await;
    check_belongs(store, keyring).await?;
    if let Err(error) = backup::finish_change(keyring, backups, entropy) {
        // The key ring is under the new key already; the old one is kept until the rest is.
        tracing::error!(reason = %error, "a change of the studio's key cannot be finished");
    }
    settle_buckets(store, keyring, 0..=u8::MAX, entropy).await?;
    let mut snap = store.snapshot().await?;
    let mut open = Vec::new();
    for receipt in receipts::all(&mut snap).await? {
        note(keyring, &receipt);
        if !receipt.complete {
            open.push(receipt);
        }
    }
    if keyring.is_in_store() {
        drop(one);
        catch_up(store, keyring, backups, entropy).await?;
    } else {
        complete(store, keyring, backups, open.iter_mut().collect(), entropy).await?;
    }
    look_through(&mut snap, keyring).await?;
    Ok(open)
}

/// Lets the backups in a folder hear of erasures that other processes did.
///
/// # Errors
/// [`EraseError::Backup`].
pub async fn catch_up<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    entropy: &mut Entropy<'_>,
) -> Result<(), EraseError> {
    let _one = keyring.changing.lock().await;
    if !backup::list(backups).map_err(BackupError::from)?.is_empty() {
        folders::enter(store, keyring, backups, entropy).await?;
    }
    Ok(folders::work_off(store, keyring, backups, entropy).await?)
}

/// Opens every client's key, so that one that does not open is known from the start.
async fn look_through<R: Read>(snap: &mut R, keyring: &Keyring) -> Result<(), EraseError> {
    let own = keyring.of_view(snap).await?;
    let own = own.as_ref().map_or(keyring, |(ring, _)| ring);
    let mut rows = Rows::all(CLIENT_KEYS);
    while let Some((at, wrapped)) = rows.next(snap).await? {
        if let Ok(id) = at.as_slice().try_into()
            && own.unwrap(&ClientId::new(id), &wrapped).is_err()
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
async fn raise<S: Store>(store: &S, next: &BTreeMap<u8, BucketKey>) -> Result<(), EraseError> {
    let places: Vec<Bytes> = next.keys().map(|bucket| vec![*bucket]).collect();
    let held = store.snapshot().await?.get_many(KEY_EPOCHS, &places).await?;
    let risen = next.values().map(|key| key.generation.to_be_bytes());
    let mut batch = Batch::new();
    for ((place, held), risen) in places.into_iter().zip(held).zip(risen) {
        batch = batch.expect(KEY_EPOCHS, place.clone(), held).put(KEY_EPOCHS, place, risen);
    }
    Ok(store.commit(batch).await?)
}

/// Decides buckets with two keys by their generations in the store.
async fn settle_buckets<S: Store>(
    store: &S,
    keyring: &Keyring,
    buckets: impl Iterator<Item = u8>,
    entropy: &mut Entropy<'_>,
) -> Result<(), EraseError> {
    let open = buckets.filter_map(|bucket| Some((bucket, keyring.next(bucket)?)));
    let open: BTreeMap<u8, BucketKey> = open.collect();
    if open.is_empty() {
        return Ok(());
    }
    let places: Vec<Bytes> = open.keys().map(|bucket| vec![*bucket]).collect();
    let epochs = store.snapshot().await?.get_many(KEY_EPOCHS, &places).await?;
    let (mut risen, mut dropped) = (BTreeMap::new(), BTreeSet::new());
    for ((bucket, next), epoch) in open.into_iter().zip(epochs) {
        if generation_of(epoch.as_deref()) == next.generation {
            risen.insert(bucket, next);
        } else {
            dropped.insert(bucket);
        }
    }
    if !dropped.is_empty() {
        keyring.abandon(&dropped, entropy)?;
    }
    if !risen.is_empty() {
        let mut snap = store.snapshot().await?;
        let batches = renewals(&mut snap, keyring, &risen, &BTreeSet::new(), entropy).await?;
        drop(snap);
        for batch in batches {
            store.commit(batch).await?;
        }
        keyring.finish(&risen.into_keys().collect(), entropy)?;
    }
    Ok(())
}

/// What wraps everybody who is not yet wrapped under the new key of a bucket, but for those who are
/// erased: a batch a bucket, where there is anybody. Nobody can join them any more: new clients are
/// wrapped under the new key, and keys go by erasures alone, which come one group at a time.
async fn renewals<R: Read>(
    snap: &mut R,
    keyring: &Keyring,
    next: &BTreeMap<u8, BucketKey>,
    erased: &BTreeSet<Bytes>,
    entropy: &mut Entropy<'_>,
) -> Result<Vec<Batch>, EraseError> {
    let mut batches = Vec::new();
    for (bucket, next) in next {
        let mut batch = Batch::new();
        let range = key::prefix_range(&[*bucket]);
        let keys = snap.scan(CLIENT_KEYS, range, Order::Ascending, usize::MAX).await?;
        progress::expect(keys.len() as u64);
        for (at, wrapped) in keys {
            progress::records(1);
            let Ok(id) = at.as_slice().try_into() else { continue };
            let other = ClientId::new(id);
            if erased.contains(&at) || wrapped_under(&wrapped) == Some(next.generation) {
                continue;
            }
            match keyring.unwrap(&other, &wrapped) {
                Ok(key) => batch = batch.put(CLIENT_KEYS, at, wrap(next, &other, &key, entropy)?),
                // Lost before, and no reason to keep others from being forgotten: it stays as it is.
                Err(_) => keyring.note_lost(&other),
            }
        }
        if !batch.ops.is_empty() {
            batches.push(batch);
        }
    }
    Ok(batches)
}

/// Steps 5 and 6.
async fn complete<S: Store>(
    store: &S,
    keyring: &Keyring,
    backups: &Path,
    mut receipts: Vec<&mut Receipt>,
    entropy: &mut Entropy<'_>,
) -> Result<(), EraseError> {
    if receipts.is_empty() {
        return Ok(());
    }
    receipts.iter().for_each(|receipt| note(keyring, receipt));
    let forgot = backup::forget(backups, &keyring.studio_key(), &receipts, entropy)?;
    let mut batch = Batch::new();
    for (receipt, forgot) in receipts.iter_mut().zip(forgot) {
        for name in forgot.changed {
            if !receipt.backups.contains(&name) {
                receipt.backups.push(name);
            }
        }
        receipt.complete = forgot.unreached.is_empty();
        receipt.unreached = forgot.unreached;
        batch = batch.put(ERASURES, receipt.id.clone(), record::encode(&**receipt)?);
    }
    Ok(store.commit(batch).await?)
}
