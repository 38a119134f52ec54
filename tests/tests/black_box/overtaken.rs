//! What was told once, or only later: the next check knows of it, and no page
//! says that a visit goes ahead which it stands against.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::packs::healthy;

/// The clock of a test stands on 16 March 2027, 09:00 in Berlin.
const TODAY: &str = "2027-03-16";
const CLIENT: &str = "/v1/clients/client-1";

fn check(running: &Running, treatment: &str, day: &str, answers: &Value) -> Value {
    let mut told = json!({});
    if day == TODAY {
        told["on_the_day"] = json!(["none_of_these"]);
    }
    for (question, answer) in answers.as_object().expect("answers") {
        told[question] = answer.clone();
    }
    let mut answers = healthy(running, treatment, &told);
    answers.as_object_mut().expect("answers").retain(|_, answer| !answer.is_null());
    let body = json!({
        "patch_test": {
            "made_at": "2027-03-10T09:00:00Z", "read_at": "2027-03-13T09:00:00Z", "result": "clear",
        },
        "booking_ref": format!("booking-{treatment}"), "client_ref": "client-1",
        "treatment": treatment, "effect": "soft_shading", "starts_at": format!("{day}T08:00:00Z"),
        "born_on": "1990-06-15", "skin": { "phototype": "II" }, "candidates": "usual",
        "answers": answers,
    });
    let answer = running.call(&Request::post("/v1/appointment-checks", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn put(running: &Running, body: &Value) -> Value {
    let tag = running.call(&Request::get(CLIENT)).header("etag").map(str::to_owned);
    let put = Request::put(CLIENT, body);
    let answer = running.call(&match tag {
        Some(tag) => put.header("If-Match", tag),
        None => put,
    });
    assert!([200, 201].contains(&answer.status), "{}", answer.text());
    answer.json()
}

fn verdict(said: &Value) -> &str {
    said["verdict"].as_str().expect("a verdict")
}

fn rules(check: &Value) -> Vec<&str> {
    check["findings"]
        .as_array()
        .expect("findings")
        .iter()
        .filter_map(|f| f["rule"].as_str())
        .collect()
}

#[test]
fn a_keloid_told_with_one_check_is_known_to_the_next() {
    let running = Running::start();
    let first = check(&running, "brows", "2027-03-18", &json!({ "skin_history": ["keloid"] }));
    let spoke = rules(&first);
    assert!(["refer", "decline"].contains(&verdict(&first)), "{first}");
    let kept = running.call(&Request::get(CLIENT)).json();
    assert_eq!(kept["answers"], json!({ "skin_history": ["keloid"] }), "that and no more");
    let from = json!({ "on": TODAY, "treatment": "brows", "asked_by": "owner" });
    assert_eq!(kept["answered"]["skin_history"], from);
    let id = first["id"].as_str().expect("an id");
    let again = Request::new("POST", format!("/v1/appointment-checks/{id}/replays"));
    let again = running.call(&again).json();
    assert_eq!(again["same"], true, "what the check has noted itself is no news: {again}");

    // Nobody tells it again, or it is denied.
    for answers in [json!({ "skin_history": null }), json!({})] {
        let next = check(&running, "lips", "2027-03-18", &answers);
        assert!(spoke.iter().all(|rule| rules(&next).contains(rule)), "{answers}: {next}");
    }
    // A form without the question takes nothing away; an answer in the record does.
    let kept = put(&running, &json!({ "born_on": "1990-06-15", "answers": { "pregnant": false } }));
    assert_eq!(kept["answers"]["skin_history"], json!(["keloid"]));
    assert_eq!(kept["answered"]["skin_history"], from);
    let none = json!({ "answers": { "skin_history": ["none_of_these"] } });
    put(&running, &none);
    let after = check(&running, "lips", "2027-03-18", &json!({}));
    assert_eq!(verdict(&after), "proceed_with_conditions", "{after}");
}

#[test]
fn what_is_kept_after_a_check_overtakes_it() {
    let running = Running::start();
    let made = check(&running, "brows", TODAY, &json!({ "numbing_cream": "none" }));
    assert_eq!(verdict(&made), "proceed_with_conditions", "{made}");
    let at = format!("/v1/appointment-checks/{}", made["id"].as_str().expect("an id"));
    let pages = |language: &str| {
        let ask = |path: String| {
            running.call(&Request::get(path).header("Accept-Language", language)).text().to_owned()
        };
        [ask(format!("/v1/day-sheets/{TODAY}")), ask(format!("{at}/sheet?for=studio"))]
    };
    let short = || running.call(&Request::get(format!("{at}/summary"))).json();
    let before = short();
    assert_eq!(verdict(&before), "proceed_with_conditions");
    assert_ne!(before["needles"], json!([]));
    // What does not stand against it changes nothing.
    put(&running, &json!({ "born_on": "1990-06-15", "answers": { "breastfeeding": false } }));
    assert_eq!(short(), before);
    put(&running, &json!({ "born_on": "1990-06-15", "answers": { "immunosuppression": true } }));
    let after = short();
    assert_eq!(verdict(&after), "incomplete", "{after}");
    assert!(after["needles"].as_array().is_none_or(Vec::is_empty), "{after}");
    let said = [("en", "has been recorded since"), ("de", "Inzwischen ist etwas eingetragen")];
    for (language, words) in said {
        for page in pages(language) {
            assert!(page.contains(words), "{language}: {page}");
            assert!(!page.contains("<svg"), "a needle on a page for a visit that waits");
        }
    }
    // The check itself stays what it was, and what happened is kept and flagged.
    assert_eq!(running.call(&Request::get(&*at)).json(), made);
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let treated = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "performed_at": "2027-03-16T08:00:00Z", "check_id": made["id"],
        "packs": [{ "lot_id": lot["id"], "intact": true }],
    });
    let treated = running.call(&Request::post("/v1/treatments", &treated));
    assert_eq!(treated.status, 201, "{}", treated.text());
    let flags = treated.json()["flags"].clone();
    let has = |code: &str| flags.as_array().expect("flags").iter().any(|f| f["code"] == code);
    assert!(has("check_overtaken"), "{flags}");
}

/// Whatever check is named or none: what is on record of her is held against the treatment.
#[test]
fn a_check_that_is_not_hers_hides_nothing_that_is_kept() {
    let running = Running::start();
    let other = check(&running, "lips", TODAY, &json!({ "numbing_cream": "none" }));
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let flagged = |client: &str, treatment: &str, check_id: &Value| -> Vec<String> {
        let mut told = json!({
            "client_ref": client, "artist_ref": "artist-1", "treatment": treatment,
            "performed_at": "2027-03-16T08:00:00Z",
            "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        if !check_id.is_null() {
            told["check_id"] = check_id.clone();
        }
        let answer = running.call(&Request::post("/v1/treatments", &told));
        assert_eq!(answer.status, 201, "{}", answer.text());
        let flags = answer.json()["flags"].clone();
        let codes = flags.as_array().expect("flags").iter();
        codes.map(|flag| flag["code"].as_str().expect("a code").to_owned()).collect()
    };
    let against = "on_record_against".to_owned();
    // Of whom nothing is kept, nothing speaks against it.
    for check_id in [&Value::Null, &other["id"]] {
        assert!(!flagged("nobody", "brows", check_id).contains(&against));
    }
    for (client, kept, stands) in [
        ("well", json!({ "pregnant": false, "breastfeeding": false }), false),
        ("pregnant", json!({ "pregnant": true }), true),
        ("keloid", json!({ "skin_history": ["keloid"] }), true),
        ("defence", json!({ "immunosuppression": true }), true),
        ("medicine", json!({ "isotretinoin": "now" }), true),
    ] {
        let body = json!({ "born_on": "1990-06-15", "answers": kept });
        let put = running.call(&Request::put(format!("/v1/clients/{client}"), &body));
        assert_eq!(put.status, 201, "{}", put.text());
        for check_id in [&Value::Null, &other["id"], &json!("0196a3a0-0000-7000-8000-000000000000")]
        {
            let codes = flagged(client, "brows", check_id);
            assert_eq!(codes.contains(&against), stands, "{client} {check_id}: {codes:?}");
        }
    }
    // Lips are no brows: her own check for the one tells nothing of the other.
    let body = json!({ "born_on": "1990-06-15", "answers": { "pregnant": true } });
    put(&running, &body);
    assert!(flagged("client-1", "brows", &other["id"]).contains(&against));
}

#[test]
fn a_numbing_cream_that_nobody_spoke_of_is_asked_for_on_the_day() {
    let running = Running::start();
    for (day, told, asked) in [
        (TODAY, json!({}), true),
        (TODAY, json!({ "numbing_cream": "none" }), false),
        ("2027-03-17", json!({}), false),
    ] {
        let made = check(&running, "brows", day, &told);
        let todo = made["todo"].as_array().expect("a list");
        let item = todo.iter().find(|item| item["key"] == "answer.numbing_cream");
        assert_eq!(item.is_some(), asked, "{day} {told}: {todo:?}");
        assert!(item.is_none_or(|item| item["who"] == "studio" && item["due"] == day));
        assert_eq!(verdict(&made), "proceed_with_conditions");
    }
}

/// Whatever was told with a check and stops, or asks for something, is known to the next one of the
/// same day that is told nothing of it.
#[test]
fn what_a_check_was_told_is_known_to_the_next() {
    for told in [
        json!({ "isotretinoin": "now" }),
        json!({ "warfarin": true }),
        json!({ "medicines": ["heparin"] }),
        json!({ "immunosuppression": true, "immunosuppression_strong": true }),
        json!({ "pregnant": true }),
        json!({ "skin_infection": true }),
        json!({ "skin_in_area": ["open_or_weeping"] }),
        json!({ "wishes": ["pressed_by_others"] }),
        json!({ "recent_procedures": ["deep_peel"], "deep_peel_on": "2027-03-10" }),
    ] {
        let running = Running::start();
        let first = check(&running, "brows", "2027-03-18", &told);
        assert!(!verdict(&first).starts_with("proceed"), "{told}: {first}");
        let second = check(&running, "brows", "2027-03-18", &json!({}));
        assert!(!verdict(&second).starts_with("proceed"), "{told}: {second}");
    }
}

/// The later word counts in whatever order the two come in, and nothing ended before a day on which
/// it went on.
#[test]
fn an_older_word_takes_no_newer_one_away() {
    let running = Running::start();
    put(
        &running,
        &json!({ "answers": { "isotretinoin": "now", "warfarin": true }, "given": { "on": TODAY } }),
    );
    let patch = |body: &Value| {
        let tag = running.call(&Request::get(CLIENT)).header("etag").map(str::to_owned);
        let patch = Request::merge(CLIENT, body).header("If-Match", tag.expect("a tag"));
        running.call(&patch)
    };
    for (answers, on, pointer) in [
        (json!({ "isotretinoin": "never" }), "2027-03-10", Some("#/answers/isotretinoin")),
        (json!({ "warfarin_ended_on": "2027-02-01" }), TODAY, Some("#/answers/warfarin_ended_on")),
        (json!({ "isotretinoin": "never" }), TODAY, None),
    ] {
        let answer = patch(&json!({ "answers": answers, "given": { "on": on } }));
        match pointer {
            Some(pointer) => {
                assert_eq!(answer.status, 422, "{}", answer.text());
                assert_eq!(answer.problem().errors[0].pointer, pointer);
            }
            None => assert_eq!(answer.status, 200, "{}", answer.text()),
        }
    }
}

/// A condition that nobody was told of is no smaller thing than a hold.
#[test]
fn a_check_that_lacks_a_condition_is_overtaken() {
    let running = Running::start();
    let made = check(&running, "brows", "2027-03-18", &json!({}));
    assert!(verdict(&made).starts_with("proceed"), "{made}");
    let id = made["id"].as_str().expect("an id");
    let summary =
        || running.call(&Request::get(format!("/v1/appointment-checks/{id}/summary"))).json();
    assert!(verdict(&summary()).starts_with("proceed"), "{}", summary());
    put(&running, &json!({ "answers": { "allergies": ["latex"] }, "given": { "on": TODAY } }));
    assert_eq!(verdict(&summary()), "incomplete", "{}", summary());
}

/// A needle of which nothing may be used any more is offered on no short page, and that is said.
#[test]
fn what_was_called_back_is_missed_on_the_short_pages() {
    let running = Running::start();
    let lot = |text: &str| {
        let answer = running.call(&Request::post("/v1/lots", &json!({ "text": text, "packs": 5 })));
        assert_eq!(answer.status, 201, "{}", answer.text());
        answer.json()["id"].as_str().expect("an id").to_owned()
    };
    let gone = lot("0.30 3RS LOT A1 EXP 2036-01 STERILE EO");
    lot("0.35 5RS LOT B1 EXP 2036-01 STERILE EO");
    let body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
        "answers": healthy(&running, "brows", &json!({})),
    });
    let check = running.call(&Request::post("/v1/appointment-checks", &body)).json();
    let at = format!("/v1/appointment-checks/{}/summary", check["id"].as_str().expect("an id"));
    let told = || {
        let summary = running.call(&Request::get(&*at)).json();
        let needles = summary["needles"].as_array().expect("needles").iter();
        let needles: Vec<_> = needles.map(|one| one["canonical"].to_string()).collect();
        (needles, summary["studio"].to_string())
    };
    let (before, _) = told();
    assert_eq!(before.len(), 2, "{before:?}");
    let recall = json!({ "reason": "the supplier wrote" });
    let recalled = running.call(&Request::post(format!("/v1/lots/{gone}/recalls"), &recall));
    assert!(recalled.status < 300, "{}", recalled.text());
    let (after, studio) = told();
    assert_eq!(after, ["\"0.35 5RS\""]);
    assert!(studio.contains("No pack of 0.30 3RS"), "{studio}");
}
