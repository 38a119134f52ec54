//! `/v1/symptom-reports` and `/v1/symptom-questions`.

use etui_schema::endpoints;
use etui_schema::short::ShortReport;
use etui_schema::symptom_reports::{SymptomQuestionsQuery, SymptomReportRequest};

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use crate::studio::triage::{self, Known};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_symptom_questions(), || to(questions))
            .speaks()
            .says(
                "What to ask after a session",
                "A few plain questions by treatment and day, what cannot wait first; each names the \
                 symptoms that a yes may mean.",
            )
            .answers(200, "The questions."),
        Operation::of(endpoints::judge_symptom_report(), || to(judge))
            .speaks()
            .says(
                "How urgent is what a client tells?",
                "`emergency`, `same_day`, `doctor`, `artist` or `expected`: the highest level that any \
                 rule gives, so one sign of an emergency is enough. The colour of the skin plays no \
                 part. It sorts by urgency and is no diagnosis. Stores nothing.",
            )
            .answers(200, "The level, what to do, and why.")
            .shortens::<ShortReport>(),
    ]
}

async fn questions(call: Call, Query(query): Query<SymptomQuestionsQuery>) -> Reply {
    let triage = &call.state.studio.craft.triage;
    json(200, &triage::questions(triage, &query, call.language()))
}

async fn judge(call: Call, body: Body<SymptomReportRequest>) -> Reply {
    let studio = &call.state.studio;
    // Whom to call: in the studio's country, where no other is told.
    let mut request = body.value;
    request.country = request.country.or_else(|| studio.country.map(|country| country.to_string()));
    json(200, &triage::judge(&studio.craft.triage, &request, Known::default(), call.language())?)
}
