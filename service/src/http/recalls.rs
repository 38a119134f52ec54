//! `/v1/recalls`, `/v1/lots/{id}/recalls`, `/v1/lots/{id}/exposures`.

use actix_web::{HttpResponse, web};
use etui_schema::access::Scope;
use etui_schema::problem::ErrorCode;
use etui_schema::treatments::{Exposures, NamedRecallRequest, RecallReport, RecallRequest};
use schemars::SchemaGenerator;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::write;
use crate::studio::recalls;

const CSV: &str = "text/csv";

pub(crate) fn operations() -> Vec<Operation> {
    let exposures = |generator: &mut SchemaGenerator| generator.subschema_for::<Exposures>();
    vec![
        Operation::post("/v1/recalls", "recall_lots", || web::to(recall_named))
            .tag("drawer")
            .scope(Scope::DrawerWrite)
            .says(
                "Act on a recall notice",
                "By lot code, and by maker and article where the notice names them. From this moment no \
                 pack of these lots is offered; the answer lists who was exposed.",
            )
            .body::<NamedRecallRequest>()
            .answers::<RecallReport>(201, "Called back.")
            .idempotent(),
        Operation::post("/v1/lots/{id}/recalls", "recall_lot", || web::to(recall))
            .tag("drawer")
            .scope(Scope::DrawerWrite)
            .says(
                "Call a lot back",
                "With every other delivery of the same code, maker and article unless `same_code` is false.",
            )
            .body::<RecallRequest>()
            .answers::<RecallReport>(201, "Called back.")
            .idempotent()
            .finds(),
        Operation::get("/v1/lots/{id}/exposures", "list_exposures", || web::to(list))
            .tag("drawer")
            .scope(Scope::TreatmentsRead)
            .says(
                "Who was exposed to a lot",
                "Every treatment and client with a pack of it, also after a client was erased, and every \
                 check to come that offers it. `Accept: text/csv` gives the treatments as a table.",
            )
            .answers_with(
                200,
                "The exposures.",
                vec![("application/json", Some(exposures)), (CSV, None)],
            )
            .finds()
            .errors([ErrorCode::NotAcceptable]),
    ]
}

async fn recall_named(call: Call, body: Body<NamedRecallRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        recalls::recall_named(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn recall(call: Call, body: Body<RecallRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        recalls::recall(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}

async fn list(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let exposures = recalls::of_lot(&call.state.studio, &mut snap, id, call.now).await?;
    if call.accepts("application/json") {
        return json(200, &exposures);
    }
    Ok(HttpResponse::Ok().content_type("text/csv; charset=utf-8").body(recalls::csv(&exposures)))
}
