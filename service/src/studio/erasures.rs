//! Forgetting a client: the key of everything that was sealed is destroyed. What
//! the law wants traced (lots, dates, the pseudonymous reference) stays.

use etui_schema::clients::ErasureReceipt;
use etui_schema::vocabulary::{Instant, Reference};

use super::clients::{self, CLIENTS};
use super::error::Error;
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Precondition, to_json};
use super::vault::Subject;
use super::{Studio, clock, kept};
use crate::store::erasure::{self, EraseError, Erasure, Receipt};
use crate::store::{Batch, Bytes, Store, StoreError};

/// How often a record is tried that others keep changing.
pub(super) const MOST_TRIES: usize = 5;

/// Forgets a client: destroys the key of everything that was sealed. What the
/// law wants traced (lots, dates, the pseudonymous reference) stays. A dry run
/// only tells so. If the client's record is changed meanwhile, it is read again:
/// whoever names no version of it wants it gone whatever it says.
///
/// # Errors
/// [`Error::NotFound`] if nothing is kept of the client; a precondition that
/// does not hold; what the store met.
pub async fn erase(
    studio: &Studio,
    moment: &Moment,
    client_ref: &Reference,
    precondition: &Precondition,
    dry_run: bool,
) -> Result<ErasureReceipt, Error> {
    let mut tries = 1;
    loop {
        match erase_as_read(studio, moment, client_ref, precondition, dry_run).await {
            Err(Error::Store(StoreError::Conflict { .. })) if tries < MOST_TRIES => tries += 1,
            outcome => return outcome,
        }
    }
}

async fn erase_as_read(
    studio: &Studio,
    moment: &Moment,
    client_ref: &Reference,
    precondition: &Precondition,
    dry_run: bool,
) -> Result<ErasureReceipt, Error> {
    let mut snap = studio.engine.snapshot().await?;
    let known = match clients::read(studio, &mut snap, client_ref).await {
        // Nobody can read the record, so nobody can name its version: it can be forgotten.
        Err(Error::Unreadable(_)) => None,
        known => known?,
    };
    let id = Subject::Client(client_ref.clone()).id(studio);
    if known.is_none() && !studio.keyring.has_key(&mut snap, &id).await? {
        return Err(clients::missing(client_ref));
    }
    if let Some(known) = &known {
        precondition.check(Some(&to_json(&known.shown(studio))?))?;
    }
    let bytes = clients::held(studio, &mut snap, client_ref).await?;
    let kept_records = kept::of_client(studio, &mut snap, client_ref).await?;
    drop(snap);
    let receipt = if dry_run {
        None
    } else {
        let erasure = of(studio, moment, client_ref, bytes, "client.erase")?;
        Some(destroy_one(studio, moment, erasure).await?)
    };
    let (receipt_id, backups, not_reached) = receipt
        .map(|receipt| (Some(receipt.id), receipt.backups, receipt.unreached))
        .unwrap_or_default();
    Ok(ErasureReceipt {
        receipt_id,
        client_ref: client_ref.clone(),
        erased_at: Instant(moment.now),
        dry_run,
        unreadable: "date of birth, skin, answers, checks, what was recorded of treatments beyond the trace, \
                     observations, reviews and symptom reports"
            .to_owned(),
        kept: "what lies open of the records in `kept_records` (the reference, dates, lots and the other \
               members named there), so that a recalled lot can still be traced; the reference also in the \
               audit trail, in this receipt, and in events until they are cleared away"
            .to_owned(),
        backups,
        not_reached,
        kept_records,
    })
}

/// What forgets a client, if the record is as it was read (`held`).
///
/// # Errors
/// [`Error::Internal`].
pub(super) fn of(
    studio: &Studio,
    moment: &Moment,
    client_ref: &Reference,
    held: Option<Bytes>,
    what: &str,
) -> Result<Erasure, Error> {
    let key = clients::key_of(studio, client_ref);
    let happened = Happened::ClientChanged { client_ref: client_ref.clone() };
    let batch = outbox::add(Batch::new(), moment, happened)?
        .expect(CLIENTS, key.clone(), held)
        .del(CLIENTS, key)
        .audit(moment.entry(what, &format!("clients/{client_ref}"), 0));
    erasure_of(studio, moment, &Subject::Client(client_ref.clone()), batch)
}

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
