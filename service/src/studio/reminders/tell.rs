//! Telling others that a message, or a look at the healed result, is due.
//!
//! | space | key | value |
//! |---|---|---|
//! | `reminders-to-tell` | due at, reminder id | – |
//! | `reviews-to-tell` | due at, treatment id | – |

use etui_schema::events::EventType;
use etui_schema::reminders::ReminderState;
use etui_schema::treatments::TreatmentRecord;
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use uuid::Uuid;

use super::stored::{StoredReminder, find};
use crate::store::index::{Index, behind};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::outbox::{Happened, add_noticed};
use crate::studio::{entries, history, reviews};

/// What is to be told of: when, and its id.
type ToTell = Index<(Timestamp, Uuid)>;

const REMINDERS_TO_TELL: ToTell = Index::new("reminders-to-tell");
const REVIEWS_TO_TELL: ToTell = Index::new("reviews-to-tell");
/// Rows that one batch takes.
const ROWS: usize = 50;

/// Adds that a reminder is to be told of, if it is scheduled for another time
/// than before, or goes on after it was held back.
pub(super) fn to_tell(
    batch: Batch,
    before: Option<&StoredReminder>,
    next: &StoredReminder,
) -> Batch {
    let held =
        |old: &StoredReminder| matches!(old.state, ReminderState::Paused | ReminderState::Held);
    let known = before.is_some_and(|old| old.due_at == next.due_at && !held(old));
    if known || next.state != ReminderState::Scheduled {
        return batch;
    }
    batch.with(REMINDERS_TO_TELL.row(&(next.due_at.0, next.id)), Vec::new())
}

/// Adds that the review of a treatment is to be told of, from the first to the
/// last day on which the result can be judged.
///
/// # Errors
/// [`Error::Internal`] for a day outside the calendar.
pub(super) fn review_to_tell(
    batch: Batch,
    record: &TreatmentRecord,
    (from, until): (Date, Date),
    now: Timestamp,
) -> Result<Batch, Error> {
    if begin(record, until)? <= now {
        return Ok(batch);
    }
    Ok(batch.with(REVIEWS_TO_TELL.row(&(begin(record, from)?, record.id)), Vec::new()))
}

/// Adds that the review of a treatment is not to be told of from that day.
///
/// # Errors
/// [`Error::Internal`] for a day outside the calendar.
pub(super) fn review_not_to_tell(
    batch: Batch,
    record: &TreatmentRecord,
    from: Date,
) -> Result<Batch, Error> {
    Ok(batch.without(REVIEWS_TO_TELL.row(&(begin(record, from)?, record.id))))
}

/// The first instant of a day where the treatment was.
fn begin(record: &TreatmentRecord, day: Date) -> Result<Timestamp, Error> {
    let midnight = day.to_datetime(Time::midnight());
    record.zone.rules().to_timestamp(midnight).map_err(|e| Error::Internal(e.to_string()))
}

/// The rows that are due.
async fn due(
    snap: &mut Snap,
    index: &ToTell,
    now: Timestamp,
) -> Result<Vec<(Timestamp, Uuid)>, Error> {
    let rows = Rows::of(index.space(), Bytes::new()..behind(&(now,)));
    Ok(index.keys(rows).most(snap, ROWS).await?)
}

/// Takes a row away in the batch of what it stood for.
fn taken(batch: Batch, (space, row): (Space, Bytes)) -> Batch {
    batch.expect(space, row.clone(), Some(Bytes::new())).del(space, row)
}

/// A batch that tells of messages that are due; `None` if none is.
///
/// # Errors
/// What the store met.
pub async fn tell_due(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
) -> Result<Option<Batch>, Error> {
    let rows = due(snap, &REMINDERS_TO_TELL, now).await?;
    let mut batch = Batch::new();
    for key @ (due_at, id) in &rows {
        let (space, row) = REMINDERS_TO_TELL.row(key);
        batch = taken(batch, (space, row.clone()));
        let Some((reminder, _)) = readable(find(snap, *id).await)?.flatten() else { continue };
        let open = matches!(reminder.state, ReminderState::Scheduled | ReminderState::Leased);
        let same = reminder.due_at.0.as_millisecond() == due_at.as_millisecond();
        if !open || !same {
            continue;
        }
        if readable(reminder.answer(studio, snap).await)?.flatten().is_none() {
            continue;
        }
        let happened = Happened::reminder(*id, reminder.treatment_id, reminder.client_ref);
        batch = add_noticed(studio, batch, now, &[b"reminder", &row], happened)?;
    }
    Ok(if rows.is_empty() { None } else { Some(batch) })
}

/// Whether somebody looked at the healed result already.
async fn is_reviewed(snap: &mut Snap, treatment_id: Uuid) -> Result<bool, Error> {
    Ok(!entries::ids::<reviews::Own>(snap, treatment_id).await?.is_empty())
}

/// A batch that tells of reviews that are due; `None` if none is. Of a session
/// that a later one has replaced, or that was reviewed, nothing is told.
///
/// # Errors
/// What the store met.
pub async fn tell_reviews(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
) -> Result<Option<Batch>, Error> {
    let rows = due(snap, &REVIEWS_TO_TELL, now).await?;
    let mut batch = Batch::new();
    for key @ (_, id) in &rows {
        let (space, row) = REVIEWS_TO_TELL.row(key);
        batch = taken(batch, (space, row.clone()));
        // The client may have been forgotten.
        let Some(record) = readable(history::record(studio, snap, *id).await)? else { continue };
        let replaced = super::replaced_at(studio, snap, &record).await?.is_some();
        if replaced || is_reviewed(snap, *id).await? {
            continue;
        }
        let happened = Happened::treatment(EventType::ReviewDue, *id, record.client_ref.clone());
        batch = add_noticed(studio, batch, now, &[b"review", &row], happened)?;
    }
    Ok(if rows.is_empty() { None } else { Some(batch) })
}
