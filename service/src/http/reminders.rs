//! `/v1/reminders`, `/v1/reminder-claims` and `/v1/reminder-releases`.

use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use etui_schema::reminders::{
    ClaimExtensionRequest, ClaimReturnRequest, OutcomeRequest, ReminderClaimRequest, ReminderQuery,
    ReminderReleaseRequest,
};

use super::answer::{Reply, json, page, record};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::reminders;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_reminders(), || to(list))
            .says("List reminders", "Of each state in the order in which they are due.")
            .answers(200, "One page of reminders."),
        Operation::of(endpoints::claim_reminders(), || to(claim))
            .says(
                "Claim due reminders",
                "Nobody else gets them while the lease lasts. A reminder whose earlier lease ran out \
                 without an outcome comes with `maybe_sent`. What no longer makes sense is closed as \
                 overtaken on the way and not given out; while it is night where the client is, what is due \
                 moves to the morning.",
            )
            .answers(201, "What was claimed; it may be nothing.")
            .always_whole()
            .located(),
        Operation::of(endpoints::list_claims(), || to(claims))
            .says("List claims", "Those that hold anything, the ones that end first first.")
            .answers(200, "One page of claims."),
        Operation::of(endpoints::get_reminder(), || to(one))
            .says("Read a reminder", "404 if its client was erased.")
            .answers(200, "The reminder.")
            .if_none_match(),
        Operation::of(endpoints::get_claim(), || to(claimed))
            .says(
                "Read a claim",
                "With the reminders that it still holds. 404 once it holds none: its lease ran out, or all \
                 of them were reported or given back.",
            )
            .answers(200, "What it holds."),
        Operation::of(endpoints::extend_claim(), || to(extend))
            .says(
                "Hold claimed reminders for longer",
                "For whoever needs more time than was thought, before the lease ends. What had run out \
                 before is not held any more and is not in the answer.",
            )
            .answers(201, "Held until then."),
        Operation::of(endpoints::return_claim(), || to(give_back))
            .says(
                "Give claimed reminders back",
                "What was not sent and will not be: others can claim it at once. Each reminder has its own \
                 outcome. What may have been sent is not given back but left to its lease.",
            )
            .answers(201, "Given back; each with its outcome."),
        Operation::of(endpoints::report_reminder(), || to(report))
            .says(
                "Report what became of a reminder",
                "`delivered` is always taken, late or not; `failed` and `skipped` only from whoever \
                 holds it. A failure can ask to be due again. That the client wants no messages \
                 (`unwanted`) is taken of any message that the claim had, also of one that went out.",
            )
            .answers(200, "It was known already.")
            .answers(201, "Taken."),
        Operation::of(endpoints::release_reminders(), || to(release))
            .says(
                "Release reminders that are held",
                "With `--after-restore hold` no claim gets a message that the store which was lost may \
                 have sent; `GET /v1/reminders?state=held` lists them. A person who has asked the sender's \
                 own log or the client decides: `send` or `skip`. Each reminder has its own outcome.",
            )
            .answers(201, "Done; each reminder with its outcome."),
    ]
}

async fn one(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    record(&call, &reminders::one(&call.state.studio, &mut snap, id).await?)
}

async fn claims(call: Call, query: Query<PageQuery>) -> Reply {
    let (mut snap, mandate) = (write::view(&call).await?, call.caller.mandate());
    let studio = &call.state.studio;
    page(&call, &reminders::claims(studio, &mut snap, &mandate, &query.0, call.now).await?)
}

async fn claimed(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let (mut snap, mandate) = (write::view(&call).await?, call.caller.mandate());
    json(200, &reminders::claimed(&call.state.studio, &mut snap, &mandate, id, call.now).await?)
}

async fn extend(call: Call, body: Body<ClaimExtensionRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        reminders::extend(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}

async fn give_back(call: Call, body: Body<ClaimReturnRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        reminders::give_back(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}

async fn release(call: Call, body: Body<ReminderReleaseRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        reminders::release(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<ReminderQuery>) -> Reply {
    let (mut snap, mandate) = (write::view(&call).await?, call.caller.mandate());
    page(&call, &reminders::list(&call.state.studio, &mut snap, &mandate, &query.0).await?)
}

async fn claim(call: Call, body: Body<ReminderClaimRequest>) -> Reply {
    let turn = async || call.state.claims.turn().await;
    write::run_in_turn(&call, &body.bytes, turn, async |snap, moment, turn| {
        reminders::claim(&call.state.studio, snap, (moment, turn), &body.value).await
    })
    .await
}

async fn report(call: Call, body: Body<OutcomeRequest>) -> Reply {
    let id = call.path_id("id")?;
    write::run(&call, &body.bytes, async |snap, moment| {
        reminders::report(&call.state.studio, snap, moment, id, &body.value).await
    })
    .await
}
