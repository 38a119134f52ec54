//! Making answers: JSON bytes, entity tags, conditional reads.

use actix_web::HttpResponse;
use actix_web::http::StatusCode;
use actix_web::http::header;
use actix_web::web::Bytes;
use etui_schema::page::Page;
use etui_schema::problem::ErrorCode;
use serde::Serialize;

use super::call::Call;
use super::encoding;
use super::failure::Failure;
use super::query::pairs;
use super::slices::Slices;
use crate::studio::plan::{lists, tag_of};

/// Bytes that an answer is given room for: most fit, and what is larger the allocator does not keep
/// at hand.
const ANSWER: usize = 32 * 1024;

/// What a handler gives back.
pub(crate) type Reply = Result<HttpResponse, Failure>;

/// A JSON answer.
pub(crate) fn json<T: Serialize>(status: u16, value: &T) -> Reply {
    bytes(status, to_bytes(value)?)
}

/// A JSON answer from bytes that are JSON already.
pub(crate) fn bytes(status: u16, body: Vec<u8>) -> Reply {
    let status = StatusCode::from_u16(status).unwrap_or(StatusCode::OK);
    Ok(HttpResponse::build(status).content_type("application/json").body(Slices(body.into())))
}

/// Something that is the same for all who ask: held once, with its entity tag.
pub(crate) struct Fixed {
    bytes: Bytes,
    /// Of the plain bytes, however they are held.
    tag: String,
    gzip: bool,
}

impl Fixed {
    pub(crate) fn new(body: impl Into<Bytes>) -> Self {
        let bytes = body.into();
        Self { tag: tag_of(&bytes), bytes, gzip: false }
    }

    /// The same, compressed already.
    pub(crate) fn packed_as(&self, packed: impl Into<Bytes>) -> Self {
        Self { tag: self.tag.clone(), bytes: packed.into(), gzip: true }
    }

    /// The tag of what is sent: that of a compressed answer ends in its coding.
    fn sent_tag(&self) -> String {
        let Self { tag, gzip, .. } = self;
        if *gzip { format!("{}.gzip\"", tag.trim_end_matches('"')) } else { tag.clone() }
    }
}

/// Whether an answer may be compressed (RFC 9110, 12.5.3).
pub(crate) fn takes_gzip(call: &Call) -> bool {
    call.header(&header::ACCEPT_ENCODING).is_some_and(|sent| encoding::takes(sent, "gzip"))
}

/// Serialises a value; our own types cannot fail to, short of a bug.
pub(crate) fn to_bytes<T: Serialize>(value: &T) -> Result<Vec<u8>, Failure> {
    // Most answers fit: growing to their size by doubling would copy them three times over.
    let mut bytes = Vec::with_capacity(ANSWER);
    serde_json::to_writer(&mut bytes, value).map_err(|error| unwritten(&error))?;
    Ok(bytes)
}

fn unwritten(error: &serde_json::Error) -> Failure {
    tracing::error!(reason = %error, "an answer could not be serialised");
    Failure::new(ErrorCode::Internal, "internal error")
}

/// A read that may be answered with 304.
pub(crate) fn tagged(call: &Call, media: &str, body: Vec<u8>) -> Reply {
    fixed(call, media, &Fixed::new(body))
}

/// A record by itself, which may be answered with 304.
pub(crate) fn record<T: Serialize>(call: &Call, value: &T) -> Reply {
    tagged(call, "application/json", to_bytes(value)?)
}

/// The same of something that is held already.
pub(crate) fn fixed(call: &Call, media: &str, held: &Fixed) -> Reply {
    let Fixed { bytes, tag, gzip } = held;
    let unchanged = call.header(&header::IF_NONE_MATCH).is_some_and(|sent| lists(sent, tag));
    let mut answer = if unchanged { HttpResponse::NotModified() } else { HttpResponse::Ok() };
    answer
        .insert_header((header::ETAG, held.sent_tag()))
        .insert_header((header::CACHE_CONTROL, "private, no-cache"));
    if unchanged {
        return Ok(answer.finish());
    }
    if *gzip {
        answer.insert_header((header::CONTENT_ENCODING, "gzip"));
    }
    Ok(answer.content_type(media).body(Slices(bytes.clone())))
}

/// One page of a list, with the way to the next (RFC 8288).
pub(crate) fn page<T: Serialize>(call: &Call, page: &Page<T>) -> Reply {
    Ok(leading_on(call, json(200, page)?, page.next_cursor.as_deref()))
}

/// An answer with the way to its next page, if there is one (RFC 8288).
pub(crate) fn leading_on(
    call: &Call,
    mut answer: HttpResponse,
    next: Option<&str>,
) -> HttpResponse {
    let Some(cursor) = next else { return answer };
    let kept = pairs(call.req.query_string()).into_iter().filter(|(name, _)| name != "cursor");
    let query = form_urlencoded::Serializer::new(String::new())
        .extend_pairs(kept)
        .append_pair("cursor", cursor)
        .finish();
    let link = format!("<{}?{query}>; rel=\"next\"", call.req.path());
    if let Ok(link) = header::HeaderValue::from_str(&link) {
        answer.headers_mut().insert(header::LINK, link);
    }
    answer
}
