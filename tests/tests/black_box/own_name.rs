//! A student works under her own name, and under nobody's beside it: no second record, no
//! treatment of another, no token of another makes her anything else.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::plugins::{issue, register, text};
use crate::practice::Studio;

fn put(artist: &str, body: &Value) -> Request {
    Request::put(format!("/v1/artists/{artist}"), body)
}

/// The place of the first fault.
fn refused(answer: &Answer, case: &str) -> String {
    assert_eq!(answer.status, 422, "{case}: {}", answer.text());
    answer.json()["errors"][0]["pointer"].as_str().expect("a place").to_owned()
}

fn token(service: &Running, name: &str, scopes: &Value, acts_for: Option<&str>) -> String {
    let plugin = register(service, name, json!({ "scopes": scopes, "allow_admin": true }));
    text(&issue(service, plugin, &of(acts_for)))
}

fn of(acts_for: Option<&str>) -> Value {
    acts_for
        .map_or_else(|| json!({ "name": "t" }), |artist| json!({ "name": "t", "acts_for": artist }))
}

#[test]
fn nobody_becomes_an_artist_under_a_second_name() {
    let studio = Studio::start();
    let write = json!(["clients:write", "clients:read"]);
    let anna = token(&studio.service, "annas-script", &write, Some("anna"));
    let booking = token(&studio.service, "booking", &write, None);
    let berta = token(&studio.service, "bertas-script", &write, Some("berta"));
    let admin = token(&studio.service, "annas-root", &json!(["admin"]), Some("anna"));
    let (artist, student) =
        (json!({ "hand": "light" }), json!({ "hand": "light", "standing": "student" }));
    for (who, holder, reference, body, place) in [
        ("her own script", &anna, "anna-b", &artist, "#"),
        ("her own script", &anna, "anna-b", &student, "#"),
        ("her own script", &anna, "berta", &artist, "#"),
        ("an admin that acts for her", &admin, "anna-b", &artist, "#"),
        ("an artist's script", &berta, "clara", &artist, "#/standing"),
        ("a booking program", &booking, "clara", &artist, "#/standing"),
        ("a booking program", &booking, "Anna", &student, "path:artist_ref"),
        ("a booking program", &booking, "an_na", &student, "path:artist_ref"),
    ] {
        let case = format!("{who} puts {reference}");
        let request = put(reference, body);
        let held = studio.service.call(&Request::get(format!("/v1/artists/{reference}")));
        let request = if held.status == 200 { request.header("If-Match", "*") } else { request };
        assert_eq!(refused(&studio.send(holder, &request), &case), place, "{case}");
    }
    // Even the owner: two that look alike are one to whoever reads them.
    let alike = studio.service.call(&put("A-N-N-A", &artist));
    assert_eq!(refused(&alike, "the owner"), "path:artist_ref");
    for (artist, holder) in [("berta", &anna), ("dora", &anna)] {
        let gone = Request::new("DELETE", format!("/v1/artists/{artist}")).header("If-Match", "*");
        assert_eq!(refused(&studio.send(holder, &gone), artist), "#", "{artist}");
    }
    // What is hers she writes; a student may be taken up by a script; an artist by the owner.
    let own = put("anna", &json!({ "hand": "medium" })).header("If-Match", "*");
    assert_eq!(studio.send(&anna, &own).json()["standing"], "student");
    assert_eq!(studio.send(&booking, &put("emma", &student)).status, 201);
    assert_eq!(studio.service.call(&put("clara", &artist)).status, 201);
    // Where nobody is a student, a script takes up whom it likes.
    let alone = Running::start();
    let booking = token(&alone, "booking", &write, None);
    assert_eq!(alone.call(&put("clara", &artist).token(&booking)).status, 201);
}

#[test]
fn a_token_that_acts_for_somebody_gives_none_that_reaches_further() {
    let studio = Studio::start();
    let service = &studio.service;
    let plugin = register(service, "trainers", json!({ "scopes": ["sign-offs"] }));
    let of_berta = issue(service, plugin, &of(Some("berta"))).id;
    let anna = token(service, "annas-root", &json!(["admin"]), Some("anna"));
    let tokens = format!("/v1/plugins/{plugin}/tokens");
    for acts_for in [Some("berta"), Some("dora"), None] {
        let asked = Request::post(tokens.clone(), &of(acts_for));
        let place = refused(&studio.send(&anna, &asked), "a new one");
        assert_eq!(place, "#/acts_for", "{acts_for:?}");
    }
    let rotated = Request::post(format!("{tokens}/{of_berta}/rotations"), &json!({}));
    assert_eq!(refused(&studio.send(&anna, &rotated), "rotated"), "#");
    assert_eq!(studio.send(&anna, &Request::post(tokens, &of(Some("anna")))).status, 201);
}

/// A treatment of the artist, recorded with a token.
fn treated(studio: &Studio, holder: Option<&str>, artist: &str) -> Answer {
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let body = json!({
        "client_ref": "client-1", "artist_ref": artist, "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
        "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
    });
    let request = Request::post("/v1/treatments", &body);
    match holder {
        Some(holder) => studio.send(holder, &request),
        None => studio.service.call(&request),
    }
}

#[test]
fn what_a_student_did_stays_hers() {
    let studio = Studio::start();
    let read = |path: &str| studio.service.call(&Request::get(path.to_owned())).json();
    let place = refused(&treated(&studio, Some(&studio.anna), "berta"), "in another's name");
    assert_eq!(place, "#/artist_ref");
    let hers = treated(&studio, Some(&studio.anna), "anna");
    assert_eq!(hers.status, 201, "{}", hers.text());
    let path = format!("/v1/treatments/{}", hers.json()["id"].as_str().expect("an id"));
    let amend = |values: Value| {
        let body = json!({ "reason": "put right", "values": values });
        Request::post(format!("{path}/amendments"), &body)
    };
    let booking = token(&studio.service, "booking", &json!(["treatments:write"]), None);
    for (holder, artist) in [
        (&studio.anna, "berta"),
        (&studio.anna, "dora"),
        (&booking, "berta"),
        (&booking, "nobody-knows"),
    ] {
        let answer = studio.send(holder, &amend(json!({ "artist_ref": artist })));
        assert_eq!(refused(&answer, artist), "#/values/artist_ref", "{artist}");
    }
    assert_eq!(read(&path)["unsupervised"], true);
    // It was Dora's: who stood beside Anna stood not beside her.
    let there = Request::post(format!("{path}/countersignatures"), &json!({}));
    assert_eq!(studio.send(&studio.berta, &there).status, 201);
    assert!(read(&path).get("unsupervised").is_none());
    let answer = studio.send(&studio.berta, &amend(json!({ "artist_ref": "dora" })));
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(read(&path)["unsupervised"], true);
    assert_eq!(studio.send(&studio.berta, &there).status, 201);
    assert!(read(&path).get("unsupervised").is_none());
}

/// An effect that she is signed for, told afterwards, covers no other that she told before.
#[test]
fn what_was_told_before_must_have_been_allowed_too() {
    let studio = Studio::start();
    let sign = json!({
        "artist_ref": "anna", "rung": "alone", "valid_until": "2027-12-31",
        "covers": { "grouping": "round_shader", "count": 3,
                    "diameter_mm": { "from": 0.3, "to": 0.3 },
                    "effect": "soft_shading", "site": "brow" },
    });
    let signed = studio.service.call(&Request::post("/v1/sign-offs", &sign));
    assert_eq!(signed.status, 201, "{}", signed.text());
    let hers = treated(&studio, None, "anna");
    let path = format!("/v1/treatments/{}", hers.json()["id"].as_str().expect("an id"));
    let read = || studio.service.call(&Request::get(path.clone())).json();
    assert!(read().get("unsupervised").is_none(), "{}", read());
    for (effect, unsupervised) in [("dense_fill", true), ("soft_shading", true)] {
        let body = json!({ "reason": "put right", "values": { "effect": effect } });
        let amended = Request::post(format!("{path}/amendments"), &body);
        let answer = studio.send(&studio.anna, &amended);
        assert_eq!(answer.status, 201, "{}", answer.text());
        assert_eq!(read()["unsupervised"] == true, unsupervised, "{effect}");
    }
}
