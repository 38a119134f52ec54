//! The destruction of keys, whoever's they are: what it takes, and what became of it.

use super::error::Error;
use super::moment::Moment;
use super::vault::Subject;
use super::{Studio, clock};
use crate::store::erasure::{self, EraseError, Erasure};
use crate::store::receipts::Receipt;
use crate::store::{Batch, Store, StoreError};

/// How often a record is tried that others keep changing.
pub(super) const MOST_TRIES: usize = 5;

/// What destroys the key of a subject, with the caller's own changes.
///
/// # Errors
/// [`Error::Internal`].
pub(super) fn erasure_of(
    studio: &Studio,
    moment: &Moment,
    subject: &Subject,
    batch: Batch,
) -> Result<Erasure, Error> {
    let receipt_id = moment.id()?.to_string();
    Ok(Erasure { client: subject.id(studio), receipt_id, at: moment.now, batch })
}

/// Destroys the keys; what became of each erasure stands at its place.
///
/// # Errors
/// What the store met.
pub(super) async fn destroy(
    studio: &Studio,
    moment: &Moment,
    erasures: Vec<Erasure>,
) -> Result<Vec<Result<Receipt, StoreError>>, Error> {
    let (store, keyring) = (&studio.engine, &studio.keyring);
    let entropy = &mut moment.entropy();
    let erasures = dated(studio, erasures).await?;
    Ok(erasure::erase_all(store, keyring, &studio.backups, erasures, entropy).await?)
}

/// Puts no erasure before what the store knows: records of a clock that ran ahead are erased with
/// all others, and what former builds sealed is told as erased by its time.
async fn dated(studio: &Studio, mut erasures: Vec<Erasure>) -> Result<Vec<Erasure>, Error> {
    if let Some(newest) = clock::newest(&mut studio.engine.snapshot().await?).await? {
        for erasure in &mut erasures {
            erasure.at = erasure.at.max(newest);
        }
    }
    Ok(erasures)
}

/// Destroys one key.
///
/// # Errors
/// What the store met; a precondition of the erasure that does not hold.
pub(super) async fn destroy_one(
    studio: &Studio,
    moment: &Moment,
    erasure: Erasure,
) -> Result<Receipt, Error> {
    let mut outcomes = destroy(studio, moment, vec![erasure]).await?;
    let none = || Err(StoreError::Unknown("of an erasure".to_owned()));
    Ok(outcomes.pop().unwrap_or_else(none)?)
}

impl From<EraseError> for Error {
    #[expect(clippy::wildcard_enum_match_arm, reason = "every other failure is ours alone")]
    fn from(error: EraseError) -> Self {
        match error {
            EraseError::Store(error) => Self::Store(error),
            other => Self::Internal(other.to_string()),
        }
    }
}
