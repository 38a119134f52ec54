//! What a student and her neighbours cannot reach by a way around: our own rules, since nothing
//! published says how a program keeps a trainer's word.

use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::practice::{PLANTED, Studio, token};

fn sign_off(artist: &str) -> Request {
    Request::post(
        "/v1/sign-offs",
        &json!({
            "artist_ref": artist, "rung": "alone", "valid_until": "2027-12-31", "note": PLANTED,
            "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading",
                        "site": "brow", "diameter_mm": { "from": 0.3, "to": 0.3 } },
        }),
    )
}

fn put(service: &Running, artist: &str, body: &Value) -> Answer {
    let path = format!("/v1/artists/{artist}");
    service.call(&Request::put(path, body).header("If-Match", "*"))
}

fn new(service: &Running, artist: &str, body: &Value) {
    let answer = service.call(&Request::put(format!("/v1/artists/{artist}"), body));
    assert_eq!(answer.status, 201, "{artist}: {}", answer.text());
}

/// With her practice would go what she missed, and that she may begin anew once.
#[test]
fn a_student_forgets_no_practice() {
    let service = Running::start();
    let all = json!(["clients:erase", "practice:write"]);
    let eraser = token(&service, "eraser", &all, Some("anna"));
    let studio = Studio::at(service);
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    for artist in ["anna", "dora"] {
        let forget = Request::new("DELETE", format!("/v1/artists/{artist}/practice"));
        let answer = studio.send(&eraser, &forget);
        assert_eq!(answer.status, 422, "{artist}: {}", answer.text());
    }
    let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
    assert_eq!(studio.send(&studio.anna, &Request::get(path)).status, 200);
}

/// Results of the day of a sign-off that came after it are watched like those of the next.
#[test]
fn what_is_got_on_the_day_of_a_sign_off_counts_against_it() {
    let studio = Studio::start();
    let answer = studio.send(&studio.berta, &sign_off("anna"));
    assert_eq!(answer.status, 201, "{}", answer.text());
    for day in 16..=17 {
        studio.service.set_clock(&format!("2027-03-{day}T10:00:00Z"));
        let sheet = studio.made(&studio.anna, "anna", &json!({}));
        studio.worked(&sheet, false);
    }
    let practice = studio.progress(&studio.anna, "anna").json()["practice"][0].clone();
    assert_eq!(practice["state"], "in_doubt", "{practice}");
}

/// What a trainer wrote is read by her of whom it speaks, by trainers and by the studio.
#[test]
fn a_trainers_words_are_not_for_other_artists() {
    let studio = Studio::start();
    let given = studio.send(&studio.berta, &sign_off("anna"));
    assert_eq!(given.status, 201, "{}", given.text());
    let one = format!("/v1/sign-offs/{}", given.json()["id"].as_str().expect("an id"));
    for (who, holder, sees) in [
        ("she", &studio.anna, true),
        ("the trainer", &studio.berta, true),
        ("another", &studio.dora, false),
    ] {
        for path in [one.clone(), "/v1/sign-offs?artist_ref=anna".to_owned()] {
            let answer = studio.send(holder, &Request::get(path.clone()));
            assert_eq!(answer.status, 200, "{who}: {}", answer.text());
            assert_eq!(answer.text().contains(PLANTED), sees, "{who} at {path}");
        }
    }
}

/// A word goes back to whoever needs none: two who signed each other have nobody's.
#[test]
fn two_who_signed_each_other_sign_for_nobody() {
    let service = Running::start();
    for (artist, body) in [
        ("mia", json!({ "hand": "light", "trainer": true })),
        ("nia", json!({ "hand": "light" })),
        ("lia", json!({ "hand": "light" })),
    ] {
        new(&service, artist, &body);
    }
    let scopes = json!(["sign-offs"]);
    let mia = token(&service, "mia", &scopes, Some("mia"));
    let nia = token(&service, "nia", &scopes, Some("nia"));
    let sign = |holder: &str, artist: &str| service.call(&sign_off(artist).token(holder)).status;
    assert_eq!(sign(&mia, "nia"), 201);
    assert_eq!(sign(&nia, "mia"), 201, "she works alone by a trainer's word");
    let plain = put(&service, "mia", &json!({ "hand": "light", "trainer": false }));
    assert_eq!(plain.status, 200, "{}", plain.text());
    assert_eq!((sign(&mia, "lia"), sign(&nia, "lia")), (422, 422));
    // The owner's word is one.
    assert_eq!(service.call(&sign_off("mia")).status, 201);
    assert_eq!((sign(&mia, "lia"), sign(&nia, "lia")), (201, 201));
}

/// Whoever comes under the name of one who was taken away works by nothing of hers.
#[test]
fn a_namesake_inherits_nothing() {
    let service = Running::start();
    new(&service, "anna", &json!({ "hand": "light", "standing": "student" }));
    let owner = service.call(&sign_off("anna"));
    assert_eq!(owner.status, 201, "{}", owner.text());
    let booking = token(&service, "booking", &json!(["clients:write"]), None);
    let gone = service.call(&Request::new("DELETE", "/v1/artists/anna").header("If-Match", "*"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    let again =
        Request::put("/v1/artists/anna", &json!({ "hand": "light", "standing": "student" }));
    let answer = service.call(&again.clone().token(&booking));
    assert_eq!(answer.status, 400, "{}", answer.text());
    assert_eq!(answer.json()["errors"][0]["code"], "not_allowed", "{}", answer.text());
    assert_eq!(service.call(&again).status, 201, "the owner says that it is she");
}
