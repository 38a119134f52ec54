//! What the service says about itself: documents, schemas, sources.

use std::sync::LazyLock;

use actix_web::http::header::{self, HeaderValue};
use etui_schema::access::Scope;
use etui_schema::endpoints;
use etui_schema::problem::ErrorCode;
use etui_schema::service::{Capabilities, CapableOperation, Limits, SchemaNames, Source, Sources};
use etui_schema::vocabulary::{EvidenceKind, Language};
use serde_json::json;

use super::answer::{self, Fixed, Reply, fixed, tagged, takes_gzip, to_bytes};
use super::call::Call;
use super::document::{self, PARTS};
use super::failure::Failure;
use super::handler::to;
use super::operation::{BODY_LIMIT, Operation};
use super::routes;
use crate::studio::idempotency::KEPT;
use crate::studio::paging::MOST_ROWS;

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::of(endpoints::get_openapi(), || to(whole))
            .says("The OpenAPI document", "OpenAPI 3.1, the same as checked in under `openapi/`.")
            .answers(200, "The document.")
            .if_none_match(),
        Operation::of(endpoints::list_schemas(), || to(schema_names))
            .says("Names of the JSON Schemas", "Each is served under its name.")
            .answers(200, "The names."),
        Operation::of(endpoints::get_schema(), || to(schema))
            .says("One JSON Schema", "JSON Schema 2020-12 with all it refers to.")
            .place(
                "name",
                "The name of the schema, with or without `.json`.",
                json!({
                    "type": "string",
                    "minLength": 1,
                    "maxLength": 100,
                    "pattern": "^[A-Za-z0-9]+(\\.json)?$",
                    "examples": ["Problem"],
                }),
            )
            .answers(200, "The schema.")
            .if_none_match()
            .errors([ErrorCode::NotFound]),
        Operation::of(endpoints::list_sources(), || to(sources))
            .says(
                "The register of sources",
                "Every number and rule of an answer points to one of these by its id.",
            )
            .answers(200, "The sources.")
            .if_none_match(),
        Operation::of(endpoints::get_capabilities(), || to(capabilities))
            .says(
                "What this service can do",
                "Operations with their scopes and media types, languages, limits, the studio's zone.",
            )
            .answers(200, "The capabilities."),
    ]
}

static DOCUMENT: LazyLock<Fixed> = LazyLock::new(|| Fixed::new(document::TEXT.as_bytes()));

static PACKED_DOCUMENT: LazyLock<Fixed> = LazyLock::new(|| DOCUMENT.packed_as(document::PACKED));

async fn whole(call: Call) -> Reply {
    let gzip = takes_gzip(&call);
    let held = if gzip { &PACKED_DOCUMENT } else { &DOCUMENT };
    let mut answer = fixed(&call, "application/json", held)?;
    let vary = HeaderValue::from_static("Accept-Encoding");
    answer.headers_mut().insert(header::VARY, vary);
    Ok(answer)
}

async fn schema_names(call: Call) -> Reply {
    let _ = call;
    answer::json(200, &SchemaNames { names: PARTS.names().map(str::to_owned).collect() })
}

async fn schema(call: Call) -> Reply {
    let name = call.req.match_info().query("name");
    let name = name.strip_suffix(".json").unwrap_or(name);
    let Some(found) = PARTS.schema(name) else {
        return Err(Failure::new(
            ErrorCode::NotFound,
            "there is no schema of that name; /v1/schemas lists them",
        ));
    };
    tagged(&call, "application/schema+json", to_bytes(&found)?)
}

async fn sources(call: Call) -> Reply {
    let craft = &call.state.studio.craft;
    let items = craft
        .register
        .iter()
        .chain(craft.rulebook.pack_sources())
        // What rests on memory alone is not shown as a source.
        .filter(|source| source.kind != EvidenceKind::Memory)
        .map(|source| Source {
            id: source.id.to_string(),
            citation: source.cite.clone(),
            kind: source.kind,
            read: source.read.as_str().to_owned(),
        })
        .collect();
    tagged(&call, "application/json", to_bytes(&Sources { items })?)
}

async fn capabilities(call: Call) -> Reply {
    let operations = routes::operations()
        .iter()
        .map(|operation| CapableOperation {
            id: operation.id.to_owned(),
            method: operation.method.to_string(),
            path: operation.path.to_owned(),
            scope: operation.scope.map(|scope| scope.to_string()),
            needs_token: operation.needs_token(),
            media_types: media_types(operation),
            body_bytes: operation.body.map(|_| operation.body_limit as u64),
        })
        .collect();
    answer::json(
        200,
        &Capabilities {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            operations,
            languages: Language::ALL.iter().map(ToString::to_string).collect(),
            language: call.state.studio.language.to_string(),
            german: call.state.studio.german.to_string(),
            zone: call.state.studio.zone.name().to_owned(),
            pictures: vec!["image/svg+xml".to_owned(), "image/png".to_owned()],
            scopes: Scope::ALL.iter().map(ToString::to_string).collect(),
            limits: Limits {
                body_bytes: BODY_LIMIT as u64,
                page_rows: MOST_ROWS,
                idempotency_hours: KEPT.as_hours().unsigned_abs(),
            },
        },
    )
}

/// The media types of an operation's answers, each once, in their order.
fn media_types(operation: &Operation) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for media in operation.media_types() {
        if !all.iter().any(|held| held == media) {
            all.push(media.to_owned());
        }
    }
    all
}
