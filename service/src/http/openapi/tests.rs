//! Whether the document is whole is tested where it is served; here what the overlays owe it, and
//! that it says of what is sent no more and no less than the types do.

use etui_schema::describe::generate::SchemaSettings;
use etui_schema::plugins::PluginSettings;
use etui_schema::subscriptions::SubscriptionSettings;
use serde_json::{Map, Value, json};

use super::document;
use super::schemas::generator_inline;
use super::tidy::tidy;
use crate::http::document::{PARTS, SchemaOf, body};
use crate::http::routes;

#[test]
fn what_utoipa_would_drop_is_there() {
    let document = document(&Value::Null);
    let parameters = &document["paths"]["/v1/lots"]["get"]["parameters"];
    let state = parameters.as_array().into_iter().flatten().find(|p| p["name"] == "state");
    let words = state.map(|p| &p["schema"]["items"]["enum"]).and_then(Value::as_array);
    assert!(words.is_some_and(|w| w.contains(&json!("usable"))), "{parameters:#}");
    let id = &document["paths"]["/v1/lots/{id}"]["get"]["parameters"][0];
    assert_eq!(id["$ref"], "#/components/parameters/Id", "{id:#}");
    let id = &document["components"]["parameters"]["Id"];
    assert_eq!(id["schema"]["format"], "uuid", "{id:#}");
}

/// What a body and a query are held against is looked up in the document: nothing that their types
/// ask for may be lost on the way there.
#[test]
fn the_document_asks_for_what_the_types_ask_for() {
    let (mut bodies, mut queries) = (0, 0);
    for operation in routes::operations() {
        if let Some(make) = operation.body {
            of_a_body(make);
            bodies += 1;
        }
        if let Some(make) = operation.query {
            let mut said = make(&mut generator_inline()).to_value();
            tidy(&mut said);
            assert_eq!(bare(&PARTS.query(operation.id).unwrap()), bare(&said), "{}", operation.id);
            queries += 1;
        }
    }
    assert!(50 < bodies && 30 < queries, "{bodies} bodies, {queries} queries");
    of_a_body(|generator| generator.subschema_for::<PluginSettings>());
    of_a_body(|generator| generator.subschema_for::<SubscriptionSettings>());
}

fn of_a_body(make: SchemaOf) {
    let mut generator = SchemaSettings::draft2020_12().into_generator();
    let refers = make(&mut generator).to_value();
    let name = refers["$ref"].as_str().and_then(|place| place.rsplit('/').next()).unwrap();
    let mut all = generator.take_definitions(true);
    let mut said = all.shift_remove(name).unwrap();
    if !all.is_empty() {
        said["$defs"] = all.into();
    }
    tidy(&mut said);
    assert_eq!(bare(&body(name).unwrap()), bare(&said), "{name}");
}

/// A schema without what is only said of it, and with what references are in their place.
fn bare(schema: &Value) -> Value {
    const SAID: [&str; 6] = ["$schema", "$id", "title", "description", "examples", "default"];
    match schema {
        Value::Object(members) => {
            let is_reference = members.get("$ref").is_some_and(|to| to == "#/$defs/Reference");
            let reference = is_reference.then(|| PARTS.schema("Reference").unwrap());
            let written = reference.iter().filter_map(Value::as_object).flatten();
            let own = members.iter().filter(|(key, _)| !(is_reference && *key == "$ref"));
            let kept = own.chain(written).filter(|(key, value)| {
                let is_empty = value
                    .as_array()
                    .is_some_and(|all| key.as_str() == "required" && all.is_empty());
                // A member that is called so is a schema.
                !(SAID.contains(&key.as_str()) && !value.is_object() || is_empty)
            });
            let mut kept: Map<_, _> = kept.map(|(key, one)| (key.clone(), bare(one))).collect();
            if let Some(definitions) = kept.get_mut("$defs").and_then(Value::as_object_mut) {
                definitions.shift_remove("Reference");
            }
            kept.retain(|key, value| key != "$defs" || *value != json!({}));
            kept.into()
        }
        Value::Array(items) => items.iter().map(bare).collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => schema.clone(),
    }
}
