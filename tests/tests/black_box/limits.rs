//! What the document says of a value is what holds: the same table of
//! operations as in [`crate::matrix`], with values just outside.

use etui_schema::problem::ErrorCode;
use etui_tests::document::{Document, members};
use serde_json::{Value, json};

use crate::matrix::cases;

/// Absent is absent: `null` is refused wherever the schema does not offer it,
/// and so is a list where an object is meant.
#[test]
fn with_null_or_a_list_where_the_schema_has_neither() {
    let document = Document::of_this_build();
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        let content = &case.operation.object["requestBody"]["content"]["application/json"];
        let schema = followed(&document, &content["schema"]);
        for (name, property) in members(&schema["properties"]) {
            let property = followed(&document, property);
            let mut wrong = vec![json!(null)];
            if property["type"] == "object" {
                wrong.push(json!([]));
                wrong.push(json!([1]));
            }
            let typed = ["type", "oneOf", "anyOf"].iter().any(|key| property.get(key).is_some());
            for value in wrong.into_iter().filter(|_| typed) {
                let mut body = case.body();
                body[name] = value.clone();
                let sent = case.good.clone().json(&body);
                let what = format!("{name}: {value}");
                let (_, problem) = case.refuses(&sent, &what, ErrorCode::InvalidValue);
                let at = format!("#/{name}");
                let told = problem.errors.iter().any(|fault| fault.pointer == at);
                assert!(told, "{}: {what}: {problem}", case.operation.id);
            }
        }
    }
}

/// A schema behind its reference.
fn followed<'d>(document: &'d Document, schema: &'d Value) -> &'d Value {
    let target = schema["$ref"].as_str().map(|target| target.trim_start_matches('#'));
    target.and_then(|target| document.value.pointer(target)).unwrap_or(schema)
}

/// What the document says of a parameter is what holds.
#[test]
fn with_a_parameter_that_the_document_does_not_allow() {
    for case in cases().iter().filter(|case| !case.operation.query.is_empty()) {
        let parameters = case.operation.object["parameters"].as_array().into_iter().flatten();
        for parameter in parameters.filter(|p| p["in"] == "query") {
            let name = parameter["name"].as_str().unwrap_or_default();
            let schema = &parameter["schema"];
            let mut wrong: Vec<String> = Vec::new();
            wrong.extend(schema["minimum"].as_i64().map(|limit| (limit - 1).to_string()));
            wrong.extend(schema["maximum"].as_i64().map(|limit| (limit + 1).to_string()));
            let longest =
                schema["maxLength"].as_u64().and_then(|limit| usize::try_from(limit).ok());
            wrong.extend(longest.map(|limit| "x".repeat(limit + 1)));
            let formed = ["enum", "format", "pattern"].iter().any(|key| schema.get(key).is_some());
            if formed || schema["type"] == "boolean" || schema["type"] == "integer" {
                wrong.push("no%20such%20word".to_owned());
            }
            for value in wrong {
                let mut sent = case.good.clone();
                let kept: Vec<&str> = sent.target.split(['?', '&']).skip(1).collect();
                let others = kept.iter().filter(|pair| !pair.starts_with(&format!("{name}=")));
                let query: Vec<&str> = others.copied().collect();
                sent.target = format!("{}?{name}={value}&{}", sent.path(), query.join("&"));
                sent.target = sent.target.trim_end_matches('&').to_owned();
                let what = format!("{name}={value}");
                let (_, problem) = case.refuses(&sent, &what, ErrorCode::UnreadableRequest);
                let at = format!("query:{name}");
                let told = problem.errors.iter().any(|fault| fault.pointer == at);
                assert!(told, "{}: {what}: {problem}", case.operation.id);
            }
        }
    }
}
