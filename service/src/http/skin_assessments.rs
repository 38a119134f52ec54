//! `/v1/skin-assessments` and `/v1/screening-questions`.

use etui_schema::endpoints;
use etui_schema::screening_questions::ScreeningQuery;
use etui_schema::short::ShortAssessment;
use etui_schema::skin_assessments::SkinAssessmentRequest;

use super::answer::{Reply, json, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use crate::studio::plan::to_json;
use crate::studio::{screening_questions, skin_assessments};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_screening_questions(), || to(questions))
            .speaks()
            .any_token()
            .says(
                "The questions of a screening",
                "In a considerate order, each with why it is asked, and the JSON Schema of the answers, so \
                 that a front end can draw the form by itself. `Accept-Language` chooses English or German.",
            )
            .answers(200, "The questions.")
            .if_none_match(),
        Operation::of(endpoints::create_skin_assessment(), || to(assess))
            .speaks()
            .says(
                "May this skin be treated, when and how?",
                "The gate gives the verdict (decline before refer before hold before conditions before \
                 proceed; unknown is `incomplete`). The score changes conditions and follow-up only.",
            )
            .answers(200, "The assessment.")
            .shortens::<ShortAssessment>(),
    ]
}

async fn questions(call: Call, query: Query<ScreeningQuery>) -> Reply {
    let craft = &call.state.studio.craft;
    let list = screening_questions::list(&craft.rulebook, call.today(), call.language(), &query.0);
    tagged(&call, "application/json", to_json(&list)?)
}

async fn assess(call: Call, body: Body<SkinAssessmentRequest>) -> Reply {
    json(
        200,
        &skin_assessments::assess(
            &call.state.studio.craft,
            call.state.studio.country,
            call.today(),
            call.language(),
            &body.value,
        )?,
    )
}
