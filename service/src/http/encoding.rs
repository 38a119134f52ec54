//! Answers in fewer bytes, where the caller takes them so (RFC 9110, 8.4 and 12.5.3).
//!
//! What is short stays as it is: a coding would make it longer. So do answers with a secret,
//! which may stand beside what the caller sent: from the length of what is compressed one
//! could be guessed out of the other. Streams stay too: what is compressed comes in blocks,
//! and an event would wait for the next. A tag names what is sent, so that of a compressed
//! answer ends in its coding; it fits wherever the plain one does.

use std::io::Write;

use actix_web::HttpResponse;
use actix_web::body::{BodySize, BoxBody, MessageBody, to_bytes};
use actix_web::dev::ServiceResponse;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderMap, HeaderValue};
use actix_web::web;
use actix_web::web::Bytes;
use flate2::Compression;
use flate2::write::GzEncoder;

use super::slices::Slices;

/// Shorter than this fits one packet anyway.
const LEAST: u64 = 1024;
/// What is longer is packed away from those who answer.
const LONG: usize = 128 * 1024;
/// What is longer goes as it is: nothing answers so much but exports.
const MOST: u64 = 16 * 1024 * 1024;

/// The coding in which answers go. Brotli made long ones shorter by less than a hundredth, for a megabyte
/// of program.
const GZIP: &str = "gzip";

fn pack(plain: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::new(4));
    packer.write_all(plain)?;
    packer.finish()
}

/// Whether a coding is taken at all.
pub(crate) fn takes(sent: &str, name: &str) -> bool {
    weight(sent, name).is_some_and(|weight| 0.0 < weight)
}

/// The weight that an `Accept-Encoding` gives to a coding.
fn weight(sent: &str, name: &str) -> Option<f32> {
    let mut any = None;
    for one in sent.split(',') {
        let mut fields = one.split(';').map(str::trim);
        let coding = fields.next().unwrap_or_default();
        let told = fields.find_map(|field| field.strip_prefix("q=")?.parse::<f32>().ok());
        let told = Some(told.unwrap_or(1.0));
        if coding.eq_ignore_ascii_case(name) {
            return told;
        }
        if coding == "*" {
            any = told;
        }
    }
    any
}

/// Whether it is taken as gladly as what is not packed.
fn is_wanted(sent: &str) -> bool {
    let plain = weight(sent, "identity").filter(|_| sent.contains("identity")).unwrap_or(0.0);
    weight(sent, GZIP).is_some_and(|weight| 0.0 < weight && plain <= weight)
}

/// Whether an answer of this media type gets shorter by it.
fn is_text(headers: &HeaderMap) -> bool {
    let media = headers.get(header::CONTENT_TYPE).and_then(|v| v.to_str().ok()).unwrap_or("");
    let essence = media.split(';').next().unwrap_or("").trim();
    essence.starts_with("text/") && essence != "text/event-stream"
        || essence.ends_with("json")
        || essence.ends_with("+xml")
        || essence == "application/openmetrics-text"
}

/// Packs an answer if that is wanted and worth it, and if it holds no secret.
pub(crate) async fn packed(
    response: ServiceResponse<BoxBody>,
    secret: bool,
) -> ServiceResponse<BoxBody> {
    let mut response = response;
    // What is unchanged says what it would have been chosen by (RFC 9110, 15.4.5).
    if !secret && response.status() == StatusCode::NOT_MODIFIED {
        vary(response.headers_mut());
        return response;
    }
    let worth = matches!(response.response().body().size(), BodySize::Sized(LEAST..MOST));
    let headers = response.headers();
    if secret || !worth || !is_text(headers) || headers.contains_key(header::CONTENT_ENCODING) {
        return response;
    }
    let sent = response.request().headers().get(header::ACCEPT_ENCODING);
    let wanted = sent.and_then(|value| value.to_str().ok()).is_some_and(is_wanted);
    vary(response.headers_mut());
    if !wanted {
        return response;
    }
    let (req, response) = response.into_parts();
    let (mut head, body) = response.into_parts();
    let body = match to_bytes(body).await {
        Ok(plain) => shorter(&mut head, plain).await,
        // A sized body of ours is in memory; it cannot fail.
        Err(_) => Bytes::new(),
    };
    ServiceResponse::new(req, head.set_body(BoxBody::new(Slices(body))))
}

/// Says that the coding was chosen, once.
fn vary(headers: &mut HeaderMap) {
    let said = |value: &HeaderValue| value.as_bytes().eq_ignore_ascii_case(b"accept-encoding");
    if !headers.get_all(header::VARY).any(said) {
        headers.append(header::VARY, HeaderValue::from_static("accept-encoding"));
    }
}

async fn shorter(head: &mut HttpResponse<()>, plain: Bytes) -> Bytes {
    let made = if LONG < plain.len() {
        let held = plain.clone();
        web::block(move || pack(&held)).await.ok().and_then(Result::ok)
    } else {
        pack(&plain).ok()
    };
    let Some(made) = made.filter(|made| made.len() < plain.len()) else { return plain };
    let headers = head.headers_mut();
    headers.insert(header::CONTENT_ENCODING, HeaderValue::from_static(GZIP));
    let tag = headers.get(header::ETAG).and_then(|tag| tag.to_str().ok()?.strip_suffix('"'));
    let tag = tag.map(|tag| format!("{tag}.{GZIP}\""));
    if let Some(tag) = tag.and_then(|tag| HeaderValue::from_str(&tag).ok()) {
        headers.insert(header::ETAG, tag);
    }
    made.into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_is_packed_where_that_is_taken_as_gladly() {
        for (sent, want) in [
            ("", false),
            ("identity", false),
            ("gzip", true),
            ("GZIP;q=0.5", true),
            ("gzip;q=0", false),
            ("gzip, br", true),
            ("br;q=0.1, gzip;q=0.9", true),
            ("br", false),
            ("*", true),
            ("*;q=0", false),
            ("gzip;q=0.2, identity;q=0.8", false),
            ("deflate, zstd", false),
        ] {
            assert_eq!(is_wanted(sent), want, "{sent}");
        }
    }
}
