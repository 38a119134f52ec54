//! The document of the interface as it is checked in (`openapi/openapi.json`). It is what is
//! served, and what bodies and queries are held against: what it says of them is what holds.
//!
//! `http::openapi` makes it, with the feature `describe`; the program has only what was made.

use std::collections::BTreeMap;
use std::io::Read;
use std::sync::LazyLock;

#[cfg(feature = "describe")]
use etui_schema::describe::{JsonSchema, Schema, SchemaGenerator};
use flate2::read::GzDecoder;
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value, json};

/// Makes the schema of one type in a generator shared by the whole document.
#[cfg(feature = "describe")]
pub(crate) type SchemaOf = fn(&mut SchemaGenerator) -> Schema;
/// That there is one, where the document is not made.
#[cfg(not(feature = "describe"))]
#[derive(Debug, Clone, Copy)]
pub(crate) struct SchemaOf;

#[cfg(feature = "describe")]
pub(crate) fn schema_of<T: JsonSchema>() -> SchemaOf {
    |generator| generator.subschema_for::<T>()
}
#[cfg(not(feature = "describe"))]
#[expect(clippy::extra_unused_type_parameters, reason = "asked as where one is made")]
pub(crate) fn schema_of<T>() -> SchemaOf {
    SchemaOf
}

/// The document without blanks, compressed (`build.rs`).
pub(crate) const PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/openapi.json.gz"));

/// The document without blanks.
pub(crate) static TEXT: LazyLock<String> = LazyLock::new(|| {
    let mut text = String::new();
    // Where it cannot be read there is no schema in it, and nothing is let in.
    let read = GzDecoder::new(PACKED).read_to_string(&mut text);
    read.map(|_| text).unwrap_or_default()
});

/// What is looked up in it.
pub(crate) static PARTS: LazyLock<Parts<'static>> = LazyLock::new(|| Parts::of(&TEXT));

/// What a patched record has to be whose PUT there is none of: no part of the document.
const UNPUBLISHED: &str = include_str!("unpublished.json");

/// What a body of this type has to be.
pub(crate) fn body(name: &str) -> Option<Value> {
    let own = || serde_json::from_str::<Map<String, Value>>(UNPUBLISHED).ok()?.shift_remove(name);
    PARTS.schema(name).or_else(|| Some(PARTS.whole(own()?)))
}

/// The whole document.
#[must_use]
pub fn document() -> Value {
    serde_json::from_str(&TEXT).unwrap_or_default()
}

/// What is looked up in a document.
#[derive(Default, Deserialize)]
pub struct Parts<'d> {
    #[serde(borrow)]
    paths: BTreeMap<&'d str, BTreeMap<&'d str, Asked<'d>>>,
    components: Components<'d>,
}

#[derive(Default, Deserialize)]
struct Components<'d> {
    #[serde(borrow)]
    schemas: BTreeMap<&'d str, &'d RawValue>,
    parameters: BTreeMap<&'d str, Parameter<'d>>,
}

/// How an operation is asked.
#[derive(Deserialize)]
struct Asked<'d> {
    #[serde(rename = "operationId")]
    id: &'d str,
    #[serde(borrow, default)]
    parameters: Vec<Parameter<'d>>,
}

/// A parameter, or where it stands.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Parameter<'d> {
    #[serde(rename = "$ref")]
    refers: Option<&'d str>,
    name: &'d str,
    #[serde(rename = "in")]
    place: &'d str,
    required: bool,
    #[serde(borrow)]
    schema: Option<&'d RawValue>,
}

impl<'d> Parts<'d> {
    /// Those of this text; none of one that is no document.
    #[must_use]
    pub fn of(text: &'d str) -> Self {
        serde_json::from_str(text).unwrap_or_default()
    }

    /// The names of the schemas, in order.
    pub fn names(&self) -> impl Iterator<Item = &'d str> {
        self.components.schemas.keys().copied()
    }

    /// The schema of this name, a document of its own with all it refers to.
    #[must_use]
    pub fn schema(&self, name: &str) -> Option<Value> {
        let schema = self.named(name)?;
        let head = json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": format!("/v1/schemas/{name}"),
        });
        let whole = head.as_object().cloned().into_iter().flatten().chain(schema);
        Some(self.whole(Value::Object(whole.collect())))
    }

    /// What the query of an operation has to be, as an object.
    pub(crate) fn query(&self, id: &str) -> Option<Value> {
        let asked = self.paths.values().flat_map(BTreeMap::values).find(|asked| asked.id == id)?;
        let (mut properties, mut required) = (Map::new(), Vec::new());
        for parameter in &asked.parameters {
            let named = parameter.refers.and_then(|place| place.rsplit('/').next());
            let parameter =
                named.map_or(Some(parameter), |name| self.components.parameters.get(name))?;
            if parameter.place == "query" {
                let schema = serde_json::from_str(parameter.schema?.get()).ok()?;
                properties.insert(parameter.name.to_owned(), schema);
                required.extend(parameter.required.then_some(parameter.name));
            }
        }
        Some(self.whole(json!({
            "type": "object",
            "properties": properties,
            "required": required,
            "additionalProperties": false,
        })))
    }

    fn named(&self, name: &str) -> Option<Map<String, Value>> {
        let schema = self.components.schemas.get(name)?.get();
        let mut schema: Map<String, Value> = serde_json::from_str(schema).ok()?;
        // Whole answers are shown where the operations are.
        if schema.contains_key("properties") {
            schema.shift_remove("examples");
        }
        Some(schema)
    }

    /// A schema with all it refers to, directly or through others, under `$defs`.
    fn whole(&self, mut schema: Value) -> Value {
        let mut needed = Map::new();
        self.gather(&mut schema, &mut needed);
        if let Some(members) = schema.as_object_mut().filter(|_| !needed.is_empty()) {
            members.insert("$defs".to_owned(), needed.into());
        }
        schema
    }

    fn gather(&self, schema: &mut Value, needed: &mut Map<String, Value>) {
        match schema {
            Value::Object(members) => {
                if let Some(Value::String(target)) = members.get_mut("$ref")
                    && let Some(name) = target.strip_prefix("#/components/schemas/")
                {
                    let name = name.to_owned();
                    *target = format!("#/$defs/{name}");
                    if !needed.contains_key(&name)
                        && let Some(found) = self.named(&name)
                    {
                        // Its place is taken before what it refers to, which may be itself.
                        needed.insert(name.clone(), Value::Null);
                        let mut found = Value::Object(found);
                        self.gather(&mut found, needed);
                        needed.insert(name, found);
                    }
                }
                members.values_mut().for_each(|inner| self.gather(inner, needed));
            }
            Value::Array(items) => items.iter_mut().for_each(|inner| self.gather(inner, needed)),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
        }
    }
}
