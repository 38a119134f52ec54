//! `/v1/puncture-patterns`.

use actix_web::{HttpResponse, web};
use etui_schema::access::Scope;
use etui_schema::puncture_patterns::{PuncturePattern, PuncturePatternRequest};

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::operation::Operation;
use super::pictures::{JSON, PNG, SVG, encoded, preferred};
use crate::studio::puncture_patterns;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::post("/v1/puncture-patterns", "simulate_pattern", || web::to(simulate))
            .tag("configurations")
            .scope(Scope::Compute)
            .says(
                "Simulate a puncture pattern",
                "The dots that remain of a stroke or a filled area, from a seed; the numbers, or \
                 the picture if `Accept` asks for `image/svg+xml` or `image/png`.",
            )
            .body::<PuncturePatternRequest>()
            .answers::<PuncturePattern>(200, "The pattern, as numbers or as a picture.")
            .or_as(&[SVG, PNG]),
    ]
}

async fn simulate(call: Call, body: Body<PuncturePatternRequest>) -> Reply {
    let craft = &call.state.studio.craft;
    let simulated = puncture_patterns::simulate(craft, &body.value)?;
    let media = preferred(&call, &[JSON, SVG, PNG]);
    if media == JSON {
        return json(200, &simulated.answer(call.language()));
    }
    let picture = encoded(&simulated.picture(call.language()), media)?;
    Ok(HttpResponse::Ok().content_type(media).body(picture))
}
