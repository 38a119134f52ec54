//! Paths and headers that say one thing to a check and another to a handler.

use etui_tests::wire::{Request, exchange};

use super::{TOUR, closed};

/// Other spellings of a path. Whatever they lead to, the guard stands there.
fn spellings(path: &str) -> Vec<String> {
    let rest = path.trim_start_matches('/');
    let first = rest.bytes().next().unwrap_or(b'v');
    let letter = format!("/%{first:02x}{}", rest.get(1..).unwrap_or_default());
    let mut all = vec![
        format!("/{path}"),
        format!("//{path}"),
        path.replace('/', "//"),
        path.replace('/', "/./"),
        path.replace('/', "%2f"),
        path.replace('/', "%2F"),
        path.replace('/', "\\"),
        path.replace('/', "/%2e/"),
        format!("{path}/"),
        format!("{path}//"),
        format!("{path}/."),
        format!("{path}/%2e"),
        format!("{path};a=b"),
        format!("{path}%20"),
        format!("{path}%00"),
        format!("{path}%0d%0a"),
        format!("{path}%3f"),
        format!("{path}%23"),
        format!("{path}.json"),
        path.to_uppercase(),
        letter,
        format!("/%25{}", &path[1..]),
    ];
    for open in ["/health/live", "/docs", "/openapi.json", "/v1/schemas/Fault", "/problems"] {
        all.push(format!("{open}/..{path}"));
        all.push(format!("{open}/%2e%2e{path}"));
        all.push(format!("{open}/..%2f{rest}"));
        all.push(format!("{open}/%2e%2e%2f{rest}"));
        all.push(format!("{open}/..;{path}"));
        all.push(format!("{open}{path}"));
    }
    all
}

#[test]
fn no_spelling_of_a_path_goes_round_the_guard() {
    let address = TOUR.running.address();
    for case in closed(&TOUR) {
        for target in spellings(case.bare.path()) {
            let sent = Request { target, ..case.bare.clone() };
            let Ok(answer) = sent.try_send(address) else { continue };
            let place = format!("{} {}: {}", sent.method, sent.target, answer.text());
            assert!((400..500).contains(&answer.status), "{place}");
            assert_eq!(answer.header("location"), None, "{place}");
        }
    }
}

/// With a token too a path has one spelling, but for letters that are encoded
/// without need (RFC 3986, 6.2.2.2).
#[test]
fn a_path_leads_to_one_place() {
    let running = &TOUR.running;
    for (target, want) in [
        ("/v1/plugins/me", 200),
        ("/v1/plugins/%6de", 200),
        ("/v1/plugins/me/", 404),
        ("/v1//plugins/me", 404),
        ("/v1/plugins/./me", 404),
        ("/v1/plugins/x/../me", 404),
        ("/v1/plugins%2fme", 404),
        ("/v1/plugins/ME", 400),
        ("/v1/plugins/me%00", 400),
        ("/V1/plugins/me", 404),
    ] {
        let answer = running.call(&Request::get(target));
        assert_eq!(answer.status, want, "{target}: {}", answer.text());
    }
}

/// What lies beside the service's own files stays there.
#[test]
fn no_file_of_the_data_folder_can_be_asked_for() {
    let running = &TOUR.running;
    let folder = running.folder().display().to_string();
    for name in ["owner-token", "studio-key", "keyring", "store/db", "etc/passwd"] {
        let encoded = name.replace('/', "%2f");
        for open in ["/docs", "/v1/schemas", "/problems", "/v1/calendars", ""] {
            for climb in
                ["", "..%2f", "..%2f..%2f", "%2e%2e/", "../", "....//", "..%5c", "%252e%252e%252f"]
            {
                let sent = Request::get(format!("{open}/{climb}{encoded}"));
                let answer = running.call(&sent);
                assert!((400..500).contains(&answer.status), "{}: {}", sent.target, answer.status);
            }
            let sent = Request::get(format!("{open}/{folder}/{name}"));
            assert!((400..500).contains(&running.call(&sent).status), "{}", sent.target);
        }
    }
}

/// Headers by which proxies rewrite requests mean nothing here.
#[test]
fn no_header_moves_a_request_or_gives_it_a_holder() {
    let address = TOUR.running.address();
    let token = TOUR.running.token();
    for (name, value) in [
        ("X-Original-URL", "/metrics".to_owned()),
        ("X-Rewrite-URL", "/metrics".to_owned()),
        ("X-Forwarded-Prefix", "/metrics".to_owned()),
        ("X-HTTP-Method-Override", "DELETE".to_owned()),
        ("X-Method-Override", "DELETE".to_owned()),
        ("X-Forwarded-For", "127.0.0.1".to_owned()),
        ("X-Real-IP", "127.0.0.1".to_owned()),
        ("X-Forwarded-User", "owner".to_owned()),
        ("Remote-User", "owner".to_owned()),
        ("Cookie", format!("token={token}; Authorization=Bearer {token}")),
        ("Proxy-Authorization", format!("Bearer {token}")),
        ("X-Authorization", format!("Bearer {token}")),
        ("X-Api-Key", token.to_owned()),
        ("Connection", "close, Authorization".to_owned()),
    ] {
        for case in closed(&TOUR) {
            let answer = case.bare.clone().header(name, value.clone()).send(address);
            assert_eq!(answer.status, 401, "{} with {name}", case.operation.id);
        }
        let open = Request::get("/health/live").header(name, value).send(address);
        assert_eq!(open.json()["status"], "pass", "{name}: {}", open.text());
    }
}

/// Names and values that are very long, or hold what no header may hold.
#[test]
fn what_is_too_long_or_no_text_is_refused() {
    let address = TOUR.running.address();
    for length in [1_000, 30_000, 60_000, 200_000, 2_000_000] {
        let long = "a".repeat(length);
        for (what, sent) in [
            ("a token", Request::get("/v1/lots").token(&long)),
            ("a scheme", Request::get("/v1/lots").header("Authorization", long.clone())),
            ("a path", Request::get(format!("/v1/plugins/{long}"))),
            ("a query", Request::get(format!("/v1/lots?cursor={long}"))),
            ("a host", Request::get("/health/live").header("Host", long.clone())),
            ("an origin", Request::get("/health/live").header("Origin", long.clone())),
            ("a method", Request::new(&long, "/health/live")),
        ] {
            // A connection that is closed instead of answered is an answer too.
            if let Ok(answer) = sent.try_send(address) {
                assert!(
                    (400..500).contains(&answer.status),
                    "{what} of {length}: {}",
                    answer.status
                );
            }
        }
    }
    for odd in
        ["Bearer \u{0}", "Bearer a\u{0}b", "Bearer \u{7f}", "Bearer \u{1b}[2J", "Bearer \u{e4}"]
    {
        let raw =
            format!("GET /v1/lots HTTP/1.1\r\nHost: localhost\r\nAuthorization: {odd}\r\n\r\n");
        if let Ok(answer) = exchange(address, raw.as_bytes()) {
            assert!(matches!(answer.status, 400 | 401), "{odd:?}: {}", answer.status);
        }
    }
    assert_eq!(Request::get("/health/live").send(address).status, 200);
}
