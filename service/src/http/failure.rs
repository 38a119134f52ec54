//! What went wrong, on its way to becoming a problem body.
//!
//! A handler or an extractor fails with a [`Failure`]. The frame
//! ([`super::frame`]) turns it, and whatever the framework itself refuses,
//! into `application/problem+json` with the request's path and id.

use std::fmt;

use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::{HttpResponse, ResponseError};
use etui_craft::refusal::Refusal;
use etui_schema::problem::{ErrorCode, Fault, Meaning, Problem};

use crate::store::StoreError;
use crate::studio::Error;
use crate::studio::clients::CLIENT;

/// A refusal with everything that the problem body will say.
#[derive(Debug)]
pub(crate) struct Failure {
    pub(crate) code: ErrorCode,
    pub(crate) detail: String,
    /// What the whole means to people.
    pub(crate) means: Option<Meaning>,
    pub(crate) errors: Vec<Fault>,
    pub(crate) headers: Vec<(HeaderName, HeaderValue)>,
}

impl Failure {
    pub(crate) fn new(code: ErrorCode, detail: impl Into<String>) -> Self {
        let (errors, headers) = (Vec::new(), Vec::new());
        Self { code, detail: detail.into(), means: None, errors, headers }
    }

    /// The same with what it means to people.
    pub(crate) fn means(self, meaning: impl Into<Meaning>) -> Self {
        Self { means: Some(meaning.into()), ..self }
    }

    /// A refusal that names each fault: 400 where all of them are of parameters, 422 where one is
    /// of the body.
    pub(crate) fn refused(errors: Vec<Fault>) -> Self {
        let of_parameter = |fault: &Fault| !fault.pointer.starts_with('#');
        if !errors.is_empty() && errors.iter().all(of_parameter) {
            return Self::parameters(errors);
        }
        let detail = match errors.len() {
            1 => "one value was refused".to_owned(),
            n => format!("{n} values were refused"),
        };
        Self { errors, ..Self::new(ErrorCode::InvalidValue, detail) }
    }

    /// A 400 that names one parameter of the query, the path or the headers.
    pub(crate) fn parameter(fault: Fault) -> Self {
        let detail = format!("{}: {}", fault.pointer, fault.message);
        Self { errors: vec![fault], ..Self::new(ErrorCode::UnreadableRequest, detail) }
    }

    /// A 400 that names every fault of a query.
    pub(crate) fn parameters(mut faults: Vec<Fault>) -> Self {
        match faults.len() {
            1 => Self::parameter(faults.swap_remove(0)),
            n => Self {
                errors: faults,
                ..Self::new(ErrorCode::UnreadableRequest, format!("{n} parameters were refused"))
            },
        }
    }

    pub(crate) fn with_header(mut self, name: HeaderName, value: &str) -> Self {
        if let Ok(value) = HeaderValue::from_str(value) {
            self.headers.push((name, value));
        }
        self
    }

    /// As it is told; `say` puts what it means into words.
    pub(crate) fn problem(
        &self,
        (instance, request_id): (&str, &str),
        say: impl Fn(&Meaning) -> Option<String>,
    ) -> Problem {
        let said = |fault: &Fault| {
            let says = fault.says.clone().or_else(|| say(fault.means.as_ref()?));
            Fault { says, means: None, ..fault.clone() }
        };
        Problem {
            type_: format!("/problems/{}", self.code),
            title: self.code.title().to_owned(),
            status: self.code.status(),
            detail: self.detail.clone(),
            instance: instance.to_owned(),
            code: self.code.into(),
            request_id: request_id.to_owned(),
            says: self.means.as_ref().and_then(&say),
            errors: self.errors.iter().map(said).collect(),
        }
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Never the submitted values: this text may reach a log.
        write!(f, "{}", self.code)
    }
}

impl ResponseError for Failure {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.code.status()).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        HttpResponse::new(self.status_code())
    }
}

/// The one place where a use case's error gets its HTTP meaning.
impl From<Error> for Failure {
    fn from(error: Error) -> Self {
        match error {
            Error::NotFound { what, id } => {
                let client = what == CLIENT;
                let means = if client { Refusal::ClientNotHere } else { Refusal::NotHere };
                Self::new(ErrorCode::NotFound, format!("there is no {what} `{id}`")).means(means)
            }
            Error::Refused(faults) => Self::refused(faults),
            Error::Beyond(fault) => {
                let challenge = "Bearer realm=\"etui\", error=\"insufficient_scope\"";
                Self {
                    detail: format!("{}: {}", fault.pointer, fault.message),
                    errors: vec![fault],
                    ..Self::new(ErrorCode::InsufficientScope, "")
                }
                .with_header(header::WWW_AUTHENTICATE, challenge)
            }
            Error::Conflict(detail, means) => {
                Self { means, ..Self::new(ErrorCode::Conflict, detail) }
            }
            Error::Changed => {
                Self::new(ErrorCode::PreconditionFailed, "the record is not the one that was read")
                    .means(Refusal::Changed)
            }
            Error::NeedsVersion => Self::new(
                ErrorCode::PreconditionRequired,
                "the record exists; send the ETag you read as If-Match",
            ),
            Error::Gone(detail) => Self::new(ErrorCode::SequenceGone, detail),
            Error::Erased => Self::new(
                ErrorCode::Erased,
                "this was answered before; what the answer was about was erased since, and it cannot be \
                 given again",
            )
            .means(Refusal::Erased),
            Error::Held(detail) => Self::new(ErrorCode::Unavailable, detail)
                .means(Refusal::Clock)
                .with_header(header::RETRY_AFTER, HELD_RETRY_AFTER),
            Error::Store(error) => from_store(error),
            Error::Unreadable(why) => {
                tracing::error!(reason = why, "a stored record cannot be read");
                let detail =
                    "what is stored of this cannot be read; `etui verify` tells what is damaged";
                Self::new(ErrorCode::Internal, detail)
            }
            Error::Internal(why) => {
                tracing::error!(reason = why, "internal error");
                Self::new(ErrorCode::Internal, "internal error")
            }
        }
    }
}

/// The same for what is held until somebody has looked at the clock.
const HELD_RETRY_AFTER: &str = "60";
/// What to do about a damaged store; nothing else is answered meanwhile.
pub(crate) const DAMAGED: &str = "the store is damaged and is kept as it is: stop the service and \
    restore the newest backup into a new folder (`etui restore --from BACKUP --data NEW-FOLDER \
    --studio-key OLD-FOLDER/studio-key`)";
/// Seconds after which a refused write is worth a repeat.
const RETRY_AFTER: &str = "2";

fn from_store(error: StoreError) -> Failure {
    let later = |detail: &str| {
        Failure::new(ErrorCode::Unavailable, detail)
            .means(Refusal::Later)
            .with_header(header::RETRY_AFTER, RETRY_AFTER)
    };
    match error {
        StoreError::Conflict { .. } => {
            Failure::new(ErrorCode::Conflict, "the record was changed at the same moment")
                .means(Refusal::Changed)
        }
        StoreError::TooLarge { what, bytes, limit } => Failure::new(
            ErrorCode::BodyTooLarge,
            format!("the {what} to store has {bytes} bytes; {limit} are allowed"),
        ),
        StoreError::Full => Failure::new(
            ErrorCode::NoSpace,
            "free disk space is below the reserve; reads go on, writes resume when there is space",
        )
        .means(Refusal::NoSpace),
        StoreError::Damaged(why) => {
            tracing::error!(reason = why, "the store is damaged");
            later(DAMAGED)
        }
        StoreError::Stopping => later("the service is stopping"),
        StoreError::Unavailable(why) => {
            tracing::warn!(reason = why, "the store is not available");
            later("the store is busy or being opened again")
        }
        StoreError::Unknown(why) => {
            tracing::error!(reason = why, "the outcome of a write is unknown");
            later("the outcome is unknown; repeat with the same Idempotency-Key, or read first")
                .means(Refusal::OutcomeOpen)
        }
    }
}
