//! The outbox: what happened, numbered in the order in which it was committed.
//!
//! An event travels in [`Batch::events`](super::Batch::events); the committer,
//! of which one at a time has its turn, gives it the next number in the same transaction as
//! the change it tells of. So no two events have the same number, none has a
//! number without its change, and no event ever appears below one that a reader
//! has seen: a view shows whole groups of commits only, in their order. Whoever
//! has read up to a number misses nothing by going on behind it.
//!
//! | space | key | value |
//! |---|---|---|
//! | [`EVENTS`] | number (`u64`, big-endian, from 1) | the event as its batch gave it |
//! | [`EVENTS_BY_ID`] | the event's id | its number |
//! | [`EVENT_HEAD`] | [`HEAD_KEY`] | number of the newest event, also after old ones were removed |

use uuid::Uuid;

use super::{Bytes, Space};

/// The events.
pub const EVENTS: Space = Space::new("events");
/// Their numbers by id.
pub const EVENTS_BY_ID: Space = Space::new("events-by-id");
/// Holds the newest number under [`HEAD_KEY`]; only the committer and an import write it.
pub const EVENT_HEAD: Space = Space::new("_event-head");
/// The key of the head.
pub const HEAD_KEY: &[u8] = b"head";

/// An event on its way into the outbox.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outgoing {
    /// Its id.
    pub id: Uuid,
    /// What is stored of it.
    pub value: Bytes,
}

/// The key of a number, and the form in which numbers are stored.
#[must_use]
pub fn key(number: u64) -> Bytes {
    number.to_be_bytes().to_vec()
}

/// The number in a key or value; `None` if it is none.
#[must_use]
pub fn number(bytes: &[u8]) -> Option<u64> {
    bytes.try_into().ok().map(u64::from_be_bytes)
}
