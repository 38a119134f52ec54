//! Headers of answers that a caller acts on. What caches read, `Cache-Control` and `Vary`, is
//! said in `openapi/README.md` for all of them.

use actix_web::http::Method;
use serde_json::{Map, Value, json};

use crate::http::operation::Operation;

/// Every header that answers refer to, for `components.headers`.
const HEADERS: &[(&str, &str)] = &[
    ("Location", "The path at which what was made is read."),
    ("ETag", "The version of what was answered; hand it back as `If-Match` or `If-None-Match`."),
    ("Idempotent-Replayed", "`true` if this answer was given before to the same key and body."),
    ("Preference-Applied", "What was done of `Prefer` (RFC 7240)."),
    (
        "Content-Language",
        "The language of the texts: a refusal's are in English, but for what it says to people (`en, de`). Absent where there are none.",
    ),
    ("Vary", "The request headers by which the answer was chosen."),
    ("X-Request-Id", "The id under which the service logged the request."),
    ("Link", "`rel=\"next\"`: the way to the next page (RFC 8288); absent on the last one."),
    ("WWW-Authenticate", "What the token lacks (RFC 6750, section 3)."),
    ("Allow", "The methods that this path takes."),
    ("Accept", "The media type that this operation reads."),
    ("Accept-Patch", "The media type that a PATCH reads (RFC 5789)."),
    ("Cache-Control", "`private, no-cache` with an `ETag`, else `no-store` (RFC 9111)."),
    ("Retry-After", "Seconds after which another attempt is worth it."),
    ("RateLimit", "What is left of the token's limit (draft-ietf-httpapi-ratelimit-headers)."),
    ("RateLimit-Policy", "The token's limit (draft-ietf-httpapi-ratelimit-headers)."),
];

/// The headers themselves.
pub(super) fn components() -> Value {
    HEADERS
        .iter()
        .map(|(name, says)| {
            ((*name).to_owned(), json!({ "description": says, "schema": { "type": "string" } }))
        })
        .collect::<Map<String, Value>>()
        .into()
}

/// Lays the headers over the responses of an operation.
pub(super) fn describe(operation: &Operation, pages: bool, responses: &mut Map<String, Value>) {
    for (status, response) in responses {
        let mut names: Vec<&str> = Vec::new();
        match status.as_str() {
            "200" | "201" | "204" => {
                if operation.can_be_brief {
                    names.push("Preference-Applied");
                }
                if status != "204" && operation.speaks {
                    names.push("Content-Language");
                }
                if operation.takes_idempotency_key {
                    names.push("Idempotent-Replayed");
                }
                if status != "200" && operation.locates() {
                    names.push("Location");
                }
                // What was forgotten has no version; that the clock is right is noted like a record.
                let forgets = ["erase_client", "erase_practice"].contains(&operation.id);
                let notes = operation.id == "confirm_clock";
                if operation.takes_if_none_match
                    || operation.takes_if_match && !forgets
                    || operation.takes_idempotency_key
                    || operation.method == Method::DELETE && !forgets
                    || notes
                {
                    names.push("ETag");
                }
                if pages && status == "200" {
                    names.push("Link");
                }
            }
            "304" => names.push("ETag"),
            "default" => {
                names.extend(["Allow", "Accept", "Accept-Patch", "X-Request-Id"]);
                names.extend(["Cache-Control", "Content-Language", "Vary"]);
                if operation.needs_token() {
                    names.extend([
                        "WWW-Authenticate",
                        "Retry-After",
                        "RateLimit",
                        "RateLimit-Policy",
                    ]);
                }
            }
            "503" => names.push("Retry-After"),
            _ => {}
        }
        if status.starts_with(['4', '5']) {
            names.push("X-Request-Id");
        }
        if names.is_empty() {
            continue;
        }
        let refer = |name: &str| json!({ "$ref": format!("#/components/headers/{name}") });
        let held: Map<String, Value> =
            names.into_iter().map(|name| (name.to_owned(), refer(name))).collect();
        if let Some(response) = response.as_object_mut() {
            response.insert("headers".to_owned(), held.into());
        }
    }
}
