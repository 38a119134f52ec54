//! Sending many events to one subscription again.

use etui_schema::problem::{Fault, FaultCode};
use etui_schema::subscriptions::{
    Redeliveries, RedeliveriesRequest, RedeliveryOutcome, RedeliveryRequest,
};
use etui_schema::vocabulary::Instant;
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::plan::Planned;
use super::subscriptions::{due_again, receiving};
use crate::events::delivery::{self, DELIVERIES, Stands, StoredDelivery};
use crate::events::log;
use crate::events::subscription::SUBSCRIPTIONS;
use crate::store::Batch;
use crate::store::record::decode;
use crate::store::rows::Rows;

/// Most that go out again by one request.
const MOST: usize = 200;

/// Plans to send events again: those that are named, or every one that was given up, a
/// bounded number at a time. Each has its own outcome.
///
/// # Errors
/// [`Error::NotFound`] for an unknown subscription; [`Error::Conflict`] if its receiver is gone.
pub async fn send_many(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &RedeliveriesRequest,
    dry_run: bool,
) -> Result<Planned, Error> {
    let RedeliveriesRequest { deliveries, even_if_delivered } = request;
    let (stored, bytes) = receiving(snap, id).await?;
    let (named, more) = match deliveries {
        Some(named) => (named.clone(), false),
        None => given_up(snap, id).await?,
    };
    let one = RedeliveryRequest { even_if_delivered: *even_if_delivered };
    let mut batch = Batch::new();
    let mut outcomes: Vec<RedeliveryOutcome> = Vec::with_capacity(named.len());
    for (at, delivery_id) in named.into_iter().enumerate() {
        let twice = outcomes.iter().any(|known| known.delivery_id == delivery_id);
        let found = log::find(snap, delivery_id).await?.filter(|_| !twice);
        let refused = |code, why: String| RedeliveryOutcome {
            delivery_id,
            delivery: None,
            errors: vec![Fault::new(format!("#/deliveries/{at}"), code, why)],
        };
        let Some((number, event)) = found else {
            let (code, why) = if twice {
                (FaultCode::Duplicate, "it is named twice; once is enough")
            } else {
                (FaultCode::UnknownReference, "no event of this id is kept")
            };
            outcomes.push(refused(code, why.to_owned()));
            continue;
        };
        match due_again(snap, moment, id, (number, &event), &one).await {
            Ok((delivery, held)) => {
                batch = delivery::replace(batch, id, held, &delivery)?;
                let delivery = Some(delivery.told(id, None));
                outcomes.push(RedeliveryOutcome { delivery_id, delivery, errors: Vec::new() });
            }
            Err(Error::Conflict(why, _)) => outcomes.push(refused(FaultCode::NotAllowed, why)),
            Err(error) => return Err(error),
        }
    }
    let batch = batch
        .expect(SUBSCRIPTIONS, id.as_bytes().to_vec(), Some(bytes))
        .audit(moment.entry("delivery.resend", &format!("subscriptions/{id}"), stored.version));
    let resent_at = Instant(moment.now);
    Planned::made(&Redeliveries { resent_at, dry_run, outcomes, more }, batch)
}

/// The dead letters of a subscription, oldest first, and whether there are more.
async fn given_up(snap: &mut Snap, id: Uuid) -> Result<(Vec<Uuid>, bool), Error> {
    let mut rows = Rows::of(DELIVERIES, delivery::range(id));
    let mut found = Vec::new();
    while let Some((_, value)) = rows.next(snap).await? {
        let delivery: StoredDelivery = decode(&value)?;
        if !matches!(delivery.stands, Stands::Dead(_)) {
            continue;
        }
        if found.len() == MOST {
            return Ok((found, true));
        }
        found.push(delivery.id);
    }
    Ok((found, false))
}
