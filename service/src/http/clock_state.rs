//! `/v1/clock` and `/v1/clock-confirmations`.

use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;
use etui_schema::service::ClockConfirmation;

use super::answer::{Reply, json};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::write;
use crate::studio::clock;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_clock(), || to(look))
            .says(
                "What time it is here, and whether that is believed",
                "A clock that has leapt ahead by more than a week, or stands behind what is on \
                 record by more than a quarter of an hour, is not believed for an hour: no message \
                 is handed out or closed, nothing is told, forgotten or cleared away by the clock.",
            )
            .answers(200, "The clock."),
        Operation::of(endpoints::confirm_clock(), || to(confirm))
            .says(
                "Say that the clock is right",
                "Whoever has looked says what time it is; if that is what the service's clock \
                 says, it is believed at once, and what was held goes on.",
            )
            .answers(200, "It is believed.")
            .errors([ErrorCode::Conflict, ErrorCode::Unavailable, ErrorCode::NoSpace]),
    ]
}

async fn look(call: Call) -> Reply {
    json(200, &clock::told(&call.state.studio, &call.moment()))
}

async fn confirm(call: Call, body: Body<ClockConfirmation>) -> Reply {
    let studio = &call.state.studio;
    let done = write::run(&call, &body.bytes, async |_, moment| {
        clock::confirm(studio, moment, &body.value)
    })
    .await?;
    studio.clock.believe(call.state.sources.as_ref());
    Ok(done)
}
