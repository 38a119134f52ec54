//! Reminders as stored, and their index rows.

use etui_schema::reminders::{FailureReason, Lease, ReminderState};
use etui_schema::vocabulary::{Instant, Reference, Treatment};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::tell::to_tell;
use crate::store::key::KeyWriter;
use crate::store::record::{Record, decode, encode};
use crate::store::rows::Rows;
use crate::store::seal::Sealed;
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::opener::{Opener, Verified};
use crate::studio::paging::broken;
use crate::studio::sealed;
use crate::studio::vault::{Place, Subject};

/// The records, by state and time.
pub const REMINDERS: Space = Space::new("reminders-by-due");
/// The place of each record, by its id.
pub const BY_ID: Space = Space::new("reminders-by-id");
/// Ids of leased reminders by the end of their lease.
pub(super) const BY_LEASE: Space = Space::new("reminders-by-lease");
/// What a sealed text is bound to, whatever the place of its record.
pub(super) const SEALED_IN: Space = Space::new("reminders");

/// States in which a message may still be sent.
pub(super) const OPEN: [ReminderState; 4] =
    [ReminderState::Scheduled, ReminderState::Leased, ReminderState::Paused, ReminderState::Held];

/// Of these, those in which nobody has it.
pub(super) const WAITING: [ReminderState; 3] =
    [ReminderState::Scheduled, ReminderState::Paused, ReminderState::Held];

/// The member that is sealed.
pub(super) const FIELD: &str = "said";

/// A reminder as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredReminder {
    pub(super) id: Uuid,
    pub(super) treatment_id: Uuid,
    pub(super) client_ref: Reference,
    pub(super) treatment: Treatment,
    pub(super) due_at: Instant,
    pub(super) latest: Instant,
    pub(super) state: ReminderState,
    pub(super) lease: Option<Lease>,
    /// Every claim that ever held it, oldest first.
    pub(super) claims: Vec<Uuid>,
    pub(super) maybe_sent: bool,
    /// The claims that reported a delivery.
    pub(super) delivered_by: Vec<Uuid>,
    pub(super) reason: Option<FailureReason>,
    pub(super) closed_at: Option<Instant>,
    /// Whether it waits for a report to be settled; also while a script holds it,
    /// so that nobody gets it again.
    #[serde(default)]
    pub(super) paused: bool,
    /// Whether she wants messages: no, since she said so; yes, since a person released this one after
    /// that.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) wanted: Option<bool>,
    /// The branch of its treatment.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) branch_ref: Option<Reference>,
    pub(super) said: Sealed,
}

impl Record for StoredReminder {
    const KIND: &'static str = "reminder";
}

impl StoredReminder {
    /// Whose it is, and what is sealed of it: its place, when it was sealed.
    pub(super) fn part(&self) -> (Subject, Place<'_>, Timestamp, &Sealed) {
        let place = (SEALED_IN, self.id.as_bytes().as_slice(), FIELD);
        let subject = Subject::Client(self.client_ref.clone());
        (subject, place, sealed::time_of(self.id), &self.said)
    }
}

/// How many there are; never near the end of the range.
pub(super) fn count(all: &[Uuid]) -> u32 {
    u32::try_from(all.len()).unwrap_or(u32::MAX)
}

/// Reads a reminder with the bytes it was read from.
pub(super) async fn load(snap: &mut Snap, id: Uuid) -> Result<(StoredReminder, Bytes), Error> {
    find(snap, id).await?.ok_or_else(|| Error::NotFound { what: "reminder", id: id.to_string() })
}

/// The treatment that a reminder belongs to.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn treatment_of(snap: &mut Snap, id: Uuid) -> Result<Uuid, Error> {
    Ok(load(snap, id).await?.0.treatment_id)
}

/// Looks a reminder up.
pub(super) async fn find(
    snap: &mut Snap,
    id: Uuid,
) -> Result<Option<(StoredReminder, Bytes)>, Error> {
    let Some(place) = snap.get(BY_ID, id.as_bytes()).await? else { return Ok(None) };
    at(snap, &place).await.map(Some)
}

/// The reminder at a place, with the bytes it was read from.
pub(super) async fn at(snap: &mut Snap, place: &[u8]) -> Result<(StoredReminder, Bytes), Error> {
    let bytes = snap.get(REMINDERS, place).await?.ok_or_else(|| broken(BY_ID))?;
    Ok((decode(&bytes)?, bytes))
}

/// Every reminder of a treatment with the bytes it was read from. The ids begin
/// with the time in the treatment's id, so those of few others lie among them.
pub(super) async fn of(
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<(StoredReminder, Bytes)>, Error> {
    those_of(snap, treatment_id, |_| true, |_| true).await
}

/// Of these, the ones that may still be sent: their places say it, and the others are not read.
pub(super) async fn sendable_of(
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<(StoredReminder, Bytes)>, Error> {
    let states = OPEN.map(|state| state_prefix(state).finish());
    let is_open = |place: &Bytes| states.iter().any(|state| place.starts_with(state));
    those_of(snap, treatment_id, is_open, |_| true).await
}

/// Of these, the ones that say whether she wants messages: few, and the others are not parsed.
pub(super) async fn wished_of(
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<(StoredReminder, Bytes)>, Error> {
    // Both the member and the reason end so.
    let says = |row: &Bytes| memchr::memmem::find(row, b"wanted").is_some();
    those_of(snap, treatment_id, |_| true, says).await
}

async fn those_of(
    snap: &mut Snap,
    treatment_id: Uuid,
    at: impl Fn(&Bytes) -> bool,
    row: impl Fn(&Bytes) -> bool,
) -> Result<Vec<(StoredReminder, Bytes)>, Error> {
    let mut rows = Rows::of(BY_ID, KeyWriter::new().fixed(&time_of(treatment_id)).prefix_range());
    let places = rows.take(snap, usize::MAX).await?.into_iter().map(|(_, place)| place);
    let places: Vec<Bytes> = places.filter(at).collect();
    let mut all = Vec::new();
    for bytes in snap.get_many(REMINDERS, &places).await? {
        if bytes.as_ref().is_some_and(|bytes| !row(bytes)) {
            continue;
        }
        let read = bytes
            .ok_or_else(|| broken(BY_ID))
            .and_then(|bytes| Ok((decode::<StoredReminder>(&bytes)?, bytes)));
        let Some((reminder, bytes)) = readable(read)? else { continue };
        if reminder.treatment_id == treatment_id {
            all.push((reminder, bytes));
        }
    }
    Ok(all)
}

/// The milliseconds with which an id of version 7 begins.
pub(super) fn time_of(id: Uuid) -> [u8; 6] {
    let mut time = [0; 6];
    time.copy_from_slice(&id.as_bytes()[..6]);
    time
}

/// Adds to a batch that a reminder takes the place of what was there.
pub(super) fn replace(
    batch: Batch,
    before: Option<(&StoredReminder, Bytes)>,
    next: &StoredReminder,
) -> Result<Batch, Error> {
    let batch = to_tell(batch, before.as_ref().map(|(old, _)| *old), next);
    let batch = match before {
        Some((old, bytes)) => {
            let kept = keys(next);
            let batch = batch.expect(REMINDERS, place_of(old), Some(bytes));
            let gone = keys(old).into_iter().filter(|key| !kept.contains(key));
            gone.fold(batch, |batch, (space, key)| batch.del(space, key))
        }
        None => batch.expect(BY_ID, next.id.as_bytes(), None),
    };
    put(batch, next)
}

/// Adds to a batch that a reminder is gone.
pub(super) fn remove(batch: Batch, (old, bytes): (&StoredReminder, Bytes)) -> Batch {
    let batch = batch.expect(REMINDERS, place_of(old), Some(bytes));
    keys(old).into_iter().fold(batch, |batch, (space, key)| batch.del(space, key))
}

/// Everything that is stored of a reminder.
fn keys(reminder: &StoredReminder) -> Vec<(Space, Bytes)> {
    let mut keys = rows(reminder);
    keys.push((REMINDERS, place_of(reminder)));
    keys
}

/// Adds a record with its index rows to a batch.
pub(super) fn put(batch: Batch, next: &StoredReminder) -> Result<Batch, Error> {
    let place = place_of(next);
    let batch = batch.put(REMINDERS, place.clone(), encode(next)?);
    Ok(rows(next)
        .into_iter()
        .fold(batch, |batch, (space, row)| batch.put(space, row, place.clone())))
}

impl Verified for StoredReminder {
    const SPACE: Space = REMINDERS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_ID), Indexed::Whole(BY_LEASE)];

    fn rows(&self, key: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        if key != place_of(self) {
            return Err("it lies in another's place".to_owned());
        }
        let (subject, place, sealed_at, sealed) = self.part();
        opener.look(&subject.id_in(opener.keyring), place, sealed_at, sealed)?;
        Ok(rows(self))
    }
}

/// The index rows of a reminder; each holds the place of its record.
fn rows(reminder: &StoredReminder) -> Vec<(Space, Bytes)> {
    let mut rows = vec![(BY_ID, reminder.id.as_bytes().to_vec())];
    rows.extend(lease_key(reminder).map(|row| (BY_LEASE, row)));
    rows
}

/// The beginning of the places of a state.
pub(super) fn state_prefix(state: ReminderState) -> KeyWriter {
    KeyWriter::new().text(state.as_str())
}

/// The key of a record.
pub(super) fn place_of(reminder: &StoredReminder) -> Bytes {
    state_prefix(reminder.state).instant(reminder.due_at.0).uuid(reminder.id).finish()
}

fn lease_key(reminder: &StoredReminder) -> Option<Bytes> {
    let lease = reminder.lease?;
    Some(KeyWriter::new().instant(lease.until.0).uuid(reminder.id).finish())
}
