//! `/v1/needle-selections`.

use etui_schema::access::Scope;
use etui_schema::endpoints;
use etui_schema::needle_selections::{Candidates, NeedleSelectionRequest};
use etui_schema::problem::ErrorCode;
use etui_schema::short::ShortSelection;
use etui_schema::vocabulary::Reference;

use super::answer::{Reply, bytes, to_bytes};
use super::body::Body;
use super::call::{Call, lacking};
use super::compute::{SMALL, compute};
use super::handler::to;
use super::operation::Operation;
use super::write;
use crate::studio::{Studio, hand_profiles, needle_selections, sight};

/// A drawer of more lots than this is ranked away from those who answer.
const MANY: usize = 250;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::select_needles(), || to(select))
            .speaks()
            .says(
                "Choose a needle",
                "Ranks the usual range, the drawer or a list for one treatment, effect, hand, machine \
                 and skin, and answers the five questions for each; what was set aside, what to \
                 change to on trauma, what would change the choice, and where the trade is split. \
                 Choosing from the drawer needs the scope `drawer:read` as well. `own_results` asks one \
                 question more, how an artist's own healed results held with each needle, and needs \
                 `treatments:read`; it moves the order alone, never by what is not known.",
            )
            .answers(200, "The choice, best first.")
            .shortens::<ShortSelection>()
            .errors([ErrorCode::Unavailable]),
    ]
}

async fn select(call: Call, body: Body<NeedleSelectionRequest>) -> Reply {
    let branch = body.value.branch_ref.as_ref();
    if branch.is_some() {
        sight::named_branch(&call.caller.mandate(), branch, "#/branch_ref")?;
    }
    let drawer = match body.value.candidates {
        Candidates::Drawer => Some(drawer(&call, branch).await?),
        Candidates::Usual | Candidates::List(_) => None,
    };
    let own = match &body.value.own_results {
        Some(asked) => Some(own(&call, &asked.artist_ref).await?),
        None => None,
    };
    let many = drawer.as_ref().is_some_and(|drawer| MANY < drawer.usable());
    let today = call.moment().today;
    let (long, language) = (many || own.is_some() || SMALL <= body.bytes.len(), call.language());
    let work = move |studio: &Studio| {
        let craft = &studio.craft;
        let (drawer, own) = (drawer.as_ref(), own.as_ref());
        let said = (today, language);
        to_bytes(&needle_selections::select(craft, &body.value, drawer, own, said)?)
    };
    bytes(200, compute(&call, long, work).await?)
}

/// The drawer today, of a branch if one is named, for a caller who may see it.
async fn drawer(
    call: &Call,
    branch: Option<&Reference>,
) -> Result<needle_selections::Drawer, super::failure::Failure> {
    if !call.caller.allows(Scope::DrawerRead) {
        return Err(lacking(Scope::DrawerRead));
    }
    let mut snap = write::view(call).await?;
    let (studio, moment) = (&call.state.studio, call.moment());
    let drawer = needle_selections::at_branch(studio, &mut snap, &moment, branch).await?;
    Ok(drawer)
}

/// An artist's own results, for a caller who may see them.
async fn own(
    call: &Call,
    artist_ref: &Reference,
) -> Result<needle_selections::OwnFound, super::failure::Failure> {
    if !call.caller.allows(Scope::TreatmentsRead) {
        return Err(lacking(Scope::TreatmentsRead));
    }
    let mut snap = write::view(call).await?;
    let studio = &call.state.studio;
    let at = (artist_ref, "#/own_results/artist_ref");
    sight::results(&call.caller.mandate(), artist_ref, at.1)?;
    Ok(hand_profiles::own(studio, &mut snap, at).await?)
}
