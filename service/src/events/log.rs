//! Reading the outbox by number, and clearing away what is old.

use etui_schema::events::Event;
use jiff::{SignedDuration, Timestamp};
use uuid::Uuid;

use super::EventsError;
use super::stored::StoredEvent;
use crate::store::outbox::{self, EVENT_HEAD, EVENTS, EVENTS_BY_ID, HEAD_KEY};
use crate::store::record::decode;
use crate::store::{Batch, Bytes, Order, Read};

/// How long events are kept: ten times as long as a delivery is tried.
pub const KEPT: SignedDuration = SignedDuration::from_hours(30 * 24);
/// Old events that one batch clears away.
const CLEARED: usize = 200;

/// The number of the newest event; 0 before the first.
///
/// # Errors
/// What the store met.
pub async fn head<R: Read>(snap: &mut R) -> Result<u64, EventsError> {
    match snap.get(EVENT_HEAD, HEAD_KEY).await? {
        None => Ok(0),
        Some(bytes) => outbox::number(&bytes).ok_or(EventsError::Broken(EVENT_HEAD.name())),
    }
}

/// The number of the oldest event that is kept.
///
/// # Errors
/// What the store met.
pub async fn oldest<R: Read>(snap: &mut R) -> Result<Option<u64>, EventsError> {
    let rows = snap.scan(EVENTS, Bytes::new()..Bytes::new(), Order::Ascending, 1).await?;
    rows.first().map(|(key, _)| number_of(key)).transpose()
}

/// At most `limit` events with a number above `after`, in their order.
///
/// # Errors
/// What the store met.
pub async fn read<R: Read>(
    snap: &mut R,
    after: u64,
    limit: usize,
) -> Result<Vec<(u64, StoredEvent)>, EventsError> {
    let Some(first) = after.checked_add(1) else { return Ok(Vec::new()) };
    let range = outbox::key(first)..Bytes::new();
    let rows = snap.scan(EVENTS, range, Order::Ascending, limit).await?;
    rows.into_iter().map(|(key, value)| Ok((number_of(&key)?, decode(&value)?))).collect()
}

/// The same as others see them.
///
/// # Errors
/// What the store met.
pub async fn told<R: Read>(
    snap: &mut R,
    after: u64,
    limit: usize,
) -> Result<Vec<Event>, EventsError> {
    let events = read(snap, after, limit).await?;
    Ok(events.into_iter().map(|(number, event)| event.told(number)).collect())
}

/// The event of a number, if it is still kept.
///
/// # Errors
/// What the store met.
pub async fn at<R: Read>(snap: &mut R, number: u64) -> Result<Option<StoredEvent>, EventsError> {
    let found = snap.get(EVENTS, &outbox::key(number)).await?;
    Ok(found.map(|bytes| decode(&bytes)).transpose()?)
}

/// The event of an id with its number, if it is still kept.
///
/// # Errors
/// What the store met.
pub async fn find<R: Read>(
    snap: &mut R,
    id: Uuid,
) -> Result<Option<(u64, StoredEvent)>, EventsError> {
    let Some(key) = snap.get(EVENTS_BY_ID, id.as_bytes()).await? else { return Ok(None) };
    let number = number_of(&key)?;
    Ok(at(snap, number).await?.map(|event| (number, event)))
}

/// A batch that clears the oldest events away, if any is old enough.
///
/// # Errors
/// What the store met.
pub async fn clear<R: Read>(snap: &mut R, now: Timestamp) -> Result<Option<Batch>, EventsError> {
    let Ok(limit) = now.checked_sub(KEPT) else { return Ok(None) };
    let mut batch = Batch::new();
    for (number, event) in read(snap, 0, CLEARED).await? {
        if limit <= event.time.0 {
            break;
        }
        batch =
            batch.del(EVENTS, outbox::key(number)).del(EVENTS_BY_ID, event.id.as_bytes().to_vec());
    }
    Ok(if batch.ops.is_empty() { None } else { Some(batch) })
}

fn number_of(key: &[u8]) -> Result<u64, EventsError> {
    outbox::number(key).ok_or(EventsError::Broken(EVENTS.name()))
}
