//! Parameters of the path, the query and the headers.
//!
//! They are written as JSON and laid over utoipa's document: its model of a
//! schema drops what it does not know, constants and patterns among it.

use actix_web::http::Method;
use etui_schema::describe::SchemaGenerator;
use etui_schema::vocabulary::Reference;
use serde_json::{Value, json};

use super::schemas::{generator_inline, say_once};
use super::tidy::{reference_example, tidy};
use crate::http::operation::{Operation, Place};

/// Every parameter of an operation.
pub(super) fn parameters(operation: &Operation, generator: &mut SchemaGenerator) -> Vec<Value> {
    let mut all: Vec<Value> =
        operation.path_parameters().map(|name| path_parameter(operation, name)).collect();
    all.extend(query_parameters(operation, generator));
    all.extend(header_parameters(operation));
    all
}

fn path_parameter(operation: &Operation, name: &str) -> Value {
    let (says, schema) = match operation.places.iter().find(|place| place.name == name) {
        Some(Place { says, schema, .. }) => (*says, schema.clone()),
        None if name == "id" || name.ends_with("_id") => {
            ("The id that the service gave.", id_schema())
        }
        None if name == "pack" => ("The studio's name for the pack.", reference_schema("own")),
        None => {
            let example = reference_example(name).unwrap_or_else(|| name.to_owned());
            ("The caller's own reference.", reference_schema(&example))
        }
    };
    parameter("path", name, true, says, schema)
}

fn id_schema() -> Value {
    json!({
        "type": "string",
        "format": "uuid",
        "examples": ["0198c6a2-7d5e-7000-8000-000000000001"],
    })
}

fn reference_schema(example: &str) -> Value {
    let mut schema = generator_inline().subschema_for::<Reference>().to_value();
    tidy(&mut schema);
    if let Some(members) = schema.as_object_mut() {
        members.insert("examples".to_owned(), json!([example]));
    }
    schema
}

/// A parameter; the first example of its schema is its example.
fn parameter(place: &str, name: &str, required: bool, says: &str, schema: Value) -> Value {
    let mut schema = schema;
    // Once is enough: as the parameter's own example.
    let examples = schema.as_object_mut().and_then(|members| members.remove("examples"));
    let example = examples.and_then(|all| all.get(0).cloned());
    say_once(&mut schema);
    let mut made = json!({
        "name": name,
        "in": place,
        "description": says,
        "schema": schema,
    });
    let Some(members) = made.as_object_mut() else { return made };
    // It is not, unless it is said.
    if required {
        members.insert("required".to_owned(), true.into());
    }
    if let Some(example) = example {
        members.insert("example".to_owned(), example);
    }
    made
}

/// One parameter for each property of the query's type.
fn query_parameters(operation: &Operation, generator: &mut SchemaGenerator) -> Vec<Value> {
    let Some(make) = operation.query else { return Vec::new() };
    let mut own = generator_inline();
    let mut schema = make(&mut own).to_value();
    // Types that cannot stand inline are published with the others.
    for (name, definition) in own.take_definitions(true) {
        generator.definitions_mut().entry(name).or_insert(definition);
    }
    tidy(&mut schema);
    let required: Vec<&str> =
        schema["required"].as_array().into_iter().flatten().filter_map(Value::as_str).collect();
    let properties = schema["properties"].as_object();
    properties
        .into_iter()
        .flatten()
        .map(|(name, property)| {
            let mut property = property.clone();
            let says = property.as_object_mut().and_then(|o| o.remove("description"));
            let says = says.as_ref().and_then(Value::as_str).unwrap_or_default();
            // What each word means stands with the type that is answered.
            let items = property.get_mut("items").and_then(Value::as_object_mut);
            items.and_then(|items| items.remove("description"));
            parameter("query", name, required.contains(&name.as_str()), says, property)
        })
        .collect()
}

fn header_parameters(operation: &Operation) -> Vec<Value> {
    let key = json!({
        "type": "string",
        "minLength": 1,
        "maxLength": 257,
        "pattern": "^(\"[!#-~]{1,255}\"|[!#-~]{1,255})$",
        "examples": ["\"0198c6a2-7d5e-7000-8000-000000000001\""],
    });
    let tag = json!({ "type": "string", "examples": ["\"3f5a1c0e9b7d2468\""] });
    // It is looked at, and nothing waits for it: not a PUT, which creates without.
    let without = operation.method == Method::DELETE
        && operation.takes_if_match
        && !operation.needs_if_match();
    [
        (
            "Idempotency-Key",
            "A unique key of the caller's, best in quotes; the same key and body give the same \
             answer for 24 hours.",
            operation.takes_idempotency_key.then_some(false),
            key,
        ),
        (
            "If-Match",
            "The `ETag` that was read; needed to change what exists.",
            (operation.takes_if_match && !without).then(|| operation.needs_if_match()),
            tag.clone(),
        ),
        (
            "If-Match",
            "The `ETag` that was read, to take away no other version; may be left out.",
            without.then_some(false),
            tag.clone(),
        ),
        (
            "If-None-Match",
            "An `ETag` already held; 304 if it still holds.",
            operation.takes_if_none_match.then_some(false),
            tag.clone(),
        ),
        (
            "If-None-Match",
            "`*`: only if there is nothing yet.",
            (operation.method == Method::PUT && operation.takes_if_match).then_some(false),
            json!({ "type": "string", "enum": ["*"], "examples": ["*"] }),
        ),
        (
            "Prefer",
            "`return=minimal`: the answer is spared (204); \
             `handling=strict`: what cannot be done of this header is refused (RFC 7240).",
            operation.can_be_brief.then_some(false),
            json!({ "type": "string", "examples": ["return=minimal"] }),
        ),
        (
            "Accept-Language",
            "The languages of the texts, most wanted first; English without one that is spoken.",
            operation.speaks.then_some(false),
            json!({ "type": "string", "examples": ["de, en;q=0.5"] }),
        ),
        (
            "X-Request-Id",
            "The caller's id for this request, for its log and ours; another is made if it is not \
             of this form.",
            Some(false),
            json!({ "type": "string", "examples": ["booking-4711-1"] }),
        ),
    ]
    .into_iter()
    .filter_map(|(name, says, required, schema)| {
        Some(parameter("header", name, required?, says, schema))
    })
    .collect()
}
