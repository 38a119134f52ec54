//! Listing the drawer, first expired first.

use etui_schema::lots::{Lot, LotQuery, LotState};
use etui_schema::page::Page;
use etui_schema::vocabulary::Reference;
use jiff::ToSpan;
use jiff::civil::Date;
use uuid::Uuid;

use super::{BY_CODE, BY_EXPIRY, LOTS, StoredLot, Wanted};
use crate::store::Bytes;
use crate::store::index::{Key, Keys, behind};
use crate::studio::Studio;
use crate::studio::branches::{Days, is_of};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::paging::{self, Walk, records};

/// How long an expired lot is still told of (common practice, no source).
const LOOKED_BACK_DAYS: i32 = 365;

/// One page of the drawer.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    query: &LotQuery,
) -> Result<Page<Lot>, Error> {
    let LotQuery { state, lot: code, branch_ref, expires_by, configuration, maker, limit, cursor } =
        query;
    let days = Days::read(snap, moment).await?;
    let asked = Wanted::of(studio, configuration.as_deref(), maker.as_deref())?;
    let name = paging::named("lots", query)?;
    let (space, range) = match code {
        Some(code) => (BY_CODE.space(), (code.clone(),).write().prefix_range()),
        None => {
            let end = expires_by.map_or_else(Bytes::new, |day| behind(&(day.0,)));
            (BY_EXPIRY.space(), Bytes::new()..end)
        }
    };
    let wanted = |lot: &StoredLot| {
        let today = days.of(lot.branch_ref.as_ref());
        (state.is_empty() || state.contains(&lot.standing(today).state))
            && is_of(branch_ref.as_ref(), lot.branch_ref.as_ref())
            && moment.mandate.reaches_branch(lot.branch_ref.as_ref())
            && expires_by.is_none_or(|by| lot.expires_on.is_some_and(|last| last.0 <= by.0))
            && asked.fits(lot)
    };
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let id = |key: &[u8]| match code {
            Some(_) => BY_CODE.read(key).map(|(_, id)| id),
            None => BY_EXPIRY.read(key).map(|(_, id)| id),
        };
        let ids = rows.iter().map(|(key, _)| id(key));
        let lots = lots(snap, &ids.collect::<Result<Vec<_>, _>>()?).await?;
        let told = |lot: StoredLot| {
            let today = days.of(lot.branch_ref.as_ref());
            lot.answer(&moment.mandate, today)
        };
        let shown = |lot: StoredLot| Some(lot).filter(wanted).map(told);
        Ok(lots.into_iter().map(|lot| lot.map(shown)).collect())
    })
    .await
}

/// Many lots with one question: each, or why it cannot be read.
async fn lots(snap: &mut Snap, ids: &[Uuid]) -> Result<Vec<Result<StoredLot, Error>>, Error> {
    let keys: Vec<Bytes> = ids.iter().map(|id| id.as_bytes().to_vec()).collect();
    records(snap, LOTS, &keys).await
}

/// Every lot that rows by expiry name, in their order.
pub(super) async fn every(
    snap: &mut Snap,
    rows: Keys<(Date, Uuid)>,
) -> Result<Vec<StoredLot>, Error> {
    let ids: Vec<Uuid> = rows.every(snap).await?.into_iter().map(|(_, id)| id).collect();
    let lots = lots(snap, &ids).await?.into_iter().map(readable);
    Ok(lots.collect::<Result<Vec<_>, Error>>()?.into_iter().flatten().collect())
}

/// Every lot whose packs may be used on a day, at a branch if one is named, first expired first.
///
/// # Errors
/// What the store met.
pub async fn usable_on(
    snap: &mut Snap,
    days: &Days,
    branch: Option<&Reference>,
) -> Result<Vec<StoredLot>, Error> {
    let mut found = since(snap, days.least()).await?;
    let is_here = |lot: &StoredLot| branch.is_none() || is_of(branch, lot.branch_ref.as_ref());
    found.retain(|lot| {
        let day = days.of(lot.branch_ref.as_ref());
        lot.standing(day).state == LotState::Usable && is_here(lot)
    });
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
    every(snap, BY_EXPIRY.since(&(day,))).await
}
