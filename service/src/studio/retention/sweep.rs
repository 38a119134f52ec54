//! Removing what is past its period.

use etui_schema::retention::{RecordKind, Removed, Sweep, SweepRequest};
use etui_schema::vocabulary::Instant;
use uuid::Uuid;

use super::expired::{Expired, Item, unseen_of};
use super::{count, period, plan};
use crate::store::erasure::{self, Erasure};
use crate::store::{Batch, Store, StoreError};
use crate::studio::appointment_checks::CheckTrace;
use crate::studio::days::start_of;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::sealed::{self, Trace};
use crate::studio::treatments::TreatmentTrace;
use crate::studio::vault::Subject;
use crate::studio::{Studio, appointment_checks, erasures, kinds, reminders};

/// Removes what was looked at. Each record goes in a batch of its own, so a
/// crash leaves nothing half removed, and the next sweep goes on. So does this
/// one after a record that cannot be removed, and says how many there were. A dry
/// run only tells how many would go.
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
        return Err(Error::Conflict(
            "something else would be removed than was looked at; look again".to_owned(),
        ));
    }
    drop(snap);
    let mut removed = Vec::new();
    for expired in &plan.expired {
        let failed = if dry_run { 0 } else { remove_all(studio, moment, expired).await? };
        let records = count(expired).saturating_sub(failed);
        removed.push(Removed { kind: expired.kind, records, failed });
    }
    let more = plan.expired.iter().any(|expired| expired.more);
    let more = more || removed.iter().any(|removed| 0 < removed.failed);
    Ok(Sweep { swept_at: Instant(moment.now), dry_run, removed, more })
}

/// Removes the records of one kind; how many cannot be.
async fn remove_all(studio: &Studio, moment: &Moment, expired: &Expired) -> Result<u32, Error> {
    let mut failed = 0;
    for item in &expired.items {
        if !is_removed(studio, moment, expired.kind, item).await? {
            failed += 1;
        }
    }
    note(studio, moment, expired.kind, count(expired).saturating_sub(failed)).await?;
    Ok(failed)
}

/// How often a record is tried that others keep changing.
const MOST_TRIES: usize = 5;

/// Removes one record; `false` if that one cannot be removed now.
async fn is_removed(
    studio: &Studio,
    moment: &Moment,
    kind: RecordKind,
    item: &Item,
) -> Result<bool, Error> {
    for _ in 0..MOST_TRIES {
        let error = match remove(studio, moment, kind, item).await {
            // Gone already is as good.
            Ok(()) | Err(Error::NotFound { .. }) => return Ok(true),
            Err(Error::Store(StoreError::Conflict { .. })) => continue,
            Err(error) => error,
        };
        let why = match error {
            Error::Unreadable(why) | Error::Internal(why) => why,
            Error::Store(error @ StoreError::TooLarge { .. }) => error.to_string(),
            error @ (Error::NotFound { .. }
            | Error::Refused(_)
            | Error::Conflict(_)
            | Error::Changed
            | Error::NeedsVersion
            | Error::Gone(_)
            | Error::Erased
            | Error::Held(_)
            | Error::Store(_)) => return Err(error),
        };
        tracing::error!(reason = why, kind = %kind, "a record past its period cannot be removed");
        return Ok(false);
    }
    tracing::warn!(kind = %kind, "a record past its period keeps being changed");
    Ok(false)
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

async fn remove(
    studio: &Studio,
    moment: &Moment,
    kind: RecordKind,
    item: &Item,
) -> Result<(), Error> {
    let mut snap = studio.engine.snapshot().await?;
    let batch = match (kind, item) {
        (_, Item::Client(client_ref)) => {
            // Seen since the plan was made: not now.
            let before = start_of(studio, period(&studio.keep, kind).before(moment.today));
            let client = std::slice::from_ref(client_ref);
            if unseen_of(studio, &mut snap, client, before).await?.is_empty() {
                return Ok(());
            }
            drop(snap);
            return erasures::expire(studio, moment, client_ref).await;
        }
        (RecordKind::Reminders, Item::Record(id)) => {
            reminders::remove(&mut snap, Batch::new(), *id).await?
        }
        (RecordKind::Checks, Item::Record(id)) => {
            return check(studio, moment, snap, *id).await;
        }
        (RecordKind::Traces | RecordKind::Health, Item::Record(id)) => {
            treatment(studio, &mut snap, *id).await?
        }
    };
    drop(snap);
    Ok(studio.engine.commit(batch).await?)
}

/// Removes a check; one that belongs to a booking alone takes the booking's key
/// with it.
async fn check(studio: &Studio, moment: &Moment, mut snap: Snap, id: Uuid) -> Result<(), Error> {
    let record = sealed::load::<CheckTrace>(&mut snap, id).await?;
    let batch = sealed::remove::<CheckTrace>(&studio.keyring, &mut snap, Batch::new(), id).await?;
    let subject = record.trace.subject();
    let has_key = studio.keyring.has_key(&mut snap, &subject.id(studio)).await?;
    let last = appointment_checks::newest(studio, &mut snap, &record.trace.booking_ref).await?;
    drop(snap);
    // An older check of the booking may have a younger one beside it.
    if !has_key || last != Some(id) || matches!(subject, Subject::Client(_)) {
        return Ok(studio.engine.commit(batch).await?);
    }
    let erasure = Erasure {
        client: subject.id(studio),
        receipt_id: moment.id()?.to_string(),
        at: moment.now.to_string(),
        batch,
    };
    let entropy = &mut moment.entropy();
    let (store, keyring) = (&studio.engine, &studio.keyring);
    erasure::erase(store, keyring, &studio.backups, erasure, entropy).await?;
    Ok(())
}

/// A treatment with its index rows, entries and reminders.
async fn treatment(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<Batch, Error> {
    let keyring = &*studio.keyring;
    let batch = sealed::remove::<TreatmentTrace>(keyring, snap, Batch::new(), id).await?;
    let batch = kinds::remove_of(keyring, snap, batch, id).await?;
    reminders::remove_of(snap, batch, id).await
}
