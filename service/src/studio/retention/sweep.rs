//! Removing what is past its period.

use std::collections::BTreeSet;

use etui_craft::refusal::Refusal;
use etui_schema::retention::{RecordKind, Removed, Sweep, SweepRequest};
use etui_schema::vocabulary::{Instant, Reference};
use futures_util::future::join_all;
use uuid::Uuid;

use super::expired::{Expired, Item, unseen_of};
use super::{count, period, plan};
use crate::store::erasure::Erasure;
use crate::store::{Batch, Store, StoreError};
use crate::studio::appointment_checks::CheckTrace;
use crate::studio::days::start_of;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::sealed::{self, Trace};
use crate::studio::treatments::TreatmentTrace;
use crate::studio::vault::Subject;
use crate::studio::{Studio, appointment_checks, clients, erasures, forgetting, kinds, reminders};

/// Removes what was looked at. Each record goes in a batch of its own, so a
/// crash leaves nothing half removed, and the next sweep goes on. So does this
/// one after a record that cannot be removed, and says how many there were. The
/// batches wait for the disk together. A dry run only tells how many would go.
///
/// # Errors
/// [`Error::Conflict`] if something else would be removed than was looked at;
/// what the store met.
pub async fn sweep(
    studio: &Studio,
    moment: &Moment,
    request: &SweepRequest,
    dry_run: bool,
) -> Result<Sweep, Error> {
    studio.clock.check(moment.sources.as_ref())?;
    let mut snap = studio.engine.snapshot().await?;
    let plan = plan(studio, &mut snap, moment).await?;
    if plan.digest != request.digest {
        let why = "something else would be removed than was looked at; look again";
        return Err(Error::conflict(why).means(Refusal::Changed));
    }
    drop(snap);
    let mut removed = Vec::new();
    for expired in &plan.expired {
        let failed = if dry_run { 0 } else { remove_all(studio, moment, expired).await? };
        let records = count(expired).saturating_sub(failed);
        removed.push(Removed { kind: expired.kind.into(), records, failed });
    }
    let more = plan.expired.iter().any(|expired| expired.more);
    let more = more || removed.iter().any(|removed| 0 < removed.failed);
    Ok(Sweep { swept_at: Instant(moment.now), dry_run, removed, more })
}

/// Removes the records of one kind; how many cannot be.
async fn remove_all(studio: &Studio, moment: &Moment, expired: &Expired) -> Result<u32, Error> {
    let kind = expired.kind;
    let mut left: Vec<&Item> = expired.items.iter().collect();
    let mut failed: u32 = 0;
    for _ in 0..forgetting::MOST_TRIES {
        let mut changed = Vec::new();
        for (item, outcome) in remove(studio, moment, kind, left).await? {
            match outcome {
                // Gone already is as good.
                Ok(()) | Err(Error::NotFound { .. }) => {}
                Err(Error::Store(StoreError::Conflict { .. })) => changed.push(item),
                Err(error) => {
                    let reason = why_kept(error)?;
                    tracing::error!(reason, kind = %kind, "a record past its period cannot be removed");
                    failed += 1;
                }
            }
        }
        left = changed;
        if left.is_empty() {
            break;
        }
    }
    if !left.is_empty() {
        tracing::warn!(kind = %kind, "records past their period keep being changed");
    }
    let failed = failed + u32::try_from(left.len()).unwrap_or(u32::MAX);
    note(studio, moment, kind, count(expired).saturating_sub(failed)).await?;
    Ok(failed)
}

/// Why one record cannot be removed, if that says nothing of the others.
fn why_kept(error: Error) -> Result<String, Error> {
    match error {
        Error::Unreadable(why) | Error::Internal(why) => Ok(why),
        Error::Store(error @ StoreError::TooLarge { .. }) => Ok(error.to_string()),
        error @ (Error::NotFound { .. }
        | Error::Refused(_)
        | Error::Beyond(_)
        | Error::Conflict(..)
        | Error::Changed
        | Error::NeedsVersion
        | Error::Gone(_)
        | Error::Erased
        | Error::Held(_)
        | Error::Store(_)) => Err(error),
    }
}

/// Writes into the audit trail how many of a kind were removed.
async fn note(
    studio: &Studio,
    moment: &Moment,
    kind: RecordKind,
    records: u32,
) -> Result<(), Error> {
    if records == 0 {
        return Ok(());
    }
    let about = format!("retention/{kind}/{records}");
    let batch = Batch::new().audit(moment.entry("retention.sweep", &about, 0));
    Ok(studio.engine.commit(batch).await?)
}

/// What removes one record.
enum Removal {
    /// It is gone, or was seen since.
    Nothing,
    /// Its records alone.
    Records(Batch),
    /// A key with them.
    Key(Erasure),
}

/// Removes records; what became of each.
async fn remove<'a>(
    studio: &Studio,
    moment: &Moment,
    kind: RecordKind,
    items: Vec<&'a Item>,
) -> Result<Vec<(&'a Item, Result<(), Error>)>, Error> {
    let mut snap = studio.engine.snapshot().await?;
    // Seen since the plan was made: not now.
    let before = start_of(studio, period(&studio.keep, kind).before(moment.today));
    let clients: Vec<Reference> = items.iter().filter_map(|item| item.client().cloned()).collect();
    let unseen = unseen_of(studio, &mut snap, &clients, before).await?;
    let unseen: BTreeSet<Reference> = unseen.into_iter().collect();
    let mut outcomes = Vec::new();
    let (mut batches, mut erasures) = (Vec::new(), Vec::new());
    for item in items {
        match removal(studio, &mut snap, moment, (kind, item), &unseen).await {
            Ok(Removal::Nothing) => {}
            Ok(Removal::Records(batch)) => batches.push((item, batch)),
            Ok(Removal::Key(erasure)) => erasures.push((item, erasure)),
            Err(error) => outcomes.push((item, Err(error))),
        }
    }
    drop(snap);
    let (removed, batches): (Vec<_>, Vec<_>) = batches.into_iter().unzip();
    let done = join_all(batches.into_iter().map(|batch| studio.engine.commit(batch))).await;
    outcomes
        .extend(removed.into_iter().zip(done.into_iter().map(|done| done.map_err(Error::from))));
    if !erasures.is_empty() {
        let (erased, erasures) = erasures.into_iter().unzip::<_, _, Vec<_>, Vec<_>>();
        let done = forgetting::destroy(studio, moment, erasures).await?;
        let done = done.into_iter().map(|done| done.map(drop).map_err(Error::from));
        outcomes.extend(erased.into_iter().zip(done));
    }
    Ok(outcomes)
}

async fn removal(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    record: (RecordKind, &Item),
    unseen: &BTreeSet<Reference>,
) -> Result<Removal, Error> {
    Ok(match record {
        (_, Item::Client(client_ref)) if unseen.contains(client_ref) => {
            let held = clients::held(studio, snap, client_ref).await?;
            let client = (client_ref, held);
            Removal::Key(erasures::of(studio, snap, moment, client, "client.expire").await?)
        }
        (_, Item::Client(_)) => Removal::Nothing,
        (RecordKind::Reminders, Item::Record(id)) => {
            let batch = (Batch::new(), *id);
            Removal::Records(reminders::remove(studio, snap, moment, batch).await?)
        }
        (RecordKind::Checks, Item::Record(id)) => check(studio, moment, snap, *id).await?,
        (RecordKind::Traces | RecordKind::Health, Item::Record(id)) => {
            Removal::Records(treatment(studio, moment, snap, *id).await?)
        }
    })
}

/// A check; one that belongs to a booking alone takes the booking's key with it.
async fn check(
    studio: &Studio,
    moment: &Moment,
    snap: &mut Snap,
    id: Uuid,
) -> Result<Removal, Error> {
    let record = sealed::load::<CheckTrace>(snap, id).await?;
    let batch = sealed::remove::<CheckTrace>(&studio.keyring, snap, Batch::new(), id).await?;
    let subject = record.trace.subject();
    let has_key = studio.keyring.has_key(snap, &subject.id(studio)).await?;
    let last = appointment_checks::newest(studio, snap, &record.trace.booking_ref).await?;
    // An older check of the booking may have a younger one beside it.
    if !has_key || last != Some(id) || matches!(subject, Subject::Client(_)) {
        return Ok(Removal::Records(batch));
    }
    Ok(Removal::Key(forgetting::erasure_of(studio, moment, &subject, batch)?))
}

/// A treatment with its index rows, entries and reminders.
async fn treatment(
    studio: &Studio,
    moment: &Moment,
    snap: &mut Snap,
    id: Uuid,
) -> Result<Batch, Error> {
    let keyring = &*studio.keyring;
    let batch = sealed::remove::<TreatmentTrace>(keyring, snap, Batch::new(), id).await?;
    let batch = kinds::remove_of(keyring, snap, batch, id).await?;
    reminders::remove_of(studio, snap, moment, (batch, id)).await
}
