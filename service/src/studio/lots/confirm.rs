//! Confirming a delivery: what one person settled about many lots, each with
//! an outcome of its own. What stands against one lot changes nothing for the
//! others.

use std::collections::HashSet;

use etui_craft::drawer;
use etui_schema::deliveries::{
    Confirmation, ConfirmationOutcome, ConfirmationOutcomeKind, ConfirmationRequest,
    LotConfirmation,
};
use etui_schema::lots::{Confirmed, LotState};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Instant, Reference};

use super::refusals::{refused, unsettled};
use super::{beside, load, named_anew, replace};
use crate::store::Batch;
use crate::studio::branches::Days;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::plan::Planned;

/// Plans to take over what somebody settled.
///
/// # Errors
/// [`Error::Refused`] if a lot is named twice; what the store met.
pub async fn confirm(
    snap: &mut Snap,
    moment: &Moment,
    request: &ConfirmationRequest,
) -> Result<Planned, Error> {
    let ConfirmationRequest { by, confirmed, lots } = request;
    named_once(lots)?;
    let (mut batch, days) = (Batch::new(), Days::read(snap, moment).await?);
    let mut outcomes = Vec::with_capacity(lots.len());
    for (at, one) in lots.iter().enumerate() {
        let said = merged(by, confirmed.as_ref(), one.confirmed.as_ref());
        let outcome = confirm_one((snap, &days), moment, &mut batch, (at, one), &said).await?;
        outcomes.push(outcome);
    }
    let confirmation = Confirmation { confirmed_at: Instant(moment.now), by: by.clone(), outcomes };
    Planned::made(&confirmation, batch)
}

fn named_once(lots: &[LotConfirmation]) -> Result<(), Error> {
    let mut seen = HashSet::new();
    let twice = lots.iter().enumerate().filter(|(_, one)| !seen.insert(one.lot_id));
    let faults: Vec<_> = twice
        .map(|(at, _)| {
            let why = "this lot is named twice; name it once";
            Fault::new(format!("#/lots/{at}/lot_id"), FaultCode::Duplicate, why)
        })
        .collect();
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// What is said of one lot: its own word first, then what holds for all.
fn merged(by: &Reference, all: Option<&Confirmed>, own: Option<&Confirmed>) -> Confirmed {
    let all = all.cloned().unwrap_or_default();
    let Confirmed { configuration, lot, expires_on, reference, sterile, by: named } =
        own.cloned().unwrap_or_default();
    Confirmed {
        configuration: configuration.or(all.configuration),
        lot: lot.or(all.lot),
        expires_on: expires_on.or(all.expires_on),
        reference: reference.or(all.reference),
        sterile: sterile.or(all.sterile),
        by: named.or(all.by).or_else(|| Some(by.clone())),
    }
}

async fn confirm_one(
    (snap, days): (&mut Snap, &Days),
    moment: &Moment,
    batch: &mut Batch,
    (at, one): (usize, &LotConfirmation),
    said: &Confirmed,
) -> Result<ConfirmationOutcome, Error> {
    let place = format!("#/lots/{at}");
    let refusal = |lot, fault| ConfirmationOutcome {
        lot_id: one.lot_id,
        outcome: ConfirmationOutcomeKind::Refused.into(),
        settled: Vec::new(),
        open: Vec::new(),
        lot,
        errors: vec![fault],
    };
    let (stored, bytes) = match load(snap, one.lot_id).await {
        Ok(found) => found,
        Err(Error::NotFound { .. }) => {
            let why = "there is no such lot in the drawer";
            let fault = Fault::new(format!("{place}/lot_id"), FaultCode::UnknownReference, why);
            return Ok(refusal(None, fault));
        }
        Err(error) => return Err(error),
    };
    // What was said of others before may have asked something of this one.
    let lot = beside::written(batch, [stored.id].into_iter())?.remove(&stored.id);
    let lot = lot.unwrap_or_else(|| stored.clone());
    let today = days.of(lot.branch_ref.as_ref());
    let mut next = lot.clone();
    let by = (Instant(moment.now), moment.holder.as_str());
    let outcome = match next.settle(said, false, by) {
        Ok(outcome) => outcome,
        Err(why) => {
            let fault = refused(&why, &format!("{place}/confirmed"));
            return Ok(refusal(Some(lot.answer(&moment.mandate, today)), fault));
        }
    };
    if next != lot {
        next.version = stored.version + 1;
        let about = format!("lots/{}", lot.id);
        let taken = std::mem::take(batch);
        let taken = named_anew(snap, moment, taken, (&lot, &mut next), said).await?;
        *batch = replace(taken, Some((&stored, bytes)), &next)?.audit(moment.entry(
            "lot.confirm",
            &about,
            next.version,
        ));
    }
    let state = next.standing(today).state;
    // What came to light by it is open as well.
    let left = if next.recalled.is_some() { outcome.left } else { drawer::open(&next.known()) };
    let mut open: Vec<_> = left.iter().filter_map(|reason| drawer::question(reason)).collect();
    open.sort_unstable();
    open.dedup();
    let errors = unsettled(&left, &format!("{place}/confirmed"));
    Ok(ConfirmationOutcome {
        lot_id: lot.id,
        outcome: (if state == LotState::Usable {
            ConfirmationOutcomeKind::Released
        } else {
            ConfirmationOutcomeKind::StillHeld
        })
        .into(),
        settled: outcome.settled.into_iter().map(Into::into).collect(),
        open: open.into_iter().map(Into::into).collect(),
        lot: Some(next.answer(&moment.mandate, today)),
        errors,
    })
}
