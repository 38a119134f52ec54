//! The pre-appointment check: skin test, bottles, earlier sessions, bad
//! answers.

use etui_schema::problem::FaultCode;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

pub(crate) const PATH: &str = "/v1/appointment-checks";
/// The appointment; the clock of a test stands on 16 March 2027, 09:00 in Berlin.
const STARTS: &str = "2027-04-06T08:00:00Z";

fn healthy(running: &Running, but: &Value) -> Value {
    let asked = "/v1/screening-questions?treatment=brows&on=2027-04-06";
    let asked = running.call(&Request::get(asked)).json();
    let first = asked["questions"].as_array().expect("questions").iter();
    let mut answers: Map<String, Value> = first
        .filter(|question| question.get("ask_if").is_none() && question["optional"] != true)
        .filter_map(|question| {
            Some((question["id"].as_str()?.to_owned(), question.get("clear_answer")?.clone()))
        })
        .collect();
    answers.extend(but.as_object().cloned().unwrap_or_default());
    Value::Object(answers)
}

fn body(running: &Running, answers: &Value, members: &Value) -> Value {
    let mut body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": STARTS, "born_on": "1990-06-15",
        "answers": healthy(running, answers), "candidates": "usual",
        "skin": { "phototype": "II" },
    });
    body.as_object_mut()
        .expect("an object")
        .extend(members.as_object().cloned().unwrap_or_default());
    body
}

fn send(running: &Running, answers: &Value, members: &Value) -> Answer {
    running.call(&Request::post(PATH, &body(running, answers, members)))
}

pub(crate) fn made(running: &Running, answers: &Value, members: &Value) -> Value {
    let answer = send(running, answers, members);
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn todo<'a>(check: &'a Value, key: &str) -> Option<&'a Value> {
    check["todo"].as_array().expect("a list").iter().find(|item| item["key"] == key)
}

/// A test that was looked at two days later, if it was.
fn test(made_at: &str, result: &str) -> Value {
    let mut told = json!({ "made_at": made_at, "result": result, "pigment_batch": "B1" });
    if result != "not_read" {
        told["read_at"] = made_at.replace("-10T", "-12T").into();
    }
    json!({ "patch_test": told, "pigments": [{ "batch": "B1", "label": label(&json!({})) }] })
}

fn label(but: &Value) -> Value {
    let mut label = json!({
        "statement": "yes", "ingredients": "yes", "nickel_notice": "no", "chromium_notice": "no",
        "safety_instructions": "yes",
    });
    label.as_object_mut().expect("an object").extend(but.as_object().cloned().unwrap_or_default());
    label
}

/// Hospital leaflets on areola tattooing: 24 hours; validity and batch: common
/// practice, no source; Schubert et al. 2023 on what a test of ink shows.
#[test]
fn a_skin_test_counts_or_is_on_the_list() {
    let running = Running::start();
    crate::sign_offs::known(&running, "client-1");
    let none = made(&running, &json!({}), &json!({}));
    assert_eq!(
        (none["verdict"].clone(), none["patch_test"]["standing"].clone()),
        (json!("proceed_with_conditions"), json!("missing"))
    );
    assert_eq!(none["patch_test"]["made_by"], "2027-04-05T08:00:00.000Z");
    assert_eq!(none["patch_test"]["better_by"], "2027-04-04");
    let item = todo(&none, "skin_test.patch_test").expect("on the list");
    assert_eq!((item["due"].clone(), item["late"].clone()), (json!("2027-04-04"), json!(false)));
    for (made_at, result, members, verdict, standing, key) in [
        ("2027-03-10T10:00:00Z", "clear", json!({}), "proceed", "met", None),
        (
            "2027-03-10T10:00:00Z",
            "not_read",
            json!({}),
            "proceed_with_conditions",
            "unread",
            Some("read_skin_test.patch_test"),
        ),
        (
            "2026-09-10T10:00:00Z",
            "clear",
            json!({}),
            "proceed_with_conditions",
            "expired",
            Some("skin_test.patch_test"),
        ),
        (
            "2027-03-10T10:00:00Z",
            "clear",
            json!({ "pigments": [{ "batch": "B1", "label": label(&json!({})) }, { "batch": "B2", "label": label(&json!({})) }] }),
            "proceed_with_conditions",
            "other_batch",
            Some("skin_test.patch_test"),
        ),
        // What is not told is no better: which batch was tested, which is used, with which colour at
        // all, on which skin.
        (
            "2027-03-10T10:00:00Z",
            "clear",
            json!({ "pigments": [{ "label": label(&json!({})) }] }),
            "proceed_with_conditions",
            "to_compare",
            Some("pigment_label.pigments"),
        ),
        (
            "2027-03-10T10:00:00Z",
            "clear",
            json!({ "pigments": [] }),
            "proceed_with_conditions",
            "to_compare",
            Some("pigment_label.pigments"),
        ),
        (
            "2027-03-10T10:00:00Z",
            "clear",
            // Of another client: hers was seen at the checks before.
            json!({ "skin": {}, "client_ref": "client-2" }),
            "proceed_with_conditions",
            "met",
            Some("condition.skin"),
        ),
        // The last: it stays with the client.
        (
            "2027-03-10T10:00:00Z",
            "reacted",
            json!({}),
            "refer",
            "reacted",
            Some("written_view.patch_test"),
        ),
    ] {
        let mut told = test(made_at, result);
        told.as_object_mut()
            .expect("an object")
            .extend(members.as_object().cloned().unwrap_or_default());
        let check = made(&running, &json!({}), &told);
        assert_eq!(check["patch_test"]["standing"], standing, "{made_at} {result}");
        assert_eq!(check["verdict"], verdict, "{made_at} {result}");
        if let Some(key) = key {
            assert!(todo(&check, key).is_some(), "{key}: {}", check["todo"]);
        }
        let says = check["patch_test"]["says"].to_string();
        assert!(says.contains("does not rule out an allergy"), "{says}");
        assert!(!check["patch_test"]["basis"].as_array().expect("a basis").is_empty());
    }
}

/// Between two sessions of one area the skin has its time, however many bookings there are.
#[test]
fn other_bookings_of_the_area_are_named() {
    let running = Running::start();
    crate::sign_offs::known(&running, "client-1");
    crate::sign_offs::known(&running, "client-2");
    let check = |members: Value| {
        let mut all = test("2027-03-10T10:00:00Z", "clear");
        all.as_object_mut().expect("one").extend(members.as_object().cloned().unwrap_or_default());
        made(&running, &json!({}), &all)
    };
    let booked = |check: &Value| todo(check, "ready.booked").map(|item| item["text"].to_string());
    let first = check(json!({}));
    assert_eq!((first["verdict"].as_str(), booked(&first)), (Some("proceed"), None));
    let week = json!({ "booking_ref": "booking-2", "starts_at": "2027-04-13T08:00:00Z" });
    let second = check(week.clone());
    assert_eq!(second["verdict"], "proceed_with_conditions");
    assert!(booked(&second).expect("named").contains("6 April 2027"));
    // Asked again, the first knows of the second too.
    assert!(booked(&check(json!({}))).expect("named").contains("13 April 2027"));
    for apart in [
        json!({ "booking_ref": "booking-3", "client_ref": "client-2" }),
        json!({ "booking_ref": "booking-4", "starts_at": "2027-07-06T08:00:00Z" }),
    ] {
        assert_eq!(booked(&check(apart)), None);
    }
    // Once it has moved, the day it was moved from is nobody's.
    running.set_clock("2027-03-16T08:05:00Z");
    check(json!({ "booking_ref": "booking-2", "starts_at": "2027-06-02T08:00:00Z" }));
    assert_eq!(booked(&check(json!({}))), None);
}

#[test]
fn a_skin_test_that_cannot_be_is_refused() {
    let running = Running::start();
    for (test, pointer, code) in [
        (
            json!({ "made_at": "2027-03-17T10:00:00Z", "result": "clear" }),
            "#/patch_test/made_at",
            FaultCode::OutOfRange,
        ),
        (
            json!({ "made_at": "2027-03-10T10:00:00Z", "read_at": "2027-03-09T10:00:00Z", "result": "clear" }),
            "#/patch_test/read_at",
            FaultCode::Contradiction,
        ),
        (
            json!({ "made_at": "2027-03-10T10:00:00Z", "read_at": "2027-03-12T10:00:00Z", "result": "not_read" }),
            "#/patch_test/result",
            FaultCode::Contradiction,
        ),
        (
            json!({ "made_at": "2027-03-10T10:00:00Z", "result": "fine" }),
            "#/patch_test/result",
            FaultCode::UnknownValue,
        ),
    ] {
        let answer = send(&running, &json!({}), &json!({ "patch_test": test }));
        assert_eq!(answer.status, 422, "{}", answer.text());
        let problem = answer.problem();
        assert!(problem.errors.iter().any(|f| f.pointer == pointer && f.code == code), "{problem}");
    }
}

/// Regulation (EU) 2020/2081, paragraph 7, as the Swedish Medical Products
/// Agency lists it.
#[test]
fn a_bottle_is_judged_by_its_label_and_the_clients_allergies() {
    let running = Running::start();
    let nickel = json!({ "nickel_allergy": true, "nickel_allergy_severe": false });
    for (answers, seen, fitness, remark, key) in [
        (json!({}), json!({}), "usable", None, None),
        (json!({}), json!({ "nickel_notice": "yes" }), "usable", None, None),
        (nickel.clone(), json!({}), "usable", Some("no_proof"), None),
        (
            nickel.clone(),
            json!({ "nickel_notice": "yes" }),
            "not_for_this_client",
            Some("nickel_for_allergic"),
            Some("other_pigment.pigment_1"),
        ),
        (
            nickel,
            json!({ "chromium_notice": "not_seen" }),
            "look",
            Some("look_chromium_notice"),
            Some("pigment_label.pigment_1"),
        ),
        (
            json!({}),
            json!({ "statement": "no" }),
            "not_usable",
            Some("not_for_skin"),
            Some("other_pigment.pigment_1"),
        ),
        (
            json!({}),
            json!({ "batch": "no" }),
            "not_usable",
            Some("missing_batch"),
            Some("other_pigment.pigment_1"),
        ),
    ] {
        let told = json!({ "pigments": [{ "batch": "B1", "label": label(&seen) }] });
        let check = made(&running, &answers, &told);
        let bottle = &check["pigments"][0];
        assert_eq!(bottle["fitness"], fitness, "{seen}");
        assert_eq!(bottle["remarks"][0]["code"].as_str(), remark, "{bottle}");
        assert!(bottle["basis"].to_string().contains("eu-2020-2081"));
        if let Some(key) = key {
            assert!(todo(&check, key).is_some(), "{key}: {}", check["todo"]);
            assert_ne!(check["verdict"], "proceed");
        }
    }
}

/// What the studio has on record counts, whatever is answered. Five weeks at 36:
/// the one rule of healing, an inference from studies of the horny layer.
#[test]
fn an_earlier_session_on_record_counts() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let treatment = |client: &str, treatment: &str, on: &str| {
        let body = json!({
            "client_ref": client, "artist_ref": "artist-1", "treatment": treatment,
            "performed_at": format!("{on}T09:00:00Z"), "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        let answer = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    };
    treatment("client-2", "brows", "2027-03-01");
    treatment("client-1", "lips", "2027-03-01");
    let before = made(&running, &json!({}), &json!({}));
    assert!(before.get("previous_sessions").is_none(), "another client, another area");
    treatment("client-1", "brows", "2026-01-10");
    treatment("client-1", "brows", "2027-03-15");
    let check = made(&running, &json!({}), &json!({}));
    assert_eq!(check["previous_sessions"][0]["on"], "2027-03-15");
    assert_eq!(check["previous_sessions"][0]["days_before"], 22);
    assert_eq!(check["previous_sessions"].as_array().map(Vec::len), Some(2));
    assert_eq!(
        (check["verdict"].clone(), check["not_before"].clone()),
        (json!("hold"), json!("2027-04-19"))
    );
    assert!(
        check["cautions"][0].as_str().expect("words").contains("on record"),
        "{}",
        check["cautions"]
    );
    let healing = check["readiness"].as_array().expect("a list").iter();
    let healing = healing.clone().find(|ready| ready["about"] == "healing").expect("told");
    assert_eq!(healing["ready"], false, "{healing}");
    assert!(todo(&check, "ready.healing").is_some());
    // An answer that knows of a later session elsewhere stands.
    let later = json!({ "previous_pmu_in_area": true, "previous_pmu_on": "2027-03-16" });
    let check = made(&running, &later, &json!({}));
    assert_eq!(check["not_before"], "2027-04-20");
}

/// Bad answers are named by their place, in a check as in an assessment.
#[test]
fn bad_answers_are_named_by_pointer() {
    let running = Running::start();
    for (answers, members, pointer, code) in [
        (json!({ "pregnent": true }), json!({}), "#/answers/pregnent", FaultCode::UnknownField),
        (
            json!({ "isotretinoin": "stopped", "isotretinoin_stopped_on": "2027-03-17" }),
            json!({}),
            "#/answers/isotretinoin_stopped_on",
            FaultCode::OutOfRange,
        ),
        (
            json!({ "isotretinoin": "never", "isotretinoin_stopped_on": "2027-01-01" }),
            json!({}),
            "#/answers/isotretinoin_stopped_on",
            FaultCode::Contradiction,
        ),
        (
            json!({ "nickel_allergy": false, "nickel_allergy_severe": true }),
            json!({}),
            "#/answers/nickel_allergy_severe",
            FaultCode::Contradiction,
        ),
        (json!({}), json!({ "born_on": "1850-01-01" }), "#/born_on", FaultCode::OutOfRange),
        (json!({}), json!({ "born_on": "2027-03-17" }), "#/born_on", FaultCode::OutOfRange),
    ] {
        let answer = send(&running, &answers, &members);
        assert_eq!(answer.status, 422, "{answers} {members}: {}", answer.text());
        let problem = answer.problem();
        assert!(problem.errors.iter().any(|f| f.pointer == pointer && f.code == code), "{problem}");
    }
}

/// Latest days counted back from the appointment, with keys to send messages by.
#[test]
fn the_list_has_latest_days_and_keys() {
    let running = Running::start();
    // A referral asks for nothing but what leads out of it.
    let other = json!({ "client_ref": "client-2" });
    let referred = made(&running, &json!({ "warfarin": true }), &other);
    let asked = todo(&referred, "written_view.warfarin").expect("what the doctor says");
    assert_eq!((&asked["due"], &asked["who"]), (&json!("2027-03-30"), &json!("client")));
    let check = made(&running, &json!({ "recent_on_area": ["acids"] }), &json!({}));
    for (key, due, who) in [
        ("keep_off.acids_on_area", "2027-03-23", "client"),
        ("skin_test.patch_test", "2027-04-04", "studio"),
        ("ask_on_the_day.on_the_day", "2027-04-06", "studio"),
    ] {
        let item = todo(&check, key).unwrap_or_else(|| panic!("{key}: {}", check["todo"]));
        assert_eq!((item["due"].clone(), item["who"].clone()), (json!(due), json!(who)), "{key}");
    }
    let dues: Vec<&str> = check["todo"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|item| item["due"].as_str())
        .collect();
    assert!(dues.is_sorted(), "soonest first: {dues:?}");
}

#[test]
fn a_check_speaks_the_language_asked_for() {
    let running = Running::start();
    let answers = json!({ "isotretinoin": "now" });
    let request =
        Request::post(PATH, &body(&running, &answers, &json!({ "candidates": "drawer" })));
    let check = running.call(&request.header("Accept-Language", "de")).json();
    assert!(
        check["summary"].as_str().expect("words").starts_with("Noch nicht"),
        "{}",
        check["summary"]
    );
    for (key, says) in
        [("rebook.isotretinoin_now", "verlegen"), ("written_view.isotretinoin_now", "ärztlich")]
    {
        let item = todo(&check, key).unwrap_or_else(|| panic!("{key}: {}", check["todo"]));
        assert!(item["text"].as_str().expect("words").contains(says), "{item}");
    }
    assert!(check["patch_test"]["says"].to_string().contains("Allergie"));
}

/// A check that chooses from the drawer names what would suit and may not be
/// used on the day, and says so if nothing is left.
#[test]
fn what_lies_in_the_drawer_and_is_passed_over_is_named() {
    let running = Running::start();
    let from_drawer = json!({ "candidates": "drawer" });
    let empty = made(&running, &json!({}), &from_drawer);
    let says = |check: &Value| check["needles"]["drawer"].as_str().unwrap_or_default().to_owned();
    assert!(says(&empty).contains("nothing that may be used"), "{empty}");
    for text in ["0.30 5RS LOT A1 EXP 2027-03-31 STERILE EO", "0.30 5RS LOT A2 EXP 2029-01-31"] {
        let body = json!({ "text": text, "packs": 5 });
        let lot = running.call(&Request::post("/v1/lots", &body));
        assert_eq!(lot.status, 201, "{}", lot.text());
    }
    let check = made(&running, &json!({}), &from_drawer);
    assert!(says(&check).contains("nothing that may be used"), "{check}");
    let passed = check["needles"]["passed_over"].as_array().expect("a list");
    for (lot, state, message) in
        [("A1", "expired", "before the visit"), ("A2", "held", "whether they are sterile")]
    {
        let found = passed.iter().find(|one| one["lot"] == lot).expect(lot);
        assert_eq!(found["state"], state, "{found}");
        assert!(found["message"].as_str().unwrap_or_default().contains(message), "{found}");
    }
    let usable = json!({ "text": "0.30 5RS LOT A3 EXP 2029-01-31 STERILE EO", "packs": 5 });
    assert_eq!(running.call(&Request::post("/v1/lots", &usable)).status, 201);
    let check = made(&running, &json!({}), &from_drawer);
    assert_eq!(says(&check), "", "{check}");
    assert_eq!(check["needles"]["ranked"][0]["lots"].as_array().map(Vec::len), Some(1), "{check}");
    running.stop();
}

/// What a label says against its packs stands against choosing them, and what was not looked for in
/// the drawer is not there to choose.
#[test]
fn packs_that_are_not_there_or_not_fit_are_not_ready() {
    let running = Running::start();
    for text in ["NOT STERILE", "EXP 2020-01-01", "damaged", "opened", "do not use"] {
        let text = format!("0.30 5RS {text}");
        let refused = send(&running, &json!({}), &json!({ "candidates": [text] }));
        assert_eq!(refused.status, 422, "{text}: {}", refused.text());
        assert_eq!(refused.json()["errors"][0]["pointer"], "#/candidates/0", "{text}");
        let choice = json!({
            "treatment": "brows", "effect": "soft_shading", "candidates": [{ "label": text }],
        });
        let refused = running.call(&Request::post("/v1/needle-selections", &choice));
        assert_eq!(refused.status, 422, "{text}: {}", refused.text());
        assert_eq!(refused.json()["errors"][0]["pointer"], "#/candidates/0/label", "{text}");
    }
    let lot = json!({ "text": "0.30 5RS LOT A3 EXP 2029-01-31 STERILE EO", "packs": 5 });
    assert_eq!(running.call(&Request::post("/v1/lots", &lot)).status, 201);
    for (candidates, is_ready, says) in [
        (json!("usual"), false, "nobody looked"),
        (json!(["0.30 5RS"]), false, "0.30 5RS suits"),
        (json!("drawer"), true, "0.30 5RS is there to choose"),
    ] {
        let check = made(&running, &json!({}), &json!({ "candidates": candidates }));
        let ready = check["readiness"].as_array().expect("readiness");
        let drawer = ready.iter().find(|one| one["about"] == "drawer").expect("the drawer");
        assert_eq!(drawer["ready"], is_ready, "{candidates}: {drawer}");
        assert!(drawer["because"].as_str().unwrap_or("").contains(says), "{candidates}: {drawer}");
        let lots = check["needles"]["ranked"][0]["lots"].as_array().map_or(0, Vec::len);
        assert_eq!(0 < lots, is_ready, "{candidates}");
        assert_eq!(todo(&check, "ready.drawer").is_none(), is_ready, "{candidates}: {check}");
    }
}

/// Whoever mends one fault of a request does not meet the next one only then.
#[test]
fn what_is_wrong_with_a_check_is_told_at_once() {
    let service = Running::start();
    let sound = json!({
        "booking_ref": "b1", "treatment": "brows", "effect": "soft_shading",
        "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
    });
    let faults: [(&str, Value, &[&str]); 6] = [
        ("born_on", json!("1850-01-01"), &["#/born_on"]),
        ("effect", json!("scalp_dots"), &["#/effect"]),
        (
            "answers",
            json!({ "pregnantt": true, "warfarinn": false }),
            &["#/answers/pregnantt", "#/answers/warfarinn"],
        ),
        ("artist_ref", json!("nobody"), &["#/artist_ref"]),
        ("machine_ref", json!("nothing"), &["#/machine_ref"]),
        ("candidates", json!(["no needle"]), &["#/candidates/0"]),
    ];
    let told = |body: &Value| -> Vec<String> {
        let refused = service.call(&Request::post("/v1/appointment-checks", body));
        assert_eq!(refused.status, 422, "{body}: {}", refused.text());
        let mut all: Vec<_> =
            refused.problem().errors.into_iter().map(|fault| fault.pointer).collect();
        all.sort();
        all
    };
    // Each by itself is found, each with each other, and all of them.
    let sets = (0..faults.len()).flat_map(|a| (a..faults.len()).map(move |b| vec![a, b]));
    for set in sets.chain([(0..faults.len()).collect()]) {
        let (mut body, mut want) = (sound.clone(), Vec::new());
        for at in &set {
            let (name, value, pointers) = &faults[*at];
            body[*name] = value.clone();
            want.extend(pointers.iter().map(|one| (*one).to_owned()));
        }
        want.sort();
        want.dedup();
        assert_eq!(told(&body), want, "{body}");
    }
}

/// The check, its short view and its pages: while something without a day is open, none of them
/// tells a day from which she may come, to a program or to a person.
#[test]
fn nobody_reads_a_day_to_come_on_beside_what_is_open() {
    let running = Running::start();
    let filler = json!({
        "recent_procedures": ["filler"], "filler_on": "2027-03-10", "filler_place": "in_area",
    });
    for (words, other, is_open) in [
        ("nothing else", json!({}), false),
        ("pregnant", json!({ "pregnant": true }), true),
        ("a keloid", json!({ "skin_history": ["keloid"] }), true),
        ("an answer is missing", json!({ "botulinum": true }), true),
    ] {
        let mut answers = filler.clone();
        answers.as_object_mut().expect("an object").extend(other.as_object().expect("one").clone());
        for (language, day, from, tail) in [
            ("en", "7 April 2027", "from 7 April 2027 on", "counts too"),
            ("de", "7. April 2027", "den 7. April 2027 oder später", "es zählt auch"),
        ] {
            let request = body(&running, &answers, &json!({}));
            let request = Request::post(PATH, &request).header("Accept-Language", language);
            let answer = running.call(&request);
            assert_eq!(answer.status, 201, "{}", answer.text());
            let check = answer.json();
            assert_eq!(check["not_before"], "2027-04-07", "{words}");
            assert_eq!(check["hold_until"].is_null(), is_open, "{words}");
            let id = check["id"].as_str().expect("an id");
            let read = |what: &str| {
                let path = format!("{PATH}/{id}/{what}");
                let answer = running.call(&Request::get(path).header("Accept-Language", language));
                assert_eq!(answer.status, 200, "{}", answer.text());
                answer.text()
            };
            let summary: Value = serde_json::from_str(&read("summary")).expect("JSON");
            assert_eq!(summary["hold_until"], check["hold_until"], "{words}");
            let told = ["findings", "todo", "summary"].map(|part| check[part].to_string());
            let pages = [summary.to_string(), read("sheet"), read("sheet?for=studio")];
            for text in told.iter().chain(&pages) {
                let alone = text.contains(from);
                assert!(!(is_open && alone), "{words} {language}: {text}");
                // Where the day stands, it stands as one before which it cannot be.
                let held = !text.contains(day)
                    || text.contains(tail)
                    || text.contains("Not yet")
                    || text.contains("Noch nicht");
                assert!(!is_open || held, "{words} {language}: {text}");
            }
            let finding = check["findings"].as_array().expect("a list").iter();
            let mut filler = finding.filter(|finding| finding["rule"] == "filler");
            assert_eq!(filler.next().expect("one")["hold_until"].is_null(), is_open, "{words}");
            let due = check["todo"].as_array().expect("a list").iter();
            let due: Vec<&Value> = due.filter(|item| item["key"] == "rebook.filler").collect();
            assert!(due.iter().all(|item| item["due"].is_null() == is_open), "{words}: {due:?}");
        }
    }
}
