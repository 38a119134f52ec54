//! Reminders as stored, and their index rows.

use etui_schema::reminders::{FailureReason, Lease, Reminder, ReminderState};
use etui_schema::vocabulary::aftercare::StepKind;
use etui_schema::vocabulary::{Instant, Reference, Treatment};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::tell::to_tell;
use crate::store::key::KeyWriter;
use crate::store::record::{Record, decode, encode};
use crate::store::seal::Sealed;
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::vault::{self, Access, Subject};

/// The records.
pub const REMINDERS: Space = Space::new("reminders");
/// Ids by state and time.
pub(super) const BY_STATE: Space = Space::new("reminders-by-state");
/// Ids of leased reminders by the end of their lease.
pub(super) const BY_LEASE: Space = Space::new("reminders-by-lease");
/// Ids by treatment.
pub(super) const BY_TREATMENT: Space = Space::new("reminders-by-treatment");

const FIELD: &str = "said";

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
    pub(super) said: Sealed,
}

impl Record for StoredReminder {
    const KIND: &'static str = "reminder";
    const VERSION: u32 = 1;
}

/// What a reminder says: the step may tell of the client's health.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Said {
    pub(super) key: String,
    pub(super) kind: StepKind,
    pub(super) text: String,
    pub(super) local: String,
}

impl StoredReminder {
    /// Seals what it says.
    pub(super) fn seal(
        access: &Access,
        moment: &crate::studio::moment::Moment,
        id: Uuid,
        said: &Said,
    ) -> Result<Sealed, Error> {
        access.seal(moment, (REMINDERS, id.as_bytes(), FIELD), said)
    }

    /// The reminder as callers see it; `None` if the client was erased.
    pub(super) async fn answer(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<Option<Reminder>, Error> {
        let subject = Subject::Client(self.client_ref.clone());
        let Some(access) = vault::for_read(studio, snap, &subject).await? else { return Ok(None) };
        let said: Said = access.open((REMINDERS, self.id.as_bytes(), FIELD), &self.said)?;
        let Self {
            id,
            treatment_id,
            client_ref,
            treatment,
            due_at,
            latest,
            state,
            lease,
            claims,
            maybe_sent,
            delivered_by,
            reason,
            closed_at,
            said: _,
        } = self.clone();
        let Said { key, kind, text, local } = said;
        Ok(Some(Reminder {
            id,
            treatment_id,
            client_ref,
            treatment,
            key,
            kind,
            text,
            due_at,
            local,
            latest,
            state,
            attempts: count(&claims),
            maybe_sent,
            deliveries: count(&delivered_by),
            lease,
            reason,
            closed_at,
        }))
    }

    /// Closes it.
    pub(super) fn close(&mut self, state: ReminderState, at: Instant) {
        self.state = state;
        self.lease = None;
        self.closed_at = Some(at);
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

/// Looks a reminder up.
pub(super) async fn find(
    snap: &mut Snap,
    id: Uuid,
) -> Result<Option<(StoredReminder, Bytes)>, Error> {
    match snap.get(REMINDERS, id.as_bytes()).await? {
        Some(bytes) => Ok(Some((decode(&bytes)?, bytes))),
        None => Ok(None),
    }
}

/// Adds to a batch that a reminder takes the place of what was there.
pub(super) fn replace(
    batch: Batch,
    before: Option<(&StoredReminder, Bytes)>,
    next: &StoredReminder,
) -> Result<Batch, Error> {
    let key = next.id.as_bytes().to_vec();
    let mut batch = to_tell(batch, before.as_ref().map(|(old, _)| *old), next);
    if let Some((old, _)) = &before {
        batch = batch.del(BY_STATE, state_key(old));
        if let Some(row) = lease_key(old) {
            batch = batch.del(BY_LEASE, row);
        }
    } else {
        let row = KeyWriter::new().uuid(next.treatment_id).uuid(next.id).finish();
        batch = batch.put(BY_TREATMENT, row, Vec::new());
    }
    batch = batch
        .expect(REMINDERS, key.clone(), before.map(|(_, bytes)| bytes))
        .put(REMINDERS, key, encode(next)?)
        .put(BY_STATE, state_key(next), Vec::new());
    Ok(match lease_key(next) {
        Some(row) => batch.put(BY_LEASE, row, Vec::new()),
        None => batch,
    })
}

/// Adds to a batch that a reminder is gone.
pub(super) fn remove(mut batch: Batch, (old, bytes): (&StoredReminder, Bytes)) -> Batch {
    let key = old.id.as_bytes().to_vec();
    if let Some(row) = lease_key(old) {
        batch = batch.del(BY_LEASE, row);
    }
    batch
        .expect(REMINDERS, key.clone(), Some(bytes))
        .del(REMINDERS, key)
        .del(BY_STATE, state_key(old))
        .del(BY_TREATMENT, KeyWriter::new().uuid(old.treatment_id).uuid(old.id).finish())
}

/// The beginning of the index rows of a state.
pub(super) fn state_prefix(state: ReminderState) -> KeyWriter {
    KeyWriter::new().text(state.as_str())
}

fn state_key(reminder: &StoredReminder) -> Bytes {
    state_prefix(reminder.state).instant(reminder.due_at.0).uuid(reminder.id).finish()
}

fn lease_key(reminder: &StoredReminder) -> Option<Bytes> {
    let lease = reminder.lease?;
    Some(KeyWriter::new().instant(lease.until.0).uuid(reminder.id).finish())
}
