//! Listing reminders by state, in the order in which they are due.

use std::collections::BTreeSet;
use std::ops::Range;

use etui_schema::page::Page;
use etui_schema::reminders::{Reminder, ReminderQuery, ReminderState};
use serde_json::Value;
use uuid::Uuid;

use super::stored::{self, OPEN, REMINDERS, StoredReminder, state_prefix};
use crate::store::Bytes;
use crate::store::record::decode;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::paging::Walk;

/// One page of reminders; those of erased clients, and those that cannot be read, are left out.
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
    let walk = Walk::begin(studio, name, REMINDERS, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let decoded = rows.iter().map(|(_, bytes)| decode::<StoredReminder>(bytes));
        let (known, broken): (Vec<_>, Vec<_>) = decoded.partition(Result::is_ok);
        let known: Vec<StoredReminder> = known.into_iter().flatten().collect();
        let mut answers = StoredReminder::answers(studio, snap, known.iter()).await?;
        answers.extend(broken.into_iter().filter_map(Result::err).map(|why| Err(why.into())));
        Ok(answers)
    })
    .await
}

/// Where the messages lie that are not closed, those that are due first first.
pub fn open_places() -> impl Iterator<Item = Range<Bytes>> {
    OPEN.into_iter().map(|state| state_prefix(state).prefix_range())
}

/// Whether a stored message is of one of these steps.
///
/// # Errors
/// [`Error::NotFound`] if it was erased with its client; [`Error::Unreadable`]; what
/// the store met.
pub async fn says_any(
    studio: &Studio,
    snap: &mut Snap,
    stored: &[u8],
    steps: &BTreeSet<String>,
) -> Result<bool, Error> {
    let reminder: StoredReminder = decode(stored)?;
    let erased = || Error::NotFound { what: "reminder", id: reminder.id.to_string() };
    let access = reminder.access(studio, snap).await?;
    let said = reminder.said(access.as_ref())?.ok_or_else(erased)?;
    Ok(steps.contains(&said.key))
}

/// What lies open of every reminder of a treatment.
///
/// # Errors
/// What the store met.
pub async fn open_of(snap: &mut Snap, treatment_id: Uuid) -> Result<Vec<Value>, Error> {
    let mut all = Vec::new();
    for (reminder, _) in stored::of(snap, treatment_id).await? {
        let mut value =
            serde_json::to_value(&reminder).map_err(|e| Error::Internal(e.to_string()))?;
        if let Some(open) = value.as_object_mut() {
            open.remove(stored::FIELD);
        }
        all.push(value);
    }
    Ok(all)
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
    let mut all = Vec::new();
    let held = stored::of(snap, treatment_id).await?;
    let reminders = held.iter().map(|(reminder, _)| reminder);
    for answer in StoredReminder::answers(studio, snap, reminders).await? {
        all.extend(readable(answer)?.flatten());
    }
    all.sort_by_key(|reminder| (reminder.due_at, reminder.id));
    Ok(all)
}
