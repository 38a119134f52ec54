//! Reading events by number.

use etui_schema::events::{Event, EventPage, EventQuery, Sequence};
use etui_schema::problem::FaultCode;
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::restored::check_number;
use crate::events::log;

/// Events a page if the caller names no number.
const USUAL_LIMIT: u16 = 100;
/// Most events a page.
const MOST_EVENTS: u16 = 500;

/// Events that are looked at with one question, where a type leaves some out.
const STRIDE: usize = 100;
/// Most events that one page looks at: where few are of a type, it ends early and leads on.
const MOST_LOOKED_AT: usize = 5000;

/// One page of events.
///
/// # Errors
/// [`Error::Refused`] for a limit that is none; [`Error::Gone`] for a number that is not of this
/// store; what the store met.
pub async fn page(snap: &mut Snap, query: &EventQuery) -> Result<EventPage, Error> {
    let EventQuery { kind, after, limit } = query;
    let limit = match limit.unwrap_or(USUAL_LIMIT) {
        limit @ 1..=MOST_EVENTS => usize::from(limit),
        other => {
            let why = format!("{other} is not between 1 and {MOST_EVENTS}");
            return Err(Error::at("query:limit", FaultCode::OutOfRange, why));
        }
    };
    let after = after.unwrap_or_default();
    check_number(snap, after.0).await?;
    let wanted = |event: &Event| kind.is_empty() || kind.iter().any(|one| event.kind == *one);
    let (mut items, mut next_after, mut looked_at) = (Vec::new(), after, 0);
    while items.len() < limit && looked_at < MOST_LOOKED_AT {
        let told = log::told(snap, next_after.0, limit.max(STRIDE)).await?;
        looked_at += told.len();
        let before = next_after;
        for event in told {
            if items.len() == limit {
                break;
            }
            next_after = event.sequence;
            items.extend(Some(event).filter(wanted));
        }
        if next_after == before {
            break;
        }
    }
    let is_cut = items.len() == limit || MOST_LOOKED_AT <= looked_at;
    Ok(EventPage {
        more: is_cut && next_after.0 < log::head(snap).await?,
        items,
        next_after,
        oldest: log::oldest(snap).await?.map(Sequence),
    })
}

/// One event.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this id, or if it is not kept any more.
pub async fn one(snap: &mut Snap, id: Uuid) -> Result<Event, Error> {
    let absent = || Error::NotFound { what: "event", id: id.to_string() };
    let (number, event) = log::find(snap, id).await?.ok_or_else(absent)?;
    Ok(event.told(number))
}
