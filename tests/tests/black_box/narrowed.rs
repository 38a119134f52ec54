//! What becomes of a limit to some artists when it is narrowed, and what it tells of others.

use etui_schema::problem::FaultCode;
use etui_tests::happenings::receive_lot;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::reach::{check, given, limited, names, rows, send, treatment};

/// A key is its holder's own: narrowed between two tries, a token does nothing twice, and is told
/// nothing of what it does not reach any more.
#[test]
fn a_narrower_token_repeats_what_it_did() {
    let service = Running::start();
    let lot = receive_lot(&service, "L1", "2029-01-31");
    let (made, token) =
        given(&service, "p", &json!({}), &json!({ "artists": ["clara", "anna", "berta"] }));
    let plugin = format!("/v1/plugins/{}", made.json()["plugin_id"].as_str().expect("an id"));
    let narrow = |artists: &[&str]| {
        let patch = Request::merge(plugin.clone(), &json!({ "artists": artists }));
        let changed = service.call(&patch.header("If-Match", "*"));
        assert_eq!(changed.status, 200, "{}", changed.text());
    };
    let write = |path: &str, body: &Value, key: &str| {
        let request = Request::post(path, body).header("Idempotency-Key", format!("\"{key}\""));
        send(&service, &token, request)
    };
    let record = |artist: &str| {
        let mut body = treatment(Some(artist), &lot);
        body["client_ref"] = format!("client-of-{artist}").into();
        write("/v1/treatments", &body, &format!("k-{artist}"))
    };
    let (hers, other) = (record("anna"), record("clara"));
    assert_eq!((hers.status, other.status), (201, 201), "{} {}", hers.text(), other.text());
    service.set_clock("2027-03-16T14:00:00Z");
    let claim =
        || write("/v1/reminder-claims", &json!({ "limit": 50, "lease_seconds": 60 }), "claim");
    let of = |claim: &Answer, treatment: &Answer| {
        let (all, id) = (claim.json()["reminders"].clone(), treatment.json()["id"].clone());
        let all = all.as_array().cloned().unwrap_or_default();
        all.iter().filter(|one| one["treatment_id"] == id).count()
    };
    let first = claim();
    assert!(0 < of(&first, &hers) && 0 < of(&first, &other), "{}", first.text());
    narrow(&["anna", "berta"]);
    let again = record("anna");
    assert_eq!(again.header("idempotent-replayed"), Some("true"), "{}", again.text());
    assert_eq!(again.text(), hers.text());
    names(&record("clara"), "#/artist_ref");
    let repeated = claim();
    assert_eq!(repeated.header("idempotent-replayed"), Some("true"));
    assert_eq!((of(&repeated, &hers), of(&repeated, &other)), (of(&first, &hers), 0));
    // Of those who were left, too, none is left: nobody's work, and a message that ends.
    narrow(&["dora"]);
    let refused = record("anna");
    assert_eq!(refused.status, 403, "{}", refused.text());
    assert!(refused.problem().errors[0].message.contains("nobody's work"), "{}", refused.text());
    assert_eq!(of(&claim(), &hers), 0);
    let all = rows(&service, service.token(), "/v1/treatments");
    assert_eq!(all.len(), 2, "nothing was done twice");
}

/// That she was treated before is told to a limited token with its day; which treatment it was,
/// only to one that reaches it.
#[test]
fn an_earlier_session_of_anothers_has_a_day_and_no_id() {
    let service = Running::start();
    let lot = receive_lot(&service, "L1", "2029-01-31");
    let clara = service.call(&Request::post("/v1/treatments", &treatment(Some("clara"), &lot)));
    assert_eq!(clara.status, 201, "{}", clara.text());
    let id = clara.json()["id"].clone();
    let put = service.call(&Request::put("/v1/artists/anna", &json!({ "hand": "light" })));
    assert_eq!(put.status, 201, "{}", put.text());
    for (artists, told) in [(&["anna"][..], false), (&["anna", "clara"], true)] {
        let token = limited(&service, &format!("p{}", artists.len()), artists);
        let request = Request::post("/v1/appointment-checks", &check(Some("anna")));
        let answer = send(&service, &token, request);
        assert_eq!(answer.status, 201, "{}", answer.text());
        let session = answer.json()["previous_sessions"][0].clone();
        assert_eq!(session["on"], "2027-03-16", "{session}");
        assert_eq!(session.get("treatment_id"), told.then_some(&id), "{session}");
    }
}

/// Who is not kept, but for case or marks like somebody who is, is a slip, and would open nothing.
#[test]
fn a_limit_to_a_slip_of_the_pen_is_refused() {
    let service = Running::start();
    let free = limited(&service, "before", &["ANNA"]);
    assert!(rows(&service, &free, "/v1/treatments").is_empty());
    let put = service.call(&Request::put("/v1/artists/anna", &json!({ "hand": "light" })));
    assert_eq!(put.status, 201, "{}", put.text());
    let (made, _) = given(&service, "whole", &json!({}), &json!({}));
    let plugin = format!("/v1/plugins/{}", made.json()["plugin_id"].as_str().expect("an id"));
    let patch = |artists: &Value| {
        let patch = Request::merge(plugin.clone(), &json!({ "artists": artists }));
        service.call(&patch.header("If-Match", "*"))
    };
    for (n, (artists, refused)) in
        [(json!(["ANNA"]), true), (json!(["an-na"]), true), (json!(["anna", "dora"]), false)]
            .into_iter()
            .enumerate()
    {
        let limit = json!({ "artists": artists });
        for answer in [
            given(&service, &format!("p{n}"), &limit, &json!({})).0,
            given(&service, &format!("t{n}"), &json!({}), &limit).0,
            patch(&artists),
        ] {
            assert_eq!(answer.status == 422, refused, "{artists}: {}", answer.text());
            if refused {
                let problem = answer.problem();
                let fault = &problem.errors[0];
                assert_eq!(fault.pointer, "#/artists/0", "{problem}");
                assert!(fault.code == FaultCode::Duplicate && fault.says.is_some(), "{problem}");
            }
        }
    }
}

/// The newest check of a booking counts: nobody puts hers in the place of another's.
#[test]
fn a_booking_of_anothers_is_not_taken_over() {
    let service = Running::start();
    for artist in ["anna", "berta"] {
        let put = Request::put(format!("/v1/artists/{artist}"), &json!({ "hand": "light" }));
        assert_eq!(service.call(&put).status, 201);
    }
    let token = limited(&service, "p", &["anna"]);
    let made = service.call(&Request::post("/v1/appointment-checks", &check(Some("berta"))));
    assert_eq!(made.status, 201, "{}", made.text());
    let write =
        |body: &Value| send(&service, &token, Request::post("/v1/appointment-checks", body));
    names(&write(&check(Some("anna"))), "#/booking_ref");
    let mut own = check(Some("anna"));
    own["booking_ref"] = "b2".into();
    for _ in 0..2 {
        assert_eq!(write(&own).status, 201);
    }
}
