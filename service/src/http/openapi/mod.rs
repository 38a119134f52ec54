//! The OpenAPI 3.1 document.
//!
//! Paths come from the table of operations through utoipa's document model
//! ([`paths`]); what that model would drop is laid over it as JSON:
//! schemas from schemars ([`schemas`], made plain by [`tidy`]), parameters
//! ([`parameters`]), headers of answers ([`headers`]) and the links between
//! operations ([`links`]). What is answered is open to what comes later ([`grown`]), and what
//! many operations have alike is said once ([`shared`]). Examples are as recorded in `openapi/examples.json`
//! by running every operation.

mod grown;
mod headers;
mod links;
mod parameters;
mod paths;
mod schemas;
mod shared;
mod tidy;
mod webhooks;

use std::collections::BTreeSet;

use etui_schema::problem::Problem;
use serde_json::{Value, json};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityScheme};
use utoipa::openapi::tag::TagBuilder;
use utoipa::openapi::{ComponentsBuilder, InfoBuilder, License, OpenApiBuilder};

use super::routes;

/// What every tag stands for, in the order of the document.
const TAGS: &[(&str, &str)] = &[
    ("labels", "Reading what is printed on and encoded in a packet."),
    ("configurations", "What a configuration does in a skin, and which one to take."),
    ("screening", "Whether a skin may be treated, when and under which conditions."),
    ("aftercare", "What happens after, on which day, and what cannot wait."),
    ("checks", "The pre-appointment check: the main job in one call."),
    ("records", "The studio's memory of clients, artists and machines."),
    ("training", "Practice, and what trainers sign off."),
    ("drawer", "Lots of sterile packets."),
    ("treatments", "What was used on whom, and how it healed."),
    ("reminders", "Due messages, shared among scripts."),
    ("plugins", "Tokens, packs and events for other programs."),
    ("service", "What the service says about itself."),
];

const ABOUT: &str = "etui reads sterile packets, compares needle configurations, screens clients, picks the \
needle from the drawer, records what went into whom and dates the aftercare. Its answers are expert judgement \
and common practice made explicit; it is not a medical device. Local rules and licensed practice (a doctor, a \
prescriber) come first. A type called `NAMEAnswered` is `NAME` as it is answered: as asked, or newer.";

/// The whole document with recorded requests and answers by operation id.
#[must_use]
pub fn document(examples: &Value) -> Value {
    let mut generator = schemas::generator();
    let open = OpenApiBuilder::new()
        .info(
            InfoBuilder::new()
                .title("etui")
                .version(env!("CARGO_PKG_VERSION"))
                .description(Some(ABOUT))
                .license(Some(license()))
                .build(),
        )
        .paths(paths::paths(&mut generator, examples))
        .components(Some(ComponentsBuilder::new().security_scheme("token", bearer()).build()))
        .tags(Some(
            TAGS.iter()
                .map(|(name, says)| TagBuilder::new().name(*name).description(Some(*says)).build()),
        ))
        .build();
    generator.subschema_for::<Problem>();
    let here = json!([{ "url": "/", "description": "The service that gave this document." }]);
    let mut document = serde_json::to_value(&open).unwrap_or_default();
    document["servers"] = here;
    for operation in routes::operations() {
        let method = operation.method.as_str().to_ascii_lowercase();
        let described = &mut document["paths"][operation.path][method];
        let parameters = parameters::parameters(operation, &mut generator);
        let pages = parameters.iter().any(|one| one["in"] == "query" && one["name"] == "cursor");
        if !parameters.is_empty() {
            described["parameters"] = parameters.into();
        }
        if let Some(responses) = described["responses"].as_object_mut() {
            headers::describe(operation, pages, responses);
        }
    }
    document["components"]["headers"] = headers::components();
    document["webhooks"] = webhooks::webhooks();
    let mut all = schemas::definitions(generator);
    let (asked, answered) = ways(&document);
    let twins = grown::open(&mut all, asked, answered);
    each_response(&mut document, |response| grown::rename(response, &twins));
    document["components"]["schemas"] = all.into();
    links::link(&mut document);
    shared::share(&mut document);
    document
}

/// The types that callers send, and those that they read.
fn ways(document: &Value) -> (BTreeSet<String>, BTreeSet<String>) {
    let (mut asked, mut answered) = (BTreeSet::new(), BTreeSet::new());
    let items = document["paths"].as_object().into_iter().flatten();
    for operation in items.flat_map(|(_, item)| item.as_object().into_iter().flatten()) {
        asked.extend(grown::named(&operation.1["requestBody"]));
        asked.extend(grown::named(&operation.1["parameters"]));
        answered.extend(grown::named(&operation.1["responses"]));
    }
    (asked, answered)
}

fn each_response(document: &mut Value, change: impl Fn(&mut Value)) {
    let items = document["paths"].as_object_mut().into_iter().flatten();
    for operation in items.flat_map(|(_, item)| item.as_object_mut().into_iter().flatten()) {
        for (_, response) in operation.1["responses"].as_object_mut().into_iter().flatten() {
            let content = response.get_mut("content").and_then(Value::as_object_mut);
            for (_, media) in content.into_iter().flatten() {
                if let Some(schema) = media.get_mut("schema") {
                    change(schema);
                }
            }
        }
    }
}

fn license() -> License {
    let mut license = License::new("MIT");
    license.identifier = Some("MIT".to_owned());
    license
}

fn bearer() -> SecurityScheme {
    let says = "A token of the studio: the owner's, or a plug-in's with its scopes.";
    SecurityScheme::Http(
        HttpBuilder::new().scheme(HttpAuthScheme::Bearer).description(Some(says)).build(),
    )
}

#[cfg(test)]
mod tests;
