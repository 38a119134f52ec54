//! Events, and where they are delivered to.

use serde_json::json;

use super::{Stop, Tour};
use crate::wire::Request;

/// Nobody listens there: nothing leaves this machine, and nothing is taken.
const NOWHERE: &str = "http://127.0.0.1:9/etui-events";

fn subscription(tour: &Tour) -> String {
    format!("/v1/subscriptions/{}", tour.text("create_subscription", "/id"))
}

fn delivery(tour: &Tour) -> String {
    let event = tour.text("list_events", "/items/0/id");
    format!("{}/deliveries/{event}/redeliveries", subscription(tour))
}

/// After all that happens in the tour, so that there is something to tell of.
pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::new("list_events", |_| Request::get("/v1/events?after=0&limit=5")),
        Stop::new("get_event", |tour| {
            Request::get(format!("/v1/events/{}", tour.text("list_events", "/items/0/id")))
        }),
        Stop::new("stream_events", |_| Request::get("/v1/events/stream?after=0&for_seconds=0")),
        Stop::new("create_subscription", |_| {
            Request::post("/v1/subscriptions", &json!({ "url": NOWHERE }))
        })
        .prepares(),
        Stop::new("get_subscription", |tour| Request::get(subscription(tour))).prepares(),
        Stop::new("delete_subscription", |tour| {
            Request::new("DELETE", subscription(tour))
                .header("If-Match", tour.etag("get_subscription"))
        }),
        Stop::new("create_subscription", |_| {
            let body = json!({ "url": NOWHERE, "types": ["lot.recalled", "pack.changed"] });
            Request::post("/v1/subscriptions", &body)
        }),
        Stop::new("rotate_subscription_secret", |tour| {
            let body = json!({ "overlap_seconds": 3600 });
            Request::post(format!("{}/secrets", subscription(tour)), &body)
        }),
        Stop::new("list_subscriptions", |_| Request::get("/v1/subscriptions")),
        Stop::new("get_subscription", |tour| Request::get(subscription(tour))),
        Stop::new("patch_subscription", |tour| {
            Request::merge(subscription(tour), &json!({ "paused": true }))
                .header("If-Match", tour.etag("get_subscription"))
        }),
        Stop::new("redeliver_events", |tour| {
            let named = json!({ "deliveries": [tour.text("list_events", "/items/0/id")] });
            Request::post(format!("{}/redeliveries", subscription(tour)), &named)
        }),
        Stop::new("redeliver_event", |tour| {
            Request::post(delivery(tour), &json!({ "even_if_delivered": true }))
        }),
        Stop::new("get_delivery", |tour| {
            Request::get(delivery(tour).trim_end_matches("/redeliveries"))
        })
        .unrecorded(),
        // How often it was tried by now is different on every run.
        Stop::new("list_deliveries", |tour| {
            Request::get(format!("{}/deliveries?limit=10", subscription(tour)))
        })
        .unrecorded(),
    ]
}
