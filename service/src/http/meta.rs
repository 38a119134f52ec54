//! What the service says about itself: documents, schemas, sources, errors.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use actix_web::web;
use etui_schema::problem::ErrorCode;
use etui_schema::service::{
    Capabilities, CapableOperation, ProblemKind, ProblemKinds, SchemaNames, Source, Sources,
};
use etui_schema::vocabulary::{EvidenceKind, Language};
use serde_json::Value;

use super::answer::{Reply, json, tagged, to_bytes};
use super::call::Call;
use super::failure::Failure;
use super::operation::Operation;
use super::{openapi, routes};

pub(crate) fn operations() -> Vec<Operation> {
    vec![
        Operation::get("/openapi.json", "get_openapi", || web::to(document))
            .tag("service")
            .says("The OpenAPI document", "OpenAPI 3.1, the same as checked in under `openapi/`.")
            .answers_with(200, "The document.", vec![("application/json", None)])
            .if_none_match(),
        Operation::get("/v1/schemas", "list_schemas", || web::to(schema_names))
            .tag("service")
            .says("Names of the JSON Schemas", "Each is served under its name.")
            .answers::<SchemaNames>(200, "The names."),
        Operation::get("/v1/schemas/{name}", "get_schema", || web::to(schema))
            .tag("service")
            .says("One JSON Schema", "JSON Schema 2020-12 with all it refers to.")
            .answers_with(200, "The schema.", vec![("application/schema+json", None)])
            .if_none_match()
            .errors([ErrorCode::NotFound]),
        Operation::get("/v1/sources", "list_sources", || web::to(sources))
            .tag("service")
            .says(
                "The register of sources",
                "Every number and rule of an answer points to one of these by its id.",
            )
            .answers::<Sources>(200, "The sources.")
            .if_none_match(),
        Operation::get("/v1/capabilities", "get_capabilities", || web::to(capabilities))
            .tag("service")
            .says(
                "What this service can do",
                "Operations with their scopes, languages, the studio's zone.",
            )
            .answers::<Capabilities>(200, "The capabilities."),
        Operation::get("/problems", "list_problems", || web::to(problems))
            .tag("service")
            .says("The closed list of error codes", "What each means and what to do about it.")
            .answers::<ProblemKinds>(200, "The codes."),
        Operation::get("/problems/{code}", "get_problem", || web::to(problem))
            .tag("service")
            .says("One error code, explained", "The `type` of a problem body leads here.")
            .answers::<ProblemKind>(200, "The code.")
            .errors([ErrorCode::NotFound]),
    ]
}

static DOCUMENT: LazyLock<Vec<u8>> =
    LazyLock::new(|| serde_json::to_vec_pretty(&openapi::document()).unwrap_or_default());

static SCHEMAS: LazyLock<BTreeMap<String, Value>> = LazyLock::new(openapi::schemas);

async fn document(call: Call) -> Reply {
    tagged(&call, "application/json", DOCUMENT.clone())
}

async fn schema_names(call: Call) -> Reply {
    let _ = call;
    json(200, &SchemaNames { names: SCHEMAS.keys().cloned().collect() })
}

async fn schema(call: Call) -> Reply {
    let name = call.req.match_info().query("name");
    let name = name.strip_suffix(".json").unwrap_or(name);
    let Some(found) = SCHEMAS.get(name) else {
        return Err(Failure::new(
            ErrorCode::NotFound,
            "there is no schema of that name; /v1/schemas lists them",
        ));
    };
    tagged(&call, "application/schema+json", to_bytes(found)?)
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
        })
        .collect();
    json(
        200,
        &Capabilities {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            operations,
            languages: Language::ALL.iter().map(ToString::to_string).collect(),
            zone: call.state.studio.zone.name().to_owned(),
            pictures: vec!["image/svg+xml".to_owned(), "image/png".to_owned()],
        },
    )
}

fn kind_of(code: ErrorCode) -> ProblemKind {
    ProblemKind {
        code,
        status: code.status(),
        title: code.title().to_owned(),
        advice: code.advice().to_owned(),
    }
}

async fn problems(call: Call) -> Reply {
    let _ = call;
    json(200, &ProblemKinds { items: ErrorCode::ALL.iter().copied().map(kind_of).collect() })
}

async fn problem(call: Call) -> Reply {
    match call.req.match_info().query("code").parse() {
        Ok(code) => json(200, &kind_of(code)),
        Err(_) => {
            Err(Failure::new(ErrorCode::NotFound, "there is no such code; /problems lists them"))
        }
    }
}
