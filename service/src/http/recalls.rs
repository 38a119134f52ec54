//! `/v1/recalls`, `/v1/lots/{id}/recalls`, `/v1/lots/{id}/exposures`, `/v1/exposures`.

use actix_web::{HttpResponse, web};
use etui_schema::access::Scope;
use etui_schema::dry_runs::DryRunQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::recalls::{
    ExposureQuery, Exposures, NamedRecallRequest, RecallReport, RecallRequest,
};
use schemars::SchemaGenerator;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::pictures::preferred;
use super::query::Query;
use super::write;
use crate::studio::recalls;

const CSV: &str = "text/csv";

pub(crate) fn operations() -> Vec<Operation> {
    let exposures = |generator: &mut SchemaGenerator| generator.subschema_for::<Exposures>();
    vec![
        Operation::post("/v1/recalls", "recall_lots", || web::to(recall_named))
            .tag("drawer")
            .always_whole()
            .scope(Scope::DrawerWrite)
            .says(
                "Act on a recall notice",
                "By lot code, and by maker and article where the notice names them. From this moment no \
                 pack of these lots is offered; the answer lists who was exposed.",
            )
            .query::<DryRunQuery>()
            .body::<NamedRecallRequest>()
            .answers::<RecallReport>(200, "A dry run: what would be called back.")
            .answers::<RecallReport>(201, "Called back.")
            .idempotent()
            .located(),
        Operation::post("/v1/lots/{id}/recalls", "recall_lot", || web::to(recall))
            .tag("drawer")
            .always_whole()
            .scope(Scope::DrawerWrite)
            .says(
                "Call a lot back",
                "With every other delivery of the same code, maker and article unless `same_code` is false.",
            )
            .query::<DryRunQuery>()
            .body::<RecallRequest>()
            .answers::<RecallReport>(200, "A dry run: what would be called back.")
            .answers::<RecallReport>(201, "Called back.")
            .idempotent()
            .located()
            .finds(),
        Operation::get("/v1/lots/{id}/exposures", "list_exposures", || web::to(list))
            .tag("drawer")
            .scope(Scope::TreatmentsRead)
            .says(
                "Who was exposed to a lot",
                "Every treatment and client with a pack of it, also after a client was erased, and every \
                 check to come that offers it. `Accept: text/csv` gives them as a table.",
            )
            .answers_with(
                200,
                "The exposures.",
                vec![("application/json", Some(exposures)), (CSV, None)],
            )
            .finds()
            .errors([ErrorCode::NotAcceptable]),
        Operation::get("/v1/exposures", "find_exposures", || web::to(find))
            .tag("drawer")
            .scope(Scope::TreatmentsRead)
            .says(
                "Who was exposed to what a notice names",
                "By lot code, and by maker and article where the notice names them; calls nothing back. \
                 `Accept: text/csv` gives a table.",
            )
            .query::<ExposureQuery>()
            .answers_with(
                200,
                "The exposures; empty if this code was never received.",
                vec![("application/json", Some(exposures)), (CSV, None)],
            )
            .errors([ErrorCode::NotAcceptable, ErrorCode::Unavailable]),
    ]
}

async fn recall_named(
    call: Call,
    query: Query<DryRunQuery>,
    body: Body<NamedRecallRequest>,
) -> Reply {
    let dry_run = query.0.is_dry();
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        recalls::recall_named(&call.state.studio, snap, moment, &body.value, dry_run).await
    })
    .await
}

async fn recall(call: Call, query: Query<DryRunQuery>, body: Body<RecallRequest>) -> Reply {
    let (id, dry_run) = (call.path_id("id")?, query.0.is_dry());
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        recalls::recall(&call.state.studio, snap, moment, id, &body.value, dry_run).await
    })
    .await
}

async fn list(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    told(&call, &recalls::of_lot(&call.state.studio, &mut snap, id, call.now).await?)
}

async fn find(call: Call, query: Query<ExposureQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    told(&call, &recalls::named(&call.state.studio, &mut snap, &query.0, call.now).await?)
}

/// As JSON or as a table, whichever is preferred.
fn told(call: &Call, exposures: &Exposures) -> Reply {
    match preferred(call, &["application/json", CSV]) {
        CSV => Ok(HttpResponse::Ok()
            .content_type("text/csv; charset=utf-8")
            .body(recalls::csv(exposures))),
        _ => json(200, exposures),
    }
}
