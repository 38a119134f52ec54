//! Making answers: JSON bytes, entity tags, conditional reads.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header;
use etui_schema::problem::ErrorCode;
use serde::Serialize;

use super::call::Call;
use super::failure::Failure;
use crate::studio::plan::{lists, tag_of};

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
