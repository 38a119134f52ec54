//! Reminders as stored, and their index rows.

use etui_schema::reminders::{FailureReason, Lease, ReleaseDecision, Reminder, ReminderState};
use etui_schema::vocabulary::{Instant, Reference, Treatment};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::said::Said;
use super::tell::to_tell;
use crate::store::key::KeyWriter;
use crate::store::record::{Record, decode, encode};
use crate::store::rows::Rows;
use crate::store::seal::Sealed;
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::branches;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::opener::{Opener, Verified};
use crate::studio::paging::broken;
use crate::studio::sealed;
use crate::studio::vault::{self, Access, Place, Subject};

/// The records, by state and time.
pub const REMINDERS: Space = Space::new("reminders-by-due");
/// The place of each record, by its id.
pub const BY_ID: Space = Space::new("reminders-by-id");
/// Ids of leased reminders by the end of their lease.
pub(super) const BY_LEASE: Space = Space::new("reminders-by-lease");
/// What a sealed text is bound to, whatever the place of its record.
const SEALED_IN: Space = Space::new("reminders");

/// States in which a message may still be sent.
pub(super) const OPEN: [ReminderState; 4] =
    [ReminderState::Scheduled, ReminderState::Leased, ReminderState::Paused, ReminderState::Held];

/// Of these, those in which nobody has it.
const WAITING: [ReminderState; 3] =
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
    fn part(&self) -> (Subject, Place<'_>, Timestamp, &Sealed) {
        let place = (SEALED_IN, self.id.as_bytes().as_slice(), FIELD);
        let subject = Subject::Client(self.client_ref.clone());
        (subject, place, sealed::time_of(self.id), &self.said)
    }

    /// Seals what it says.
    pub(super) fn seal(
        access: &Access,
        moment: &Moment,
        id: Uuid,
        said: &Said,
    ) -> Result<Sealed, Error> {
        access.seal(moment, (SEALED_IN, id.as_bytes(), FIELD), said)
    }

    /// What it says; `None` if it was erased with its client.
    pub(super) fn said(&self, access: Option<&Access>) -> Result<Option<Said>, Error> {
        // The id has the time of the treatment, and with the same key the treatment was sealed.
        let (_, place, sealed_at, sealed) = self.part();
        access.map_or(Ok(None), |access| access.open(place, sealed_at, sealed))
    }

    pub(super) async fn access(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<Option<Access>, Error> {
        vault::for_read(studio, snap, &self.part().0).await
    }

    /// The reminder as callers see it; `None` if it was erased with its client, who
    /// may have come back since.
    pub(super) async fn answer(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<Option<Reminder>, Error> {
        let access = self.access(studio, snap).await?;
        self.told(studio, snap, access.as_ref()).await
    }

    /// Many reminders as callers see them, their clients' keys asked for at once.
    pub(super) async fn answers<'a>(
        studio: &Studio,
        snap: &mut Snap,
        reminders: impl Iterator<Item = &'a Self> + Clone,
    ) -> Result<Vec<Result<Option<Reminder>, Error>>, Error> {
        let subjects = reminders.clone().map(|reminder| reminder.part().0);
        let keys = vault::for_many(studio, snap, subjects).await?;
        let mut all = Vec::with_capacity(keys.len());
        for (one, access) in reminders.zip(keys) {
            all.push(match access {
                Ok(access) => one.told(studio, snap, access.as_ref()).await,
                Err(error) => Err(error),
            });
        }
        Ok(all)
    }

    async fn told(
        &self,
        studio: &Studio,
        snap: &mut Snap,
        access: Option<&Access>,
    ) -> Result<Option<Reminder>, Error> {
        let Some(mut said) = self.said(access)? else { return Ok(None) };
        // Whoever has claimed it sends what it was given.
        if said.open.is_some() && WAITING.contains(&self.state) {
            said = said.calling(&*branches::at(studio, snap, self.branch_ref.as_ref()).await?);
        }
        let withdrawn = said.is_withdrawn(studio) && OPEN.contains(&self.state);
        let mut told = self.saying(said);
        if withdrawn {
            told.state = ReminderState::Cancelled.into();
        }
        Ok(Some(told))
    }

    /// Brings whom to call up to date in what it says, before it is given out; whether it says that.
    pub(super) async fn call_anew(
        &mut self,
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
    ) -> Result<bool, Error> {
        let access = self.access(studio, snap).await?;
        let said = self.said(access.as_ref())?.filter(|said| said.open.is_some());
        let (Some(access), Some(said)) = (access, said) else { return Ok(false) };
        let here = branches::at(studio, snap, self.branch_ref.as_ref()).await?;
        let former = said.text.clone();
        let said = said.calling(&here);
        if said.text != former {
            self.said = Self::seal(&access, moment, self.id, &said)?;
        }
        Ok(true)
    }

    /// The reminder as it lies here, whatever was taken away since.
    pub(super) fn saying(&self, said: Said) -> Reminder {
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
            paused: _, // its state says it
            wanted: _, // so does it here
            branch_ref,
            said: _,
        } = self.clone();
        let Said { key, kind, text, local, wording: _, open: _ } = said;
        Reminder {
            id,
            treatment_id,
            client_ref,
            treatment,
            key,
            kind: kind.into(),
            text,
            due_at,
            local,
            latest,
            state: state.into(),
            attempts: count(&claims),
            maybe_sent,
            deliveries: count(&delivered_by),
            lease,
            reason,
            closed_at,
            branch_ref,
        }
    }

    /// Whether it waits while a grave report is open. What the message is stands
    /// sealed; of an erased client nothing is sent anyway.
    pub(super) async fn is_friendly(
        &self,
        studio: &Studio,
        snap: &mut Snap,
    ) -> Result<bool, Error> {
        // What cannot be read is not sent either.
        let access = readable(self.access(studio, snap).await)?.flatten();
        let said = readable(self.said(access.as_ref()))?.flatten();
        Ok(said.is_some_and(|said| studio.craft.plans.is_friendly(&said.key, said.kind)))
    }

    /// Holds it back; whether that changed anything. One that a script holds may
    /// be on its way: it stays there and is not given out a second time.
    pub(super) fn pause(&mut self) -> bool {
        let before = (self.state, self.paused);
        self.paused = true;
        if self.state == ReminderState::Scheduled {
            self.state = ReminderState::Paused;
        }
        before != (self.state, self.paused)
    }

    /// Lets it go on, or closes it if its time has passed; whether that changed
    /// anything.
    pub(super) fn go_on(&mut self, now: jiff::Timestamp) -> bool {
        let was = std::mem::take(&mut self.paused);
        if self.state == ReminderState::Paused {
            if self.latest.0 <= now {
                self.close(ReminderState::Overtaken, Instant(now));
            } else {
                self.state = ReminderState::Scheduled;
            }
        }
        was
    }

    /// Holds it back until a person releases it: it may have been sent. Whoever had
    /// claimed it holds it no more.
    pub(super) fn hold(&mut self) {
        self.state = ReminderState::Held;
        self.lease = None;
    }

    /// Takes it that she wants no messages: it is held, once nobody has it any more.
    pub(super) fn stop(&mut self) {
        self.wanted = Some(false);
        if matches!(self.state, ReminderState::Scheduled | ReminderState::Paused) {
            self.hold();
        }
    }

    /// Is had by nobody any more, and waits for its time or for a person.
    pub(super) fn wait(&mut self) {
        self.lease = None;
        self.state = if self.wanted == Some(false) {
            ReminderState::Held
        } else if self.paused {
            ReminderState::Paused
        } else {
            ReminderState::Scheduled
        };
    }

    /// Does what a person decided about one that is held; whether it was.
    pub(super) fn release(&mut self, decision: ReleaseDecision, now: jiff::Timestamp) -> bool {
        if self.state != ReminderState::Held {
            return false;
        }
        match decision {
            ReleaseDecision::Skip => self.close(ReminderState::Skipped, Instant(now)),
            ReleaseDecision::Send => {
                self.wanted = self.wanted.map(|_| true);
                self.wait();
                if self.state == ReminderState::Scheduled && self.latest.0 <= now {
                    self.close(ReminderState::Overtaken, Instant(now));
                }
            }
        }
        true
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
    let mut rows = Rows::of(BY_ID, KeyWriter::new().fixed(&time_of(treatment_id)).prefix_range());
    let places = rows.take(snap, usize::MAX).await?.into_iter().map(|(_, place)| place);
    let places: Vec<Bytes> = places.collect();
    let mut all = Vec::new();
    for bytes in snap.get_many(REMINDERS, &places).await? {
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
