//! Reading JSON bodies: every fault at once, each with its place.
//!
//! The fast path is serde and garde. Only when one of them refuses, or the
//! bytes may hold what serde is too kind to ([`Shape::suspects`]), the body is
//! held against the JSON Schema of its type, which reports everything that is
//! wrong and not just the first thing; what the schema cannot say (rules
//! across fields) is added from garde.

use std::pin::Pin;
use std::time::Duration;

use actix_web::http::Method;
use actix_web::http::header::{self, HeaderName};
use actix_web::web::{Bytes, BytesMut};
use actix_web::{FromRequest, HttpRequest, dev, web};
use etui_schema::describe::JsonSchema;
use etui_schema::places::{self, plain};
use etui_schema::problem::{ErrorCode, Fault, FaultCode};
use garde::Validate;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::call::operation_of;
use super::compute;
use super::failure::Failure;
use super::faults::{self, MOST_FAULTS};
use super::operation::BODY_LIMIT;
use super::state::State;
use super::validator::Shape;
use crate::studio::idempotency;

/// What a PATCH reads (RFC 5789, 2.2).
const ACCEPT_PATCH: HeaderName = HeaderName::from_static("accept-patch");
/// How long a whole body may take to arrive.
const BODY_PATIENCE: Duration = Duration::from_secs(10);
/// A body of more bytes is not read on a thread that answers.
const LONG: usize = 64 * 1024;
/// What is said where the reader's own words repeat the value.
const NOT_ACCEPTED: &str = "this value is not accepted; the schema of the operation says which are";

/// A body that was read and holds to the limits of its type.
pub(crate) struct Body<T> {
    pub(crate) value: T,
    pub(crate) bytes: Bytes,
}

impl<T: Told> FromRequest for Body<T> {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(req: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let bytes = whole(req, payload, "application/json");
        let state = req.app_data::<web::Data<State>>().cloned();
        Box::pin(async move {
            let bytes = bytes.await?;
            let state = state.ok_or_else(compute::internal)?;
            let sent = bytes.clone();
            let value =
                compute::read(&state.computing, LONG < bytes.len(), move || parse::<T>(&sent));
            Ok(Self { value: value.await?, bytes })
        })
    }
}

/// The bytes of a body of this media type.
pub(super) fn whole(
    req: &HttpRequest,
    payload: &mut dev::Payload,
    media: &'static str,
) -> impl Future<Output = Result<Bytes, Failure>> + use<> {
    let limit = operation_of(req).map_or(BODY_LIMIT, |operation| operation.body_limit);
    let head = check_head(req, limit, media);
    let payload = payload.take();
    async move {
        head?;
        collect(payload, limit).await
    }
}

/// What is read or answered over HTTP.
pub(crate) trait Told:
    DeserializeOwned + JsonSchema + Validate<Context = ()> + Send + 'static
{
}
impl<T: DeserializeOwned + JsonSchema + Validate<Context = ()> + Send + 'static> Told for T {}

fn check_head(req: &HttpRequest, limit: usize, wanted: &'static str) -> Result<(), Failure> {
    let media = req.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
    let essence = media.split(';').next().unwrap_or("").trim();
    if !essence.eq_ignore_ascii_case(wanted) {
        let found = if media.is_empty() { "no media type" } else { essence };
        let why = format!("the body came with {found}; {wanted} is read");
        let refused =
            Failure::new(ErrorCode::UnsupportedMediaType, why).with_header(header::ACCEPT, wanted);
        let patches = req.method() == Method::PATCH;
        return Err(if patches { refused.with_header(ACCEPT_PATCH, wanted) } else { refused });
    }
    if let Some(encoding) = req.headers().get(header::CONTENT_ENCODING)
        && encoding != "identity"
    {
        return Err(Failure::new(
            ErrorCode::UnsupportedMediaType,
            "compressed bodies are not read",
        )
        .with_header(header::ACCEPT_ENCODING, "identity"));
    }
    let announced = req
        .headers()
        .get(header::CONTENT_LENGTH)
        .and_then(|v| v.to_str().ok())
        .and_then(|v| v.parse::<usize>().ok());
    if announced.is_some_and(|length| limit < length) {
        return Err(too_large(limit));
    }
    Ok(())
}

fn too_large(limit: usize) -> Failure {
    Failure::new(
        ErrorCode::BodyTooLarge,
        format!("this operation takes bodies of up to {limit} bytes"),
    )
}

async fn collect(mut payload: dev::Payload, limit: usize) -> Result<Bytes, Failure> {
    let read = async {
        let mut all = BytesMut::new();
        loop {
            let chunk = std::future::poll_fn(|cx| next_chunk(&mut payload, cx)).await;
            match chunk {
                None => return Ok(all.freeze()),
                Some(Err(_)) => {
                    return Err(Failure::new(
                        ErrorCode::UnreadableBody,
                        "the body ended before it was complete",
                    ));
                }
                Some(Ok(chunk)) if limit < all.len() + chunk.len() => return Err(too_large(limit)),
                Some(Ok(chunk)) => all.extend_from_slice(&chunk),
            }
        }
    };
    match tokio::time::timeout(BODY_PATIENCE, read).await {
        Ok(result) => result,
        Err(_) => Err(Failure::new(
            ErrorCode::Timeout,
            format!("the body did not arrive within {} s", BODY_PATIENCE.as_secs()),
        )),
    }
}

fn next_chunk(
    payload: &mut dev::Payload,
    cx: &mut std::task::Context<'_>,
) -> std::task::Poll<Option<Result<Bytes, actix_web::error::PayloadError>>> {
    use futures_core::Stream;
    Pin::new(payload).poll_next(cx)
}

/// Reads a body of type `T` and reports everything that is wrong with it.
pub(crate) fn parse<T>(bytes: &[u8]) -> Result<T, Failure>
where
    T: DeserializeOwned + Validate<Context = ()>,
{
    let shape = Shape::of_body::<T>()?;
    let read = serde_json::from_slice::<T>(bytes);
    // Where the type names the members, serde has refused one that stands twice.
    let is_looked_at = read.is_err() || shape.is_open;
    let twice = if is_looked_at { faults::doubled(bytes) } else { Vec::new() };
    match read {
        Ok(value) => match value.validate() {
            Ok(()) if twice.is_empty() => unsuspected(value, &shape, bytes),
            Ok(()) => Err(Failure::refused(with_faults(schema_faults(&shape, bytes), twice))),
            Err(report) => {
                let found = with_faults(schema_faults(&shape, bytes), twice);
                Err(Failure::refused(with_rules(found, &report)))
            }
        },
        Err(error) => {
            // A refused value may stand before what makes the text no JSON at
            // all, and serde calls `null` for a word unreadable.
            if let Err(error) = serde_json::from_slice::<Value>(bytes) {
                return Err(unreadable(&error));
            }
            let mut found = with_faults(schema_faults(&shape, bytes), twice);
            if found.is_empty() {
                if let Some(value) = with_whole_numbers(bytes) {
                    return Ok(value);
                }
                found.push(first_fault(bytes, &error));
            }
            Err(Failure::refused(found))
        }
    }
}

/// A count that is written as `20.0` is one to JSON Schema, and none to serde.
fn with_whole_numbers<T>(bytes: &[u8]) -> Option<T>
where
    T: DeserializeOwned + Validate<Context = ()>,
{
    let value = idempotency::plain(serde_json::from_slice(bytes).ok()?);
    let read: T = places::read(&value).ok()?;
    read.validate().is_ok().then_some(read)
}

pub(super) fn unreadable(error: &serde_json::Error) -> Failure {
    Failure::new(
        ErrorCode::UnreadableBody,
        format!("{} at line {}, column {}", plain(error), error.line(), error.column()),
    )
}

/// serde takes `null` for absence and a list for an object without names;
/// no operation means that, and neither does its schema.
fn unsuspected<T>(value: T, shape: &Shape, bytes: &[u8]) -> Result<T, Failure> {
    if shape.suspects(bytes) {
        let found = schema_faults(shape, bytes);
        if !found.is_empty() {
            return Err(Failure::refused(found));
        }
    }
    Ok(value)
}

/// What the JSON Schema of the type finds wrong.
fn schema_faults(shape: &Shape, bytes: &[u8]) -> Vec<Fault> {
    let Ok(value) = serde_json::from_slice::<Value>(bytes) else { return Vec::new() };
    shape.faults(&value)
}

/// serde's first fault, with its place, when the schema has no objection.
fn first_fault(bytes: &[u8], error: &serde_json::Error) -> Fault {
    let place = places::of(bytes, error);
    let sent = serde_json::from_slice::<Value>(bytes).ok();
    let sent = sent.as_ref().and_then(|body| body.pointer(&place));
    let message = unsaid(plain(error), sent);
    Fault::new(faults::shown_place(&place), FaultCode::WrongFormat, message)
}

/// A message that does not repeat the value it is about.
fn unsaid(message: String, sent: Option<&Value>) -> String {
    let said = match sent {
        Some(Value::String(text)) => text.clone(),
        Some(Value::Number(number)) => number.to_string(),
        Some(Value::Null | Value::Bool(_) | Value::Array(_) | Value::Object(_)) | None => {
            return message;
        }
    };
    if said.is_empty() || !message.contains(&said) { message } else { NOT_ACCEPTED.to_owned() }
}

/// Adds faults at places that were not named yet.
fn with_faults(mut found: Vec<Fault>, more: Vec<Fault>) -> Vec<Fault> {
    for fault in more {
        if !found.iter().any(|known| known.pointer == fault.pointer) && found.len() < MOST_FAULTS {
            found.push(fault);
        }
    }
    found
}

/// Adds what garde found at places that the schema did not name.
fn with_rules(found: Vec<Fault>, report: &garde::Report) -> Vec<Fault> {
    let rule = |(path, error): &(garde::Path, garde::Error)| {
        let pointer = faults::pointer_from_path(&path.to_string());
        Fault::new(pointer, FaultCode::NotAllowed, error.to_string())
    };
    with_faults(found, report.iter().map(rule).collect())
}
