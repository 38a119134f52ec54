//! Running a planned write: idempotency, commit, retry, answer.
//!
//! A plan is made from a snapshot and committed under its preconditions. If
//! one of them no longer holds, somebody was faster: read again, plan again, and
//! from now on in turn with the others who met at that key ([`Turns`]).

use std::borrow::Cow;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::pin::Pin;
use std::time::{Duration, Instant};

use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName};
use actix_web::{HttpRequest, HttpResponse};
use etui_craft::refusal::Refusal;
use etui_schema::problem::{ErrorCode, Fault, FaultCode};
use tokio::sync::{Mutex, MutexGuard};

use super::answer::Reply;
use super::call::{Call, operation_of};
use super::failure::Failure;
use super::sight;
use crate::store::{Bytes, Space, Store, StoreError};
use crate::studio::engine::{Engine, Snap};
use crate::studio::error::Error;
use crate::studio::idempotency::{Attempt, Earlier, Repeated, earlier, remember};
use crate::studio::kinds;
use crate::studio::moment::Moment;
use crate::studio::plan::{Planned, Precondition, Repeat, tag_of};

const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");
/// Plans are made anew for so long before the caller is told to try again.
const PATIENCE: Duration = Duration::from_secs(20);
/// Queues that writers wait in; two keys that share one wait a little longer.
const QUEUES: usize = 64;

/// Who may plan again: of those who met on one key, one after the other, in the
/// order in which they came. Whoever meets nobody waits for nobody.
pub(crate) struct Turns(Vec<Mutex<()>>);

impl Default for Turns {
    fn default() -> Self {
        Self((0..QUEUES).map(|_| Mutex::new(())).collect())
    }
}

impl Turns {
    /// Waits for a turn at a key; it ends when what is given back is dropped.
    async fn wait(&self, space: Space, key: &[u8]) -> MutexGuard<'_, ()> {
        let mut hash = DefaultHasher::new();
        (space, key).hash(&mut hash);
        let at = usize::try_from(hash.finish() % QUEUES as u64).unwrap_or(0);
        self.0[at].lock().await
    }
}

/// A plan, whatever it plans: what runs it is the same code for all.
trait Plans {
    fn plan<'a>(&'a self, snap: &'a mut Snap, moment: &'a Moment) -> Planning<'a>;
}

type Planning<'a> = Pin<Box<dyn Future<Output = Result<Planned, Error>> + 'a>>;

impl<F> Plans for F
where
    F: AsyncFn(&mut Snap, &Moment) -> Result<Planned, Error>,
{
    fn plan<'a>(&'a self, snap: &'a mut Snap, moment: &'a Moment) -> Planning<'a> {
        Box::pin(self(snap, moment))
    }
}

/// Runs a plan until it is committed or refused.
pub(crate) async fn run<F>(call: &Call, body: &[u8], plan: F) -> Reply
where
    F: AsyncFn(&mut Snap, &Moment) -> Result<Planned, Error>,
{
    run_any(call, body, &plan).await
}

async fn run_any(call: &Call, body: &[u8], plan: &dyn Plans) -> Reply {
    let plan =
        async |snap: &mut Snap, moment: &Moment, ()| Ok((plan.plan(snap, moment).await?, ()));
    run_in_turn(call, body, async || (), plan).await
}

/// The same for plans that reach for the same rows: each waits for a turn before it reads, and what
/// it gives back beside the plan is kept until that is committed.
pub(crate) async fn run_in_turn<T, K, W, F>(call: &Call, body: &[u8], wait: W, plan: F) -> Reply
where
    W: AsyncFn() -> T,
    F: AsyncFn(&mut Snap, &Moment, T) -> Result<(Planned, K), Error>,
{
    let studio = &call.state.studio;
    let moment = call.moment();
    let attempt = attempt(call, &moment, body)?;
    let began = Instant::now();
    let mut turn = None;
    while began.elapsed() < PATIENCE {
        let own = wait().await;
        let mut snap = studio.engine.snapshot().await.map_err(Error::from)?;
        enter(call, &mut snap, body).await?;
        let held = match before(call, &moment, &mut snap, attempt.as_ref()).await? {
            Before::Answered(reply) => return Ok(reply),
            Before::Held(held) => held,
        };
        let (planned, _kept) = match plan(&mut snap, &moment, own).await {
            // The plan itself saw that somebody was faster.
            Err(Error::Store(StoreError::Conflict { .. })) => continue,
            planned => planned?,
        };
        drop(snap);
        let batch = match &attempt {
            Some(attempt) => remember(attempt, held, &planned, moment.now)?,
            None => planned.batch.clone(),
        };
        let keys: Vec<Bytes> = batch.expect.iter().map(|(_, key, _)| key.clone()).collect();
        match studio.engine.commit(batch).await {
            Ok(()) => return Ok(answer(&planned)),
            Err(StoreError::Conflict { index, space }) => {
                let key = keys.get(index).map_or(&[][..], Vec::as_slice);
                // The one turn is given back before the next is waited for: nobody waits in a ring.
                drop(turn.take());
                turn = Some(call.state.turns.wait(space, key).await);
            }
            Err(error) => return Err(Error::from(error).into()),
        }
    }
    let why = "others keep changing the same record; try again";
    Err(Failure::new(ErrorCode::Conflict, why).means(Refusal::Changed))
}

/// What was answered under the same key before, for a write with work that is not to be done
/// again, nor while a view is held.
pub(crate) async fn repeated(call: &Call, body: &[u8]) -> Result<Option<HttpResponse>, Failure> {
    let moment = call.moment();
    let Some(attempt) = attempt(call, &moment, body)? else { return Ok(None) };
    match before(call, &moment, &mut view(call).await?, Some(&attempt)).await? {
        Before::Answered(reply) => Ok(Some(reply)),
        Before::Held(_) => Ok(None),
    }
}

/// The attempt that a call with an `Idempotency-Key` is.
fn attempt(call: &Call, moment: &Moment, body: &[u8]) -> Result<Option<Attempt>, Failure> {
    let Some(key) = key_of(&call.req)? else { return Ok(None) };
    let place = format!("{} {}", call.req.method(), call.req.path());
    Ok(Some(Attempt::new(&call.state.studio, &who(moment), &place, &key, body)))
}

/// What a key led to before.
enum Before {
    Answered(HttpResponse),
    /// Nothing, or a row whose time has run out.
    Held(Option<Bytes>),
}

async fn before(
    call: &Call,
    moment: &Moment,
    snap: &mut Snap,
    attempt: Option<&Attempt>,
) -> Result<Before, Failure> {
    let Some(attempt) = attempt else { return Ok(Before::Held(None)) };
    let run_out = call.state.studio.clock.cautious(moment.now, moment.sources.as_ref());
    match earlier(snap, attempt, run_out).await? {
        Earlier::None(held) => Ok(Before::Held(held)),
        Earlier::Answered(repeated) => {
            Ok(Before::Answered(again((call, moment), snap, repeated).await?))
        }
        Earlier::Other => Err(Failure::new(
            ErrorCode::IdempotencyKeyReused,
            "this Idempotency-Key was sent with another body before",
        )),
    }
}

/// Runs a plan, or, in a dry run, answers what it would and does nothing.
pub(crate) async fn run_or_tell<F>(call: &Call, dry_run: bool, body: &[u8], plan: F) -> Reply
where
    F: AsyncFn(&mut Snap, &Moment) -> Result<Planned, Error>,
{
    if !dry_run {
        return run(call, body, plan).await;
    }
    let planned = plan(&mut view_for(call, body).await?, &call.moment()).await?;
    super::answer::bytes(200, planned.answer)
}

/// Whose attempt it is: what somebody did in the name of one artist is no answer to
/// what is asked in the name of another, or of nobody. To whom a token is limited is no part of
/// it: narrowed between two tries, it would do a second time what it did. What it does not reach
/// now is refused before ([`enter`]), or left out of the repeat.
fn who(moment: &Moment) -> Cow<'_, str> {
    match &moment.mandate.acts_for {
        Some(artist) => Cow::Owned(format!("{} for {artist}", moment.holder)),
        None => Cow::Borrowed(&moment.holder),
    }
}

/// The key of an `Idempotency-Key` header: a quoted string of structured
/// fields (draft-ietf-httpapi-idempotency-key-header, 2.1); a bare one is
/// taken too.
pub(super) fn key_of(req: &HttpRequest) -> Result<Option<String>, Failure> {
    if !operation_of(req).is_some_and(|operation| operation.takes_idempotency_key) {
        return Ok(None);
    }
    let mut values = req.headers().get_all(&IDEMPOTENCY_KEY);
    let Some(value) = values.next() else { return Ok(None) };
    if values.next().is_some() {
        let why = "it stands here twice: which of them a repeat would carry is not clear";
        let fault = Fault::new("header:Idempotency-Key", FaultCode::Duplicate, why);
        return Err(Failure::parameter(fault));
    }
    let text = value.to_str().unwrap_or("");
    let key = text.strip_prefix('"').and_then(|t| t.strip_suffix('"')).unwrap_or(text);
    if (1..=255).contains(&key.len()) && key.bytes().all(|b| (0x21..0x7f).contains(&b) && b != b'"')
    {
        return Ok(Some(key.to_owned()));
    }
    Err(Failure::parameter(Fault::new(
        "header:Idempotency-Key",
        FaultCode::WrongFormat,
        "1 to 255 visible ASCII characters, best in quotes, such as \"0198c6a2-7d5e-7000-8000-000000000001\"",
    )))
}

fn answer(planned: &Planned) -> HttpResponse {
    let shown = match &planned.repeat {
        Repeat::Answer | Repeat::Record(..) | Repeat::Copy(..) => &planned.answer,
        Repeat::Instead(shown) => shown,
    };
    let tag = tag_of(shown);
    respond(planned.created, planned.location.as_deref(), tag, planned.answer.clone())
}

fn respond(created: bool, location: Option<&str>, tag: String, body: Vec<u8>) -> HttpResponse {
    let status = if created { StatusCode::CREATED } else { StatusCode::OK };
    let mut answer = HttpResponse::build(status);
    answer.insert_header((header::ETAG, tag));
    if let Some(location) = location {
        answer.insert_header((header::LOCATION, location));
    }
    answer.content_type("application/json").body(body)
}

async fn again((call, moment): (&Call, &Moment), snap: &mut Snap, repeated: Repeated) -> Reply {
    let Repeated { created, location, how } = repeated;
    let body = kinds::repeat(&call.state.studio, snap, &moment.mandate, how).await?;
    call.speaks_as(&body);
    let mut answer = respond(created, location.as_deref(), tag_of(&body), body);
    answer.headers_mut().insert(
        HeaderName::from_static("idempotent-replayed"),
        header::HeaderValue::from_static("true"),
    );
    Ok(answer)
}

/// Does something in several steps that must not stop between two of them when the caller goes away.
pub(crate) async fn to_its_end<T: 'static>(
    work: impl Future<Output = Result<T, Error>> + 'static,
) -> Result<T, Failure> {
    let done = actix_web::rt::spawn(work).await;
    let stopped = |_| Error::Internal("the work was stopped".to_owned());
    Ok(done.map_err(stopped)??)
}

/// What the caller knows of the record it wants to change.
pub(crate) fn precondition(call: &Call) -> Precondition {
    // Several lines of a list are one list (RFC 9110, 5.2).
    let lines = call.req.headers().get_all(&header::IF_MATCH).filter_map(|line| line.to_str().ok());
    let listed = lines.collect::<Vec<_>>().join(", ");
    Precondition {
        if_match: call.req.headers().contains_key(&header::IF_MATCH).then_some(listed),
        only_new: call.header(&header::IF_NONE_MATCH).is_some_and(|v| v.trim() == "*"),
    }
}

/// Refuses what the token does not reach, before a use case begins.
async fn enter(call: &Call, snap: &mut Snap, body: &[u8]) -> Result<(), Error> {
    let asked = (&call.req, operation_of(&call.req));
    sight::enter(asked, &call.caller.mandate(), (&call.state.studio, snap), body).await
}

/// Opens a consistent view for a read of what the token reaches.
pub(crate) async fn view(call: &Call) -> Result<Snap, Failure> {
    view_for(call, &[]).await
}

/// The same for what a body asks.
async fn view_for(call: &Call, body: &[u8]) -> Result<Snap, Failure> {
    let engine: &Engine = &call.state.studio.engine;
    let mut snap = engine.snapshot().await.map_err(Error::from)?;
    enter(call, &mut snap, body).await?;
    Ok(snap)
}
