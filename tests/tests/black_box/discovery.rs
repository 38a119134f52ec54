//! Finding one's way knowing only the host: the catalogue, the error codes,
//! and that every link of the document leads to an operation.

use etui_schema::problem::ErrorCode;
use etui_schema::service::{ApiCatalog, Capabilities};
use etui_tests::document::{Document, members};
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::Request;
use serde_json::Value;

/// RFC 9727, sections 2 and 4.2; RFC 9264, section 4.2.
#[test]
fn the_catalogue_leads_to_everything() {
    let address = Running::shared().address();
    let answer = Request::get("/.well-known/api-catalog").send(address);
    assert_eq!(answer.status, 200);
    assert_eq!(answer.media(), "application/linkset+json");
    let whole = answer.header("content-type").unwrap_or_default();
    assert!(whole.contains("profile=\"https://www.rfc-editor.org/info/rfc9727\""), "{whole}");
    let link = answer.header("link").unwrap_or_default();
    assert!(link.contains("rel=\"api-catalog\""), "{link}");
    let catalog: ApiCatalog = answer.read();
    let Some(context) = catalog.linkset.first() else { panic!("an empty catalogue") };
    for targets in [
        &context.service_desc,
        &context.service_doc,
        &context.service_meta,
        &context.status,
        &context.describedby,
        &context.help,
    ] {
        assert!(!targets.is_empty());
        for target in targets {
            let found = Request::get(&target.href).header("Accept", &target.media).send(address);
            assert_eq!(found.status, 200, "{}", target.href);
            assert_eq!(found.media(), target.media, "{}", target.href);
        }
    }
}

/// The same address for programs and for people, by `Accept` (RFC 9110, 12.5.1).
#[test]
fn error_codes_are_explained_to_programs_and_to_people() {
    let address = Running::shared().address();
    let as_browser = "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8";
    let all = Request::get("/problems").header("Accept", as_browser).send(address);
    assert_eq!(all.media(), "text/html");
    for code in ErrorCode::ALL {
        assert!(all.text().contains(&format!("<dt id=\"{code}\">")), "{code}");
        let target = format!("/problems/{code}");
        let page = Request::get(&target).header("Accept", as_browser).send(address);
        assert_eq!((page.status, page.media()), (200, "text/html"), "{code}");
        assert!(page.text().contains(code.title()), "{code}");
        let policy = page.header("content-security-policy").unwrap_or_default().to_owned();
        assert!(policy.starts_with("default-src 'none'"), "{policy}");
        let told = Request::get(&target).send(address);
        assert_eq!(told.media(), "application/json", "{code}");
    }
}

#[test]
fn capabilities_tell_scopes_and_limits() {
    let told: Capabilities = Tour::shared().example("get_capabilities").answer.read();
    for operation in &told.operations {
        let scope = operation.scope.iter();
        assert!(scope.clone().all(|scope| told.scopes.contains(scope)), "{}", operation.id);
        assert!(!operation.media_types.is_empty(), "{}", operation.id);
    }
    assert_eq!(told.limits.page_rows, 200);
    assert_eq!(told.limits.idempotency_hours, 24);
    assert!(told.operations.iter().any(|o| o.body_bytes == Some(told.limits.body_bytes)));
}

/// OpenAPI 3.1, Link Object: the operation exists, and each of its path
/// parameters is given by an expression.
#[test]
fn links_lead_to_operations() {
    let document = Document::of_this_build();
    let mut seen = 0;
    for operation in document.operations() {
        for (_, response) in members(&operation.object["responses"]) {
            for (name, link) in members(&response["links"]) {
                let target = document.operation(link["operationId"].as_str().unwrap_or_default());
                for place in &target.places {
                    let expression = link["parameters"][place].as_str().unwrap_or_default();
                    let known = ["$response.body#/", "$request.path."];
                    assert!(known.iter().any(|k| expression.starts_with(k)), "{name}: {link}");
                }
                seen += 1;
            }
        }
    }
    assert!(10 < seen, "only {seen} links");
}

/// A parameter in a path has a form that a caller can check before it asks.
#[test]
fn every_path_parameter_has_a_form() {
    let document = Document::of_this_build();
    for operation in document.operations() {
        let parameters = operation.object["parameters"].as_array().into_iter().flatten();
        for parameter in parameters.filter(|p| p["in"] == "path") {
            let schema = &parameter["schema"];
            let target = schema["$ref"].as_str().and_then(|target| target.strip_prefix('#'));
            let schema = target.and_then(|at| document.value.pointer(at)).unwrap_or(schema);
            let formed = ["format", "pattern", "enum"].iter().any(|key| schema.get(key).is_some());
            assert!(formed, "{}: {parameter:#}: describe it with `.place(…)`", operation.id);
            assert!(parameter.get("example").is_some_and(Value::is_string), "{}", operation.id);
        }
    }
}

/// Each link that leads to something to read is followed from the recorded answer: it is there,
/// unless the tour itself has removed it since.
#[test]
fn links_lead_to_what_is_there() {
    let tour = Tour::make();
    let document = Document::of_this_build();
    // What was given back, and what the tour erases of a student's practice, is read no more.
    let gone = [
        "make_practice_sheet",
        "hand_in_practice_picture",
        "hand_in_practice_sheet",
        "mark_practice_sheet",
        "erase_client",
        "delete_",
        "close_",
        "remove_",
        "revoke_",
        "claim_",
        "extend_claim",
        "return_claim",
    ];
    let mut followed = 0;
    for heard in tour.examples() {
        let from = document.operation(heard.operation);
        let body: Value = serde_json::from_slice(&heard.answer.body).unwrap_or_default();
        let links = &from.object["responses"][heard.answer.status.to_string()]["links"];
        for (name, link) in members(links) {
            let target = document.operation(link["operationId"].as_str().unwrap_or_default());
            if target.method != "GET" || gone.iter().any(|verb| from.id.starts_with(verb)) {
                continue;
            }
            let mut path = target.path.clone();
            for place in &target.places {
                let expression = link["parameters"][place].as_str().unwrap_or_default();
                let value = match expression.split_once('#') {
                    Some(("$response.body", pointer)) => body.pointer(pointer).cloned(),
                    _ => {
                        let wanted = expression.trim_start_matches("$request.path.");
                        let at =
                            from.path.split('/').position(|part| part == format!("{{{wanted}}}"));
                        let part = at.and_then(|at| heard.request.path().split('/').nth(at));
                        part.map(|part| Value::String(part.to_owned()))
                    }
                };
                let value = value.unwrap_or_else(|| panic!("{}: {name}: {expression}", from.id));
                path = path.replace(&format!("{{{place}}}"), value.as_str().unwrap_or_default());
            }
            let found = tour.running.call(&Request::get(path.clone()));
            assert!(found.status < 400, "{} leads to {path}: {}", from.id, found.text());
            followed += 1;
        }
    }
    assert!(20 < followed, "{followed} links followed");
}
