//! Reading query parameters: unknown names refused, each fault with its name.

use std::future::{Ready, ready};

use actix_web::{FromRequest, HttpRequest, dev};
use etui_schema::problem::{Fault, FaultCode};
use serde::de::DeserializeOwned;

use super::failure::Failure;

/// The query of a request, read as `T`.
pub(crate) struct Query<T>(pub(crate) T);

impl<T: DeserializeOwned + 'static> FromRequest for Query<T> {
    type Error = Failure;
    type Future = Ready<Result<Self, Failure>>;

    fn from_request(req: &HttpRequest, _: &mut dev::Payload) -> Self::Future {
        ready(parse(req.query_string()).map(Self))
    }
}

/// Reads a query string.
pub(crate) fn parse<T: DeserializeOwned>(text: &str) -> Result<T, Failure> {
    let reader = serde_urlencoded::Deserializer::new(form_urlencoded::parse(text.as_bytes()));
    serde_path_to_error::deserialize(reader).map_err(|error| {
        let message = error.inner().to_string();
        let path = error.path().to_string();
        let (code, name) = if let Some(name) = named(&message, "unknown field `") {
            (FaultCode::UnknownField, name)
        } else if let Some(name) = named(&message, "missing field `") {
            (FaultCode::Missing, name)
        } else if let Some(name) = named(&message, "duplicate field `") {
            (FaultCode::Duplicate, name)
        } else {
            (FaultCode::WrongFormat, path)
        };
        let place = if name == "." { "query".to_owned() } else { format!("query:{name}") };
        Failure::parameter(Fault::new(place, code, message))
    })
}

fn named(message: &str, before: &str) -> Option<String> {
    let rest = message.strip_prefix(before)?;
    rest.split_once('`').map(|(name, _)| name.chars().take(60).collect())
}

/// Every value of a repeatable parameter, in order.
pub(crate) fn pairs(text: &str) -> Vec<(String, String)> {
    form_urlencoded::parse(text.as_bytes()).into_owned().collect()
}
