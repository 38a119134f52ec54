//! The page to read and try: whole, and nothing from elsewhere.

use std::net::SocketAddr;

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};

fn address() -> SocketAddr {
    Running::shared().address()
}

fn get(target: &str) -> Answer {
    let answer = Request::get(target).send(address());
    assert_eq!(answer.status, 200, "{target}: {}", answer.text());
    answer
}

/// Every `src` and `href` of the page is served, from here.
#[test]
fn the_page_is_whole() {
    let page = get("/docs");
    assert_eq!(page.media(), "text/html");
    let text = page.text();
    let named: Vec<&str> = text
        .split([' ', '>'])
        .filter_map(|part| part.strip_prefix("src=").or_else(|| part.strip_prefix("href=")))
        .map(|quoted| quoted.trim_matches('"'))
        .collect();
    assert!(4 <= named.len(), "{named:?}");
    // Places on the page itself are tried below; the sources want a token.
    let elsewhere = |name: &&str| !name.starts_with('#') && *name != "v1/sources";
    for name in named.into_iter().filter(elsewhere) {
        assert!(!name.contains(':') && !name.starts_with('/'), "{name} leads elsewhere");
        assert!(!get(&format!("/{name}")).body.is_empty(), "{name}");
    }
}

/// Where to start leads to operations that there are.
#[test]
fn the_start_leads_somewhere() {
    let text = get("/docs").text();
    let document = get("/openapi.json").json();
    let operations: Vec<String> = document["paths"]
        .as_object()
        .expect("paths")
        .values()
        .flat_map(|path| path.as_object().expect("methods").values())
        .filter_map(|one| {
            Some(format!("{}/{}", one["tags"][0].as_str()?, one["operationId"].as_str()?))
        })
        .collect();
    let places: Vec<&str> =
        text.split("href=\"#/").skip(1).filter_map(|part| part.split('"').next()).collect();
    assert!(5 <= places.len(), "{places:?}");
    for place in places {
        assert!(operations.iter().any(|one| one == place), "{place} is no operation");
    }
}

#[test]
fn the_page_may_load_from_here_only() {
    for target in ["/docs", "/docs/start.js", "/docs/mark.svg", "/docs/swagger-ui-bundle.js"] {
        let policy = get(target).header("content-security-policy").unwrap_or_default().to_owned();
        assert!(policy.starts_with("default-src 'none'"), "{target}: {policy}");
        let sources = policy.split([';', ' ']).filter(|word| !word.is_empty());
        for source in sources {
            assert!(!source.contains("http") && !source.contains('*'), "{target}: {source}");
        }
        assert!(!policy.contains("script-src 'self' 'unsafe"), "{target}: {policy}");
    }
}

/// A client that takes no compressed bodies gets the same file plain.
#[test]
fn plain_for_those_who_do_not_unpack() {
    let target = "/docs/swagger-ui-bundle.js";
    let plain = get(target);
    assert_eq!(plain.header("content-encoding"), None);
    assert!(plain.text().contains("SwaggerUIBundle"));
    let packed = Request::get(target).header("Accept-Encoding", "br, gzip").send(address());
    assert_eq!(packed.header("content-encoding"), Some("gzip"));
    assert!(packed.body.starts_with(&[0x1f, 0x8b]));
    assert!(packed.body.len() * 2 < plain.body.len());
    assert_ne!(packed.header("etag"), plain.header("etag"));
}
