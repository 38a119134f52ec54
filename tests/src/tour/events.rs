//! Events, and where they are delivered to.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

/// Nobody listens there: nothing leaves this machine, and nothing is taken.
const NOWHERE: &str = "http://127.0.0.1:9/etui-events";

const SUBSCRIPTION: (&str, &str) = ("create_subscription", "/id");
const EVENT: (&str, &str) = ("list_events", "/items/0/id");

/// After all that happens in the tour, so that there is something to tell of.
pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(list_events()).asks("after=0&limit=5"),
        Stop::of(get_event()).at(EVENT),
        Stop::of(stream_events()).asks("after=0&for_seconds=0"),
        Stop::of(create_subscription()).sends(json!({ "url": NOWHERE })).prepares(),
        Stop::of(get_subscription()).at(SUBSCRIPTION).prepares(),
        Stop::of(delete_subscription()).at(SUBSCRIPTION).if_match("get_subscription"),
        Stop::of(create_subscription())
            .sends(json!({ "url": NOWHERE, "types": ["lot.recalled", "pack.changed"] })),
        Stop::of(rotate_subscription_secret())
            .at(SUBSCRIPTION)
            .sends(json!({ "overlap_seconds": 3600 })),
        Stop::of(list_subscriptions()),
        Stop::of(get_subscription()).at(SUBSCRIPTION),
        Stop::of(patch_subscription())
            .at(SUBSCRIPTION)
            .sends(json!({ "paused": true }))
            .if_match("get_subscription"),
        Stop::of(redeliver_events())
            .at(SUBSCRIPTION)
            .with(|tour| json!({ "deliveries": [tour.text("list_events", "/items/0/id")] })),
        Stop::of(redeliver_event())
            .at(SUBSCRIPTION)
            .at(EVENT)
            .sends(json!({ "even_if_delivered": true })),
        Stop::of(get_delivery()).at(SUBSCRIPTION).at(EVENT).unrecorded(),
        // How often it was tried by now is different on every run.
        Stop::of(list_deliveries()).at(SUBSCRIPTION).asks("limit=10").unrecorded(),
    ]
}
