//! Taking a delivery in: read the label, keep it as read, hold what is open.

use etui_craft::label::{FitnessReason, FitnessState, Outcome, Policy, Printed, Reading};
use etui_schema::lots::LotRequest;
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{CivilDate, Instant};

use super::replace;
use super::stored::{StoredLot, is_complete};
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::plan::{Planned, Repeat, to_json};

/// Plans to take a delivery in.
///
/// What the label leaves open does not keep the packs out: the lot is held,
/// with the reason, until a person settles it.
///
/// # Errors
/// [`Error::Refused`] if nothing says what the packs are.
pub fn receive(studio: &Studio, moment: &Moment, request: &LotRequest) -> Result<Planned, Error> {
    let lot = taken_in(studio, moment, request)?;
    let id = lot.id;
    let batch = replace(Batch::new(), None, &lot)?;
    Ok(Planned {
        created: true,
        answer: to_json(&lot.answer(moment.today))?,
        location: Some(format!("/v1/lots/{id}")),
        batch: batch.audit(moment.entry("lot.receive", &format!("lots/{id}"), 1)),
        repeat: Repeat::Answer,
    })
}

fn taken_in(studio: &Studio, moment: &Moment, request: &LotRequest) -> Result<StoredLot, Error> {
    let LotRequest { text, symbol, packs, maker, confirmed } = request.clone();
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
    };
    if lot.text.is_some() || lot.symbol.is_some() {
        let printed = Printed { text: lot.text.as_deref(), symbol: lot.symbol.as_deref() };
        let reading = studio.craft.reader.read(&printed, moment.today, Policy::default());
        take_over(&mut lot, &reading);
    }
    if let Some(confirmed) = &confirmed {
        lot.confirm(confirmed);
        lot.held
            .retain(|reason| reason != "configuration_open" || confirmed.configuration.is_none());
        lot.held.retain(|reason| reason != "ambiguous_expiry" || confirmed.expires_on.is_none());
    }
    if lot.configuration.is_none() {
        return Err(Error::at(
            "#/confirmed/configuration",
            FaultCode::Missing,
            "neither print nor symbol says what the packs hold; send the printed text or confirm the configuration",
        ));
    }
    if !lot.configuration.is_some_and(is_complete) {
        lot.hold("configuration_open");
    }
    Ok(lot)
}

/// Takes over what the label says; what it leaves open holds the lot.
fn take_over(lot: &mut StoredLot, reading: &Reading) {
    let packet = &reading.packet;
    lot.configuration = reading.candidates.first().map(|candidate| candidate.configuration);
    lot.lot = packet.lot.as_ref().map(|said| said.value.clone());
    lot.expires_on = packet.expires_on.as_ref().map(|said| CivilDate(said.date));
    lot.reference = packet.reference.as_ref().map(|said| said.value.clone());
    lot.gtin = packet.gtin.as_ref().map(|said| said.value.clone());
    if reading.outcome == Outcome::Ambiguous {
        lot.hold("configuration_open");
    }
    // Being past its date is worked out for the day and needs no holding.
    for reason in reading.fitness.reasons() {
        let unsaid = matches!(
            reason,
            FitnessReason::ExpiryUnknown
                | FitnessReason::SterilityUnknown
                | FitnessReason::SymbolFaulty
        );
        if reason.state() != FitnessState::Fit
            && !unsaid
            && reason.as_str() != "expired"
            && reason.as_str() != "unreadable"
        {
            lot.hold(reason.as_str());
        }
    }
}
