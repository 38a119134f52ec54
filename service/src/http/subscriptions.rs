//! `/v1/subscriptions`: where events are delivered to, and what became of each.

use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::subscriptions::{
    DeliveryQuery, RedeliveriesRequest, RedeliveryRequest, SecretRequest, SubscriptionRequest,
};
use serde_json::Value;

use super::answer::{Reply, page, record, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::patch::{self, Patch};
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{redeliveries, subscriptions};

pub(crate) fn operations() -> Vec<Operation> {
    let mut all = of_subscriptions();
    all.extend(of_deliveries());
    all
}

fn of_subscriptions() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::create_subscription(), || to(create))
            .tells_secret()
            .says(
                "Have events delivered",
                "Each event that happens from now on is sent as a POST, signed by Standard Webhooks; \
                 the answer holds the secret, once. Any status from 200 to 299 takes an event; \
                 otherwise it is sent again with growing pauses for three days; 410 ends the \
                 subscription. Events of one subject come in their order, and one that comes twice \
                 has the same `webhook-id`. A repeated request does not show the secret again: if it was \
                 lost, make a new one.",
            )
            .answers(201, "Made; keep `secret`, it is not shown again.")
            .located(),
        Operation::of(endpoints::list_subscriptions(), || to(list))
            .says("List the subscriptions", "Without their secrets.")
            .answers(200, "One page of subscriptions."),
        Operation::of(endpoints::get_subscription(), || to(get))
            .says("Read a subscription", "Without its secret.")
            .answers(200, "The subscription."),
        Operation::of(endpoints::patch_subscription(), || to(change))
            .says(
                "Change, pause or resume a subscription",
                "Its `url`, its `types` and whether it is `paused`. Nothing is sent while it is paused; \
                 then it gets what happened meanwhile, as far as events are kept (30 days). Its secrets \
                 stay.",
            )
            .answers(200, "As it is now.")
            .errors([ErrorCode::Conflict]),
        Operation::of(endpoints::delete_subscription(), || to(remove))
            .says("Remove a subscription", "Nothing is sent to it from now on.")
            .answers(200, "Removed.")
            .errors([ErrorCode::Conflict]),
        Operation::of(endpoints::rotate_subscription_secret(), || to(rotate))
            .tells_secret()
            .says(
                "Give a subscription a new secret",
                "For the time of the overlap every delivery carries the signatures of both, so that \
                 the receiver can change over when it likes.",
            )
            .answers(201, "Made; keep `secret`, it is not shown again."),
    ]
}

fn of_deliveries() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_deliveries(), || to(deliveries))
            .says(
                "List deliveries",
                "In the order of their events, with their latest attempts. Finished ones are kept as \
                 long as their events, at most the latest 1000.",
            )
            .answers(200, "One page of deliveries."),
        Operation::of(endpoints::get_delivery(), || to(delivery))
            .says("Read a delivery", "By the id of its event.")
            .answers(200, "The delivery.")
            .if_none_match(),
        Operation::of(endpoints::redeliver_event(), || to(redeliver))
            .says(
                "Send an event again",
                "A dead letter, one that was taken, or one from before the subscription: any event that \
                 is still kept. The id of a delivery is that of its event.",
            )
            .answers(201, "It is due at once."),
        Operation::of(endpoints::redeliver_events(), || to(redeliver_many))
            .says(
                "Send many events again",
                "Those that are named, or every dead letter, at most 200 at a time; each has its own \
                 outcome.",
            )
            .answers(200, "A dry run: what would be sent.")
            .answers(201, "Each with its outcome."),
    ]
}

async fn change(call: Call, patch: Patch) -> Reply {
    let (id, known) = (call.path_id("id")?, write::precondition(&call));
    write::run(&call, &patch.bytes, async |snap, moment| {
        let patch = (&patch.value, |whole: &Value| patch::read(whole));
        subscriptions::change(&call.state.studio, snap, moment, id, patch, &known).await
    })
    .await
}

async fn redeliver_many(
    call: Call,
    query: Query<DryRunQuery>,
    body: Body<RedeliveriesRequest>,
) -> Reply {
    let (id, dry_run) = (call.path_id("id")?, query.0.is_dry());
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        redeliveries::send_many(snap, moment, id, &body.value, dry_run).await
    })
    .await
}

async fn create(call: Call, body: Body<SubscriptionRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        subscriptions::create(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<PageQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(&call, &subscriptions::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let mut snap = write::view(&call).await?;
    let subscription = subscriptions::get(&mut snap, call.path_id("id")?).await?;
    tagged(&call, "application/json", to_json(&subscription)?)
}

async fn remove(call: Call) -> Reply {
    let (id, known) = (call.path_id("id")?, write::precondition(&call));
    write::run(&call, &[], async |snap, moment| {
        subscriptions::remove(snap, moment, id, &known).await
    })
    .await
}

async fn rotate(call: Call, body: Body<SecretRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        subscriptions::rotate(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}

async fn deliveries(call: Call, query: Query<DeliveryQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let rows = subscriptions::deliveries(&call.state.studio, &mut snap, id, &query.0).await?;
    page(&call, &rows)
}

async fn delivery(call: Call) -> Reply {
    let (id, event_id) = (call.path_id("id")?, call.path_id("delivery_id")?);
    let mut snap = write::view(&call).await?;
    record(&call, &subscriptions::delivery(&mut snap, id, event_id).await?)
}

async fn redeliver(call: Call, body: Body<RedeliveryRequest>) -> Reply {
    let (id, event_id) = (call.path_id("id")?, call.path_id("delivery_id")?);
    write::run(&call, &body.bytes, async |snap, moment| {
        subscriptions::send_again(snap, moment, id, event_id, &body.value).await
    })
    .await
}
