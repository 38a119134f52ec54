//! The published schemas: made by schemars from the types of the wire, so
//! that limits are written once, and made plain for the tools that read them.

use etui_schema::describe::SchemaGenerator;
use etui_schema::describe::generate::SchemaSettings;
use etui_schema::vocabulary::Reference;
use serde_json::{Map, Value};

use super::grown;
use super::tidy::{spare_names, tidy};

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
