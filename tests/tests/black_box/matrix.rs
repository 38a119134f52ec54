//! Every operation × every way to ask wrongly.
//!
//! The operations come from the document and the good requests from the tour,
//! so an operation that is added is held to all of this without a line here.
//! Each wrong request differs from the good one in exactly one thing.

use std::net::SocketAddr;

use etui_schema::problem::{ErrorCode, FaultCode, Problem};
use etui_tests::document::{Document, Operation};
use etui_tests::running::with_token;
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// An operation with its good request, ready to be broken.
pub(crate) struct Case {
    pub(crate) operation: Operation,
    pub(crate) good: Request,
}

/// Every operation with an example; that every operation has one is held
/// elsewhere ([`crate::document`]).
pub(crate) fn cases() -> Vec<Case> {
    let tour = Tour::shared();
    let all = Document::of_this_build().operations().into_iter();
    all.filter_map(|operation| {
        let good = with_token(&tour.find(&operation.id)?.request, tour.running.token());
        Some(Case { operation, good })
    })
    .collect()
}

fn address() -> SocketAddr {
    Tour::shared().running.address()
}

impl Case {
    /// Sends a broken request and checks that the refusal is the wanted one,
    /// whole, and documented.
    pub(crate) fn refuses(
        &self,
        broken: &Request,
        what: &str,
        want: ErrorCode,
    ) -> (Answer, Problem) {
        let answer = broken.send(address());
        let place = format!("{}: {what}: {}", self.operation.id, answer.text());
        assert_eq!(answer.status, want.status(), "{place}");
        let problem = answer.problem();
        assert_eq!(problem.code, want, "{place}");
        assert_eq!(problem.type_, format!("/problems/{want}"), "{place}");
        assert_eq!(problem.title, want.title(), "{place}");
        assert_eq!(problem.status, answer.status, "{place}");
        assert_eq!(problem.instance, broken.path(), "{place}");
        assert_eq!(Some(problem.request_id.as_str()), answer.header("x-request-id"), "{place}");
        assert!(!problem.detail.is_empty(), "{place}");
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"), "{place}");
        let documented = self.operation.answers.get(&answer.status);
        let is_documented = documented.is_some_and(|m| m.iter().any(|m| m == answer.media()));
        assert!(is_documented, "{place}: the document does not say so");
        (answer, problem)
    }

    /// One fault at this place, of this kind.
    fn finds(&self, broken: &Request, what: &str, want: ErrorCode, at: &str, kind: FaultCode) {
        let (_, problem) = self.refuses(broken, what, want);
        let found = problem.errors.iter().any(|f| f.pointer == at && f.code == kind);
        assert!(found, "{}: {what}: no {kind} at {at}: {problem}", self.operation.id);
    }

    pub(crate) fn body(&self) -> Value {
        self.good.json_body().unwrap_or_default()
    }
}

#[test]
fn without_a_token_or_with_a_wrong_one() {
    for case in cases().iter().filter(|case| case.operation.needs_token) {
        let missing = ErrorCode::MissingToken;
        let (answer, _) =
            case.refuses(&case.good.clone().without("Authorization"), "none", missing);
        assert_eq!(answer.header("www-authenticate"), Some("Bearer realm=\"etui\""));
        let other = case.good.clone().header("Authorization", "Basic b3duZXI6cGFzcw==");
        case.refuses(&other, "another scheme", missing);
        for wrong in ["", "etui_", "etui_AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA", "x y"] {
            let sent = case.good.clone().header("Authorization", format!("Bearer {wrong}"));
            let (answer, _) = case.refuses(&sent, "a wrong token", ErrorCode::InvalidToken);
            let challenge = answer.header("www-authenticate").unwrap_or_default();
            assert!(challenge.contains("error=\"invalid_token\""), "{challenge}");
        }
        let tampered = with_token(&case.good, "")
            .header("Authorization", format!("Bearer {}x", Tour::shared().running.token()));
        case.refuses(&tampered, "a tampered token", ErrorCode::InvalidToken);
    }
}

/// The token is never read from the query (RFC 6750, 2.3 is not followed).
#[test]
fn a_token_in_the_query_is_no_token() {
    let token = Tour::shared().running.token();
    for case in cases().iter().filter(|case| case.operation.needs_token) {
        let mut sent = case.good.clone().without("Authorization");
        let joint = if sent.target.contains('?') { '&' } else { '?' };
        sent.target = format!("{}{joint}access_token={token}", sent.target);
        case.refuses(&sent, "a token in the query", ErrorCode::MissingToken);
    }
}

#[test]
fn with_a_wrong_method() {
    let all = cases();
    for case in &all {
        let mut right: Vec<&str> = Vec::new();
        for other in all.iter().filter(|other| other.operation.path == case.operation.path) {
            right.push(&other.operation.method);
            if other.operation.method == "GET" {
                right.push("HEAD");
            }
        }
        right.sort_unstable();
        for method in ["GET", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "PURGE"] {
            if right.contains(&method) {
                continue;
            }
            let sent = Request { method: method.to_owned(), ..case.good.clone() };
            let (answer, _) = case.refuses(&sent, method, ErrorCode::MethodNotAllowed);
            let allow = answer.header("allow").unwrap_or_default();
            let mut allowed: Vec<&str> = allow.split(", ").collect();
            allowed.sort_unstable();
            assert_eq!(allowed, right, "{} {}", method, case.operation.path);
        }
    }
}

#[test]
fn with_a_media_type_that_is_not_made() {
    for case in cases().iter().filter(|case| case.operation.has_content()) {
        let sent = case.good.clone().header("Accept", "application/x-nothing");
        case.refuses(&sent, "Accept", ErrorCode::NotAcceptable);
    }
}

#[test]
fn under_a_foreign_host_or_from_a_foreign_page() {
    for case in &cases() {
        for host in ["evil.example", "127.0.0.1.evil.example", "localhost.evil.example:80"] {
            let sent = case.good.clone().header("Host", host);
            case.refuses(&sent, host, ErrorCode::HostNotAllowed);
        }
        for origin in ["https://evil.example", "null"] {
            let sent = case.good.clone().header("Origin", origin);
            case.refuses(&sent, origin, ErrorCode::HostNotAllowed);
        }
    }
}

#[test]
fn with_a_body_of_another_kind() {
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        let text = case.body().to_string();
        for media in ["text/plain", "application/x-www-form-urlencoded", "application/jsonx"] {
            let sent = case.good.clone().bytes(media, text.clone());
            let (answer, _) = case.refuses(&sent, media, ErrorCode::UnsupportedMediaType);
            assert_eq!(answer.header("accept"), Some("application/json"));
        }
        let untyped = case.good.clone().without("Content-Type");
        case.refuses(&untyped, "no media type", ErrorCode::UnsupportedMediaType);
        let packed = case.good.clone().header("Content-Encoding", "gzip");
        case.refuses(&packed, "compressed", ErrorCode::UnsupportedMediaType);
    }
}

#[test]
fn with_a_body_that_is_not_json() {
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        for (text, place) in [
            ("", "line 1, column 0"),
            ("{", "line 1, column 1"),
            ("{\n  \"a\": }", "line 2, column 8"),
            ("{\"a\": NaN}", "line 1, column 7"),
            ("{\"a\": 1} {}", "line 1, column 10"),
            ("{\"a\": 1e999}", "line 1, column"),
            ("{\"a\": \"\u{1}\"}", "line 1, column"),
        ] {
            let sent = case.good.clone().bytes("application/json", text);
            let (_, problem) = case.refuses(&sent, text, ErrorCode::UnreadableBody);
            assert!(problem.detail.contains(place), "{text:?}: {}", problem.detail);
        }
        let sent = case.good.clone().bytes("application/json", b"{\"a\": \"\xff\xfe\"}".to_vec());
        case.refuses(&sent, "not UTF-8", ErrorCode::UnreadableBody);
    }
}

#[test]
fn with_a_member_that_does_not_exist() {
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        let mut body = case.body();
        body["no_such_member"] = json!(1);
        let sent = case.good.clone().json(&body);
        let refused = ErrorCode::InvalidValue;
        case.finds(&sent, "unknown", refused, "#/no_such_member", FaultCode::UnknownField);
        for other in [json!([]), json!("text"), json!(7), json!(null), json!(true)] {
            let sent = case.good.clone().json(&other);
            case.finds(&sent, "no object", refused, "#", FaultCode::WrongType);
        }
    }
}

/// All faults are told at once: here an unknown member beside the absence of
/// every required one.
#[test]
fn with_several_faults_at_once() {
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        let content = &case.operation.object["requestBody"]["content"]["application/json"];
        let target = content["schema"]["$ref"].as_str().unwrap_or_default();
        let document = Document::of_this_build();
        let schema = document.value.pointer(target.trim_start_matches('#'));
        let required = schema.and_then(|s| s["required"].as_array().cloned()).unwrap_or_default();
        let sent = case.good.clone().json(&json!({ "no_such_member": 1 }));
        let (_, problem) = case.refuses(&sent, "several faults", ErrorCode::InvalidValue);
        for name in required.iter().filter_map(Value::as_str) {
            let at = format!("#/{name}");
            let told = problem
                .errors
                .iter()
                .any(|fault| fault.code == FaultCode::Missing && fault.pointer == at);
            assert!(told, "{}: {name} is missing and {problem}", case.operation.id);
        }
        assert_eq!(problem.errors.len(), required.len() + 1, "{}: {problem}", case.operation.id);
    }
}

#[test]
fn with_a_body_that_is_too_large() {
    for case in cases().iter().filter(|case| case.operation.takes_body) {
        // A picture is larger than anything else that is sent.
        let is_picture = ["read_sheet", "hand_in_practice_picture"].contains(&&*case.operation.id);
        let megabytes = if is_picture { 34 } else { 2 };
        let body = format!("{{\"a\": \"{}\"}}", "x".repeat(megabytes * 1024 * 1024));
        let sent = case.good.clone().bytes("application/json", body.clone());
        case.refuses(&sent, "too many megabytes", ErrorCode::BodyTooLarge);
        let mut chunked = format!("{:x}\r\n{body}\r\n", body.len()).into_bytes();
        chunked.extend_from_slice(b"0\r\n\r\n");
        let sent = case
            .good
            .clone()
            .bytes("application/json", chunked)
            .header("Transfer-Encoding", "chunked");
        case.refuses(&sent, "too many megabytes in a chunk", ErrorCode::BodyTooLarge);
    }
}

#[test]
fn at_a_path_that_cannot_be() {
    for case in cases() {
        for place in &case.operation.places {
            let wrong = |text: &str| {
                let template = format!("{{{place}}}");
                let named =
                    case.operation.path.split('/').map(|part| part.strip_prefix(&*template));
                let mut found = named.enumerate().filter_map(|(at, rest)| Some((at, rest?)));
                let (at, ending) = found.next().expect("a segment that begins with it");
                let whole = format!("{text}{ending}");
                let mut parts: Vec<&str> = case.good.path().split('/').collect();
                parts[at] = &whole;
                Request { target: parts.join("/"), ..case.good.clone() }
            };
            let place = place.as_str();
            if matches!(place, "name" | "code" | "token" | "file") {
                case.refuses(&wrong("no-such-thing"), place, ErrorCode::NotFound);
                continue;
            }
            let (at, kind) = (format!("path:{place}"), FaultCode::WrongFormat);
            let unreadable = ErrorCode::UnreadableRequest;
            for text in ["a%20b", "%00", "a%0d%0ab", "%F0%9F%92%89", "..%2f"] {
                case.finds(&wrong(text), text, unreadable, &at, kind);
            }
            if place == "id" {
                case.finds(&wrong("7"), "7", unreadable, &at, kind);
                let absent = wrong("0198c6a2-7d5e-7000-8000-0000000000ff");
                case.refuses(&absent, "an id of nothing", ErrorCode::NotFound);
            }
        }
    }
}

#[test]
fn head_tells_what_get_would() {
    for case in cases().iter().filter(|case| case.operation.method == "GET") {
        let got = case.good.send(address());
        let told = Request { method: "HEAD".to_owned(), ..case.good.clone() }.send(address());
        let id = &case.operation.id;
        assert_eq!(told.status, got.status, "{id}");
        assert!(told.body.is_empty(), "{id}");
        for name in ["content-type", "etag", "cache-control"] {
            assert_eq!(told.header(name), got.header(name), "{id}: {name}");
        }
    }
}

#[test]
fn a_held_entity_is_not_sent_again() {
    let conditional =
        |case: &&Case| case.operation.headers.iter().any(|name| name == "If-None-Match");
    // The tour has given its claim back and erased what was practised.
    let gone = ["get_claim", "get_practice_sheet", "get_practice_dossier"];
    let read = |case: &&Case| {
        case.operation.method == "GET" && !gone.contains(&case.operation.id.as_str())
    };
    for case in cases().iter().filter(conditional).filter(read) {
        let id = &case.operation.id;
        let first = case.good.send(address());
        let Some(tag) = first.header("etag").map(str::to_owned) else {
            panic!("{id} has no entity tag: {}", first.text());
        };
        for held in [tag.clone(), format!("W/{tag}"), format!("\"other\", {tag}"), "*".to_owned()] {
            let again = case.good.clone().header("If-None-Match", held.clone()).send(address());
            assert_eq!((again.status, again.body.len()), (304, 0), "{id}: {held}");
            assert_eq!(again.header("etag"), Some(tag.as_str()), "{id}");
        }
        let other = case.good.clone().header("If-None-Match", "\"other\"").send(address());
        assert_eq!(other.status, 200, "{id}");
    }
}

#[test]
fn where_there_is_nothing() {
    for target in ["/", "/v1", "/v1/", "/v1/nothing", "/v2/capabilities", "/v1/capabilities/", "//"]
    {
        let answer = Request::get(target).send(address());
        assert_eq!(answer.status, 404, "{target}");
        assert_eq!(answer.problem().code, ErrorCode::NotFound, "{target}");
    }
}

#[test]
fn every_type_of_problem_has_its_page() {
    for code in ErrorCode::ALL {
        let page = Request::get(format!("/problems/{code}")).send(address());
        assert_eq!(page.status, 200, "{code}");
        assert_eq!(page.json()["status"], json!(code.status()), "{code}");
    }
}
