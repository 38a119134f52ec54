//! `/v1/retention` and `/v1/retention-sweeps`.

use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;
use etui_schema::retention::SweepRequest;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::retention;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_retention(), || to(look))
            .says(
                "What a sweep would remove",
                "Each kind of record with its period, and how many are past it. Removes nothing.",
            )
            .answers(200, "What one sweep would remove now.")
            .errors([ErrorCode::Unavailable]),
        Operation::of(endpoints::sweep_records(), || to(sweep))
            .says(
                "Remove what is past its period",
                "Exactly what was looked at: the digest says so, and 409 means that something has changed \
                 since. A bounded number of each kind at a time; `more` says whether to go on.",
            )
            .answers(200, "Removed; in a dry run: what would be.")
            .errors([ErrorCode::Conflict, ErrorCode::Unavailable, ErrorCode::NoSpace]),
    ]
}

async fn look(call: Call) -> Reply {
    let mut snap = write::view(&call).await?;
    json(200, &retention::look(&call.state.studio, &mut snap, &call.moment()).await?)
}

async fn sweep(call: Call, query: Query<DryRunQuery>, body: Body<SweepRequest>) -> Reply {
    // Once begun it goes on to its end, even if the caller goes away.
    let (studio, moment) = (call.state.studio.clone(), call.moment());
    let work =
        async move { retention::sweep(&studio, &moment, &body.value, query.0.is_dry()).await };
    json(200, &write::to_its_end(work).await?)
}
