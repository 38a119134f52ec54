//! A delivery as it is stored: one event on its way to one subscription.
//!
//! | space | key | value |
//! |---|---|---|
//! | [`DELIVERIES`] | subscription id, event number | state, latest attempts |
//! | [`PENDING`] | subscription id, event number | subject, when it is due |
//!
//! The rows of [`PENDING`] are those that have not come to an end, so what is
//! to be done is found without looking at what was done.

use std::ops::Range;

use etui_schema::events::{EventType, Sequence};
use etui_schema::subscriptions::{AttemptOutcome, Delivery, DeliveryAttempt, DeliveryState};
use etui_schema::vocabulary::Instant;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::stored::StoredEvent;
use super::{EventsError, retry};
use crate::store::key::{KeyReader, KeyWriter};
use crate::store::record::{Record, decode, encode};
use crate::store::{Batch, Bytes, Order, Read, Space};

/// The records.
pub const DELIVERIES: Space = Space::new("deliveries");
/// Those that have not come to an end.
pub const PENDING: Space = Space::new("deliveries-pending");
/// Latest attempts that a record keeps.
const RECENT: usize = 10;
/// Most finished deliveries that are kept of one subscription.
const MOST_KEPT: usize = 1000;
/// Most records that one batch clears away.
const CLEARED: usize = 200;

/// A delivery as stored.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct StoredDelivery {
    /// The event's id.
    pub id: Uuid,
    /// The event's number.
    pub number: u64,
    /// The event's type.
    pub kind: EventType,
    /// The event's subject.
    pub subject: String,
    /// How it stands.
    pub stands: Stands,
    /// How often it was tried.
    pub attempts: u32,
    /// Attempts since it was last sent by hand: what back-off counts.
    pub failed: u32,
    /// When the first of these began.
    pub first_at: Option<Instant>,
    /// The latest attempts, oldest first.
    pub recent: Vec<DeliveryAttempt>,
    /// When it was made.
    pub made_at: Instant,
}

/// How a delivery stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stands {
    /// To be tried at this moment.
    Due(Instant),
    /// Taken by the receiver.
    Delivered(Instant),
    /// Given up.
    Dead(Instant),
}

impl Record for StoredDelivery {
    const KIND: &'static str = "delivery";
}

/// What stands in an index row of what is pending.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PendingRow {
    /// The event's subject.
    pub subject: String,
    /// When it is due.
    pub due: Instant,
}

/// What one attempt came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Outcome {
    /// What it was.
    pub what: AttemptOutcome,
    /// The status that was answered.
    pub status: Option<u16>,
    /// How long the receiver asked to be left alone.
    pub retry_after: Option<SignedDuration>,
}

impl Outcome {
    /// An attempt that got no answer.
    #[must_use]
    pub fn without_answer(what: AttemptOutcome) -> Self {
        Self { what, status: None, retry_after: None }
    }
}

impl StoredDelivery {
    /// A delivery that is due at once.
    #[must_use]
    pub fn due(number: u64, event: &StoredEvent, now: Timestamp) -> Self {
        Self {
            id: event.id,
            number,
            kind: event.kind,
            subject: event.subject.clone(),
            stands: Stands::Due(Instant(now)),
            attempts: 0,
            failed: 0,
            first_at: None,
            recent: Vec::new(),
            made_at: Instant(now),
        }
    }

    /// Makes it due at once, with three days before it.
    pub fn send_again(&mut self, now: Timestamp) {
        self.stands = Stands::Due(Instant(now));
        self.failed = 0;
        self.first_at = None;
    }

    /// Takes in what an attempt came to that began at `at` and ended `now`.
    pub fn take(&mut self, outcome: Outcome, at: Timestamp, now: Timestamp) {
        let Outcome { what, status, retry_after } = outcome;
        self.attempts = self.attempts.saturating_add(1);
        self.failed = self.failed.saturating_add(1);
        let first = self.first_at.get_or_insert(Instant(at)).0;
        self.recent.push(DeliveryAttempt { at: Instant(at), outcome: what.into(), status });
        if RECENT < self.recent.len() {
            self.recent.remove(0);
        }
        self.stands = match what {
            AttemptOutcome::Delivered => Stands::Delivered(Instant(now)),
            AttemptOutcome::Gone
            | AttemptOutcome::Redirected
            | AttemptOutcome::Refused
            | AttemptOutcome::Timeout
            | AttemptOutcome::NoAddress
            | AttemptOutcome::AddressNotAllowed
            | AttemptOutcome::NoConnection
            | AttemptOutcome::NoTls => {
                match retry::next(self.id, self.failed, first, now, retry_after) {
                    Some(due) => Stands::Due(Instant(due)),
                    None => Stands::Dead(Instant(now)),
                }
            }
        };
    }

    /// The delivery as its owner sees it; `gone` if the receiver is.
    #[must_use]
    pub fn told(self, subscription_id: Uuid, gone: Option<Instant>) -> Delivery {
        let Self {
            id,
            number,
            kind,
            subject,
            stands,
            attempts,
            failed: _,
            first_at: _,
            recent,
            made_at,
        } = self;
        let (state, next_attempt_at, finished_at) = match (stands, gone) {
            (Stands::Due(due), None) => (DeliveryState::Pending, Some(due), None),
            (Stands::Due(_), Some(at)) => (DeliveryState::Cancelled, None, Some(at)),
            (Stands::Delivered(at), _) => (DeliveryState::Delivered, None, Some(at)),
            (Stands::Dead(at), _) => (DeliveryState::Dead, None, Some(at)),
        };
        Delivery {
            id,
            subscription_id,
            kind,
            subject,
            sequence: Sequence(number),
            state: state.into(),
            attempts,
            recent,
            next_attempt_at,
            made_at,
            finished_at,
        }
    }
}

/// The key of a delivery, in both spaces.
#[must_use]
pub fn key(subscription: Uuid, number: u64) -> Bytes {
    KeyWriter::new().uuid(subscription).u64(number).finish()
}

/// The range of all deliveries of a subscription.
#[must_use]
pub fn range(subscription: Uuid) -> Range<Bytes> {
    KeyWriter::new().uuid(subscription).prefix_range()
}

/// The event number in a key.
///
/// # Errors
/// [`EventsError::Broken`].
pub fn number_in(key: &[u8]) -> Result<u64, EventsError> {
    let mut reader = KeyReader::new(key);
    reader.uuid().and_then(|_| reader.u64()).ok_or(EventsError::Broken(DELIVERIES.name()))
}

/// Looks a delivery up, with the bytes it was read from.
///
/// # Errors
/// What the store met.
pub async fn find<R: Read>(
    snap: &mut R,
    subscription: Uuid,
    number: u64,
) -> Result<Option<(StoredDelivery, Bytes)>, EventsError> {
    match snap.get(DELIVERIES, &key(subscription, number)).await? {
        Some(bytes) => Ok(Some((decode(&bytes)?, bytes))),
        None => Ok(None),
    }
}

/// Adds to a batch that a delivery takes the place of what was there.
///
/// # Errors
/// [`EventsError::Record`] if it cannot be written down.
pub fn replace(
    batch: Batch,
    subscription: Uuid,
    before: Option<Bytes>,
    next: &StoredDelivery,
) -> Result<Batch, EventsError> {
    let key = key(subscription, next.number);
    let batch =
        batch.expect(DELIVERIES, key.clone(), before).put(DELIVERIES, key.clone(), encode(next)?);
    Ok(match pending_row(next) {
        Some(row) => batch.put(PENDING, key, row),
        None => batch.del(PENDING, key),
    })
}

/// The value of the index row that a delivery must have, if it must have one.
#[must_use]
pub fn pending_row(delivery: &StoredDelivery) -> Option<Bytes> {
    match delivery.stands {
        Stands::Due(due) => {
            serde_json::to_vec(&PendingRow { subject: delivery.subject.clone(), due }).ok()
        }
        Stands::Delivered(_) | Stands::Dead(_) => None,
    }
}

/// A batch that clears finished deliveries away: those whose event is no longer
/// kept, and those beyond the number that is kept.
///
/// # Errors
/// What the store met.
pub async fn clear<R: Read>(
    snap: &mut R,
    subscription: Uuid,
    oldest_event: u64,
) -> Result<Option<Batch>, EventsError> {
    let newest = snap.scan(DELIVERIES, range(subscription), Order::Descending, MOST_KEPT).await?;
    let first_kept = match newest.last() {
        Some((key, _)) if newest.len() == MOST_KEPT => number_in(key)?.max(oldest_event),
        Some(_) | None => oldest_event,
    };
    let old = key(subscription, 0)..key(subscription, first_kept);
    let mut batch = Batch::new();
    for (key, value) in snap.scan(DELIVERIES, old, Order::Ascending, CLEARED).await? {
        let delivery: StoredDelivery = decode(&value)?;
        if pending_row(&delivery).is_none() {
            batch = batch.expect(DELIVERIES, key.clone(), Some(value)).del(DELIVERIES, key);
        }
    }
    Ok(if batch.ops.is_empty() { None } else { Some(batch) })
}

/// A batch that clears deliveries of a removed subscription away.
///
/// # Errors
/// What the store met.
pub async fn clear_all<R: Read>(
    snap: &mut R,
    subscription: Uuid,
) -> Result<Option<Batch>, EventsError> {
    let mut batch = Batch::new();
    let rows = snap.scan(DELIVERIES, range(subscription), Order::Ascending, CLEARED).await?;
    for (key, _) in rows {
        batch = batch.del(DELIVERIES, key.clone()).del(PENDING, key);
    }
    Ok(if batch.ops.is_empty() { None } else { Some(batch) })
}
