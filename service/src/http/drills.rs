//! `/v1/drills` and `/v1/drill-grades`: practice on skin that is none.

use actix_web::HttpResponse;
use etui_schema::drills::{DrillGradeRequest, DrillRequest};
use etui_schema::endpoints;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::pictures::{JSON, SVG, preferred};
use crate::studio::drills;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::make_drills(), || to(make))
            .speaks()
            .says(
                "What to practise with a configuration",
                "Panels for practice skin, each with what it asks, passes, pace and what is adequate, reckoned \
                 from the configuration; those of the effects that it suits. The same seed gives the same \
                 panels. If `Accept` asks for `image/svg+xml`, the sheet to be printed at 100 %: a frame \
                 with six marks and a bar of 100 mm, laid over the skin.",
            )
            .answers(200, "The drills, as numbers or as the sheet to be printed.")
            .or_as(&[SVG]),
        Operation::of(endpoints::grade_drill(), || to(grade))
            .speaks()
            .says(
                "Grade a panel that was worked",
                "From what was measured of it and what a trainer saw. What was not told is not met. A grade \
                 proposes nothing and signs nothing.",
            )
            .answers(200, "The grade, quantity by quantity."),
    ]
}

async fn make(call: Call, body: Body<DrillRequest>) -> Reply {
    let craft = &call.state.studio.craft;
    match preferred(&call, &[JSON, SVG]) {
        SVG => {
            let sheet = drills::sheet(craft, &body.value, call.language())?;
            Ok(HttpResponse::Ok().content_type(SVG).body(sheet))
        }
        _ => json(200, &drills::make(craft, &body.value, call.language())?),
    }
}

async fn grade(call: Call, body: Body<DrillGradeRequest>) -> Reply {
    json(200, &drills::grade(&call.state.studio.craft, &body.value, call.language())?)
}
