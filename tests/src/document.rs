//! The interface as its own OpenAPI document tells it: what a test asks of
//! every operation, it asks of those that will be added later too.

use std::collections::BTreeMap;

use jsonschema::Validator;
use serde_json::{Value, json};

/// One operation of the document.
#[derive(Debug, Clone)]
pub struct Operation {
    /// Its id.
    pub id: String,
    /// Its method, in capitals.
    pub method: String,
    /// Its path template.
    pub path: String,
    /// The scope it needs, if any.
    pub scope: Option<String>,
    /// Whether it is closed to those without a token.
    pub needs_token: bool,
    /// Whether it takes a JSON body.
    pub takes_body: bool,
    /// The names of its query parameters.
    pub query: Vec<String>,
    /// The names of its header parameters.
    pub headers: Vec<String>,
    /// The names of its path parameters.
    pub places: Vec<String>,
    /// Media types by status.
    pub answers: BTreeMap<u16, Vec<String>>,
    /// The whole operation object.
    pub object: Value,
}

impl Operation {
    /// Whether it can answer with a body when all goes well.
    #[must_use]
    pub fn has_content(&self) -> bool {
        self.answers.range(200..300).any(|(_, media)| !media.is_empty())
    }
}

/// An OpenAPI document.
#[derive(Debug, Clone)]
pub struct Document {
    /// The JSON itself.
    pub value: Value,
}

impl Document {
    /// Takes a document.
    #[must_use]
    pub fn new(value: Value) -> Self {
        Self { value }
    }

    /// The document of this build.
    #[must_use]
    pub fn of_this_build() -> Self {
        Self::new(etui_service::http::document::document())
    }

    /// Every operation, in the order of the document.
    #[must_use]
    pub fn operations(&self) -> Vec<Operation> {
        let mut all = Vec::new();
        for (path, item) in members(&self.value["paths"]) {
            for (method, object) in members(item) {
                if object.get("operationId").is_some() {
                    all.push(operation(path, method, &self.whole(object)));
                }
            }
        }
        all
    }

    /// An operation with what it shares with others in place.
    fn whole(&self, operation: &Value) -> Value {
        let mut whole = operation.clone();
        let follow = |one: &mut Value| {
            let target = one["$ref"].as_str().and_then(|target| target.strip_prefix('#'));
            if let Some(held) = target.and_then(|pointer| self.value.pointer(pointer)) {
                *one = held.clone();
            }
        };
        let parameters = whole.get_mut("parameters").and_then(Value::as_array_mut);
        parameters.into_iter().flatten().for_each(follow);
        let responses = whole.get_mut("responses").and_then(Value::as_object_mut);
        responses.into_iter().flat_map(|all| all.values_mut()).for_each(follow);
        whole
    }

    /// One operation by its id.
    ///
    /// # Panics
    /// If there is none of that id.
    #[must_use]
    pub fn operation(&self, id: &str) -> Operation {
        match self.operations().into_iter().find(|operation| operation.id == id) {
            Some(found) => found,
            None => panic!("the document has no operation `{id}`"),
        }
    }

    /// A validator of one schema object of the document.
    ///
    /// # Panics
    /// If the schema is no JSON Schema.
    #[must_use]
    pub fn validator(&self, schema: &Value) -> Validator {
        let whole = json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "components": { "schemas": self.value["components"]["schemas"] },
            "allOf": [schema],
        });
        match jsonschema::options().should_validate_formats(true).build(&whole) {
            Ok(validator) => validator,
            Err(error) => panic!("not a schema: {error}: {schema}"),
        }
    }
}

/// The members of an object; none for anything else.
pub fn members(value: &Value) -> impl Iterator<Item = (&str, &Value)> {
    value.as_object().into_iter().flatten().map(|(name, member)| (name.as_str(), member))
}

/// Calls `see` with every value inside a value, itself included.
pub fn visit<'v>(value: &'v Value, see: &mut impl FnMut(&'v Value)) {
    see(value);
    match value {
        Value::Object(object) => object.values().for_each(|inner| visit(inner, see)),
        Value::Array(items) => items.iter().for_each(|inner| visit(inner, see)),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

fn operation(path: &str, method: &str, object: &Value) -> Operation {
    let parameters = |kind: &str| {
        let all = object["parameters"].as_array().into_iter().flatten();
        let named = all.filter(|p| p["in"] == kind).filter_map(|p| p["name"].as_str());
        named.map(str::to_owned).collect()
    };
    let scopes = object["security"].as_array().into_iter().flatten();
    let needs_token = scopes.clone().any(|s| s.get("token").is_some());
    let scope = scopes.filter_map(|s| s["token"][0].as_str()).map(str::to_owned).next();
    let media = |response: &Value| -> Vec<String> {
        members(&response["content"]).map(|(name, _)| name.to_owned()).collect()
    };
    // What any request may be refused with stands once, as the default.
    let any = media(&object["responses"]["default"]);
    let says = object["responses"]["default"]["description"].as_str().unwrap_or_default();
    let alike = says.split_whitespace().filter_map(|word| word.parse::<u16>().ok());
    let mut answers: BTreeMap<u16, Vec<String>> =
        alike.map(|status| (status, any.clone())).collect();
    answers.extend(
        members(&object["responses"])
            .filter_map(|(status, response)| Some((status.parse::<u16>().ok()?, media(response)))),
    );
    Operation {
        id: object["operationId"].as_str().unwrap_or_default().to_owned(),
        method: method.to_ascii_uppercase(),
        path: path.to_owned(),
        scope,
        needs_token,
        takes_body: object["requestBody"]["content"].get("application/json").is_some(),
        query: parameters("query"),
        headers: parameters("header"),
        places: parameters("path"),
        answers,
        object: object.clone(),
    }
}
