//! What stands around every request: host check, request id, security
//! headers, log line, figures, and the net that makes a problem body out of
//! every refusal, the framework's own included.

use std::sync::Arc;
use std::time::Instant;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpResponse, web};
use etui_schema::problem::{ErrorCode, Meaning, Problem};
use etui_schema::vocabulary::Language;
use uuid::Uuid;

use super::call::{AtPath, Behind, Chosen, Spoken, asked_for, operation_of};
use super::cors;
use super::encoding;
use super::failure::Failure;
use super::limits::Standing;
use super::preferences::{PREFERENCE_APPLIED, Preferred};
use super::short;
use super::state::State;
use super::tokens::Caller;
use crate::panics;

const PROBLEM: &str = "application/problem+json";
const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const TRACEPARENT: HeaderName = HeaderName::from_static("traceparent");

/// The outermost layer.
pub(crate) async fn frame(
    req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let started = Instant::now();
    let shared = req.app_data::<web::Data<State>>().cloned();
    let state: Option<&State> = shared.as_deref().map(|state| &**state);
    let id = request_id(&req, state);
    let trace = trace_id(req.headers());
    let refused = state.and_then(|state| host_refused(&req, state));
    let served = refused.is_none();
    let preflight = cors::preflight(&req);
    let response = match (refused, preflight) {
        // Not through `into_response`, which would lose the failure's words.
        (Some(failure), _) => req.error_response(failure),
        (None, Some(answer)) => req.into_response(answer),
        (None, None) => {
            present(&req, state).await;
            next.call(req).await?.map_into_boxed_body()
        }
    };
    let mut response = as_problem(response, &id);
    finish(response.headers_mut(), &id);
    let standing = response.request().extensions().get::<Standing>().cloned();
    if let Some(standing) = standing {
        standing.tell(response.headers_mut());
    }
    negotiated(&mut response);
    located(&mut response);
    let secret = operation_of(response.request()).is_some_and(|operation| operation.tells_secret);
    let mut response = encoding::packed(brief(short::cut(response).await), secret).await;
    if served && state.is_some_and(|state| state.hosts.lists_origins()) {
        let origin = response.request().headers().get(header::ORIGIN).cloned();
        cors::allow(response.headers_mut(), origin.as_ref());
    }
    report(&response, state, &id, trace.as_deref(), started);
    Ok(response)
}

/// Sees to it that whoever lets a token in knows what other processes have changed.
async fn present(req: &ServiceRequest, state: Option<&State>) {
    if let Some(state) = state.filter(|_| req.headers().contains_key(header::AUTHORIZATION))
        && let Err(error) = state.keep_up().await
    {
        req.extensions_mut().insert(Behind(error.into()));
    }
}

/// That a refusal says something to people, in the language asked for.
#[derive(Clone, Copy)]
struct Says(Language);

/// Says what the answer was chosen by (RFC 9110, 12.5.5), and the language of its texts
/// (8.5).
fn negotiated(response: &mut ServiceResponse<BoxBody>) {
    let (spoken, chosen, says) = {
        let held = response.request().extensions();
        let says = held.get::<Says>().copied();
        (held.get::<Spoken>().copied(), held.get::<Chosen>().is_some(), says)
    };
    // Refusals are in English, also before anybody has looked at the language, and what they say to
    // people is in the language asked for.
    let refused = response.status().is_client_error() || response.status().is_server_error();
    let speaks = operation_of(response.request()).is_some_and(|operation| operation.speaks);
    let language = match (spoken, says) {
        (_, Some(Says(language))) if language != Language::En => {
            Some(format!("{}, {language}", Language::En))
        }
        (Some(Spoken(language)), None) if !refused => Some(language.to_string()),
        (Some(_), _) | (None, Some(_)) => Some(Language::En.to_string()),
        (None, None) => (refused && speaks).then(|| Language::En.to_string()),
    };
    let chosen = chosen || response.status() == StatusCode::NOT_ACCEPTABLE;
    let headers = response.headers_mut();
    if let Some(language) = language.and_then(|told| HeaderValue::try_from(told).ok()) {
        headers.insert(header::CONTENT_LANGUAGE, language);
        headers.append(header::VARY, HeaderValue::from_static("accept-language"));
    }
    if chosen {
        headers.append(header::VARY, HeaderValue::from_static("accept"));
    }
}

/// What a PUT made is read where it was put.
fn located(response: &mut ServiceResponse<BoxBody>) {
    if response.status() != StatusCode::CREATED || response.request().method() != Method::PUT {
        return;
    }
    if let Ok(path) = HeaderValue::from_str(response.request().path()) {
        response.headers_mut().insert(header::LOCATION, path);
    }
}

/// Spares an answer that the caller can do without: what was made has its place and its
/// version told, what was changed is as it was sent.
fn brief(mut response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let preferred = response.request().extensions().get::<Preferred>().copied();
    let done = matches!(response.status(), StatusCode::OK | StatusCode::CREATED);
    let Some(preferred) = preferred.filter(|_| done && !is_dry(&response)) else {
        return response;
    };
    if let Some(told) = preferred.told() {
        response.headers_mut().insert(PREFERENCE_APPLIED, told);
    }
    if !preferred.brief {
        return response;
    }
    response.headers_mut().remove(header::CONTENT_TYPE);
    response.headers_mut().remove(header::CONTENT_LANGUAGE);
    // Also where something was made: a 201 has a body by the document, and readers of one expect it.
    *response.response_mut().status_mut() = StatusCode::NO_CONTENT;
    response.map_body(|_, _| BoxBody::new(()))
}

/// Whether nothing was done, so that the answer is all there is.
fn is_dry(response: &ServiceResponse<BoxBody>) -> bool {
    let query = response.request().query_string();
    form_urlencoded::parse(query.as_bytes())
        .any(|(name, value)| name == "dry_run" && value == "true")
}

/// Inside the resource, where the request is whole again: a handler that
/// panics is answered with 500, and its connection goes on.
pub(crate) async fn net(
    req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let held = req.request().clone();
    match panics::caught_in(next.call(req)).await {
        Some(done) => Ok(done?.map_into_boxed_body()),
        None => {
            let failure = Failure::new(ErrorCode::Internal, "internal error");
            Ok(ServiceResponse::from_err(failure, held))
        }
    }
}

/// The caller's id if it is a sane one, else one of ours.
fn request_id(req: &ServiceRequest, state: Option<&State>) -> Arc<str> {
    let sent = req.headers().get(REQUEST_ID).and_then(|v| v.to_str().ok());
    match sent {
        Some(id)
            if (1..=64).contains(&id.len())
                && id.bytes().all(|b| b.is_ascii_alphanumeric() || b"-_.:".contains(&b)) =>
        {
            id.into()
        }
        _ => match state.map(|state| state.sources.id()) {
            Some(Ok(id)) => (&*id.hyphenated().encode_lower(&mut Uuid::encode_buffer())).into(),
            _ => "unknown".into(),
        },
    }
}

/// The trace id of a valid `traceparent` (W3C Trace Context, 3.2).
fn trace_id(headers: &HeaderMap) -> Option<String> {
    let text = headers.get(TRACEPARENT)?.to_str().ok()?;
    let mut parts = text.split('-');
    let (version, trace, parent, flags) =
        (parts.next()?, parts.next()?, parts.next()?, parts.next()?);
    let hex = |s: &str, n| {
        s.len() == n && s.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b))
    };
    let valid = hex(version, 2)
        && version != "ff"
        && hex(trace, 32)
        && trace.bytes().any(|b| b != b'0')
        && hex(parent, 16)
        && parent.bytes().any(|b| b != b'0')
        && hex(flags, 2);
    valid.then(|| trace.to_owned())
}

/// DNS rebinding and cross-origin calls end here. A target in absolute form
/// names a host too (RFC 9112, 3.2.2), and both have to be ours.
fn host_refused(req: &ServiceRequest, state: &State) -> Option<Failure> {
    let mut sent = req.headers().get_all(header::HOST);
    let host = sent.next().map(|value| value.to_str().unwrap_or_default());
    if sent.next().is_some() {
        // RFC 9112, 3.2: such a request is answered with 400.
        let why = "more than one Host header was sent";
        return Some(Failure::new(ErrorCode::UnreadableRequest, why));
    }
    let target = req.uri().authority().map(|authority| authority.as_str());
    let mut named = host.into_iter().chain(target).peekable();
    if named.peek().is_none() {
        return Some(Failure::new(ErrorCode::HostNotAllowed, "the request names no host"));
    }
    if !named.all(|host| state.hosts.allows(host)) {
        return Some(Failure::new(
            ErrorCode::HostNotAllowed,
            "this host name is not served; start the service with --host to add it",
        ));
    }
    // An origin that is no text is not one of ours.
    let ours = |origin: &HeaderValue| {
        origin.to_str().is_ok_and(|origin| state.hosts.allows_origin(origin))
    };
    let foreign = !req.headers().get_all(header::ORIGIN).all(ours);
    foreign.then(|| {
        Failure::new(
            ErrorCode::HostNotAllowed,
            "pages of this origin may not call; start the service with --origin to add it",
        )
    })
}

/// Gives every refusal without a body of its own a problem body.
fn as_problem(response: ServiceResponse<BoxBody>, id: &str) -> ServiceResponse<BoxBody> {
    let status = response.status();
    if status.as_u16() < 400 || has_own_body(response.headers()) {
        return response;
    }
    let (req, response) = response.into_parts();
    let language = asked_for(&req);
    let studio = req.app_data::<web::Data<State>>().map(|state| state.studio());
    let say = |meaning: &Meaning| Some(studio.as_ref()?.craft.refusals.says(meaning, language));
    let at = (req.path(), id);
    let (problem, headers) = match response.error().and_then(|e| e.as_error::<Failure>()) {
        Some(failure) => (failure.problem(at, say), failure.headers.clone()),
        None => {
            let failure = from_status(status, req.app_data::<AtPath>());
            (failure.problem(at, say), failure.headers)
        }
    };
    let faults = problem.errors.iter().map(|fault| &fault.says);
    if faults.chain([&problem.says]).any(Option::is_some) {
        req.extensions_mut().insert(Says(language));
    }
    let mut answer = body_of(&problem);
    for (name, value) in headers {
        answer.headers_mut().append(name, value);
    }
    ServiceResponse::new(req, answer)
}

/// A problem, or what an operation answers instead of one: the state of health.
fn has_own_body(headers: &HeaderMap) -> bool {
    let own: [&[u8]; 2] = [PROBLEM.as_bytes(), b"application/json"];
    headers.get(header::CONTENT_TYPE).is_some_and(|media| own.contains(&media.as_bytes()))
}

fn body_of(problem: &Problem) -> HttpResponse<BoxBody> {
    let status = StatusCode::from_u16(problem.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR);
    let body = serde_json::to_vec(problem).unwrap_or_default();
    HttpResponse::build(status).content_type(PROBLEM).body(body)
}

/// What the framework refused by itself.
fn from_status(status: StatusCode, at: Option<&AtPath>) -> Failure {
    match status {
        StatusCode::NOT_FOUND => Failure::new(ErrorCode::NotFound, "there is nothing at this path"),
        StatusCode::METHOD_NOT_ALLOWED => {
            let allow = at.map(AtPath::allow).unwrap_or_default();
            Failure::new(ErrorCode::MethodNotAllowed, format!("this path takes {allow}"))
                .with_header(header::ALLOW, &allow)
        }
        StatusCode::PAYLOAD_TOO_LARGE => {
            Failure::new(ErrorCode::BodyTooLarge, "the body is larger than this operation takes")
        }
        StatusCode::REQUEST_TIMEOUT => {
            Failure::new(ErrorCode::Timeout, "the request took too long")
        }
        status if status.is_client_error() => {
            Failure::new(ErrorCode::UnreadableRequest, "the request cannot be read")
        }
        _ => Failure::new(ErrorCode::Internal, "internal error"),
    }
}

fn finish(headers: &mut HeaderMap, id: &str) {
    if let Ok(value) = HeaderValue::from_str(id) {
        headers.insert(REQUEST_ID, value);
    }
    headers.insert(header::X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    if !headers.contains_key(header::CACHE_CONTROL) {
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    }
}

/// One line a request: never a body, a query, a reference or a token.
fn report(
    response: &ServiceResponse<BoxBody>,
    state: Option<&State>,
    id: &str,
    trace: Option<&str>,
    started: Instant,
) {
    let req = response.request();
    let operation = operation_of(req).map_or("none", |operation| operation.id);
    let status = response.status().as_u16();
    let took = started.elapsed();
    if let Some(state) = state {
        state.figures.count(operation, status, took);
    }
    let duration_ms = took.as_secs_f64() * 1e3;
    let holder = req.extensions().get::<Caller>().map(|caller| caller.holder.clone());
    let caller = holder.as_deref().unwrap_or("none");
    let method = if req.method() == Method::HEAD { "HEAD" } else { req.method().as_str() };
    if 500 <= status {
        tracing::error!(
            operation,
            method,
            status,
            duration_ms,
            caller,
            request.id = id,
            trace.id = trace,
            "request failed"
        );
    } else {
        tracing::info!(
            operation,
            method,
            status,
            duration_ms,
            caller,
            request.id = id,
            trace.id = trace,
            "request answered"
        );
    }
}

#[cfg(test)]
mod tests {
    use actix_web::middleware::from_fn;
    use actix_web::{App, test};

    use super::*;

    async fn broken() -> HttpResponse {
        panic!("what the client sent")
    }

    #[actix_web::test]
    async fn a_handler_that_panics_is_answered_with_a_problem() {
        let resource = web::resource("/broken").route(web::get().to(broken)).wrap(from_fn(net));
        let app = test::init_service(App::new().wrap(from_fn(frame)).service(resource)).await;
        let before = panics::counted().get();
        for _ in 0..2 {
            let request = test::TestRequest::get().uri("/broken").to_request();
            let response = test::call_service(&app, request).await;
            assert_eq!(response.status(), StatusCode::INTERNAL_SERVER_ERROR);
            assert_eq!(response.headers().get(header::CONTENT_TYPE).unwrap(), PROBLEM);
            let body = test::read_body(response).await;
            let problem: Problem = serde_json::from_slice(&body).unwrap();
            assert_eq!(problem.code, ErrorCode::Internal);
            assert!(!String::from_utf8_lossy(&body).contains("client sent"));
        }
        assert!(before + 2 <= panics::counted().get());
    }
}
