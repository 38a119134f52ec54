//! What the service says about itself.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(get_liveness()),
        Stop::of(get_readiness()).unrecorded(),
        Stop::of(get_metrics()).unrecorded(),
        // The document holds the examples; as one of them it would hold itself.
        Stop::of(get_openapi()).unrecorded(),
        Stop::of(get_clock()),
        Stop::of(confirm_clock()).with(|tour| json!({ "now": tour.text("get_clock", "/now") })),
        Stop::of(get_retention()),
        Stop::of(sweep_records())
            .with(|tour| json!({ "digest": tour.text("get_retention", "/digest") })),
        Stop::of(make_backup()).unrecorded(),
        // Its size is not quite the same on every run.
        Stop::of(list_backups()).unrecorded(),
        Stop::of(list_schemas()),
        Stop::of(get_schema()).at("Fault"),
        Stop::of(list_sources()),
        Stop::of(get_capabilities()),
        Stop::of(get_api_catalog()),
        Stop::of(list_problems()),
        Stop::of(get_problem()).at("invalid_value"),
        Stop::of(get_docs()).unrecorded(),
        Stop::of(get_docs_file()).at("start.js").unrecorded(),
    ]
}
