//! One request asked in both languages: nothing is left in the other one.

use etui_schema::vocabulary::Language;
use etui_tests::running::{Running, with_token};
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::packs::healthy;
use super::practice::{Studio, as_asked};
use super::reminders::House;

/// Members that hold no sentence in a language: codes, names, what was sent, and
/// what a number is about for its basis.
const SAME: &[&str] = &[
    "about",
    "source",
    "kind",
    "code",
    "canonical",
    "then_first",
    "change",
    "pointer",
    "pointers",
    "configuration",
    "setting",
    "parameters",
    "reference",
    "flips",
    "becomes",
    "by_pressure",
    "by_trauma",
    "by_cover_rate",
    "spans",
    "elements",
    "faults",
    "assumed",
];

/// Every text of an answer that people read, with its place.
fn sentences(value: &Value, place: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::String(text) if 2 < text.split(' ').filter(|word| 2 < word.len()).count() => {
            found.push((place.to_owned(), text.clone()));
        }
        Value::Array(all) => {
            all.iter().for_each(|one| sentences(one, &format!("{place}/-"), found));
        }
        Value::Object(all) => {
            // `change` is a sentence in a step, and a pointer elsewhere.
            let told = |key: &str| {
                !SAME.contains(&key) || (key == "change" && place.ends_with("step_up/-"))
            };
            for (key, one) in all.iter().filter(|(key, _)| told(key)) {
                sentences(one, &format!("{place}/{key}"), found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

#[test]
fn every_sentence_of_the_craft_is_in_the_language_asked_for() {
    let setting = json!({
        "hand": "heavy", "site": "scalp", "depth_mm": 0.5, "hand_speed_mm_s": 40.0,
        "machine": { "stroke_mm": 4.2, "rate_hz": 150.0, "give": "soft" },
        "skin": { "thickness": "fine", "age_years": 70, "signs": ["broken_vessels", "scarred"] },
    });
    let label = |text: &str| json!({ "text": text });
    let labels: Vec<Value> = [
        "1003RL",
        "3RL",
        "0.30 9M STERILE EO",
        "RLT 0.25 5",
        "0.25x30 acupuncture",
        "",
        "hello there",
        "#10 5RS EXP 2031-02",
        "1003RL LOT 12 2020-01-01",
    ]
    .into_iter()
    .map(label)
    .collect();
    let needle = |effect: &str, treatment: &str| json!({ "treatment": treatment, "effect": effect, "setting": setting, "limit": 250 });
    let compared = json!({
        "configurations": [{ "label": "0.30 3RL" }, { "label": "0.25 5RS" }, { "label": "0.35 9M1" }],
        "setting": setting,
    });
    for (path, body) in [
        ("/v1/needle-selections", needle("soft_shading", "brows")),
        ("/v1/needle-selections", needle("hair_strokes", "brows")),
        ("/v1/needle-selections", needle("dense_fill", "lips")),
        ("/v1/needle-selections", needle("bold_line", "eyeliner")),
        ("/v1/needle-selections", needle("scalp_dots", "scalp")),
        ("/v1/needle-selections", needle("areola_shading", "areola")),
        ("/v1/configuration-comparisons", compared),
        ("/v1/label-readings", json!({ "labels": labels })),
    ] {
        let running = Running::shared();
        let [english, german] = ["en", "de"].map(|language| {
            let request = Request::post(path, &body).header("Accept-Language", language);
            let answer = running.call(&with_token(&request, running.token()));
            assert_eq!(answer.status, 200, "{path}: {}", answer.text());
            let mut found = Vec::new();
            sentences(&answer.json(), "", &mut found);
            found
        });
        assert!(4 < english.len(), "{path}: {english:?}");
        let same: Vec<_> = english.iter().filter(|one| german.contains(one)).collect();
        assert!(same.is_empty(), "{path}: {same:#?}");
        for (place, text) in &german {
            let words: Vec<&str> = text.split(|c: char| !c.is_alphabetic()).collect();
            for english in ["the", "with", "and", "is", "not", "for"] {
                assert!(!words.contains(&english), "{path}{place}: {text}");
            }
        }
    }
}

/// Our own rule: what was told in one language can be told in the other, whatever lies in the
/// drawer by now.
#[test]
fn a_kept_check_is_told_in_the_language_asked_for_after_the_drawer_has_changed() {
    const DAY: &str = "2027-03-18";
    let running = Running::start();
    let stock = |text: &str| {
        let lot = json!({ "text": text, "packs": 9, "maker": "m" });
        let answer = running.call(&Request::post("/v1/lots", &lot));
        assert_eq!(answer.status, 201, "{}", answer.text());
    };
    stock("0.30 3RS LOT A1 EXP 2029-02-28 STERILE EO");
    let body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": format!("{DAY}T08:00:00Z"), "born_on": "1990-06-15",
        "skin": { "phototype": "II" }, "candidates": "drawer",
        "answers": healthy(&running, "brows", &json!({})),
    });
    let made = running.call(&Request::post("/v1/appointment-checks", &body)).json();
    assert_eq!(made["needles"]["ranked"].as_array().map(Vec::len), Some(1), "{made}");
    let at = format!("/v1/appointment-checks/{}", made["id"].as_str().expect("an id"));
    let german = |path: &str| running.call(&Request::get(path).header("Accept-Language", "de"));
    let before = german(&format!("{at}/summary")).json();
    assert_eq!(before["language"], "de", "{before}");
    // Another needle of the same kind, and more of the one that was offered.
    stock("0.25 5RS LOT B2 EXP 2029-02-28 STERILE EO");
    stock("0.30 3RS LOT A2 EXP 2028-02-29 STERILE EO");
    let after = german(&format!("{at}/summary")).json();
    assert_eq!(after, before, "what was offered stays what it was");
    for path in [format!("/v1/day-sheets/{DAY}"), format!("{at}/sheet?for=studio")] {
        let page = german(&path);
        assert_eq!(page.header("content-language"), Some("de"), "{path}");
        assert!(page.text().contains(before["says"].as_str().expect("words")), "{path}");
        assert!(!page.text().contains(made["summary"].as_str().expect("words")), "{path}");
    }
}

/// Our own rule: the studio says what it speaks to whoever told no language.
#[test]
fn a_client_whose_language_is_not_told_is_written_to_in_the_studios() {
    for (of_studio, told, spoken) in [
        (Language::En, None, "en"),
        (Language::De, None, "de"),
        (Language::De, Some("en"), "en"),
        (Language::En, Some("de"), "de"),
    ] {
        let house = House::with(Running::start_with(|config| config.language = of_studio));
        let capable = house.running.call(&Request::get("/v1/capabilities")).json();
        assert_eq!(capable["language"], of_studio.as_str());
        if let Some(language) = told {
            let client = json!({ "born_on": "1990-06-15", "language": language });
            let kept = house.running.call(&Request::put("/v1/clients/client-1", &client));
            assert_eq!(kept.status, 201, "{}", kept.text());
        }
        house.treat("client-1", "brows", "2027-03-16T07:30:00Z");
        let written = house.running.call(&Request::get("/v1/reminders?client_ref=client-1")).json();
        let texts = written["items"].as_array().expect("reminders");
        assert!(2 < texts.len(), "{written}");
        let texts = texts.iter().map(|one| one["text"].as_str().expect("a text"));
        let text = texts.collect::<Vec<_>>().join(" ");
        let words: Vec<&str> = text.split(|c: char| !c.is_alphabetic()).collect();
        for (language, own) in [("en", ["the", "and", "your"]), ("de", ["und", "nicht", "die"])] {
            let is_said = own.iter().all(|word| words.contains(word));
            assert_eq!(is_said, spoken == language, "{of_studio} {told:?}: {text}");
        }
        let calendar = json!({ "of": "studio" });
        let calendar = house.running.call(&Request::post("/v1/calendars", &calendar)).json();
        assert_eq!(calendar["language"], of_studio.as_str());
    }
}

/// Our own rule: what is wrong with an answer is said to whoever gave it, in her language and
/// without a name of the interface; what the program is told stays English.
#[test]
fn a_refused_answer_is_spoken_of_in_the_language_asked_for() {
    let told = json!({
        "treatment": "lips", "on": "2027-04-06", "born_on": "1990-06-15",
        "answers": {
            "cold_sore_active": true, "cold_sore_healed_on": "2027-04-01",
            "medicines": ["none_of_these", "antibiotics"],
            "long_term_conditions": ["diabetes"], "hba1c_percent": 2.5,
            "warfarin": false, "warfarin_ended_on": "2027-01-10", "pregnant": "perhaps",
        },
    });
    let running = Running::shared();
    for (language, spoken, says) in [
        (
            "en",
            "en",
            ["16 March 2027", "None of these", "3.5 to 20.5", "Blood thinner", "yes or no"],
        ),
        (
            "de",
            "en, de",
            ["16. März 2027", "Nichts davon", "3,5 bis 20,5", "Blutverdünner", "Ja oder Nein"],
        ),
    ] {
        let request =
            Request::post("/v1/skin-assessments", &told).header("Accept-Language", language);
        let answer = running.call(&with_token(&request, running.token()));
        assert_eq!(answer.status, 422, "{}", answer.text());
        assert_eq!(answer.header("content-language"), Some(spoken));
        let problem = answer.json();
        for (member, said) in [
            ("cold_sore_healed_on", says[0]),
            ("medicines", says[1]),
            ("hba1c_percent", says[2]),
            ("warfarin_ended_on", says[3]),
            ("pregnant", says[4]),
        ] {
            let pointer = format!("#/answers/{member}");
            let mut faults = problem["errors"].as_array().expect("faults").iter();
            let fault = faults.find(|one| one["pointer"] == pointer);
            let fault = fault.unwrap_or_else(|| panic!("{member}: {problem}"));
            let text = fault["says"].as_str().unwrap_or_else(|| panic!("{member}: {fault}"));
            assert!(text.contains(said) && !text.contains(['`', '_', '/']), "{member}: {text}");
            assert!(!fault["message"].as_str().expect("a message").is_empty());
        }
    }
}

/// A visit that lies before the birth is no matter of today.
#[test]
fn a_visit_before_the_birth_is_not_called_today() {
    let told =
        json!({ "treatment": "lips", "on": "2020-01-01", "born_on": "2021-01-01", "answers": {} });
    let running = Running::shared();
    let request = Request::post("/v1/skin-assessments", &told);
    let answer = running.call(&with_token(&request, running.token()));
    assert_eq!(answer.status, 422, "{}", answer.text());
    let text = answer.text();
    assert!(text.contains("2020-01-01, the day of the visit") && !text.contains("today"), "{text}");
}

/// A lot of six packs, made by `north`, and its id.
fn lot(running: &Running, text: &str) -> String {
    let body = json!({ "text": text, "packs": 6, "maker": "north" });
    let answer = running.call(&Request::post("/v1/lots", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

/// A treatment that takes one pack of a lot, so many times.
fn taking(lot: &str, packs: usize) -> Request {
    let pack = json!({ "lot_id": lot, "intact": true });
    let body = json!({
        "client_ref": "client-1", "artist_ref": "berta", "treatment": "brows",
        "performed_at": "2027-03-16T07:30:00Z", "packs": vec![pack; packs],
    });
    Request::post("/v1/treatments", &body)
}

/// Where what stands there is at fault and not the request, the refusal says so to whoever stands
/// before the screen: our own rule. What the program is told stays English.
#[test]
fn what_stands_against_a_request_is_said_in_the_language_asked_for() {
    let studio = Studio::start();
    let service = &studio.service;
    let [short, recalled, expired, held] = [
        "0.30 3RS LOT A1 EXP 2036-01 STERILE EO",
        "0.30 3RS LOT B1 EXP 2036-01 STERILE EO",
        "0.30 3RS LOT C1 EXP 2027-01 STERILE EO",
        "0.30 3RS LOT D1 EXP 2036-01 NON-STERILE",
    ]
    .map(|text| lot(service, text));
    let notice = json!({ "lot": "B1", "maker": "north", "reason": "sterility in doubt" });
    assert_eq!(service.call(&Request::post("/v1/recalls", &notice)).status, 201);
    let sheet = studio.made(&studio.anna, "anna", &json!({}));
    let attempts = format!("/v1/practice-sheets/{}/attempts", sheet["id"].as_str().expect("an id"));
    let attempts = Request::post(attempts, &as_asked(&sheet, true)).token(&studio.anna);
    assert_eq!(service.call(&attempts).status, 201);
    let client = |path: &str, born_on: &str| {
        Request::put(format!("/v1/clients/{path}"), &json!({ "born_on": born_on }))
    };
    assert_eq!(service.call(&client("client-2", "1990-06-15")).status, 201);
    let check = |but: Value| {
        let mut body = json!({
            "booking_ref": "b", "treatment": "brows", "effect": "soft_shading",
            "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15", "answers": {},
        });
        body.as_object_mut().expect("a body").extend(but.as_object().cloned().expect("members"));
        Request::post("/v1/appointment-checks", &body)
    };
    let tested = json!({ "made_at": "2027-04-06T09:00:00Z", "result": "not_read" });
    let tested = check(json!({ "patch_test": tested }));
    let signed = json!({
        "artist_ref": "berta", "rung": "alone", "valid_until": "2027-12-31",
        "covers": {
            "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.30, "to": 0.30 },
            "effect": "soft_shading", "site": "brow",
        },
    });
    let mut by_student = signed.clone();
    by_student["artist_ref"] = json!("dora");
    let sign = |body: &Value, token: &str| Request::post("/v1/sign-offs", body).token(token);
    let faster = client("client-2", "1990-06-16").header("If-Match", "\"another\"");
    for (request, status, place, said) in [
        (taking(&short, 7), 409, "", ["counts 6 packs", "liegen 6 Packungen"]),
        (taking(&recalled, 1), 422, "#/packs/0/lot_id", ["was called back", "wurde zurückgerufen"]),
        (taking(&expired, 1), 422, "#/packs/0/lot_id", ["31 January 2027", "31. Januar 2027"]),
        (taking(&held, 1), 422, "#/packs/0/lot_id", ["is kept aside", "ist zurückgelegt"]),
        (
            taking("0198c6a2-7d5e-7000-8000-000000000001", 1),
            422,
            "#/packs/0/lot_id",
            ["not in the drawer", "nicht in der Schublade"],
        ),
        (Request::get("/v1/clients/nobody"), 404, "", ["record was erased", "Akte gelöscht"]),
        (client("client-3", "2027-03-17"), 422, "#/born_on", ["in the future", "in der Zukunft"]),
        (client("client-3", "1906-12-31"), 422, "#/born_on", ["120 years", "120 Jahre"]),
        (faster, 412, "", ["Somebody else", "jemand anders"]),
        (tested, 422, "#/patch_test/made_at", ["not come yet", "noch vor uns"]),
        (
            check(json!({ "artist_ref": "nobody" })),
            422,
            "#/artist_ref",
            ["This artist is not kept", "im Team nicht gespeichert"],
        ),
        (
            check(json!({ "client_ref": "client-2", "born_on": "1991-06-15" })),
            422,
            "#/born_on",
            ["another date of birth", "anderes Geburtsdatum"],
        ),
        (attempts, 409, "", ["handed in before", "schon abgegeben"]),
        (sign(&signed, &studio.berta), 422, "#/artist_ref", ["signs for herself", "eigene Arbeit"]),
        (sign(&by_student, &studio.anna), 422, "#", ["a trainer's", "wer ausbildet"]),
    ] {
        for (language, spoken, said) in [("en", "en", said[0]), ("de-AT", "en, de", said[1])] {
            let answer = service.call(&request.clone().header("Accept-Language", language));
            let told = format!("{} {}: {}", request.method, request.path(), answer.text());
            assert_eq!(answer.status, status, "{told}");
            assert_eq!(answer.header("content-language"), Some(spoken), "{told}");
            let varies = answer.header("vary").is_some_and(|vary| vary.contains("accept-language"));
            assert!(varies, "{told}");
            let problem = answer.problem();
            let fault = problem.errors.iter().find(|fault| fault.pointer == place);
            let says = fault.map_or(&problem.says, |fault| &fault.says);
            assert!(fault.is_some() || place.is_empty(), "{told}");
            let says = says.as_deref().unwrap_or_else(|| panic!("{told}"));
            assert!(says.contains(said) && !says.contains(['`', '_', '/', '{']), "{told}");
        }
    }
}

/// A request that is wrong by itself says nothing to people.
#[test]
fn a_fault_of_the_program_is_told_to_the_program_alone() {
    let service = Running::shared();
    for request in [
        Request::post("/v1/lots", &json!({ "packs": "six" })),
        Request::post("/v1/treatments", &json!({ "no_such_member": 1 })),
        Request::get("/v1/clients?no_such=1"),
        Request::get("/v1/lots/no-id"),
    ] {
        let answer =
            service.call(&with_token(&request, service.token()).header("Accept-Language", "de"));
        assert!(matches!(answer.status, 400 | 422), "{}", answer.text());
        assert_eq!(answer.json().pointer("/says"), None, "{}", answer.text());
        assert!(
            answer.problem().errors.iter().all(|fault| fault.says.is_none()),
            "{}",
            answer.text()
        );
        assert!(!answer.header("content-language").is_some_and(|told| told.contains("de")));
    }
}
