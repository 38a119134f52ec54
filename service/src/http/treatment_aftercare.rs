//! `/v1/treatments/{id}/aftercare` and `.ics`.

use etui_schema::aftercare_plans::CalendarQuery;
use etui_schema::endpoints;
use etui_schema::short::ShortPlan;

use super::answer::{Reply, tagged};
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::plan::to_json;
use crate::studio::treatment_aftercare;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_treatment_aftercare(), || to(plan))
            .speaks()
            .says(
                "The aftercare of a treatment",
                "The plan from what is known of the client today, in the language of `Accept-Language`.",
            )
            .answers(200, "The plan.")
            .shortens::<ShortPlan>(),
        Operation::of(endpoints::get_treatment_calendar(), || to(calendar))
            .speaks()
            .says(
                "The aftercare of a treatment as iCalendar",
                "RFC 5545. UIDs are stable; what a later session of the same treatment has replaced comes \
                 as cancelled. Titles are neutral unless `detail=true`.",
            )
            .answers(200, "The calendar.")
            .if_none_match(),
    ]
}

async fn plan(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let plan =
        treatment_aftercare::plan(&call.state.studio, &mut snap, id, call.language()).await?;
    tagged(&call, "application/json", to_json(&plan)?)
}

async fn calendar(call: Call, query: Query<CalendarQuery>) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let detail = query.0.detail.unwrap_or(false);
    let studio = &call.state.studio;
    let text =
        treatment_aftercare::calendar(studio, &mut snap, id, call.language(), detail).await?;
    tagged(&call, "text/calendar; charset=utf-8", text.into_bytes())
}
