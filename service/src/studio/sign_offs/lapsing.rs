//! Telling others that a sign-off comes near its last day.

use etui_schema::events::EventType;
use jiff::civil::Date;
use jiff::{Timestamp, ToSpan};

use super::{SIGN_OFFS, StoredSignOff};
use crate::store::record::decode;
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::outbox::{Happened, add_noticed};

/// Marks of what was told, by id, and the day on which all were looked at.
const TOLD: Space = Space::new("sign-offs-told");
/// Sign-offs are few and end on a day, so that all are looked at, once a day.
const LOOKED_AT: &[u8] = b"looked-at";
/// How many days ahead is told (model parameter).
const DAYS_AHEAD: i32 = 30;
/// Events of one batch.
const MOST_TOLD: usize = 50;

/// A batch that tells of sign-offs that stand and end within 30 days; `None` if all were
/// told of today.
///
/// # Errors
/// What the store met.
pub async fn tell_lapsing(
    studio: &Studio,
    snap: &mut Snap,
    today: Date,
    now: Timestamp,
) -> Result<Option<Batch>, Error> {
    let looked = snap.get(TOLD, LOOKED_AT).await?;
    let day = today.to_string().into_bytes();
    if looked.as_ref() == Some(&day) {
        return Ok(None);
    }
    let last = today.checked_add(DAYS_AHEAD.days()).unwrap_or(today);
    let (mut batch, mut rows) = (Batch::new(), Rows::all(SIGN_OFFS));
    while let Some((key, bytes)) = rows.next(snap).await? {
        // One that cannot be read covers nothing, and a check says so.
        let Ok(one) = decode::<StoredSignOff>(&bytes) else { continue };
        let ends = (today..=last).contains(&one.valid_until.0) && one.withdrawn.is_none();
        if !ends || snap.get(TOLD, &key).await?.is_some() {
            continue;
        }
        if batch.events.len() == MOST_TOLD {
            return Ok(Some(batch));
        }
        let happened = Happened::sign_off(EventType::SignOffLapsing, one.id, one.artist_ref);
        batch = batch.expect(TOLD, key.clone(), None).put(TOLD, key.clone(), Bytes::new());
        batch = add_noticed(studio, batch, now, &[b"sign_off.lapsing", &key], happened)?;
    }
    Ok(Some(batch.expect(TOLD, LOOKED_AT, looked).put(TOLD, LOOKED_AT, day)))
}
