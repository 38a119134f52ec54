//! What is noticed by the clock: packs and sign-offs that near their end, messages,
//! reviews and countersignatures that are due.
//!
//! Each is told once. What is to be told waits in rows that are removed in the
//! batch of the event; lots and sign-offs, whose day is not known to anybody beforehand as
//! one to be told of, leave a mark instead. A sweep that is cut short, or runs
//! twice at the same time, tells nothing twice: the batches expect the rows
//! they remove and the marks they leave to be as they were read.

use jiff::Timestamp;

use super::error::Error;
use super::{Studio, countersignatures, idempotency, lots, reminders, sign_offs, subscriptions};
use crate::store::{Batch, Store, StoreError};

/// Most batches of one kind in one sweep; the next one goes on.
pub const MOST_BATCHES: usize = 200;
/// Most before the first request is answered: a long backlog keeps nobody waiting.
pub const MOST_BATCHES_AT_START: usize = 2;

/// Tells what is to be told now, in at most so many batches of each kind, and clears old events and old
/// idempotency keys away.
///
/// # Errors
/// What the store met; the next sweep goes on where this one stopped.
pub async fn run(studio: &Studio, now: Timestamp, most: usize) -> Result<(), Error> {
    let today = studio.zone.rules().to_datetime(now).date();
    repeat(studio, most, async |snap| reminders::tell_due(studio, snap, now).await).await?;
    repeat(studio, most, async |snap| reminders::tell_reviews(studio, snap, now).await).await?;
    repeat(studio, most, async |snap| lots::tell_expiring(studio, snap, today, now).await).await?;
    repeat(studio, most, async |snap| sign_offs::tell_lapsing(studio, snap, today, now).await)
        .await?;
    repeat(studio, most, async |snap| countersignatures::tell_due(studio, snap, now).await).await?;
    repeat(studio, most, async |snap| idempotency::forget(snap, now).await).await?;
    let mut snap = studio.engine.snapshot().await?;
    for batch in subscriptions::clear(&mut snap, now).await? {
        commit(studio, batch).await?;
    }
    Ok(())
}

/// Plans and commits until there is nothing left to tell.
async fn repeat<F>(studio: &Studio, most: usize, plan: F) -> Result<(), Error>
where
    F: AsyncFn(&mut super::engine::Snap) -> Result<Option<Batch>, Error>,
{
    for _ in 0..most {
        let mut snap = studio.engine.snapshot().await?;
        let Some(batch) = plan(&mut snap).await? else { return Ok(()) };
        commit(studio, batch).await?;
    }
    Ok(())
}

async fn commit(studio: &Studio, batch: Batch) -> Result<(), Error> {
    match studio.engine.commit(batch).await {
        // Somebody was faster: what is left is found anew.
        Ok(()) | Err(StoreError::Conflict { .. }) => Ok(()),
        Err(error) => Err(error.into()),
    }
}
