//! An event as it is stored.

use etui_schema::events::{Event, EventData, EventType, Sequence};
use etui_schema::vocabulary::Instant;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::Outgoing;
use crate::store::record::{Record, RecordError, encode};

/// The `source` of every event; together with the id it is unique (CloudEvents
/// 1.0.2, 3.1).
pub const SOURCE: &str = "/v1/events";

/// An event as stored; its number is its key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredEvent {
    /// Its id.
    pub id: Uuid,
    /// What kind of thing happened.
    pub kind: EventType,
    /// What it is about.
    pub subject: String,
    /// When it happened.
    pub time: Instant,
    /// References to what it is about.
    pub data: EventData,
}

impl Record for StoredEvent {
    const KIND: &'static str = "event";
    const VERSION: u32 = 1;
}

impl StoredEvent {
    /// The event on its way into the outbox.
    ///
    /// # Errors
    /// [`RecordError::Unwritable`].
    pub fn outgoing(&self) -> Result<Outgoing, RecordError> {
        Ok(Outgoing { id: self.id, value: encode(self)? })
    }

    /// The event as others see it.
    #[must_use]
    pub fn told(self, sequence: u64) -> Event {
        let Self { id, kind, subject, time, data } = self;
        Event {
            specversion: "1.0".to_owned(),
            id,
            source: SOURCE.to_owned(),
            kind: kind.into(),
            subject,
            time,
            datacontenttype: "application/json".to_owned(),
            sequence: Sequence(sequence),
            data,
        }
    }
}
