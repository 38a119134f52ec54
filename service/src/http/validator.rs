//! Holding requests against the JSON Schema of their type, as the document
//! has it: what the document says is what holds.

use std::any::type_name;
use std::collections::HashMap;
use std::error::Error;
use std::str::FromStr;
use std::sync::{Arc, LazyLock, RwLock};

use boon::{Compiler, Draft, Format, SchemaIndex, Schemas};
use etui_schema::problem::{ErrorCode, Fault};
use etui_schema::vocabulary::{CivilDate, Instant, Zone};
use serde_json::Value;

use super::document::{self, PARTS};
use super::failure::Failure;
use super::faults::{self, MOST_FAULTS};

/// What is known of a type's schema.
pub(crate) struct Shape {
    schemas: Schemas,
    index: SchemaIndex,
    /// The schema itself, its named types under `$defs`.
    pub(crate) schema: Value,
    /// Every member, and whether it is a list wherever it stands.
    members: HashMap<String, bool>,
    /// Whether some object has members of the caller's own naming.
    pub(crate) is_open: bool,
}

/// What the schema of a body is known by while it is read.
const BODY: &str = "etui:///body";

/// The formats that are held as the service reads them, and not as a library would.
const FORMATS: [Format; 3] = [
    Format { name: "iana-time-zone", func: reads_as::<Zone> },
    Format { name: "date", func: reads_as::<CivilDate> },
    Format { name: "date-time", func: reads_as::<Instant> },
];

/// Items of a list that are looked at first: more than any list may have.
const LOOKED_AT: usize = 2_000;

/// Holds a text against the type that it is read into; what is no text is not its matter.
fn reads_as<T: FromStr<Err: Error + 'static>>(value: &Value) -> Result<(), Box<dyn Error>> {
    value.as_str().map_or(Ok(()), |text| Ok(text.parse::<T>().map(drop)?))
}

/// What was made, by the type of a body or the operation of a query.
static SHAPES: LazyLock<RwLock<HashMap<&str, Arc<Shape>>>> = LazyLock::new(RwLock::default);

/// What is refused where nothing can be looked at.
fn unknown() -> Failure {
    Failure::new(ErrorCode::Internal, "internal error")
}

impl Shape {
    /// The shape of a body, which is published under the name of its type.
    ///
    /// # Errors
    /// 500 if there is none: what cannot be looked at is not let in.
    pub(crate) fn of_body<T>() -> Result<Arc<Self>, Failure> {
        let name = type_name::<T>().rsplit("::").next().unwrap_or_default();
        Self::held(name, document::body).ok_or_else(unknown)
    }

    /// The shape of an operation's query.
    ///
    /// # Errors
    /// 500 if the document has no such operation.
    pub(crate) fn of_query(operation: &'static str) -> Result<Arc<Self>, Failure> {
        Self::held(operation, |id| PARTS.query(id)).ok_or_else(unknown)
    }

    /// What is known by this name, made at its first use.
    fn held(name: &'static str, schema: impl Fn(&str) -> Option<Value>) -> Option<Arc<Self>> {
        if let Some(known) = SHAPES.read().ok()?.get(name) {
            return Some(known.clone());
        }
        let made = Arc::new(Self::new(schema(name)?)?);
        SHAPES.write().ok()?.insert(name, made.clone());
        Some(made)
    }

    fn new(schema: Value) -> Option<Self> {
        let mut compiler = Compiler::new();
        compiler.set_default_draft(Draft::V2020_12);
        compiler.enable_format_assertions();
        for format in FORMATS {
            compiler.register_format(format);
        }
        compiler.add_resource(BODY, schema.clone()).ok()?;
        let mut schemas = Schemas::new();
        let index = compiler.compile(BODY, &mut schemas).ok()?;
        let mut made =
            Self { schemas, index, schema: Value::Null, members: HashMap::new(), is_open: false };
        made.sort_members(&schema, &schema);
        made.schema = schema;
        Some(made)
    }

    /// Everything that is wrong with a value.
    pub(crate) fn faults(&self, value: &Value) -> Vec<Fault> {
        let mut found = Vec::new();
        // A list of a hundred thousand wrong things would be as many findings at once.
        let mut less = value.clone();
        if cut(&mut less) {
            self.look(&less, &mut found);
        }
        if found.is_empty() {
            self.look(value, &mut found);
        }
        // One finding can stand for many faults: every unknown member of an object.
        found.truncate(MOST_FAULTS);
        found
    }

    fn look(&self, value: &Value, found: &mut Vec<Fault>) {
        if let Err(error) = self.schemas.validate(value, self.index) {
            faults::explain(&error, value, found);
        }
    }

    /// Whether a body may hold what serde lets pass and the schema does not:
    /// `null` for an absent member, or a list in place of an object. A look at
    /// the bytes alone, which may suspect too much and never too little.
    pub(crate) fn suspects(&self, body: &[u8]) -> bool {
        memchr::memmem::find(body, b"null").is_some()
            || memchr::memchr_iter(b'[', body).any(|at| !self.lists_at(body, at))
    }

    /// Whether the bracket begins the value of a member that is a list.
    fn lists_at(&self, body: &[u8], at: usize) -> bool {
        let before = body[..at].trim_ascii_end();
        let Some(before) = before.strip_suffix(b":") else { return false };
        let Some(named) = before.trim_ascii_end().strip_suffix(b"\"") else { return false };
        let start = memchr::memrchr(b'"', named).map_or(0, |quote| quote + 1);
        let Ok(name) = std::str::from_utf8(&named[start..]) else { return false };
        // A name written with escapes may be any name.
        let of_the_caller = || self.is_open && !name.contains('\\');
        self.members.get(name).copied().unwrap_or_else(of_the_caller)
    }

    /// Sorts the members of all objects of a schema by whether they are lists.
    #[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
    fn sort_members(&mut self, root: &Value, schema: &Value) {
        match schema {
            Value::Object(members) => {
                let properties = members.get("properties").and_then(Value::as_object);
                for (name, member) in properties.into_iter().flatten() {
                    let is_list = is_list(root, member);
                    *self.members.entry(name.clone()).or_insert(true) &= is_list;
                }
                self.is_open |= members.get("additionalProperties").is_some_and(|p| p != false);
                members.values().for_each(|inner| self.sort_members(root, inner));
            }
            Value::Array(items) => items.iter().for_each(|inner| self.sort_members(root, inner)),
            _ => {}
        }
    }
}

/// Leaves of each list that lies in a value what is looked at first; whether one was longer.
fn cut(value: &mut Value) -> bool {
    match value {
        Value::Array(items) => {
            let is_long = LOOKED_AT < items.len();
            items.truncate(LOOKED_AT);
            items.iter_mut().fold(is_long, |any, item| cut(item) | any)
        }
        Value::Object(members) => members.values_mut().fold(false, |any, one| cut(one) | any),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => false,
    }
}

/// Whether a member may be a list and may not be an object, so that a list there
/// stands for nothing else.
fn is_list(root: &Value, member: &Value) -> bool {
    let named =
        member.get("$ref").and_then(Value::as_str).and_then(|place| place.strip_prefix('#'));
    if let Some(known) = named.and_then(|place| root.pointer(place)) {
        return is_list(root, known);
    }
    let either = ["oneOf", "anyOf"].iter().find_map(|name| member.get(name)?.as_array());
    match either {
        None => member.get("type").is_some_and(|kind| kind == "array"),
        Some(either) => {
            let is_word = |one: &Value| ["string", "null"].iter().any(|word| one["type"] == *word);
            either.iter().any(|one| is_list(root, one))
                && either.iter().all(|one| is_word(one) || is_list(root, one))
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn shape() -> Shape {
        Shape::new(json!({
            "type": "object",
            "properties": {
                "labels": { "type": "array", "items": { "$ref": "#/$defs/Label" } },
                "skin": { "type": "object" },
                "either": { "type": "array" },
                "candidates": { "$ref": "#/$defs/Candidates" },
                "lone": { "anyOf": [{ "$ref": "#/$defs/Label" }, { "type": "array" }] },
            },
            "$defs": {
                "Candidates": { "oneOf": [{ "type": "string", "enum": ["usual"] }, { "type": "array" }] },
                "Label": { "type": "object", "properties": { "either": { "type": "string" } } },
            },
        }))
        .expect("a schema")
    }

    #[test]
    fn what_serde_would_let_pass_is_suspected() {
        let shape = shape();
        for (body, want) in [
            (r#"{"labels": [{"text": "a"}, {"text": "b"}]}"#, false),
            ("{\"labels\" \n:\t [ ]}", false),
            (r#"{"skin": {}}"#, false),
            // A word or a list; what may be one object or several is looked at.
            (r#"{"candidates": [{"label": "a"}]}"#, false),
            (r#"{"candidates": [["a"]]}"#, true),
            (r#"{"lone": [{"text": "a"}]}"#, true),
            (r#"{"skin": null}"#, true),
            (r#"{"skin": []}"#, true),
            (r#"{"skin":[1]}"#, true),
            (r#"{"labels": [["a"]]}"#, true),
            (r#"{"labels": [{}, ["a"]]}"#, true),
            (r#"{"s\u006bin": [1]}"#, true),
            ("[]", true),
            // A name that is a list here and a text there is looked at.
            (r#"{"either": [1]}"#, true),
            // Only suspected: the schema itself has no objection to these.
            (r#"{"labels": [{"text": "null and void"}]}"#, true),
            (r#"{"labels": [{"text": "a [b]"}]}"#, true),
        ] {
            assert_eq!(shape.suspects(body.as_bytes()), want, "{body}");
        }
    }

    /// Answers are named by question ids, which the schema does not list.
    #[test]
    fn lists_under_names_of_the_caller_are_let_be() {
        let shape = Shape::new(json!({
            "type": "object",
            "properties": {
                "answers": { "type": "object", "additionalProperties": { "type": "array" } },
                "skin": { "type": "object" },
            },
        }))
        .expect("a schema");
        for (body, want) in [
            (r#"{"answers": {"allergies": ["none_of_these"]}}"#, false),
            (r#"{"answers": []}"#, true),
            (r#"{"skin": []}"#, true),
            (r#"{"sk\u0069n": []}"#, true),
        ] {
            assert_eq!(shape.suspects(body.as_bytes()), want, "{body}");
        }
    }

    #[test]
    fn what_stands_far_down_a_list_is_found() {
        let mut labels = vec![json!({ "either": "a" }); LOOKED_AT + 2];
        let places = |labels: &[Value]| {
            let faults = shape().faults(&json!({ "labels": labels }));
            faults.into_iter().map(|fault| fault.pointer).collect::<Vec<_>>()
        };
        assert!(places(&labels).is_empty());
        labels[LOOKED_AT + 1] = json!([]);
        assert_eq!(places(&labels), [format!("#/labels/{}", LOOKED_AT + 1)]);
        labels[0] = json!(1);
        assert_eq!(places(&labels), ["#/labels/0"]);
    }

    #[test]
    fn null_is_no_absence() {
        let faults = shape().faults(&json!({ "skin": null }));
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert_eq!(faults[0].pointer, "#/skin");
        assert_eq!(faults[0].message, "null is not an object");
    }
}
