//! Subscriptions: made, looked at, given a new secret, removed; and sending an
//! event again by hand.
//!
//! The spaces are those of [`crate::events::subscription`] and
//! [`crate::events::delivery`].

use std::collections::BTreeSet;

use etui_schema::endpoints;
use etui_schema::events::EventType;
use etui_schema::page::{Page, PageQuery};
use etui_schema::problem::FaultCode;
use etui_schema::subscriptions::{
    Delivery, DeliveryQuery, DeliveryState, RedeliveryRequest, SecretRequest, Subscription,
    SubscriptionRequest, SubscriptionSettings,
};
use etui_schema::vocabulary::Instant;
use jiff::SignedDuration;
use serde_json::Value;
use uuid::Uuid;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::merge::{read_merged, told_anew};
use super::moment::Moment;
use super::paging::{Walk, records};
use super::plan::{Planned, Precondition, Repeat, to_json};
use crate::events::delivery::{self, DELIVERIES, PENDING, Stands, StoredDelivery};
use crate::events::sign::{SECRET_BYTES, text_of};
use crate::events::subscription::{
    self, CURSORS, MOST, REMOVED, SUBSCRIPTIONS, StoredSubscription,
};
use crate::events::target::Target;
use crate::events::{log, stored::StoredEvent};
use crate::store::record::encode;
use crate::store::{Batch, Bytes, Order, Read, outbox, seal};

/// How long the old secret signs beside a new one, unless the owner says otherwise.
const USUAL_OVERLAP_S: u32 = 24 * 60 * 60;

/// Plans to make a subscription. It gets what happens from now on.
///
/// # Errors
/// [`Error::Refused`] for an address that may not be called;
/// [`Error::Conflict`] if there are too many.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &SubscriptionRequest,
) -> Result<Planned, Error> {
    let SubscriptionRequest { url, types } = request;
    may_be_called(studio, url)?;
    if MOST <= subscription::all(snap).await?.len() {
        let why = format!("there are {MOST} subscriptions; remove one first");
        return Err(Error::conflict(why));
    }
    let id = moment.id()?;
    let mut stored = StoredSubscription {
        id,
        url: url.clone(),
        types: in_order(types.as_deref()),
        secrets: Vec::new(),
        created_at: Instant(moment.now),
        gone_at: None,
        paused: false,
        version: 1,
    };
    let secret = new_secret(studio, moment, &mut stored, 0)?;
    let key = id.as_bytes().to_vec();
    let batch = Batch::new()
        .expect(SUBSCRIPTIONS, key.clone(), None)
        .put(SUBSCRIPTIONS, key.clone(), encode(&stored)?)
        .put(CURSORS, key.clone(), outbox::key(log::head(snap).await?))
        .audit(moment.entry("subscription.create", &format!("subscriptions/{id}"), 1));
    shown_once(stored, secret, batch, Some(endpoints::get_subscription().at.filled(&[&id])))
}

fn new_secret(
    studio: &Studio,
    moment: &Moment,
    stored: &mut StoredSubscription,
    overlap_s: u32,
) -> Result<String, Error> {
    let mut entropy = moment.entropy();
    let secret: [u8; SECRET_BYTES] =
        seal::draw(&mut entropy).map_err(|e| Error::Internal(e.to_string()))?;
    let until = moment
        .now
        .checked_add(SignedDuration::from_secs(overlap_s.into()))
        .map_err(|e| Error::Internal(e.to_string()))?;
    let seal = studio.keyring.studio_seal();
    stored.add_secret(&seal, &secret, (moment.now, until), &mut entropy)?;
    Ok(text_of(&secret))
}

/// Plans to give a subscription a new secret; for a time the former ones sign too.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Conflict`] while too many sign already.
pub async fn rotate(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &SecretRequest,
) -> Result<Planned, Error> {
    let (mut stored, bytes) = load(snap, id).await?;
    let overlap_s = request.overlap_seconds.unwrap_or(USUAL_OVERLAP_S);
    // Without an overlap all of them end: whoever has lost one need not wait for that.
    if 0 < overlap_s && subscription::MOST_SECRETS <= stored.signing_at(moment.now) {
        return Err(Error::conflict(format!(
            "{} secrets sign at the moment; wait until one of them ends",
            subscription::MOST_SECRETS
        )));
    }
    let secret = new_secret(studio, moment, &mut stored, overlap_s)?;
    stored.version += 1;
    let (key, version) = (id.as_bytes().to_vec(), stored.version);
    let batch = Batch::new()
        .expect(SUBSCRIPTIONS, key.clone(), Some(bytes))
        .put(SUBSCRIPTIONS, key.clone(), encode(&stored)?)
        .audit(moment.entry("subscription.secret", &format!("subscriptions/{id}"), version));
    shown_once(stored, secret, batch, None)
}

/// The plan of a new secret: it is in the answer, and in no repeat of it.
fn shown_once(
    stored: StoredSubscription,
    secret: String,
    batch: Batch,
    location: Option<String>,
) -> Result<Planned, Error> {
    let without = to_json(&stored.clone().told(None))?;
    let answer = to_json(&stored.told(Some(secret)))?;
    Ok(Planned { created: true, answer, location, batch, repeat: Repeat::Instead(without) })
}

fn missing(id: &str) -> Error {
    Error::NotFound { what: "subscription", id: id.to_owned() }
}

async fn load(snap: &mut Snap, id: Uuid) -> Result<(StoredSubscription, Bytes), Error> {
    subscription::find(snap, id).await?.ok_or_else(|| missing(&id.to_string()))
}

/// Reads a subscription.
///
/// # Errors
/// [`Error::NotFound`].
pub async fn get(snap: &mut Snap, id: Uuid) -> Result<Subscription, Error> {
    Ok(load(snap, id).await?.0.told(None))
}

/// One page of the subscriptions, in the order in which they were made.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &PageQuery,
) -> Result<Page<Subscription>, Error> {
    let told = |stored: StoredSubscription| stored.told(None);
    Walk::over(studio, SUBSCRIPTIONS, query)?.of_records(snap, |one| Some(told(one))).await
}

/// Plans to remove a subscription. Nothing is delivered to it any more; its
/// deliveries are cleared away afterwards.
///
/// # Errors
/// [`Error::NotFound`], or a precondition that does not hold.
pub async fn remove(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (stored, bytes) = load(snap, id).await?;
    let answer = to_json(&stored.told(None))?;
    precondition.check(Some(&answer))?;
    let key = id.as_bytes().to_vec();
    Ok(Planned {
        created: false,
        answer,
        location: None,
        batch: Batch::new()
            .expect(SUBSCRIPTIONS, key.clone(), Some(bytes))
            .del(SUBSCRIPTIONS, key.clone())
            .del(CURSORS, key.clone())
            .put(REMOVED, key, Vec::new())
            .audit(moment.entry("subscription.remove", &format!("subscriptions/{id}"), 0)),
        repeat: Repeat::Answer,
    })
}

/// Plans to lay a merge patch over a subscription; `read` makes settings of the whole.
///
/// # Errors
/// [`Error::NotFound`], a precondition that does not hold, what `read` refuses, and
/// [`Error::Refused`] for an address that may not be called.
pub async fn change(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    (patch, read): (&Value, impl Fn(&Value) -> Result<SubscriptionSettings, Error>),
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (mut stored, bytes) = load(snap, id).await?;
    precondition.check(Some(&to_json(&stored.clone().told(None))?))?;
    let held = SubscriptionSettings {
        url: stored.url.clone(),
        types: Some(stored.types.clone()),
        paused: stored.paused,
    };
    let value = |error: serde_json::Error| Error::Internal(error.to_string());
    let shown = serde_json::to_value(stored.clone().told(None)).map_err(value)?;
    let held = serde_json::to_value(&held).map_err(value)?;
    let SubscriptionSettings { url, types, paused } =
        read_merged(held, &told_anew(patch, &shown), read)?;
    if url != stored.url {
        may_be_called(studio, &url)?;
        stored.gone_at = None;
    }
    stored.url = url;
    stored.types = in_order(types.as_deref());
    stored.paused = paused;
    stored.version += 1;
    let (key, version) = (id.as_bytes().to_vec(), stored.version);
    let batch = Batch::new()
        .expect(SUBSCRIPTIONS, key.clone(), Some(bytes))
        .put(SUBSCRIPTIONS, key, encode(&stored)?)
        .audit(moment.entry("subscription.change", &format!("subscriptions/{id}"), version));
    Planned::changed(&stored.told(None), batch)
}

fn may_be_called(studio: &Studio, url: &str) -> Result<(), Error> {
    Target::parse(url, studio.targets)
        .map(drop)
        .map_err(|why| Error::at("#/url", FaultCode::NotAllowed, why.to_string()))
}

/// The wanted types, each once, in the order of the vocabulary; all if none is named.
fn in_order(types: Option<&[EventType]>) -> Vec<EventType> {
    let wanted: BTreeSet<EventType> = types.unwrap_or(EventType::ALL).iter().copied().collect();
    wanted.into_iter().collect()
}

/// One page of the deliveries of a subscription, in the order of their events.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for a limit or a cursor that is not one.
pub async fn deliveries(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    query: &DeliveryQuery,
) -> Result<Page<Delivery>, Error> {
    let DeliveryQuery { state, limit, cursor } = query;
    let (stored, _) = load(snap, id).await?;
    let name = format!("deliveries of={id} state={state:?}");
    // What is pending lies in a space of its own: a long log is not searched for it.
    let is_open =
        |state: &DeliveryState| matches!(state, DeliveryState::Pending | DeliveryState::Cancelled);
    let only_open = !state.is_empty() && state.iter().all(is_open);
    let space = if only_open { PENDING } else { DELIVERIES };
    let range = delivery::range(id);
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let keys: Vec<Bytes> = rows.into_iter().map(|(key, _)| key).collect();
        let held = records::<StoredDelivery>(snap, DELIVERIES, &keys).await?;
        let told = held.into_iter().map(|one| one.map(|it| it.told(id, stored.gone_at)));
        let wanted =
            |told: &Delivery| state.is_empty() || state.iter().any(|one| told.state == *one);
        Ok(told.map(|one| one.map(|told| Some(told).filter(wanted))).collect())
    })
    .await
}

/// One delivery of a subscription, by the id of its event.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if it is not kept any more.
pub async fn delivery(snap: &mut Snap, id: Uuid, event_id: Uuid) -> Result<Delivery, Error> {
    let (stored, _) = load(snap, id).await?;
    let held = match log::find(snap, event_id).await? {
        Some((number, _)) => delivery::find(snap, id, number).await?,
        None => None,
    };
    let absent = || Error::NotFound { what: "delivery", id: event_id.to_string() };
    Ok(held.ok_or_else(absent)?.0.told(id, stored.gone_at))
}

/// Plans to send an event to a subscription again, or one that it never got.
///
/// # Errors
/// [`Error::NotFound`] for an event that is not kept; [`Error::Conflict`] if
/// the receiver is gone or took it before.
pub async fn send_again(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    event_id: Uuid,
    request: &RedeliveryRequest,
) -> Result<Planned, Error> {
    let (stored, bytes) = receiving(snap, id).await?;
    let absent = || Error::NotFound { what: "event", id: event_id.to_string() };
    let (number, event) = log::find(snap, event_id).await?.ok_or_else(absent)?;
    let (delivery, held) = due_again(snap, moment, id, (number, &event), request).await?;
    let batch = delivery::replace(Batch::new(), id, held, &delivery)?
        .expect(SUBSCRIPTIONS, id.as_bytes().to_vec(), Some(bytes))
        .audit(moment.entry("delivery.resend", &format!("subscriptions/{id}"), stored.version));
    Planned::made(&delivery.told(id, None), batch)
}

/// A subscription that something can be sent to.
pub(super) async fn receiving(
    snap: &mut Snap,
    id: Uuid,
) -> Result<(StoredSubscription, Bytes), Error> {
    let (stored, bytes) = load(snap, id).await?;
    if stored.gone_at.is_some() {
        let why = "its receiver answered 410; give it another address, or make a new subscription";
        return Err(Error::conflict(why.to_owned()));
    }
    Ok((stored, bytes))
}

pub(super) async fn due_again(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    (number, event): (u64, &StoredEvent),
    request: &RedeliveryRequest,
) -> Result<(StoredDelivery, Option<Bytes>), Error> {
    let Some((mut delivery, bytes)) = delivery::find(snap, id, number).await? else {
        return Ok((StoredDelivery::due(number, event, moment.now), None));
    };
    let taken = matches!(delivery.stands, Stands::Delivered(_));
    if taken && request.even_if_delivered != Some(true) {
        let why = "the receiver took it; send `even_if_delivered` to send it all the same";
        return Err(Error::conflict(why.to_owned()));
    }
    delivery.send_again(moment.now);
    Ok((delivery, Some(bytes)))
}

/// Batches that clear away what is no longer to be kept of events and deliveries.
///
/// # Errors
/// What the store met.
pub async fn clear(snap: &mut Snap, now: jiff::Timestamp) -> Result<Vec<Batch>, Error> {
    let mut batches: Vec<Batch> = log::clear(snap, now).await?.into_iter().collect();
    let oldest = log::oldest(snap).await?.unwrap_or(0);
    for subscription in subscription::all(snap).await? {
        batches.extend(delivery::clear(snap, subscription.id, oldest).await?);
    }
    for (key, _) in snap.scan(REMOVED, Bytes::new()..Bytes::new(), Order::Ascending, MOST).await? {
        let id = Uuid::from_slice(&key).map_err(|_| super::paging::broken(REMOVED))?;
        batches.push(match delivery::clear_all(snap, id).await? {
            Some(batch) => batch,
            None => Batch::new().del(REMOVED, key),
        });
    }
    Ok(batches)
}
