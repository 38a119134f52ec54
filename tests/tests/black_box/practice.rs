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
pub(crate) const PLANTED: &str = "planted-phrase-6d40";

/// A token. Of a student it is one that she had before she was one: none that signs is given
/// to a student.
pub(crate) fn token(
    service: &Running,
    name: &str,
    scopes: &Value,
    acts_for: Option<&str>,
) -> String {
    let path = acts_for.map(|artist| format!("/v1/artists/{artist}"));
    let Some(path) = path else { return given(service, name, scopes, None) };
    let standing = |request: Request| {
        let answer = service.call(&request.header("If-Match", "*"));
        assert!(answer.status < 300, "{}", answer.text());
    };
    let held = service.call(&Request::get(path.clone()));
    if held.status == 404 {
        let answer = service.call(&Request::put(path.clone(), &json!({ "hand": "light" })));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let token = given(service, name, scopes, acts_for);
        standing(Request::new("DELETE", path));
        return token;
    }
    if held.json()["standing"] != "student" {
        return given(service, name, scopes, acts_for);
    }
    standing(Request::merge(path.clone(), &json!({ "standing": "artist" })));
    let token = given(service, name, scopes, acts_for);
    standing(Request::merge(path, &json!({ "standing": "student" })));
    token
}

fn given(service: &Running, name: &str, scopes: &Value, acts_for: Option<&str>) -> String {
    let plugin = register(service, name, json!({ "scopes": scopes, "allow_admin": true }));
    let mut body = json!({ "name": "t" });
    if let Some(artist) = acts_for {
        body["acts_for"] = artist.into();
    }
    text(&issue(service, plugin, &body))
}

/// A service with two students and a trainer, and a token of each.
pub(crate) struct Studio {
    pub(crate) service: Running,
    pub(crate) anna: String,
    pub(crate) dora: String,
    pub(crate) berta: String,
}

impl Studio {
    pub(crate) fn at(service: Running) -> Self {
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

    pub(crate) fn start() -> Self {
        Self::at(Running::start())
    }

    pub(crate) fn send(&self, token: &str, request: &Request) -> Answer {
        self.service.call(&request.clone().token(token))
    }

    pub(crate) fn made(&self, token: &str, artist: &str, but: &Value) -> Value {
        let answer = self.send(token, &Request::post("/v1/practice-sheets", &sheet(artist, but)));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()
    }

    /// Hands in and marks a sheet on which everything, or nothing, is as asked.
    pub(crate) fn worked(&self, sheet: &Value, good: bool) {
        let path = format!("/v1/practice-sheets/{}", sheet["id"].as_str().expect("an id"));
        let answer = self
            .send(&self.anna, &Request::post(format!("{path}/attempts"), &as_asked(sheet, good)));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let answer = self.send(&self.berta, &Request::post(format!("{path}/marks"), &marks(sheet)));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }

    pub(crate) fn progress(&self, token: &str, artist: &str) -> Answer {
        self.send(token, &Request::get(format!("/v1/artists/{artist}/progress")))
    }

    pub(crate) fn events(&self, kind: &str) -> usize {
        let events = self.service.call(&Request::get("/v1/events?limit=500")).json();
        let all = events["items"].as_array().expect("events").clone();
        assert!(!events.to_string().contains(PLANTED));
        all.iter().filter(|event| event["type"] == kind).count()
    }
}

pub(crate) fn sheet(artist: &str, but: &Value) -> Value {
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

pub(crate) fn as_asked(sheet: &Value, good: bool) -> Value {
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

pub(crate) fn marks(sheet: &Value) -> Value {
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
    // What takes long is refused before it is begun: one panel over the whole of an A4 card.
    let mut large = reading(SHEET.trim());
    for (member, mm) in [("width_mm", 297.0), ("height_mm", 210.0)] {
        large["card"][member] = mm.into();
    }
    for (member, mm) in
        [("left_mm", 10.0), ("top_mm", 10.0), ("width_mm", 277.0), ("height_mm", 190.0)]
    {
        large["card"]["panels"][1][member] = mm.into();
    }
    assert_eq!(send(&large).json()["errors"][0]["pointer"], "#/card/panels/1");
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

/// A way is told before a sheet is made, a sheet is made from its next step as it stands there,
/// and both members are told or neither.
/// Drills for what nobody works are refused with the reason, and not answered with none.
#[test]
fn there_are_no_drills_for_what_is_set_aside() {
    let studio = Studio::start();
    let drills = json!({
        "configuration": { "diameter_mm": 0.3, "count": 7, "grouping": "stacked_magnum" },
        "effect": "hair_strokes", "site": "brow", "level": "working", "seed": 5,
    });
    let refused = studio.service.call(&Request::post("/v1/drills", &drills));
    assert_eq!(refused.status, 422, "{}", refused.text());
    let refused = refused.json();
    assert_eq!(refused["errors"][0]["pointer"], "#/configuration", "{refused}");
    assert!(refused["errors"][0]["message"].to_string().contains("set aside"), "{refused}");
}

#[test]
fn a_beginner_is_led_before_she_has_made_a_sheet() {
    let studio = Studio::start();
    let ask = |query: &str| {
        let path = format!("/v1/artists/anna/progress{query}");
        studio.send(&studio.anna, &Request::get(path))
    };
    assert_eq!(ask("").json()["ways"], json!([]));
    let led = ask("?effect=hair_strokes&site=brow").json();
    assert_eq!((&led["practice"], led["ways"].as_array().map(Vec::len)), (&json!([]), Some(1)));
    let steps = led["ways"][0]["steps"].as_array().expect("steps").clone();
    let next: Vec<&Value> = steps.iter().filter(|step| step["next"] == true).collect();
    assert_eq!(next, [&steps[0]], "{led}");
    let drills = json!({ "configuration": steps[0]["configuration"], "effect": "hair_strokes" });
    let sheet = studio.made(&studio.anna, "anna", &drills);
    assert_eq!(sheet["drills"]["canonical"], steps[0]["canonical"]);
    assert_eq!(ask("").json()["ways"][0]["steps"], json!(steps), "the same way, now begun");
    assert_eq!(ask("?effect=scalp_dots&site=brow").json()["ways"][1]["steps"], json!([]));
    for (query, place) in [("?effect=hair_strokes", "query:site"), ("?site=brow", "query:effect")] {
        let answer = ask(query);
        assert_eq!(answer.status, 400, "{query}: {}", answer.text());
        assert_eq!(answer.json()["errors"][0]["pointer"], place);
    }
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
    look(folder.path(), PLANTED, &mut found);
    assert!(found.is_empty(), "{found:?}");
}

fn sheet_of_anna() -> Value {
    sheet("anna", &json!({}))
}

pub(crate) fn look(folder: &Path, phrase: &str, found: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            look(&path, phrase, found);
            continue;
        }
        let bytes = std::fs::read(&path).unwrap_or_default();
        if bytes.windows(phrase.len()).any(|part| part == phrase.as_bytes()) {
            found.push(path.display().to_string());
        }
    }
}
