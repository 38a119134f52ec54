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

/// What happened, with references to what it happened to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happened {
    /// A check was made.
    CheckCompleted {
        /// The check.
        check_id: Uuid,
        /// Its booking.
        booking_ref: Reference,
        /// Its client, if it has one.
        client_ref: Option<Reference>,
    },
    /// A client's record was written, or the client was forgotten.
    ClientChanged {
        /// The client.
        client_ref: Reference,
    },
    /// Packs of a lot come near their last day of use.
    LotExpiring {
        /// The lot.
        lot_id: Uuid,
    },
    /// A lot was called back.
    LotRecalled {
        /// The lot.
        lot_id: Uuid,
    },
    /// A treatment was recorded.
    TreatmentRecorded {
        /// The treatment.
        treatment_id: Uuid,
        /// Its client.
        client_ref: Reference,
    },
    /// Something about a treatment that was recorded wants a second look: a pack,
    /// the client's age, or what the check had said. The record's `flags` say what.
    TreatmentFlagged {
        /// The treatment.
        treatment_id: Uuid,
        /// Its client.
        client_ref: Reference,
    },
    /// A message is due.
    ReminderDue {
        /// The reminder.
        reminder_id: Uuid,
        /// Its treatment.
        treatment_id: Uuid,
        /// Its client.
        client_ref: Reference,
    },
    /// The healed result can be judged.
    ReviewDue {
        /// The treatment.
        treatment_id: Uuid,
        /// Its client.
        client_ref: Reference,
    },
    /// What a client told cannot wait. It says neither what nor how urgent.
    SymptomEscalated {
        /// The treatment it was told of.
        treatment_id: Uuid,
        /// The client.
        client_ref: Reference,
    },
    /// A trainer signed off an artist.
    SignOffGiven {
        /// The sign-off.
        sign_off_id: Uuid,
        /// Who was signed off.
        artist_ref: Reference,
    },
    /// A sign-off was taken back.
    SignOffWithdrawn {
        /// The sign-off.
        sign_off_id: Uuid,
        /// Who was signed off.
        artist_ref: Reference,
    },
    /// A sign-off comes near its last day.
    SignOffLapsing {
        /// The sign-off.
        sign_off_id: Uuid,
        /// Who was signed off.
        artist_ref: Reference,
    },
    /// Nobody has confirmed that she was at a student's treatment.
    CountersignatureDue {
        /// The treatment.
        treatment_id: Uuid,
        /// Its client.
        client_ref: Reference,
    },
    /// The results of an artist's practice propose a sign-off.
    PracticeReady {
        /// Whose.
        artist_ref: Reference,
    },
    /// Results after a sign-off speak against it.
    PracticeInDoubt {
        /// Whose.
        artist_ref: Reference,
    },
    /// A pack was put or removed.
    PackChanged {
        /// `rules`, `label-spellings` or `aftercare`.
        kind: String,
        /// Its name.
        name: String,
    },
}

/// Adds to a batch that something happened now.
///
/// ```text
/// let batch = outbox::add(batch, moment, Happened::PackChanged { kind, name })?;
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
    let (kind, subject, data) = happened.told();
    let event =
        StoredEvent { source: source.to_owned(), id, kind, subject, time: Instant(now), data };
    Ok(batch.event(event.outgoing()?))
}

impl Happened {
    /// Type, subject and references.
    fn told(self) -> (EventType, String, EventData) {
        let none = EventData::default();
        match self {
            Self::CheckCompleted { check_id, booking_ref, client_ref } => (
                EventType::CheckCompleted,
                format!("bookings/{booking_ref}"),
                EventData {
                    check_id: Some(check_id),
                    booking_ref: Some(booking_ref),
                    client_ref,
                    ..none
                },
            ),
            Self::ClientChanged { client_ref } => (
                EventType::ClientChanged,
                format!("clients/{client_ref}"),
                EventData { client_ref: Some(client_ref), ..none },
            ),
            Self::LotExpiring { lot_id } => lot(EventType::LotExpiring, lot_id),
            Self::LotRecalled { lot_id } => lot(EventType::LotRecalled, lot_id),
            Self::TreatmentRecorded { treatment_id, client_ref } => {
                treatment(EventType::TreatmentRecorded, treatment_id, client_ref)
            }
            Self::TreatmentFlagged { treatment_id, client_ref } => {
                treatment(EventType::TreatmentFlagged, treatment_id, client_ref)
            }
            Self::ReminderDue { reminder_id, treatment_id, client_ref } => (
                EventType::ReminderDue,
                format!("reminders/{reminder_id}"),
                EventData {
                    reminder_id: Some(reminder_id),
                    treatment_id: Some(treatment_id),
                    client_ref: Some(client_ref),
                    ..none
                },
            ),
            Self::ReviewDue { treatment_id, client_ref } => {
                treatment(EventType::ReviewDue, treatment_id, client_ref)
            }
            Self::SymptomEscalated { treatment_id, client_ref } => {
                treatment(EventType::SymptomEscalated, treatment_id, client_ref)
            }
            Self::SignOffGiven { sign_off_id, artist_ref } => {
                sign_off(EventType::SignOffGiven, sign_off_id, artist_ref)
            }
            Self::SignOffWithdrawn { sign_off_id, artist_ref } => {
                sign_off(EventType::SignOffWithdrawn, sign_off_id, artist_ref)
            }
            Self::SignOffLapsing { sign_off_id, artist_ref } => {
                sign_off(EventType::SignOffLapsing, sign_off_id, artist_ref)
            }
            Self::CountersignatureDue { treatment_id, client_ref } => {
                treatment(EventType::CountersignatureDue, treatment_id, client_ref)
            }
            Self::PracticeReady { artist_ref } => practice(EventType::PracticeReady, artist_ref),
            Self::PracticeInDoubt { artist_ref } => {
                practice(EventType::PracticeInDoubt, artist_ref)
            }
            Self::PackChanged { kind, name } => (
                EventType::PackChanged,
                format!("packs/{kind}/{name}"),
                EventData { pack: Some(PackName { kind, name }), ..none },
            ),
        }
    }
}

fn sign_off(kind: EventType, id: Uuid, artist_ref: Reference) -> (EventType, String, EventData) {
    let data =
        EventData { sign_off_id: Some(id), artist_ref: Some(artist_ref), ..EventData::default() };
    (kind, format!("sign-offs/{id}"), data)
}

fn practice(kind: EventType, artist_ref: Reference) -> (EventType, String, EventData) {
    let subject = format!("artists/{artist_ref}");
    (kind, subject, EventData { artist_ref: Some(artist_ref), ..EventData::default() })
}

fn lot(kind: EventType, lot_id: Uuid) -> (EventType, String, EventData) {
    let data = EventData { lot_id: Some(lot_id), ..EventData::default() };
    (kind, format!("lots/{lot_id}"), data)
}

fn treatment(
    kind: EventType,
    treatment_id: Uuid,
    client_ref: Reference,
) -> (EventType, String, EventData) {
    let data = EventData {
        treatment_id: Some(treatment_id),
        client_ref: Some(client_ref),
        ..EventData::default()
    };
    (kind, format!("treatments/{treatment_id}"), data)
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
