//! Writes: carried out once however often they are sent, and only on the
//! version of a record that the caller has seen.

use std::collections::BTreeSet;

use etui_schema::problem::ErrorCode;
use etui_tests::document::Document;
use etui_tests::running::{Running, with_token};
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// What a POST made under an id of its own is read at its `Location`, or stands in what is
/// named here: nobody who has an id is without a way to it.
#[test]
fn what_was_made_is_read_where_the_answer_says() {
    const ELSEWHERE: [(&str, &str); 10] = [
        ("adjust_lot", "the lot itself"),
        ("withdraw_sign_off", "the sign-off itself"),
        ("rotate_subscription_secret", "the subscription itself"),
        ("redeliver_event", "the delivery itself"),
        ("hand_in_practice_sheet", "in its sheet"),
        ("hand_in_practice_picture", "in its sheet"),
        ("mark_practice_sheet", "in its sheet"),
        ("settle_symptom_report", "in its report"),
        ("extend_claim", "the claim itself"),
        ("return_claim", "the claim itself"),
    ];
    let tour = Tour::make();
    let mut read = 0;
    for operation in Document::of_this_build().operations() {
        let Some(example) = tour.find(&operation.id) else {
            continue;
        };
        let made = &example.answer;
        if operation.method != "POST" || made.status != 201 {
            continue;
        }
        let body = made.json();
        let id = ["id", "claim_id"].into_iter().find(|name| body[*name].is_string());
        let place = made.header("location");
        // Forgotten, or given back, later on the tour.
        if ["make_practice_sheet", "claim_reminders"].contains(&&*operation.id) {
            assert!(place.is_some_and(|place| place.starts_with(&operation.path)), "{place:?}");
            continue;
        }
        if ELSEWHERE.iter().any(|(known, _)| *known == operation.id) {
            assert_eq!(place, None, "{}", operation.id);
            continue;
        }
        let (Some(id), Some(place)) = (id, place) else {
            assert!(id.is_none(), "{}: no Location leads to {}", operation.id, body["id"]);
            continue;
        };
        let found = tour.running.call(&Request::get(place));
        assert_eq!(found.status, 200, "{} {place}: {}", operation.id, found.text());
        assert_eq!(found.json()[id], body[id], "{} {place}", operation.id);
        read += 1;
    }
    assert!(13 < read, "{read}");
}

const MACHINE: &str = "/v1/machines/writes-1";

fn machine(rate_hz: f64) -> Value {
    json!({ "stroke_mm": 3.0, "rate_hz": rate_hz, "give": "soft" })
}

fn refused(answer: &Answer, want: ErrorCode, what: &str) {
    assert_eq!(answer.problem().code, want, "{what}: {}", answer.text());
}

/// Every POST that writes: the same key and the same body, however it is written
/// down, give the same answer (but for a secret, which is shown once), a body that
/// means something else is refused, and a key that is none is refused.
#[test]
fn a_post_with_a_key_is_carried_out_once() {
    let tour = Tour::make();
    let mut seen = 0;
    for operation in Document::of_this_build().operations() {
        let Some(heard) = tour.find(&operation.id) else { continue };
        if !operation.headers.iter().any(|name| name == "Idempotency-Key") {
            continue;
        }
        seen += 1;
        let id = &operation.id;
        let keyed = heard.request.clone().header("Idempotency-Key", format!("\"once-{id}\""));
        let first = tour.running.call(&keyed);
        let again = tour.running.call(&otherwise(&keyed));
        if first.status < 300 {
            assert!(is_repeat(&again, &first), "{id}: {} {}", again.status, again.text());
            assert_eq!(again.header("location"), first.header("location"), "{id}");
            assert_eq!(again.header("etag"), first.header("etag"), "{id}");
            assert_eq!(again.header("idempotent-replayed"), Some("true"), "{id}");
            let other = others(&keyed).into_iter().map(|other| tour.running.call(&other).problem());
            let codes: Vec<ErrorCode> = other.filter_map(|problem| problem.code.known()).collect();
            let reused = codes.contains(&ErrorCode::IdempotencyKeyReused);
            assert!(reused || codes.is_empty(), "{id}: {codes:?}");
            let free = keyed.clone().header("Idempotency-Key", format!("\"twice-{id}\""));
            assert_eq!(tour.running.call(&free).header("idempotent-replayed"), None, "{id}");
        }
        for bad in ["", "\"\"", "two words", "\"a\"b\"", &"x".repeat(300)] {
            let sent = heard.request.clone().header("Idempotency-Key", bad);
            refused(&tour.running.call(&sent), ErrorCode::UnreadableRequest, bad);
        }
    }
    assert!(0 < seen, "no operation takes an Idempotency-Key");
}

fn without_secret(mut answer: Value) -> Value {
    if let Some(members) = answer.as_object_mut() {
        members.remove("secret");
    }
    answer
}

/// Whether it is the answer again. A token's secret is kept nowhere, so a repeat has none.
fn is_repeat(again: &Answer, first: &Answer) -> bool {
    let same = again.body == first.body
        || (again.json().get("secret").is_none() && again.json() == without_secret(first.json()));
    same && again.status == first.status
}

/// The same body with its members in another order and with white space.
fn otherwise(request: &Request) -> Request {
    fn turned(value: Value) -> Value {
        match value {
            Value::Object(all) => {
                Value::Object(all.into_iter().rev().map(|(name, v)| (name, turned(v))).collect())
            }
            Value::Array(all) => Value::Array(all.into_iter().map(turned).collect()),
            other @ (Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_)) => other,
        }
    }
    let Some(body) = request.json_body() else { return request.clone() };
    let text = serde_json::to_string_pretty(&turned(body)).expect("JSON");
    request.clone().bytes("application/json", format!("\n{text} "))
}

/// Bodies that mean something else: one member less, or another value.
fn others(request: &Request) -> Vec<Request> {
    let body = request.json_body().unwrap_or_default();
    let mut all = Vec::new();
    for (name, value) in body.as_object().into_iter().flatten() {
        let mut less = body.clone();
        less.as_object_mut().expect("an object").shift_remove(name);
        all.push(less);
        for value in changed(value) {
            let mut other = body.clone();
            other[name] = value;
            all.push(other);
        }
    }
    all.iter().map(|body| request.clone().json(body)).collect()
}

/// Other values in place of this one; the schema may refuse some of them.
fn changed(value: &Value) -> Vec<Value> {
    match value {
        // Another id, or a longer text.
        Value::String(text) if text.len() == 36 && text.contains('-') => {
            let last = if text.ends_with('0') { '1' } else { '0' };
            vec![format!("{}{last}", &text[..35]).into()]
        }
        Value::String(text) => vec![format!("{text}0").into()],
        Value::Number(number) => vec![json!(number.as_u64().unwrap_or_default() + 1)],
        Value::Bool(told) => vec![json!(!told)],
        Value::Array(items) => {
            let first =
                items.first().map(changed).unwrap_or_default().into_iter().map(|v| json!([v]));
            let twice = items.iter().chain(items.first()).cloned().collect();
            first.chain([twice]).collect()
        }
        Value::Object(_) | Value::Null => Vec::new(),
    }
}

/// Every POST that writes, sent again when what it made has changed, was closed, deleted or
/// erased: the same answer, or that it was erased, and only where the document says so.
#[test]
fn a_repeat_is_what_it_was() {
    let tour = Tour::make_keyed();
    let document = Document::of_this_build();
    let keyed = |id: &str| document.operation(id).headers.iter().any(|h| h == "Idempotency-Key");
    let all: Vec<_> = tour.heard().iter().filter(|heard| keyed(heard.operation)).collect();
    let ids: BTreeSet<&str> = all.iter().map(|heard| heard.operation).collect();
    let taking = document.operations().into_iter().filter(|operation| keyed(&operation.id));
    assert_eq!(ids.len(), taking.count(), "the tour leaves an operation out: {ids:?}");
    let repeat = |when: &str, gone: &[&str]| {
        let mut erased = BTreeSet::new();
        for heard in &all {
            let again = tour.running.call(&heard.request);
            let place = format!("{when}: {}: {} {}", heard.operation, again.status, again.text());
            if again.status == 410 {
                refused(&again, ErrorCode::Erased, &place);
                let said = document.operation(heard.operation).answers.contains_key(&410);
                assert!(said, "{place}: the document does not say so");
                erased.insert(heard.operation);
                continue;
            }
            let is_same = is_repeat(&again, &heard.answer) || is_left(&again, &heard.answer, gone);
            assert!(is_same, "{place}\nwas {}", heard.answer.text());
            assert_eq!(again.header("idempotent-replayed"), Some("true"), "{place}");
        }
        erased
    };
    // The tour itself has erased what a student practised.
    let practice = [
        "give_sign_off",
        "hand_in_practice_picture",
        "hand_in_practice_sheet",
        "make_practice_sheet",
        "mark_practice_sheet",
        "withdraw_sign_off",
    ];
    assert_eq!(repeat("at once", &[]), BTreeSet::from(practice));
    go_on(&tour);
    assert_eq!(repeat("when the world has gone on", &[]), BTreeSet::from(practice));
    let erase = Request::new("DELETE", "/v1/clients/client-0042").header("If-Match", "*");
    assert_eq!(tour.running.call(&erase).status, 200);
    let erased = repeat("after an erasure", &["client-0042"]);
    for operation in ["create_appointment_check", "record_treatment", "record_review"] {
        assert!(erased.contains(operation), "{erased:?}");
    }
}

/// Whether it is a claim again, without the reminders of those who are gone.
fn is_left(again: &Answer, first: &Answer, gone: &[&str]) -> bool {
    let mut left = first.json();
    let Some(reminders) = left.get_mut("reminders").and_then(Value::as_array_mut) else {
        return false;
    };
    reminders.retain(|one| !gone.iter().any(|client| one["client_ref"] == *client));
    again.status == first.status && again.json() == left
}

/// Closes, deletes and changes what the tour made.
fn go_on(tour: &Tour) {
    let call = |request: Request| tour.running.call(&request);
    tour.running.set_clock("2027-03-16T11:00:00Z");
    for list in ["/v1/calendars", "/v1/subscriptions", "/v1/plugins"] {
        let rows = call(Request::get(list)).json();
        for row in rows["items"].as_array().into_iter().flatten() {
            let path = format!("{list}/{}", row["id"].as_str().expect("an id"));
            let close = Request::new("DELETE", path);
            // Of the others no version is looked at.
            let is_versioned = list == "/v1/subscriptions";
            let gone = call(if is_versioned { close.header("If-Match", "*") } else { close });
            assert_eq!(gone.status, 200, "{list}: {}", gone.text());
        }
    }
    let claim = tour.answer("claim_reminders");
    for reminder in claim["reminders"].as_array().expect("reminders") {
        let path = format!("/v1/reminders/{}/outcomes", reminder["id"].as_str().expect("an id"));
        let body = json!({ "claim_id": claim["claim_id"], "outcome": "delivered" });
        let told = call(Request::post(path, &body));
        assert!(told.status < 300, "{}", told.text());
    }
    let lots = call(Request::get("/v1/lots")).json();
    for lot in lots["items"].as_array().into_iter().flatten() {
        let path = format!("/v1/lots/{}/adjustments", lot["id"].as_str().expect("an id"));
        let body = json!({ "reason": "held", "note": "looked at again" });
        let _ = call(Request::post(path, &body));
    }
}

/// Many at once under one key: one is carried out, all hear of the same record.
#[test]
fn a_key_holds_among_many_at_once() {
    let service = Running::start();
    let body = json!({ "text": "0.30 3RS\nLOT A1\nEXP 2029-06-30 STERILE EO", "packs": 5 });
    let sent = Request::post("/v1/lots", &body).header("Idempotency-Key", "\"delivery-1\"");
    let ids: BTreeSet<String> = std::thread::scope(|scope| {
        let ask = || {
            let answer = service.call(&sent);
            assert_eq!(answer.status, 201, "{}", answer.text());
            answer.json()["id"].as_str().unwrap_or_default().to_owned()
        };
        let all: Vec<_> = (0..16).map(|_| scope.spawn(ask)).collect();
        all.into_iter().map(|one| one.join().expect("an answer")).collect()
    });
    assert_eq!(ids.len(), 1, "{ids:?}");
    let listed = service.call(&Request::get("/v1/lots")).json();
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(1), "{listed}");
}

/// The table of RFC 9110, 13.1 and RFC 6585, 3 for a record of the caller's.
#[test]
fn a_record_changes_only_for_those_who_have_seen_it() {
    let service = Running::start();
    let put = |request: Request| service.call(&request);
    let first = put(Request::put(MACHINE, &machine(90.0)));
    assert_eq!(first.status, 201, "{}", first.text());
    let tag = first.header("etag").expect("an entity tag").to_owned();
    let read = service.call(&Request::get(MACHINE));
    assert_eq!((read.header("etag"), &read.body), (Some(tag.as_str()), &first.body));

    let other = Request::put(MACHINE, &machine(100.0));
    refused(&put(other.clone()), ErrorCode::PreconditionRequired, "no If-Match");
    let stale = other.clone().header("If-Match", "\"stale\"");
    refused(&put(stale), ErrorCode::PreconditionFailed, "a stale If-Match");
    let only_new = other.clone().header("If-None-Match", "*");
    refused(&put(only_new), ErrorCode::PreconditionFailed, "only if it is new");

    let second = put(other.clone().header("If-Match", tag.clone()));
    assert_eq!((second.status, &second.json()["version"]), (200, &json!(2)));
    assert_ne!(second.header("etag"), Some(tag.as_str()));
    let late = Request::put(MACHINE, &machine(110.0)).header("If-Match", tag);
    refused(&put(late), ErrorCode::PreconditionFailed, "what was seen is no longer there");
    let any = put(Request::put(MACHINE, &machine(120.0)).header("If-Match", "*"));
    assert_eq!((any.status, &any.json()["version"]), (200, &json!(3)));

    let absent = Request::put("/v1/machines/writes-2", &machine(90.0)).header("If-Match", "\"a\"");
    refused(&put(absent), ErrorCode::PreconditionFailed, "what is to be matched does not exist");
    let new = Request::put("/v1/machines/writes-3", &machine(90.0)).header("If-None-Match", "*");
    assert_eq!(put(new).status, 201);
}

/// Of many who change the same version, one succeeds.
#[test]
fn one_of_many_who_change_the_same_version() {
    let service = Running::start();
    let first = service.call(&Request::put(MACHINE, &machine(90.0)));
    let tag = first.header("etag").expect("an entity tag").to_owned();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let ask = |n: u8| {
            let sent = Request::put(MACHINE, &machine(100.0 + f64::from(n)));
            service.call(&sent.header("If-Match", tag.clone())).status
        };
        let all: Vec<_> = (0..12).map(|n| scope.spawn(move || ask(n))).collect();
        all.into_iter().map(|one| one.join().expect("an answer")).collect()
    });
    assert_eq!(statuses.iter().filter(|s| **s == 200).count(), 1, "{statuses:?}");
    assert!(statuses.iter().all(|s| matches!(s, 200 | 412)), "{statuses:?}");
    assert_eq!(service.call(&Request::get(MACHINE)).json()["version"], json!(2));
}

/// A list read page by page has every row once, also while others write.
#[test]
fn a_list_is_stable_under_writes() {
    let service = Running::start();
    let lot = |n: u32| json!({ "text": format!("0.30 3RS\nLOT L{n}\nEXP 2029-06-30 STERILE EO"), "packs": 1 });
    let mut wanted = BTreeSet::new();
    for n in 0..25 {
        let made = service.call(&Request::post("/v1/lots", &lot(n))).json();
        wanted.insert(made["id"].as_str().expect("an id").to_owned());
    }
    let mut seen = Vec::new();
    let mut target = "/v1/lots?limit=7".to_owned();
    for n in 100.. {
        let page = service.call(&Request::get(target.clone()));
        assert_eq!(page.status, 200, "{}", page.text());
        let rows = page.json();
        seen.extend(
            rows["items"]
                .as_array()
                .into_iter()
                .flatten()
                .map(|row| row["id"].as_str().expect("an id").to_owned()),
        );
        let Some(link) = page.header("link") else {
            assert!(rows.get("next_cursor").is_none());
            break;
        };
        let next = link.strip_prefix('<').and_then(|l| l.strip_suffix(">; rel=\"next\""));
        target = next.expect("a link to the next page").to_owned();
        assert!(rows["next_cursor"].is_string());
        let _ = service.call(&Request::post("/v1/lots", &lot(n)));
        assert!(n < 200, "the list does not end");
    }
    let once: BTreeSet<String> = seen.iter().cloned().collect();
    assert_eq!(once.len(), seen.len(), "a row came twice");
    assert!(wanted.is_subset(&once), "a row was left out");
}

#[test]
fn a_cursor_that_is_not_ours_is_refused() {
    let service = Running::shared();
    for (target, want) in [
        ("/v1/lots?cursor=nonsense", 400..423),
        ("/v1/lots?cursor=", 400..423),
        ("/v1/lots?limit=0", 400..423),
        ("/v1/lots?limit=201", 400..423),
        ("/v1/lots?limit=many", 400..423),
        ("/v1/lots?limit=1&limit=2", 400..423),
    ] {
        let answer = with_token(&Request::get(target), service.token()).send(service.address());
        assert!(want.contains(&answer.status), "{target}: {}", answer.text());
        let told = answer.problem().errors;
        assert!(told.iter().any(|f| f.pointer.starts_with("query:")), "{target}: {told:?}");
    }
}
