//! `/v1/phototype-scores` and `/v1/skin-colours`.

use etui_schema::endpoints;
use etui_schema::skin_typing::{PhototypeRequest, SkinColourRequest};

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use crate::studio::skin_typing;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::create_phototype_score(), || to(phototype))
            .speaks()
            .says(
                "Sun-reaction type from ten answers",
                "Ten questions of 0 to 4 points. With fewer answers no type is given. The type says how skin \
                 reacts to sun; it is not a skin colour.",
            )
            .answers(200, "The score with its uncertainty."),
        Operation::of(endpoints::create_skin_colour(), || to(colour))
            .speaks()
            .says(
                "Class and difference of measured skin colours",
                "Individual typology angle with its class, and CIEDE2000 against a second colour.",
            )
            .answers(200, "The colour."),
    ]
}

async fn phototype(call: Call, body: Body<PhototypeRequest>) -> Reply {
    json(200, &skin_typing::phototype(&call.state.studio.craft, call.language(), &body.value)?)
}

async fn colour(call: Call, body: Body<SkinColourRequest>) -> Reply {
    json(200, &skin_typing::colour(&call.state.studio.craft, call.language(), &body.value)?)
}
