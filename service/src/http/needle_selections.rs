//! `/v1/needle-selections`.

use actix_web::web;
use etui_schema::access::Scope;
use etui_schema::needle_selections::{Candidates, NeedleSelection, NeedleSelectionRequest};
use etui_schema::problem::ErrorCode;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::{Call, lacking};
use super::operation::Operation;
use super::write;
use crate::studio::{lots, needle_selections};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::post("/v1/needle-selections", "select_needles", || web::to(select))
            .tag("configurations")
            .scope(Scope::Compute)
            .says(
                "Choose a needle",
                "Ranks the usual range, the drawer or a list for one treatment, effect, hand, machine \
                 and skin, and answers the five questions for each; what was set aside, what to \
                 change to on trauma, what would change the choice, and where the trade is split. \
                 Choosing from the drawer needs the scope `drawer:read` as well.",
            )
            .body::<NeedleSelectionRequest>()
            .answers::<NeedleSelection>(200, "The choice, best first.")
            .errors([ErrorCode::Unavailable]),
    ]
}

async fn select(call: Call, body: Body<NeedleSelectionRequest>) -> Reply {
    let drawer = match body.value.candidates {
        Candidates::Drawer => drawer(&call).await?,
        Candidates::Usual | Candidates::List(_) => Vec::new(),
    };
    let craft = &call.state.studio.craft;
    json(200, &needle_selections::select(craft, &body.value, &drawer)?)
}

/// The lots usable today, for a caller who may see the drawer.
async fn drawer(call: &Call) -> Result<Vec<lots::StoredLot>, super::failure::Failure> {
    if !call.caller.allows(Scope::DrawerRead) {
        return Err(lacking(Scope::DrawerRead));
    }
    let mut snap = write::view(call).await?;
    Ok(lots::usable_on(&mut snap, call.today()).await?)
}
