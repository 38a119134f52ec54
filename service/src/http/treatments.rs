//! `/v1/treatments`.

use etui_schema::endpoints;
use etui_schema::treatments::{TreatmentQuery, TreatmentRequest};

use super::answer::{Reply, page, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{history, treatments};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::record_treatment(), || to(create))
            .speaks()
            .says(
                "Record a treatment",
                "What was used on whom. The packs leave the drawer in the same moment; a pack that may \
                 not be used is refused unless the record says why it was used all the same.",
            )
            .answers(201, "Recorded.")
            .until_erased()
            .located(),
        Operation::of(endpoints::list_treatments(), || to(list))
            .says("List treatments", "Oldest first; the trace only.")
            .answers(200, "One page of treatments."),
        Operation::of(endpoints::get_treatment(), || to(get))
            .says(
                "Read a treatment",
                "As it stands, with what was seen, told, judged and put right since. 404 if the client was \
                 erased.",
            )
            .answers(200, "The treatment."),
    ]
}

async fn create(call: Call, body: Body<TreatmentRequest>) -> Reply {
    let language = call.language();
    write::run(&call, &body.bytes, async |snap, moment| {
        treatments::create(&call.state.studio, snap, moment, language, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<TreatmentQuery>) -> Reply {
    let (mut snap, mandate) = (write::view(&call).await?, call.caller.mandate());
    page(&call, &treatments::list(&call.state.studio, &mut snap, &mandate, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let record = history::whole(&call.state.studio, &mut snap, id).await?;
    tagged(&call, "application/json", to_json(&record)?)
}
