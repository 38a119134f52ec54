//! What the service says about itself.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

pub(super) fn stops() -> Vec<Stop> {
    let get = |operation, target: &'static str| Stop::new(operation, move |_| Request::get(target));
    vec![
        get("get_liveness", "/health/live"),
        get("get_readiness", "/health/ready").unrecorded(),
        get("get_metrics", "/metrics").unrecorded(),
        // The document holds the examples; as one of them it would hold itself.
        get("get_openapi", "/openapi.json").unrecorded(),
        get("get_clock", "/v1/clock"),
        Stop::new("confirm_clock", |tour| {
            let body = json!({ "now": tour.text("get_clock", "/now") });
            Request::post("/v1/clock-confirmations", &body)
        }),
        get("get_retention", "/v1/retention"),
        Stop::new("sweep_records", |tour| {
            let body = json!({ "digest": tour.text("get_retention", "/digest") });
            Request::post("/v1/retention-sweeps", &body)
        }),
        Stop::new("make_backup", |_| Request::new("POST", "/v1/backups")).unrecorded(),
        // Its size is not quite the same on every run.
        get("list_backups", "/v1/backups").unrecorded(),
        get("list_schemas", "/v1/schemas"),
        get("get_schema", "/v1/schemas/Fault"),
        get("list_sources", "/v1/sources"),
        get("get_capabilities", "/v1/capabilities"),
        get("get_api_catalog", "/.well-known/api-catalog"),
        get("list_problems", "/problems"),
        get("get_problem", "/problems/invalid_value"),
        get("get_docs", "/docs").unrecorded(),
        get("get_docs_file", "/docs/start.js").unrecorded(),
    ]
}
