//! Listing the drawer, first expired first.

use etui_schema::lots::{Lot, LotQuery, LotState};
use etui_schema::page::Page;
use etui_schema::vocabulary::CivilDate;
use jiff::ToSpan;
use jiff::civil::Date;

use super::{BY_EXPIRY, LOTS, StoredLot};
use crate::store::key::{KeyReader, KeyWriter, after};
use crate::store::record::decode;
use crate::store::{Bytes, Order, Read};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::{self, Walk};

/// Index rows fetched at a time.
const STRIDE: usize = 256;
/// How long an expired lot is still told of (common practice, no source).
const LOOKED_BACK_DAYS: i32 = 365;

/// The beginning of an expiry key; a lot without a date sorts last.
pub(super) fn expiry_key(expires_on: Option<CivilDate>) -> KeyWriter {
    let day = expires_on.map_or(Date::MAX, |date| date.0);
    KeyWriter::new().text(&day.to_string())
}

/// One page of the drawer.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    today: Date,
    query: &LotQuery,
) -> Result<Page<Lot>, Error> {
    let LotQuery { state, expires_by, limit, cursor } = query;
    let name = format!("lots state={state:?} expires_by={expires_by:?}");
    let end = match expires_by {
        None => Bytes::new(),
        Some(day) => after(&expiry_key(Some(*day)).fixed(&[0xff; 16]).finish()),
    };
    let range = Bytes::new()..end;
    let mut walk = Walk::begin(studio, name, BY_EXPIRY, range, *limit, cursor.as_deref())?;
    let mut items = Vec::new();
    while let Some(key) = walk.next(snap).await? {
        match row(snap, &key).await? {
            Some(lot) if state.is_none_or(|wanted| wanted == lot.standing(today).state) => {
                items.push(lot.answer(today));
            }
            _ => walk.skip(),
        }
    }
    Ok(Page { items, next_cursor: walk.cursor() })
}

pub(super) async fn row(snap: &mut Snap, key: &[u8]) -> Result<Option<StoredLot>, Error> {
    let mut reader = KeyReader::new(key);
    let id = reader.text().and_then(|_| reader.uuid()).ok_or_else(|| paging::broken(BY_EXPIRY))?;
    Ok(snap.get(LOTS, id.as_bytes()).await?.map(|bytes| decode(&bytes)).transpose()?)
}

/// Every lot whose packs may be used on a day, first expired first.
///
/// # Errors
/// What the store met.
pub async fn usable_on(snap: &mut Snap, day: Date) -> Result<Vec<StoredLot>, Error> {
    let mut found = since(snap, day).await?;
    found.retain(|lot| lot.standing(day).state == LotState::Usable);
    Ok(found)
}

/// Every lot that may be used on a day or lies beside them, first expired
/// first: whatever expired within the last year, is held, called back or empty.
///
/// # Errors
/// What the store met.
pub async fn lying_on(snap: &mut Snap, day: Date) -> Result<Vec<StoredLot>, Error> {
    since(snap, day.checked_sub(LOOKED_BACK_DAYS.days()).unwrap_or(day)).await
}

async fn since(snap: &mut Snap, day: Date) -> Result<Vec<StoredLot>, Error> {
    let mut from = expiry_key(Some(CivilDate(day))).finish();
    let mut found = Vec::new();
    loop {
        let rows =
            snap.scan(BY_EXPIRY, from.clone()..Bytes::new(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        for (key, _) in rows {
            from = after(&key);
            found.extend(row(snap, &key).await?);
        }
        if !more {
            return Ok(found);
        }
    }
}
