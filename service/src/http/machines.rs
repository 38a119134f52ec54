//! `/v1/machines/{machine_ref}`.

use actix_web::web;
use etui_schema::access::Scope;
use etui_schema::machines::{MachineAsStored, MachineRecord};

use super::answer::{Reply, tagged};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::write;
use crate::studio::documents::{self, Document};
use crate::studio::machines::StoredMachine;
use crate::studio::plan::to_json;

const PATH: &str = "/v1/machines/{machine_ref}";

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::put(PATH, "put_machine", || web::to(put))
            .tag("records")
            .scope(Scope::ClientsWrite)
            .says(
                "Keep a machine",
                "Stroke, rate and give of a machine, as the needle feels them. \
                 Creates the record, or replaces it when `If-Match` carries its `ETag`.",
            )
            .body::<MachineRecord>()
            .answers::<MachineAsStored>(200, "Replaced.")
            .answers::<MachineAsStored>(201, "Created.")
            .if_match(),
        Operation::get(PATH, "get_machine", || web::to(get))
            .tag("records")
            .scope(Scope::ClientsRead)
            .says("Read a machine", "The record with its `ETag`.")
            .answers::<MachineAsStored>(200, "The machine.")
            .if_none_match()
            .finds(),
    ]
}

async fn put(call: Call, body: Body<MachineRecord>) -> Reply {
    let (reference, known) = (call.reference("machine_ref")?, write::precondition(&call));
    write::run(&call, &body.bytes, async |snap, moment| {
        documents::put::<StoredMachine, _>(
            &call.state.studio,
            snap,
            moment,
            &reference,
            &body.value,
            &known,
        )
        .await
    })
    .await
}

async fn get(call: Call) -> Reply {
    let reference = call.reference("machine_ref")?;
    let mut snap = write::view(&call).await?;
    let found =
        documents::get::<StoredMachine, _>(&call.state.studio, &mut snap, &reference).await?;
    tagged(&call, "application/json", to_json(&found.answer())?)
}
