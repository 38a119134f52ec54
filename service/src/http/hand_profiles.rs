//! `/v1/hand-profiles/{artist_ref}`.

use etui_schema::endpoints;

use super::answer::{Reply, tagged};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{artists, hand_profiles};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_hand_profile(), || to(get))
            .speaks()
            .says(
                "What an artist's healed results say about her hand",
                "How often the colour held, over all work, by treatment and effect, and by configuration, \
                 each with its interval (Wilson) and against the rest of the same work (Newcombe). Below a \
                 named number of results nothing is said.",
            )
            .answers(200, "The profile."),
    ]
}

async fn get(call: Call) -> Reply {
    let reference = call.reference("artist_ref")?;
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    let studio = &call.state.studio;
    artists::hide(studio, &mut snap, &moment, &reference).await?;
    let profile = hand_profiles::get(studio, &mut snap, call.language(), &reference).await?;
    tagged(&call, "application/json", to_json(&profile)?)
}
