//! The drawer: lots of sterile packets, first expired first out.
//!
//! A lot is one delivery of one batch. What its label said is kept as read;
//! what a person settled is kept beside it. Whether its packs may be used is
//! never stored but worked out for a day from what is known (`craft::drawer`):
//! recalled before expired before empty before held before usable. What nobody
//! knows holds it as much as what is in doubt.
//!
//! | space | key | value |
//! |---|---|---|
//! | `lots` | id | the record |
//! | `lots-by-expiry` | last day of use, id | the rule of its rows in `lots-alike` |
//! | `lots-by-code` | lot code, id | – |
//! | `lots-alike` | what lots have in common, id | – |
//! | `lots-code-turns` | lot code in one spelling | who last received or recalled it |

mod alike;
mod beside;
mod code;
mod confirm;
mod expiring;
mod list;
mod moves;
mod notice;
mod receive;
mod refusals;
mod stored;
#[cfg(test)]
mod tests;
mod wanted;

pub use alike::{
    ALIKE, Together, bring_up_to_date, but_for_serial, former, meant_by, parts_of, with_code,
    without_code,
};
pub use beside::kept_out_beside;
pub use code::{refused as refused_code, typed as typed_code};
pub use confirm::confirm;
pub use expiring::tell_expiring;
pub use list::{list, lying_on, usable_on};
pub use moves::move_packs;
pub use notice::{Notices, RECALLS, StoredRecall};
pub use receive::{deliver, receive};
use refusals::{refused, unsettled};
pub use stored::{Recalled, StoredLot};
pub use wanted::Wanted;

use std::collections::BTreeSet;

use etui_craft::drawer::{HELD_BY_HAND, RECALL_POSSIBLE, Unsettled};
use etui_craft::refusal::Refusal;
use etui_schema::events::EventType;
use etui_schema::lots::{Adjustment, AdjustmentReason, AdjustmentRequest, Confirmed};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::Instant;
use jiff::civil::Date;
use uuid::Uuid;

use super::branches::Days;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::opener::{Opener, Verified};
use super::outbox::{self, Happened};
use super::plan::Planned;
use crate::store::index::Index;
use crate::store::record::{decode, encode};
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Op, Read, Space};

/// The records.
pub const LOTS: Space = Space::new("lots");
/// Ids in the order of their last day of use.
pub const BY_EXPIRY: Index<(Date, Uuid)> = Index::new("lots-by-expiry");
/// Ids by lot code.
pub const BY_CODE: Index<(String, Uuid)> = Index::new("lots-by-code");
/// Whose turn a lot code was last.
const TURNS: Space = Space::new("lots-code-turns");

/// Reads a lot together with the bytes it was read from.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn load(snap: &mut Snap, id: Uuid) -> Result<(StoredLot, Bytes), Error> {
    let bytes = snap
        .get(LOTS, id.as_bytes())
        .await?
        .ok_or_else(|| Error::NotFound { what: "lot", id: id.to_string() })?;
    Ok((decode(&bytes)?, bytes))
}

/// Takes the turn of a lot code, by whoever receives or recalls it: of the two at the same moment
/// one is planned anew and sees the other. Without a code it is the turn of all whose code nobody told.
///
/// # Errors
/// What the store met.
pub async fn take_turn(
    snap: &mut Snap,
    batch: Batch,
    code: Option<&str>,
    taken_by: Uuid,
) -> Result<Batch, Error> {
    let key: Bytes = alike::turn(code).into();
    if batch.expect.iter().any(|(space, other, _)| *space == TURNS && *other == key) {
        return Ok(batch);
    }
    let held = snap.get(TURNS, &key).await?;
    Ok(batch.expect(TURNS, key.clone(), held).put(TURNS, key, taken_by.as_bytes().to_vec()))
}

/// Who called packs of this lot back that have this code: a notice, or what called others of the
/// code back.
///
/// # Errors
/// What the store met.
pub async fn called_back(
    snap: &mut Snap,
    notices: &Notices,
    lot: &StoredLot,
    code: &str,
) -> Result<Option<Recalled>, Error> {
    let others = beside::others(snap, lot, code).await?;
    Ok(recalled_with(&others).or_else(|| notices.of_code(lot, code)))
}

/// The first recall that took one of these lots.
fn recalled_with(others: &[(StoredLot, Bytes)]) -> Option<Recalled> {
    others.iter().find_map(|(other, _)| other.recalled.clone())
}

/// Lets a recall of a lot's code take the lot along. It makes no difference whether the packs came
/// before the notice or come after it, or their code was told later. Packs whose code nobody told are
/// held while a notice may mean them that did not mean them `before`: what was settled of it stays so.
/// `others` are those of its codes, whose turns are taken.
///
/// # Errors
/// What the store met.
async fn follow_recall(
    snap: &mut Snap,
    moment: &Moment,
    (batch, notices): (Batch, &Notices),
    (before, lot, others): (Option<&StoredLot>, &mut StoredLot, &[(StoredLot, Bytes)]),
) -> Result<Batch, Error> {
    if lot.recalled.is_some() {
        return Ok(batch);
    }
    let mut batch = batch;
    if lot.lot.is_none() {
        batch = take_turn(snap, batch, None, lot.id).await?;
    }
    let noticed = || lot.codes().find_map(|code| notices.of_code(lot, code));
    lot.recalled = recalled_with(others).or_else(noticed);
    if lot.recalled.is_none() {
        let asked = before.map(|before| notices.asking(before)).unwrap_or_default();
        if !notices.asking(lot).is_subset(&asked) {
            lot.hold(RECALL_POSSIBLE);
        }
        return Ok(batch);
    }
    outbox::add(batch, moment, Happened::lot(EventType::LotRecalled, lot.id))
}

/// What follows for a lot, and for others of its code, of what somebody tells of it. Whoever looked at
/// the packs just now was asked whether a notice means them, and which day they have, and is not asked
/// again.
async fn named_anew(
    snap: &mut Snap,
    moment: &Moment,
    batch: Batch,
    (before, lot): (&StoredLot, &mut StoredLot),
    said: &Confirmed,
) -> Result<Batch, Error> {
    if !beside::is_told_otherwise(before, lot) {
        return Ok(batch);
    }
    let (mut batch, others) = beside::turns(snap, batch, lot).await?;
    if !before.codes().eq(lot.codes()) || before.reference != lot.reference {
        batch = called_anew(snap, moment, (batch, &others), (before, lot)).await?;
    }
    batch = beside::let_go(batch, (before, lot), &others)?;
    batch = beside::compare(batch, (Some(before), lot), others)?;
    beside::stand_by_day(lot, said, moment);
    Ok(batch)
}

/// As [`follow_recall`], for a lot of which somebody tells another code or article than was known.
async fn called_anew(
    snap: &mut Snap,
    moment: &Moment,
    (batch, others): (Batch, &[(StoredLot, Bytes)]),
    (before, lot): (&StoredLot, &mut StoredLot),
) -> Result<Batch, Error> {
    let is_settled = before.is_held_for(RECALL_POSSIBLE) && !lot.is_held_for(RECALL_POSSIBLE);
    let notices = Notices::all(snap).await?;
    let of_lot = (Some(before), &mut *lot, others);
    let mut batch = follow_recall(snap, moment, (batch, &notices), of_lot).await?;
    if is_settled || !notices.may_mean(lot) {
        lot.held.retain(|reason| reason != RECALL_POSSIBLE);
    }
    let Some(recalled) = lot.recalled.clone().filter(|_| before.recalled.is_none()) else {
        return Ok(batch);
    };
    // What came with one delivery goes with it, wherever it was moved.
    for (part, bytes) in parts_of(snap, &[(lot.clone(), Bytes::new())]).await? {
        if part.recalled.is_none() {
            let (recalled, version) = (Some(recalled.clone()), part.version + 1);
            let next = StoredLot { recalled, version, ..part.clone() };
            batch = replace(batch, Some((&part, bytes)), &next)?;
            batch = outbox::add(batch, moment, Happened::lot(EventType::LotRecalled, part.id))?;
        }
    }
    Ok(batch)
}

/// The writes that put a lot in place of another (or of none), its indexes
/// with it.
///
/// # Errors
/// [`Error::Internal`] if the record cannot be written down.
pub fn replace(
    batch: Batch,
    before: Option<(&StoredLot, Bytes)>,
    after: &StoredLot,
) -> Result<Batch, Error> {
    let (old_rows, held) = match before {
        Some((lot, bytes)) => (rows(lot), Some(bytes)),
        None => (Vec::new(), None),
    };
    let new_rows = rows(after);
    let mut batch = batch.expect(LOTS, after.id.as_bytes().to_vec(), held);
    for (space, key) in &old_rows {
        if !new_rows.contains(&(*space, key.clone())) {
            batch.ops.push(Op::Del(*space, key.clone()));
        }
    }
    for (space, key) in new_rows.into_iter().filter(|row| !old_rows.contains(row)) {
        let value = if space == BY_EXPIRY.space() { alike::RULE.to_vec() } else { Bytes::new() };
        batch.ops.push(Op::Put(space, key, value));
    }
    Ok(batch.put(LOTS, after.id.as_bytes().to_vec(), encode(after)?))
}

impl Verified for StoredLot {
    const SPACE: Space = LOTS;
    const INDEXES: &'static [Indexed] = &[
        Indexed::Whole(BY_EXPIRY.space()),
        Indexed::Whole(BY_CODE.space()),
        Indexed::Whole(ALIKE.space()),
    ];

    fn rows(&self, _: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        Ok(rows(self))
    }
}

/// The index rows of a lot.
fn rows(lot: &StoredLot) -> Vec<(Space, Bytes)> {
    // A lot without a date sorts last.
    let day = lot.expires_on.map_or(Date::MAX, |date| date.0);
    let mut rows = vec![BY_EXPIRY.row(&(day, lot.id))];
    let codes: BTreeSet<&String> = lot.codes().collect();
    rows.extend(codes.into_iter().map(|code| BY_CODE.row(&(code.clone(), lot.id))));
    rows.extend(alike::rows(lot));
    rows
}

/// Takes a lot out of quarantine with what a person settled, or not at all.
/// That its packs are not sterile is kept, and keeps them out.
fn release(
    lot: &mut StoredLot,
    moment: &Moment,
    confirmed: Option<&Confirmed>,
) -> Result<(), Error> {
    let confirmed = confirmed.cloned().unwrap_or_default();
    let at = (Instant(moment.now), moment.holder.as_str());
    let settled = lot.settle(&confirmed, true, at).map_err(|unsettled| match unsettled {
        Unsettled::Recalled | Unsettled::Forbidden(_) => {
            Error::conflict(refused(&unsettled, "#").message).means(Refusal::LotNever)
        }
        Unsettled::LaterThanPrinted(_)
        | Unsettled::Improbable(_)
        | Unsettled::ReadOtherwise(..)
        | Unsettled::NoCode(_)
        | Unsettled::Unnamed(_) => Error::Refused(vec![refused(&unsettled, "#/confirmed")]),
    })?;
    if settled.left.is_empty() || confirmed.sterile == Some(false) {
        return Ok(());
    }
    Err(Error::Refused(unsettled(&settled.left, "#/confirmed")))
}

/// What day it is where a lot lies.
///
/// # Errors
/// What the store met.
pub async fn today_of(snap: &mut Snap, moment: &Moment, lot: &StoredLot) -> Result<Date, Error> {
    Ok(Days::read(snap, moment).await?.of(lot.branch_ref.as_ref()))
}

/// Only a count may find more packs than were known; what was damaged, practised with or given back is
/// gone.
fn may_change_by(change: i32, reason: AdjustmentReason) -> Result<(), Error> {
    let (holds, wanted) = match reason {
        AdjustmentReason::Recount => (true, ""),
        AdjustmentReason::Damaged | AdjustmentReason::Practice | AdjustmentReason::Returned => {
            (change < 0, "less than 0: packs are gone")
        }
        AdjustmentReason::Released | AdjustmentReason::Held => (change <= 0, "0 or less"),
    };
    let why = || format!("with this reason `change` is {wanted}; what was counted is a `recount`");
    holds.then_some(()).ok_or_else(|| Error::at("#/change", FaultCode::Contradiction, why()))
}

/// Plans a change of a lot by hand.
///
/// # Errors
/// [`Error::Refused`] for a count below zero or a release that leaves something
/// open; [`Error::Conflict`] for a lot that was called back or may never be used.
pub async fn adjust(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &AdjustmentRequest,
) -> Result<Planned, Error> {
    let (lot, held) = load(snap, id).await?;
    let AdjustmentRequest { change, reason, note, confirmed } = request;
    let mut next = lot.clone();
    may_change_by(*change, *reason)?;
    let packs = i64::from(lot.packs) + i64::from(*change);
    next.packs = u32::try_from(packs).map_err(|_| {
        let range = format!("the lot holds {} packs; {change} would make it {packs}", lot.packs);
        Error::at("#/change", FaultCode::OutOfRange, range)
            .means(Refusal::LotCount.count(lot.packs))
    })?;
    match reason {
        AdjustmentReason::Released => release(&mut next, moment, confirmed.as_ref())?,
        AdjustmentReason::Held => next.hold(HELD_BY_HAND),
        AdjustmentReason::Recount
        | AdjustmentReason::Damaged
        | AdjustmentReason::Practice
        | AdjustmentReason::Returned => {
            if confirmed.is_some() {
                return Err(Error::at(
                    "#/confirmed",
                    FaultCode::Contradiction,
                    "what was settled is only taken with the reason `released`",
                ));
            }
        }
    }
    next.adjustments.push(Adjustment {
        at: Instant(moment.now),
        change: *change,
        reason: *reason,
        note: note.clone(),
    });
    next.version += 1;
    let said = confirmed.clone().unwrap_or_default();
    let batch = named_anew(snap, moment, Batch::new(), (&lot, &mut next), &said).await?;
    let batch = replace(batch, Some((&lot, held)), &next)?;
    Planned::made(
        &next.answer(&moment.mandate, today_of(snap, moment, &next).await?),
        batch.audit(moment.entry("lot.adjust", &format!("lots/{id}"), next.version)),
    )
}
