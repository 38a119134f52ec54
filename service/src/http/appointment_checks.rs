//! `/v1/appointment-checks`: the main job.

use etui_schema::appointment_checks::{AppointmentCheckRequest, CheckQuery};
use etui_schema::endpoints;
use etui_schema::sheets::CheckSummary;

use super::answer::{Reply, json, page, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::short;
use super::write;
use crate::studio::appointment_checks::{self, CheckTrace};
use crate::studio::{sealed, sheets};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::create_appointment_check(), || to(create))
            .speaks()
            .says(
                "May this client have this treatment on this day?",
                "Screening, needle, readiness, a to-do list with dates, and the aftercare that would follow: \
                 one answer, kept as given. Where the request is silent, what is kept of client, artist and \
                 machine counts.",
            )
            .answers(201, "Checked and kept.")
            .summarises()
            .until_erased()
            .located(),
        Operation::of(endpoints::list_appointment_checks(), || to(list))
            .speaks()
            .says(
                "List checks",
                "All in the order of their appointments, or one booking's in the order they were made.",
            )
            .answers(200, "One page of checks."),
        Operation::of(endpoints::get_appointment_check(), || to(get))
            .speaks()
            .says("Read a check", "Byte for byte as it was given, in the language it was made in; with `short=true` as `summary` \
                 tells it today, in the language asked for. 404 if the client was erased since.")
            .answers(200, "The check.")
            .shortens::<CheckSummary>(),
        Operation::of(endpoints::replay_appointment_check(), || to(replay))
            .speaks()
            .says(
                "Compute a check again",
                "From what it was made from, with today's rules, drawer and date; says what differs and why. \
                 Nothing is written.",
            )
            .answers(200, "The same, or what differs."),
    ]
}

async fn create(call: Call, body: Body<AppointmentCheckRequest>) -> Reply {
    let language = call.language();
    write::run(&call, &body.bytes, async |snap, moment| {
        appointment_checks::create(&call.state.studio, snap, moment, language, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<CheckQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    let (studio, language) = (&call.state.studio, call.language());
    let moment = call.moment();
    let mut rows = appointment_checks::list(studio, &mut snap, &moment.mandate, &query.0).await?;
    if query.0.short == Some(true) {
        sheets::shorten(studio, &mut snap, &moment, language, &mut rows.items).await?;
    }
    page(&call, &rows)
}

async fn get(call: Call) -> Reply {
    if short::is_wanted(&call.req) {
        return super::sheets::summary(call).await;
    }
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let record = sealed::load::<CheckTrace>(&mut snap, id).await?;
    let kept = record.answer(&call.state.studio, &mut snap).await?;
    call.speaks_as(&kept);
    let kept = appointment_checks::of_branches(&call.caller.mandate(), kept)?;
    tagged(&call, "application/json", kept)
}

async fn replay(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    let (studio, moment) = (&call.state.studio, call.moment());
    json(200, &appointment_checks::replay(studio, &mut snap, &moment, call.language(), id).await?)
}
