//! Removing reminders whose time to be kept is over.

use etui_schema::reminders::ReminderState;
use jiff::Timestamp;
use uuid::Uuid;

use super::stored::{self, REMINDERS, find, state_prefix};
use super::unwanted;
use crate::store::key::KeyReader;
use crate::store::{Batch, Order, Read};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::paging::broken;

/// States in which nothing more happens.
const ENDED: [ReminderState; 5] = [
    ReminderState::Delivered,
    ReminderState::Failed,
    ReminderState::Skipped,
    ReminderState::Overtaken,
    ReminderState::Cancelled,
];

/// At most so many reminders that came to their end and were due before an
/// instant, oldest first within each state.
///
/// # Errors
/// What the store met.
pub async fn closed_before(
    snap: &mut Snap,
    before: Timestamp,
    most: usize,
) -> Result<Vec<Uuid>, Error> {
    let mut ids = Vec::new();
    for state in ENDED {
        let mut range = state_prefix(state).prefix_range();
        range.end = state_prefix(state).instant(before).finish();
        for (key, _) in snap.scan(REMINDERS, range, Order::Ascending, most - ids.len()).await? {
            let mut reader = KeyReader::new(&key);
            let id = reader.text().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
            ids.push(id.ok_or_else(|| broken(REMINDERS))?);
        }
        if ids.len() == most {
            break;
        }
    }
    Ok(ids)
}

/// Adds to a batch that a reminder is gone; one that is not there stays so.
///
/// # Errors
/// What the store met.
pub async fn remove(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (batch, id): (Batch, Uuid),
) -> Result<Batch, Error> {
    let Some((old, bytes)) = find(snap, id).await? else { return Ok(batch) };
    let batch = unwanted::outlast(studio, snap, moment, (batch, &old)).await?;
    Ok(stored::remove(batch, (&old, bytes)))
}

/// Adds to a batch that every reminder of a treatment is gone.
///
/// # Errors
/// What the store met.
pub async fn remove_of(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (mut batch, treatment_id): (Batch, Uuid),
) -> Result<Batch, Error> {
    for (old, bytes) in stored::of(snap, treatment_id).await? {
        batch = unwanted::outlast(studio, snap, moment, (batch, &old)).await?;
        batch = stored::remove(batch, (&old, bytes));
    }
    Ok(batch)
}
