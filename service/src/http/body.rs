//! Reading JSON bodies: every fault at once, each with its place.
//!
//! The fast path is serde and garde. Only when one of them refuses, the body
//! is held against the JSON Schema of its type, which reports everything that
//! is wrong and not just the first thing; what the schema cannot say (rules
//! across fields) is added from garde.

use std::any::TypeId;
use std::collections::HashMap;
use std::pin::Pin;
use std::sync::{Arc, LazyLock, RwLock};
use std::time::Duration;

use actix_web::http::header;
use actix_web::web::{Bytes, BytesMut};
use actix_web::{FromRequest, HttpRequest, dev};
use etui_schema::problem::{ErrorCode, Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Instant, Zone};
use garde::Validate;
use jsonschema::Validator;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::de::DeserializeOwned;
use serde_json::Value;

use super::call::operation_of;
use super::failure::Failure;
use super::faults;
use super::operation::BODY_LIMIT;

/// How long a whole body may take to arrive.
const BODY_PATIENCE: Duration = Duration::from_secs(10);
/// How many faults one answer names; the rest would not be read.
const MOST_FAULTS: usize = 100;

/// A body that was read and holds to the limits of its type.
pub(crate) struct Body<T> {
    pub(crate) value: T,
    pub(crate) bytes: Bytes,
}

impl<T> FromRequest for Body<T>
where
    T: DeserializeOwned + JsonSchema + Validate<Context = ()> + 'static,
{
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(req: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let limit = operation_of(req).map_or(BODY_LIMIT, |operation| operation.body_limit);
        let head = check_head(req, limit);
        let payload = payload.take();
        Box::pin(async move {
            head?;
            let bytes = collect(payload, limit).await?;
            let value = parse::<T>(&bytes)?;
            Ok(Self { value, bytes })
        })
    }
}

fn check_head(req: &HttpRequest, limit: usize) -> Result<(), Failure> {
    let media = req.headers().get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
    let essence = media.split(';').next().unwrap_or("").trim();
    if !essence.eq_ignore_ascii_case("application/json") {
        let found = if media.is_empty() { "no media type" } else { essence };
        return Err(Failure::new(
            ErrorCode::UnsupportedMediaType,
            format!("the body came with {found}; application/json is read"),
        )
        .with_header(header::ACCEPT, "application/json"));
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
    T: DeserializeOwned + JsonSchema + Validate<Context = ()> + 'static,
{
    let read = serde_json::from_slice::<T>(bytes);
    match read {
        // serde reads a list as an object without names; no operation means that.
        Ok(_) if !is_object(bytes) => Err(Failure::refused(schema_faults::<T>(bytes))),
        Ok(value) => match value.validate() {
            Ok(()) => Ok(value),
            Err(report) => Err(Failure::refused(with_rules(schema_faults::<T>(bytes), &report))),
        },
        Err(error) if error.is_data() => {
            // A refused value may stand before what makes the text no JSON at all.
            if let Err(error) = serde_json::from_slice::<Value>(bytes) {
                return Err(unreadable(&error));
            }
            let mut found = schema_faults::<T>(bytes);
            if found.is_empty() {
                found.push(first_fault::<T>(bytes, &error));
            }
            Err(Failure::refused(found))
        }
        Err(error) => Err(unreadable(&error)),
    }
}

fn unreadable(error: &serde_json::Error) -> Failure {
    Failure::new(
        ErrorCode::UnreadableBody,
        format!("{} at line {}, column {}", plain(error), error.line(), error.column()),
    )
}

fn is_object(bytes: &[u8]) -> bool {
    bytes.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'{')
}

/// serde's words without the place, which is said apart.
fn plain(error: &serde_json::Error) -> String {
    let text = error.to_string();
    text.split(" at line ").next().unwrap_or("unreadable").to_owned()
}

/// What the JSON Schema of the type finds wrong.
fn schema_faults<T: JsonSchema + 'static>(bytes: &[u8]) -> Vec<Fault> {
    let Ok(value) = serde_json::from_slice::<Value>(bytes) else { return Vec::new() };
    let Some(validator) = validator_of::<T>() else { return Vec::new() };
    let mut found = Vec::new();
    for error in validator.iter_errors(&value) {
        faults::explain(&error, &mut found);
        if MOST_FAULTS <= found.len() {
            break;
        }
    }
    // One finding can stand for many faults: every unknown member of an object.
    found.truncate(MOST_FAULTS);
    found
}

/// serde's first fault, with its path, when the schema has no objection
/// (a member that stands twice, a date that does not exist).
fn first_fault<T: DeserializeOwned>(bytes: &[u8], error: &serde_json::Error) -> Fault {
    let mut reader = serde_json::Deserializer::from_slice(bytes);
    let Err(located) = serde_path_to_error::deserialize::<_, T>(&mut reader) else {
        return Fault::new("#", FaultCode::WrongFormat, plain(error));
    };
    let message = plain(located.inner());
    let code = if message.starts_with("duplicate field") {
        FaultCode::Duplicate
    } else {
        FaultCode::WrongFormat
    };
    Fault::new(faults::pointer_from_path(&located.path().to_string()), code, message)
}

/// Adds what garde found at places that the schema did not name.
fn with_rules(mut found: Vec<Fault>, report: &garde::Report) -> Vec<Fault> {
    for (path, error) in report.iter() {
        let pointer = faults::pointer_from_path(&path.to_string());
        if !found.iter().any(|fault| fault.pointer == pointer) && found.len() < MOST_FAULTS {
            found.push(Fault::new(pointer, FaultCode::NotAllowed, error.to_string()));
        }
    }
    found
}

static VALIDATORS: LazyLock<RwLock<HashMap<TypeId, Arc<Validator>>>> =
    LazyLock::new(RwLock::default);

/// The validator of a type, compiled at its first bad body.
fn validator_of<T: JsonSchema + 'static>() -> Option<Arc<Validator>> {
    let id = TypeId::of::<T>();
    if let Some(known) = VALIDATORS.read().ok()?.get(&id) {
        return Some(known.clone());
    }
    let schema = SchemaSettings::draft2020_12().into_generator().into_root_schema_for::<T>();
    let made = jsonschema::options()
        .should_validate_formats(true)
        .with_format("iana-time-zone", |text: &str| text.parse::<Zone>().is_ok())
        .with_format("date", |text: &str| text.parse::<CivilDate>().is_ok())
        .with_format("date-time", |text: &str| text.parse::<Instant>().is_ok())
        .build(schema.as_value())
        .ok()?;
    let made = Arc::new(made);
    VALIDATORS.write().ok()?.insert(id, made.clone());
    Some(made)
}
