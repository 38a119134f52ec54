//! Reading JSON Merge Patches (RFC 7396): the patch as it is, and then what it makes
//! of the record, held to the same limits as a PUT.

use std::pin::Pin;

use actix_web::web::Bytes;
use actix_web::{FromRequest, HttpRequest, dev};
use etui_schema::merge_patch::MEDIA_TYPE;
use etui_schema::problem::{Fault, FaultCode};
use serde_json::Value;

use super::body::{self, Told};
use super::failure::Failure;
use super::faults;
use crate::studio::error::Error;
use crate::studio::plan::to_json;

/// A merge patch of an object.
pub(crate) struct Patch {
    pub(crate) value: Value,
    pub(crate) bytes: Bytes,
}

impl FromRequest for Patch {
    type Error = Failure;
    type Future = Pin<Box<dyn Future<Output = Result<Self, Failure>>>>;

    fn from_request(req: &HttpRequest, payload: &mut dev::Payload) -> Self::Future {
        let bytes = body::whole(req, payload, MEDIA_TYPE);
        Box::pin(async move {
            let bytes = bytes.await?;
            let value = parse(&bytes)?;
            Ok(Self { value, bytes })
        })
    }
}

fn parse(bytes: &[u8]) -> Result<Value, Failure> {
    let value: Value = serde_json::from_slice(bytes).map_err(|error| body::unreadable(&error))?;
    let twice = faults::doubled(bytes);
    if !twice.is_empty() {
        return Err(Failure::refused(twice));
    }
    if !value.is_object() {
        let why = "a patch of a record is an object with the members that change";
        return Err(Failure::refused(vec![Fault::new("#", FaultCode::WrongType, why)]));
    }
    Ok(value)
}

/// The record that a patch made, as a request.
pub(crate) fn read<T: Told>(whole: &Value) -> Result<T, Error> {
    body::parse(&to_json(whole)?).map_err(|failure| Error::Refused(failure.errors))
}
