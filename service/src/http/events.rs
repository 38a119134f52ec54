//! `/v1/events`: what happened, pulled or followed.

use actix_web::HttpResponse;
use actix_web::http::Method;
use actix_web::http::header::HeaderName;
use etui_schema::endpoints;
use etui_schema::events::{EventQuery, EventStreamQuery, Sequence};
use etui_schema::problem::{ErrorCode, Fault, FaultCode};

use super::answer::{Reply, json, record};
use super::call::Call;
use super::event_stream::{self, MEDIA};
use super::failure::Failure;
use super::handler::to;
use super::operation::Operation;
use super::query::Query;
use super::write;
use crate::studio::events;

const LAST_EVENT_ID: HeaderName = HeaderName::from_static("last-event-id");

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::list_events(), || to(list))
            .says(
                "Read events by their sequence",
                "For those who would rather pull. Send `next_after` as `after` to go on: whoever \
                 does so gets every event once, in order. Events are kept for 30 days. They hold \
                 references and nothing of a client's health. After a restore, 410 tells whoever has \
                 read beyond what was restored, and where to go on.",
            )
            .answers(200, "The next events.")
            .errors([
                ErrorCode::SequenceGone,
                ErrorCode::Unavailable,
            ]),
        Operation::of(endpoints::stream_events(), || to(stream))
            .says(
                "Follow events as they happen",
                "Server-sent events (WHATWG HTML, 9.2): `id` is the sequence, `event` the type, \
                 `data` the event. `Last-Event-ID` goes on behind that sequence. A comment every \
                 15 seconds keeps the connection open; the stream ends after an hour, when \
                 `for_seconds` have passed or when the service stops: ask again, as browsers do. The \
                 second comment names the oldest event that is kept: whoever comes back from before it \
                 has missed some.",
            )
            .answers(200, "The events.")
            .errors([
                ErrorCode::SequenceGone,
                ErrorCode::Unavailable,
            ]),
        Operation::of(endpoints::get_event(), || to(one))
            .says("Read an event", "404 once it is no longer kept.")
            .answers(200, "The event.")
            .if_none_match(),
    ]
}

async fn one(call: Call) -> Reply {
    let id = call.path_id("id")?;
    let mut snap = write::view(&call).await?;
    record(&call, &events::one(&mut snap, id).await?)
}

async fn list(call: Call, Query(query): Query<EventQuery>) -> Reply {
    let mut snap = write::view(&call).await?;
    json(200, &events::page(&mut snap, &query).await?)
}

async fn stream(call: Call, Query(query): Query<EventStreamQuery>) -> Reply {
    let after = last_seen(&call)?.or(query.after);
    if call.req.method() == Method::HEAD {
        return Ok(HttpResponse::Ok().content_type(MEDIA).finish());
    }
    event_stream::begin(&call, after, query.for_seconds).await
}

/// What the caller saw last, if it is coming back.
fn last_seen(call: &Call) -> Result<Option<Sequence>, Failure> {
    let Some(text) = call.header(&LAST_EVENT_ID) else { return Ok(None) };
    text.parse().map(Some).map_err(|why: etui_schema::events::NoSequence| {
        Failure::parameter(Fault::new(
            "header:Last-Event-ID",
            FaultCode::WrongFormat,
            why.to_string(),
        ))
    })
}
