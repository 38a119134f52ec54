//! Deliveries of one code beside each other: what is known of one is asked of the others, whichever
//! came first.
//!
//! What one says of another (`craft::drawer`) holds that when it comes to light: as packs come in, and
//! as a code, an article, a date or what keeps packs out of use is told otherwise. Somebody who looks
//! at the packs settles it for good: the same two are not held against each other for it again.

use std::collections::{BTreeMap, BTreeSet};

use etui_craft::drawer::{self, CODE_HELD, EXPIRY_DIFFERS, HELD_BY_HAND};
use etui_schema::lots::{Adjustment, AdjustmentReason, Confirmed, LotQuestion};
use etui_schema::vocabulary::Instant;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use uuid::Uuid;

use super::{LOTS, StoredLot, meant_by, replace, take_turn};
use crate::store::record::decode;
use crate::store::{Batch, Bytes, Op};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;

/// Whether a notice, or another delivery, of this lot's code is of its maker and article.
fn is_of_article(lot: &StoredLot, other: &StoredLot) -> bool {
    let other = (other.maker.as_deref(), other.reference.as_deref());
    drawer::meant(lot.maker.as_deref(), lot.reference.as_deref(), other)
}

/// Every other lot of a code that stands on this one, of its maker and article as far as that is told.
///
/// # Errors
/// What the store met.
pub(super) async fn others(
    snap: &mut Snap,
    lot: &StoredLot,
    code: &str,
) -> Result<Vec<(StoredLot, Bytes)>, Error> {
    let mut found = meant_by(snap, code).await?.read;
    found.retain(|(other, _)| other.id != lot.id && is_of_article(lot, other));
    Ok(found)
}

/// What a lot asks because of another of its code.
fn asked(lot: &StoredLot, other: &StoredLot) -> Vec<&'static str> {
    let of = |lot: &StoredLot| lot.configuration;
    drawer::asked_beside((&lot.known(), of(lot).as_ref()), (&other.known(), of(other).as_ref()))
}

/// Holds a lot for what it asks because of another; whether that is more than was asked.
fn ask(lot: &mut StoredLot, other: &StoredLot, reasons: &[&str]) -> bool {
    let before = lot.clone();
    reasons.iter().for_each(|reason| lot.hold(reason));
    let is_by_hand = drawer::kept_out(&other.known()).all(|why| why == HELD_BY_HAND);
    let is_first = !before.is_held_for(CODE_HELD);
    if reasons.contains(&CODE_HELD) && is_by_hand && (is_first || !before.held_with.is_empty()) {
        let earlier = before.held_with.iter().filter(|id| !is_first && **id != other.id);
        lot.held_with = earlier.copied().chain([other.id]).collect();
    }
    before != *lot
}

/// Holds lots that come at once against each other.
pub(super) fn among(mut lots: Vec<&mut StoredLot>) {
    let meant = |lot: &StoredLot| -> BTreeSet<String> {
        lot.codes().map(|code| drawer::code_as_meant(code)).collect()
    };
    let codes: Vec<BTreeSet<String>> = lots.iter().map(|lot| meant(lot)).collect();
    for at in 1..lots.len() {
        let (before, rest) = lots.split_at_mut(at);
        let Some(lot) = rest.first_mut() else { continue };
        for (other, _) in
            before.iter_mut().zip(&codes).filter(|(_, its)| !its.is_disjoint(&codes[at]))
        {
            if is_of_article(lot, other) {
                let (own, its) = (asked(lot, other), asked(other, lot));
                ask(lot, other, &own);
                ask(other, lot, &its);
            }
        }
    }
}

/// Whether what others of its code are held for may be another than before.
pub(super) fn is_told_otherwise(before: &StoredLot, lot: &StoredLot) -> bool {
    let out = |lot: &StoredLot| drawer::kept_out(&lot.known()).collect::<Vec<_>>();
    let told = |lot: &StoredLot| (lot.reference.clone(), lot.expires_on, lot.configuration);
    told(before) != told(lot) || !before.codes().eq(lot.codes()) || out(before) != out(lot)
}

/// Takes the turns of a lot's codes and gives the others that have them.
///
/// # Errors
/// What the store met.
pub(super) async fn turns(
    snap: &mut Snap,
    mut batch: Batch,
    lot: &StoredLot,
) -> Result<(Batch, Vec<(StoredLot, Bytes)>), Error> {
    let (codes, mut found): (BTreeSet<&String>, Vec<(StoredLot, Bytes)>) =
        (lot.codes().collect(), Vec::new());
    for code in codes {
        batch = take_turn(snap, batch, Some(code), lot.id).await?;
        for (other, bytes) in others(snap, lot, code).await? {
            if found.iter().all(|(one, _)| one.id != other.id) {
                found.push((other, bytes));
            }
        }
    }
    Ok((batch, found))
}

/// Whether two lots share a code, and maker and article as far as that is told.
fn is_of_code(lot: &StoredLot, other: &StoredLot) -> bool {
    is_of_article(lot, other) && lot.codes().any(|code| other.is_known_by(code))
}

/// Whether somebody who is named stands for the last day of use of a lot.
fn has_day_settled(lot: &StoredLot) -> bool {
    lot.settled.iter().any(|one| {
        one.confirmed.by.is_some()
            && one.confirmed.expires_on == lot.expires_on
            && one.settled.iter().any(|of| *of == LotQuestion::Expiry)
    })
}

/// Takes the day that somebody who is named has just said of the packs as the answer to what others of
/// their code ask.
pub(super) fn stand_by_day(lot: &mut StoredLot, said: &Confirmed, moment: &Moment) {
    let Confirmed { expires_on, by, .. } = said.clone();
    if expires_on.is_some() && by.is_some() && lot.is_held_for(EXPIRY_DIFFERS) {
        let day = Confirmed { expires_on, by, ..Confirmed::default() };
        // What forbids the use stays, and so does what is asked.
        drop(lot.settle(&day, false, (Instant(moment.now), &moment.holder)));
    }
}

/// Whether somebody who is named settled for others in the drawer that packs of the days of these two
/// are of one code.
fn is_settled(lot: &StoredLot, other: &StoredLot, drawer: &[StoredLot]) -> bool {
    let is_later = |one: &StoredLot, its: &StoredLot| asked(one, its).contains(&EXPIRY_DIFFERS);
    let has_met = |one: &StoredLot| {
        drawer.iter().any(|its| {
            its.expires_on == other.expires_on && is_of_code(one, its) && is_later(one, its)
        })
    };
    drawer.iter().any(|one| {
        one.expires_on == lot.expires_on
            && has_day_settled(one)
            && !one.is_held_for(EXPIRY_DIFFERS)
            && is_of_code(one, lot)
            && is_later(one, other)
            && has_met(one)
    })
}

/// Lets others go that are held for nothing but that this lot was put aside by hand, which somebody who
/// is named took back. What a label said of any of their code is not taken back by it.
///
/// # Errors
/// [`Error::Internal`] if a record cannot be written down.
pub(super) fn let_go(
    mut batch: Batch,
    (before, lot): (&StoredLot, &StoredLot),
    others: &[(StoredLot, Bytes)],
) -> Result<Batch, Error> {
    let is_out = |one: &StoredLot| drawer::kept_out(&one.known()).next().is_some();
    let said = lot.settled.get(before.settled.len()..).unwrap_or_default();
    let is_named = said.iter().any(|one| one.confirmed.by.is_some());
    if !before.is_held_for(HELD_BY_HAND) || !is_named || is_out(lot) {
        return Ok(batch);
    }
    let mut written = written(&batch, others.iter().map(|(other, _)| other.id))?;
    for (held, bytes) in others.iter().filter(|(other, _)| other.held_with.contains(&lot.id)) {
        let mut next = written.remove(&held.id).unwrap_or(held.clone());
        next.held_with.retain(|id| *id != lot.id);
        // A part of the delivery that lies elsewhere may still be put aside.
        let mut parts = others.iter().filter(|(one, _)| one.delivery() == lot.delivery());
        if next.held_with.is_empty() && !parts.any(|(one, _)| is_out(one)) {
            next.held.retain(|reason| reason != CODE_HELD);
        }
        next.version = held.version + 1;
        batch = replace(batch, Some((held, bytes.clone())), &next)?;
    }
    Ok(batch)
}

/// Holds a lot and the others of its code against each other, as far as something came to light since
/// `before`.
///
/// # Errors
/// [`Error::Internal`] if a record cannot be written down.
pub(super) fn compare(
    mut batch: Batch,
    (before, lot): (Option<&StoredLot>, &mut StoredLot),
    others: Vec<(StoredLot, Bytes)>,
) -> Result<Batch, Error> {
    let mut written = written(&batch, others.iter().map(|(other, _)| other.id))?;
    let now = |(held, _): &(StoredLot, Bytes)| written.remove(&held.id).unwrap_or(held.clone());
    let drawer: Vec<StoredLot> = others.iter().map(now).collect();
    for ((held, bytes), other) in others.into_iter().zip(drawer.iter().cloned()) {
        let was = before.filter(|before| is_of_code(before, &other));
        let anew = |(one, its): (&StoredLot, &StoredLot), was: Option<Vec<&'static str>>| {
            let (mut asked, was) = (asked(one, its), was.unwrap_or_default());
            asked.retain(|reason| !was.contains(reason));
            asked.retain(|reason| *reason != EXPIRY_DIFFERS || !is_settled(one, its, &drawer));
            asked
        };
        let own = anew((lot, &other), was.map(|was| asked(was, &other)));
        let its = anew((&other, lot), was.map(|was| asked(&other, was)));
        ask(lot, &other, &own);
        let mut next = StoredLot { version: held.version + 1, ..other };
        if ask(&mut next, lot, &its) {
            batch = replace(batch, Some((&held, bytes)), &next)?;
        }
    }
    Ok(batch)
}

/// Those of some lots that a batch writes, as it leaves them.
///
/// # Errors
/// What was written cannot be read.
pub(super) fn written(
    batch: &Batch,
    ids: impl Iterator<Item = Uuid>,
) -> Result<BTreeMap<Uuid, StoredLot>, Error> {
    let (ids, mut last): (BTreeSet<Uuid>, BTreeMap<Uuid, &Bytes>) =
        (ids.collect(), BTreeMap::new());
    for op in &batch.ops {
        if let Op::Put(LOTS, key, bytes) = op
            && let Ok(id) = Uuid::from_slice(key)
            && ids.contains(&id)
        {
            last.insert(id, bytes);
        }
    }
    last.into_iter().map(|(id, bytes)| Ok((id, decode(bytes)?))).collect()
}

/// Why, and since which day, one of these lots is out of use for what may be of another's code as well.
#[must_use]
pub fn kept_out_beside(lot: &StoredLot, all: &[StoredLot]) -> Option<(String, Date)> {
    let mut beside = all.iter().filter(|other| other.id != lot.id && is_of_code(lot, other));
    beside.find_map(|other| {
        let why = drawer::kept_out(&other.known()).next()?;
        let by_hand = |one: &&Adjustment| one.reason == AdjustmentReason::Held;
        let aside = other.adjustments.iter().rfind(by_hand).filter(|_| why == HELD_BY_HAND);
        let since = aside.map_or(other.received_at, |one| one.at);
        Some((why, TimeZone::UTC.to_datetime(since.0).date()))
    })
}
