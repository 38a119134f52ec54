//! That a client does not want messages: a stop is one for all that is still to come to her.
//!
//! Whoever sends hears it of one message. The others wait for a person, who asks her and releases or
//! skips them; so do those of her next treatment, until one has gone out after it again.

use etui_schema::reminders::{FailureReason, ReminderState};
use etui_schema::vocabulary::Reference;

use super::stored::{self, StoredReminder, replace};
use crate::store::Batch;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::{Studio, treatments};

/// Most treatments of a client whose messages are held, the latest first: those of earlier ones are over.
const HELD: usize = 20;
/// Treatments whose messages tell whether she wants any: the one at hand and the one before.
const TOLD: usize = 2;

/// Whether a message was closed because she does not want any.
pub(super) fn was_refused(reminder: &StoredReminder) -> bool {
    reminder.state == ReminderState::Failed && reminder.reason == Some(FailureReason::Unwanted)
}

/// Adds that what waits to be sent to the client of this message is held until a person releases it.
/// What another claim has is on its way.
///
/// # Errors
/// What the store met.
pub(super) async fn hold_others(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    refused: &StoredReminder,
) -> Result<Batch, Error> {
    let ids = treatments::latest_of_client(studio, snap, &refused.client_ref, HELD).await?;
    for id in ids {
        for (old, bytes) in stored::of(snap, id).await? {
            let waits = matches!(old.state, ReminderState::Scheduled | ReminderState::Paused);
            if waits && old.id != refused.id {
                let mut next = old.clone();
                next.hold();
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}

/// Whether she said lately that she does not want messages, and none has gone out since.
///
/// # Errors
/// What the store met.
pub(super) async fn are_unwanted(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<bool, Error> {
    let (mut refused, mut sent) = (None, None);
    for id in treatments::latest_of_client(studio, snap, client_ref, TOLD).await? {
        for (one, _) in stored::of(snap, id).await? {
            if was_refused(&one) {
                refused = refused.max(one.closed_at);
            } else if one.state == ReminderState::Delivered {
                sent = sent.max(one.closed_at);
            }
        }
    }
    Ok(refused.is_some() && sent < refused)
}
