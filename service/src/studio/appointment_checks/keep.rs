//! Keeping checks: the trace, its indexes, listing and looking back.
//!
//! | space | key | value |
//! |---|---|---|
//! | `checks` | id | trace, sealed input, sealed answer |
//! | `checks-by-booking` | keyed hash of the booking, made at, id | – |
//! | `checks-by-start` | start, id | booking, lots that were offered |
//! | `checks-by-client` | client's pseudonym, start, id | – |

use std::collections::BTreeMap;

use etui_schema::appointment_checks::{AppointmentCheck, CheckQuery, CheckRow};
use etui_schema::page::Page;
use etui_schema::recalls::{ExposedLot, LotOnOffer, UpcomingCheck};
use etui_schema::vocabulary::{Instant, Reference, Treatment};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::gather::Gathered;
use crate::store::key::{KeyReader, KeyWriter, after};
use crate::store::keyring::Keyring;
use crate::store::record::HashKey;
use crate::store::{Batch, Bytes, Order, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::paging::{self, Walk};
use crate::studio::plan::to_json;
use crate::studio::sealed::{self, Trace};
use crate::studio::vault::Subject;

/// Ids by booking, in the order they were made.
pub const BY_BOOKING: Space = Space::new("checks-by-booking");
/// What was offered, in the order of the appointments.
pub const BY_START: Space = Space::new("checks-by-start");

/// Ids by client, in the order of their appointments.
pub const BY_CLIENT: Space = Space::new("checks-by-client");

/// What stays of a check: references and dates, nothing of health.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct CheckTrace {
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// When the check was made.
    pub made_at: Instant,
    /// Lots that were offered.
    pub lot_ids: Vec<Uuid>,
}

impl Trace for CheckTrace {
    const SPACE: Space = Space::new("checks");
    const WHAT: &'static str = "check";
    type Input = Gathered;
    type Answer = AppointmentCheck;

    fn subject(&self) -> Subject {
        match &self.client_ref {
            Some(client_ref) => Subject::Client(client_ref.clone()),
            None => Subject::Booking(self.booking_ref.clone()),
        }
    }
}

/// What the index by start keeps of a check.
#[derive(Debug, Serialize, Deserialize)]
struct Offered {
    booking_ref: Reference,
    lot_ids: Vec<Uuid>,
}

fn booking_prefix(secret: &HashKey, booking_ref: &Reference) -> KeyWriter {
    KeyWriter::new().fixed(&secret.reference("booking", booking_ref.as_str()))
}

/// The index rows of a check.
#[must_use]
pub fn rows(keyring: &Keyring, id: Uuid, trace: &CheckTrace) -> Vec<(Space, Bytes)> {
    let secret = keyring.index_key();
    let by_booking =
        booking_prefix(&secret, &trace.booking_ref).instant(trace.made_at.0).uuid(id).finish();
    let by_start = KeyWriter::new().instant(trace.starts_at.0).uuid(id).finish();
    let mut rows = vec![(BY_BOOKING, by_booking), (BY_START, by_start)];
    if let Some(client_ref) = &trace.client_ref {
        let client = keyring.client_id(client_ref.as_str());
        let row =
            KeyWriter::new().fixed(client.bytes()).instant(trace.starts_at.0).uuid(id).finish();
        rows.push((BY_CLIENT, row));
    }
    rows
}

/// Ids of a client's checks, in the order of their appointments.
///
/// # Errors
/// What the store met.
pub async fn of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Vec<Uuid>, Error> {
    let client = studio.keyring.client_id(client_ref.as_str());
    let mut range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let mut ids = Vec::new();
    loop {
        let rows = snap.scan(BY_CLIENT, range.clone(), Order::Ascending, 256).await?;
        let more = rows.len() == 256;
        for (key, _) in rows {
            let mut reader = KeyReader::new(&key);
            let id =
                reader.fixed::<32>().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
            ids.push(id.ok_or_else(|| paging::broken(BY_CLIENT))?);
            range.start = after(&key);
        }
        if !more {
            return Ok(ids);
        }
    }
}

/// Adds the index rows of a check to its batch.
///
/// # Errors
/// [`Error::Internal`] if a row cannot be written down.
pub(super) fn index(
    studio: &Studio,
    mut batch: Batch,
    id: Uuid,
    trace: &CheckTrace,
) -> Result<Batch, Error> {
    let offered =
        Offered { booking_ref: trace.booking_ref.clone(), lot_ids: trace.lot_ids.clone() };
    for (space, key) in rows(&studio.keyring, id, trace) {
        let value = if space == BY_START { to_json(&offered)? } else { Vec::new() };
        batch = batch.put(space, key, value);
    }
    Ok(batch)
}

/// When the last appointment of a client is or was, of which there is a check.
///
/// # Errors
/// What the store met.
pub async fn newest_of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<Timestamp>, Error> {
    let client = studio.keyring.client_id(client_ref.as_str());
    let range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let rows = snap.scan(BY_CLIENT, range, Order::Descending, 1).await?;
    Ok(rows.first().and_then(|(key, _)| {
        let mut reader = KeyReader::new(key);
        reader.fixed::<32>().and_then(|_| reader.instant())
    }))
}

/// At most so many checks of appointments before an instant, oldest first.
///
/// # Errors
/// What the store met.
pub async fn starting_before(
    snap: &mut Snap,
    before: Timestamp,
    most: usize,
) -> Result<Vec<Uuid>, Error> {
    let range = Bytes::new()..KeyWriter::new().instant(before).finish();
    let rows = snap.scan(BY_START, range, Order::Ascending, most).await?;
    rows.iter().map(|(key, _)| id_by_start(key)).collect()
}

/// The newest check of a booking.
///
/// # Errors
/// What the store met.
pub async fn newest(
    studio: &Studio,
    snap: &mut Snap,
    booking_ref: &Reference,
) -> Result<Option<Uuid>, Error> {
    let range = booking_prefix(&studio.index_key, booking_ref).prefix_range();
    let rows = snap.scan(BY_BOOKING, range, Order::Descending, 1).await?;
    rows.first().map(|(key, _)| id_by_booking(key)).transpose()
}

fn id_by_booking(key: &[u8]) -> Result<Uuid, Error> {
    let mut reader = KeyReader::new(key);
    let id = reader.fixed::<32>().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
    id.ok_or_else(|| paging::broken(BY_BOOKING))
}

pub(super) fn id_by_start(key: &[u8]) -> Result<Uuid, Error> {
    let mut reader = KeyReader::new(key);
    let id = reader.instant().and_then(|_| reader.uuid());
    id.ok_or_else(|| paging::broken(BY_START))
}

/// The check of a row of [`BY_START`], as it was answered.
///
/// # Errors
/// [`Error::NotFound`] if the person was erased; [`Error::Unreadable`]; what the
/// store met.
pub async fn by_start(
    studio: &Studio,
    snap: &mut Snap,
    key: &[u8],
) -> Result<AppointmentCheck, Error> {
    sealed::load::<CheckTrace>(snap, id_by_start(key)?).await?.said(studio, snap).await
}

/// One page of checks: of one booking in the order they were made, or all in
/// the order of their appointments.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &CheckQuery,
) -> Result<Page<CheckRow>, Error> {
    let CheckQuery { booking_ref, limit, cursor } = query;
    let (space, range) = match booking_ref {
        Some(booking) => (BY_BOOKING, booking_prefix(&studio.index_key, booking).prefix_range()),
        None => (BY_START, Bytes::new()..Bytes::new()),
    };
    let name = format!("checks booking={booking_ref:?}");
    let mut walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    let mut items = Vec::new();
    while let Some(key) = walk.next(snap).await? {
        let id = if booking_ref.is_some() { id_by_booking(&key)? } else { id_by_start(&key)? };
        match readable(sealed::load::<CheckTrace>(snap, id).await)? {
            Some(record) => items.push(row(id, record.trace)),
            None => walk.skip(),
        }
    }
    Ok(Page { items, next_cursor: walk.cursor() })
}

fn row(id: Uuid, trace: CheckTrace) -> CheckRow {
    let CheckTrace { booking_ref, client_ref, treatment, starts_at, made_at, lot_ids: _ } = trace;
    CheckRow { id, made_at, booking_ref, client_ref, treatment, starts_at }
}

/// Checks of appointments to come that offered one of these lots. Only the
/// newest check of a booking counts.
///
/// # Errors
/// What the store met.
pub async fn upcoming_with(
    studio: &Studio,
    snap: &mut Snap,
    lots: &BTreeMap<Uuid, ExposedLot>,
    now: Timestamp,
) -> Result<Vec<UpcomingCheck>, Error> {
    let mut from = KeyWriter::new().instant(now).finish();
    let mut found = Vec::new();
    loop {
        let rows = snap.scan(BY_START, from.clone()..Bytes::new(), Order::Ascending, 256).await?;
        let more = rows.len() == 256;
        for (key, value) in rows {
            from = after(&key);
            let offered: Offered =
                serde_json::from_slice(&value).map_err(|_| paging::broken(BY_START))?;
            let offered_lots = lots.iter().filter(|(id, _)| offered.lot_ids.contains(id));
            let offered_lots: Vec<LotOnOffer> = offered_lots
                .map(|(lot_id, lot)| LotOnOffer { lot_id: *lot_id, lot: lot.clone() })
                .collect();
            if offered_lots.is_empty() {
                continue;
            }
            let check_id = id_by_start(&key)?;
            if newest(studio, snap, &offered.booking_ref).await? == Some(check_id) {
                let record = readable(sealed::load::<CheckTrace>(snap, check_id).await)?;
                let Some(trace) = record.map(|record| record.trace) else { continue };
                found.push(UpcomingCheck {
                    check_id,
                    booking_ref: trace.booking_ref,
                    client_ref: trace.client_ref,
                    starts_at: trace.starts_at,
                    lots: offered_lots,
                });
            }
        }
        if !more {
            return Ok(found);
        }
    }
}
