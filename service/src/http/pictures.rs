//! Pictures over HTTP: which media type is wanted, and the bytes of it.

use actix_web::HttpMessage;
use actix_web::http::header;
use etui_craft::configuration::draw::{Picture, RasterError};
use etui_schema::problem::{ErrorCode, Fault, FaultCode};

use super::call::{Call, Chosen};
use super::failure::Failure;

pub(crate) const JSON: &str = "application/json";
pub(crate) const SVG: &str = "image/svg+xml";
pub(crate) const PNG: &str = "image/png";

/// Of the media types on offer the one that `Accept` names with the most
/// weight; without a name or a header, the first that is accepted at all.
pub(crate) fn preferred(call: &Call, offered: &[&'static str]) -> &'static str {
    call.req.extensions_mut().insert(Chosen);
    let accept = call.header(&header::ACCEPT).unwrap_or("");
    let mut best: Option<(f32, &'static str)> = None;
    for part in accept.split(',') {
        let mut fields = part.split(';').map(str::trim);
        let range = fields.next().unwrap_or("");
        let weight = fields.find_map(|f| f.strip_prefix("q=")?.parse().ok()).unwrap_or(1.0_f32);
        let named = offered.iter().find(|media| range.eq_ignore_ascii_case(media));
        if let Some(media) = named
            && best.is_none_or(|(heaviest, _)| heaviest < weight)
        {
            best = Some((weight, media));
        }
    }
    match best {
        Some((weight, media)) if 0.0 < weight => media,
        _ => offered.iter().find(|media| call.accepts(media)).copied().unwrap_or(offered[0]),
    }
}

/// A picture in one of the two media types.
pub(crate) fn encoded(picture: &Picture, media: &str) -> Result<Vec<u8>, Failure> {
    if media != PNG {
        return Ok(picture.svg.clone().into_bytes());
    }
    picture.png().map_err(|why| match why {
        RasterError::TooLarge { .. } => Failure::refused(vec![Fault::new(
            "query:width",
            FaultCode::OutOfRange,
            why.to_string(),
        )]),
        RasterError::Refused { why } => {
            tracing::error!(reason = %why, "a picture could not be drawn");
            Failure::new(ErrorCode::Internal, "internal error")
        }
    })
}
