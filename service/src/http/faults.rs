//! From a schema validator's findings to faults that a caller can act on.

use boon::{ErrorKind as Kind, InstanceToken, ValidationError};
use etui_schema::places::{self, step};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::Instant;
use etui_schema::written::NAMED;
use serde_json::Value;

/// How many faults one answer names; the rest would not be read.
pub(crate) const MOST_FAULTS: usize = 100;

/// Adds the faults that one finding about a body, or about a part of it, stands for.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the reader tells much that no schema of ours asks for"
)]
pub(crate) fn explain(error: &ValidationError<'_, '_>, body: &Value, found: &mut Vec<Fault>) {
    if MOST_FAULTS <= found.len() {
        return;
    }
    let at = pointer(&error.instance_location.to_string());
    match &error.kind {
        Kind::Group
        | Kind::Schema { .. }
        | Kind::Reference { .. }
        | Kind::AllOf
        | Kind::ContentSchema => {
            error.causes.iter().for_each(|cause| explain(cause, body, found));
        }
        Kind::AdditionalProperties { got } => {
            found.extend(got.iter().map(|name| {
                let (code, message) = not_a_member(name);
                Fault::new(format!("{at}/{}", escape(name)), code, message)
            }));
        }
        Kind::Required { want } => {
            found.extend(want.iter().map(|name| {
                Fault::new(
                    format!("{at}/{}", escape(name)),
                    FaultCode::Missing,
                    format!("`{name}` is required"),
                )
            }));
        }
        Kind::PropertyName { prop } => {
            let at = format!("{at}/{}", escape(prop));
            let why = leaves(error).first().map(|cause| plain(&cause.kind, &Value::from(&**prop)));
            let (code, message) = why.unwrap_or_else(|| not_a_member(prop));
            found.push(Fault::new(at, code, message));
        }
        Kind::AnyOf | Kind::OneOf(None) => branches(error, &at, body, found),
        kind => {
            let (code, message) = plain(kind, instance(error, body));
            found.push(Fault::new(at, code, message));
        }
    }
}

/// What a finding is about.
fn instance<'b>(error: &ValidationError<'_, '_>, body: &'b Value) -> &'b Value {
    error.instance_location.tokens.iter().fold(body, |value, token| match token {
        InstanceToken::Prop(name) => &value[&**name],
        InstanceToken::Item(index) => &value[*index],
    })
}

/// The findings that a finding is made of.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the reader tells much that no schema of ours asks for"
)]
fn leaves<'e, 's, 'v>(error: &'e ValidationError<'s, 'v>) -> Vec<&'e ValidationError<'s, 'v>> {
    match error.kind {
        Kind::Group
        | Kind::Schema { .. }
        | Kind::Reference { .. }
        | Kind::AllOf
        | Kind::PropertyName { .. } => error.causes.iter().flat_map(leaves).collect(),
        _ => vec![error],
    }
}

/// A value that fits none of several schemas: name the accepted words, or
/// descend into the branch that it was meant for.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the reader tells much that no schema of ours asks for"
)]
fn branches(error: &ValidationError<'_, '_>, at: &str, body: &Value, found: &mut Vec<Fault>) {
    let value = instance(error, body);
    let context: Vec<_> = error.causes.iter().map(|branch| (branch, leaves(branch))).collect();
    let meant = context.iter().filter(|(_, branch)| !is_other_branch(error, branch));
    if (value.is_object() || value.is_array())
        && let Some((branch, _)) = meant.min_by_key(|(_, branch)| branch.len())
    {
        return explain(branch, body, found);
    }
    let words: Vec<&str> = context
        .iter()
        .flat_map(|(_, branch)| branch)
        .flat_map(|inner| match &inner.kind {
            Kind::Const { want } => std::slice::from_ref(*want),
            Kind::Enum { want } => want.as_slice(),
            _ => &[],
        })
        .filter_map(Value::as_str)
        .collect();
    let message = if words.is_empty() {
        format!("{} does not fit any accepted form", describe(value))
    } else {
        format!("{} is not accepted; one of: {}", describe(value), words.join(", "))
    };
    let code = if value.is_string() { FaultCode::UnknownValue } else { FaultCode::WrongType };
    found.push(Fault::new(at, code, message));
}

/// A branch for another JSON type, or whose tag differs from the one sent.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the reader tells much that no schema of ours asks for"
)]
fn is_other_branch(error: &ValidationError<'_, '_>, branch: &[&ValidationError<'_, '_>]) -> bool {
    let here = error.instance_location.tokens.len();
    branch.iter().any(|inner| match inner.kind {
        Kind::Const { .. } => true,
        Kind::Type { .. } | Kind::Enum { .. } => inner.instance_location.tokens.len() == here,
        _ => false,
    })
}

fn not_a_member(name: &str) -> (FaultCode, String) {
    (FaultCode::UnknownField, format!("`{}` is not a member of this object", shorten(name)))
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the reader tells much that no schema of ours asks for"
)]
fn plain(kind: &Kind<'_, '_>, value: &Value) -> (FaultCode, String) {
    let found = describe(value);
    let out_of_range =
        |how: &str, limit| (FaultCode::OutOfRange, format!("{found} is {how} {limit}"));
    let at_least =
        |limit, what: &str| (FaultCode::WrongLength, format!("at least {limit} {what} are wanted"));
    let at_most = |limit, what: &str| {
        (FaultCode::WrongLength, format!("at most {limit} {what} are accepted"))
    };
    match kind {
        Kind::Type { want, .. } => {
            let names: Vec<String> = want.iter().map(|name| name.to_string()).collect();
            (FaultCode::WrongType, format!("{found} is not {}", article(&names)))
        }
        Kind::Enum { want } => {
            let words: Vec<&str> = want.iter().filter_map(Value::as_str).collect();
            let message = format!("{found} is not accepted; one of: {}", words.join(", "));
            let code =
                if value.is_string() { FaultCode::UnknownValue } else { FaultCode::WrongType };
            (code, message)
        }
        Kind::Const { want } => {
            (FaultCode::UnknownValue, format!("{found} is not accepted; wanted: {want}"))
        }
        Kind::Minimum { want, .. } => out_of_range("below", want),
        Kind::Maximum { want, .. } => out_of_range("above", want),
        Kind::ExclusiveMinimum { want, .. } => out_of_range("not above", want),
        Kind::ExclusiveMaximum { want, .. } => out_of_range("not below", want),
        Kind::MinLength { want, .. } => at_least(want, "characters"),
        Kind::MaxLength { want, .. } => at_most(want, "characters"),
        Kind::MinItems { want, .. } => at_least(want, "items"),
        Kind::MaxItems { want, .. } => at_most(want, "items"),
        Kind::MinProperties { want, .. } => at_least(want, "members"),
        Kind::MaxProperties { want, .. } => at_most(want, "members"),
        // Blanks and dots are no reason.
        Kind::Pattern { want, .. } if *want == NAMED.pattern() => {
            (FaultCode::WrongFormat, format!("{found} says nothing: it has no letter and no digit"))
        }
        Kind::Pattern { want, .. } => {
            (FaultCode::WrongFormat, format!("{found} does not have the form {want}"))
        }
        Kind::Format { want, .. }
            if *want == "date-time" && value.as_str().is_some_and(is_beyond) =>
        {
            (FaultCode::OutOfRange, format!("{found} is after {LAST_INSTANT}"))
        }
        Kind::Format { want, .. } => {
            (FaultCode::WrongFormat, format!("{found} is not {}", format_in_words(want)))
        }
        Kind::UniqueItems { .. } => (FaultCode::Duplicate, "the same item stands twice".to_owned()),
        _ => (FaultCode::WrongFormat, format!("{found} is not what its schema describes")),
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
        "uuid" => "an id such as 01890000-0000-7000-8000-000000000000",
        "iana-time-zone" => "an IANA time zone such as Europe/Berlin",
        other => other,
    }
}

fn article(names: &[String]) -> String {
    let first = names.first().map_or("value", String::as_str);
    let word = if first.starts_with(['a', 'e', 'i', 'o', 'u']) { "an" } else { "a" };
    let accepted = if names == ["boolean"] { ": `true` or `false`" } else { "" };
    format!("{word} {}{accepted}", names.join(" or "))
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
