//! `/v1/clients`, `/v1/clients/{client_ref}` and `…/dossier`.

use etui_schema::clients::ClientRecord;
use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;

use super::answer::{Reply, json, page, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::patch::{self, Patch};
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{clients, dossiers, erasures};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::put_client(), || to(put))
            .says(
                "Keep a client",
                "Skin and answers under the caller's own reference; no name is needed. Everything \
                 but the reference is sealed under a key of this client.",
            )
            .answers(200, "Replaced.")
            .answers(201, "Created."),
        Operation::of(endpoints::list_clients(), || to(list))
            .says("List the clients", "References, versions and days; nothing that is sealed.")
            .answers(200, "One page, in no order that says anything."),
        Operation::of(endpoints::patch_client(), || to(patch))
            .says(
                "Change some of a client",
                "The record as GET gives it, with the members of the patch in place of its own. An answer \
                 that the patch tells is of today unless `answered` or `given` says otherwise.",
            )
            .answers(200, "Changed."),
        Operation::of(endpoints::get_client(), || to(get))
            .says("Read a client", "The record with its `ETag`. 404 if there is none or it was erased.")
            .answers(200, "The client."),
        Operation::of(endpoints::get_dossier(), || to(dossier))
            .says(
                "Everything that is held on a client",
                "Profile, answers, checks, treatments with all that belongs to them, reminders, calendars \
                 and the audit trail about them, in one document. 404 if nothing is held or it was erased.",
            )
            .answers(200, "The dossier."),
        Operation::of(endpoints::erase_client(), || to(erase))
            .always_whole()
            .says(
                "Forget a client",
                "Destroys the key under which everything about the client is sealed, in the store and in \
                 its backups. The trace of treatments stays, as the law wants.",
            )
            .answers(
                200,
                "Forgotten; keep the receipt. In a dry run: what would be forgotten.",
            ),
    ]
}

async fn put(call: Call, body: Body<ClientRecord>) -> Reply {
    let (reference, known) = (call.reference("client_ref")?, write::precondition(&call));
    write::run(&call, &body.bytes, async |snap, moment| {
        clients::put(&call.state.studio, snap, moment, &reference, &body.value, &known).await
    })
    .await
}

async fn list(call: Call, query: Query<PageQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(&call, &clients::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn patch(call: Call, patch: Patch) -> Reply {
    let (reference, known) = (call.reference("client_ref")?, write::precondition(&call));
    write::run(&call, &patch.bytes, async |snap, moment| {
        let change = (&patch.value, patch::read::<ClientRecord>);
        clients::patch(&call.state.studio, snap, moment, &reference, change, &known).await
    })
    .await
}

async fn get(call: Call) -> Reply {
    let reference = call.reference("client_ref")?;
    let mut snap = write::view(&call).await?;
    let client = clients::get(&call.state.studio, &mut snap, &reference).await?;
    tagged(&call, "application/json", to_json(&client)?)
}

async fn dossier(call: Call) -> Reply {
    let reference = call.reference("client_ref")?;
    let mut snap = write::view(&call).await?;
    json(200, &dossiers::get(&call.state.studio, &mut snap, call.now, &reference).await?)
}

async fn erase(call: Call, query: Query<DryRunQuery>) -> Reply {
    let (reference, known) = (call.reference("client_ref")?, write::precondition(&call));
    // Once begun it goes on to its end, even if the caller goes away.
    let (studio, moment) = (call.state.studio.clone(), call.moment());
    let work = async move {
        erasures::erase(&studio, &moment, &reference, &known, query.0.is_dry()).await
    };
    json(200, &write::to_its_end(work).await?)
}
