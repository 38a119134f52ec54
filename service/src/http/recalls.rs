//! `/v1/recalls`, `/v1/lots/{id}/recalls`, `/v1/lots/{id}/exposures`, `/v1/exposures`.

use actix_web::HttpResponse;
use etui_schema::dry_runs::DryRunQuery;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::problem::ErrorCode;
use etui_schema::recalls::{
    ExposurePageQuery, ExposureQuery, Exposures, NamedRecallRequest, RecallRequest,
};

use super::answer::{Reply, json, leading_on, page, record};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::pictures::preferred;
use super::query::Query;
use super::write;
use crate::studio::recalls;

const CSV: &str = "text/csv";

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::recall_lots(), || to(recall_named))
            .always_whole()
            .says(
                "Act on a recall notice",
                "By lot code, and by maker and article where the notice names them. From this moment no \
                 pack of these lots is offered; the answer lists who was exposed. A notice is kept also where no lot of \
                 the code is here yet, and calls back what comes later; packs without a code that it may mean \
                 are held.",
            )
            .answers(200, "A dry run: what would be called back.")
            .answers(201, "Called back.")
            .located(),
        Operation::of(endpoints::list_recalls(), || to(list_recalls))
            .says("List the recalls", "Oldest first; `exposures` of their lots tell who was exposed.")
            .answers(200, "One page of recalls."),
        Operation::of(endpoints::get_recall(), || to(get_recall))
            .says("Read a recall", "What the notice said, who acted on it, and which lots it took.")
            .answers(200, "The recall.")
            .if_none_match(),
        Operation::of(endpoints::recall_lot(), || to(recall))
            .always_whole()
            .says(
                "Call a lot back",
                "With every other delivery of the same code, maker and article unless `same_code` is false.",
            )
            .answers(200, "A dry run: what would be called back.")
            .answers(201, "Called back.")
            .located(),
        Operation::of(endpoints::list_exposures(), || to(list))
            .says(
                "Who was exposed to a lot",
                "Every treatment and client with a pack of it, also after a client was erased, and every \
                 check to come that offers it. `Accept: text/csv` gives them as a table.",
            )
            .answers(200, "The exposures.")
            .or_as(&[CSV])
            .errors([ErrorCode::NotAcceptable]),
        Operation::of(endpoints::find_exposures(), || to(find))
            .says(
                "Who was exposed to what a notice names",
                "By lot code, and by maker and article where the notice names them; calls nothing back. \
                 `Accept: text/csv` gives a table.",
            )
            .answers(200, "The exposures; empty if this code was never received.")
            .or_as(&[CSV])
            .errors([ErrorCode::NotAcceptable, ErrorCode::Unavailable]),
    ]
}

async fn recall_named(
    call: Call,
    query: Query<DryRunQuery>,
    body: Body<NamedRecallRequest>,
) -> Reply {
    let dry_run = query.0.is_dry();
    let told = (dry_run, call.language());
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        recalls::recall_named(&call.state.studio, snap, moment, &body.value, told).await
    })
    .await
}

async fn recall(call: Call, query: Query<DryRunQuery>, body: Body<RecallRequest>) -> Reply {
    let (id, dry_run) = (call.path_id("id")?, query.0.is_dry());
    let told = (dry_run, call.language());
    write::run_or_tell(&call, dry_run, &body.bytes, async |snap, moment| {
        recalls::recall(&call.state.studio, snap, moment, id, &body.value, told).await
    })
    .await
}

async fn list_recalls(call: Call, query: Query<PageQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    page(
        &call,
        &recalls::list(&call.state.studio, &mut snap, &call.caller.mandate(), &query.0).await?,
    )
}

async fn get_recall(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mandate = call.caller.mandate();
    record(&call, &recalls::get(&mut write::view(&call).await?, &mandate, id).await?)
}

async fn list(call: Call, query: Query<ExposurePageQuery>) -> Reply {
    let id = call.path_id("id")?;
    let ExposurePageQuery { limit, cursor } = query.0;
    let mut snap = write::view(&call).await?;
    let whole = recalls::of_lot(&call.state.studio, &mut snap, id, call.now).await?;
    let whole = recalls::seen(&mut snap, &call.caller.mandate(), whole).await?;
    told(&call, whole, &format!("exposures of={id}"), PageQuery { limit, cursor })
}

async fn find(call: Call, query: Query<ExposureQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    let whole = recalls::named(&call.state.studio, &mut snap, &query.0, call.now).await?;
    let whole = recalls::seen(&mut snap, &call.caller.mandate(), whole).await?;
    let ExposureQuery { lot, maker, reference, limit, cursor } = query.0;
    let name = format!("exposures lot={lot:?} maker={maker:?} reference={reference:?}");
    told(&call, whole, &name, PageQuery { limit, cursor })
}

/// As JSON or as a table, whichever is preferred.
fn told(call: &Call, whole: Exposures, name: &str, query: PageQuery) -> Reply {
    let exposures = recalls::page(&call.state.studio, whole, name, &query)?;
    let answer = match preferred(call, &["application/json", CSV]) {
        CSV => HttpResponse::Ok()
            .content_type("text/csv; charset=utf-8")
            .body(recalls::csv(&exposures)),
        _ => json(200, &exposures)?,
    };
    Ok(leading_on(call, answer, exposures.next_cursor.as_deref()))
}
