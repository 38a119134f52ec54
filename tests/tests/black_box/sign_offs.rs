//! Sign-offs: who signs off whom, and what that does to a check.

use std::path::Path;

use etui_schema::problem::ErrorCode;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

use crate::practice::token;

/// Stands in every free text; must be found nowhere on the disk.
const PLANTED: &str = "planted-phrase-91c2";
/// The appointment; the clock of a test stands on 16 March 2027, 09:00 in Berlin.
const STARTS: &str = "2027-04-06T08:00:00Z";

fn put(service: &Running, token: Option<&str>, artist: &str, body: &Value) -> Answer {
    let path = format!("/v1/artists/{artist}");
    let held = service.call(&Request::get(path.clone()));
    let mut request = Request::put(path, body);
    if held.status == 200 {
        request = request.header("If-Match", held.header("etag").unwrap_or("*"));
    }
    send(service, token, &request)
}

fn send(service: &Running, token: Option<&str>, request: &Request) -> Answer {
    match token {
        Some(token) => service.call(&request.clone().token(token)),
        None => service.call(request),
    }
}

/// A student, an artist, a trainer.
fn studio() -> Running {
    let service = Running::start();
    people(&service);
    service
}

fn people(service: &Running) {
    for (artist, body) in [
        ("anna", json!({ "hand": "light", "standing": "student" })),
        ("clara", json!({ "hand": "medium" })),
        ("berta", json!({ "hand": "medium", "trainer": true })),
    ] {
        let answer = put(service, None, artist, &body);
        assert_eq!(answer.status, 201, "{artist}: {}", answer.text());
    }
}

fn sign_off(artist: &str, rung: &str, but: &Value) -> Value {
    let mut body = json!({
        "artist_ref": artist,
        "covers": {
            "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.30, "to": 0.30 },
            "effect": "soft_shading", "site": "brow",
        },
        "rung": rung,
        "valid_until": "2027-12-31",
        "note": PLANTED,
    });
    for (pointer, value) in but.as_object().into_iter().flatten() {
        *body.pointer_mut(pointer).expect("a member") = value.clone();
    }
    body
}

fn sign(service: &Running, token: Option<&str>, body: &Value) -> Answer {
    send(service, token, &Request::post("/v1/sign-offs", body))
}

fn signed(service: &Running, artist: &str, rung: &str, but: &Value) -> String {
    let answer = sign(service, None, &sign_off(artist, rung, but));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

fn healthy(running: &Running) -> Value {
    let asked = "/v1/screening-questions?treatment=brows&on=2027-04-06";
    let asked = running.call(&Request::get(asked)).json();
    let first = asked["questions"].as_array().expect("questions").iter();
    let answers: Map<String, Value> = first
        .filter(|question| question.get("ask_if").is_none() && question["optional"] != true)
        .filter_map(|question| {
            Some((question["id"].as_str()?.to_owned(), question.get("clear_answer")?.clone()))
        })
        .collect();
    Value::Object(answers)
}

/// A client of whom something is kept: of one who is not known, a check is never without conditions.
pub(crate) fn known(service: &Running, client: &str) {
    let put = Request::put(format!("/v1/clients/{client}"), &json!({ "born_on": "1990-06-15" }));
    let put = service.call(&put.header("If-None-Match", "*"));
    assert!([201, 412].contains(&put.status), "{}", put.text());
}

fn check_of(service: &Running, artist: &str, but: &Value) -> Request {
    known(service, "client-1");
    let mut body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": STARTS, "born_on": "1990-06-15",
        "skin": { "phototype": "II" }, "answers": healthy(service), "candidates": ["0.30 3RS"], "artist_ref": artist,
        "patch_test": { "made_at": "2027-03-10T10:00:00Z", "read_at": "2027-03-12T10:00:00Z",
            "result": "clear", "pigment_batch": "B1" },
        "pigments": [{ "batch": "B1", "label": {
            "statement": "yes", "ingredients": "yes", "nickel_notice": "no",
            "chromium_notice": "no", "safety_instructions": "yes" } }],
    });
    body.as_object_mut().expect("an object").extend(but.as_object().cloned().unwrap_or_default());
    Request::post("/v1/appointment-checks", &body)
}

fn check(service: &Running, artist: &str, but: &Value) -> Value {
    let answer = service.call(&check_of(service, artist, but));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

/// The verdict, and which rule of practice spoke.
fn verdict(service: &Running, artist: &str, but: &Value) -> (String, Option<String>) {
    let found = check(service, artist, but);
    let rule = found["findings"].as_array().expect("findings").iter().find_map(|finding| {
        finding["rule"].as_str().filter(|rule| rule.starts_with("training.")).map(str::to_owned)
    });
    (found["verdict"].as_str().expect("a verdict").to_owned(), rule)
}

fn is(found: &(String, Option<String>), verdict: &str, rule: Option<&str>, case: &str) {
    assert_eq!((found.0.as_str(), found.1.as_deref()), (verdict, rule), "{case}");
}

const NOT: Option<&str> = Some("training.not_practised");
const EYE: Option<&str> = Some("training.under_eye");

#[test]
fn a_student_waits_for_a_sign_off_and_an_artist_does_not() {
    let service = studio();
    is(&verdict(&service, "anna", &json!({})), "hold", NOT, "nothing signed");
    is(&verdict(&service, "clara", &json!({})), "proceed", None, "an artist");
    let held = check(&service, "anna", &json!({}));
    assert!(held.get("hold_until").is_none(), "nobody knows the day: {held}");
    let todo = held["todo"].as_array().expect("a list");
    let item = todo.iter().find(|item| item["key"] == "training.not_practised");
    assert!(item.is_some_and(|item| item["text"].as_str().unwrap_or("").contains("0.30 3RS")));
    for (rung, want, rule) in [
        ("practice_skin", "proceed_with_conditions", EYE),
        ("under_eye", "proceed_with_conditions", EYE),
        ("alone", "proceed", None),
    ] {
        signed(&service, "anna", rung, &json!({}));
        is(&verdict(&service, "anna", &json!({})), want, rule, rung);
    }
}

/// Leaving a name out is no way around a sign-off.
#[test]
fn a_check_that_names_nobody_is_no_milder_than_one_that_names_a_student() {
    let service = studio();
    let nobody = |service: &Running, but: &Value| {
        let mut body = check_of(service, "anna", but).json_body().expect("a body");
        body.as_object_mut().expect("an object").remove("artist_ref");
        service.call(&Request::post("/v1/appointment-checks", &body))
    };
    let answer = nobody(&service, &json!({}));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let found = answer.json();
    assert_eq!(found["verdict"], "hold", "{found}");
    let rules = found["findings"].as_array().expect("findings").iter();
    assert!(rules.clone().any(|one| one["rule"] == "training.nobody_named"), "{found}");
    let todo = found["todo"].as_array().expect("a list");
    assert_eq!(
        todo.iter()
            .filter(|one| one["text"].as_str().is_some_and(|text| text.contains("Name the artist")))
            .count(),
        1
    );
    let id = found["id"].as_str().expect("an id");
    let replay =
        service.call(&Request::new("POST", format!("/v1/appointment-checks/{id}/replays")));
    assert_eq!(replay.json()["verdict"], "hold", "{}", replay.text());
    let over = json!({ "overrides": [
        { "rule": "training.nobody_named", "reason": "she is good", "by_ref": "berta" }] });
    assert_eq!(nobody(&service, &over).status, 422, "nobody answers for nobody");
    // Where nobody is a student, it is as it was.
    let free = json!({ "hand": "light", "standing": "artist" });
    assert_eq!(put(&service, None, "anna", &free).status, 200);
    assert_eq!(nobody(&service, &json!({})).json()["verdict"], "proceed");
}

/// Each just inside of what was signed, and just outside.
#[test]
fn a_sign_off_covers_no_more_than_it_says() {
    let service = studio();
    signed(&service, "anna", "alone", &json!({ "/valid_until": "2027-04-06" }));
    let labels = |label: &str| json!({ "candidates": [label] });
    for (case, but, covered) in [
        ("as signed", json!({}), true),
        ("0.35 mm", labels("0.35 3RS"), true),
        ("0.25 mm", labels("0.25 3RS"), true),
        ("0.20 mm", labels("0.20 3RS"), false),
        ("another count", labels("0.30 5RS"), false),
        ("another grouping", labels("0.30 3RL"), false),
        ("another effect", json!({ "effect": "pixelated" }), false),
        ("its last day", json!({}), true),
        ("the day after", json!({ "starts_at": "2027-04-07T08:00:00Z" }), false),
    ] {
        let found = verdict(&service, "anna", &but);
        assert_eq!(found.1.is_none(), covered, "{case}: {found:?}");
    }
    // Of a treatment with several sites the one that is worked on has to be told.
    let lids = |site: &str| {
        signed(
            &service,
            "anna",
            "alone",
            &json!({
                "/covers/effect": "fine_line", "/covers/site": site, "/covers/grouping": "round_liner",
            }),
        );
    };
    let lid = |setting: Value| {
        let mut body = check_of(&service, "anna", &json!({
            "treatment": "eyeliner", "effect": "fine_line", "candidates": ["0.30 3RL"], "setting": setting,
        })).json_body().expect("a body");
        body["answers"] = json!({});
        let answer = service.call(&Request::post("/v1/appointment-checks", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let found = answer.json();
        let findings = found["findings"].as_array().expect("findings").clone();
        findings.iter().all(|one| !one["rule"].as_str().unwrap_or("").starts_with("training."))
    };
    lids("upper_lid");
    assert!(lid(json!({ "site": "upper_lid" })), "where it was signed");
    assert!(!lid(json!({ "site": "lash_line" })), "beside it");
    assert!(!lid(json!({})), "nobody said where");
    lids("lash_line");
    assert!(lid(json!({})), "wherever it is");
}

/// What a check says of a student's practice holds for the needle that was signed; of the others it
/// says so.
#[test]
fn needles_that_nobody_signed_are_told_from_the_one_that_is() {
    let service = studio();
    let candidates = json!({ "candidates": ["0.30 3RS", "0.30 5RS"] });
    signed(&service, "anna", "alone", &json!({}));
    for (artist, says) in [("anna", true), ("clara", false)] {
        let found = check(&service, artist, &candidates);
        let ranked = found["needles"]["ranked"].as_array().expect("needles");
        assert_eq!(ranked.len(), 2, "{found}");
        let cautions = |at: usize| ranked[at]["cautions"].to_string();
        assert!(!cautions(0).contains("signed off for her"), "{artist}: {found}");
        assert_eq!(
            cautions(1).contains("not signed off for her as 0.30 3RS"),
            says,
            "{artist}: {found}"
        );
    }
}

#[test]
fn what_was_taken_back_counts_a_rung_lower() {
    let service = studio();
    let berta = token(&service, "trainers", &json!(["sign-offs"]), Some("berta"));
    let answer = sign(&service, Some(&berta), &sign_off("anna", "alone", &json!({})));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let given = answer.json();
    assert_eq!(given["signed_by"], "berta", "{given}");
    is(&verdict(&service, "anna", &json!({})), "proceed", None, "signed");
    let path = format!("/v1/sign-offs/{}", given["id"].as_str().expect("an id"));
    let anna = token(&service, "students", &json!(["sign-offs"]), Some("anna"));
    let dora = token(&service, "others", &json!(["sign-offs"]), Some("dora"));
    assert_eq!(
        put(&service, None, "dora", &json!({ "hand": "light", "standing": "student" })).status,
        201
    );
    let back = Request::post(format!("{path}/withdrawals"), &json!({ "reason": PLANTED }))
        .header("Idempotency-Key", "\"back-1\"");
    for student in [&anna, &dora] {
        assert_eq!(
            send(&service, Some(student), &back).status,
            422,
            "a student takes nothing back"
        );
    }
    let answer = send(&service, Some(&berta), &back);
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.json()["withdrawn"]["by"], "berta");
    assert_eq!(answer.json()["note"], PLANTED);
    let again = send(&service, Some(&berta), &back);
    assert_eq!((again.status, again.json()), (201, answer.json()));
    let twice = Request::post(format!("{path}/withdrawals"), &json!({ "reason": "once more" }));
    assert_eq!(send(&service, Some(&berta), &twice).problem().code, ErrorCode::Conflict);
    is(&verdict(&service, "anna", &json!({})), "proceed_with_conditions", EYE, "taken back");
    let read = service.call(&Request::get(path)).json();
    assert_eq!(read["withdrawn"]["reason"], PLANTED);
    let listed = service.call(&Request::get("/v1/sign-offs?artist_ref=anna")).json();
    assert_eq!(listed["items"].as_array().map(Vec::len), Some(1));
    let others = service.call(&Request::get("/v1/sign-offs?artist_ref=clara")).json();
    assert_eq!(others["items"].as_array().map(Vec::len), Some(0));
    let events = service.call(&Request::get("/v1/events?limit=200")).json();
    let kinds: Vec<&str> = events["items"]
        .as_array()
        .expect("events")
        .iter()
        .filter_map(|event| event["type"].as_str())
        .filter(|kind| kind.starts_with("sign_off"))
        .collect();
    assert_eq!(kinds, ["sign_off.given", "sign_off.withdrawn"]);
    assert!(!events.to_string().contains(PLANTED));
}

/// Who holds which token, and whether she signs Anna off with it.
#[test]
fn only_a_trainer_signs_and_nobody_for_herself() {
    let service = studio();
    let all = json!(["sign-offs", "clients:write", "clients:read", "compute"]);
    let admin = json!(["admin"]);
    let berta = token(&service, "berta", &all, Some("berta"));
    let holders = [
        (
            "a booking program",
            token(&service, "desk", &json!(["clients:write", "clients:read"]), None),
            403,
        ),
        ("bound to nobody", token(&service, "unbound", &all, None), 422),
        ("the student", token(&service, "anna", &all, Some("anna")), 422),
        ("the student, an admin", token(&service, "anna-root", &admin, Some("anna")), 422),
        ("an artist without a word of her own", token(&service, "clara", &all, Some("clara")), 422),
        ("an artist who is not kept", token(&service, "ghost", &all, Some("dora")), 422),
    ];
    let ways = |service: &Running, holder: &str| -> Vec<(&'static str, Answer)> {
        let body = sign_off("anna", "alone", &json!({}));
        let mut forged = body.clone();
        forged["signed_by"] = "berta".into();
        let key = "\"the-same-key\"";
        let practice = json!({ "hand": "light", "practice": [{
            "configuration": { "diameter_mm": 0.30, "count": 3, "grouping": "round_shader" },
            "on": "2027-03-01", "signed_off_by": "berta" }] });
        let request = Request::post("/v1/sign-offs", &body);
        vec![
            ("body", sign(service, Some(holder), &body)),
            ("a name in the body", sign(service, Some(holder), &forged)),
            (
                "a key of somebody else",
                send(service, Some(holder), &request.header("Idempotency-Key", key)),
            ),
            ("the old field", put(service, Some(holder), "anna", &practice)),
            (
                "no longer a student",
                put(
                    service,
                    Some(holder),
                    "anna",
                    &json!({ "hand": "light", "standing": "artist" }),
                ),
            ),
            (
                "a trainer herself",
                put(
                    service,
                    Some(holder),
                    "anna",
                    &json!({ "hand": "light", "standing": "artist", "trainer": true }),
                ),
            ),
        ]
    };
    let held = |service: &Running| {
        service.call(&Request::get("/v1/sign-offs?artist_ref=anna")).json()["items"]
            .as_array()
            .map_or(0, Vec::len)
    };
    // Somebody who may has used the key.
    let five = json!({ "/covers/count": 5 });
    let request = Request::post("/v1/sign-offs", &sign_off("clara", "alone", &five));
    let done = send(&service, Some(&berta), &request.header("Idempotency-Key", "\"the-same-key\""));
    assert_eq!(done.status, 201, "{}", done.text());
    for (who, holder, refused) in &holders {
        for (way, answer) in ways(&service, holder) {
            let case = format!("{who}, {way}: {}", answer.text());
            match way {
                // Whoever may write records may tell of practice, and signs nothing by it.
                // Who may be a student writes herself alone.
                "the old field" => assert!([200, 403, 422].contains(&answer.status), "{case}"),
                // Only an admin says so, and this says nobody of herself.
                "no longer a student" | "a trainer herself" => {
                    assert!([403, 422].contains(&answer.status), "{case}");
                }
                _ => assert_eq!(answer.status, *refused, "{case}"),
            }
        }
        assert_eq!(held(&service), 0, "{who}");
        is(&verdict(&service, "anna", &json!({})), "hold", NOT, who);
    }
    // What Clara was signed for alone she signs for others, and no more than that.
    signed(&service, "clara", "alone", &json!({}));
    let clara = &holders[4].1;
    let wide = json!({ "/covers/diameter_mm": { "from": 0.28, "to": 0.30 } });
    assert_eq!(sign(&service, Some(clara), &sign_off("anna", "under_eye", &wide)).status, 422);
    assert_eq!(sign(&service, Some(clara), &sign_off("anna", "under_eye", &json!({}))).status, 201);
    assert_eq!(sign(&service, Some(clara), &sign_off("clara", "alone", &json!({}))).status, 422);
    assert_eq!(sign(&service, Some(&berta), &sign_off("berta", "alone", &json!({}))).status, 422);
    // When Anna is a student no longer says the owner, not a trainer.
    let free = json!({ "hand": "light", "standing": "artist" });
    assert_eq!(put(&service, Some(&berta), "anna", &free).status, 422);
    assert_eq!(put(&service, None, "anna", &free).status, 200);
}

#[test]
fn who_is_trainer_says_an_admin_and_nobody_of_herself() {
    let service = studio();
    let desk = token(&service, "desk", &json!(["clients:write", "sign-offs"]), Some("berta"));
    let own = token(&service, "own", &json!(["admin"]), Some("clara"));
    let trainer = json!({ "hand": "medium", "trainer": true });
    assert_eq!(put(&service, Some(&desk), "clara", &trainer).status, 422);
    assert_eq!(put(&service, Some(&own), "clara", &trainer).status, 422);
    assert_eq!(put(&service, None, "clara", &trainer).status, 200);
    // What is left out stays.
    let answer = put(&service, Some(&desk), "clara", &json!({ "hand": "heavy" }));
    assert_eq!((answer.status, answer.json()["trainer"].clone()), (200, json!(true)));
    let answer = put(&service, Some(&desk), "anna", &json!({ "hand": "heavy" }));
    assert_eq!((answer.status, answer.json()["standing"].clone()), (200, json!("student")));
    let both = json!({ "hand": "light", "trainer": true });
    assert_eq!(put(&service, None, "anna", &both).status, 422, "a student trains nobody");
}

#[test]
fn only_whoever_signs_answers_for_what_a_student_does_not_hold() {
    let service = studio();
    let scopes = json!(["sign-offs", "checks:write"]);
    let berta = token(&service, "berta", &scopes, Some("berta"));
    let anna = token(&service, "anna", &scopes, Some("anna"));
    let desk = token(&service, "desk", &json!(["checks:write"]), None);
    let owner = service.token().to_owned();
    let with = |by: &str, rule: &str| json!({ "overrides": [{ "rule": rule, "reason": "I stand beside her", "by_ref": by }] });
    let rule = "training.not_practised";
    for (case, token, but, status) in [
        ("the trainer", &berta, with("berta", rule), 201),
        ("in another's name", &berta, with("clara", rule), 422),
        ("the student", &anna, with("anna", rule), 422),
        ("the student in another's name", &anna, with("berta", rule), 422),
        ("a booking program", &desk, with("berta", rule), 422),
        ("no such rule", &berta, with("berta", "training.anything"), 422),
        ("somebody nobody knows", &owner, with("nobody", rule), 422),
    ] {
        let request = check_of(&service, "anna", &but);
        let answer = send(&service, Some(token), &request);
        assert_eq!(answer.status, status, "{case}: {}", answer.text());
        if status == 201 {
            let found = answer.json();
            // What remains is what a sign-off for practice skin asks for as well.
            assert_eq!(found["verdict"], "proceed_with_conditions", "{found}");
            let of = |rule: &str| {
                let all = found["findings"].as_array().expect("findings");
                all.iter().find(|one| one["rule"] == rule).cloned()
            };
            let rest = of("training.under_eye").expect("she is not alone");
            assert!(rest.get("overridden").is_none(), "{rest}");
            let todo = found["todo"].as_array().expect("a list");
            assert!(todo.iter().any(|one| one["key"] == "training.under_eye"), "{found}");
            let finding = found["findings"]
                .as_array()
                .expect("findings")
                .iter()
                .find(|one| one["rule"] == rule);
            assert_eq!(
                finding.map(|one| one["overridden"]["by_ref"].clone()),
                Some(json!("berta"))
            );
            let id = found["id"].as_str().expect("an id");
            let path = format!("/v1/appointment-checks/{id}/replays");
            let replay = service.call(&Request::new("POST", path));
            assert_eq!(replay.json()["verdict"], "proceed_with_conditions", "{}", replay.text());
        }
    }
}

#[test]
fn what_is_told_to_be_signed_is_only_told() {
    let service = studio();
    let practice = json!([{
        "configuration": { "diameter_mm": 0.30, "count": 3, "grouping": "round_shader" },
        "on": "2027-03-01", "signed_off_by": "clara" }]);
    for artist in ["anna", "clara"] {
        let body = json!({ "hand": "light", "practice": practice });
        assert_eq!(put(&service, None, artist, &body).status, 200);
    }
    is(&verdict(&service, "anna", &json!({})), "hold", NOT, "for a student it is nothing");
    let ready = |artist: &str, label: &str| {
        let found = check(&service, artist, &json!({ "candidates": [label] }));
        let rows = found["readiness"].as_array().expect("readiness").clone();
        let row = rows.into_iter().find(|row| row["about"] == "practice").expect("practice");
        (row["ready"].clone(), row["confidence"].clone())
    };
    assert_eq!(ready("clara", "0.30 3RS"), (json!(true), json!("low")));
    assert_eq!(ready("clara", "0.20 3RS"), (json!(false), json!("medium")), "another diameter");
    signed(&service, "clara", "alone", &json!({}));
    assert_eq!(ready("clara", "0.30 3RS"), (json!(true), json!("high")));
}

#[test]
fn days_out_of_range_and_artists_who_are_not_kept_are_refused() {
    let service = studio();
    for (case, but, pointer) in [
        ("yesterday", json!({ "/valid_until": "2027-03-15" }), "#/valid_until"),
        ("more than a year", json!({ "/valid_until": "2028-03-17" }), "#/valid_until"),
        ("nobody", json!({ "/artist_ref": "dora" }), "#/artist_ref"),
        (
            "turned round",
            json!({ "/covers/diameter_mm": { "from": 0.30, "to": 0.25 } }),
            "#/covers/diameter_mm/to",
        ),
        ("nobody works so there", json!({ "/covers/effect": "scalp_dots" }), "#/covers/effect"),
        ("nor there", json!({ "/covers/site": "scalp" }), "#/covers/effect"),
    ] {
        let answer = sign(&service, None, &sign_off("anna", "alone", &but));
        assert_eq!(answer.status, 422, "{case}: {}", answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], pointer, "{case}: {}", answer.text());
    }
    for until in ["2027-03-16", "2028-03-16"] {
        let body = sign_off("anna", "alone", &json!({ "/valid_until": until }));
        assert_eq!(sign(&service, None, &body).status, 201, "{until}");
    }
}

/// What a trainer wrote is read back after a restart and lies nowhere in the clear.
#[test]
fn what_a_trainer_wrote_lies_sealed() {
    let folder = tempfile::tempdir().expect("a folder");
    let service = Running::start_at(folder.path());
    people(&service);
    let request = Request::post("/v1/sign-offs", &sign_off("anna", "alone", &json!({})));
    let answer = service.call(&request.header("Idempotency-Key", "\"one\""));
    let id = answer.json()["id"].as_str().expect("an id").to_owned();
    let back = json!({ "reason": PLANTED });
    let target = format!("/v1/sign-offs/{id}/withdrawals");
    assert_eq!(service.call(&Request::post(target, &back)).status, 201);
    service.stop();
    let mut found = Vec::new();
    look(folder.path(), &mut found);
    assert!(found.is_empty(), "{found:?}");
    let service = Running::start_at(folder.path());
    let read = service.call(&Request::get(format!("/v1/sign-offs/{id}"))).json();
    assert_eq!(
        (read["note"].clone(), read["withdrawn"]["reason"].clone()),
        (json!(PLANTED), json!(PLANTED))
    );
}

fn look(folder: &Path, found: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            look(&path, found);
            continue;
        }
        let bytes = std::fs::read(&path).unwrap_or_default();
        if bytes.windows(PLANTED.len()).any(|part| part == PLANTED.as_bytes()) {
            found.push(path.display().to_string());
        }
    }
}

/// What a trainer wrote is read by her and the artist, and is gone when the artist's practice
/// is forgotten; who signed what stays.
#[test]
fn what_a_trainer_wrote_goes_with_her_practice() {
    let folder = tempfile::tempdir().expect("a folder");
    let service = Running::start_at(folder.path());
    people(&service);
    let request = Request::post("/v1/sign-offs", &sign_off("anna", "alone", &json!({})))
        .header("Idempotency-Key", "\"once\"");
    let given = service.call(&request).json();
    assert_eq!(given["note"], PLANTED, "{given}");
    let other = signed(&service, "clara", "alone", &json!({}));
    let path = format!("/v1/sign-offs/{}", given["id"].as_str().expect("an id"));
    let gone = service.call(&Request::new("DELETE", "/v1/artists/anna/practice"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    let read = service.call(&Request::get(path.clone())).json();
    assert!(read.get("note").is_none(), "{read}");
    assert_eq!((&read["signed_by"], &read["rung"]), (&given["signed_by"], &json!("alone")));
    let listed = service.call(&Request::get("/v1/sign-offs?artist_ref=anna"));
    assert!(!listed.text().contains(PLANTED), "{}", listed.text());
    assert_eq!(service.call(&request).problem().code, ErrorCode::Erased, "a repeat");
    // It holds as before, is taken back as before, and the reason is kept under a new key.
    is(&verdict(&service, "anna", &json!({})), "proceed", None, "who signed what stays");
    let back = Request::post(format!("{path}/withdrawals"), &json!({ "reason": "not any more" }));
    assert_eq!(service.call(&back).status, 201);
    let read = service.call(&Request::get(path)).json();
    assert_eq!(read["withdrawn"]["reason"], "not any more", "{read}");
    assert!(read.get("note").is_none(), "{read}");
    let kept = service.call(&Request::get(format!("/v1/sign-offs/{other}"))).json();
    assert_eq!(kept["note"], PLANTED, "another's stays");
}

/// Needles that shade brows softly.
const NEEDLES: [&str; 5] = ["0.25 3RS", "0.30 3RS", "0.30 5RS", "0.35 3RS", "0.35 5RS"];

/// A student works with what she was signed for where it suits about as well as the best.
#[test]
fn what_is_signed_comes_before_what_suits_about_as_well() {
    let service = studio();
    let needles = |artist: &str| {
        let found = check(&service, artist, &json!({ "candidates": NEEDLES }));
        let ranked = found["needles"]["ranked"].as_array().expect("needles").clone();
        let one = |needle: &Value| {
            let suits = needle["desirability"].as_f64().expect("a share");
            (needle["canonical"].as_str().expect("a name").to_owned(), suits, needle.clone())
        };
        ranked.iter().map(one).collect::<Vec<_>>()
    };
    let before = needles("anna");
    let (best, most, first) = before[0].clone();
    let count = first["configuration"]["count"].clone();
    // Of another count: a diameter beside it would be covered too.
    let near = before[1..].iter().find(|(_, suits, needle)| {
        0.9 * most <= *suits && needle["configuration"]["count"] != count
    });
    let (other, _, needle) = near.expect("one that suits about as well").clone();
    let width = &needle["configuration"]["diameter_mm"];
    let covers = json!({
        "/covers/grouping": needle["configuration"]["grouping"],
        "/covers/count": needle["configuration"]["count"],
        "/covers/diameter_mm": { "from": width, "to": width },
    });
    signed(&service, "anna", "alone", &covers);
    assert_eq!(needles("anna")[0].0, other, "instead of {best}");
    assert_eq!(needles("clara")[0].0, best, "an artist takes what suits best");
    let signed = verdict(&service, "anna", &json!({ "candidates": NEEDLES }));
    is(&signed, "proceed", None, "signed");
}
