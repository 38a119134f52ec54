//! `/v1/configuration-comparisons`.

use etui_schema::configuration_comparisons::ConfigurationComparisonRequest;
use etui_schema::endpoints;
use etui_schema::short::ShortComparison;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use crate::studio::configurations;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::compare_configurations(), || to(compare))
            .speaks()
            .says(
                "Compare configurations",
                "Width, holes, pressure on each tip, coverage and trauma of 1 to 24 configurations \
             under one hand, machine and skin; each against the first, three orders, and where \
             an order depends on an assumption.",
            )
            .answers(200, "The configurations side by side.")
            .shortens::<ShortComparison>(),
    ]
}

async fn compare(call: Call, body: Body<ConfigurationComparisonRequest>) -> Reply {
    let craft = &call.state.studio.craft;
    json(200, &configurations::compare(craft, &body.value, call.language())?)
}
