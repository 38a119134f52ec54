//! From a schema validator's findings to faults that a caller can act on.

use etui_schema::places::{self, step};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Instant;
use jsonschema::ValidationError;
use jsonschema::error::ValidationErrorKind as Kind;
use serde_json::Value;

/// How many faults one answer names; the rest would not be read.
pub(crate) const MOST_FAULTS: usize = 100;

/// Adds the faults that one finding stands for.
#[expect(clippy::wildcard_enum_match_arm, reason = "the validator's list is open")]
pub(crate) fn explain(error: &ValidationError<'_>, found: &mut Vec<Fault>) {
    let at = pointer(error.instance_path().as_str());
    match error.kind() {
        Kind::AdditionalProperties { unexpected } | Kind::UnevaluatedProperties { unexpected } => {
            for name in unexpected {
                found.push(Fault::new(
                    format!("{at}/{}", escape(name)),
                    FaultCode::UnknownField,
                    format!("`{}` is not a member of this object", shorten(name)),
                ));
            }
        }
        Kind::Required { property } => {
            let name = property.as_str().unwrap_or_default();
            found.push(Fault::new(
                format!("{at}/{}", escape(name)),
                FaultCode::Missing,
                format!("`{name}` is required"),
            ));
        }
        Kind::OneOfNotValid { context } | Kind::AnyOf { context } => {
            branches(error, &at, context, found);
        }
        // The words stand beside `"type": "string"`, which says it better.
        Kind::Enum { options } if is_words(options) && !error.instance().is_string() => {}
        kind => {
            let (code, message) = plain(kind, error.instance());
            found.push(Fault::new(at, code, message));
        }
    }
}

/// A value that fits none of several schemas: name the accepted words, or
/// descend into the branch that it was meant for.
#[expect(clippy::wildcard_enum_match_arm, reason = "the validator's list is open")]
fn branches(
    error: &ValidationError<'_>,
    at: &str,
    context: &[Vec<ValidationError<'static>>],
    found: &mut Vec<Fault>,
) {
    let words: Vec<String> = context
        .iter()
        .flatten()
        .filter_map(|inner| match inner.kind() {
            Kind::Constant { expected_value } => expected_value.as_str().map(str::to_owned),
            Kind::Enum { options } => options
                .as_array()
                .map(|all| all.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(", ")),
            _ => None,
        })
        .collect();
    let meant =
        context.iter().filter(|branch| !is_other_branch(error, branch)).min_by_key(|b| b.len());
    if (error.instance().is_object() || error.instance().is_array())
        && let Some(branch) = meant
    {
        for inner in branch {
            explain(inner, found);
        }
        return;
    }
    let message = if words.is_empty() {
        format!("{} does not fit any accepted form", describe(error.instance()))
    } else {
        format!("{} is not accepted; one of: {}", describe(error.instance()), words.join(", "))
    };
    let code =
        if error.instance().is_string() { FaultCode::UnknownValue } else { FaultCode::WrongType };
    found.push(Fault::new(at, code, message));
}

fn is_words(options: &Value) -> bool {
    options.as_array().is_some_and(|all| all.iter().all(Value::is_string))
}

/// A branch for another JSON type, or whose tag differs from the one sent.
#[expect(clippy::wildcard_enum_match_arm, reason = "the validator's list is open")]
fn is_other_branch(error: &ValidationError<'_>, branch: &[ValidationError<'static>]) -> bool {
    branch.iter().any(|inner| match inner.kind() {
        Kind::Constant { .. } => true,
        Kind::Type { .. } | Kind::Enum { .. } => inner.instance_path() == error.instance_path(),
        _ => false,
    })
}

#[expect(clippy::wildcard_enum_match_arm, reason = "the validator's list is open")]
fn plain(kind: &Kind, value: &Value) -> (FaultCode, String) {
    let found = describe(value);
    match kind {
        Kind::Type { kind } => {
            let wanted = serde_json::to_value(TypeName::from(kind)).unwrap_or_default();
            (FaultCode::WrongType, format!("{found} is not {}", article(&wanted)))
        }
        Kind::Enum { options } => {
            let words: Vec<&str> =
                options.as_array().into_iter().flatten().filter_map(Value::as_str).collect();
            let message = format!("{found} is not accepted; one of: {}", words.join(", "));
            (FaultCode::UnknownValue, message)
        }
        Kind::Constant { expected_value } => {
            (FaultCode::UnknownValue, format!("{found} is not accepted; wanted: {expected_value}"))
        }
        Kind::Minimum { limit } => (FaultCode::OutOfRange, format!("{found} is below {limit}")),
        Kind::Maximum { limit } => (FaultCode::OutOfRange, format!("{found} is above {limit}")),
        Kind::ExclusiveMinimum { limit } => {
            (FaultCode::OutOfRange, format!("{found} is not above {limit}"))
        }
        Kind::ExclusiveMaximum { limit } => {
            (FaultCode::OutOfRange, format!("{found} is not below {limit}"))
        }
        Kind::MinLength { limit } => {
            (FaultCode::WrongLength, format!("at least {limit} characters are wanted"))
        }
        Kind::MaxLength { limit } => {
            (FaultCode::WrongLength, format!("at most {limit} characters are accepted"))
        }
        Kind::MinItems { limit } => {
            (FaultCode::WrongLength, format!("at least {limit} items are wanted"))
        }
        Kind::MaxItems { limit } => {
            (FaultCode::WrongLength, format!("at most {limit} items are accepted"))
        }
        Kind::MinProperties { limit } => {
            (FaultCode::WrongLength, format!("at least {limit} members are wanted"))
        }
        Kind::MaxProperties { limit } => {
            (FaultCode::WrongLength, format!("at most {limit} members are accepted"))
        }
        Kind::Pattern { pattern } => {
            (FaultCode::WrongFormat, format!("{found} does not have the form {pattern}"))
        }
        Kind::Format { format }
            if format == "date-time" && value.as_str().is_some_and(is_beyond) =>
        {
            (FaultCode::OutOfRange, format!("{found} is after {LAST_INSTANT}"))
        }
        Kind::Format { format } => {
            (FaultCode::WrongFormat, format!("{found} is not {}", format_in_words(format)))
        }
        Kind::UniqueItems => (FaultCode::Duplicate, "the same item stands twice".to_owned()),
        other => (FaultCode::WrongFormat, format!("{found} fails `{}`", other.keyword())),
    }
}

/// The last instant that can be counted in every offset.
pub(super) const LAST_INSTANT: &str = "9999-12-30T22:00:00Z";

/// Whether a text that is no instant would be one in another year: the last hours of 9999 are
/// past what can be counted. (2001 has as many days.)
pub(super) fn is_beyond(text: &str) -> bool {
    let rest = text.strip_prefix("9999").filter(|_| text.parse::<Instant>().is_err());
    rest.is_some_and(|rest| format!("2001{rest}").parse::<Instant>().is_ok())
}

fn format_in_words(format: &str) -> &str {
    match format {
        "date" => "a calendar day written YYYY-MM-DD",
        "date-time" => {
            "an instant of RFC 3339 with `Z` or an offset, such as 2027-03-18T14:00:00+01:00"
        }
        "iana-time-zone" => "an IANA time zone such as Europe/Berlin",
        other => other,
    }
}

/// The names of JSON types that a finding wants.
#[derive(serde::Serialize)]
#[serde(transparent)]
struct TypeName(Vec<String>);

impl From<&jsonschema::error::TypeKind> for TypeName {
    fn from(kind: &jsonschema::error::TypeKind) -> Self {
        match kind {
            jsonschema::error::TypeKind::Single(one) => Self(vec![one.to_string()]),
            jsonschema::error::TypeKind::Multiple(set) => {
                Self(set.iter().map(|t| t.to_string()).collect())
            }
        }
    }
}

fn article(names: &Value) -> String {
    let all: Vec<&str> =
        names.as_array().map(|a| a.iter().filter_map(Value::as_str).collect()).unwrap_or_default();
    let first = all.first().copied().unwrap_or("value");
    let word = if first.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    format!("{word} {}", all.join(" or "))
}

/// What kind of value it is. Never the value: a birth date, a symptom or an
/// answer must not come back in a refusal, and end in somebody's log. Whoever
/// sent it finds it under the pointer.
fn describe(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "a boolean",
        Value::Number(_) => "this number",
        Value::String(_) => "this text",
        Value::Array(_) => "a list",
        Value::Object(_) => "an object",
    }
}

fn shorten(text: &str) -> String {
    let clean = |c: char| if c.is_control() { '\u{FFFD}' } else { c };
    match text.char_indices().nth(60) {
        Some((end, _)) => text[..end].chars().map(clean).chain(['…']).collect(),
        None => text.chars().map(clean).collect(),
    }
}

/// A JSON pointer as a URI fragment.
fn pointer(path: &str) -> String {
    format!("#{path}")
}

/// One step of a pointer, as it is shown.
fn escape(name: &str) -> String {
    step(&shorten(name))
}

/// A place in a body as a URI fragment, each step as it is shown.
pub(super) fn shown_place(place: &str) -> String {
    pointer(&place.split('/').map(shorten).collect::<Vec<_>>().join("/"))
}

/// A fault for each member that stands again in its object.
pub(super) fn doubled(body: &[u8]) -> Vec<Fault> {
    let says = "this member stands more than once in its object; send it once";
    let fault = |at: &String| Fault::new(shown_place(at), FaultCode::Duplicate, says);
    places::doubled(body, MOST_FAULTS).iter().map(fault).collect()
}

/// From `labels[0].text` to `#/labels/0/text`.
pub(crate) fn pointer_from_path(path: &str) -> String {
    let mut out = String::from("#");
    for part in path.split(['.', '[']) {
        let part = part.trim_end_matches(']');
        if !part.is_empty() {
            out.push('/');
            out.push_str(&escape(part));
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_become_pointers() {
        for (path, want) in [
            ("labels[0].text", "#/labels/0/text"),
            ("", "#"),
            (".", "#"),
            ("a.b", "#/a/b"),
            ("[3]", "#/3"),
        ] {
            assert_eq!(pointer_from_path(path), want, "{path}");
        }
    }
}
