//! Programs with tokens of their own.

use serde_json::json;

use super::{Stop, Tour};
use crate::wire::Request;

/// The plug-in that is there to stay.
fn booking(tour: &Tour) -> String {
    format!("/v1/plugins/{}", tour.text("register_plugin", "/id"))
}

pub(super) fn stops() -> Vec<Stop> {
    let booking_request = json!({
        "name": "booking",
        "description": "the booking software at the front desk",
        "scopes": ["checks:write", "checks:read", "drawer:read"],
        "requests_per_minute": 600,
        "requests_per_day": 50_000,
    });
    let leaving = json!({ "name": "old-script", "scopes": ["reminders:read"] });
    let token = json!({ "name": "front-desk", "expires_at": "2028-03-16T08:00:00Z" });
    let spare = json!({ "name": "spare", "scopes": ["checks:read"] });
    let token_of = |tour: &Tour| {
        format!("{}/tokens/{}", booking(tour), tour.text("issue_plugin_token", "/id"))
    };
    vec![
        Stop::new("register_plugin", move |_| Request::post("/v1/plugins", &leaving)).prepares(),
        Stop::new("remove_plugin", |tour| {
            Request::new("DELETE", format!("/v1/plugins/{}", tour.text("register_plugin", "/id")))
        }),
        Stop::new("register_plugin", move |_| Request::post("/v1/plugins", &booking_request)),
        Stop::new("list_plugins", |_| Request::get("/v1/plugins?limit=10")),
        Stop::new("get_plugin", |tour| Request::get(booking(tour))),
        Stop::new("patch_plugin", |tour| {
            Request::merge(booking(tour), &json!({ "requests_per_minute": 300 }))
                .header("If-Match", tour.etag("get_plugin"))
        }),
        Stop::new("issue_plugin_token", move |tour| {
            Request::post(format!("{}/tokens", booking(tour)), &token)
        }),
        Stop::new("get_plugin_token", move |tour| Request::get(token_of(tour))),
        Stop::new("rotate_plugin_token", move |tour| {
            let body = json!({ "overlap_seconds": 600 });
            Request::post(format!("{}/rotations", token_of(tour)), &body)
        }),
        Stop::new("issue_plugin_token", move |tour| {
            Request::post(format!("{}/tokens", booking(tour)), &spare)
        })
        .prepares(),
        Stop::new("revoke_plugin_token", move |tour| Request::new("DELETE", token_of(tour))),
        Stop::new("list_plugin_tokens", |tour| Request::get(format!("{}/tokens", booking(tour)))),
        Stop::new("list_plugin_activity", |tour| {
            Request::get(format!("{}/activity?limit=10", booking(tour)))
        }),
        Stop::new("get_me", |_| Request::get("/v1/plugins/me")),
    ]
}
