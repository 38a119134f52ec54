//! The OpenAPI document is whole, and the service does what it says.

use std::collections::BTreeSet;

use etui_schema::service::Capabilities;
use etui_tests::document::{Document, members, visit};
use etui_tests::tour::Tour;
use serde_json::Value;

#[test]
fn every_operation_is_described() {
    let document = Document::of_this_build();
    let operations = document.operations();
    let tags: BTreeSet<&str> = document.value["tags"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|tag| tag["name"].as_str())
        .collect();
    let mut ids = BTreeSet::new();
    for operation in &operations {
        let id = &operation.id;
        assert!(ids.insert(id.clone()), "{id} stands twice");
        assert!(id.bytes().all(|b| b.is_ascii_lowercase() || b == b'_'), "{id}");
        for member in ["summary", "description"] {
            let text = operation.object[member].as_str().unwrap_or_default();
            assert!(3 < text.len(), "{id} has no {member}");
        }
        let tag = operation.object["tags"][0].as_str().unwrap_or_default();
        assert!(tags.contains(tag), "{id} has the unknown tag `{tag}`");
        assert!(operation.answers.keys().any(|s| (200..300).contains(s)), "{id}");
        for (status, response) in members(&operation.object["responses"]) {
            let says = response["description"].as_str().unwrap_or_default();
            assert!(!says.is_empty(), "{id} does not describe its {status}");
        }
        for parameter in operation.object["parameters"].as_array().into_iter().flatten() {
            let says = parameter["description"].as_str().unwrap_or_default();
            assert!(!says.is_empty(), "{id} does not describe {}", parameter["name"]);
        }
    }
    assert!(!operations.is_empty());
}

#[test]
fn every_refusal_is_documented() {
    for operation in Document::of_this_build().operations() {
        let id = &operation.id;
        let mut wanted = vec![400, 403, 405, 406, 500];
        if operation.needs_token {
            wanted.extend([401, 429]);
        }
        if operation.takes_body {
            wanted.extend([408, 413, 415, 422]);
        }
        if operation.headers.iter().any(|name| name == "If-Match") {
            wanted.push(412);
            // What opens a way in is taken away without a version too.
            let ends = ["close_", "revoke_", "remove_"].iter().any(|verb| id.starts_with(verb));
            wanted.extend((!ends).then_some(428));
        }
        if operation.headers.iter().any(|name| name == "Idempotency-Key") {
            wanted.extend([409, 422, 503, 507]);
        }
        let any = &operation.object["responses"]["default"]["content"];
        assert!(any.get("application/problem+json").is_some(), "{id}");
        for status in wanted {
            let media = operation.answers.get(&status);
            let problem = |m: &Vec<String>| m.iter().any(|m| m == "application/problem+json");
            assert!(media.is_some_and(problem), "{id} does not document {status}");
        }
    }
}

#[test]
fn every_reference_leads_somewhere_and_every_schema_is_used() {
    let document = Document::of_this_build();
    let schemas = &document.value["components"]["schemas"];
    let mut used = BTreeSet::new();
    visit(&document.value, &mut |value| {
        if let Some(target) = value.get("$ref").and_then(Value::as_str) {
            let pointer = target.strip_prefix('#').unwrap_or("nowhere");
            assert!(document.value.pointer(pointer).is_some(), "{target} leads nowhere");
            used.insert(target.rsplit('/').next().unwrap_or_default().to_owned());
        }
    });
    for (name, schema) in members(schemas) {
        assert!(used.contains(name), "no operation uses the schema {name}");
        let twin = name.strip_suffix("Answered").and_then(|of| schemas.get(of)).is_some();
        let says = schema["description"].as_str().unwrap_or_default();
        let plain = twin || name.starts_with("PageOf");
        assert!(plain || !says.is_empty(), "the schema {name} is not described");
        for (property, inner) in members(&schema["properties"]) {
            // What the members of an answered twin mean stands with the type itself.
            // So it does of a short view.
            let short = name.starts_with("Short");
            let leads = inner.get("$ref").is_some() || twin || short || says_it_all(property);
            let says = inner["description"].as_str().unwrap_or_default();
            assert!(leads || !says.is_empty(), "{name}.{property} is not described");
        }
    }
}

/// Members whose names say what they hold: ids, instants, and what is called as it is.
fn says_it_all(name: &str) -> bool {
    const PLAIN: [&str; 29] = [
        "about",
        "always",
        "at",
        "because",
        "before",
        "citation",
        "class",
        "days",
        "description",
        "got",
        "id",
        "items",
        "name",
        "now",
        "on",
        "panel",
        "parameter",
        "points",
        "question",
        "questions",
        "reason",
        "record",
        "rule",
        "same_day",
        "seed",
        "share",
        "title",
        "types",
        "unit",
    ];
    ["_id", "_at", "_mm"].iter().any(|end| name.ends_with(end)) || PLAIN.contains(&name)
}

/// Two types of one name get a number behind it: then one of them is renamed.
#[test]
fn no_two_types_share_a_name() {
    let document = Document::of_this_build();
    let schemas = &document.value["components"]["schemas"];
    for (name, _) in members(schemas) {
        let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
        let twin = stem != name && schemas.get(stem).is_some();
        assert!(!twin, "{stem} and {name}: two types of one name");
    }
}

#[test]
fn every_operation_has_an_example_that_holds() {
    let document = Document::of_this_build();
    let tour = Tour::shared();
    for operation in document.operations() {
        let heard = tour.example(&operation.id);
        let (id, status) = (&operation.id, heard.answer.status);
        let response = &operation.object["responses"][status.to_string()];
        assert!(response.is_object(), "{id} answered {status}, which it does not document");
        let media = heard.answer.media();
        if heard.answer.body.is_empty() {
            assert!(response["content"].is_null(), "{id} answered without a body");
            continue;
        }
        let content = &response["content"][media];
        assert!(content.is_object(), "{id} answered {media}, which it does not document");
        if media == "application/json" && content["schema"].is_object() {
            hold(&document, &content["schema"], &heard.answer.json(), id);
        }
    }
}

#[test]
fn every_request_of_the_tour_is_one_that_the_document_allows() {
    let document = Document::of_this_build();
    for heard in Tour::shared().examples() {
        let operation = document.operation(heard.operation);
        assert_eq!(heard.request.method, operation.method, "{}", operation.id);
        assert!(fits(&operation.path, heard.request.path()), "{}", heard.request.target);
        let content = &operation.object["requestBody"]["content"];
        assert_eq!(heard.request.body.is_some(), content.is_object(), "{}", operation.id);
        if let Some(body) = heard.request.json_body() {
            let (_, media) = members(content).next().expect("a media type");
            hold(&document, &media["schema"], &body, &operation.id);
        }
    }
}

#[test]
fn capabilities_and_document_tell_the_same() {
    let told: Capabilities = Tour::shared().example("get_capabilities").answer.read();
    let told: BTreeSet<_> = told
        .operations
        .into_iter()
        .map(|o| (o.id, o.method, o.path, o.scope, o.needs_token))
        .collect();
    let documented: BTreeSet<_> = Document::of_this_build()
        .operations()
        .into_iter()
        .map(|o| (o.id, o.method, o.path, o.scope, o.needs_token))
        .collect();
    assert_eq!(told, documented);
}

fn hold(document: &Document, schema: &Value, value: &Value, id: &str) {
    let validator = document.validator(schema);
    let faults: Vec<String> = validator
        .iter_errors(value)
        .map(|error| format!("{} at {}", error, error.instance_path()))
        .collect();
    assert!(faults.is_empty(), "{id}: {}\n{value:#}", faults.join("\n"));
}

/// Whether a path fits a template.
fn fits(template: &str, path: &str) -> bool {
    let (template, path) = (template.split('/'), path.split('/'));
    template.clone().count() == path.clone().count()
        && template.zip(path).all(|(want, got)| want.starts_with('{') || want == got)
}
