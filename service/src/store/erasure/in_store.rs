//! Erasing where the key ring lies in the store: each erasure is one batch, with the
//! new ring, the keys of the others in the bucket and the caller's own changes. What
//! another process did meanwhile makes it start from what lies there now.

use std::collections::{BTreeMap, BTreeSet};

use super::{EraseError, Erasure, note, renewals};
use crate::store::folders::{self, Folders};
use crate::store::keyring::{
    CLIENT_KEYS, KEY_EPOCHS, Keyring, KeyringError, bucket_of, client_key_key,
};
use crate::store::receipts::{ERASURES, Receipt};
use crate::store::record;
use crate::store::seal::Entropy;
use crate::store::shared::{FOLDERS, RING, SHARED, newest};
use crate::store::{Bytes, Read, Store, StoreError};

/// How often an erasure begins anew because another process was faster: of those who meet one is
/// always done.
const MOST_TRIES: usize = 200;

/// Erases one client.
///
/// # Errors
/// Whatever kept it from being done; within, a precondition of the caller that does not hold.
pub(super) async fn erase<S: Store>(
    store: &S,
    keyring: &Keyring,
    erasure: Erasure,
    entropy: &mut Entropy<'_>,
) -> Result<Result<Receipt, StoreError>, EraseError> {
    let own = erasure.batch.expect.len();
    for _ in 0..MOST_TRIES {
        let mut snap = store.snapshot().await?;
        let (own_ring, ring) = keyring.of_view(&mut snap).await?.ok_or(KeyringError::Missing)?;
        let folders = snap.get(SHARED, FOLDERS).await?;
        let key = client_key_key(&erasure.client);
        let receipt = receipt_of(&erasure, &mut snap, &key, folders.as_deref()).await?;
        let bucket = bucket_of(&erasure.client);
        let (next, renewal) = own_ring.renewed(bucket, entropy)?;
        let mut batch = erasure.batch.clone();
        for (space, key, held) in [
            (SHARED, RING.to_vec(), Some(ring)),
            (SHARED, FOLDERS.to_vec(), folders.clone()),
            (SHARED, newest(bucket), snap.get(SHARED, &newest(bucket)).await?),
            (KEY_EPOCHS, vec![bucket], snap.get(KEY_EPOCHS, &[bucket]).await?),
        ] {
            batch = batch.expect(space, key, held);
        }
        batch = batch
            .put(SHARED, RING, renewal.row.clone())
            .put(KEY_EPOCHS, [bucket], next.generation.to_be_bytes())
            .put(ERASURES, receipt.id.clone(), record::encode(&receipt)?)
            .del(CLIENT_KEYS, key.clone());
        for name in Folders::read(folders.as_deref())?.names() {
            batch = batch.put(SHARED, folders::row(name, &receipt.id), *b"1");
        }
        let others = BTreeMap::from([(bucket, next)]);
        for renewed in
            renewals(&mut snap, &own_ring, &others, &BTreeSet::from([key]), entropy).await?
        {
            batch.ops.extend(renewed.ops);
        }
        drop(snap);
        match store.commit(batch).await {
            Ok(()) => {
                note(keyring, &receipt);
                keyring.renew(renewal);
                return Ok(Ok(receipt));
            }
            Err(StoreError::Conflict { index, space }) if index < own => {
                return Ok(Err(StoreError::Conflict { index, space }));
            }
            Err(StoreError::Conflict { .. }) => {}
            Err(error) => return Err(error.into()),
        }
    }
    let why = "others keep erasing at the same time; try again";
    Err(StoreError::Unavailable(why.into()).into())
}

/// The receipt as it is committed: no backup has heard of it yet.
async fn receipt_of<R: Read>(
    erasure: &Erasure,
    snap: &mut R,
    key: &Bytes,
    folders: Option<&[u8]>,
) -> Result<Receipt, EraseError> {
    let unreached = Folders::read(folders)?.labels();
    Ok(Receipt {
        id: erasure.receipt_id.clone(),
        at: erasure.at.to_string(),
        client: erasure.client.hex(),
        had_key: snap.get(CLIENT_KEYS, key).await?.is_some(),
        complete: unreached.is_empty(),
        backups: Vec::new(),
        unreached,
    })
}

/// The receipts as they are stored by now, in place of how they were committed.
pub(super) async fn read_again<S: Store>(
    store: &S,
    outcomes: &mut [Result<Receipt, StoreError>],
) -> Result<(), EraseError> {
    let mut snap = store.snapshot().await?;
    for receipt in outcomes.iter_mut().flatten() {
        if let Some(stored) = snap.get(ERASURES, receipt.id.as_bytes()).await? {
            *receipt = record::decode(&stored)?;
        }
    }
    Ok(())
}
