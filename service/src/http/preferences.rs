//! `Prefer` (RFC 7240), and headers that a call would rely on.
//!
//! A preference that is not known is passed over, as the standard has it, unless the
//! caller asks for `handling=strict`. What a person means as a caution is not a preference:
//! a write that is asked to be only tried is refused, and told how it is done here. So is a
//! write with a precondition, or a key for a repeat, that the operation does not look at, and
//! one whose answer is to be spared and cannot be read afterwards.

use actix_web::http::Method;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::{HttpMessage, HttpRequest};
use etui_schema::problem::{Fault, FaultCode};

use super::failure::Failure;
use super::operation::Operation;

pub(crate) const PREFER: HeaderName = HeaderName::from_static("prefer");
const IDEMPOTENCY_KEY: HeaderName = HeaderName::from_static("idempotency-key");
pub(crate) const PREFERENCE_APPLIED: HeaderName = HeaderName::from_static("preference-applied");

/// What other interfaces call a write that is not meant to write.
const CAUTIONS: [&str; 6] = ["dry-run", "dry_run", "dryrun", "validate", "validate-only", "tx"];

/// Headers by which they ask for it.
const CAUTIOUS_HEADERS: [&str; 4] = ["X-Dry-Run", "Dry-Run", "X-Validate-Only", "Validate-Only"];

/// What is done of what the caller prefers, kept beside the request.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct Preferred {
    /// The answer is spared.
    pub(crate) brief: bool,
    /// The answer is given, as it would have been.
    whole: bool,
    strict: bool,
}

impl Preferred {
    /// The value of `Preference-Applied`, if anything was.
    pub(crate) fn told(self) -> Option<HeaderValue> {
        let Self { brief, whole, strict } = self;
        let value = match (brief, whole, strict) {
            (true, _, true) => "return=minimal, handling=strict",
            (true, _, false) => "return=minimal",
            (false, true, true) => "return=representation, handling=strict",
            (false, true, false) => "return=representation",
            (false, false, true) => "handling=strict",
            (false, false, false) => return None,
        };
        Some(HeaderValue::from_static(value))
    }
}

/// Looks at what the caller prefers and relies on, and keeps what is done of it.
///
/// # Errors
/// 400 with a fault for each header that would be passed over and may not be.
pub(crate) fn look(req: &HttpRequest, operation: &Operation) -> Result<(), Failure> {
    let mut faults = unheard(req, operation);
    match wanted(req, operation) {
        Ok(preferred) => {
            req.extensions_mut().insert(preferred);
        }
        Err(fault) => faults.push(fault),
    }
    if faults.is_empty() { Ok(()) } else { Err(Failure::parameters(faults)) }
}

/// Preconditions, and a body, that an operation does not look at.
fn unheard(req: &HttpRequest, operation: &Operation) -> Vec<Fault> {
    let mut faults = Vec::new();
    let sent = |name: &HeaderName| req.headers().contains_key(name);
    let mut refuse = |name: &str, why: &str| {
        faults.push(Fault::new(format!("header:{name}"), FaultCode::NotAllowed, why));
    };
    if !operation.takes_if_match && sent(&header::IF_MATCH) {
        refuse("If-Match", "this operation looks at no version; leave the header out");
    }
    if operation.method != Method::GET {
        if sent(&header::IF_NONE_MATCH) && !(operation.method == Method::PUT && only_new(req)) {
            refuse("If-None-Match", if_none_match(operation));
        }
        // RFC 9110, 14.5: a part of a record cannot be put.
        if sent(&header::CONTENT_RANGE) {
            refuse("Content-Range", "a part of a body is not taken; send the whole");
        }
        if let Some(name) = CAUTIOUS_HEADERS.iter().find(|name| req.headers().contains_key(**name))
        {
            refuse(name, &cautioned(operation));
        }
    }
    faults.extend(unread(req, operation));
    if operation.writes() {
        faults.extend(unheard_of_writes(req, operation));
    }
    faults
}

/// Whether `If-None-Match` says that nothing is to be replaced.
fn only_new(req: &HttpRequest) -> bool {
    let mut values = req.headers().get_all(header::IF_NONE_MATCH);
    values.all(|value| value.to_str().is_ok_and(|value| value.trim() == "*"))
}

fn if_none_match(operation: &Operation) -> &'static str {
    if operation.method == Method::PUT {
        "`*` is looked at, and no version; `If-Match` names the one to replace"
    } else {
        "this operation does not look at what there is; leave the header out"
    }
}

/// A body that nobody reads.
fn unread(req: &HttpRequest, operation: &Operation) -> Option<Fault> {
    let length = req.headers().get(header::CONTENT_LENGTH);
    let has_body = req.headers().contains_key(header::TRANSFER_ENCODING)
        || length.is_some_and(|length| length != "0");
    // What a GET carries has no meaning to anybody (RFC 9110, 9.3.1).
    let unread = operation.body.is_none() && operation.method != Method::GET && has_body;
    let why = "this operation reads no body; leave it out";
    unread.then(|| Fault::new("#", FaultCode::NotAllowed, why))
}

fn unheard_of_writes(req: &HttpRequest, operation: &Operation) -> Vec<Fault> {
    let sent = |name: &HeaderName| req.headers().contains_key(name);
    let mut faults = Vec::new();
    let mut refuse = |name: &str, why: &str| {
        faults.push(Fault::new(format!("header:{name}"), FaultCode::NotAllowed, why));
    };
    if !operation.takes_idempotency_key && sent(&IDEMPOTENCY_KEY) {
        refuse("Idempotency-Key", "this operation keeps no answers for a repeat; leave it out");
    }
    if sent(&header::IF_UNMODIFIED_SINCE) {
        refuse("If-Unmodified-Since", "versions are told by `If-Match`, not by time");
    }
    faults
}

fn wanted(req: &HttpRequest, operation: &Operation) -> Result<Preferred, Fault> {
    let mut preferred = Preferred::default();
    let mut unknown: Option<String> = None;
    let mut form: Option<String> = None;
    let values = req.headers().get_all(PREFER).filter_map(|value| value.to_str().ok());
    for one in values.flat_map(|value| value.split(',')).map(str::trim).filter(|p| !p.is_empty()) {
        let told = one.split(';').next().unwrap_or_default();
        let (name, value) = told.split_once('=').unwrap_or((told, ""));
        let name = name.trim().to_ascii_lowercase();
        let value = value.trim().trim_matches('"').to_ascii_lowercase();
        if operation.writes() && CAUTIONS.contains(&name.as_str()) {
            return Err(caution(operation));
        }
        match (name.as_str(), value.as_str()) {
            // Of two that contradict each other the first counts (RFC 7240, 2).
            ("return", "minimal" | "representation") if form.is_none() => {
                form = Some(value.clone());
            }
            ("return", "minimal" | "representation") => {}
            ("handling", "strict") => preferred.strict = true,
            ("handling", "lenient") => {}
            _ => unknown = unknown.or_else(|| Some(one.chars().take(60).collect())),
        }
    }
    let brief = form.as_deref() == Some("minimal") && !operation.can_be_brief;
    match form.as_deref() {
        Some("minimal") if operation.can_be_brief => preferred.brief = true,
        Some("minimal") => unknown = Some("return=minimal".to_owned()),
        Some(_) => preferred.whole = true,
        None => {}
    }
    match unknown {
        // A write whose answer is wanted short does what was sent, so whoever relies on it is told.
        Some(what) if brief && operation.writes() => Err(Fault::new(
            "header:Prefer",
            FaultCode::NotAllowed,
            format!(
                "nothing was done; `{what}` cannot be: what is answered is read nowhere by itself"
            ),
        )),
        Some(what) if preferred.strict => Err(Fault::new(
            "header:Prefer",
            FaultCode::NotAllowed,
            format!(
                "`{what}` cannot be done here, and `handling=strict` was asked for; {}",
                known(operation)
            ),
        )),
        _ => Ok(preferred),
    }
}

fn known(operation: &Operation) -> &'static str {
    if operation.can_be_brief {
        "`return=minimal` and `return=representation` can"
    } else {
        "`return=representation` can"
    }
}

fn caution(operation: &Operation) -> Fault {
    Fault::new("header:Prefer", FaultCode::NotAllowed, cautioned(operation))
}

fn cautioned(operation: &Operation) -> String {
    let has_dry_run = operation.takes_query("dry_run=true").is_ok();
    let how = if has_dry_run {
        "to look first send `?dry_run=true`"
    } else {
        "this operation cannot be tried out"
    };
    format!("nothing was done; {how}")
}

#[cfg(test)]
mod tests {
    use actix_web::http::Method;
    use actix_web::test::TestRequest;
    use actix_web::web;
    use etui_schema::endpoints;

    use super::*;

    fn operation(method: Method) -> Operation {
        let route = || web::to(|| async { "" });
        match method {
            Method::PUT => Operation::of(endpoints::put_artist(), route),
            Method::POST => Operation::of(endpoints::adjust_lot(), route),
            _ => Operation::of(endpoints::get_lot(), route),
        }
    }

    #[test]
    fn what_is_preferred_is_done_passed_over_or_refused() {
        for (method, sent, want) in [
            (Method::PUT, "", Ok("")),
            (Method::PUT, "return=minimal", Ok("return=minimal")),
            (Method::PUT, "Return=\"minimal\"; foo", Ok("return=minimal")),
            (Method::PUT, "return=representation, return=minimal", Ok("return=representation")),
            (Method::PUT, "respond-async, wait=10", Ok("")),
            (Method::PUT, "handling=strict, return=minimal", Ok("return=minimal, handling=strict")),
            (Method::PUT, "handling=strict, respond-async", Err("`respond-async` cannot")),
            (Method::PUT, "handling=lenient, respond-async", Ok("")),
            (Method::PUT, "dry-run", Err("cannot be tried out")),
            // Nothing leads to what it made: the answer is all there is.
            (Method::POST, "return=minimal", Err("`return=minimal` cannot")),
            (Method::POST, "return=minimal, handling=strict", Err("`return=minimal` cannot")),
            (Method::POST, "return=representation", Ok("return=representation")),
            (Method::POST, "tx=rollback", Err("nothing was done")),
            (Method::GET, "dry-run", Ok("")),
            (Method::GET, "return=minimal", Ok("")),
        ] {
            let req = TestRequest::default().insert_header(("Prefer", sent)).to_http_request();
            let told =
                wanted(&req, &operation(method)).map_err(|fault| fault.message).map(|done| {
                    done.told().map(|v| v.to_str().unwrap().to_owned()).unwrap_or_default()
                });
            match (&told, want) {
                (Ok(told), Ok(want)) => assert_eq!(told, want, "{sent}"),
                (Err(told), Err(want)) => assert!(told.contains(want), "{sent}: {told}"),
                _ => panic!("{sent}: {told:?}, wanted {want:?}"),
            }
        }
    }
}
