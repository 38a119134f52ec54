//! `/v1/sign-offs`: what trainers answer for.

use etui_schema::endpoints;
use etui_schema::sign_offs::{SignOffQuery, SignOffRequest, WithdrawalRequest};

use super::answer::{Reply, page, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::{countersignatures, sign_offs};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::give_sign_off(), || to(give))
            .says(
                "Sign an artist off",
                "For a grouping, a count, diameters, an effect and a site, until a day at most a year away. \
                 Who signs is told by the token alone: the artist it acts for, or the owner. Nobody signs for \
                 herself, a student for nobody, and whoever is not named trainer by an `admin` for no more \
                 than she works alone with herself.",
            )
            .answers(201, "Signed.")
            .located()
            .until_erased(),
        Operation::of(endpoints::list_sign_offs(), || to(list))
            .says("List sign-offs", "In the order in which they were given, taken back or not.")
            .answers(200, "One page of sign-offs."),
        Operation::of(endpoints::get_sign_off(), || to(get))
            .says("Read a sign-off", "With whether it was taken back.")
            .answers(200, "The sign-off."),
        Operation::of(endpoints::withdraw_sign_off(), || to(withdraw))
            .says(
                "Take a sign-off back",
                "It counts a rung lower from now on, and stays on record with the reason.",
            )
            .answers(201, "The sign-off after it was taken back.")
            .until_erased(),
    ]
}

async fn give(call: Call, body: Body<SignOffRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        let (studio, request) = (&call.state.studio, &body.value);
        let about = (&request.artist_ref, request.covers.site);
        let confirmed = countersignatures::confirmed_for(studio, snap, moment.now, about).await?;
        sign_offs::give(studio, snap, moment, request, confirmed).await
    })
    .await
}

async fn list(call: Call, query: Query<SignOffQuery>) -> Reply {
    let (mut snap, moment) = (write::view(&call).await?, call.moment());
    page(&call, &sign_offs::list(&call.state.studio, &mut snap, &moment, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let (mut snap, moment, id) = (write::view(&call).await?, call.moment(), call.path_id("id")?);
    let found = sign_offs::get(&call.state.studio, &mut snap, &moment, id).await?;
    tagged(&call, "application/json", to_json(&found)?)
}

async fn withdraw(call: Call, body: Body<WithdrawalRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        sign_offs::withdraw(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}
