//! Server-sent events: one task a follower, beside the answers of others.
//!
//! The task reads from the store what is behind the last sequence, hands it on
//! and waits for more. It holds at most a few chunks that the follower has not
//! taken yet; after that it waits too, so a slow follower costs nobody anything.
//! It ends when the follower goes, when the token that it came with opens nothing
//! any more (nothing that happens after a revocation is told), when the time is
//! up or the service stops.

use std::pin::Pin;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::task::{Context, Poll};
use std::time::Duration;

use actix_web::web::{self, Bytes};
use actix_web::{HttpResponse, rt};
use etui_schema::events::{Event, Sequence};
use etui_schema::problem::{ErrorCode, FaultCode};
use futures_core::Stream;
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep, sleep_until};

use super::answer::Reply;
use super::call::Call;
use super::failure::Failure;
use super::state::State;
use super::tokens::Caller;
use crate::events::log;
use crate::store::{Serve, Store};
use crate::studio::Studio;
use crate::studio::error::Error;
use crate::studio::restored::check_number;

/// The media type.
pub(crate) const MEDIA: &str = "text/event-stream";
/// Longest stream in seconds (common practice, no source): a follower that comes
/// back now and then is one that can.
const LONGEST_S: u16 = 3600;
/// Pause between comments that keep the connection open (WHATWG HTML, 9.2.7: every 15 s or so).
const HEARTBEAT: Duration = Duration::from_secs(15);
/// Events read at a time.
const STRIDE: usize = 100;
/// Chunks that a follower may be behind.
const BEHIND: usize = 4;
/// Most followers at the same time.
const MOST_FOLLOWERS: usize = 64;

/// How many follow, and whether the service is stopping.
pub(crate) struct Followers {
    count: Arc<AtomicUsize>,
    stopping: watch::Receiver<bool>,
}

impl Followers {
    pub(crate) fn new(stopping: watch::Receiver<bool>) -> Self {
        Self { count: Arc::default(), stopping }
    }

    fn admit(&self) -> Result<Place, Failure> {
        let place = Place(Arc::clone(&self.count));
        if MOST_FOLLOWERS <= self.count.fetch_add(1, Ordering::Relaxed) {
            let why = format!("{MOST_FOLLOWERS} streams are open; pull from /v1/events instead");
            return Err(Failure::new(ErrorCode::Unavailable, why));
        }
        Ok(place)
    }
}

/// A follower's place, given back when it is dropped.
struct Place(Arc<AtomicUsize>);

impl Drop for Place {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::Relaxed);
    }
}

/// Begins a stream behind `after`, or behind the newest event.
pub(crate) async fn begin(call: &Call, after: Option<Sequence>, for_seconds: Option<u16>) -> Reply {
    let seconds = for_seconds.unwrap_or(LONGEST_S);
    if LONGEST_S < seconds {
        let why = format!("{seconds} is not between 0 and {LONGEST_S}");
        return Err(Error::at("query:for_seconds", FaultCode::OutOfRange, why).into());
    }
    let followers = &call.state.followers;
    let place = followers.admit()?;
    let studio = Arc::clone(&call.state.studio);
    let mut snap = super::write::view(call).await?;
    let last = match after {
        Some(Sequence(number)) => {
            check_number(&mut snap, number).await?;
            number
        }
        None => log::head(&mut snap).await.map_err(Error::from)?,
    };
    let oldest = log::oldest(&mut snap).await.map_err(Error::from)?;
    drop(snap);
    let (chunks, taken) = mpsc::channel(BEHIND);
    let follower = Follower {
        state: call.state.shared(),
        caller: call.caller.clone(),
        studio,
        chunks,
        last,
        oldest: Sequence(oldest.unwrap_or(last)),
        until: Instant::now() + Duration::from_secs(seconds.into()),
        stopping: followers.stopping.clone(),
        _place: place,
    };
    rt::spawn(follower.run());
    Ok(HttpResponse::Ok().content_type(MEDIA).streaming(Taken(taken)))
}

struct Follower {
    state: web::Data<State>,
    caller: Caller,
    studio: Arc<Studio>,
    chunks: mpsc::Sender<Bytes>,
    last: u64,
    /// The oldest that is kept, for those who come back from farther behind.
    oldest: Sequence,
    until: Instant,
    stopping: watch::Receiver<bool>,
    _place: Place,
}

impl Follower {
    async fn run(mut self) {
        let mut grown = self.studio.engine.grown();
        // At once, so that the follower sees that it is connected.
        let hello = format!(": etui\n\n: oldest {}\n\n", self.oldest);
        if self.hand_on(hello.into()).await.is_none() {
            return;
        }
        loop {
            grown.borrow_and_update();
            if self.catch_up().await.is_none() {
                return;
            }
            let is_quiet = tokio::select! {
                () = self.chunks.closed() => return,
                _ = self.stopping.wait_for(|stopping| *stopping) => return,
                () = sleep_until(self.until) => return,
                changed = grown.changed() => match changed {
                    Ok(()) => false,
                    Err(_) => return, // the store is gone
                },
                () = sleep(HEARTBEAT) => true,
            };
            if is_quiet && self.hand_on(Bytes::from_static(b": \n\n")).await.is_none() {
                return;
            }
        }
    }

    /// Hands on what there is; `None` if the stream has come to its end.
    async fn catch_up(&mut self) -> Option<()> {
        loop {
            let mut snap = self.studio.engine.snapshot().await.ok()?;
            let events = log::told(&mut snap, self.last, STRIDE).await.ok()?;
            drop(snap);
            // After the reading: what was read may be younger than a revocation.
            self.state.keep_up().await.ok()?;
            if !self.state.tokens.still_open(&self.caller, self.state.sources.now()) {
                return None;
            }
            let Some(newest) = events.last() else { return Some(()) };
            self.last = newest.sequence.0;
            let mut text = Vec::new();
            for event in &events {
                write_event(&mut text, event)?;
            }
            self.hand_on(Bytes::from(text)).await?;
        }
    }

    async fn hand_on(&mut self, chunk: Bytes) -> Option<()> {
        tokio::select! {
            sent = self.chunks.send(chunk) => sent.ok(),
            _ = self.stopping.wait_for(|stopping| *stopping) => None,
        }
    }
}

/// One event on the wire; JSON on one line, so `data` needs no splitting.
fn write_event(text: &mut Vec<u8>, event: &Event) -> Option<()> {
    text.extend_from_slice(
        format!("id: {}\nevent: {}\ndata: ", event.sequence, event.kind).as_bytes(),
    );
    serde_json::to_writer(&mut *text, event).ok()?;
    text.extend_from_slice(b"\n\n");
    Some(())
}

/// The chunks as the body of an answer.
struct Taken(mpsc::Receiver<Bytes>);

impl Stream for Taken {
    type Item = Result<Bytes, std::convert::Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        self.0.poll_recv(context).map(|chunk| chunk.map(Ok))
    }
}
