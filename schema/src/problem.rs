//! What an answer looks like when something is wrong: RFC 9457 problem
//! details with a closed list of codes and, for bodies, every fault at once.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::describe::JsonSchema;
use crate::open::Open;
use crate::vocabulary::{CivilDate, words};

words! {
    /// The closed list of error codes. A client branches on these.
    ErrorCode, "error code" {
        /// 400: the body is not JSON.
        UnreadableBody = "unreadable_body",
        /// 400: the query or the path cannot be read.
        UnreadableRequest = "unreadable_request",
        /// 401: no bearer token was sent.
        MissingToken = "missing_token",
        /// 401: the token is unknown, expired or revoked.
        InvalidToken = "invalid_token",
        /// 403: the token lacks the scope of this operation.
        InsufficientScope = "insufficient_scope",
        /// 403: the `Host` or `Origin` of the request is not one of ours.
        HostNotAllowed = "host_not_allowed",
        /// 404: there is nothing here.
        NotFound = "not_found",
        /// 405: not with this method; `Allow` lists those that work.
        MethodNotAllowed = "method_not_allowed",
        /// 406: none of the accepted media types can be made.
        NotAcceptable = "not_acceptable",
        /// 408: the request did not arrive in time.
        Timeout = "timeout",
        /// 409: the state of the record stands against it.
        Conflict = "conflict",
        /// 409: the same `Idempotency-Key` is being worked on.
        InProgress = "in_progress",
        /// 410: the sequence belongs to events that are no more.
        SequenceGone = "sequence_gone",
        /// 410: what an earlier answer was about was erased since.
        Erased = "erased",
        /// 412: the record has changed since it was read.
        PreconditionFailed = "precondition_failed",
        /// 413: the body is larger than this operation takes.
        BodyTooLarge = "body_too_large",
        /// 415: the body is not `application/json`.
        UnsupportedMediaType = "unsupported_media_type",
        /// 422: values were refused; `errors` names each.
        InvalidValue = "invalid_value",
        /// 422: the `Idempotency-Key` was used with another body.
        IdempotencyKeyReused = "idempotency_key_reused",
        /// 428: `If-Match` is needed to change what exists.
        PreconditionRequired = "precondition_required",
        /// 429: too many requests; `Retry-After` says when.
        RateLimited = "rate_limited",
        /// 500: our fault; the log has the reason.
        Internal = "internal",
        /// 503: overloaded, stopping or the store is not available.
        Unavailable = "unavailable",
        /// 507: the disk is nearly full; reads go on.
        NoSpace = "no_space",
    }
}

impl ErrorCode {
    /// The HTTP status that goes with the code.
    #[must_use]
    pub const fn status(self) -> u16 {
        match self {
            Self::UnreadableBody | Self::UnreadableRequest => 400,
            Self::MissingToken | Self::InvalidToken => 401,
            Self::InsufficientScope | Self::HostNotAllowed => 403,
            Self::NotFound => 404,
            Self::MethodNotAllowed => 405,
            Self::NotAcceptable => 406,
            Self::Timeout => 408,
            Self::Conflict | Self::InProgress => 409,
            Self::SequenceGone | Self::Erased => 410,
            Self::PreconditionFailed => 412,
            Self::BodyTooLarge => 413,
            Self::UnsupportedMediaType => 415,
            Self::InvalidValue | Self::IdempotencyKeyReused => 422,
            Self::PreconditionRequired => 428,
            Self::RateLimited => 429,
            Self::Internal => 500,
            Self::Unavailable => 503,
            Self::NoSpace => 507,
        }
    }

    /// The short title, the same for every occurrence (RFC 9457, 3.1.3).
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::UnreadableBody => "The body cannot be read",
            Self::UnreadableRequest => "The request cannot be read",
            Self::MissingToken => "A bearer token is needed",
            Self::InvalidToken => "The bearer token is not valid",
            Self::InsufficientScope => "The token's scopes do not reach",
            Self::HostNotAllowed => "This host name is not served",
            Self::NotFound => "Not found",
            Self::MethodNotAllowed => "Method not allowed",
            Self::NotAcceptable => "No acceptable media type",
            Self::Timeout => "The request took too long to arrive",
            Self::Conflict => "The state stands against it",
            Self::InProgress => "The same request is being worked on",
            Self::SequenceGone => "The sequence is no more",
            Self::Erased => "What was answered was erased",
            Self::PreconditionFailed => "The record has changed",
            Self::BodyTooLarge => "The body is too large",
            Self::UnsupportedMediaType => "The media type is not supported",
            Self::InvalidValue => "Values were refused",
            Self::IdempotencyKeyReused => "The idempotency key was used before",
            Self::PreconditionRequired => "If-Match is needed",
            Self::RateLimited => "Too many requests",
            Self::Internal => "Internal error",
            Self::Unavailable => "Not available at the moment",
            Self::NoSpace => "No space to write",
        }
    }

    /// What to do about it, in one or two sentences.
    #[must_use]
    pub const fn advice(self) -> &'static str {
        match self {
            Self::UnreadableBody => "Send one JSON value in UTF-8; `detail` names line and column.",
            Self::UnreadableRequest => "Mend the parameter that `detail` or `errors` names.",
            Self::MissingToken => {
                "Send `Authorization: Bearer …`. The owner's token lies in the file `owner-token` of the data folder."
            }
            Self::InvalidToken => "Ask the studio's owner for a new token.",
            Self::InsufficientScope => {
                "Ask the studio's owner for a token with the scope that `detail` names."
            }
            Self::HostNotAllowed => "Call the service under a host name it was told to serve.",
            Self::NotFound => "Check the path and the id.",
            Self::MethodNotAllowed => "Use a method that the `Allow` header lists.",
            Self::NotAcceptable => "Accept one of the media types that `detail` lists.",
            Self::Timeout => "Send the whole request within the time limit.",
            Self::Conflict => {
                "Read the record again and decide anew; `detail` says what stands against it."
            }
            Self::InProgress => "Wait for the first request to end and repeat.",
            Self::SequenceGone => {
                "The store was restored from a backup, and what was told after it is gone. Read the records anew that you follow, then the events from the sequence that `detail` names."
            }
            Self::Erased => {
                "The request was carried out, and its client was forgotten since: keep nothing of the first answer either. For a new request use a new key."
            }
            Self::PreconditionFailed => {
                "Read the record again, apply the change to what is there now, and send its new `ETag`."
            }
            Self::BodyTooLarge => "Split the request; `detail` names the limit.",
            Self::UnsupportedMediaType => "Send `Content-Type: application/json`.",
            Self::InvalidValue => {
                "Mend each fault in `errors`; its pointer names the place, its message what would be accepted."
            }
            Self::IdempotencyKeyReused => "Use a new key for a new request.",
            Self::PreconditionRequired => "Send the `ETag` of the record you read as `If-Match`.",
            Self::RateLimited => "Wait as long as `Retry-After` says.",
            Self::Internal => "Repeat later; if it stays, tell the operator the `request_id`.",
            Self::Unavailable => {
                "Repeat after `Retry-After`; writes with an `Idempotency-Key` can be repeated safely."
            }
            Self::NoSpace => "Free disk space; nothing was written.",
        }
    }
}

words! {
    /// What is wrong with one value.
    FaultCode, "fault code" {
        /// A required member is absent.
        Missing = "missing",
        /// A member that this object does not have.
        UnknownField = "unknown_field",
        /// Another JSON type is wanted.
        WrongType = "wrong_type",
        /// Not one of the accepted words.
        UnknownValue = "unknown_value",
        /// A number or a date outside its range.
        OutOfRange = "out_of_range",
        /// A text or a list too long or too short.
        WrongLength = "wrong_length",
        /// A text that does not have the wanted form.
        WrongFormat = "wrong_format",
        /// The same thing twice.
        Duplicate = "duplicate",
        /// Values that contradict each other.
        Contradiction = "contradiction",
        /// A reference to something that does not exist.
        UnknownReference = "unknown_reference",
        /// Refused by a rule of the trade or of the law.
        NotAllowed = "not_allowed",
    }
}

/// One fault of a request, with its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Fault {
    /// JSON pointer into the body as a URI fragment (`#/labels/0/text`), or
    /// `query:NAME` / `path:NAME` / `header:NAME` for a parameter.
    pub pointer: String,
    /// What is wrong.
    pub code: Open<FaultCode>,
    /// What is wrong, and what would be accepted, for whoever wrote the request; in English.
    pub message: String,
    /// The same for people, in the language asked for: for whoever gave the answer, or stands
    /// before the screen. Absent where the request itself is at fault.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
    /// What `says` will be; it never travels.
    #[serde(skip)]
    pub means: Option<Meaning>,
}

/// What a refusal means to people, until it is said in their language.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meaning {
    /// The key of its sentence.
    pub key: &'static str,
    /// How many it speaks of.
    pub count: Option<u32>,
    /// The day it speaks of.
    pub day: Option<CivilDate>,
}

impl Fault {
    /// A fault at a pointer.
    pub fn new(pointer: impl Into<String>, code: FaultCode, message: impl Into<String>) -> Self {
        let (pointer, code, message) = (pointer.into(), code.into(), message.into());
        Self { pointer, code, message, says: None, means: None }
    }

    /// The same with what it means to people.
    #[must_use]
    pub fn means(self, meaning: impl Into<Meaning>) -> Self {
        Self { means: Some(meaning.into()), ..self }
    }

    /// The same with its sentence for whoever gave the answer.
    #[must_use]
    pub fn saying(self, says: Option<String>) -> Self {
        Self { says, ..self }
    }
}

/// Problem details (RFC 9457), the body of every answer from 400 on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Problem {
    /// `/problems/{code}`; the service explains it there.
    #[serde(rename = "type")]
    pub type_: String,
    /// Short title of the code.
    pub title: String,
    /// The HTTP status again.
    #[schemars(range(min = 400, max = 599))]
    pub status: u16,
    /// What happened this time.
    pub detail: String,
    /// The path that was called.
    pub instance: String,
    /// The code to branch on.
    pub code: Open<ErrorCode>,
    /// The same id as in the `X-Request-Id` header and in the log.
    pub request_id: String,
    /// The same for people, in the language asked for; absent where the request itself is at
    /// fault, and where `errors` say it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub says: Option<String>,
    /// Every fault of the request, if there are any to name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<Fault>,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}: {}", self.status, self.code, self.detail)?;
        for fault in &self.errors {
            write!(f, "\n  {} {}: {}", fault.pointer, fault.code, fault.message)?;
        }
        Ok(())
    }
}
