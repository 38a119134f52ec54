//! Telling others that packs come near their last day of use.

use etui_schema::events::EventType;
use etui_schema::lots::LotState;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use super::{BY_EXPIRY, load};
use crate::store::index::{Key, behind};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::branches::Days;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::outbox::{Happened, add_noticed};

/// Marks of what was told, by lot and last day.
const TOLD: Space = Space::new("lots-told");
/// How many days ahead is told (common practice, no source).
const DAYS_AHEAD: i32 = 30;
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
    let days = Days::at(snap, (now, today)).await?;
    let ahead = |day: Date| day.checked_add(DAYS_AHEAD.days()).unwrap_or(day);
    let (first, latest) = days.ends();
    let range = (first,).write().finish()..behind(&(ahead(latest),));
    let mut rows = BY_EXPIRY.keys(Rows::of(BY_EXPIRY.space(), range));
    let mut batch = Batch::new();
    while batch.events.len() < MOST_TOLD
        && let Some((key, _)) = rows.next(snap).await?
    {
        let (_, row) = BY_EXPIRY.row(&key);
        if snap.get(TOLD, &row).await?.is_some() {
            continue;
        }
        let Some((lot, _)) = readable(load(snap, key.1).await)? else { continue };
        let today = days.of(lot.branch_ref.as_ref());
        if lot.standing(today).state == LotState::Usable && key.0 <= ahead(today) {
            let happened = Happened::lot(EventType::LotExpiring, lot.id);
            batch = batch.expect(TOLD, row.clone(), None).put(TOLD, row.clone(), Bytes::new());
            batch = add_noticed(studio, batch, now, &[b"lot.expiring", &row], happened)?;
        }
    }
    Ok(if batch.events.is_empty() { None } else { Some(batch) })
}
