//! Telling others what happened: one small function for every use case.
//!
//! A use case adds an event to the batch of its change, so the one is never
//! there without the other. An event holds references only; what kind of thing
//! happened, and to what, is all that it says.

use etui_schema::events::{EventData, EventType, PackName};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use uuid::Uuid;

use super::Studio;
use super::error::Error;
use super::moment::Moment;
use crate::events::EventsError;
use crate::events::stored::StoredEvent;
use crate::store::Batch;

/// What happened, and to what: its kind, its subject, and references to what it is about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Happened {
    kind: EventType,
    subject: String,
    data: EventData,
}

impl Happened {
    fn to(kind: EventType, subject: String, data: EventData) -> Self {
        Self { kind, subject, data }
    }

    /// A check was made, of a booking and, if it has one, a client.
    pub fn check(check_id: Uuid, booking_ref: Reference, client_ref: Option<Reference>) -> Self {
        let subject = format!("bookings/{booking_ref}");
        let (check_id, booking_ref) = (Some(check_id), Some(booking_ref));
        let data = EventData { check_id, booking_ref, client_ref, ..EventData::default() };
        Self::to(EventType::CheckCompleted, subject, data)
    }

    /// A client's record was written, or the client was forgotten.
    pub fn client(client_ref: Reference) -> Self {
        let subject = format!("clients/{client_ref}");
        let data = EventData { client_ref: Some(client_ref), ..EventData::default() };
        Self::to(EventType::ClientChanged, subject, data)
    }

    /// Something about a lot.
    pub fn lot(kind: EventType, lot_id: Uuid) -> Self {
        let data = EventData { lot_id: Some(lot_id), ..EventData::default() };
        Self::to(kind, format!("lots/{lot_id}"), data)
    }

    /// Packs of a lot, as they are at a branch, went there.
    pub fn lot_moved(lot_id: Uuid, branch_ref: Reference) -> Self {
        let Self { kind, subject, data } = Self::lot(EventType::LotMoved, lot_id);
        Self::to(kind, subject, EventData { branch_ref: Some(branch_ref), ..data })
    }

    /// Something about a treatment, and never what or how urgent.
    pub fn treatment(kind: EventType, treatment_id: Uuid, client_ref: Reference) -> Self {
        let (treatment, client_ref) = (Some(treatment_id), Some(client_ref));
        let data = EventData { treatment_id: treatment, client_ref, ..EventData::default() };
        Self::to(kind, format!("treatments/{treatment_id}"), data)
    }

    /// A message is due.
    pub fn reminder(reminder_id: Uuid, treatment_id: Uuid, client_ref: Reference) -> Self {
        let of_treatment = Self::treatment(EventType::ReminderDue, treatment_id, client_ref);
        let data = EventData { reminder_id: Some(reminder_id), ..of_treatment.data };
        Self::to(EventType::ReminderDue, format!("reminders/{reminder_id}"), data)
    }

    /// Something about a sign-off.
    pub fn sign_off(kind: EventType, id: Uuid, artist_ref: Reference) -> Self {
        let data = EventData { sign_off_id: Some(id), ..Self::practice(kind, artist_ref).data };
        Self::to(kind, format!("sign-offs/{id}"), data)
    }

    /// Something about the practice of an artist.
    pub fn practice(kind: EventType, artist_ref: Reference) -> Self {
        let subject = format!("artists/{artist_ref}");
        let data = EventData { artist_ref: Some(artist_ref), ..EventData::default() };
        Self::to(kind, subject, data)
    }

    /// A pack was put or removed.
    pub fn pack(kind: String, name: String) -> Self {
        let subject = format!("packs/{kind}/{name}");
        let data = EventData { pack: Some(PackName { kind, name }), ..EventData::default() };
        Self::to(EventType::PackChanged, subject, data)
    }
}

/// Adds to a batch that something happened now.
///
/// ```text
/// let batch = outbox::add(batch, moment, Happened::pack(kind, name))?;
/// ```
///
/// # Errors
/// [`Error::Internal`] if there are no random bytes for an id.
pub fn add(batch: Batch, moment: &Moment, happened: Happened) -> Result<Batch, Error> {
    add_as(batch, &moment.event_source, moment.id()?, moment.now, happened)
}

/// Adds something that is noticed by the clock rather than done by somebody.
/// Its id follows from `fact`, so noticing the same thing twice makes no second id.
///
/// # Errors
/// [`Error::Internal`] if it cannot be written down.
pub fn add_noticed(
    studio: &Studio,
    batch: Batch,
    now: Timestamp,
    fact: &[&[u8]],
    happened: Happened,
) -> Result<Batch, Error> {
    let hash = studio.index_key.hash("event", fact);
    let mut bits = [0; 10];
    bits.copy_from_slice(&hash[..10]);
    let millis = u64::try_from(now.as_millisecond()).unwrap_or(0);
    let id = uuid::Builder::from_unix_timestamp_millis(millis, &bits).into_uuid();
    add_as(batch, &studio.event_source, id, now, happened)
}

fn add_as(
    batch: Batch,
    source: &str,
    id: Uuid,
    now: Timestamp,
    happened: Happened,
) -> Result<Batch, Error> {
    let Happened { kind, subject, data } = happened;
    let event =
        StoredEvent { source: source.to_owned(), id, kind, subject, time: Instant(now), data };
    Ok(batch.event(event.outgoing()?))
}

impl From<EventsError> for Error {
    fn from(error: EventsError) -> Self {
        match error {
            EventsError::Store(error) => Self::Store(error),
            EventsError::Record(error) => error.into(),
            EventsError::Seal(error) => error.into(),
            EventsError::Broken(_) => Self::Internal(error.to_string()),
        }
    }
}
