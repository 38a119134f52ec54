//! The document of the interface as it is checked in (`openapi/openapi.json`). It is what is
//! served, and what bodies and queries are held against: what it says of them is what holds.
//!
//! [`openapi`](super::openapi) makes it, with the feature `describe`; the program has only what was made.

use std::collections::BTreeMap;
use std::io::Read;
use std::sync::LazyLock;

use flate2::read::GzDecoder;
use serde::Deserialize;
use serde_json::value::RawValue;
use serde_json::{Map, Value, json};

/// The document without blanks, compressed (`build.rs`).
pub(crate) const PACKED: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/openapi.json.gz"));

/// The document without blanks.
pub(crate) static TEXT: LazyLock<String> = LazyLock::new(|| {
    let mut text = String::new();
    // Without it nothing that is refused by it is let in: `Shape` says so.
    let read = GzDecoder::new(PACKED).read_to_string(&mut text);
    read.map(|_| text).unwrap_or_default()
});

static PARTS: LazyLock<Parts<'static>> = LazyLock::new(|| Parts::of(&TEXT));

/// The whole document.
#[must_use]
pub fn document() -> Value {
    serde_json::from_str(&TEXT).unwrap_or_default()
}

/// The names of the schemas, in order.
pub(crate) fn names() -> impl Iterator<Item = &'static str> {
    PARTS.components.schemas.keys().copied()
}

/// The schema of this name, a document of its own with all it refers to.
pub(crate) fn schema(name: &str) -> Option<Value> {
    PARTS.schema(name)
}

/// What the query of an operation has to be, as an object.
pub(crate) fn query(id: &str) -> Option<Value> {
    PARTS.query(id)
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

    /// Every schema by its name, each a document of its own.
    #[must_use]
    pub fn schemas(&self) -> BTreeMap<&'d str, Value> {
        let names = self.components.schemas.keys();
        names.filter_map(|name| Some((*name, self.schema(name)?))).collect()
    }

    fn schema(&self, name: &str) -> Option<Value> {
        let mut schema = self.named(name)?;
        // What an answer may look like stands with the operations.
        if schema.contains_key("properties") {
            schema.shift_remove("examples");
        }
        let head = json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": format!("/v1/schemas/{name}"),
        });
        let whole = head.as_object().cloned().into_iter().flatten().chain(schema);
        Some(self.whole(Value::Object(whole.collect())))
    }

    fn query(&self, id: &str) -> Option<Value> {
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
        serde_json::from_str(self.components.schemas.get(name)?.get()).ok()
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
