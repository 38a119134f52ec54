//! Paths, operations and answers, in utoipa's model.

use std::collections::BTreeMap;

use actix_web::http::Method;
use etui_schema::describe::{Schema, SchemaGenerator};
use etui_schema::problem::ErrorCode;
use serde_json::Value;
use utoipa::openapi::path::{HttpMethod, Operation as OpenOperation, OperationBuilder, Paths};
use utoipa::openapi::request_body::RequestBodyBuilder;
use utoipa::openapi::response::{Response, ResponseBuilder, Responses, ResponsesBuilder};
use utoipa::openapi::security::SecurityRequirement;
use utoipa::openapi::{Content, ContentBuilder, Ref, RefOr, Required};

use super::shared::{in_short, sent_in_short};
use crate::http::operation::{Answer, Operation};
use crate::http::routes;

/// Every operation at its path, parameters aside.
pub(super) fn paths(generator: &mut SchemaGenerator, examples: &Value) -> Paths {
    let mut paths = Paths::new();
    for operation in routes::operations() {
        let method = method_of(&operation.method);
        let described = describe(operation, generator, examples);
        paths.add_path_operation(operation.path, vec![method], described);
    }
    paths
}

fn method_of(method: &Method) -> HttpMethod {
    match method.as_str() {
        "POST" => HttpMethod::Post,
        "PUT" => HttpMethod::Put,
        "DELETE" => HttpMethod::Delete,
        "PATCH" => HttpMethod::Patch,
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
    if let Some(make) = operation.body {
        let sent = recorded.and_then(|e| e.get("request")).map(sent_in_short);
        let content = content(Some(reference(make(generator))), sent.as_ref());
        open = open.request_body(Some(
            RequestBodyBuilder::new()
                .required(Some(Required::True))
                .content(operation.reads, content)
                .build(),
        ));
    }
    let open = match operation.scope {
        None if operation.any_token => open.security(SecurityRequirement::new("token", [""; 0])),
        None => open.securities(Some([SecurityRequirement::default()])),
        Some(scope) => open.security(SecurityRequirement::new("token", [scope.as_str()])),
    };
    open.responses(responses(operation, generator, recorded)).build()
}

fn responses(
    operation: &Operation,
    generator: &mut SchemaGenerator,
    recorded: Option<&Value>,
) -> Responses {
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
    if operation.can_be_brief {
        let says = "Done; the answer is spared, as `Prefer: return=minimal` asked.";
        all = all.response("204", ResponseBuilder::new().description(says).build());
    }
    for (status, codes) in by_status(operation) {
        let names: Vec<String> = codes.iter().map(|c| format!("`{c}`")).collect();
        let says = format!("Refused: {}.", names.join(", "));
        all = all.response(status.to_string(), refusal(says));
    }
    let any = any(operation).map(|code| format!("{} `{code}`", code.status()));
    let says = format!("Refused as any request may be: {}.", any.collect::<Vec<_>>().join(", "));
    all.response("default", refusal(says)).build()
}

/// Refusals that say nothing of what an operation does: they stand once, as its `default`.
fn any(operation: &Operation) -> impl Iterator<Item = &'static ErrorCode> {
    let of_tokens = if operation.needs_token() { &OF_TOKENS[..] } else { &[] };
    let of_writes = if operation.writes() { &OF_WRITES[..] } else { &[] };
    of_tokens.iter().chain(of_writes).chain(&ANY)
}

/// Those of a request whose operation is not open to all.
static OF_TOKENS: [ErrorCode; 5] = [
    ErrorCode::MissingToken,
    ErrorCode::InvalidToken,
    ErrorCode::InsufficientScope,
    ErrorCode::RateLimited,
    ErrorCode::Unavailable,
];

/// Those of whatever changes something.
static OF_WRITES: [ErrorCode; 2] = [ErrorCode::Conflict, ErrorCode::NoSpace];

/// Those of any request.
static ANY: [ErrorCode; 9] = [
    ErrorCode::UnreadableRequest,
    ErrorCode::UnreadableBody,
    ErrorCode::HostNotAllowed,
    ErrorCode::MethodNotAllowed,
    ErrorCode::NotAcceptable,
    ErrorCode::Timeout,
    ErrorCode::BodyTooLarge,
    ErrorCode::UnsupportedMediaType,
    ErrorCode::Internal,
];

fn refusal(says: String) -> Response {
    let content =
        ContentBuilder::new().schema(Some(RefOr::Ref(Ref::from_schema_name("Problem")))).build();
    ResponseBuilder::new().description(says).content("application/problem+json", content).build()
}

fn response(
    answer: &Answer,
    generator: &mut SchemaGenerator,
    recorded: Option<&Value>,
) -> Response {
    let mut made = ResponseBuilder::new().description(answer.description);
    for (media, schema) in &answer.content {
        let example = match *media {
            // Not of schemas: a reference within an example would be followed.
            "application/json" | "application/linkset+json" => {
                recorded.and_then(|e| e.get("answer")).map(in_short)
            }
            _ => None,
        };
        let schema = schema.map(|make| reference(make(generator)));
        made = made.content(*media, content(schema, example.as_ref()));
    }
    made.build()
}

/// The refusals of an operation, but for those of any.
fn by_status(operation: &Operation) -> BTreeMap<u16, Vec<ErrorCode>> {
    let mut codes = operation.errors.clone();
    codes.retain(|code| any(operation).all(|other| other != code));
    let mut all: BTreeMap<u16, Vec<ErrorCode>> = BTreeMap::new();
    for code in codes {
        let held = all.entry(code.status()).or_default();
        if !held.contains(&code) {
            held.push(code);
        }
    }
    // Nobody reads of an operation that it refuses nothing.
    if all.keys().all(|status| !(400..500).contains(status)) {
        all.entry(400).or_default().push(ErrorCode::UnreadableRequest);
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
