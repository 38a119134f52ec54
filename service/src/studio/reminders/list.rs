//! Listing reminders by state, in the order in which they are due.

use etui_schema::page::Page;
use etui_schema::reminders::{Reminder, ReminderQuery, ReminderState};
use uuid::Uuid;

use super::schedule::MOST_STEPS;
use super::stored::{BY_STATE, BY_TREATMENT, load, state_prefix};
use crate::store::key::{KeyReader, KeyWriter};
use crate::store::{Order, Read};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::{Walk, broken};

/// One page of reminders; those of erased clients are left out.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &ReminderQuery,
) -> Result<Page<Reminder>, Error> {
    let ReminderQuery { state, due_before, limit, cursor } = query;
    let state = state.unwrap_or(ReminderState::Scheduled);
    let mut range = state_prefix(state).prefix_range();
    if let Some(before) = due_before {
        range.end = state_prefix(state).instant(before.0).finish();
    }
    let name = format!("reminders state={state} due_before={due_before:?}");
    let mut walk = Walk::begin(studio, name, BY_STATE, range, *limit, cursor.as_deref())?;
    let mut items = Vec::new();
    while let Some(key) = walk.next(snap).await? {
        let mut reader = KeyReader::new(&key);
        let id = reader.text().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
        let (reminder, _) = load(snap, id.ok_or_else(|| broken(BY_STATE))?).await?;
        match reminder.answer(studio, snap).await? {
            Some(answer) => items.push(answer),
            None => walk.skip(),
        }
    }
    Ok(Page { items, next_cursor: walk.cursor() })
}

/// Every reminder of a treatment; none if its client was erased.
///
/// # Errors
/// What the store met.
pub async fn of_treatment(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<Reminder>, Error> {
    let range = KeyWriter::new().uuid(treatment_id).prefix_range();
    let rows = snap.scan(BY_TREATMENT, range, Order::Ascending, MOST_STEPS).await?;
    let mut all = Vec::new();
    for (key, _) in rows {
        let mut reader = KeyReader::new(&key);
        let id = reader.uuid().and_then(|_| reader.uuid());
        let (reminder, _) = load(snap, id.ok_or_else(|| broken(BY_TREATMENT))?).await?;
        all.extend(reminder.answer(studio, snap).await?);
    }
    all.sort_by_key(|reminder| (reminder.due_at, reminder.id));
    Ok(all)
}
