//! The OpenAPI 3.1 document: paths from the table of operations (as utoipa's
//! document model), schemas from schemars, examples as recorded in
//! `openapi/examples.json` by running every operation.

use std::collections::BTreeMap;

use actix_web::http::Method;
use etui_schema::problem::{ErrorCode, Problem};
use schemars::generate::SchemaSettings;
use schemars::{Schema, SchemaGenerator};
use serde_json::{Map, Value, json};
use utoipa::openapi::path::{
    HttpMethod, Operation as OpenOperation, OperationBuilder, ParameterBuilder, ParameterIn, Paths,
};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::response::{ResponseBuilder, ResponsesBuilder};
use utoipa::openapi::security::{HttpAuthScheme, HttpBuilder, SecurityRequirement, SecurityScheme};
use utoipa::openapi::tag::TagBuilder;
use utoipa::openapi::{
    ComponentsBuilder, Content, ContentBuilder, InfoBuilder, License, OpenApiBuilder, Ref, RefOr,
    Required,
};

use super::operation::{Answer, Operation};
use super::routes;

/// What every tag stands for, in the order of the document.
const TAGS: &[(&str, &str)] = &[
    ("labels", "Reading what is printed on and encoded in a packet."),
    ("configurations", "What a configuration does in a skin, and which one to take."),
    ("screening", "Whether a skin may be treated, when and under which conditions."),
    ("aftercare", "What happens after, on which day, and what cannot wait."),
    ("checks", "The pre-appointment check: the main job in one call."),
    ("records", "The studio's memory of clients, artists and machines."),
    ("drawer", "Lots of sterile packets."),
    ("treatments", "What was used on whom, and how it healed."),
    ("reminders", "Due messages, shared among scripts."),
    ("plugins", "Tokens, packs and events for other programs."),
    ("service", "What the service says about itself."),
];

const EXAMPLES: &str = include_str!("../../../openapi/examples.json");

/// The whole document, with the examples of this build.
#[must_use]
pub fn document() -> Value {
    document_with(&serde_json::from_str(EXAMPLES).unwrap_or_default())
}

/// The whole document with recorded requests and answers by operation id.
#[must_use]
pub fn document_with(examples: &Value) -> Value {
    let mut generator = generator();
    let mut paths = Paths::new();
    for operation in routes::operations() {
        let method = method_of(&operation.method);
        paths.add_path_operation(
            operation.path,
            vec![method],
            describe(operation, &mut generator, examples),
        );
    }
    generator.subschema_for::<Problem>();
    let open = OpenApiBuilder::new()
        .info(
            InfoBuilder::new()
                .title("etui")
                .version(env!("CARGO_PKG_VERSION"))
                .description(Some(ABOUT))
                .license(Some(license()))
                .build(),
        )
        .paths(paths)
        .components(Some(
            ComponentsBuilder::new()
                .security_scheme(
                    "token",
                    SecurityScheme::Http(
                        HttpBuilder::new()
                            .scheme(HttpAuthScheme::Bearer)
                            .description(Some("A token of the studio: the owner's, or a plug-in's with its scopes."))
                            .build(),
                    ),
                )
                .build(),
        ))
        .tags(Some(TAGS.iter().map(|(name, says)| TagBuilder::new().name(*name).description(Some(*says)).build())))
        .build();
    let mut document = serde_json::to_value(&open).unwrap_or_default();
    overlay(&mut document, generator);
    document
}

const ABOUT: &str = "etui reads sterile packets, compares needle configurations, screens clients, picks the \
needle from the drawer, records what went into whom and dates the aftercare. Its answers are expert judgement \
and common practice made explicit; it is not a medical device. Local rules and licensed practice (a doctor, a \
prescriber) come first.";

fn license() -> License {
    let mut license = License::new("MIT");
    license.identifier = Some("MIT".to_owned());
    license
}

fn generator() -> SchemaGenerator {
    let mut settings = SchemaSettings::draft2020_12();
    settings.definitions_path = "/components/schemas".into();
    settings.meta_schema = None;
    settings.into_generator()
}

/// Every published schema by its name, each a document of its own.
#[must_use]
pub fn schemas() -> BTreeMap<String, Value> {
    let mut all = BTreeMap::new();
    let mut names = generator();
    for operation in routes::operations() {
        for make in operation.body.iter().chain(
            operation.answers.iter().flat_map(|a| a.content.iter().filter_map(|(_, s)| s.as_ref())),
        ) {
            make(&mut names);
        }
    }
    names.subschema_for::<Problem>();
    let mut defs: Map<String, Value> = names.take_definitions(true);
    tidy_all(&mut defs);
    for (name, schema) in &defs {
        let mut standalone = json!({
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "$id": format!("/v1/schemas/{name}"),
        });
        let mut body = schema.clone();
        let mut needed = Map::new();
        gather(&body, &defs, &mut needed);
        relocate(&mut body);
        needed.values_mut().for_each(relocate);
        if let (Some(target), Value::Object(members)) = (standalone.as_object_mut(), body) {
            target.extend(members);
            if !needed.is_empty() {
                target.insert("$defs".to_owned(), Value::Object(needed));
            }
        }
        all.insert(name.clone(), standalone);
    }
    all
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

fn method_of(method: &Method) -> HttpMethod {
    match method.as_str() {
        "POST" => HttpMethod::Post,
        "PUT" => HttpMethod::Put,
        "DELETE" => HttpMethod::Delete,
        _ => HttpMethod::Get,
    }
}

fn describe(
    operation: &Operation,
    generator: &mut SchemaGenerator,
    examples: &Value,
) -> OpenOperation {
    let recorded = examples.get(operation.id);
    let mut open = OperationBuilder::new()
        .tag(operation.tag)
        .operation_id(Some(operation.id))
        .summary(Some(operation.summary))
        .description(Some(operation.description));
    for name in operation.path_parameters() {
        open = open.parameter(path_parameter(name));
    }
    for parameter in query_parameters(operation, generator) {
        open = open.parameter(parameter);
    }
    for (name, says, taken) in [
        (
            "Idempotency-Key",
            "A unique key of the caller's; the same key and body give the same answer for 24 hours.",
            operation.takes_idempotency_key,
        ),
        (
            "If-Match",
            "The `ETag` that was read; needed to change what exists.",
            operation.takes_if_match,
        ),
        (
            "If-None-Match",
            "An `ETag` already held; 304 if it still holds.",
            operation.takes_if_none_match,
        ),
    ] {
        if taken {
            open = open.parameter(header_parameter(name, says));
        }
    }
    if let Some(make) = operation.body {
        let content =
            content(Some(reference(make(generator))), recorded.and_then(|e| e.get("request")));
        open = open.request_body(Some(
            RequestBodyBuilder::new()
                .required(Some(Required::True))
                .content("application/json", content)
                .build(),
        ));
    }
    let open = match operation.scope {
        None => open.securities(Some([SecurityRequirement::default()])),
        Some(scope) => open.security(SecurityRequirement::new("token", [scope.as_str()])),
    };
    open.responses(responses(operation, generator, recorded)).build()
}

fn responses(
    operation: &Operation,
    generator: &mut SchemaGenerator,
    recorded: Option<&Value>,
) -> utoipa::openapi::Responses {
    let mut all = ResponsesBuilder::new();
    for answer in &operation.answers {
        all = all.response(answer.status.to_string(), response(answer, generator, recorded));
    }
    if operation.takes_if_none_match {
        all = all.response(
            "304",
            ResponseBuilder::new().description("The held entity is still good.").build(),
        );
    }
    for (status, codes) in by_status(operation) {
        let names: Vec<String> = codes.iter().map(|c| format!("`{c}`")).collect();
        let content = ContentBuilder::new()
            .schema(Some(RefOr::Ref(Ref::from_schema_name("Problem"))))
            .build();
        all = all.response(
            status.to_string(),
            ResponseBuilder::new()
                .description(format!("Refused: {}.", names.join(", ")))
                .content("application/problem+json", content)
                .build(),
        );
    }
    all.build()
}

fn response(
    answer: &Answer,
    generator: &mut SchemaGenerator,
    recorded: Option<&Value>,
) -> utoipa::openapi::Response {
    let mut made = ResponseBuilder::new().description(answer.description);
    for (media, schema) in &answer.content {
        let example = match *media {
            "application/json" => recorded.and_then(|e| e.get("answer")),
            _ => None,
        };
        let schema = schema.map(|make| reference(make(generator)));
        made = made.content(*media, content(schema, example));
    }
    made.build()
}

/// The refusals of an operation, those of all operations included.
fn by_status(operation: &Operation) -> BTreeMap<u16, Vec<ErrorCode>> {
    let mut codes = operation.errors.clone();
    if operation.scope.is_some() {
        codes.extend([
            ErrorCode::MissingToken,
            ErrorCode::InvalidToken,
            ErrorCode::InsufficientScope,
        ]);
    }
    if operation.path.contains('{') {
        codes.push(ErrorCode::UnreadableRequest);
    }
    codes.extend([
        ErrorCode::UnreadableRequest,
        ErrorCode::HostNotAllowed,
        ErrorCode::MethodNotAllowed,
        ErrorCode::NotAcceptable,
        ErrorCode::Internal,
    ]);
    let mut all: BTreeMap<u16, Vec<ErrorCode>> = BTreeMap::new();
    for code in codes {
        let held = all.entry(code.status()).or_default();
        if !held.contains(&code) {
            held.push(code);
        }
    }
    all
}

fn content(schema: Option<RefOr<utoipa::openapi::Schema>>, example: Option<&Value>) -> Content {
    ContentBuilder::new().schema(schema).example(example.cloned()).build()
}

/// A schemars `$ref` as utoipa's.
fn reference(schema: Schema) -> RefOr<utoipa::openapi::Schema> {
    let target = schema.get("$ref").and_then(Value::as_str).unwrap_or_default();
    RefOr::Ref(Ref::new(target))
}

fn path_parameter(name: &'static str) -> utoipa::openapi::path::Parameter {
    let (says, example) = match name {
        "id" => ("The id that the service gave.", json!("0198c6a2-7d5e-7000-8000-000000000001")),
        "name" => ("The name.", json!("Problem")),
        "file" => ("The file.", json!("start.js")),
        "code" => ("The error code.", json!("invalid_value")),
        "pack" => ("The studio's name for the pack.", json!("house")),
        _ => ("The caller's own reference.", json!("client-0042")),
    };
    ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Path)
        .required(Required::True)
        .description(Some(says))
        .schema(Some(text_schema()))
        .example(Some(example))
        .build()
}

fn header_parameter(name: &str, says: &str) -> utoipa::openapi::path::Parameter {
    ParameterBuilder::new()
        .name(name)
        .parameter_in(ParameterIn::Header)
        .required(Required::False)
        .description(Some(says))
        .schema(Some(text_schema()))
        .build()
}

fn text_schema() -> RefOr<utoipa::openapi::Schema> {
    utoipa::openapi::ObjectBuilder::new()
        .schema_type(utoipa::openapi::schema::Type::String)
        .build()
        .into()
}

/// One parameter for each property of the query's type.
fn query_parameters(
    operation: &Operation,
    generator: &mut SchemaGenerator,
) -> Vec<utoipa::openapi::path::Parameter> {
    let Some(make) = operation.query else { return Vec::new() };
    let mut own = generator_inline();
    let schema = make(&mut own);
    // The types behind the query's properties are published with the others.
    for (name, definition) in own.take_definitions(true) {
        generator.definitions_mut().entry(name).or_insert(definition);
    }
    let required: Vec<&str> = schema
        .get("required")
        .and_then(Value::as_array)
        .map(|all| all.iter().filter_map(Value::as_str).collect())
        .unwrap_or_default();
    let Some(properties) = schema.get("properties").and_then(Value::as_object) else {
        return Vec::new();
    };
    properties
        .iter()
        .map(|(name, property)| {
            let mut property = property.clone();
            let says = property.as_object_mut().and_then(|o| o.remove("description"));
            let mut made = ParameterBuilder::new()
                .name(name)
                .parameter_in(ParameterIn::Query)
                .required(if required.contains(&name.as_str()) {
                    Required::True
                } else {
                    Required::False
                })
                .description(says.as_ref().and_then(Value::as_str));
            tidy(&mut property);
            if let Ok(schema) = serde_json::from_value::<RefOr<utoipa::openapi::Schema>>(property) {
                made = made.schema(Some(schema));
            }
            made.build()
        })
        .collect()
}

/// A generator whose roots stand inline, for reading their properties.
fn generator_inline() -> SchemaGenerator {
    let mut settings = SchemaSettings::draft2020_12();
    settings.definitions_path = "/components/schemas".into();
    settings.meta_schema = None;
    settings.inline_subschemas = true;
    settings.into_generator()
}

/// Puts schemars' schemas in place of utoipa's.
fn overlay(document: &mut Value, mut generator: SchemaGenerator) {
    let mut schemas = generator.take_definitions(true);
    tidy_all(&mut schemas);
    if let Some(components) = document.get_mut("components").and_then(Value::as_object_mut) {
        components.insert("schemas".to_owned(), Value::Object(schemas));
    }
}

fn tidy_all(schemas: &mut Map<String, Value>) {
    schemas.values_mut().for_each(tidy);
    schemas.sort_keys();
}

/// Takes out what no tool knows: integer formats of Rust, `default: null`.
#[expect(clippy::wildcard_enum_match_arm, reason = "a schema is made of objects and lists")]
fn tidy(schema: &mut Value) {
    match schema {
        Value::Object(members) => {
            let unknown = members
                .get("format")
                .and_then(Value::as_str)
                .is_some_and(|f| f.starts_with("uint") || f.starts_with("int"));
            if unknown {
                members.remove("format");
            }
            if members.get("default").is_some_and(Value::is_null) {
                members.remove("default");
            }
            absent_only(members);
            members.values_mut().for_each(tidy);
        }
        Value::Array(items) => items.iter_mut().for_each(tidy),
        _ => {}
    }
}

/// An optional member is absent, not null: that is what every generator can
/// type, and what the service itself sends.
fn absent_only(members: &mut Map<String, Value>) {
    if let Some(Value::Array(types)) = members.get_mut("type") {
        types.retain(|t| t != "null");
        if types.len() == 1 {
            let one = types.remove(0);
            members.insert("type".to_owned(), one);
        }
    }
    if let Some(Value::Array(any)) = members.get_mut("anyOf") {
        any.retain(|s| s.get("type").and_then(Value::as_str) != Some("null"));
        if any.len() == 1 {
            let one = any.remove(0);
            members.remove("anyOf");
            if let Value::Object(inner) = one {
                for (key, value) in inner {
                    members.entry(key).or_insert(value);
                }
            }
        }
    }
}
