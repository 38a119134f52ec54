//! Keeping checks: the trace, its indexes and looking back.
//!
//! | space | key | value |
//! |---|---|---|
//! | `checks` | id | trace, sealed input, sealed answer |
//! | `checks-by-booking` | keyed hash of the booking, made at, id | – |
//! | `checks-by-start` | start, id | booking, lots that were offered |
//! | `checks-by-client` | client's pseudonym, start, id | – |

use std::collections::BTreeMap;
use std::ops::Range;

use etui_schema::appointment_checks::{AppointmentCheck, AppointmentCheckRequest};
use etui_schema::recalls::{ExposedLot, LotOnOffer, UpcomingCheck};
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment};
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan as _};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::gather::Gathered;
use crate::store::index::{Index, Key, Keys};
use crate::store::keyring::Keyring;
use crate::store::record::HashKey;
use crate::store::rows::Rows;
use crate::store::seal::ClientId;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, Found, or_unreadable, readable};
use crate::studio::paging;
use crate::studio::plan::to_json;
use crate::studio::sealed::{self, StoredSealed, Trace};
use crate::studio::vault::Subject;
use crate::studio::whose::Whose;
use crate::studio::{branches, days};

/// Ids by booking, in the order they were made.
pub const BY_BOOKING: Index<([u8; 32], Timestamp, Uuid)> = Index::new("checks-by-booking");
/// What was offered, in the order of the appointments.
pub const BY_START: Index<(Timestamp, Uuid)> = Index::new("checks-by-start");
/// Ids by client, in the order of their appointments.
pub const BY_CLIENT: Index<(ClientId, Timestamp, Uuid)> = Index::new("checks-by-client");

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
    /// The artist; former builds did not keep it open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub artist_ref: Option<Reference>,
    /// Where it is to be.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub branch_ref: Option<Reference>,
}

impl CheckTrace {
    /// Whose it is, and of which branch.
    #[must_use]
    pub fn whose(self) -> Whose {
        Whose { artist: self.artist_ref, branch: self.branch_ref }
    }
}

impl Trace for CheckTrace {
    const SPACE: Space = Space::new("checks");
    const INDEXES: &'static [Indexed] = &[
        Indexed::Whole(BY_BOOKING.space()),
        Indexed::Whole(BY_START.space()),
        Indexed::Whole(BY_CLIENT.space()),
    ];
    const WHAT: &'static str = "check";
    type Input = Gathered;
    type Answer = AppointmentCheck;

    fn subject(&self) -> Subject {
        match &self.client_ref {
            Some(client_ref) => Subject::Client(client_ref.clone()),
            None => Subject::Booking(self.booking_ref.clone()),
        }
    }

    fn rows(&self, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)> {
        let booking = booking_hash(&keyring.index_key(), &self.booking_ref);
        let mut rows = vec![
            BY_BOOKING.row(&(booking, self.made_at.0, id)),
            BY_START.row(&(self.starts_at.0, id)),
        ];
        rows.extend(self.client_ref.as_ref().map(|client_ref| {
            let client = keyring.client_id(client_ref.as_str());
            BY_CLIENT.row(&(client, self.starts_at.0, id))
        }));
        rows
    }
}

/// Days around an appointment in which other bookings are looked for: more than any skin is given
/// between two sessions.
const NEAR_DAYS: i64 = 200;

/// What the index by start keeps of a check.
#[derive(Debug, Serialize, Deserialize)]
struct Offered {
    booking_ref: Reference,
    lot_ids: Vec<Uuid>,
    /// What is to be treated; rows of former builds do not say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    treatment: Option<Treatment>,
}

/// What stands for a booking in keys.
pub(super) fn booking_hash(secret: &HashKey, booking_ref: &Reference) -> [u8; 32] {
    secret.reference("booking", booking_ref.as_str())
}

/// The rows of a client.
fn of(studio: &Studio, client_ref: &Reference) -> Keys<(ClientId, Timestamp, Uuid)> {
    BY_CLIENT.under(&(studio.keyring.client_id(client_ref.as_str()),))
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
    let keys = of(studio, client_ref).every(snap).await?;
    Ok(keys.into_iter().map(|(.., id)| id).collect())
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
    let offered = Offered {
        booking_ref: trace.booking_ref.clone(),
        lot_ids: trace.lot_ids.clone(),
        treatment: Some(trace.treatment),
    };
    for (space, key) in trace.rows(&studio.keyring, id) {
        let value = if space == BY_START.space() { to_json(&offered)? } else { Vec::new() };
        batch = batch.put(space, key, value);
    }
    Ok(batch)
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
    let keys = BY_START.before(&(before,)).most(snap, most).await?;
    Ok(keys.into_iter().map(|(_, id)| id).collect())
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
    let booking = booking_hash(&studio.index_key, booking_ref);
    let newest = BY_BOOKING.under(&(booking,)).backwards().first(snap).await?;
    Ok(newest.map(|(.., id)| id))
}

/// When the client has other bookings to come in the same area, as far as they were checked. Of each
/// only the newest check counts.
///
/// # Errors
/// What the store met.
pub(super) async fn booked_beside(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
    now: Timestamp,
) -> Result<Vec<Instant>, Error> {
    let Some(client_ref) = &request.client_ref else { return Ok(Vec::new()) };
    let near = jiff::SignedDuration::from_hours(24 * NEAR_DAYS);
    let mut keys = of(studio, client_ref).every(snap).await?;
    let apart = |at: Timestamp| at.duration_since(request.starts_at.0).abs();
    keys.retain(|(_, at, _)| now < *at && apart(*at) <= near);
    let rows: Vec<Bytes> = keys.iter().map(|(_, at, id)| BY_START.row(&(*at, *id)).1).collect();
    let values = snap.get_many(BY_START.space(), &rows).await?;
    let mut found = Vec::new();
    for ((_, at, id), value) in keys.into_iter().zip(values) {
        let offered = value.and_then(|value| serde_json::from_slice::<Offered>(&value).ok());
        let Some(Offered { booking_ref, treatment, .. }) = offered else { continue };
        if booking_ref == request.booking_ref
            || newest(studio, snap, &booking_ref).await? != Some(id)
        {
            continue;
        }
        let treatment = match treatment {
            Some(treatment) => Some(treatment),
            None => readable(sealed::load::<CheckTrace>(snap, id).await)?
                .map(|record| record.trace.treatment),
        };
        if treatment == Some(request.treatment) {
            found.push(Instant(at));
        }
    }
    Ok(found)
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
    let (_, id) = BY_START.read(key)?;
    sealed::load::<CheckTrace>(snap, id).await?.said(studio, snap).await
}

/// Checks of appointments on a day where they take place, in their order, and how many cannot be
/// read. Only the newest check of a booking counts: where it
/// was moved, the day it was moved from is none of its.
///
/// # Errors
/// What the store met.
pub async fn on_day(
    studio: &Studio,
    snap: &mut Snap,
    day: Date,
) -> Result<(Vec<StoredSealed<CheckTrace>>, u32), Error> {
    // Calendars are up to 26 hours apart.
    let around = |days: i64| day.checked_add(days.days()).unwrap_or(day);
    let (from, to) = (CivilDate(around(-2)), CivilDate(around(2)));
    let Range { start, end } = days::between(studio, Some(from), Some(to))?;
    let range = (start,).write().finish()..(end,).write().finish();
    let keys = BY_START.keys(Rows::of(BY_START.space(), range)).every(snap).await?;
    let ids: Vec<Uuid> = keys.iter().map(|(_, id)| *id).collect();
    let (mut found, mut unreadable) = (Vec::new(), 0);
    for (record, (at, _)) in
        sealed::load_many::<CheckTrace>(snap, &ids).await?.into_iter().zip(keys)
    {
        let is_then = |studio: &Studio| studio.zone.rules().to_datetime(at).date() == day;
        match or_unreadable(record.map(Some))? {
            Found::Read(Some(record)) => {
                let branch = record.trace.branch_ref.as_ref();
                let here = branches::at(studio, snap, branch).await?;
                if !is_then(&here) {
                    continue;
                }
                if newest(studio, snap, &record.trace.booking_ref).await? == Some(record.id) {
                    found.push(record);
                }
            }
            Found::Read(None) => {}
            Found::Unreadable => unreadable += u32::from(is_then(studio)),
        }
    }
    Ok((found, unreadable))
}

/// Checks of appointments to come that offered one of these lots, and how many
/// cannot be read. Only the newest check of a booking counts.
///
/// # Errors
/// What the store met.
pub async fn upcoming_with(
    studio: &Studio,
    snap: &mut Snap,
    lots: &BTreeMap<Uuid, ExposedLot>,
    now: Timestamp,
) -> Result<(Vec<UpcomingCheck>, u32), Error> {
    let mut rows = BY_START.since(&(now,));
    let (mut found, mut unreadable) = (Vec::new(), 0);
    while let Some(((_, check_id), value)) = rows.next(snap).await? {
        let offered = serde_json::from_slice::<Offered>(&value).map(Some);
        let offered = offered.map_err(|_| paging::broken(BY_START.space()));
        let Found::Read(Some(offered)) = or_unreadable(offered)? else {
            unreadable += 1;
            continue;
        };
        let offered_lots = lots.iter().filter(|(id, _)| offered.lot_ids.contains(id));
        let offered_lots: Vec<LotOnOffer> = offered_lots
            .map(|(lot_id, lot)| LotOnOffer { lot_id: *lot_id, lot: lot.clone() })
            .collect();
        if offered_lots.is_empty()
            || newest(studio, snap, &offered.booking_ref).await? != Some(check_id)
        {
            continue;
        }
        let record = sealed::load::<CheckTrace>(snap, check_id).await;
        let trace = match or_unreadable(record.map(|record| Some(record.trace)))? {
            Found::Read(Some(trace)) => trace,
            Found::Read(None) => continue,
            Found::Unreadable => {
                unreadable += 1;
                continue;
            }
        };
        found.push(UpcomingCheck {
            check_id,
            booking_ref: trace.booking_ref,
            client_ref: trace.client_ref,
            starts_at: trace.starts_at,
            lots: offered_lots,
            branch_ref: trace.branch_ref,
        });
    }
    Ok((found, unreadable))
}
