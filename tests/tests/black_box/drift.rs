//! `openapi/` holds what this build makes, byte for byte.
//!
//! `UPDATE=1 cargo test --workspace drift` writes it anew.

use std::collections::BTreeMap;
use std::path::Path;

use etui_service::http::document::{self, Parts};
use etui_service::http::openapi;
use etui_tests::afternoons;
use etui_tests::differences::differences;
use etui_tests::engine;
use etui_tests::openapi_folder;
use etui_tests::tour::Tour;
use serde_json::Value;

const COMMAND: &str = "UPDATE=1 cargo test --workspace drift";

#[test]
fn drift_of_the_checked_in_documents() {
    // On a database chance is drawn upon in another order, and so other ids are given.
    if !engine::lies_in_folder("the ids of recorded examples") {
        return;
    }
    let folder = openapi_folder();
    let is_renewed = std::env::var_os("UPDATE").is_some();
    let held = std::fs::read_to_string(folder.join("examples.json")).unwrap_or_default();
    let described = openapi::document(&serde_json::from_str(&held).unwrap_or_default());
    // The program takes what its document says: what is new it takes when it is built with that.
    if described != document::document() {
        if is_renewed {
            write(&folder, &BTreeMap::from([("openapi.json".to_owned(), pretty(&described))]), &[]);
        }
        panic!(
            "openapi.json is older than this build; `{COMMAND}` renews it, and what is answered then once more"
        );
    }
    let recorded = Tour::shared().recorded();
    let mut made = BTreeMap::new();
    let document = openapi::document(&recorded);
    let text = document.to_string();
    let parts = Parts::of(&text);
    for name in parts.names() {
        made.insert(
            format!("schemas/{name}.json"),
            pretty(&parts.schema(name).unwrap_or_default()),
        );
    }
    made.insert("openapi.json".to_owned(), pretty(&document));
    made.insert("examples.json".to_owned(), pretty(&recorded));
    for (name, text) in afternoons::recorded() {
        made.insert(format!("examples/afternoons/{name}"), text);
    }
    let stale = stale_schemas(&folder, &made);
    if is_renewed {
        write(&folder, &made, &stale);
        return;
    }
    let mut report = String::new();
    for (name, text) in &made {
        let held = std::fs::read_to_string(folder.join(name)).unwrap_or_default();
        if held != *text {
            report.push_str(&format!("openapi/{name}\n{}", differences(&held, text, 30)));
        }
    }
    for name in stale {
        report.push_str(&format!("openapi/{name}: this build has no such schema\n"));
    }
    let short: Vec<&str> = report.lines().take(100).collect();
    assert!(report.is_empty(), "openapi/ is stale; `{COMMAND}` renews it:\n{}", short.join("\n"));
}

/// The document that is served is the one that is checked in.
#[test]
fn the_served_document_is_the_checked_in_one() {
    if std::env::var_os("UPDATE").is_some() {
        return; // this build still holds the examples from before
    }
    let held = std::fs::read_to_string(openapi_folder().join("openapi.json")).unwrap_or_default();
    let served = pretty(&Tour::shared().example("get_openapi").answer.json());
    let difference = differences(&held, &served, 100);
    assert!(difference.is_empty(), "`{COMMAND}` renews it:\n{difference}");
}

fn pretty(value: &Value) -> String {
    let mut text = serde_json::to_string_pretty(value).expect("JSON");
    text.push('\n');
    text
}

/// Checked-in schemas that this build no longer has.
fn stale_schemas(folder: &Path, made: &BTreeMap<String, String>) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder.join("schemas")) else { return Vec::new() };
    let names = entries.flatten().map(|e| format!("schemas/{}", e.file_name().to_string_lossy()));
    names.filter(|name| !made.contains_key(name)).collect()
}

fn write(folder: &Path, made: &BTreeMap<String, String>, stale: &[String]) {
    for inner in ["schemas", "examples/afternoons"] {
        std::fs::create_dir_all(folder.join(inner)).expect("a folder of the documents");
    }
    for (name, text) in made {
        std::fs::write(folder.join(name), text).expect("a document can be written");
    }
    for name in stale {
        std::fs::remove_file(folder.join(name)).expect("a stale schema can be removed");
    }
}
