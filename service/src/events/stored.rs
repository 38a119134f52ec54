//! An event as it is stored.

use etui_schema::events::{Event, EventData, EventType, Sequence};
use etui_schema::vocabulary::Instant;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::Outgoing;
use crate::store::record::{Record, RecordError, encode};

/// The `source` that events of before studios had one of their own were told with.
fn former_source() -> String {
    "/v1/events".to_owned()
}

/// An event as stored; its number is its key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredEvent {
    /// Which studio it happened in; together with the id it is unique (CloudEvents
    /// 1.0.2, 3.1). Kept, so that an event is told for ever as it was told first.
    #[serde(default = "former_source")]
    pub source: String,
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
        let Self { source, id, kind, subject, time, data } = self;
        Event {
            specversion: "1.0".to_owned(),
            id,
            source,
            kind: kind.into(),
            subject,
            time,
            datacontenttype: "application/json".to_owned(),
            sequence: Sequence(sequence),
            data,
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::store::record::decode;

    #[test]
    fn an_event_is_told_as_it_was_told_first() {
        for (kept, want) in [(None, "/v1/events"), (Some("/studios/1"), "/studios/1")] {
            let mut data = json!({
                "id": Uuid::nil(), "kind": "pack.changed", "subject": "packs/rules/own",
                "time": "2027-03-16T08:00:00.000Z", "data": {},
            });
            if let Some(kept) = kept {
                data["source"] = json!(kept);
            }
            let text = json!({ "v": 1, "kind": "event", "data": data }).to_string();
            let event: StoredEvent = decode(text.as_bytes()).expect("an event");
            assert_eq!(event.told(1).source, want);
        }
    }
}
