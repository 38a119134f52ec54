//! That a client does not want messages: a stop is one for all that is still to come to her.
//!
//! Whoever sends hears it of one message, also as the reply to one that went out. The others wait for
//! a person, who asks her and releases or skips them; what another claim has waits once it comes back.
//! So do those of her next treatments, until a person has released one. That others go out lifts nothing.

use etui_schema::reminders::{FailureReason, ReminderState};
use etui_schema::vocabulary::{Instant, Reference};

use super::sessions::MOST_TREATMENTS;
use super::stored::{self, OPEN, StoredReminder, replace};
use crate::store::Batch;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::{Studio, treatments};

/// Takes it that the client of this message wants none: a fact, whoever has the message now.
pub(super) fn refuse(reminder: &mut StoredReminder, is_held: bool, now: Instant) {
    if is_held {
        reminder.close(ReminderState::Failed, now);
    }
    reminder.stop();
    if matches!(reminder.state, ReminderState::Failed | ReminderState::Delivered) {
        reminder.reason = Some(FailureReason::Unwanted);
    }
}

/// Adds that what waits to be sent to the client of this message is held until a person releases it,
/// and what another claim has, once it comes back. What was released before counts no more.
///
/// # Errors
/// What the store met.
pub(super) async fn hold_others(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    refused: &StoredReminder,
) -> Result<Batch, Error> {
    let client_ref = &refused.client_ref;
    for id in treatments::latest_of_client(studio, snap, client_ref, MOST_TREATMENTS).await? {
        for (old, bytes) in stored::of(snap, id).await? {
            let mut next = old.clone();
            if OPEN.contains(&old.state) {
                next.stop();
            } else if old.wanted == Some(true) {
                next.wanted = None;
            }
            let is_new = (next.state, next.wanted) != (old.state, old.wanted);
            if is_new && old.id != refused.id {
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}

/// Whether she said that she does not want messages, and nobody has released one since.
///
/// # Errors
/// What the store met.
pub(super) async fn are_unwanted(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<bool, Error> {
    let (mut refused, mut released) = (false, false);
    for id in treatments::latest_of_client(studio, snap, client_ref, MOST_TREATMENTS).await? {
        for (one, _) in stored::of(snap, id).await? {
            // A build of before wrote the reason alone.
            let said = one.reason == Some(FailureReason::Unwanted);
            refused |= one.wanted == Some(false) || said;
            released |= one.wanted == Some(true);
        }
    }
    Ok(refused && !released)
}
