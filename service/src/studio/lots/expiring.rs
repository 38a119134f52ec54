//! Telling others that packs come near their last day of use.

use etui_schema::lots::LotState;
use etui_schema::vocabulary::CivilDate;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use super::BY_EXPIRY;
use super::list::{expiry_key, row};
use crate::store::key::after;
use crate::store::{Batch, Bytes, Order, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::outbox::{Happened, add_noticed};

/// Marks of what was told, by lot and last day.
const TOLD: Space = Space::new("lots-told");
/// How many days ahead is told (common practice, no source).
const DAYS_AHEAD: i32 = 30;
/// Index rows fetched at a time.
const STRIDE: usize = 256;
/// Events of one batch.
const MOST_TOLD: usize = 50;

/// A batch that tells of lots whose packs may be used and end within 30 days;
/// `None` if all were told of. A new last day is told of anew.
///
/// # Errors
/// What the store met.
pub async fn tell_expiring(
    studio: &Studio,
    snap: &mut Snap,
    today: Date,
    now: Timestamp,
) -> Result<Option<Batch>, Error> {
    let last = today.checked_add(DAYS_AHEAD.days()).unwrap_or(today);
    let end = after(&expiry_key(Some(CivilDate(last))).fixed(&[0xff; 16]).finish());
    let mut from = expiry_key(Some(CivilDate(today))).finish();
    let mut batch = Batch::new();
    loop {
        let rows =
            snap.scan(BY_EXPIRY, from.clone()..end.clone(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        for (key, _) in rows {
            from = after(&key);
            if MOST_TOLD <= batch.events.len() {
                return Ok(Some(batch));
            }
            if snap.get(TOLD, &key).await?.is_some() {
                continue;
            }
            let Some(lot) = row(snap, &key).await? else { continue };
            if lot.standing(today).state == LotState::Usable {
                let happened = Happened::LotExpiring { lot_id: lot.id };
                batch = batch.expect(TOLD, key.clone(), None).put(TOLD, key.clone(), Bytes::new());
                batch = add_noticed(studio, batch, now, &[b"lot.expiring", &key], happened)?;
            }
        }
        if !more {
            return Ok(if batch.events.is_empty() { None } else { Some(batch) });
        }
    }
}
