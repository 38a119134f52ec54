//! Short views: `short=true`, one way for every operation that has one.
//!
//! The answer is made whole, and what a person reads of it is taken out on its way: so a repeat
//! of a write, and an answer that was kept, have theirs too. It goes under a media type of its own
//! ([`MEDIA_TYPE`]), since it lacks what the whole always has.

use actix_web::HttpRequest;
use actix_web::body::{BoxBody, to_bytes};
use actix_web::dev::ServiceResponse;
use actix_web::http::header::{self, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::web;
use etui_schema::short::MEDIA_TYPE;

use super::call::operation_of;
use super::query::pairs;
use super::state::State;
use super::views::Short;
use crate::studio::plan::SHORT_TAG;

/// Whether a request asks for the short view.
pub(crate) fn is_wanted(req: &HttpRequest) -> bool {
    let query = req.query_string();
    query.contains("short")
        && pairs(query).iter().any(|(name, told)| name == "short" && told == "true")
}

/// Gives the short view in the place of an answer, if it is asked for and there is one.
pub(super) async fn cut(response: ServiceResponse<BoxBody>) -> ServiceResponse<BoxBody> {
    let req = response.request();
    let short = operation_of(req).and_then(|operation| operation.short);
    let Some(Short { make, .. }) = short.filter(|_| is_wanted(req)) else { return response };
    let done = matches!(response.status(), StatusCode::OK | StatusCode::CREATED);
    let media = response.headers().get(header::CONTENT_TYPE);
    let state = req.app_data::<web::Data<State>>().cloned();
    let is_whole = media.is_some_and(|media| media.as_bytes() == b"application/json");
    let Some(state) = state.filter(|_| done && is_whole) else { return response };
    let (req, response) = response.into_parts();
    let (mut head, body) = response.into_parts();
    // A sized body of ours is in memory; it cannot fail.
    let whole = to_bytes(body).await.unwrap_or_default();
    let Some(made) = make(&state.studio(), &whole) else {
        // Every answer has its short view; whoever asks for it is rather given too much.
        return ServiceResponse::new(req, head.set_body(BoxBody::new(whole)));
    };
    let headers = head.headers_mut();
    headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(MEDIA_TYPE));
    // The tag of a write names the version that was made.
    let reads = matches!(*req.method(), Method::GET | Method::HEAD);
    let tag = headers.get(header::ETAG).filter(|_| reads);
    let tag = tag.and_then(|tag| tag.to_str().ok()?.strip_suffix('"'));
    let tag = tag.map(|tag| format!("{tag}{SHORT_TAG}"));
    if let Some(tag) = tag.and_then(|tag| HeaderValue::from_str(&tag).ok()) {
        headers.insert(header::ETAG, tag);
    }
    ServiceResponse::new(req, head.set_body(BoxBody::new(made)))
}
