//! `/v1/calendars`.

use std::time::Duration;

use etui_schema::calendars::CalendarRequest;
use etui_schema::endpoints;
use etui_schema::page::PageQuery;
use serde_json::json;
use tokio::time::sleep;

use super::answer::{self, Reply, tagged};
use super::body::Body;
use super::call::Call;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::{Error, calendars};

/// What each wrong secret costs whoever guesses.
const GUESS: Duration = Duration::from_millis(20);

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_calendar(), || to(feed))
            .says(
                "A calendar to subscribe to",
                "The aftercare of a studio, an artist or a client as iCalendar. The path is the \
                 secret; no token is sent. 404 once the calendar is closed.",
            )
            .place(
                "token",
                "The secret of the calendar, as in the `path` that was given when it was opened.",
                json!({
                    "type": "string",
                    "minLength": 1,
                    "maxLength": 64,
                    "pattern": "^[A-Za-z0-9_-]+$",
                    "examples": ["7wv4cX1mB0o2dS8fKq3Lr9aTz5hYn6uEjPgIiVxWk0M"],
                }),
            )
            .answers(200, "The calendar.")
            .if_none_match()
            .finds(),
        Operation::of(endpoints::open_calendar(), || to(open))
            .tells_secret()
            .says(
                "Open a calendar",
                "Of the studio, an artist or a client. The answer, and its repeat under the same `Idempotency-Key`, \
                 holds the path to subscribe to; titles are neutral unless `detail` is true.",
            )
            .answers(201, "Opened; keep `path`, no list shows it.")
            .until_erased()
            .located(),
        Operation::of(endpoints::get_calendar_feed(), || to(get))
            .says("Read a calendar", "Whose it is and how it tells, without its path.")
            .answers(200, "The calendar.")
            .if_none_match(),
        Operation::of(endpoints::list_calendars(), || to(list))
            .says("List the open calendars", "Without their paths.")
            .answers(200, "One page of calendars."),
        Operation::of(endpoints::close_calendar(), || to(close))
            .says("Close a calendar", "Its path leads nowhere from now on.")
            .answers(200, "Closed.")
            .if_match_sent(),
    ]
}

async fn feed(call: Call) -> Reply {
    let secret = call.req.match_info().query("token").to_owned();
    let mut snap = write::view(&call).await?;
    let found = calendars::feed(&call.state.studio, &mut snap, call.now, &secret).await;
    drop(snap);
    if let Err(Error::NotFound { .. }) = &found {
        // One wrong secret after the other: guessing gets nowhere, and whoever knows one never waits.
        let _turn = call.state.guesses.lock().await;
        sleep(GUESS).await;
    }
    let text = found?;
    tagged(&call, "text/calendar; charset=utf-8", text.into_bytes())
}

async fn open(call: Call, body: Body<CalendarRequest>) -> Reply {
    write::run(&call, &body.bytes, async |snap, moment| {
        calendars::open(&call.state.studio, snap, moment, &body.value).await
    })
    .await
}

async fn list(call: Call, query: Query<PageQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    answer::page(&call, &calendars::list(&call.state.studio, &mut snap, &query.0).await?)
}

async fn get(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    answer::record(&call, &calendars::get(&mut snap, id).await?)
}

async fn close(call: Call) -> Reply {
    let (id, known) = (call.path_id("id")?, write::precondition(&call));
    write::run(&call, &[], async |snap, moment| calendars::close(snap, moment, id, &known).await)
        .await
}
