//! What a caller prefers of an answer: none at all, or fewer bytes.

use std::io::Read;

use etui_tests::document::Document;
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use flate2::read::GzDecoder;
use serde_json::{Value, json};

fn put(service: &Running, name: &str, born: &str) -> Answer {
    service.call(&Request::put(format!("/v1/clients/{name}"), &json!({ "born_on": born })))
}

/// The same version and place as with the answer; only the answer is not there.
#[test]
fn an_answer_can_be_spared() {
    let service = Running::start();
    let path = "/v1/clients/brief-1";
    let brief = |request: Request| service.call(&request.header("Prefer", "return=minimal"));
    let made = brief(Request::put(path, &json!({ "born_on": "1990-05-02" })));
    assert_eq!((made.status, made.body.len()), (204, 0));
    assert_eq!(made.header("preference-applied"), Some("return=minimal"));
    assert_eq!(made.header("content-type"), None);
    let tag = made.header("etag").expect("an entity tag").to_owned();
    let read = service.call(&Request::get(path));
    assert_eq!(read.header("etag"), Some(&*tag));
    let patch = Request::merge(path, &json!({ "zone": "Europe/Vienna" })).header("If-Match", tag);
    let patched = brief(patch);
    assert_eq!((patched.status, patched.body.len()), (204, 0), "{}", patched.text());
    let now = service.call(&Request::get(path));
    assert_eq!(now.json()["zone"], "Europe/Vienna");
    assert_eq!(now.header("etag"), patched.header("etag"));
    let lot = json!({ "text": "0.30 3RS LOT B1 EXP 2029-06-30 STERILE EO", "packs": 5 });
    let keyed = Request::post("/v1/lots", &lot).header("Idempotency-Key", "\"brief\"");
    let first = brief(keyed.clone());
    assert_eq!((first.status, first.body.len()), (204, 0));
    let place = first.header("location").expect("a place").to_owned();
    assert_eq!(service.call(&Request::get(place.clone())).status, 200);
    // A repeat may want more of it than the first did.
    let again = service.call(&keyed);
    assert_eq!((again.status, again.header("location")), (201, Some(&*place)));
    assert_eq!(again.json()["packs"], 5);
    let refused = brief(Request::put(path, &json!({ "born_on": "1990-05-02" })));
    assert_eq!(refused.status, 428, "a refusal is never spared");
    assert!(!refused.body.is_empty());
}

/// What can be had only once is given, whatever is preferred; who is strict is told.
#[test]
fn what_is_all_there_is_is_not_spared() {
    let service = Running::start();
    let subscription = json!({ "url": "http://127.0.0.1:9/nobody" });
    let make = Request::post("/v1/subscriptions", &subscription);
    let strict = make.clone().header("Prefer", "return=minimal, handling=strict");
    let refused = service.call(&strict);
    assert_eq!(refused.status, 400, "{}", refused.text());
    assert_eq!(refused.problem().errors[0].pointer, "header:Prefer");
    // What would be lost is not made: whoever wants it short is told so before.
    let lost = service.call(&make.clone().header("Prefer", "return=minimal"));
    assert_eq!(lost.status, 400, "{}", lost.text());
    assert_eq!(lost.problem().errors[0].pointer, "header:Prefer");
    let made = service.call(&make.header("Prefer", "respond-async"));
    assert_eq!(made.status, 201, "{}", made.text());
    assert!(made.json()["secret"].is_string());
    assert_eq!(made.header("preference-applied"), None);
    put(&service, "dry-1", "1990-05-02");
    let tag = service.call(&Request::get("/v1/clients/dry-1")).header("etag").unwrap().to_owned();
    let erase = Request::new("DELETE", "/v1/clients/dry-1").header("If-Match", tag);
    for caution in ["dry-run", "tx=rollback", "Validate-Only"] {
        let refused = service.call(&erase.clone().header("Prefer", caution));
        assert_eq!(refused.status, 400, "{caution}: {}", refused.text());
        assert!(refused.text().contains("?dry_run=true"), "{}", refused.text());
    }
    assert_eq!(service.call(&Request::get("/v1/clients/dry-1")).status, 200);
    let known = service.call(&Request::get("/v1/lots").header("Prefer", "respond-async"));
    assert_eq!(known.status, 200, "{}", known.text());
    // A version that nobody looks at must not be believed to be looked at.
    let lot = json!({ "text": "0.30 3RS LOT B1 EXP 2029-06-30 STERILE EO", "packs": 5 });
    let refused = service.call(&Request::post("/v1/lots", &lot).header("If-Match", "\"wrong\""));
    assert_eq!(refused.problem().errors[0].pointer, "header:If-Match");
}

/// What opens a way in is taken away with the version that was read, with none, and with no other.
#[test]
fn a_version_is_looked_at_where_a_way_in_ends() {
    let service = Running::start();
    let post = |path: &str, body: &Value| service.call(&Request::post(path, body)).json();
    let id = |made: &Value| made["id"].as_str().expect("an id").to_owned();
    let plugin = json!({ "name": "desk", "scopes": ["checks:read"] });
    for with_version in [true, false] {
        let feed = id(&post("/v1/calendars", &json!({ "of": "studio" })));
        let mut plugin = plugin.clone();
        plugin["name"] = json!(format!("desk-{with_version}"));
        let plugin = id(&post("/v1/plugins", &plugin));
        let tokens = format!("/v1/plugins/{plugin}/tokens");
        let token = id(&post(&tokens, &json!({ "name": "desk" })));
        for path in [
            format!("/v1/calendars/{feed}"),
            format!("{tokens}/{token}"),
            format!("/v1/plugins/{plugin}"),
        ] {
            let take = Request::new("DELETE", path.as_str());
            let wrong = service.call(&take.clone().header("If-Match", "\"wrong\""));
            assert_eq!(wrong.status, 412, "{path}: {}", wrong.text());
            let read = service.call(&Request::get(path.as_str()));
            let tag = read.header("etag").expect("an entity tag").to_owned();
            let take = if with_version { take.header("If-Match", tag) } else { take };
            let taken = service.call(&take);
            assert_eq!(taken.status, 200, "{path}: {}", taken.text());
        }
    }
}

/// What a PUT creates says where it is read, spared or not; what it replaces says nothing new.
#[test]
fn a_put_says_where_it_made_something() {
    let service = Running::start();
    for (path, brief) in [("/v1/clients/put-1", false), ("/v1/clients/put-2", true)] {
        let body = json!({ "born_on": "1990-05-02" });
        let put = Request::put(path, &body);
        let put = if brief { put.header("Prefer", "return=minimal") } else { put };
        let made = service.call(&put);
        assert_eq!(made.status, if brief { 204 } else { 201 }, "{}", made.text());
        assert_eq!(made.header("location"), Some(path));
        let replaced = service.call(&put.header("If-Match", "*"));
        assert_eq!(replaced.header("location"), None, "{}", replaced.text());
    }
}

/// Every operation with texts says that its refusals are in English, also those that come before
/// anybody looks at the language.
#[test]
fn refusals_say_their_language() {
    let tour = Tour::shared();
    let mut seen = 0;
    for operation in Document::of_this_build().operations() {
        let good = tour.example(&operation.id).request.clone();
        let good = good.header("Accept-Language", "de");
        let mut wrong =
            vec![Request { target: format!("{}?no_such=1", good.path()), ..good.clone() }];
        if operation.takes_body {
            wrong.push(good.clone().bytes("application/json", "{"));
            wrong.push(good.clone().json(&json!({ "no_such_member": 1 })));
        }
        let speaks = operation.headers.iter().any(|name| name == "Accept-Language");
        for request in wrong {
            let refused = tour.running.call(&request);
            let place = format!("{}: {}", operation.id, refused.text());
            assert!(matches!(refused.status, 400 | 422), "{place}");
            assert_eq!(refused.header("content-language"), speaks.then_some("en"), "{place}");
            let varies =
                refused.header("vary").is_some_and(|vary| vary.contains("accept-language"));
            assert_eq!(varies, speaks, "{place}");
            seen += usize::from(speaks);
        }
    }
    assert!(30 < seen, "{seen}");
}

fn unpacked(answer: &Answer) -> Vec<u8> {
    let mut plain = Vec::new();
    match answer.header("content-encoding") {
        Some("gzip") => {
            GzDecoder::new(&*answer.body).read_to_end(&mut plain).expect("gzip");
        }
        other => {
            assert_eq!(other, None);
            plain.clone_from(&answer.body);
        }
    }
    plain
}

/// Every answer of the tour, asked for packed: the same bytes once it is unpacked, and
/// never longer; those with a secret, short ones, pictures and streams stay as they are.
#[test]
fn answers_are_packed_for_those_who_take_them_so() {
    let tour = Tour::make();
    let document = Document::of_this_build();
    let (mut packed, mut plain_bytes, mut packed_bytes) = (0, 0, 0);
    for operation in document.operations().into_iter().filter(|one| one.method == "GET") {
        let request = tour.example(&operation.id).request.clone().header("X-Request-Id", "same");
        let plain = tour.running.call(&request);
        if plain.body != tour.running.call(&request).body {
            continue; // it counts, or streams
        }
        let short = tour.running.call(&request.clone().header("Accept-Encoding", "gzip"));
        let id = &operation.id;
        assert_eq!(short.status, plain.status, "{id}");
        assert_eq!(unpacked(&short), plain.body, "{id}");
        assert!(short.body.len() <= plain.body.len(), "{id}");
        let refused = Request::get(request.target.clone()).header("Accept-Encoding", "gzip;q=0");
        assert_eq!(tour.running.call(&refused).header("content-encoding"), None, "{id}");
        if short.header("content-encoding").is_none() {
            let small = plain.body.len() < 1024;
            let text = plain.media().starts_with("text/");
            let stream = plain.media() == "text/event-stream";
            let other = stream || !text && !plain.media().contains("json");
            assert!(small || other, "{id}: {}", plain.media());
            continue;
        }
        packed += 1;
        packed_bytes += short.body.len();
        plain_bytes += plain.body.len();
        assert!(short.header("vary").is_some(), "{id}");
        // Its tag is the plain one's and the coding, and fits wherever that does.
        if let Some(tag) = plain.header("etag") {
            let coded = format!(
                "{}.{}\"",
                tag.trim_end_matches('"'),
                short.header("content-encoding").unwrap()
            );
            assert_eq!(short.header("etag"), Some(&*coded), "{id}");
        }
        if let Some(tag) = short.header("etag") {
            let held = request.clone().header("Accept-Encoding", "gzip");
            let held = held.header("If-None-Match", tag);
            assert_eq!(tour.running.call(&held).status, 304, "{id}: {tag}");
        }
    }
    println!("{packed} answers packed: {plain_bytes} bytes are {packed_bytes}");
    assert!(20 < packed, "{packed}");
}

#[test]
fn secrets_and_streams_are_not_packed() {
    let service = Running::start();
    let long = "x".repeat(1500);
    let body: Value = json!({ "url": format!("http://127.0.0.1:9/{long}") });
    let made = service
        .call(&Request::post("/v1/subscriptions", &body).header("Accept-Encoding", "gzip, br"));
    assert_eq!((made.status, made.header("content-encoding")), (201, None), "{}", made.text());
    assert!(1024 < made.body.len());
    let stream = Request::get("/v1/events/stream?after=0&for_seconds=0");
    let stream = service.call(&stream.header("Accept-Encoding", "gzip, br"));
    assert_eq!((stream.status, stream.header("content-encoding")), (200, None));
}

/// A patch of another kind is told which is read (RFC 5789, 2.2).
#[test]
fn a_patch_is_told_what_is_read() {
    let tour = Tour::shared();
    let mut seen = 0;
    for operation in Document::of_this_build().operations() {
        if operation.method == "PATCH" {
            let good = tour.example(&operation.id).request.clone();
            let refused = tour.running.call(&good.without("Content-Type").json(&json!({})));
            assert_eq!(refused.status, 415, "{}: {}", operation.id, refused.text());
            let read = Some("application/merge-patch+json");
            assert_eq!((refused.header("accept"), refused.header("accept-patch")), (read, read));
            seen += 1;
        }
    }
    assert!(5 < seen, "{seen}");
}
