//! Cross-origin calls of listed front ends (WHATWG Fetch, CORS protocol).
//!
//! Off unless origins are listed: a page of any other origin is refused before
//! it reaches a handler.

use actix_web::HttpResponse;
use actix_web::dev::ServiceRequest;
use actix_web::http::Method;
use actix_web::http::header::{self, HeaderMap, HeaderValue};

/// How long a browser may remember a preflight, in seconds.
const PREFLIGHT_KEPT_S: &str = "600";

/// The answer to a preflight, if this is one.
pub(crate) fn preflight(req: &ServiceRequest) -> Option<HttpResponse> {
    let is_preflight = req.method() == Method::OPTIONS
        && req.headers().contains_key(header::ORIGIN)
        && req.headers().contains_key(header::ACCESS_CONTROL_REQUEST_METHOD);
    is_preflight.then(|| {
        HttpResponse::NoContent()
            .insert_header((header::ACCESS_CONTROL_ALLOW_METHODS, "GET, HEAD, POST, PUT, PATCH, DELETE"))
            .insert_header((
                header::ACCESS_CONTROL_ALLOW_HEADERS,
                "authorization, content-type, accept-language, idempotency-key, if-match, if-none-match, last-event-id, prefer, traceparent, x-request-id",
            ))
            .insert_header((header::ACCESS_CONTROL_MAX_AGE, PREFLIGHT_KEPT_S))
            .finish()
    })
}

/// Lets the page read the answer.
pub(crate) fn allow(headers: &mut HeaderMap, origin: Option<&HeaderValue>) {
    headers.append(header::VARY, HeaderValue::from_static("origin"));
    let Some(origin) = origin else { return };
    headers.insert(header::ACCESS_CONTROL_ALLOW_ORIGIN, origin.clone());
    headers.insert(
        header::ACCESS_CONTROL_EXPOSE_HEADERS,
        HeaderValue::from_static(
            "etag, link, location, retry-after, x-request-id, idempotent-replayed, preference-applied, ratelimit, ratelimit-policy",
        ),
    );
}
