//! Programs with tokens of their own.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

const PLUGIN: (&str, &str) = ("register_plugin", "/id");
const TOKEN: (&str, &str) = ("issue_plugin_token", "/id");

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
    vec![
        Stop::of(register_plugin()).sends(leaving).prepares(),
        Stop::of(remove_plugin()).at(PLUGIN),
        Stop::of(register_plugin()).sends(booking_request),
        Stop::of(list_plugins()).asks("limit=10"),
        Stop::of(get_plugin()).at(PLUGIN),
        Stop::of(patch_plugin())
            .at(PLUGIN)
            .sends(json!({ "requests_per_minute": 300 }))
            .if_match("get_plugin"),
        Stop::of(issue_plugin_token()).at(PLUGIN).sends(token),
        Stop::of(get_plugin_token()).at(PLUGIN).at(TOKEN),
        Stop::of(rotate_plugin_token())
            .at(PLUGIN)
            .at(TOKEN)
            .sends(json!({ "overlap_seconds": 600 })),
        Stop::of(issue_plugin_token()).at(PLUGIN).sends(spare).prepares(),
        Stop::of(revoke_plugin_token()).at(PLUGIN).at(TOKEN),
        Stop::of(list_plugin_tokens()).at(PLUGIN),
        Stop::of(list_plugin_activity()).at(PLUGIN).asks("limit=10"),
        Stop::of(get_me()),
    ]
}
