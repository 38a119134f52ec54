//! Callers of what was released go on working.
//!
//! `openapi/released/` holds the document of each release, examples aside;
//! `RELEASE=1 cargo test --workspace compatible` adds that of this build. What a
//! later version moved on purpose stands line by line in `VERSION.moved.txt`
//! beside the document that it moves away from, and for people in
//! `openapi/CHANGELOG.md`; nothing else may move.

use std::collections::BTreeSet;

use etui_service::http::document::document;
use etui_tests::compatible::breaks;
use etui_tests::openapi_folder;
use serde_json::{Value, json};

#[test]
fn compatible_with_every_release() {
    let folder = openapi_folder().join("released");
    let document = without_examples(document());
    if std::env::var_os("RELEASE").is_some() {
        let version = document["info"]["version"].as_str().unwrap_or_default();
        let text = serde_json::to_string(&document).expect("JSON");
        std::fs::create_dir_all(&folder).expect("the folder of the releases");
        std::fs::write(folder.join(format!("{version}.json")), text + "\n").expect("a file");
    }
    let mut seen = 0;
    let all = std::fs::read_dir(&folder).expect("openapi/released").flatten();
    for entry in all.filter(|entry| entry.path().extension().is_some_and(|e| e == "json")) {
        let text = std::fs::read_to_string(entry.path()).expect("a released document");
        let released: Value = serde_json::from_str(&text).expect("JSON");
        let moved = std::fs::read_to_string(entry.path().with_extension("moved.txt"));
        let moved: BTreeSet<String> =
            moved.unwrap_or_default().lines().map(str::to_owned).collect();
        let is_same_line = line_of(&released) == line_of(&document);
        assert!(moved.is_empty() || !is_same_line, "within a version nothing moves");
        let found: BTreeSet<String> = breaks(&released, &document).into_iter().collect();
        let name = entry.file_name();
        let more: Vec<&str> = found.difference(&moved).map(String::as_str).collect();
        assert!(more.is_empty(), "callers of {name:?} break:\n{}", more.join("\n"));
        let less: Vec<&str> = moved.difference(&found).map(String::as_str).collect();
        assert!(less.is_empty(), "told as moved from {name:?}, and is not:\n{}", less.join("\n"));
        seen += 1;
    }
    assert!(0 < seen, "no released document in {}", folder.display());
}

/// The part of a version within which nothing breaks: major and minor, before 1.0.
fn line_of(document: &Value) -> String {
    let version = document["info"]["version"].as_str().unwrap_or_default();
    version.rsplit_once('.').map_or(version, |(line, _)| line).to_owned()
}

fn without_examples(mut value: Value) -> Value {
    fn strip(value: &mut Value) {
        match value {
            Value::Object(object) => {
                // A property of that name would be a schema, hence an object with a type.
                object.retain(|key, held| {
                    !matches!(key.as_str(), "example" | "examples") || held.get("type").is_some()
                });
                object.values_mut().for_each(strip);
            }
            Value::Array(items) => items.iter_mut().for_each(strip),
            Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
        }
    }
    strip(&mut value);
    value
}

fn small() -> Value {
    json!({
        "paths": { "/v1/things": { "post": {
            "operationId": "make_thing",
            "security": [{ "token": ["compute"] }],
            "parameters": [{ "name": "n", "in": "query", "required": false,
                "schema": { "type": "integer", "minimum": 1, "maximum": 9 } }],
            "requestBody": { "required": true, "content": { "application/json": {
                "schema": { "$ref": "#/components/schemas/Ask" } } } },
            "responses": { "201": { "content": { "application/json": {
                "schema": { "$ref": "#/components/schemas/Thing" } } } } },
        } } },
        "components": { "schemas": {
            "Ask": { "type": "object", "additionalProperties": false, "required": ["name"],
                "properties": {
                    "name": { "type": "string", "maxLength": 9 },
                    "kind": { "type": "string", "enum": ["a", "b"] },
                    "how": { "oneOf": [{ "type": "string" }, { "type": "object" }] },
                } },
            "Thing": { "type": "object", "required": ["id", "kind"], "properties": {
                "id": { "type": "string" },
                "kind": { "type": "string", "enum": ["a", "b"] },
                "parts": { "type": "array", "items": { "$ref": "#/components/schemas/Thing" } },
            } },
        } },
    })
}

/// Each change alone: what breaks a caller is found, what does not is let be.
#[test]
fn compatible_means_that_callers_do_not_break() {
    const OPERATION: &str = "/paths/~1v1~1things/post";
    const ASK: &str = "/components/schemas/Ask";
    const THING: &str = "/components/schemas/Thing";
    for (place, change, want) in [
        (format!("{OPERATION}/operationId"), json!("create_thing"), "its id was"),
        (format!("{OPERATION}/security"), json!([{ "token": ["admin"] }]), "another scope"),
        (format!("{OPERATION}/security"), json!([{}]), ""),
        (format!("{OPERATION}/parameters"), json!([]), "is gone"),
        (format!("{OPERATION}/parameters/0/required"), json!(true), "become required"),
        (format!("{OPERATION}/parameters/0/schema/maximum"), json!(8), "maximum was"),
        (format!("{OPERATION}/parameters/0/schema/maximum"), json!(10), ""),
        (format!("{OPERATION}/responses"), json!({ "200": {} }), "201 is gone"),
        ("/paths".to_owned(), json!({}), "POST /v1/things is gone"),
        (format!("{ASK}/required"), json!(["name", "kind"]), "become required"),
        (format!("{ASK}/required"), json!([]), ""),
        (format!("{ASK}/properties/name/maxLength"), json!(8), "maxLength was"),
        (format!("{ASK}/properties/name/type"), json!("integer"), "its type was"),
        (format!("{ASK}/properties/kind/enum"), json!(["a"]), "the word `b` is gone"),
        (format!("{ASK}/properties/kind/enum"), json!(["a", "b", "c"]), ""),
        (format!("{ASK}/properties/kind"), json!({}), ""),
        (format!("{ASK}/properties/how/oneOf"), json!([{ "type": "string" }]), "alternative 1"),
        (format!("{ASK}/properties"), json!({ "name": {} }), "is gone"),
        (format!("{THING}/required"), json!(["id"]), "no longer always there"),
        (format!("{THING}/required"), json!(["id", "kind", "parts"]), ""),
        (format!("{THING}/properties/kind/enum"), json!(["b"]), "the word `a` is gone"),
        (format!("{THING}/properties/kind/enum"), json!(["a", "b", "c"]), ""),
        (format!("{THING}/properties/id/type"), json!("integer"), "its type was"),
        (format!("{THING}/properties/parts/items"), json!({ "type": "string" }), "its type was"),
        (format!("{THING}/properties/more"), json!({ "type": "string" }), ""),
    ] {
        let old = small();
        let mut new = old.clone();
        match new.pointer_mut(&place) {
            Some(held) => *held = change.clone(),
            None => new["components"]["schemas"]["Thing"]["properties"]["more"] = change.clone(),
        }
        let found = breaks(&old, &new).join("\n");
        assert_eq!(found.is_empty(), want.is_empty(), "{place} = {change}: {found}");
        assert!(found.contains(want), "{place} = {change}: {found}");
    }
    assert_eq!(breaks(&small(), &small()), Vec::<String>::new());
}
