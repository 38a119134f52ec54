//! Nothing that a request says is passed over: what is not understood is refused
//! before anything is done, on every operation of the document.

use etui_schema::problem::{ErrorCode, FaultCode};
use etui_tests::document::{Document, Operation};
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// Every operation with its good request.
fn all(tour: &Tour) -> Vec<(Operation, Request)> {
    let operations = Document::of_this_build().operations().into_iter();
    let good = |operation: &Operation| tour.example(&operation.id).request.clone();
    operations.map(|operation| (operation.clone(), good(&operation))).collect()
}

/// What is read of the service, each answer as it is: whatever is written shows here.
fn state(tour: &Tour, all: &[(Operation, Request)]) -> Vec<(String, Answer)> {
    let reads = all.iter().filter(|(operation, _)| operation.method == "GET");
    reads
        .map(|(operation, good)| {
            let sent = good.clone().header("X-Request-Id", "same");
            (operation.id.clone(), tour.running.call(&sent))
        })
        .collect()
}

/// Its parameters that are no lists.
fn single(operation: &Operation) -> Vec<&str> {
    let all = operation.object["parameters"].as_array().into_iter().flatten();
    let single = all.filter(|p| p["in"] == "query" && p["schema"]["type"] != "array");
    single.filter_map(|p| p["name"].as_str()).collect()
}

fn with(request: &Request, query: &str) -> Request {
    let joint = if request.target.contains('?') { '&' } else { '?' };
    Request { target: format!("{}{joint}{query}", request.target), ..request.clone() }
}

fn refused(answer: &Answer, pointer: &str, code: FaultCode, place: &str) -> String {
    assert_eq!(answer.status, 400, "{place}: {}", answer.text());
    let problem = answer.problem();
    assert_eq!(problem.code, ErrorCode::UnreadableRequest, "{place}: {problem}");
    let found = problem.errors.iter().find(|f| f.pointer == pointer && f.code == code);
    found.unwrap_or_else(|| panic!("{place}: no {code} at {pointer}: {problem}")).message.clone()
}

/// Every operation with a parameter that it does not have, and with one that stands twice:
/// refused, the parameters that it has are named, and nothing is different afterwards.
#[test]
fn a_parameter_that_is_not_understood_stops_the_request() {
    let tour = Tour::make();
    let all = all(&tour);
    let (before, settled) = (state(&tour, &all), state(&tour, &all));
    for (operation, good) in &all {
        let place = format!("{} {}", operation.method, operation.path);
        for name in ["no_such_parameter", "Limit", "dry-run"] {
            let answer = tour.running.call(&with(good, &format!("{name}=1")));
            let at = format!("query:{name}");
            let message = refused(&answer, &at, FaultCode::UnknownField, &place);
            for known in &operation.query {
                assert!(message.contains(&format!("`{known}`")), "{place}: {message}");
            }
        }
        for name in single(operation) {
            let answer = tour.running.call(&with(good, &format!("{name}=1&{name}=1")));
            refused(&answer, &format!("query:{name}"), FaultCode::Duplicate, &place);
        }
    }
    let after = state(&tour, &all);
    assert!(40 < after.len(), "{} reads", after.len());
    for ((was, is), still) in before.iter().zip(&settled).zip(&after) {
        // Some figures count the very reads that look at them.
        if was.1.body == is.1.body {
            assert_eq!(is.1.body, still.1.body, "{}", still.0);
        }
    }
}

/// The place of every member of a value, and the text of the whole with that member standing twice.
fn doubled(value: &Value) -> Vec<(String, String)> {
    let written = |name: &str, text: &str| format!("{}:{text}", json!(name));
    match value {
        Value::Object(members) => {
            let others = |but: &str| {
                let rest = members.iter().filter(move |(name, _)| *name != but);
                rest.map(|(name, value)| written(name, &value.to_string())).collect::<Vec<_>>()
            };
            let each = members.iter().flat_map(|(name, member)| {
                let place = format!("/{}", name.replace('~', "~0").replace('/', "~1"));
                let twice = written(name, &member.to_string());
                let itself = (place.clone(), [twice.clone(), twice].join(","));
                let inner = doubled(member).into_iter();
                let inner = inner.map(|(at, text)| (place.clone() + &at, written(name, &text)));
                let all: Vec<_> = [itself].into_iter().chain(inner).collect();
                all.into_iter().map(|(at, text)| {
                    let mut whole = others(name);
                    whole.push(text);
                    (at, format!("{{{}}}", whole.join(",")))
                })
            });
            each.collect()
        }
        Value::Array(items) => {
            let each = items.iter().enumerate().flat_map(|(at, item)| {
                doubled(item).into_iter().map(move |(inner, text)| {
                    let mut all: Vec<_> = items.iter().map(Value::to_string).collect();
                    all[at] = text;
                    (format!("/{at}{inner}"), format!("[{}]", all.join(",")))
                })
            });
            each.collect()
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => Vec::new(),
    }
}

/// Every member of every body, wherever it stands, twice: refused at its place, whether its name
/// is the interface's or the caller's own.
#[test]
fn a_member_that_stands_twice_is_refused_wherever_it_stands() {
    let tour = Tour::shared();
    let mut refused = 0;
    for (operation, good) in all(tour) {
        let Some(body) = good.body.as_deref().and_then(|body| serde_json::from_slice(body).ok())
        else {
            continue;
        };
        for (at, text) in doubled(&body) {
            let place = format!("{} {} {at}", operation.method, operation.path);
            let answer = tour.running.call(&Request { body: Some(text.into()), ..good.clone() });
            assert_eq!(answer.status, 422, "{place}: {}", answer.text());
            let problem = answer.problem();
            let named = problem.errors.iter().find(|fault| fault.pointer == format!("#{at}"));
            assert!(named.is_some_and(|f| f.code == FaultCode::Duplicate), "{place}: {problem}");
            refused += 1;
        }
    }
    assert!(300 < refused, "{refused} members");
}

/// No read looks at `If-Match`, and none passes it over.
#[test]
fn a_read_says_that_it_looks_at_no_version() {
    let tour = Tour::shared();
    for (operation, good) in all(tour).into_iter().filter(|(one, _)| one.method == "GET") {
        let answer = tour.running.call(&good.header("If-Match", "\"some\""));
        refused(&answer, "header:If-Match", FaultCode::NotAllowed, &operation.path);
    }
}

/// Every write with each header that it does not look at and that a caller would rely on:
/// refused by the header's name, and nothing is different afterwards.
#[test]
fn a_header_that_a_write_does_not_look_at_stops_it() {
    // Writes that the document does not tell by method, key or 201.
    const OTHERS: [&str; 3] = ["sweep_records", "confirm_clock", "make_backup"];
    let tour = Tour::make();
    let all = all(&tour);
    let (before, settled) = (state(&tour, &all), state(&tour, &all));
    let mut refusals = [0; 6];
    for (operation, good) in &all {
        let writes = matches!(operation.method.as_str(), "PUT" | "PATCH" | "DELETE")
            || operation.method == "POST" && operation.answers.contains_key(&201)
            || OTHERS.contains(&operation.id.as_str());
        if !writes {
            continue;
        }
        let place = format!("{} {}", operation.method, operation.path);
        for (at, (name, value)) in [
            ("Idempotency-Key", "\"ignored\""),
            ("Prefer", "return=minimal"),
            ("If-Match", "\"ignored\""),
            ("If-None-Match", if operation.method == "PUT" { "\"ignored\"" } else { "*" }),
            ("Content-Range", "bytes 0-1/10"),
            ("X-Dry-Run", "true"),
        ]
        .into_iter()
        .enumerate()
        {
            let in_vain = operation.method == "PUT" && name == "If-None-Match";
            if !in_vain && operation.headers.iter().any(|heard| heard == name) {
                continue;
            }
            let answer = tour.running.call(&good.clone().header(name, value));
            refused(&answer, &format!("header:{name}"), FaultCode::NotAllowed, &place);
            refusals[at] += 1;
        }
    }
    assert!(refusals.iter().all(|seen| 8 < *seen), "{refusals:?}");
    let after = state(&tour, &all);
    for ((was, is), still) in before.iter().zip(&settled).zip(&after) {
        if was.1.body == is.1.body {
            assert_eq!(is.1.body, still.1.body, "{}", still.0);
        }
    }
}

fn made(running: &Running, path: &str, body: &Value) -> Value {
    let answer = running.call(&Request::post(path, body));
    assert_eq!(answer.status, 201, "{path}: {}", answer.text());
    answer.json()
}

/// What cannot be taken back can be looked at first: the same answer as the deed, the same
/// refusals, nothing written, and the key of a repeat is still free.
#[test]
fn a_dry_run_tells_and_does_nothing() {
    let service = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT D1 EXP 2029-06-30 STERILE EO", "packs": 5, "maker": "north" });
    let lot = made(&service, "/v1/lots", &lot)["id"].as_str().expect("an id").to_owned();
    let kept =
        service.call(&Request::put("/v1/clients/dry-1", &json!({ "born_on": "1990-05-02" })));
    let tag = kept.header("etag").expect("an entity tag").to_owned();
    let body = json!({
        "client_ref": "dry-1", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2027-03-15T09:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
    });
    made(&service, "/v1/treatments", &body);
    service.set_clock("2040-03-16T08:00:00Z");
    let digest = service.call(&Request::get("/v1/retention")).json()["digest"].clone();
    let reason = json!({ "reason": "sterile barrier may be broken" });
    let named = json!({ "lot": "D1", "reason": "sterile barrier may be broken" });
    let artist = Request::put("/v1/artists/dry-2", &json!({ "hand": "light" }));
    assert_eq!(service.call(&artist).status, 201);
    let drills = json!({
        "configuration": { "diameter_mm": 0.2, "count": 1, "grouping": "round_liner" },
        "effect": "hair_strokes", "site": "brow", "level": "working", "seed": 7, "mark_mm": 0.1,
    });
    made(&service, "/v1/practice-sheets", &json!({ "artist_ref": "dry-2", "drills": drills }));
    let reads = ["/v1/lots", "/v1/clients/dry-1", "/v1/retention", "/v1/artists/dry-2/practice"]
        .map(|path| Request::get(path.to_owned()));
    let state = || reads.clone().map(|read| service.call(&read).text());
    let before = state();
    let deeds = [
        (Request::post("/v1/recalls", &named), 201, "recalled_at"),
        (Request::post(format!("/v1/lots/{lot}/recalls"), &reason), 201, "recalled_at"),
        (Request::post("/v1/retention-sweeps", &json!({ "digest": digest })), 200, "swept_at"),
        (Request::new("DELETE", "/v1/clients/dry-1").header("If-Match", tag), 200, "erased_at"),
        (Request::new("DELETE", "/v1/artists/dry-2/practice"), 200, "erased_at"),
    ];
    // Sweeps and erasures keep no answers for a repeat, and take no key.
    let keyed = |deed: Request| match deed.target.contains("recalls") {
        true => deed.header("Idempotency-Key", "\"dry\""),
        false => deed,
    };
    for (deed, _, _) in &deeds {
        let told = service.call(&keyed(with(deed, "dry_run=true")));
        assert_eq!((told.status, &told.json()["dry_run"]), (200, &json!(true)), "{}", told.text());
        assert_eq!(state(), before, "{}", deed.target);
        let wrong = service.call(&with(deed, "dry_run=yes"));
        assert_eq!(wrong.status, 400, "{}", wrong.text());
    }
    let stale = with(&deeds[3].0, "dry_run=true").header("If-Match", "\"stale\"");
    assert_eq!(service.call(&stale).status, 412, "a dry run refuses what the deed would");
    for (deed, status, when) in [&deeds[0], &deeds[1], &deeds[3], &deeds[4]] {
        let told = service.call(&with(deed, "dry_run=true")).json();
        let done = service.call(&keyed(with(deed, "dry_run=false")));
        assert_eq!(done.status, *status, "{}", done.text());
        let done = done.json();
        assert_eq!(done.get("dry_run"), None, "{done}");
        assert_eq!(told[when], done[when]);
        for same in ["exposures", "kept_records"] {
            assert_eq!(told.get(same), done.get(same), "{}", deed.target);
        }
    }
    assert_eq!(service.call(&reads[1]).status, 404);
    assert_eq!(service.call(&reads[3]).status, 404);
}

/// A body that nobody reads may have been meant as a caution; of two keys a repeat may
/// carry either.
#[test]
fn a_body_or_a_second_key_that_would_be_passed_over_is_refused() {
    let service = Running::start();
    let document = Document::of_this_build();
    let mut seen = 0;
    for operation in document.operations() {
        let reads_none = matches!(operation.method.as_str(), "DELETE" | "POST");
        if !reads_none || operation.object.get("requestBody").is_some() {
            continue;
        }
        seen += 1;
        let target = operation.path.replace(['{', '}'], "");
        let bare = Request::new(&operation.method, target).header("If-Match", "*");
        let bare = if operation.method == "POST" { bare.without("If-Match") } else { bare };
        let problem = service.call(&bare.json(&json!({ "dry_run": true }))).problem();
        assert!(problem.errors.iter().any(|fault| fault.pointer == "#"), "{}", operation.id);
    }
    assert!(5 < seen, "{seen}");
    let lot = json!({ "text": "0.30 3RS LOT B1 EXP 2029-06-30 STERILE EO", "packs": 5 });
    let mut twice = Request::post("/v1/lots", &lot).header("Idempotency-Key", "\"one\"");
    twice.headers.push(("Idempotency-Key".to_owned(), "\"two\"".to_owned()));
    let refused = service.call(&twice);
    assert_eq!(refused.status, 400, "{}", refused.text());
    assert_eq!(refused.problem().errors[0].pointer, "header:Idempotency-Key");
}
