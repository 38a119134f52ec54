//! Listing reminders by state, in the order in which they are due, or of one treatment.

use std::collections::BTreeSet;
use std::ops::Range;

use etui_schema::page::Page;
use etui_schema::reminders::{Reminder, ReminderQuery, ReminderState};
use serde_json::Value;
use uuid::Uuid;

use super::stored::{self, BY_ID, OPEN, REMINDERS, StoredReminder, state_prefix, time_of};
use crate::store::key::KeyWriter;
use crate::store::record::decode;
use crate::store::{Bytes, Space};
use crate::studio::Studio;
use crate::studio::branches::is_of;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Mandate;
use crate::studio::paging::{Walk, records};
use crate::studio::treatments::is_reached;

/// One page of reminders; those of erased clients, and those that cannot be read, are left out.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    query: &ReminderQuery,
) -> Result<Page<Reminder>, Error> {
    let ReminderQuery {
        state,
        branch_ref,
        due_from,
        due_before,
        client_ref,
        treatment_id,
        limit,
        cursor,
    } = query;
    let mut states: Vec<&str> = state.iter().map(|state| state.as_str()).collect();
    if states.is_empty() {
        states.push(ReminderState::Scheduled.as_str());
    }
    // As their records lie.
    states.sort_unstable();
    states.dedup();
    let only = if let [only] = states[..] { Some(only) } else { None };
    let (space, range) = match treatment_id {
        // Those of a treatment lie together by id.
        Some(id) => (BY_ID, KeyWriter::new().fixed(&time_of(*id)).prefix_range()),
        None => {
            let of = |state: &str| KeyWriter::new().text(state);
            let ends = states.first().zip(states.last());
            let mut range = ends.map_or(Bytes::new()..Bytes::new(), |(first, last)| {
                of(first).prefix_range().start..of(last).prefix_range().end
            });
            if let (Some(only), Some(from)) = (only, due_from) {
                range.start = of(only).instant(from.0).finish();
            }
            if let (Some(only), Some(before)) = (only, due_before) {
                range.end = of(only).instant(before.0).finish();
            }
            // What ends before it begins holds nothing.
            range.end = range.end.max(range.start.clone());
            (REMINDERS, range)
        }
    };
    let mut name = format!(
        "reminders state={states:?} due={due_from:?}..{due_before:?} client={client_ref:?} \
         treatment={treatment_id:?}"
    );
    if let Some(branch) = branch_ref {
        name.push_str(&format!(" branch={branch}"));
    }
    let wanted = |one: &StoredReminder| {
        states.contains(&one.state.as_str())
            && due_from.is_none_or(|from| from.0 <= one.due_at.0)
            && due_before.is_none_or(|before| one.due_at.0 < before.0)
            && client_ref.as_ref().is_none_or(|client| *client == one.client_ref)
            && treatment_id.is_none_or(|treatment| treatment == one.treatment_id)
            && is_of(branch_ref.as_ref(), one.branch_ref.as_ref())
    };
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let (mut reminders, mut broken) = (Vec::new(), Vec::new());
        for read in read_in(snap, space, rows).await? {
            match read {
                Ok(read) if wanted(&read) => {
                    let reached = is_reached(snap, mandate, read.treatment_id).await?;
                    reminders.extend(reached.then_some(read));
                }
                Ok(_) => {}
                Err(error) => broken.push(Err(error)),
            }
        }
        let mut answers = StoredReminder::answers(studio, snap, reminders.iter()).await?;
        answers.append(&mut broken);
        Ok(answers)
    })
    .await
}

/// One reminder.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this id, or if its client was erased.
pub async fn one(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<Reminder, Error> {
    let (stored, _) = stored::load(snap, id).await?;
    let absent = || Error::NotFound { what: "reminder", id: id.to_string() };
    stored.answer(studio, snap).await?.ok_or_else(absent)
}

/// The reminders of rows of their own space, or of rows that hold their places.
async fn read_in(
    snap: &mut Snap,
    space: Space,
    rows: Vec<(Bytes, Bytes)>,
) -> Result<Vec<Result<StoredReminder, Error>>, Error> {
    let values = rows.into_iter().map(|(_, value)| value);
    if space == BY_ID {
        return records(snap, REMINDERS, &values.collect::<Vec<_>>()).await;
    }
    Ok(values.map(|stored| Ok(decode(&stored)?)).collect())
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

/// The steps of a treatment that have a message which says what the packs say today. A step
/// that a pack has come to add or to change since has none.
///
/// # Errors
/// What the store met.
pub async fn said_today(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<BTreeSet<String>, Error> {
    let mut steps = BTreeSet::new();
    for (reminder, _) in stored::of(snap, treatment_id).await? {
        let access = readable(reminder.access(studio, snap).await)?.flatten();
        let said = readable(reminder.said(access.as_ref()))?.flatten();
        steps.extend(said.filter(|said| !said.is_withdrawn(studio)).map(|said| said.key));
    }
    Ok(steps)
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
