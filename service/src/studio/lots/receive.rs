//! Taking a delivery in: read the label, keep it as read, hold what is open.

use etui_craft::drawer::{self, CONFIGURATION_OPEN, EXPIRY_UNKNOWN, Unsettled};
use etui_craft::label::{Lineage, Outcome, Policy, Printed, Reading};
use etui_schema::deliveries::{LotDelivery, LotDeliveryOutcome, LotDeliveryRequest};
use etui_schema::endpoints;
use etui_schema::lots::{Confirmed, LotQuestion, LotRequest};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Instant};

use super::refusals::refused;
use super::stored::{StoredLot, is_complete};
use super::{Notices, beside, follow_recall, replace};
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::branches;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::habits::{self, StoredHabit};
use crate::studio::moment::Moment;
use crate::studio::plan::Planned;

/// Plans to take a delivery in.
///
/// What the label leaves open does not keep the packs out: the lot is held,
/// with the reason, until a person settles it.
///
/// # Errors
/// [`Error::Refused`] if nothing says what the packs are.
pub async fn receive(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &LotRequest,
) -> Result<Planned, Error> {
    let habits = habits::all(snap).await?;
    let notices = Notices::all(snap).await?;
    let (mut lot, moment, batch) = come_in(studio, snap, moment, request, &habits).await?;
    let (moment, id) = (&moment, lot.id);
    let told = (&mut lot, request.confirmed.as_ref());
    let batch = kept(snap, moment, (batch, &notices), told).await?;
    Ok(Planned::made(
        &lot.answer(&moment.mandate, moment.today),
        batch.audit(moment.entry("lot.receive", &format!("lots/{id}"), 1)),
    )?
    .at(endpoints::get_lot().at.filled(&[&id])))
}

/// Plans to take a whole delivery in. A lot that is refused keeps none of the
/// others out; `dry_run` is told in the answer and changes nothing else.
///
/// # Errors
/// What the store met.
pub async fn deliver(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &LotDeliveryRequest,
    dry_run: bool,
) -> Result<Planned, Error> {
    let habits = habits::all(snap).await?;
    let notices = Notices::all(snap).await?;
    let mut taken = Vec::with_capacity(request.lots.len());
    for one in &request.lots {
        taken.push(come_in(studio, snap, moment, one, &habits).await);
    }
    beside::among(taken.iter_mut().filter_map(|one| Some(&mut one.as_mut().ok()?.0)).collect());
    let mut batch = Batch::new();
    let mut outcomes = Vec::with_capacity(request.lots.len());
    for (at, (taken, one)) in taken.into_iter().zip(&request.lots).enumerate() {
        let outcome = match taken {
            Ok((mut lot, moment, held)) => {
                batch.expect.extend(held.expect);
                let (moment, about) = (&moment, format!("lots/{}", lot.id));
                let told = (&mut lot, one.confirmed.as_ref());
                batch = kept(snap, moment, (batch, &notices), told).await?;
                batch = batch.audit(moment.entry("lot.receive", &about, 1));
                let lot = lot.answer(&moment.mandate, moment.today);
                LotDeliveryOutcome { lot: Some(lot), errors: Vec::new() }
            }
            Err(Error::Refused(faults)) => {
                let placed = |mut fault: Fault| {
                    fault.pointer = fault.pointer.replacen('#', &format!("#/lots/{at}"), 1);
                    fault
                };
                LotDeliveryOutcome { lot: None, errors: faults.into_iter().map(placed).collect() }
            }
            Err(error) => return Err(error),
        };
        outcomes.push(outcome);
    }
    let delivery = LotDelivery { received_at: Instant(moment.now), dry_run, outcomes };
    Planned::made(&delivery, batch)
}

/// One lot of a delivery, by the moment where it comes in, and what is expected of its branch.
async fn come_in(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &LotRequest,
    habits: &[StoredHabit],
) -> Result<(StoredLot, Moment, Batch), Error> {
    let at = (request.branch_ref.as_ref(), "#/branch_ref");
    let (here, batch) = branches::there(studio, snap, at).await?;
    let moment = by(snap, moment, &here).await?;
    let mut lot = taken_in(&here, &moment, request, habits)?;
    lot.branch_ref = branches::said(snap, lot.branch_ref).await?;
    Ok((lot, moment, batch))
}

/// The moment where a lot comes in; where that is not said, on the latest of all days.
async fn by(snap: &mut Snap, moment: &Moment, here: &Studio) -> Result<Moment, Error> {
    if here.here.is_some() {
        return Ok(moment.by(&here.zone));
    }
    let (_, today) = branches::Days::read(snap, moment).await?.ends();
    Ok(Moment { today, ..moment.clone() })
}

/// Keeps a lot that came in, called back if its code is.
async fn kept(
    snap: &mut Snap,
    moment: &Moment,
    (batch, notices): (Batch, &Notices),
    (lot, said): (&mut StoredLot, Option<&Confirmed>),
) -> Result<Batch, Error> {
    let (batch, others) = beside::turns(snap, batch, lot).await?;
    let batch = follow_recall(snap, moment, (batch, notices), (None, lot, &others)).await?;
    let batch = beside::compare(batch, (None, lot), others)?;
    if let Some(said) = said {
        beside::stand_by_day(lot, said, moment);
    }
    replace(batch, None, lot)
}

fn taken_in(
    studio: &Studio,
    moment: &Moment,
    request: &LotRequest,
    habits: &[StoredHabit],
) -> Result<StoredLot, Error> {
    let LotRequest { text, symbol, packs, maker, confirmed, branch_ref } = request.clone();
    let mut lot = StoredLot {
        id: moment.id()?,
        configuration: None,
        lot: None,
        expires_on: None,
        reference: None,
        gtin: None,
        maker,
        packs,
        text,
        symbol,
        received_at: Instant(moment.now),
        adjustments: Vec::new(),
        held: Vec::new(),
        recalled: None,
        version: 1,
        sterile: None,
        printed_until: None,
        settled: Vec::new(),
        other_codes: Vec::new(),
        branch_ref,
        part_of: None,
        moves: Vec::new(),
        came_with: None,
        held_with: Vec::new(),
    };
    if lot.text.is_some() || lot.symbol.is_some() {
        let reference = confirmed.as_ref().and_then(|said| said.reference.clone());
        let told = Told { maker: lot.maker.clone(), reference };
        let reading = told.read(studio, moment, &lot, Policy::default());
        take_over(&mut lot, &reading);
        follow(studio, moment, &mut lot, &told, habits);
    }
    if let Some(confirmed) = &confirmed {
        confirm(&mut lot, confirmed, moment)?;
    }
    if lot.configuration.is_none() {
        return Err(Error::at(
            "#/confirmed/configuration",
            FaultCode::Missing,
            "neither print nor symbol says what the packs hold; send the printed text or confirm the configuration",
        ));
    }
    Ok(lot)
}

/// What was told of where the packs come from, beside their label.
struct Told {
    maker: Option<String>,
    reference: Option<String>,
}

impl Told {
    fn read(&self, studio: &Studio, moment: &Moment, lot: &StoredLot, policy: Policy) -> Reading {
        let lineage = Lineage {
            maker: self.maker.as_deref(),
            gtin: None,
            reference: self.reference.as_deref(),
        };
        let printed = Printed { text: lot.text.as_deref(), symbol: lot.symbol.as_deref() };
        studio.craft.reader.read_from(&lineage, &printed, moment.today, policy)
    }
}

/// Follows the habits that somebody knows of the supplier: first how it prints
/// a month, then what it leaves unsaid of sterility. What the label says itself
/// comes first, and of habits that differ none is followed.
fn follow(
    studio: &Studio,
    moment: &Moment,
    lot: &mut StoredLot,
    told: &Told,
    habits: &[StoredHabit],
) {
    let speaking: Vec<&StoredHabit> =
        habits.iter().filter(|habit| habit.habit().whose.speaks_of(&lot.lineage())).collect();
    let months: Vec<_> = speaking.iter().filter_map(|h| Some((h, h.habit().month?))).collect();
    if let Some((habit, rule)) = months.first().copied()
        && months.iter().all(|(_, other)| *other == rule)
    {
        let open = |lot: &StoredLot| lot.standing(moment.today).questions;
        let before = open(lot);
        let reading = told.read(studio, moment, lot, Policy { words_month: rule });
        lot.held.clear();
        take_over(lot, &reading);
        if before.contains(&LotQuestion::Expiry) && !open(lot).contains(&LotQuestion::Expiry) {
            let expires_on = lot.expires_on;
            let said = Confirmed { expires_on, ..Confirmed::default() };
            lot.settled.push(habit.settlement(moment, LotQuestion::Expiry, said));
        }
    }
    let words: Vec<_> = speaking.iter().filter_map(|h| Some((h, h.habit().sterile?))).collect();
    let is_unsaid = lot.text.as_deref().is_none_or(drawer::leaves_sterility_unsaid);
    if lot.sterile.is_none()
        && is_unsaid
        && let Some((habit, sterile)) = words.first().copied()
        && words.iter().all(|(_, other)| *other == sterile)
    {
        lot.sterile = Some(sterile);
        let said = Confirmed { sterile: Some(sterile), ..Confirmed::default() };
        lot.settled.push(habit.settlement(moment, LotQuestion::Sterility, said));
    }
}

/// Takes over what the label says; what it leaves open holds the lot.
fn take_over(lot: &mut StoredLot, reading: &Reading) {
    let packet = &reading.packet;
    lot.configuration = reading.candidates.first().map(|candidate| candidate.configuration);
    lot.lot = packet.lot.as_ref().map(|said| said.value.clone());
    lot.other_codes.clone_from(&packet.other_lots);
    lot.expires_on = packet.expires_on.as_ref().map(|said| CivilDate(said.date));
    lot.reference = packet.reference.as_ref().map(|said| said.value.clone());
    lot.gtin = packet.gtin.as_ref().map(|said| said.value.clone());
    if reading.outcome == Outcome::Ambiguous {
        lot.hold(CONFIGURATION_OPEN);
    }
    lot.take_doubts(reading);
}

/// Takes over what a person settled on receiving it. A word of the date or of
/// sterility that nobody stands for is kept as far as it makes nothing better:
/// the question stays open.
fn confirm(lot: &mut StoredLot, confirmed: &Confirmed, moment: &Moment) -> Result<(), Error> {
    let at = (Instant(moment.now), moment.holder.as_str());
    let told = lot.told(confirmed, moment.today);
    let confirmed = &told.map_err(|why| Error::Refused(vec![refused(&why, "#/confirmed")]))?;
    match lot.settle(confirmed, false, at) {
        Ok(_) => Ok(()),
        Err(Unsettled::Unnamed(_)) => {
            let asked = lot.known().expires_on.is_none() && confirmed.expires_on.is_some();
            let sterile = confirmed.sterile.filter(|sterile| !sterile);
            lot.take_over(&Confirmed { sterile, ..confirmed.clone() });
            if confirmed.configuration.is_some_and(is_complete) {
                lot.held.retain(|reason| reason != CONFIGURATION_OPEN);
            }
            if asked {
                lot.hold(EXPIRY_UNKNOWN);
            }
            Ok(())
        }
        // What forbids the use stays, and the rest of what was said is kept.
        Err(Unsettled::Forbidden(_) | Unsettled::Recalled) => {
            let expires_on = confirmed
                .expires_on
                .filter(|day| lot.printed_until.is_none_or(|last| day.0 <= last.0));
            let sterile = lot.sterile;
            lot.take_over(&Confirmed { sterile, expires_on, ..confirmed.clone() });
            Ok(())
        }
        Err(
            unsettled @ (Unsettled::LaterThanPrinted(_)
            | Unsettled::Improbable(_)
            | Unsettled::NoCode(_)
            | Unsettled::ReadOtherwise(..)),
        ) => Err(Error::Refused(vec![refused(&unsettled, "#/confirmed")])),
    }
}
