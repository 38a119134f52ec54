//! `/v1/puncture-patterns`.

use actix_web::HttpResponse;
use etui_schema::endpoints;
use etui_schema::puncture_patterns::PuncturePatternRequest;

use super::answer::{Reply, to_bytes};
use super::body::Body;
use super::call::Call;
use super::compute::compute;
use super::handler::to;
use super::operation::Operation;
use super::pictures::{JSON, PNG, SVG, encoded, preferred};
use crate::studio::{Studio, puncture_patterns};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::simulate_pattern(), || to(simulate))
            .speaks()
            .says(
                "Simulate a puncture pattern",
                "The dots that remain of a stroke or a filled area, from a seed; the numbers, or \
                 the picture if `Accept` asks for `image/svg+xml` or `image/png`.",
            )
            .answers(200, "The pattern, as numbers or as a picture.")
            .or_as(&[SVG, PNG]),
    ]
}

async fn simulate(call: Call, body: Body<PuncturePatternRequest>) -> Reply {
    let (media, language) = (preferred(&call, &[JSON, SVG, PNG]), call.language());
    let work = move |studio: &Studio| {
        let simulated = puncture_patterns::simulate(&studio.craft, &body.value)?;
        if media == JSON {
            return to_bytes(&simulated.answer(language));
        }
        encoded(&simulated.picture(language), media)
    };
    let made = compute(&call, true, work).await?;
    Ok(HttpResponse::Ok().content_type(media).body(made))
}
