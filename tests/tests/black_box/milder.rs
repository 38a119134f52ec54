//! What is told of another part of the skin, later, less or older never makes a visit milder.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::visits::{healthy, keep, made, send};

const CLIENT: &str = "/v1/clients/client-1";

/// A visit of somebody with nothing to say but this.
fn check(running: &Running, treatment: &str, changes: &Value) -> Value {
    let mut answers = healthy(running, treatment);
    answers.extend(changes.as_object().cloned().unwrap_or_default());
    made(running, treatment, "2027-04-06", &json!({ "answers": answers }))
}

fn rules(check: &Value) -> Vec<&str> {
    let findings = check["findings"].as_array().expect("a list").iter();
    findings.filter_map(|found| found["rule"].as_str()).collect()
}

/// One areola that has not healed is none the better for the other; a look at the same skin counts
/// with whichever session it is kept, and so does a doctor's word.
#[test]
fn a_look_at_one_part_releases_no_other() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let session = |at: &str| {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "areola",
            "performed_at": at, "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        let made = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(made.status, 201, "{}", made.text());
        made.json()["id"].as_str().expect("an id").to_owned()
    };
    let (first, second) = (session("2026-08-01T09:00:00Z"), session("2026-11-20T09:00:00Z"));
    let found = || {
        let check = check(&running, "areola", &json!({}));
        let mut found = rules(&check).into_iter().filter(|rule| rule.starts_with("earlier_result"));
        found.next().map(str::to_owned)
    };
    for (session, at, surface, zones, agrees, expected) in [
        (&first, "2026-10-10", "unhealed", &["left_areola"][..], false, Some("not_healed")),
        (&first, "2026-11-10", "smooth", &["right_areola"], false, Some("not_healed")),
        (&second, "2026-12-28", "smooth", &["right_areola"], false, Some("not_healed")),
        (&second, "2026-12-29", "smooth", &["left_areola", "right_areola"], false, None),
        (&first, "2027-01-10", "lumps", &["left_areola"], false, Some("growing")),
        (&second, "2027-01-20", "smooth", &["right_areola"], true, Some("growing")),
        (&second, "2027-01-21", "smooth", &["left_areola"], true, None),
    ] {
        let zones: Vec<Value> =
            zones.iter().map(|zone| json!({ "zone": zone, "kept": "from_75" })).collect();
        let mut body = json!({
            "zones": zones, "surface": surface, "reviewed_at": format!("{at}T09:00:00Z"),
        });
        if agrees {
            body["doctor_agrees"] = json!(true);
        }
        let seen = running.call(&Request::post(format!("/v1/treatments/{session}/reviews"), &body));
        assert_eq!(seen.status, 201, "{}", seen.text());
        let expected = expected.map(|rule| format!("earlier_result_{rule}"));
        assert_eq!(found(), expected, "{body}");
    }
}

/// Nobody hears of the earlier of two days as one to come on; each hold is named.
#[test]
fn the_earlier_of_two_days_is_none_to_book() {
    let running = Running::start();
    let changes = json!({
        "recent_procedures": ["filler", "light_peel", "deep_peel"], "filler_on": "2027-03-10",
        "filler_place": "in_area", "light_peel_on": "2027-03-14", "deep_peel_on": "2027-03-14",
    });
    let check = check(&running, "brows", &changes);
    assert_eq!(check["hold_until"], "2027-06-14", "{check}");
    let summary = check["summary"].as_str().expect("words");
    for topic in ["Filler", "Light peel", "Deep peel"] {
        assert!(summary.contains(topic), "{summary}");
    }
    let whole = check.to_string();
    assert_eq!(
        whole.matches("possible from 14 June 2027 on").count(),
        whole.matches("possible from").count()
    );
    let holds = check["findings"].as_array().expect("a list").iter();
    let days: Vec<&str> = holds.filter_map(|found| found["not_before"].as_str()).collect();
    assert_eq!(days, ["2027-06-14", "2027-04-11", "2027-04-07"], "the longest first");
    let path = format!("/v1/appointment-checks/{}/summary", check["id"].as_str().expect("an id"));
    let short = running.call(&Request::get(path)).text();
    assert!(!short.contains("April 2027 on"), "{short}");
}

/// An age that was kept before the date of birth was known is held against it; put right, work goes on.
#[test]
fn a_kept_age_is_held_against_a_date_of_birth_told_later() {
    let running = Running::start();
    keep(&running, &json!({ "skin": { "age_years": 16 } }));
    let members = json!({ "answers": healthy(&running, "brows") });
    let refused = send(&running, "brows", "2027-04-06", &members);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/born_on");
    keep(&running, &json!({ "skin": { "age_years": 36 } }));
    assert_eq!(send(&running, "brows", "2027-04-06", &members).status, 201);
}

/// It is of the day on which it was told.
#[test]
fn an_age_of_years_ago_fits_the_date_of_birth() {
    let running = Running::start();
    let old = json!({ "on": "2021-03-16" });
    keep(&running, &json!({ "skin": { "age_years": 30 }, "answered": { "skin": old } }));
    let members = json!({ "answers": healthy(&running, "brows") });
    assert_eq!(send(&running, "brows", "2027-04-06", &members).status, 201);
}

/// A change of something else makes an age no younger, so that it still fits.
#[test]
fn an_old_age_stands_in_no_way_of_another_change() {
    let running = Running::start();
    let told = json!({
        "born_on": "1990-06-15", "skin": { "age_years": 30, "phototype": "II" },
        "answered": { "skin": { "on": "2021-03-16" } },
    });
    keep(&running, &told);
    let patch = |body: &Value| {
        let tag = running.call(&Request::get(CLIENT)).header("etag").expect("a tag").to_owned();
        running.call(&Request::merge(CLIENT, body).header("If-Match", tag))
    };
    for (body, status) in [
        (json!({ "skin": { "age_years": null } }), 200),
        (json!({ "skin": { "phototype": "I" } }), 200),
        (json!({ "skin": { "age_years": 30 }, "given": { "on": "2021-03-16" } }), 200),
        (json!({ "skin": { "phototype": "III" } }), 200),
        (json!({ "skin": { "oiliness": "dry" } }), 200),
        (json!({ "born_on": "1990-06-16" }), 200),
        (json!({ "skin": { "age_years": 16 } }), 422),
        (json!({ "skin": { "age_years": 36 } }), 200),
        (json!({ "skin": { "age_years": 30 } }), 422),
    ] {
        let answer = patch(&body);
        assert_eq!(answer.status, status, "{body}: {}", answer.text());
    }
}

/// What may have ended since goes, and is named, whoever had told it: a form of the client's, or a
/// check of the day before.
#[test]
fn a_yes_of_yesterday_is_named() {
    for (question, yes, no) in [
        ("pregnant", json!(true), json!(false)),
        ("breastfeeding", json!(true), json!(false)),
        ("wishes", json!(["pressed_by_others"]), json!(["none_of_these"])),
    ] {
        for treatment in ["brows", "lips"] {
            let running = Running::start();
            let given = json!({ "on": "2027-03-15", "treatment": "brows" });
            keep(&running, &json!({ "answers": { question: yes }, "given": given }));
            let told = check(&running, treatment, &json!({ question: no }));
            let said = told["cautions"].to_string();
            assert!(said.contains("said otherwise"), "{treatment} {question}: {said}");
            let running = Running::start();
            check(&running, "brows", &json!({ question: yes }));
            running.leap_clock("2027-03-17T08:00:00Z");
            let told = check(&running, treatment, &json!({ question: no }));
            let said = told["cautions"].to_string();
            assert!(said.contains("said otherwise"), "{treatment} {question}: {said}");
        }
    }
}

/// A scar that was seen on the brows is none of the lips; one that was seen nobody knows where may be.
#[test]
fn a_scar_is_where_it_was_seen() {
    let running = Running::start();
    let scarred = json!({ "signs": ["scarred"] });
    let holds = |treatment: &str, skin: &Value| {
        let mut members = json!({ "answers": healthy(&running, treatment) });
        if skin.is_object() {
            members["skin"] = skin.clone();
        }
        rules(&made(&running, treatment, "2027-04-06", &members)).contains(&"scar_seen_not_told")
    };
    keep(&running, &json!({ "skin": scarred }));
    assert!(holds("brows", &Value::Null) && holds("lips", &Value::Null));
    keep(&running, &json!({ "skin": scarred, "answered": { "skin": { "treatment": "brows" } } }));
    assert!(holds("brows", &Value::Null) && !holds("lips", &Value::Null));
    // Seen for both, it is of neither alone.
    assert!(holds("lips", &scarred));
    assert!(holds("brows", &Value::Null) && holds("lips", &Value::Null));
}

/// A numbing product that was planned for a booking is planned until it is told otherwise.
#[test]
fn a_plan_stands_for_its_booking() {
    let running = Running::start();
    let plan = json!({ "numbing_cream": "lidocaine", "numbing_cream_lidocaine_percent": 4.0 });
    let (none, nothing) = (json!({ "numbing_cream": "none" }), json!({}));
    for (minute, told, holds) in [
        (1, &nothing, false),
        (2, &plan, true),
        (3, &nothing, true),
        (4, &nothing, true),
        (5, &none, false),
        (6, &nothing, false),
    ] {
        running.set_clock(&format!("2027-03-16T08:{minute:02}:00Z"));
        let mut changes = json!({ "allergies": ["local_anaesthetic"] });
        let all = changes.as_object_mut().expect("an object");
        all.extend(told.as_object().cloned().expect("an object"));
        let check = check(&running, "brows", &changes);
        assert_eq!(check["verdict"] == "hold", holds, "{minute}: {check}");
        assert!(!check["unanswered"].to_string().contains("percent"), "{check}");
    }
}
