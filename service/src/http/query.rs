//! Reading query parameters: every fault at once, each with its name.
//!
//! A query is text. It is made into the JSON object that the type's schema
//! describes (numbers, booleans and lists where the schema has them), held
//! against that schema, and only then read as the type. What the document
//! says of a parameter is therefore what holds.

use etui_schema::endpoints::Nothing;
use etui_schema::places;
use etui_schema::problem::{Fault, FaultCode};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use super::failure::Failure;
use super::faults::{LAST_INSTANT, MOST_FAULTS, is_beyond};
use super::validator::Shape;

/// Whether an operation without parameters can be called so.
pub(crate) fn takes_none(operation: &'static str, text: &str) -> Result<(), Failure> {
    // Nearly every call.
    if text.is_empty() { Ok(()) } else { takes::<Nothing>(operation, text) }
}

/// Whether an operation with these parameters can be called so.
pub(crate) fn takes<T: DeserializeOwned>(
    operation: &'static str,
    text: &str,
) -> Result<(), Failure> {
    parse::<T>(operation, text).map(drop)
}

/// The query of a request, read as `T` and within the limits of its schema.
pub(crate) struct Query<T>(pub(crate) T);

/// Reads the query string of an operation.
pub(crate) fn parse<T: DeserializeOwned>(
    operation: &'static str,
    text: &str,
) -> Result<T, Failure> {
    let shape = Shape::of_query(operation)?;
    let (value, mut found) = gather(text, &shape.schema);
    found.extend(shape.faults(&value).into_iter().map(in_query));
    if !found.is_empty() {
        found.truncate(MOST_FAULTS);
        return Err(Failure::parameters(found));
    }
    places::read(&value).map_err(|misread| {
        let fault = Fault::new(misread.pointer, FaultCode::WrongFormat, misread.why);
        Failure::parameters(vec![in_query(fault)])
    })
}

/// The query as a JSON object, and the parameters that stand twice or do not exist.
fn gather(text: &str, schema: &Value) -> (Value, Vec<Fault>) {
    let mut members: Map<String, Value> = Map::new();
    let mut found = Vec::new();
    for (name, value) in form_urlencoded::parse(text.as_bytes()) {
        let property = &schema["properties"][&*name];
        if property.is_null() {
            found.push(unknown(&name, schema));
        } else if property["type"] == "array" {
            let items = members.entry(name).or_insert_with(|| Value::Array(Vec::new()));
            if let Value::Array(items) = items {
                items.push(typed(&value, resolved(&property["items"], schema)));
            }
        } else if members.contains_key(&*name) {
            let place = format!("query:{}", shown(&name));
            let twice = "it stands twice; once is wanted";
            found.push(Fault::new(place, FaultCode::Duplicate, twice));
        } else {
            let value = typed(&value, resolved(property, schema));
            members.insert(name.into_owned(), value);
        }
    }
    (Value::Object(members), found)
}

/// A parameter that the operation does not have, and those that it has.
fn unknown(name: &str, schema: &Value) -> Fault {
    let known = schema["properties"].as_object().into_iter().flatten();
    let known: Vec<String> = known.map(|(name, _)| format!("`{name}`")).collect();
    let accepted = if known.is_empty() {
        "takes no parameters".to_owned()
    } else {
        format!("takes {}", known.join(", "))
    };
    let name = shown(name);
    let message = format!("`{name}` is not a parameter of this operation, which {accepted}");
    Fault::new(format!("query:{name}"), FaultCode::UnknownField, message)
}

/// Follows a reference into `$defs`.
fn resolved<'s>(property: &'s Value, schema: &'s Value) -> &'s Value {
    property
        .get("$ref")
        .and_then(Value::as_str)
        .and_then(|target| schema.pointer(target.trim_start_matches('#')))
        .unwrap_or(property)
}

/// A text as the JSON value that the schema asks for; what cannot be one
/// stays a text, which the schema then refuses.
fn typed(text: &str, property: &Value) -> Value {
    let as_text = || Value::String(text.to_owned());
    match property["type"].as_str() {
        Some("integer" | "number") => match serde_json::from_str::<Value>(text) {
            Ok(number @ Value::Number(_)) => number,
            _ => as_text(),
        },
        Some("boolean") => text.parse().map_or_else(|_| as_text(), Value::Bool),
        // Nothing that is kept lies in the hours that are past counting: "to the end of 9999" is
        // what many programs send for "ever".
        _ if property["format"] == "date-time" && is_beyond(text) => LAST_INSTANT.into(),
        _ => as_text(),
    }
}

/// From a place in the object to the name of the parameter.
fn in_query(fault: Fault) -> Fault {
    let name = fault
        .pointer
        .trim_start_matches('#')
        .trim_start_matches('/')
        .split('/')
        .next()
        .unwrap_or_default();
    // RFC 6901, section 3.
    let name = name.replace("~1", "/").replace("~0", "~");
    Fault { pointer: format!("query:{name}"), ..fault }
}

fn shown(name: &str) -> String {
    name.chars().take(60).collect()
}

/// Every value of a repeatable parameter, in order.
pub(crate) fn pairs(text: &str) -> Vec<(String, String)> {
    form_urlencoded::parse(text.as_bytes()).into_owned().collect()
}

#[cfg(test)]
mod tests {
    use etui_schema::configuration_drawings::DrawingQuery;
    use etui_schema::lots::LotQuery;
    use etui_schema::page::PageQuery;
    use etui_schema::reminders::ReminderQuery;
    use etui_schema::symptom_reports::SymptomQuestionsQuery;

    use super::*;

    const DRAW: &str = "draw_configurations";

    /// The places and codes of all faults, in order of their names.
    fn faults<T: DeserializeOwned>(
        operation: &'static str,
        text: &str,
    ) -> Vec<(String, FaultCode)> {
        let mut found: Vec<_> = match parse::<T>(operation, text) {
            Ok(_) => Vec::new(),
            Err(failure) => {
                let told = failure.errors.into_iter();
                told.filter_map(|f| Some((f.pointer, f.code.known()?))).collect()
            }
        };
        found.sort_by(|a, b| a.0.cmp(&b.0));
        found
    }

    fn places(all: &[(&str, FaultCode)]) -> Vec<(String, FaultCode)> {
        all.iter().map(|(name, code)| (format!("query:{name}"), *code)).collect()
    }

    #[test]
    fn limits_hold() {
        use FaultCode::{
            Duplicate, Missing, OutOfRange, UnknownField, UnknownValue, WrongFormat, WrongLength,
            WrongType,
        };
        for (text, want) in [
            ("", vec![]),
            ("limit=1&state=usable&expires_by=2027-03-18", vec![]),
            ("limit=0", vec![("limit", OutOfRange)]),
            ("limit=201", vec![("limit", OutOfRange)]),
            ("limit=-1", vec![("limit", OutOfRange)]),
            ("limit=many", vec![("limit", WrongType)]),
            ("limit=", vec![("limit", WrongType)]),
            ("limit=1&limit=2", vec![("limit", Duplicate)]),
            ("cursor=", vec![("cursor", WrongLength)]),
            ("expires_by=2027-02-30", vec![("expires_by", WrongFormat)]),
            ("no%2Fname=1", vec![("no/name", UnknownField)]),
            (
                "state=lost&limit=0&size=1",
                vec![("limit", OutOfRange), ("size", UnknownField), ("state", UnknownValue)],
            ),
        ] {
            assert_eq!(faults::<LotQuery>("list_lots", text), places(&want), "{text}");
        }
        for (last, want) in [
            ("9999-12-30T22:00:00Z", vec![]),
            ("9999-12-31T23:59:59Z", vec![]),
            ("9999-12-31T23:59:59.999999-05:00", vec![]),
            ("9999-12-32T23:59:59Z", vec![("due_before", WrongFormat)]),
            ("9999-02-29T23:59:59Z", vec![("due_before", WrongFormat)]),
        ] {
            let text = format!("due_before={last}");
            assert_eq!(faults::<ReminderQuery>("list_reminders", &text), places(&want), "{text}");
        }
        let missing = places(&[("day", OutOfRange), ("treatment", Missing)]);
        assert_eq!(faults::<SymptomQuestionsQuery>("list_symptom_questions", "day=40001"), missing);
    }

    #[test]
    fn what_is_not_declared_is_named_with_what_is() {
        let said = |refused: Result<(), Failure>| refused.map_err(|failure| failure.detail);
        assert_eq!(said(takes_none("get_clock", "")), Ok(()));
        let none = "query:dry_run: `dry_run` is not a parameter of this operation, which takes no parameters";
        assert_eq!(said(takes_none("get_clock", "dry_run=true")), Err(none.to_owned()));
        let some =
            "query:of: `of` is not a parameter of this operation, which takes `limit`, `cursor`";
        assert_eq!(said(takes::<PageQuery>("list_clients", "of=1")), Err(some.to_owned()));
        assert_eq!(
            takes_none("get_clock", "a&a&b=1").map_err(|failure| failure.errors.len()),
            Err(3)
        );
    }

    #[test]
    fn lists_are_repeated_names() {
        let read = parse::<DrawingQuery>(DRAW, "label=0.20+1RL&label=0.30%203RL&width=300");
        let read = read.expect("a query");
        assert_eq!(read.label, ["0.20 1RL", "0.30 3RL"]);
        assert_eq!(read.width, Some(300));
        let many = "label=a&".repeat(25);
        for (text, want) in [
            ("width=300", ("label", FaultCode::Missing)),
            (many.as_str(), ("label", FaultCode::WrongLength)),
        ] {
            assert_eq!(faults::<DrawingQuery>(DRAW, text), places(&[want]), "{text}");
        }
        let long = format!("label={}", "x".repeat(121));
        assert_eq!(
            faults::<DrawingQuery>(DRAW, &long),
            places(&[("label", FaultCode::WrongLength)])
        );
    }
}
