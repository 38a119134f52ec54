//! `/v1/lots`: the drawer.

use etui_schema::endpoints;
use etui_schema::lots::{AdjustmentRequest, LotMoveRequest, LotQuery, LotRequest};

use super::answer::{Reply, page, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::lots;
use crate::studio::plan::to_json;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::receive_lot(), || to(receive))
            .says(
                "Take a delivery into the drawer",
                "Reads print and symbol of one lot and keeps both as read. What they leave open or unsaid, or \
                 contradict each other about, holds the lot until a person who is named settles it.",
            )
            .answers(201, "Taken in; `state` says whether its packs may be used.")
            .located(),
        Operation::of(endpoints::list_lots(), || to(list))
            .says("List the drawer", "First expired first.")
            .answers(200, "One page of lots."),
        Operation::of(endpoints::get_lot(), || to(get))
            .says("Read a lot", "With its state today and every change by hand.")
            .answers(200, "The lot."),
        Operation::of(endpoints::adjust_lot(), || to(adjust))
            .says(
                "Change a lot by hand",
                "Recount, damage, practice, return, hold or release, with the reason.",
            )
            .answers(201, "The lot after the change."),
        Operation::of(endpoints::move_lot(), || to(move_packs))
            .says(
                "Move packs to another branch",
                "All that are left, or some: those are a lot of their own from then on, with the same label \
                 and code, and a recall finds both.",
            )
            .answers(201, "Moved."),
    ]
}

async fn receive(call: Call, body: Body<LotRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        lots::receive(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<LotQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    let rows = lots::list(&call.state.studio, &mut snap, &call.moment(), &query.0).await?;
    page(&call, &rows)
}

async fn get(call: Call) -> Reply {
    let mut snap = write::view(&call).await?;
    let (lot, _) = lots::load(&mut snap, call.path_id("id")?).await?;
    let moment = call.moment();
    let today = lots::today_of(&mut snap, &moment, &lot).await?;
    tagged(&call, "application/json", to_json(&lot.answer(&moment.mandate, today))?)
}

async fn adjust(call: Call, body: Body<AdjustmentRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        lots::adjust(snap, moment, id, &body.value).await
    })
    .await
}

async fn move_packs(call: Call, body: Body<LotMoveRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        lots::move_packs(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}
