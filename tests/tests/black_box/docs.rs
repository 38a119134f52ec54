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
    for name in named {
        assert!(!name.contains(':') && !name.starts_with('/'), "{name} leads elsewhere");
        assert!(!get(&format!("/{name}")).body.is_empty(), "{name}");
    }
}

#[test]
fn the_page_may_load_from_here_only() {
    for target in ["/docs", "/docs/start.js", "/docs/swagger-ui-bundle.js"] {
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
