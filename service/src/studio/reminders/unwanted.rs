//! That a client does not want messages: a stop is one for all that is still to come to her.
//!
//! Whoever sends hears it of one message, also as the reply to one that went out. The others wait for
//! a person, who asks her and releases or skips them; what another claim has waits once it comes back.
//! So do those of her next treatments, until a person has released one. That others go out lifts nothing.
//!
//! What she said is kept by itself, under her pseudonym and without her reference: it outlasts the messages
//! of which it was said, her treatments and an erasure, which forgets what she told and not that she asked
//! to be left alone. Former builds kept it with the messages; what those say is kept when they go.

use etui_schema::reminders::{FailureReason, ReminderState};
use etui_schema::vocabulary::{Instant, Reference};
use serde::{Deserialize, Serialize};

use super::sessions::MOST_TREATMENTS;
use super::stored::{self, OPEN, StoredReminder, replace};
use crate::store::record::{Record, decode, encode};
use crate::store::{Batch, Read, Space};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::opener::Verified;
use crate::studio::{Studio, clients, treatments};

/// Whether a client wants messages, as she or a person at the studio said it last.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub struct StoredStop {
    wanted: bool,
    since: Instant,
}

impl Record for StoredStop {
    const KIND: &'static str = "message stop";
}

impl Verified for StoredStop {
    const SPACE: Space = Space::new("message-stops");
}

/// What is kept of whether a client wants messages, if anything is.
///
/// # Errors
/// What the store met.
pub async fn stop_of(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<StoredStop>, Error> {
    let held = snap.get(StoredStop::SPACE, &clients::key_of(studio, client_ref)).await?;
    Ok(held.map(|bytes| decode(&bytes)).transpose()?)
}

/// Whether a client wants messages, if that is kept by itself; what cannot be read lets none go out.
///
/// # Errors
/// What the store met.
pub(super) async fn is_wanted(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<bool>, Error> {
    let held = readable(stop_of(studio, snap, client_ref).await)?;
    Ok(held.map_or(Some(false), |stop| stop.map(|stop| stop.wanted)))
}

/// Adds that she wants messages, or none.
pub(super) fn keep(
    studio: &Studio,
    moment: &Moment,
    batch: Batch,
    (client_ref, wanted): (&Reference, bool),
) -> Result<Batch, Error> {
    let stop = StoredStop { wanted, since: Instant(moment.now) };
    Ok(batch.put(StoredStop::SPACE, clients::key_of(studio, client_ref), encode(&stop)?))
}

/// Adds to the batch in which a message goes what it says of her wish, where that is kept nowhere else.
///
/// # Errors
/// What the store met.
pub(super) async fn outlast(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (batch, gone): (Batch, &StoredReminder),
) -> Result<Batch, Error> {
    if gone.wanted.is_none() && gone.reason != Some(FailureReason::Unwanted) {
        return Ok(batch);
    }
    let client_ref = &gone.client_ref;
    if is_wanted(studio, snap, client_ref).await?.is_some() {
        return Ok(batch);
    }
    let wanted = !are_unwanted(studio, snap, client_ref).await?;
    let batch = batch.expect(StoredStop::SPACE, clients::key_of(studio, client_ref), None);
    keep(studio, moment, batch, (client_ref, wanted))
}

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
    moment: &Moment,
    (batch, refused): (Batch, &StoredReminder),
) -> Result<Batch, Error> {
    let client_ref = &refused.client_ref;
    let mut batch = batch;
    if is_wanted(studio, snap, client_ref).await? != Some(false) {
        batch = keep(studio, moment, batch, (client_ref, false))?;
    }
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
    if let Some(wanted) = is_wanted(studio, snap, client_ref).await? {
        return Ok(!wanted);
    }
    let (mut refused, mut released) = (false, false);
    for id in treatments::latest_of_client(studio, snap, client_ref, MOST_TREATMENTS).await? {
        for (one, _) in stored::wished_of(snap, id).await? {
            // A build of before wrote the reason alone.
            let said = one.reason == Some(FailureReason::Unwanted);
            refused |= one.wanted == Some(false) || said;
            released |= one.wanted == Some(true);
        }
    }
    Ok(refused && !released)
}
