//! A token that is limited to some artists reaches their work and nobody else's, through every
//! operation of the document; what is added later is held to it without a line here.

use etui_schema::problem::{ErrorCode, FaultCode};
use etui_tests::document::{Document, Operation};
use etui_tests::happenings::{receive_lot, record_treatment};
use etui_tests::running::Running;
use etui_tests::tour::Tour;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

/// Every scope that a limited token can hold.
const SCOPES: [&str; 14] = [
    "compute",
    "checks:read",
    "checks:write",
    "clients:read",
    "clients:write",
    "drawer:read",
    "drawer:write",
    "treatments:read",
    "treatments:write",
    "reminders:read",
    "reminders:write",
    "practice:read",
    "practice:write",
    "sign-offs",
];

/// Registers a plug-in and gives it a token; what it was answered last, and the secret.
pub(crate) fn given(
    service: &Running,
    name: &str,
    plugin: &Value,
    token: &Value,
) -> (Answer, String) {
    let mut asked = json!({ "name": name, "scopes": SCOPES });
    merge(&mut asked, plugin);
    let made = service.call(&Request::post("/v1/plugins", &asked));
    if made.status != 201 {
        return (made, String::new());
    }
    let tokens = format!("/v1/plugins/{}/tokens", made.json()["id"].as_str().expect("an id"));
    let mut asked = json!({ "name": "t" });
    merge(&mut asked, token);
    let answer = service.call(&Request::post(tokens, &asked));
    let secret = answer.json()["secret"].as_str().unwrap_or_default().to_owned();
    (answer, secret)
}

fn merge(into: &mut Value, from: &Value) {
    for (name, value) in from.as_object().into_iter().flatten() {
        into[name] = value.clone();
    }
}

pub(crate) fn limited(service: &Running, name: &str, artists: &[&str]) -> String {
    let (answer, secret) = given(service, name, &json!({}), &json!({ "artists": artists }));
    assert_eq!(answer.status, 201, "{}", answer.text());
    secret
}

/// Whether an operation reaches one record of somebody's work by its path.
fn is_of_work(operation: &Operation) -> bool {
    let by_id = ["treatments", "appointment-checks", "reminders", "practice-sheets", "sign-offs"];
    let by_artist = ["artists", "hand-profiles"];
    let mut all = by_id.iter().chain(&by_artist);
    all.any(|what| operation.path.starts_with(&format!("/v1/{what}/{{")))
}

/// What the tour made, sent with a token that is limited to somebody else: of no operation
/// an answer that names anybody's work.
#[test]
fn a_limited_token_sees_nothing_of_anothers_in_any_operation() {
    let tour = Tour::make();
    let token = limited(&tour.running, "other", &["artist-99"]);
    let mut private: Vec<String> =
        ["artist-07", "artist-03", "student-03"].map(str::to_owned).into();
    for (operation, pointer) in [
        ("record_treatment", "/id"),
        ("create_appointment_check", "/id"),
        ("make_practice_sheet", "/id"),
        ("give_sign_off", "/id"),
        ("claim_reminders", "/reminders/0/id"),
    ] {
        private.push(tour.text(operation, pointer));
    }
    let (mut refused, mut answered) = (0, 0);
    for operation in Document::of_this_build().operations() {
        let Some(heard) = tour.find(&operation.id).filter(|_| operation.needs_token) else {
            continue;
        };
        let id = &operation.id;
        let answer = tour.running.call(&heard.request.clone().token(&token));
        if is_of_work(&operation) {
            assert!(
                [403, 404].contains(&answer.status),
                "{id}: {} {}",
                answer.status,
                answer.text()
            );
        }
        if 300 <= answer.status {
            refused += 1;
            continue;
        }
        answered += 1;
        let text = answer.text();
        let sent = heard.request.json_body().unwrap_or_default().to_string();
        for name in &private {
            // What the caller said herself may be said again.
            assert!(!text.contains(name) || sent.contains(name), "{id} tells of `{name}`: {text}");
        }
    }
    assert!(60 < refused && 20 < answered, "{refused} refused, {answered} answered");
}

/// The same requests with a token that is limited to all of them: it reads what the owner reads.
#[test]
fn a_limited_token_sees_all_of_hers() {
    let tour = Tour::make();
    let token = limited(&tour.running, "hers", &["artist-07", "student-03"]);
    let mut seen = 0;
    for operation in Document::of_this_build().operations() {
        let of_work = is_of_work(&operation) && operation.method == "GET";
        let scope = operation.scope.as_deref().unwrap_or_default();
        let Some(heard) = tour.find(&operation.id).filter(|_| of_work && SCOPES.contains(&scope))
        else {
            continue;
        };
        let (hers, owners) = (
            tour.running.call(&heard.request.clone().token(&token)),
            tour.running.call(&heard.request),
        );
        let told = |answer: &Answer| match answer.status {
            200 => answer.text(),
            _ => answer.problem().detail,
        };
        assert_eq!(told(&hers), told(&owners), "{}", operation.id);
        seen += usize::from(hers.status == 200);
    }
    assert!(15 < seen, "{seen} were there");
}

pub(crate) fn send(service: &Running, token: &str, request: Request) -> Answer {
    service.call(&request.token(token))
}

pub(crate) fn rows(service: &Running, token: &str, path: &str) -> Vec<Value> {
    let answer = send(service, token, Request::get(path));
    assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    answer.json()["items"].as_array().expect("items").clone()
}

/// A refusal that names the artist at her place.
pub(crate) fn names(answer: &Answer, pointer: &str) {
    assert_eq!(answer.status, 403, "{pointer}: {}", answer.text());
    let problem = answer.problem();
    assert_eq!(problem.code, ErrorCode::InsufficientScope);
    let told = problem.errors.iter().any(|one| {
        one.pointer == pointer
            && one.code == FaultCode::NotAllowed
            && one.message.contains("`anna`")
    });
    assert!(told, "{pointer}: {problem}");
}

pub(crate) fn treatment(artist: Option<&str>, lot: &str) -> Value {
    let mut body = json!({
        "client_ref": "client-1", "treatment": "lips", "performed_at": "2027-03-16T07:30:00Z",
        "packs": [{ "lot_id": lot, "intact": true, "site": "lip" }],
    });
    if let Some(artist) = artist {
        body["artist_ref"] = artist.into();
    }
    body
}

pub(crate) fn check(artist: Option<&str>) -> Value {
    let mut body = json!({
        "booking_ref": "b1", "client_ref": "client-1", "born_on": "1990-05-02", "treatment": "lips", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z",
    });
    if let Some(artist) = artist {
        body["artist_ref"] = artist.into();
    }
    body
}

/// What is written names her, and nobody else; a check that names nobody is nobody's.
#[test]
fn what_a_limited_token_writes_is_hers() {
    let service = Running::start();
    let anna = limited(&service, "anna", &["anna"]);
    let lot = receive_lot(&service, "L1", "2029-01-31");
    for artist in ["anna", "clara"] {
        let body = json!({ "hand": "light" });
        let put = service.call(&Request::put(format!("/v1/artists/{artist}"), &body));
        assert_eq!(put.status, 201, "{}", put.text());
    }
    for (who, pointer) in [(Some("clara"), "#/artist_ref"), (None, "#/artist_ref")] {
        let sent = send(&service, &anna, Request::post("/v1/appointment-checks", &check(who)));
        names(&sent, pointer);
    }
    let clara = treatment(Some("clara"), &lot);
    names(&send(&service, &anna, Request::post("/v1/treatments", &clara)), "#/artist_ref");
    let put = Request::put("/v1/artists/dora", &json!({ "hand": "light" }));
    names(&send(&service, &anna, put), "path:artist_ref");
    let patch =
        Request::merge("/v1/artists/clara", &json!({ "hand": "heavy" })).header("If-Match", "*");
    assert_eq!(send(&service, &anna, patch).status, 404);
    let hers =
        send(&service, &anna, Request::post("/v1/treatments", &treatment(Some("anna"), &lot)));
    assert_eq!(hers.status, 201, "{}", hers.text());
    let path = format!("/v1/treatments/{}", hers.json()["id"].as_str().expect("an id"));
    let away = json!({ "reason": "a slip", "values": { "artist_ref": "clara" } });
    let away = send(&service, &anna, Request::post(format!("{path}/amendments"), &away));
    names(&away, "#/values/artist_ref");
    // By a check of somebody else nothing is recorded: its flags would tell what it found.
    let of_clara = service.call(&Request::post("/v1/appointment-checks", &check(Some("clara"))));
    let mut body = treatment(Some("anna"), &lot);
    body["check_id"] = of_clara.json()["id"].clone();
    names(&send(&service, &anna, Request::post("/v1/treatments", &body)), "#/check_id");
    let own = json!({ "treatment": "lips", "effect": "soft_shading", "hand": "light",
                      "candidates": "usual", "own_results": { "artist_ref": "clara" } });
    let own = send(&service, &anna, Request::post("/v1/needle-selections", &own));
    assert!([403, 422].contains(&own.status), "{}", own.text());
}

/// Put right to another's it is hers no longer; put right to hers it is. Who is taken away keeps
/// what she did. What names nobody is of nobody.
#[test]
fn whose_a_record_is_follows_what_is_on_record() {
    let service = Running::start();
    let anna = limited(&service, "anna", &["anna", "berta"]);
    let lot = receive_lot(&service, "L1", "2029-01-31");
    let id = record_treatment(&service, "client-1", &lot);
    let path = format!("/v1/treatments/{id}");
    let nobody = service.call(&Request::post("/v1/appointment-checks", &check(None)));
    let nobody = format!("/v1/appointment-checks/{}", nobody.json()["id"].as_str().expect("an id"));
    let all =
        ["", "/aftercare", "/aftercare.ics", "/aftercare-sheet", "/observations", "/amendments"];
    for (to, status) in [("anna", 200), ("clara", 404), ("berta", 200), ("artist-07", 404)] {
        let body = json!({ "reason": "a slip", "values": { "artist_ref": to } });
        let done = service.call(&Request::post(format!("{path}/amendments"), &body));
        assert_eq!(done.status, 201, "{}", done.text());
        for below in all {
            let got = send(&service, &anna, Request::get(format!("{path}{below}")));
            assert_eq!(got.status, status, "{to}{below}: {}", got.text());
        }
        let seen = usize::from(status == 200);
        assert_eq!(rows(&service, &anna, "/v1/treatments").len(), seen, "{to}");
        assert_eq!(rows(&service, &anna, "/v1/reminders").is_empty(), seen == 0, "{to}");
        let body = json!({ "limit": 10, "lease_seconds": 60 });
        let claimed = send(&service, &anna, Request::post("/v1/reminder-claims", &body));
        let all = claimed.json();
        let foreign = all["reminders"].as_array().is_some_and(|all| !all.is_empty()) && seen == 0;
        assert!(claimed.status == 201 && !foreign, "{to}: {}", claimed.text());
    }
    assert_eq!(send(&service, &anna, Request::get(nobody)).status, 404);
    assert!(rows(&service, &anna, "/v1/appointment-checks").is_empty());
    // Taken away, her work is still hers.
    let body = json!({ "reason": "a slip", "values": { "artist_ref": "anna" } });
    for request in [
        Request::put("/v1/artists/anna", &json!({ "hand": "light" })),
        Request::post(format!("{path}/amendments"), &body),
        Request::new("DELETE", "/v1/artists/anna").header("If-Match", "*"),
    ] {
        let done = service.call(&request);
        assert!(done.status < 300, "{}", done.text());
    }
    assert_eq!(send(&service, &anna, Request::get("/v1/artists/anna")).status, 404);
    assert_eq!(send(&service, &anna, Request::get(path)).status, 200);
}

/// What a limit may be, when a token is made and when its plug-in changes.
#[test]
fn a_limit_is_one() {
    let service = Running::start();
    for (what, plugin, token, status, at) in [
        ("nobody", json!({}), json!({ "artists": [] }), 422, "#/artists"),
        ("twice", json!({}), json!({ "artists": ["anna", "anna"] }), 422, "#/artists/1"),
        ("acts", json!({}), json!({ "artists": ["anna"], "acts_for": "clara" }), 422, "#/acts_for"),
        ("acts-too", json!({}), json!({ "artists": ["anna"], "acts_for": "anna" }), 201, ""),
        (
            "all",
            json!({ "artists": ["anna"], "scopes": ["events:read"] }),
            json!({}),
            422,
            "#/artists",
        ),
        (
            "erases",
            json!({ "artists": ["anna"], "scopes": ["clients:erase"] }),
            json!({}),
            422,
            "#/artists",
        ),
        (
            "more",
            json!({ "artists": ["anna"] }),
            json!({ "artists": ["clara"] }),
            422,
            "#/artists/0",
        ),
        ("same", json!({ "artists": ["anna"] }), json!({}), 201, ""),
        (
            "other",
            json!({ "artists": ["anna"] }),
            json!({ "acts_for": "clara" }),
            422,
            "#/acts_for",
        ),
    ] {
        let (answer, _) = given(&service, what, &plugin, &token);
        assert_eq!(answer.status, status, "{what}: {}", answer.text());
        let told = status == 201 || answer.problem().errors.iter().any(|one| one.pointer == at);
        assert!(told, "{what}: {}", answer.text());
        let hers = status != 201 || answer.json()["artists"] == json!(["anna"]);
        assert!(hers, "{what}: {}", answer.text());
    }
}

/// A token loses whom its plug-in loses, for good; one that loses all reaches nobody.
#[test]
fn a_narrower_plug_in_has_narrower_tokens() {
    let service = Running::start();
    let lot = receive_lot(&service, "L1", "2029-01-31");
    record_treatment(&service, "client-1", &lot);
    let (made, token) =
        given(&service, "p", &json!({}), &json!({ "artists": ["anna", "artist-07"] }));
    let plugin = format!("/v1/plugins/{}", made.json()["plugin_id"].as_str().expect("an id"));
    for (artists, seen) in [
        (json!(["artist-07", "berta"]), 1),
        (json!(["berta"]), 0),
        (json!(["artist-07"]), 0),
        (Value::Null, 0),
    ] {
        let patch = Request::merge(plugin.clone(), &json!({ "artists": artists }));
        let changed = service.call(&patch.header("If-Match", "*"));
        assert_eq!(changed.status, 200, "{}", changed.text());
        assert_eq!(rows(&service, &token, "/v1/treatments").len(), seen, "{artists}");
    }
    let (made, _) =
        given(&service, "q", &json!({}), &json!({ "artists": ["anna"], "acts_for": "anna" }));
    let plugin = format!("/v1/plugins/{}", made.json()["plugin_id"].as_str().expect("an id"));
    let patch = Request::merge(plugin, &json!({ "artists": ["berta"] })).header("If-Match", "*");
    let refused = service.call(&patch);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.problem().errors[0].pointer, "#/artists");
}
