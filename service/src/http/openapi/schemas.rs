//! The published schemas: made by schemars from the types of the wire, so
//! that limits are written once, and made plain for the tools that read them.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::problem::Problem;
use etui_schema::vocabulary::Reference;
use schemars::SchemaGenerator;
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value, json};

use super::grown;
use crate::http::operation::SchemaOf;
use crate::http::routes;
use crate::http::tidy::{spare_names, tidy};

/// Where the document keeps its schemas.
pub(super) const PLACE: &str = "/components/schemas";

/// A generator that keeps every named type apart.
pub(super) fn generator() -> SchemaGenerator {
    let mut settings = SchemaSettings::draft2020_12();
    settings.definitions_path = PLACE.into();
    settings.meta_schema = None;
    settings.into_generator()
}

/// A generator whose types stand inline, for reading their properties.
pub(super) fn generator_inline() -> SchemaGenerator {
    let mut settings = SchemaSettings::draft2020_12();
    settings.definitions_path = PLACE.into();
    settings.meta_schema = None;
    settings.inline_subschemas = true;
    settings.into_generator()
}

/// What a generator has met, by name, plain and in order.
pub(super) fn definitions(mut generator: SchemaGenerator) -> Map<String, Value> {
    let mut schemas = generator.take_definitions(true);
    for (name, schema) in &mut schemas {
        tidy(schema);
        say_once(schema);
        // What the members of a short view mean stands with the whole.
        if name.starts_with(SHORT) {
            grown::undescribed(schema);
        }
    }
    schemas.insert(REFERENCE.to_owned(), reference());
    schemas.sort_keys();
    schemas
}

/// What the types of short views are called before they are called like the whole.
const SHORT: &str = "Short";

/// The type of what callers name themselves; everything else refers to it.
const REFERENCE: &str = "Reference";

fn reference() -> Value {
    let mut schema = generator_inline().subschema_for::<Reference>().to_value();
    let says = "The caller's own name for something. No name of a person is needed.";
    if let Some(members) = schema.as_object_mut() {
        members.insert("description".to_owned(), says.into());
    }
    schema
}

/// References point to their one type, a date needs no example, as its format says it, and no
/// member is described by its name.
#[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
pub(super) fn say_once(schema: &mut Value) {
    match schema {
        Value::Object(members) => {
            let pattern = members.get("pattern").and_then(Value::as_str);
            if pattern.is_some_and(|pattern| pattern.contains("A-Za-z0-9._~-")) {
                for key in ["type", "minLength", "maxLength", "pattern", "examples"] {
                    members.remove(key);
                }
                members.insert("$ref".to_owned(), format!("#{PLACE}/{REFERENCE}").into());
            }
            if members.get("format").is_some_and(|f| f == "date" || f == "date-time") {
                members.remove("examples");
            }
            spare_names(members);
            members.values_mut().for_each(say_once);
        }
        Value::Array(items) => items.iter_mut().for_each(say_once),
        _ => {}
    }
}

/// Every published schema by its name, each a document of its own.
#[must_use]
pub fn schemas() -> BTreeMap<String, Value> {
    let mut names = generator();
    for operation in routes::operations() {
        for make in operation.body.iter().chain(
            operation.answers.iter().flat_map(|a| a.content.iter().filter_map(|(_, s)| s.as_ref())),
        ) {
            make(&mut names);
        }
    }
    names.subschema_for::<Problem>();
    let mut defs = definitions(names);
    let (asked, answered) = ways();
    grown::open(&mut defs, asked, answered);
    defs.iter().map(|(name, schema)| (name.clone(), standalone(name, schema, &defs))).collect()
}

/// The types that callers send, and those that they read.
fn ways() -> (BTreeSet<String>, BTreeSet<String>) {
    let mut names = generator();
    let mut name = |make: SchemaOf| grown::named(&make(&mut names).to_value());
    let (mut asked, mut answered) = (BTreeSet::new(), BTreeSet::from(["Problem".to_owned()]));
    for operation in routes::operations() {
        asked.extend(operation.body.into_iter().flat_map(&mut name));
        let content = operation.answers.iter().flat_map(|answer| &answer.content);
        answered.extend(content.filter_map(|(_, schema)| *schema).flat_map(&mut name));
    }
    (asked, answered)
}

/// One schema with all it refers to.
fn standalone(name: &str, schema: &Value, defs: &Map<String, Value>) -> Value {
    let mut whole = json!({
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": format!("/v1/schemas/{name}"),
    });
    let mut body = schema.clone();
    let mut needed = Map::new();
    gather(&body, defs, &mut needed);
    relocate(&mut body);
    needed.values_mut().for_each(relocate);
    if let (Some(target), Value::Object(members)) = (whole.as_object_mut(), body) {
        target.extend(members);
        if !needed.is_empty() {
            target.insert("$defs".to_owned(), Value::Object(needed));
        }
    }
    whole
}

/// Collects the definitions a schema refers to, directly or through others.
#[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
fn gather(schema: &Value, defs: &Map<String, Value>, needed: &mut Map<String, Value>) {
    match schema {
        Value::Object(members) => {
            if let Some(name) =
                members.get("$ref").and_then(Value::as_str).and_then(|r| r.rsplit('/').next())
                && !needed.contains_key(name)
                && let Some(found) = defs.get(name)
            {
                needed.insert(name.to_owned(), found.clone());
                gather(found, defs, needed);
            }
            members.values().for_each(|inner| gather(inner, defs, needed));
        }
        Value::Array(items) => items.iter().for_each(|inner| gather(inner, defs, needed)),
        _ => {}
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
fn relocate(schema: &mut Value) {
    match schema {
        Value::Object(members) => {
            if let Some(Value::String(target)) = members.get_mut("$ref") {
                *target = target.replace("#/components/schemas/", "#/$defs/");
            }
            members.values_mut().for_each(relocate);
        }
        Value::Array(items) => items.iter_mut().for_each(relocate),
        _ => {}
    }
}
