//! `/v1/treatments`.

use actix_web::web;
use etui_schema::access::Scope;
use etui_schema::page::Page;
use etui_schema::problem::ErrorCode;
use etui_schema::treatments::{
    Observation, ObservationRequest, TreatmentQuery, TreatmentRecord, TreatmentRequest,
    TreatmentRow,
};

use super::answer::{Reply, page, tagged};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::observations;
use crate::studio::sealed;
use crate::studio::treatments::{self, TreatmentTrace};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::post("/v1/treatments", "record_treatment", || web::to(create))
            .tag("treatments")
            .scope(Scope::TreatmentsWrite)
            .says(
                "Record a treatment",
                "What was used on whom. The packs leave the drawer in the same moment; a pack that may \
                 not be used is refused unless the record says why it was used all the same.",
            )
            .body::<TreatmentRequest>()
            .answers::<TreatmentRecord>(201, "Recorded.")
            .idempotent(),
        Operation::get("/v1/treatments", "list_treatments", || web::to(list))
            .tag("treatments")
            .scope(Scope::TreatmentsRead)
            .says("List a client's treatments", "Oldest first; the trace only.")
            .query::<TreatmentQuery>()
            .answers::<Page<TreatmentRow>>(200, "One page of treatments.")
            .errors([ErrorCode::InvalidValue, ErrorCode::Unavailable]),
        Operation::post("/v1/treatments/{id}/observations", "record_observation", || web::to(observe))
            .tag("treatments")
            .scope(Scope::TreatmentsWrite)
            .says(
                "Record what is seen while working",
                "Trauma seen on the skin, and what to do: the spot is left alone; for the rest of the area \
                 less pressure on each point, lighter, slower. Never deeper, thicker or faster.",
            )
            .body::<ObservationRequest>()
            .answers::<Observation>(201, "Recorded, with what to do.")
            .idempotent()
            .finds(),
        Operation::get("/v1/treatments/{id}", "get_treatment", || web::to(get))
            .tag("treatments")
            .scope(Scope::TreatmentsRead)
            .says("Read a treatment", "As recorded. 404 if the client was erased since.")
            .answers::<TreatmentRecord>(200, "The treatment.")
            .if_none_match()
            .finds(),
    ]
}

async fn create(call: Call, body: Body<TreatmentRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        treatments::create(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn observe(call: Call, body: Body<ObservationRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        observations::create(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<TreatmentQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(&call, &treatments::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let record = sealed::load::<TreatmentTrace>(&mut snap, id).await?;
    tagged(&call, "application/json", record.answer(&call.state.studio, &mut snap).await?)
}
