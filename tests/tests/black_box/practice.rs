//! Practice: sheets read from pictures, handed in, marked; who may, and who sees it.

use std::path::Path;

use etui_schema::problem::ErrorCode;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Value, json};

use crate::plugins::{issue, register, text};

/// A drawn sheet, PNG in base64.
const SHEET: &str = include_str!("../../data/sheets/small.png.base64");
/// Stands in every free text; must be found nowhere on the disk.
const PLANTED: &str = "planted-phrase-6d40";

fn token(service: &Running, name: &str, scopes: &Value, acts_for: Option<&str>) -> String {
    let plugin = register(service, name, json!({ "scopes": scopes, "allow_admin": true }));
    let mut body = json!({ "name": "t" });
    if let Some(artist) = acts_for {
        body["acts_for"] = artist.into();
    }
    text(&issue(service, plugin, &body))
}

/// A service with two students and a trainer, and a token of each.
struct Studio {
    service: Running,
    anna: String,
    dora: String,
    berta: String,
}

impl Studio {
    fn at(service: Running) -> Self {
        for (artist, body) in [
            ("anna", json!({ "hand": "light", "standing": "student" })),
            ("dora", json!({ "hand": "light", "standing": "student" })),
            ("berta", json!({ "hand": "medium", "trainer": true })),
        ] {
            let answer = service.call(&Request::put(format!("/v1/artists/{artist}"), &body));
            assert_eq!(answer.status, 201, "{}", answer.text());
        }
        let own = json!([
            "practice:read",
            "practice:write",
            "sign-offs",
            "treatments:write",
            "checks:write"
        ]);
        let anna = token(&service, "anna", &own, Some("anna"));
        let dora = token(&service, "dora", &own, Some("dora"));
        let berta = token(&service, "berta", &own, Some("berta"));
        Self { service, anna, dora, berta }
    }

    fn start() -> Self {
        Self::at(Running::start())
    }

    fn send(&self, token: &str, request: &Request) -> Answer {
        self.service.call(&request.clone().token(token))
    }

    fn made(&self, token: &str, artist: &str, but: &Value) -> Value {
        let answer = self.send(token, &Request::post("/v1/practice-sheets", &sheet(artist, but)));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    }

    /// Hands in and marks a sheet on which everything, or nothing, is as asked.
    fn worked(&self, sheet: &Value, good: bool) {
        let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
        let answer = self
            .send(&self.anna, &Request::post(format!("{path}/attempts"), &as_asked(sheet, good)));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let answer = self.send(&self.berta, &Request::post(format!("{path}/marks"), &marks(sheet)));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }

    fn progress(&self, token: &str, artist: &str) -> Answer {
        self.send(token, &Request::get(format!("/v1/artists/{artist}/progress")))
    }

    fn events(&self, kind: &str) -> usize {
        let events = self.service.call(&Request::get("/v1/events?limit=500")).json();
        let all = events["items"].as_array().expect("events").clone();
        assert!(!events.to_string().contains(PLANTED));
        all.iter().filter(|event| event["type"] == kind).count()
    }
}

fn sheet(artist: &str, but: &Value) -> Value {
    let mut body = json!({
        "artist_ref": artist,
        "drills": {
            "configuration": { "diameter_mm": 0.3, "count": 3, "grouping": "round_shader" },
            "effect": "soft_shading", "site": "brow", "level": "working", "seed": 3,
        },
    });
    for (pointer, value) in but.as_object().into_iter().flatten() {
        match pointer.as_str() {
            "anew" => body["anew"] = value.clone(),
            _ => body["drills"][pointer.as_str()] = value.clone(),
        }
    }
    body
}

fn panels(sheet: &Value) -> Vec<Value> {
    sheet["drills"]["panels"].as_array().expect("panels").clone()
}

fn as_asked(sheet: &Value, good: bool) -> Value {
    let panels: Vec<Value> = panels(sheet)
        .iter()
        .map(|panel| {
            let values: Vec<Value> = panel["targets"]
                .as_array()
                .expect("targets")
                .iter()
                .map(|target| {
                    let got = target["asked"].as_f64().expect("asked");
                    let got = if good { got } else { got + 50.0 };
                    json!({ "quantity": target["quantity"], "got": got })
                })
                .collect();
            json!({ "panel": panel["number"], "values": values })
        })
        .collect();
    json!({ "panels": panels })
}

fn marks(sheet: &Value) -> Value {
    let marks = json!({ "depth": "good", "stretch": "good", "tears": "fair" });
    let panels: Vec<Value> = panels(sheet)
        .iter()
        .map(|panel| json!({ "panel": panel["number"], "marks": marks }))
        .collect();
    json!({ "panels": panels, "note": PLANTED })
}

fn reading(picture: &str) -> Value {
    json!({
        "card": { "width_mm": 44.0, "height_mm": 36.0, "panels": [
            { "drill": "single_dots", "left_mm": 10.0, "top_mm": 11.0, "width_mm": 24.0,
              "height_mm": 3.0, "spacing_mm": 2.0 },
            { "drill": "straight_strokes", "left_mm": 11.0, "top_mm": 15.0, "width_mm": 14.0,
              "height_mm": 10.0, "spacing_mm": 2.0, "length_mm": 8.0 },
        ] },
        "picture": picture,
    })
}

#[test]
fn a_sheet_is_read_and_what_is_no_picture_says_what_would_do() {
    let service = Running::shared();
    let send = |body: &Value| service.call(&Request::post("/v1/sheet-readings", body));
    let answer = send(&reading(SHEET.trim()));
    assert_eq!(answer.status, 200, "{}", answer.text());
    let read = answer.json();
    assert_eq!((&read["experimental"], &read["cannot"]), (&json!(true), &json!([])), "{read}");
    let got = |panel: usize, quantity: &str| {
        let all = read["panels"][panel]["quantities"].as_array().expect("quantities").clone();
        all.into_iter().find(|one| one["quantity"] == quantity).expect("a quantity")
    };
    assert_eq!(got(0, "count")["got"], 11.0, "{read}");
    assert_eq!(got(1, "count")["got"], 6.0, "{read}");
    let width = got(1, "width_mm");
    assert_eq!(width["cannot"], "too_fine", "at 150 pixels an inch: {width}");
    assert!(width.get("got").is_none() && width["text"].is_string(), "{width}");
    // A grey page is a picture that cannot be measured, and says so.
    for (case, body, pointer, code) in [
        ("no base64", reading("not base64!"), "#/picture", "wrong_format"),
        ("no picture", reading("aGVsbG8gd29ybGQ="), "#/picture", "not_allowed"),
        (
            "a bomb",
            reading("iVBORw0KGgoAAAANSUhEUgAA6mAAAOpgCAAAAAAAAAAA"),
            "#/picture",
            "out_of_range",
        ),
        ("no sheet", json!({ "picture": SHEET.trim() }), "#/card", "missing"),
    ] {
        let answer = send(&body);
        assert_eq!(answer.status, 422, "{case}: {}", answer.text());
        let fault = &answer.json()["errors"][0];
        assert_eq!(
            (&fault["pointer"], &fault["code"]),
            (&json!(pointer), &json!(code)),
            "{case}: {fault}"
        );
    }
    let mut outside = reading(SHEET.trim());
    outside["card"]["panels"][0]["left_mm"] = 2.0.into();
    assert_eq!(send(&outside).json()["errors"][0]["pointer"], "#/card/panels/0");
    let mut lacking = reading(SHEET.trim());
    lacking["card"]["panels"][1].as_object_mut().expect("a panel").remove("length_mm");
    assert_eq!(send(&lacking).json()["errors"][0]["pointer"], "#/card/panels/1/length_mm");
}

#[test]
fn sheets_are_numbered_handed_in_once_and_marked_by_a_trainer_once() {
    let studio = Studio::start();
    let first = studio.made(&studio.anna, "anna", &json!({}));
    let second = studio.made(&studio.anna, "anna", &json!({}));
    assert_eq!((&first["number"], &second["number"]), (&json!(1), &json!(2)));
    assert_eq!(first["hand_in_until"], "2027-03-23");
    let path = format!("/v1/practice-sheets/{}", first["id"].as_str().expect("an id"));
    // The print says which sheet it is, whose and until when, in the language of the call.
    for (language, words) in [
        ("en", ["Sheet 1, hand in until 23 March 2027", "For: anna", "Panel 1: "]),
        ("de", ["Bogen 1, abgeben bis 23. März 2027", "Für: anna", "Feld 1: "]),
    ] {
        let print = Request::get(path.clone()).header("Accept", "image/svg+xml");
        let drawn = studio.send(&studio.anna, &print.header("Accept-Language", language));
        assert!(drawn.status == 200 && drawn.text().starts_with("<svg"), "{}", drawn.text());
        for word in words {
            assert!(drawn.text().contains(word), "{language}: no {word}");
        }
    }
    let attempts = Request::post(format!("{path}/attempts"), &as_asked(&first, true));
    let marking = Request::post(format!("{path}/marks"), &marks(&first));
    let early = studio.send(&studio.berta, &marking);
    assert_eq!(early.problem().code, ErrorCode::Conflict, "nothing was handed in");
    assert_eq!(studio.send(&studio.dora, &attempts).status, 404, "another's sheet is not there");
    assert_eq!(
        studio.send(&studio.berta, &attempts).status,
        422,
        "a trainer practises for herself"
    );
    let answer = studio.send(&studio.anna, &attempts.clone().header("Idempotency-Key", "\"a\""));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let again = studio.send(&studio.anna, &attempts.clone().header("Idempotency-Key", "\"a\""));
    assert_eq!((again.status, again.json()), (201, answer.json()), "a repeat is what it was");
    let other = Request::post(format!("{path}/attempts"), &as_asked(&first, false));
    assert_eq!(studio.send(&studio.anna, &other).problem().code, ErrorCode::Conflict);
    for (who, holder) in [("the student", &studio.anna), ("another student", &studio.dora)] {
        let status = studio.send(holder, &marking).status;
        assert!([404, 422].contains(&status), "{who} marks: {status}");
    }
    let mut unknown = marks(&first);
    unknown["panels"][0]["panel"] = 77.into();
    let answer = studio.send(&studio.berta, &Request::post(format!("{path}/marks"), &unknown));
    assert_eq!(answer.json()["errors"][0]["pointer"], "#/panels/0/panel", "{}", answer.text());
    let answer = studio.send(&studio.berta, &marking);
    assert_eq!(answer.status, 201, "{}", answer.text());
    assert_eq!(answer.json()["marked_by"], "berta");
    assert!(
        answer.json()["panels"]
            .as_array()
            .expect("panels")
            .iter()
            .all(|one| one["adequate"] == true)
    );
    assert_eq!(studio.send(&studio.berta, &marking).problem().code, ErrorCode::Conflict);
    let read = studio.send(&studio.anna, &Request::get(path)).json();
    assert_eq!((&read["state"], &read["marked"]["note"]), (&json!("marked"), &json!(PLANTED)));
    // The second one is not handed in by its day, and counts as missed.
    studio.service.set_clock("2027-03-24T08:00:00Z");
    let path = format!("/v1/practice-sheets/{}", second["id"].as_str().expect("an id"));
    let late = Request::post(format!("{path}/attempts"), &as_asked(&second, true));
    assert_eq!(studio.send(&studio.anna, &late).problem().code, ErrorCode::Conflict);
    assert_eq!(studio.send(&studio.anna, &Request::get(path)).json()["state"], "missed");
    let progress = studio.progress(&studio.anna, "anna").json();
    assert_eq!(progress["practice"][0]["not_handed_in"], json!([2]), "{progress}");
    // The way of her effect: what forgives most first, and one thing that is next.
    let way = &progress["ways"][0];
    assert_eq!((&way["effect"], &way["site"]), (&json!("soft_shading"), &json!("brow")), "{way}");
    let steps = way["steps"].as_array().expect("steps");
    assert_eq!(steps.iter().filter(|step| step["next"] == true).count(), 1, "{way}");
    let covered = |step: &Value| {
        let text = step["because"].as_str().expect("why");
        let number = text.split(' ').find_map(|word| word.parse::<u32>().ok());
        number.expect("a number")
    };
    assert!(2 <= steps.len() && steps.is_sorted_by_key(covered), "{way}");
}

/// Eighteen adequate panels on six days propose; a person signs; then results that fail
/// raise doubt, and the next check stands a rung lower.
#[test]
fn results_propose_a_person_signs_and_later_results_raise_doubt() {
    let studio = Studio::start();
    for day in 16..=22 {
        studio.service.set_clock(&format!("2027-03-{day}T09:00:00Z"));
        let sheet = studio.made(&studio.anna, "anna", &json!({}));
        studio.worked(&sheet, true);
        let practice = studio.progress(&studio.anna, "anna").json()["practice"][0].clone();
        let ready = practice["state"] == "ready_to_sign";
        let enough = 18 <= practice["counted"].as_u64().expect("a count");
        assert_eq!(ready, enough, "day {day}: {practice}");
        if ready {
            break;
        }
    }
    assert_eq!(studio.events("practice.ready"), 1);
    assert_eq!(studio.events("sign_off.given"), 0, "results sign nothing");
    // Sheets to begin with count for nothing.
    let easy = studio.made(&studio.anna, "anna", &json!({ "level": "first" }));
    studio.worked(&easy, false);
    let practice = studio.progress(&studio.berta, "anna").json()["practice"][0].clone();
    assert_eq!(
        (&practice["state"], &practice["not_counted"]),
        (&json!("ready_to_sign"), &json!(1))
    );
    let sign = json!({
        "artist_ref": "anna",
        "covers": { "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.3, "to": 0.3 },
                    "effect": "soft_shading", "site": "brow" },
        "rung": "alone", "valid_until": "2027-12-31",
    });
    let answer = studio.send(&studio.berta, &Request::post("/v1/sign-offs", &sign));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let practice = studio.progress(&studio.anna, "anna").json()["practice"][0].clone();
    assert_eq!((&practice["state"], &practice["rung"]), (&json!("signed"), &json!("alone")));
    for day in 23..=24 {
        studio.service.set_clock(&format!("2027-03-{day}T09:00:00Z"));
        let sheet = studio.made(&studio.anna, "anna", &json!({}));
        studio.worked(&sheet, false);
    }
    let practice = studio.progress(&studio.anna, "anna").json()["practice"][0].clone();
    assert_eq!(
        (&practice["state"], &practice["rung"]),
        (&json!("in_doubt"), &json!("under_eye")),
        "{practice}"
    );
    assert_eq!(studio.events("practice.in_doubt"), 1);
    // Forgetting what speaks against her does not speak for her.
    let gone = studio.service.call(&Request::new("DELETE", "/v1/artists/anna/practice"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    studio.worked(&sheet, true);
    let practice = studio.progress(&studio.anna, "anna").json()["practice"][0].clone();
    assert_eq!(
        (&practice["state"], &practice["rung"]),
        (&json!("in_doubt"), &json!("under_eye")),
        "{practice}"
    );
}

/// Her practice is hers: no other student sees it, and it goes with her key.
#[test]
fn practice_is_seen_by_her_and_her_trainer_and_is_forgotten_whole() {
    let folder = tempfile::tempdir().expect("a folder");
    let studio = Studio::at(Running::start_at(folder.path()));
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    studio.worked(&sheet, true);
    let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
    let list = Request::get("/v1/practice-sheets?artist_ref=anna");
    for (who, holder, status) in [
        ("she", &studio.anna, 200),
        ("the trainer", &studio.berta, 200),
        ("another", &studio.dora, 404),
    ] {
        assert_eq!(studio.progress(holder, "anna").status, status, "{who}");
        assert_eq!(studio.send(holder, &Request::get(path.clone())).status, status, "{who}");
        assert_eq!(studio.send(holder, &list).status, status, "{who}");
    }
    let foreign = Request::post("/v1/practice-sheets", &sheet_of_anna());
    assert_eq!(studio.send(&studio.dora, &foreign).status, 422, "for another");
    let dossier = studio.service.call(&Request::get("/v1/artists/anna/practice")).json();
    assert_eq!(dossier["sheets"][0]["marked"]["note"], PLANTED, "{dossier}");
    let gone = studio.service.call(&Request::new("DELETE", "/v1/artists/anna/practice"));
    assert_eq!(gone.status, 200, "{}", gone.text());
    assert_eq!(studio.send(&studio.anna, &Request::get(path)).status, 404);
    assert_eq!(studio.service.call(&Request::get("/v1/artists/anna/practice")).status, 404);
    assert_eq!(studio.progress(&studio.anna, "anna").json()["practice"], json!([]));
    // She begins anew, behind the numbers that were given.
    assert_eq!(studio.made(&studio.anna, "anna", &json!({}))["number"], 2);
    studio.service.stop();
    let mut found = Vec::new();
    look(folder.path(), &mut found);
    assert!(found.is_empty(), "{found:?}");
}

fn sheet_of_anna() -> Value {
    sheet("anna", &json!({}))
}

/// A student never signs: not a sheet, not a sign-off, not a treatment, in no way.
#[test]
fn a_student_never_signs_in_any_way() {
    let studio = Studio::start();
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
    let handed = studio
        .send(&studio.anna, &Request::post(format!("{path}/attempts"), &as_asked(&sheet, true)));
    assert_eq!(handed.status, 201, "{}", handed.text());
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let body = json!({
        "client_ref": "client-1", "artist_ref": "anna", "treatment": "brows", "effect": "soft_shading",
        "performed_at": "2027-03-16T07:30:00Z", "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
    });
    let treated = studio.service.call(&Request::post("/v1/treatments", &body));
    assert_eq!(treated.status, 201, "{}", treated.text());
    let treatment = format!("/v1/treatments/{}", treated.json()["id"].as_str().expect("an id"));
    let read = |service: &Running| service.call(&Request::get(treatment.clone())).json();
    assert_eq!(read(&studio.service)["unsupervised"], true);
    let sign = json!({
        "artist_ref": "dora",
        "covers": { "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.3, "to": 0.3 },
                    "effect": "soft_shading", "site": "brow" },
        "rung": "alone", "valid_until": "2027-12-31",
    });
    let with_admin = json!(["admin"]);
    let holders = [
        ("a student", studio.anna.clone()),
        ("another student", studio.dora.clone()),
        ("a student with admin", token(&studio.service, "root", &with_admin, Some("anna"))),
    ];
    let pack = json!({ "name": "signs", "sign_offs": [sign] });
    let three = json!({ "diameter_mm": 0.3, "count": 3, "grouping": "round_shader" });
    for (who, holder) in &holders {
        for (way, request) in [
            ("a sign-off", Request::post("/v1/sign-offs", &sign)),
            ("with a name in the body", Request::post("/v1/sign-offs", &forged(&sign))),
            ("a replay", Request::post("/v1/sign-offs", &sign).header("Idempotency-Key", "\"k\"")),
            ("a pack", Request::put("/v1/packs/rules/signs", &pack)),
            ("marks", Request::post(format!("{path}/marks"), &marks(&sheet))),
            (
                "a countersignature",
                Request::post(format!("{treatment}/countersignatures"), &json!({})),
            ),
            (
                "an import of the old field",
                Request::merge(
                    "/v1/artists/anna",
                    &json!({ "practice": [{ "configuration": three, "on": "2027-03-01",
                                            "signed_off_by": "berta" }], "standing": "artist" }),
                )
                .header("If-Match", "*"),
            ),
            ("an import", Request::post("/v1/imports", &json!({ "sign_offs": [sign] }))),
            ("an override", check_of_anna(holder == &studio.dora)),
            (
                "a merge patch",
                Request::merge("/v1/artists/anna", &json!({ "standing": "artist" }))
                    .header("If-Match", "*"),
            ),
            (
                "a patch to be trainer",
                Request::merge("/v1/artists/anna", &json!({ "trainer": true }))
                    .header("If-Match", "*"),
            ),
        ] {
            let answer = studio.send(holder, &request);
            // Another student may be nobody's trainer; an admin who acts for one says nothing of herself.
            let refused = [403, 404, 422].contains(&answer.status);
            assert!(refused, "{who}, {way}: {} {}", answer.status, answer.text());
        }
        assert_eq!(read(&studio.service)["unsupervised"], true, "{who}");
    }
    let signed = studio.service.call(&Request::get("/v1/sign-offs")).json();
    assert_eq!(signed["items"], json!([]), "{signed}");
    let note = json!({ "note": PLANTED });
    let there = Request::post(format!("{treatment}/countersignatures"), &note);
    let answer = studio.send(&studio.berta, &there);
    assert_eq!(answer.status, 201, "{}", answer.text());
    let record = read(&studio.service);
    assert!(record.get("unsupervised").is_none(), "{record}");
    assert_eq!(record["countersignatures"][0]["signed_by"], "berta", "{record}");
}

/// A check for which a student answers, in her own name or the trainer's.
fn check_of_anna(in_her_own_name: bool) -> Request {
    let by = if in_her_own_name { "dora" } else { "berta" };
    let body = json!({
        "booking_ref": "booking-1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15", "artist_ref": "anna",
        "candidates": ["0.30 3RS"],
        "overrides": [{ "rule": "training.not_practised", "reason": "I can", "by_ref": by }],
    });
    Request::post("/v1/appointment-checks", &body)
}

fn forged(sign: &Value) -> Value {
    let mut forged = sign.clone();
    forged["signed_by"] = "berta".into();
    forged
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

/// Who is not on record may be a student, where there are students.
#[test]
fn work_of_somebody_who_is_not_on_record_is_no_better_than_a_students() {
    let treat = |service: &Running, artist: &str| {
        let lot = etui_tests::happenings::receive_lot(service, "L1", "2029-01-31");
        let body = json!({
            "client_ref": "client-1", "artist_ref": artist, "treatment": "brows",
            "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
            "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
        });
        let made = service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        let id = made.json()["id"].as_str().expect("an id").to_owned();
        (service.call(&Request::get(format!("/v1/treatments/{id}"))).json(), id)
    };
    let studio = Studio::start();
    for (artist, unsupervised) in [("anna", true), ("nobody-knows", true), ("berta", false)] {
        let (record, _) = treat(&studio.service, artist);
        assert_eq!(record["unsupervised"] == true, unsupervised, "{artist}: {record}");
    }
    let without_students = Running::start();
    let (record, _) = treat(&without_students, "nobody-knows");
    assert!(record.get("unsupervised").is_none(), "{record}");
}

/// A day later a countersignature that is wanting is told of, and 30 days before its end a
/// sign-off; each once.
#[test]
fn what_is_wanting_and_what_ends_is_told_once() {
    let studio = Studio::start();
    let lot = etui_tests::happenings::receive_lot(&studio.service, "L1", "2029-01-31");
    let treat = |artist: &str, confirmed: bool| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": artist, "treatment": "brows",
            "effect": "soft_shading", "performed_at": "2027-03-16T07:30:00Z",
            "packs": [{ "lot_id": lot, "intact": true, "site": "brow" }],
        });
        let made = studio.service.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        let path = format!("/v1/treatments/{}", made.json()["id"].as_str().expect("an id"));
        if confirmed {
            let there = Request::post(format!("{path}/countersignatures"), &json!({}));
            assert_eq!(studio.send(&studio.berta, &there).status, 201);
        }
    };
    treat("anna", false);
    treat("anna", true);
    treat("berta", false);
    treat("nobody-knows", false);
    let sign = |until: &str| {
        let body = json!({
            "artist_ref": "anna", "rung": "under_eye", "valid_until": until,
            "covers": { "grouping": "round_shader", "count": 3, "effect": "soft_shading",
                        "site": "brow", "diameter_mm": { "from": 0.3, "to": 0.3 } },
        });
        let given = studio.send(&studio.berta, &Request::post("/v1/sign-offs", &body));
        assert_eq!(given.status, 201, "{}", given.text());
        format!("/v1/sign-offs/{}", given.json()["id"].as_str().expect("an id"))
    };
    sign("2027-05-10");
    sign("2027-05-20");
    let back = sign("2027-05-10");
    let reason = json!({ "reason": "not steady yet" });
    let answer = studio.send(&studio.berta, &Request::post(format!("{back}/withdrawals"), &reason));
    assert_eq!(answer.status, 201, "{}", answer.text());
    let told = |kind: &str, many: usize, at: &str| {
        studio.service.set_clock(at);
        let begun = std::time::Instant::now();
        while studio.events(kind) != many && begun.elapsed().as_secs() < 20 {
            std::thread::sleep(std::time::Duration::from_millis(50));
        }
        assert_eq!(studio.events(kind), many, "{kind}, {at}");
    };
    assert_eq!(studio.events("countersignature.due"), 0);
    told("countersignature.due", 2, "2027-03-17T09:00:00Z");
    told("sign_off.lapsing", 0, "2027-04-09T08:00:00Z");
    told("sign_off.lapsing", 1, "2027-04-10T08:00:00Z");
    assert_eq!(studio.events("countersignature.due"), 2);
    told("sign_off.lapsing", 2, "2027-04-20T08:00:00Z");
}
