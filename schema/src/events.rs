//! Events: what happened in the studio, told to other programs.
//!
//! An event is a CloudEvents 1.0.2 event in the structured mode of JSON. It
//! carries references and never anything of a client's health: who needs more
//! asks the service for it, with a token that may.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};
use crate::kinds::{asked, told};
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use uuid::Uuid;

use crate::open::Open;
use crate::vocabulary::{Instant, Reference, words};

words! {
    /// What kind of thing happened.
    EventType, "event type" {
        /// A pre-appointment check was made.
        CheckCompleted = "check.completed",
        /// A client's record was written, or the client was forgotten.
        ClientChanged = "client.changed",
        /// Packs of a lot end within 30 days.
        LotExpiring = "lot.expiring",
        /// A lot was called back.
        LotRecalled = "lot.recalled",
        /// Packs of a lot went to another branch.
        LotMoved = "lot.moved",
        /// A treatment was recorded.
        TreatmentRecorded = "treatment.recorded",
        /// Something about a treatment that was recorded wants a second look: a
        /// pack, the client's age, or what the check before it had said.
        TreatmentFlagged = "treatment.flagged",
        /// A message of an aftercare plan is due.
        ReminderDue = "reminder.due",
        /// The healed result of a treatment can be judged.
        ReviewDue = "review.due",
        /// What a client told cannot wait.
        SymptomEscalated = "symptom.escalated",
        /// A trainer signed off an artist.
        SignOffGiven = "sign_off.given",
        /// A sign-off was taken back.
        SignOffWithdrawn = "sign_off.withdrawn",
        /// A sign-off ends within 30 days.
        SignOffLapsing = "sign_off.lapsing",
        /// A student's treatment was recorded a day ago, and no trainer has confirmed that
        /// she was there.
        CountersignatureDue = "countersignature.due",
        /// The results of an artist's practice propose a sign-off.
        PracticeReady = "practice.ready",
        /// Results after a sign-off speak against it.
        PracticeInDoubt = "practice.in_doubt",
        /// A pack of rules, spellings or aftercare was put or removed.
        PackChanged = "pack.changed",
    }
}

/// The place of an event in the order of all: 18 digits, so that the order of
/// the texts is that of the numbers. It grows, from 1, without gaps but
/// after a restore: then it goes on far above all that were given before.
///
/// ```
/// use etui_schema::events::Sequence;
/// assert_eq!(Sequence(17).to_string(), "000000000000000017");
/// assert_eq!("17".parse::<Sequence>(), Ok(Sequence(17)));
/// assert!("-1".parse::<Sequence>().is_err());
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Sequence(pub u64);

/// A text that is no sequence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a sequence is 1 to 18 digits, such as 000000000000000017")]
pub struct NoSequence;

impl fmt::Display for Sequence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:018}", self.0)
    }
}

impl FromStr for Sequence {
    type Err = NoSequence;

    fn from_str(text: &str) -> Result<Self, NoSequence> {
        let digits = (1..=18).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        if !digits {
            return Err(NoSequence);
        }
        text.parse().map(Self).map_err(|_| NoSequence)
    }
}

impl Serialize for Sequence {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Sequence {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<'de, str>::deserialize(deserializer)?;
        text.parse().map_err(de::Error::custom)
    }
}

#[cfg(feature = "describe")]
impl JsonSchema for Sequence {
    fn schema_name() -> Cow<'static, str> {
        "Sequence".into()
    }

    fn inline_schema() -> bool {
        true
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": "^[0-9]{1,18}$", "examples": ["000000000000000017"] })
    }
}

/// One event (CloudEvents 1.0.2, structured mode).
#[told(Eq)]
pub struct Event {
    /// Always `1.0`.
    pub specversion: String,
    /// Its id (UUIDv7). A delivery that is repeated carries the same one.
    pub id: Uuid,
    /// The studio it comes from, a URI reference: `/studios/` and digits of its own, or
    /// what its owner set. With the id it is unique. Events of before studios had one
    /// say `/v1/events`.
    pub source: String,
    /// What kind of thing happened.
    #[serde(rename = "type")]
    pub kind: Open<EventType>,
    /// What it is about, such as `lots/0198c6a2-…`. Events of one subject are
    /// delivered in their order.
    pub subject: String,
    /// When it happened.
    pub time: Instant,
    /// Always `application/json`.
    pub datacontenttype: String,
    /// Its place in the order of all events (the CloudEvents extension
    /// `sequence`); send the last one as `after` to go on from there.
    pub sequence: Sequence,
    /// References to what it is about.
    pub data: EventData,
}

/// References to what an event is about; never anything of a client's health.
#[told(Default, Eq)]
pub struct EventData {
    /// The check.
    pub check_id: Option<Uuid>,
    /// The booking.
    pub booking_ref: Option<Reference>,
    /// The client.
    pub client_ref: Option<Reference>,
    /// The lot.
    pub lot_id: Option<Uuid>,
    /// The treatment.
    pub treatment_id: Option<Uuid>,
    /// The reminder.
    pub reminder_id: Option<Uuid>,
    /// The sign-off.
    pub sign_off_id: Option<Uuid>,
    /// The artist that it is for.
    pub artist_ref: Option<Reference>,
    /// The pack.
    pub pack: Option<PackName>,
    /// The branch that it went to.
    pub branch_ref: Option<Reference>,
}

/// Which pack.
#[told(Eq)]
pub struct PackName {
    /// `rules`, `label-spellings` or `aftercare`.
    pub kind: String,
    /// Its name.
    pub name: String,
}

/// Which events to read.
#[asked(Default, Eq)]
pub struct EventQuery {
    /// Only of this type; repeated: of one of these. `next_after` counts all of them.
    #[serde(default, rename = "type", skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 40))]
    pub kind: Vec<EventType>,
    /// Only events behind this sequence; from the oldest kept if absent.
    pub after: Option<Sequence>,
    /// Events a page, 1 to 500; 100 if absent.
    #[schemars(range(min = 1, max = 500))]
    pub limit: Option<u16>,
}

/// Events in their order.
#[told(Eq)]
pub struct EventPage {
    /// The events.
    pub items: Vec<Event>,
    /// Send this as `after` to go on. Whoever does so misses nothing.
    pub next_after: Sequence,
    /// Whether there are more already.
    pub more: bool,
    /// The oldest event that is still kept. If it lies beyond the one after
    /// yours, events were removed before you read them.
    pub oldest: Option<Sequence>,
}

/// How to be told of events as they happen.
#[asked(Default, Eq)]
pub struct EventStreamQuery {
    /// Begin behind this sequence; with what happens from now on if absent.
    /// `Last-Event-ID` goes before it.
    pub after: Option<Sequence>,
    /// End the stream after this many seconds, 0 to 3600; 0 gives what is there
    /// and ends. 3600 if absent: ask again with `Last-Event-ID`, as browsers do.
    #[schemars(range(min = 0, max = 3600))]
    pub for_seconds: Option<u16>,
}
