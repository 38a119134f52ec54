//! `/v1/aftercare-plans`.

use etui_schema::aftercare_plans::AftercarePlanRequest;
use etui_schema::endpoints;
use etui_schema::short::ShortPlan;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use crate::studio::aftercare_plans;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::make_aftercare_plan(), || to(make))
            .speaks()
            .says(
                "Date the aftercare of a session",
                "What the client sees, does and avoids, with the instant of every message, and the \
                 milestones: review, earliest touch-up by age, colour refresh, blood donation. Local \
                 times are read as RFC 5545 3.3.5 reads them: one that does not exist with the offset \
                 before the gap, one that comes twice as the first. Stores nothing. Texts come in the \
                 language of `Accept-Language` (en, de).",
            )
            .answers(200, "The plan.")
            .shortens::<ShortPlan>(),
    ]
}

async fn make(call: Call, body: Body<AftercarePlanRequest>) -> Reply {
    let plans = &call.state.studio.craft.plans;
    json(200, &aftercare_plans::make(plans, &body.value, call.language())?)
}
