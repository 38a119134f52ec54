//! Making answers: JSON bytes, entity tags, conditional reads.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName};
use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use etui_schema::problem::ErrorCode;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::call::Call;
use super::failure::Failure;

/// What a handler gives back.
pub(crate) type Reply = Result<HttpResponse, Failure>;

/// A JSON answer.
pub(crate) fn json<T: Serialize>(status: u16, value: &T) -> Reply {
    bytes(status, to_bytes(value)?)
}

/// A JSON answer from bytes that are JSON already.
pub(crate) fn bytes(status: u16, body: Vec<u8>) -> Reply {
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::OK);
    Ok(HttpResponse::build(status).content_type("application/json").body(body))
}

/// Serialises a value; our own types cannot fail to, short of a bug.
pub(crate) fn to_bytes<T: Serialize>(value: &T) -> Result<Vec<u8>, Failure> {
    serde_json::to_vec(value).map_err(|error| {
        tracing::error!(reason = %error, "an answer could not be serialised");
        Failure::new(ErrorCode::Internal, "internal error")
    })
}

/// A strong entity tag over bytes.
pub(crate) fn tag_of(bytes: &[u8]) -> String {
    format!("\"{}\"", BASE64_URL_SAFE_NO_PAD.encode(&Sha256::digest(bytes)[..15]))
}

/// Whether a tag is in the list of a conditional header (RFC 9110, 13.1).
pub(crate) fn lists(header: &str, tag: &str) -> bool {
    header
        .split(',')
        .map(str::trim)
        .any(|one| one == "*" || one == tag || one.strip_prefix("W/") == Some(tag))
}

/// A read that may be answered with 304.
pub(crate) fn tagged(call: &Call, media: &str, body: Vec<u8>) -> Reply {
    let tag = tag_of(&body);
    let unchanged = call.header(&header::IF_NONE_MATCH).is_some_and(|sent| lists(sent, &tag));
    let mut answer = if unchanged { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    answer
        .insert_header((header::ETAG, tag))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"));
    if unchanged {
        return Ok(answer.finish());
    }
    Ok(answer.content_type(media).body(body))
}

/// Adds a header to an answer.
pub(crate) fn with_header(mut answer: HttpResponse, name: HeaderName, value: &str) -> HttpResponse {
    if let Ok(value) = header::HeaderValue::from_str(value) {
        answer.headers_mut().insert(name, value);
    }
    answer
}
