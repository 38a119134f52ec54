//! Moving packs of a lot to another branch.
//!
//! A lot lies in one branch. Of packs that go to another the lot is parted: those that go are a lot of
//! their own with the same label and code, and both know that they came with one delivery, so
//! that a recall of either takes the other along. Where all go, the lot itself goes.

use etui_craft::refusal::Refusal;
use etui_schema::lots::{LotMove, LotMoveRequest, LotMoved};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::Instant;
use uuid::Uuid;

use super::{StoredLot, load, replace};
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::branches::{self, Days};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::outbox::{self, Happened};
use crate::studio::plan::Planned;

/// Plans to move packs.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for a branch that is not there or where they lie already,
/// and for more packs than are left.
pub async fn move_packs(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &LotMoveRequest,
) -> Result<Planned, Error> {
    let (lot, held) = load(snap, id).await?;
    let LotMoveRequest { branch_ref: to, packs } = request;
    let named = (Some(to), "#/branch_ref");
    let batch = branches::expect(studio, snap, Batch::new(), named).await?;
    if branches::named(Some(to)).is_none() {
        let why = "packs go to a branch";
        return Err(Error::at("#/branch_ref", FaultCode::NotAllowed, why));
    }
    if lot.branch_ref.as_ref() == Some(to) {
        let why = format!("the packs lie in `{to}` already");
        return Err(Error::at("#/branch_ref", FaultCode::Contradiction, why));
    }
    let packs = packs.unwrap_or(lot.packs);
    if lot.packs < packs {
        let why = format!("the lot holds {} packs", lot.packs);
        return Err(Error::at("#/packs", FaultCode::OutOfRange, why)
            .means(Refusal::LotCount.count(lot.packs)));
    }
    let at = LotMove {
        at: Instant(moment.now),
        by: moment.holder.clone(),
        packs,
        from: branches::named(lot.branch_ref.as_ref()).cloned(),
        to: to.clone(),
        other_lot_id: None,
    };
    let (gone, left) = parted(&lot, at, moment)?;
    let mut batch = match &left {
        None => replace(batch, Some((&lot, held)), &gone)?,
        Some(left) => replace(replace(batch, Some((&lot, held)), left)?, None, &gone)?,
    };
    let happened = Happened::lot_moved(gone.id, to.clone());
    batch = outbox::add(batch, moment, happened)?;
    batch = batch.audit(moment.entry("lot.move", &format!("lots/{id}"), lot.version + 1));
    let days = Days::read(snap, moment).await?;
    let told = |lot: &StoredLot| lot.answer(&moment.mandate, days.of(lot.branch_ref.as_ref()));
    Planned::made(&LotMoved { lot: told(&gone), left: left.as_ref().map(told) }, batch)
}

/// The lot at the branch where packs go, and what is left of the one where they lay.
fn parted(
    lot: &StoredLot,
    at: LotMove,
    moment: &Moment,
) -> Result<(StoredLot, Option<StoredLot>), Error> {
    let mut gone = lot.clone();
    gone.branch_ref = Some(at.to.clone());
    gone.packs = at.packs;
    if at.packs == lot.packs {
        (gone.version, gone.came_with) = (lot.version + 1, Some(lot.adjustments.len()));
        gone.moves.push(at);
        return Ok((gone, None));
    }
    (gone.id, gone.version, gone.part_of) = (moment.id()?, 1, Some(lot.delivery()));
    // What was done by hand was done with what stays.
    (gone.adjustments, gone.came_with) = (Vec::new(), None);
    let mut left = lot.clone();
    left.packs -= at.packs;
    left.version += 1;
    left.moves.push(LotMove { other_lot_id: Some(gone.id), ..at.clone() });
    gone.moves.push(LotMove { other_lot_id: Some(lot.id), ..at });
    Ok((gone, Some(left)))
}
