//! Forgetting a client: the key of everything that was sealed is destroyed. What
//! the law wants traced (lots, dates, the pseudonymous reference) stays.

use etui_schema::clients::ErasureReceipt;
use etui_schema::vocabulary::{Instant, Reference};

use super::calendars;
use super::clients::{self, CLIENTS};
use super::engine::Snap;
use super::error::Error;
use super::forgetting::{MOST_TRIES, destroy_one, erasure_of};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Precondition, to_json};
use super::vault::Subject;
use super::{Studio, kept};
use crate::store::erasure::Erasure;
use crate::store::{Batch, Bytes, Store, StoreError};

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
    let erasure = of(studio, &mut snap, moment, (client_ref, bytes), "client.erase").await?;
    drop(snap);
    let receipt = if dry_run { None } else { Some(destroy_one(studio, moment, erasure).await?) };
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
               audit trail, in this receipt, and in events and what is noted of their deliveries until they are \
               cleared away, and for a day in what a repeat of a call is known by"
            .to_owned(),
        backups,
        not_reached,
        kept_records,
    })
}

/// What forgets a client, if the record is as it was read (`held`). Her calendars close: the
/// path must not show whoever has her reference after her.
///
/// # Errors
/// [`Error::Internal`], and what the store met.
pub(super) async fn of(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (client_ref, held): (&Reference, Option<Bytes>),
    what: &str,
) -> Result<Erasure, Error> {
    let key = clients::key_of(studio, client_ref);
    let happened = Happened::client(client_ref.clone());
    let batch = calendars::closed_of_client(snap, Batch::new(), client_ref).await?;
    let batch = outbox::add(batch, moment, happened)?
        .expect(CLIENTS, key.clone(), held)
        .del(CLIENTS, key)
        .audit(moment.entry(what, &format!("clients/{client_ref}"), 0));
    erasure_of(studio, moment, &Subject::Client(client_ref.clone()), batch)
}
