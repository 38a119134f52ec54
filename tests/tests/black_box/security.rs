//! What keeps strangers out: every operation of the document against every
//! way to come without the right token; and, beside it, names, paths, bodies
//! and clients that mean harm.
//!
//! | module | what comes |
//! |---|---|
//! | here | tokens: none, unknown, expired, revoked, of a removed plug-in, altered by one character, twice, under another scheme, without the scope |
//! | [`bombs`] | bodies that are small to send and large to read |
//! | [`hosts`] | foreign names and foreign pages |
//! | [`paths`] | paths and headers that say one thing and mean another |
//! | [`slow`] | a thousand clients that never finish |
//!
//! How long a check takes is not measured: that nothing is compared which could
//! be timed follows from how a token is looked up, and is argued where it is.

mod bombs;
mod hosts;
mod paths;
mod slow;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use etui_schema::access::Scope;
use etui_schema::plugins::{Plugin, PluginToken};
use etui_schema::problem::{ErrorCode, Problem};
use etui_tests::document::{Document, Operation};
use etui_tests::running::{Running, with_token};
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};
use uuid::Uuid;

use crate::plugins::{issue, register, text};

/// An operation that needs a token, with a request that is good but for it.
struct Closed {
    operation: Operation,
    bare: Request,
}

/// Tokens that were good once, and tokens that are good for something else.
struct Keys {
    valid: String,
    expired: String,
    revoked: String,
    removed: String,
    /// By scope: of a plug-in that holds every other one but `admin`.
    without: BTreeMap<Scope, String>,
}

static TOUR: LazyLock<Tour> = LazyLock::new(Tour::make);
static KEYS: LazyLock<Keys> = LazyLock::new(|| keys(&TOUR.running));

fn closed(tour: &Tour) -> Vec<Closed> {
    let all = Document::of_this_build().operations().into_iter();
    let closed = all.filter(|operation| operation.needs_token).map(|operation| {
        let bare = tour.example(&operation.id).request.clone().without("Authorization");
        Closed { operation, bare }
    });
    closed.collect()
}

fn keys(service: &Running) -> Keys {
    let everything: Vec<&Scope> = Scope::ALL.iter().filter(|s| **s != Scope::Admin).collect();
    let plugin = register(service, "security", json!({ "scopes": everything }));
    let make = |plugin: Uuid| issue(service, plugin, &json!({ "name": "t" }));
    let (expired, revoked) = (make(plugin), make(plugin));
    let at = |token: &PluginToken| format!("/v1/plugins/{plugin}/tokens/{}", token.id);
    let ended =
        Request::post(format!("{}/rotations", at(&expired)), &json!({ "overlap_seconds": 0 }));
    assert_eq!(service.call(&ended).status, 201);
    assert_eq!(service.call(&Request::new("DELETE", at(&revoked))).status, 200);
    let leaving = register(service, "security-leaving", json!({ "scopes": everything }));
    let removed = make(leaving);
    let gone = service.call(&Request::new("DELETE", format!("/v1/plugins/{leaving}")));
    assert!(gone.read::<Plugin>().removed_at.is_some());
    let without = Scope::ALL.iter().map(|scope| {
        let others: Vec<_> = everything.iter().filter(|other| **other != scope).collect();
        let name = format!("without-{}", scope.as_str().replace(':', "-"));
        let plugin = register(service, &name, json!({ "scopes": others }));
        (*scope, text(&make(plugin)))
    });
    Keys {
        valid: text(&make(plugin)),
        expired: text(&expired),
        revoked: text(&revoked),
        removed: text(&removed),
        without: without.collect(),
    }
}

/// What anybody may call, and what every token, is written down here: an endpoint whose scope was
/// forgotten would be open, and its document would say so with it.
#[test]
fn what_is_open_is_known_by_name() {
    let open = [
        "get_api_catalog",
        "get_calendar",
        "get_capabilities",
        "get_docs",
        "get_docs_file",
        "get_liveness",
        "get_openapi",
        "get_problem",
        "get_readiness",
        "get_schema",
        "list_problems",
        "list_schemas",
        "list_sources",
    ];
    let of_any_token = ["get_me", "list_screening_questions"];
    let named = |is: fn(&Operation) -> bool| -> BTreeSet<String> {
        let all = Document::of_this_build().operations().into_iter();
        all.filter(is).map(|operation| operation.id).collect()
    };
    assert_eq!(named(|one| !one.needs_token), open.map(str::to_owned).into());
    let any = named(|one| one.needs_token && one.scope.is_none());
    assert_eq!(any, of_any_token.map(str::to_owned).into());
}

/// Sends a request and checks the refusal: its code, its challenge (RFC 6750,
/// 3), and that it repeats nothing of what was sent as a token.
fn refused(request: &Request, want: ErrorCode, what: &str) -> (Answer, Problem) {
    let answer = request.send(TOUR.running.address());
    let place = format!("{} {}: {what}: {}", request.method, request.target, answer.text());
    assert_eq!(answer.status, want.status(), "{place}");
    let problem = answer.problem();
    assert_eq!(problem.code, want, "{place}");
    let challenge = answer.header("www-authenticate").unwrap_or_default();
    assert!(challenge.starts_with("Bearer realm=\"etui\""), "{place}: {challenge}");
    for (name, value) in &request.headers {
        let secret = value.rsplit(' ').next().unwrap_or_default();
        let told = 20 < secret.len() && answer.text().contains(secret);
        assert!(!(name.eq_ignore_ascii_case("authorization") && told), "{place}");
    }
    (answer, problem)
}

/// A token in which one character is another.
fn altered(token: &str, at: usize) -> String {
    let mut bytes = token.as_bytes().to_vec();
    bytes[at] = if bytes[at] == b'A' { b'B' } else { b'A' };
    String::from_utf8(bytes).expect("ASCII")
}

#[test]
fn nobody_comes_in_without_a_token_that_is_valid_now() {
    let keys = &*KEYS;
    let last = keys.valid.len() - 1;
    let swapped: String =
        keys.valid
            .chars()
            .map(|c| {
                if c.is_ascii_lowercase() { c.to_ascii_uppercase() } else { c.to_ascii_lowercase() }
            })
            .collect();
    let unknown = format!("etui_{}", "A".repeat(43));
    let invalid: Vec<(&str, String)> = vec![
        ("unknown", unknown),
        ("expired", keys.expired.clone()),
        ("revoked", keys.revoked.clone()),
        ("of a removed plug-in", keys.removed.clone()),
        ("another prefix", altered(&keys.valid, 0)),
        ("first character", altered(&keys.valid, 5)),
        ("a character in the middle", altered(&keys.valid, 25)),
        ("last character", altered(&keys.valid, last)),
        ("case turned over", swapped),
        ("one character less", keys.valid[..last].to_owned()),
        ("one character more", format!("{}A", keys.valid)),
        ("padded", format!("{}=", keys.valid)),
        ("twice in one", format!("{} {}", keys.valid, keys.valid)),
        ("a list", format!("{}, {}", keys.valid, keys.valid)),
        ("in quotes", format!("\"{}\"", keys.valid)),
        ("empty", String::new()),
    ];
    for Closed { bare, .. } in closed(&TOUR) {
        refused(&bare, ErrorCode::MissingToken, "no token");
        for (what, token) in &invalid {
            let sent = bare.clone().header("Authorization", format!("Bearer {token}"));
            refused(&sent, ErrorCode::InvalidToken, what);
        }
        for scheme in ["Basic", "Digest", "Token", "Bearer:", "B earer", "Bearertoken", "OAuth"] {
            let sent = bare.clone().header("Authorization", format!("{scheme} {}", keys.valid));
            refused(&sent, ErrorCode::MissingToken, scheme);
        }
        let mut naked = bare.clone();
        naked.headers.push(("Authorization".to_owned(), keys.valid.clone()));
        refused(&naked, ErrorCode::MissingToken, "no scheme");
        for second in [&keys.valid, &keys.revoked] {
            let mut twice = bare.clone().token(&keys.valid);
            twice.headers.push(("authorization".to_owned(), format!("Bearer {second}")));
            refused(&twice, ErrorCode::InvalidToken, "two headers");
        }
    }
}

#[test]
fn nobody_does_what_his_token_does_not_name() {
    let keys = &*KEYS;
    let mut seen = 0;
    for Closed { operation, bare } in closed(&TOUR) {
        let Some(scope) = operation.scope.as_deref() else { continue };
        seen += 1;
        let token = &keys.without[&scope.parse().expect("a scope")];
        let lacking = ErrorCode::InsufficientScope;
        let (answer, problem) = refused(&bare.clone().token(token), lacking, scope);
        // RFC 6750, 3.1: the challenge names the scope that is needed.
        let challenge = answer.header("www-authenticate").unwrap_or_default();
        assert!(challenge.contains(&format!("scope=\"{scope}\"")), "{challenge}");
        assert!(problem.detail.contains(scope), "{problem}");
    }
    assert!(20 < seen, "{seen} operations with a scope");
}

/// A plug-in's own records are for `admin` alone: neither its own token nor
/// that of another reads or changes them.
#[test]
fn no_plugin_touches_a_plugin() {
    let of_plugins = |closed: &Closed| {
        closed.bare.path().starts_with("/v1/plugins") && closed.operation.scope.is_some()
    };
    let all = closed(&TOUR);
    let of_plugins: Vec<_> = all.iter().filter(|closed| of_plugins(closed)).collect();
    assert_eq!(of_plugins.len(), 11);
    for Closed { bare, .. } in of_plugins {
        let sent = bare.clone().token(&KEYS.valid);
        refused(&sent, ErrorCode::InsufficientScope, "every scope but admin");
    }
}

/// What all the refusals above left behind: nothing.
#[test]
fn a_refusal_does_nothing() {
    let tour = Tour::make();
    let strangers = keys(&tour.running);
    let before = everything_read(&tour);
    for Closed { operation, bare } in closed(&tour) {
        let scope = operation.scope.as_deref().and_then(|scope| scope.parse().ok());
        let lacking = scope.map(|scope: Scope| &strangers.without[&scope]);
        for token in [Some(&strangers.revoked), Some(&strangers.expired), lacking] {
            let Some(token) = token else { continue };
            let sent = bare.clone().token(token).header("Idempotency-Key", "\"refused\"");
            let answer = sent.send(tour.running.address());
            assert!(matches!(answer.status, 401 | 403), "{}: {}", operation.id, answer.status);
        }
        // A refused attempt is no attempt: its key is still free.
        if operation.headers.iter().any(|name| name == "Idempotency-Key") {
            let key = bare.clone().header("Idempotency-Key", "\"refused\"");
            let body = json!({ "no_such_member": true });
            let answer = tour.running.call(&key.json(&body));
            assert_eq!(answer.problem().code, ErrorCode::InvalidValue, "{}", operation.id);
        }
    }
    let after = everything_read(&tour);
    for (id, answer) in before {
        assert_eq!(answer, after[&id], "{id}");
    }
}

/// What every read answers that answers in JSON.
fn everything_read(tour: &Tour) -> BTreeMap<String, Value> {
    let is_json = |operation: &Operation| {
        operation
            .answers
            .get(&200)
            .is_some_and(|media| media.iter().any(|m| m == "application/json"))
    };
    let reads = closed(tour).into_iter().filter(|c| c.operation.method == "GET");
    let told = reads.filter(|c| is_json(&c.operation));
    told.map(|Closed { operation, bare }| {
        let mut told = tour.running.call(&bare).json();
        // What is gone is told with an id of its own each time.
        if let Some(members) = told.as_object_mut() {
            members.remove("request_id");
        }
        (operation.id, told)
    })
    .collect()
}

/// The other side: the one scope is enough, and whoever has it comes in.
#[test]
fn the_scope_that_is_named_is_enough() {
    let tour = Tour::make();
    let token_of = |scope: &Scope| {
        let name = format!("only-{}", scope.as_str().replace(':', "-"));
        let more = json!({ "scopes": [scope], "allow_admin": true });
        let plugin = register(&tour.running, &name, more);
        (scope.to_string(), text(&issue(&tour.running, plugin, &json!({ "name": "t" }))))
    };
    let tokens: BTreeMap<String, String> = Scope::ALL.iter().map(token_of).collect();
    for Closed { operation, bare } in closed(&tour) {
        let scope = operation.scope.unwrap_or_else(|| "compute".to_owned());
        for header in ["Bearer", "bearer", "BEARER"] {
            let sent = bare.clone().header("Authorization", format!("{header} {}", tokens[&scope]));
            let answer = sent.send(tour.running.address());
            assert!(
                !matches!(answer.status, 401 | 403 | 429 | 500..),
                "{}: {}",
                operation.id,
                answer.text()
            );
        }
    }
}

/// Good requests of every operation that takes a body.
fn bodies() -> Vec<Request> {
    let operations = Document::of_this_build().operations();
    let with_body = operations.iter().filter(|operation| operation.takes_body);
    let token = TOUR.running.token();
    with_body.map(|o| with_token(&TOUR.example(&o.id).request, token)).collect()
}
