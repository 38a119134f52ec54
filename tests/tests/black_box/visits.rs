//! What is kept of a client, and what a check makes of it: how fresh an answer
//! is, for which area it counts, what the record says, what a treatment is held
//! against.

use etui_schema::problem::FaultCode;
use etui_tests::running::Running;
use etui_tests::wire::{Answer, Request};
use serde_json::{Map, Value, json};

/// The clock of a test stands on 16 March 2027, 09:00 in Berlin.
const TODAY: &str = "2027-03-16";
const CLIENT: &str = "/v1/clients/client-1";

/// The answers of somebody with nothing to say.
pub(crate) fn healthy(running: &Running, treatment: &str) -> Map<String, Value> {
    let asked = format!("/v1/screening-questions?treatment={treatment}&on=2027-04-06");
    let asked = running.call(&Request::get(asked)).json();
    let first = asked["questions"].as_array().expect("questions").iter();
    first
        .filter(|question| question.get("ask_if").is_none() && question["optional"] != true)
        .filter_map(|question| {
            Some((question["id"].as_str()?.to_owned(), question.get("clear_answer")?.clone()))
        })
        .collect()
}

pub(crate) fn keep(running: &Running, body: &Value) -> Value {
    let put = Request::put(CLIENT, body);
    let held = running.call(&Request::get(CLIENT));
    let put = match held.header("etag") {
        Some(tag) => put.header("If-Match", tag.to_owned()),
        None => put,
    };
    let answer = running.call(&put);
    assert!(answer.status == 200 || answer.status == 201, "{}", answer.text());
    answer.json()
}

pub(crate) fn send(running: &Running, treatment: &str, day: &str, members: &Value) -> Answer {
    let effect = match treatment {
        "scalp" => "scalp_dots",
        "areola" => "areola_shading",
        _ => "soft_shading",
    };
    let mut body = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": treatment,
        "effect": effect, "starts_at": format!("{day}T08:00:00Z"), "born_on": "1990-06-15",
        "candidates": "usual",
    });
    let more = members.as_object().cloned().unwrap_or_default();
    body.as_object_mut().expect("an object").extend(more);
    running.call(&Request::post("/v1/appointment-checks", &body))
}

pub(crate) fn made(running: &Running, treatment: &str, day: &str, members: &Value) -> Value {
    let answer = send(running, treatment, day, members);
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

fn used<'a>(check: &'a Value, question: &str) -> &'a Value {
    let all = check["answers_used"].as_array().expect("a list");
    all.iter().find(|one| one["question"] == question).unwrap_or(&Value::Null)
}

fn open(check: &Value) -> Vec<&str> {
    check["unanswered"].as_array().expect("a list").iter().filter_map(Value::as_str).collect()
}

/// The days are our own, no source.
#[test]
fn kept_answers_grow_old_and_count_for_their_area() {
    let running = Running::start();
    let lips = healthy(&running, "lips");
    let given = json!({ "treatment": "lips" });
    let client =
        keep(&running, &json!({ "born_on": "1990-06-15", "answers": lips, "given": given }));
    assert_eq!(
        client["answered"]["pregnant"],
        json!({ "on": TODAY, "treatment": "lips", "asked_by": "owner" })
    );
    let soon = made(&running, "lips", "2027-03-18", &json!({}));
    // No skin test is known: that is a condition.
    let verdict = json!("proceed_with_conditions");
    assert_eq!((soon["verdict"].clone(), open(&soon)), (verdict, vec![]), "{soon}");
    assert_eq!(used(&soon, "pregnant")["state"], "used");
    assert_eq!(used(&soon, "pregnant")["given_on"], TODAY);
    // A year and a half later nothing that changes is known any more.
    let late = made(&running, "lips", "2028-06-01", &json!({}));
    assert_eq!(late["verdict"], "incomplete");
    for question in ["pregnant", "medicines", "skin_infection", "recent_on_area"] {
        assert!(open(&late).contains(&question), "{question}: {:?}", open(&late));
        assert_eq!(used(&late, question)["state"], "stale");
        assert_eq!(used(&late, question)["answer"], lips[question], "the old answer is shown");
    }
    // Another area: what was asked of the lips says nothing of the scalp.
    let scalp = made(&running, "scalp", "2027-03-18", &json!({}));
    assert_eq!(scalp["verdict"], "incomplete");
    for question in ["mole_in_area", "skin_in_area", "previous_pmu_in_area", "recent_on_area"] {
        assert!(open(&scalp).contains(&question), "{question}: {:?}", open(&scalp));
    }
    assert!(!open(&scalp).contains(&"pregnant"), "of the person, and fresh");
    // Sent along, they are of that day, however far ahead the visit is.
    let sent = made(&running, "lips", "2027-04-06", &json!({ "answers": lips }));
    assert_eq!(sent["verdict"], "proceed_with_conditions", "no skin test is known: {sent}");
    assert_eq!(used(&sent, "pregnant")["kept"], false);
    let again = sent["todo"].as_array().expect("a list").iter();
    assert!(again.clone().any(|item| item["key"] == "ask_again.answers"), "{}", sent["todo"]);
}

#[test]
fn writing_back_makes_nothing_fresh() {
    let running = Running::start();
    let first = keep(
        &running,
        &json!({
            "answers": { "pregnant": false, "breastfeeding": false },
            "given": { "on": "2027-02-01", "treatment": "lips", "asked_by": "artist-1" },
        }),
    );
    let told = json!({ "on": "2027-02-01", "treatment": "lips", "asked_by": "artist-1" });
    assert_eq!(first["answered"]["pregnant"], told);
    let same = json!({ "answers": { "pregnant": false, "breastfeeding": true } });
    let second = keep(&running, &same);
    assert_eq!(second["answered"]["pregnant"], told, "unchanged, so as old as before");
    assert_eq!(second["answered"]["breastfeeding"]["on"], TODAY);
    let asked = json!({
        "answers": { "pregnant": false, "breastfeeding": true },
        "answered": { "pregnant": { "on": "2027-03-10" } },
    });
    let third = keep(&running, &asked);
    assert_eq!(third["answered"]["pregnant"]["on"], "2027-03-10", "asked again");
    let check = made(&running, "brows", "2027-03-25", &json!({}));
    assert!(open(&check).contains(&"pregnant"), "15 days");
    let check = made(&running, "brows", "2027-03-24", &json!({}));
    assert!(!open(&check).contains(&"pregnant"), "14 days");
}

#[test]
fn what_no_check_could_use_is_not_kept() {
    let running = Running::start();
    for (body, pointer, code) in [
        (
            json!({ "answers": { "pregnantt": true } }),
            "#/answers/pregnantt",
            FaultCode::UnknownField,
        ),
        (json!({ "answers": { "pregnant": "yes" } }), "#/answers/pregnant", FaultCode::WrongType),
        (
            json!({ "answers": { "medicines": ["nope"] } }),
            "#/answers/medicines",
            FaultCode::WrongType,
        ),
        (json!({ "answers": { "warfarin": 5 } }), "#/answers/warfarin", FaultCode::WrongType),
        (
            json!({ "answers": { "nickel_allergy": false, "nickel_allergy_severe": true } }),
            "#/answers/nickel_allergy_severe",
            FaultCode::Contradiction,
        ),
        (
            json!({ "answers": { "pregnant": false }, "given": { "on": "2027-03-17" } }),
            "#/given/on",
            FaultCode::OutOfRange,
        ),
        (
            json!({ "answers": {}, "answered": { "pregnant": { "on": "2027-03-01" } } }),
            "#/answered/pregnant",
            FaultCode::UnknownReference,
        ),
    ] {
        let answer = running.call(&Request::put(CLIENT, &body));
        assert_eq!(answer.status, 422, "{body}: {}", answer.text());
        let problem = answer.problem();
        assert!(problem.errors.iter().any(|f| f.pointer == pointer && f.code == code), "{problem}");
    }
    assert_eq!(running.call(&Request::get(CLIENT)).status, 404, "nothing is half written");
}

/// A pack that is taken away keeps nobody from being checked.
#[test]
fn an_answer_to_a_question_that_is_no_more_is_left_out_and_named() {
    let running = Running::start();
    let pack = crate::packs::own_rule("fragrance");
    let path = "/v1/packs/rules/fragrance";
    crate::packs::created(&running, path, &pack);
    let mut answers = healthy(&running, "lips");
    answers.insert("fragrance_asked".to_owned(), json!(false));
    keep(&running, &json!({ "answers": answers, "given": { "treatment": "lips" } }));
    let before = made(&running, "lips", "2027-03-18", &json!({}));
    let sent = made(&running, "lips", "2027-03-18", &json!({ "answers": answers }));
    let held = running.call(&Request::get(path));
    let tag = held.header("etag").expect("a tag").to_owned();
    let gone = running.call(&Request::new("DELETE", path).header("If-Match", tag));
    assert_eq!(gone.status, 200, "{}", gone.text());
    let after = made(&running, "lips", "2027-03-18", &json!({}));
    assert_eq!(used(&after, "fragrance_asked")["state"], "not_used");
    for check in [before, sent] {
        let path = format!("/v1/appointment-checks/{}/replays", check["id"].as_str().expect("id"));
        let again = running.call(&Request::new("POST", path));
        assert_eq!(again.status, 200, "{}", again.text());
        let differences = again.json()["differences"].to_string();
        assert!(differences.contains("A pack of rules was taken away"), "{differences}");
    }
    let dry = json!({ "pack": crate::packs::own_rule("race") });
    let told = running.call(&Request::post("/v1/packs/rules/x/dry-runs", &dry)).json();
    assert_eq!(told["not_screened"], 0, "{told}");
}

/// Law of Great Britain on the age, the studio's own rule elsewhere; what a
/// check had said is the studio's own.
#[test]
fn a_treatment_is_held_against_age_and_check() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let recorded = |check: Option<&Value>, at: &str, but: &Value| {
        let mut body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
            "effect": "soft_shading",
            "performed_at": at, "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        if let Some(check) = check {
            body["check_id"] = check["id"].clone();
        }
        let body_of = body.as_object_mut().expect("an object");
        body_of.extend(but.as_object().cloned().unwrap_or_default());
        body_of.retain(|_, value| !value.is_null());
        let answer = running.call(&Request::post("/v1/treatments", &body));
        assert_eq!(answer.status, 201, "what happened is kept: {}", answer.text());
        let flags = answer.json()["flags"].clone();
        let codes = flags.as_array().expect("a list").iter();
        let codes = codes.filter_map(|flag| Some(flag["code"].as_str()?.to_owned()));
        codes.filter(|code| code != "pigment_unknown").collect::<Vec<_>>()
    };
    let record = |check: Option<&Value>, at: &str| recorded(check, at, &json!({}));
    let events = || running.call(&Request::get("/v1/events")).text();
    let now = "2027-03-16T08:00:00Z";
    assert_eq!(record(None, now), ["age_not_known", "no_check"]);
    assert!(events().contains("treatment.flagged"), "also that there was no check");
    keep(&running, &json!({ "born_on": "2011-03-01" }));
    assert_eq!(record(None, now), ["under_18", "no_check"]);
    assert!(events().contains("treatment.flagged"));
    keep(&running, &json!({ "born_on": "1990-06-15" }));
    let keloid = healthy(&running, "lips");
    let good = made(&running, "lips", TODAY, &json!({ "answers": keloid }));
    assert_eq!(good["verdict"], "hold", "no time is left for a skin test");
    assert_eq!(record(Some(&good), now), ["check_said_hold"]);
    let before = "2027-03-16T07:59:59Z";
    assert_eq!(record(Some(&good), before), ["check_made_after", "check_said_hold"]);
    let artist = Request::put("/v1/artists/artist-1", &json!({ "hand": "light" }));
    assert_eq!(running.call(&artist).status, 201);
    let named = json!({ "answers": healthy(&running, "lips"), "artist_ref": "artist-1" });
    let named = made(&running, "lips", TODAY, &named);
    for (but, flag) in [
        (json!({ "effect": "dense_fill" }), Some("check_of_another_effect")),
        (json!({ "effect": null }), Some("check_of_another_effect")),
        (json!({ "artist_ref": "artist-2" }), Some("check_of_another_artist")),
        (json!({}), None),
    ] {
        let found = recorded(Some(&named), now, &but);
        let told: Vec<&str> = flag.into_iter().chain(["check_said_hold"]).collect();
        assert_eq!(found, told, "{but}");
    }
    let pregnant = json!({ "answers": { "pregnant": true } });
    let held = made(&running, "lips", "2027-04-06", &pregnant);
    assert_eq!(held["verdict"], "hold");
    assert_eq!(record(Some(&held), now), ["check_of_another_day", "check_said_hold"]);
    let unknown = json!({ "id": "01890000-0000-7000-8000-000000000000" });
    // That she is pregnant is kept, whatever check is named.
    assert_eq!(record(Some(&unknown), now), ["check_unknown", "on_record_against"]);
}

/// A report that a doctor had to see holds the area until healed skin was seen.
#[test]
fn the_next_check_knows_what_the_studio_knows() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2027-02-01T09:00:00Z", "packs": [{ "lot_id": lot["id"], "intact": true }],
    });
    let treatment = running.call(&Request::post("/v1/treatments", &body)).json();
    let below =
        |what: &str| format!("/v1/treatments/{}/{what}", treatment["id"].as_str().expect("an id"));
    let answers = healthy(&running, "lips");
    let check = || made(&running, "lips", "2027-04-06", &json!({ "answers": answers }));
    assert_eq!(check()["verdict"], "proceed_with_conditions");
    let report = json!({ "symptoms": [{ "kind": "pus" }], "reported_at": "2027-03-15T09:00:00Z" });
    let told = running.call(&Request::post(below("symptom-reports"), &report));
    assert_eq!(told.status, 201, "{}", told.text());
    let held = check();
    assert_eq!(held["verdict"], "hold", "{held}");
    let findings = held["findings"].as_array().expect("a list");
    assert!(findings.iter().any(|finding| finding["rule"] == "unsettled_reaction"), "{held}");
    assert_eq!(held.get("hold_until"), None, "it waits for an event, not for a day");
    let review = json!({ "zones": [{ "zone": "whole", "kept": "from_75" }], "surface": "smooth" });
    let seen = running.call(&Request::post(below("reviews"), &review));
    assert_eq!(seen.status, 201, "{}", seen.text());
    // Smooth skin is no word of whoever looks into what was told.
    assert_eq!(check()["verdict"], "hold");
    let settlements =
        format!("symptom-reports/{}/settlements", told.json()["id"].as_str().unwrap());
    let settled = json!({ "settled_by": "Ada Lind" });
    assert_eq!(running.call(&Request::post(below(&settlements), &settled)).status, 201);
    assert_eq!(check()["verdict"], "proceed_with_conditions");
}

/// What only a doctor's word ends: no milder look takes it away, and no settlement.
#[test]
fn a_scar_and_an_allergy_stay_until_a_doctor_agrees() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 50 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let answers = healthy(&running, "lips");
    for what in ["growing_scar", "allergy"] {
        let body = json!({
            "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
            "performed_at": "2027-02-01T09:00:00Z", "packs": [{ "lot_id": lot["id"], "intact": true }],
        });
        let treatment = running.call(&Request::post("/v1/treatments", &body)).json();
        let id = treatment["id"].as_str().expect("an id");
        let send = |what: &str, body: &Value| {
            let answer = running.call(&Request::post(format!("/v1/treatments/{id}/{what}"), body));
            assert_eq!(answer.status, 201, "{}", answer.text());
            answer.json()
        };
        let check = || made(&running, "lips", "2027-04-06", &json!({ "answers": answers }));
        let stopped = if what == "growing_scar" { "refer" } else { "hold" };
        let look = |surface: Option<&str>, at: &str, agrees: bool| {
            let mut body = json!({
                "zones": [{ "zone": "whole", "kept": "from_75" }], "reviewed_at": at,
            });
            if let Some(surface) = surface {
                body["surface"] = json!(surface);
            }
            if agrees {
                body["doctor_agrees"] = json!(true);
            }
            send("reviews", &body)["outcome"].clone()
        };
        if what == "growing_scar" {
            // It does not wait for day 28.
            assert_eq!(look(Some("growing_scar"), "2027-02-10T09:00:00Z", false), "refer");
        } else {
            let told = json!({
                "symptoms": [{ "kind": "hives" }, { "kind": "breathing_trouble" }],
                "reported_at": "2027-02-01T12:00:00Z",
            });
            let told = send("symptom-reports", &told);
            assert_eq!(told["judgement"]["level"], "emergency");
            let below = format!("symptom-reports/{}/settlements", told["id"].as_str().expect("id"));
            send(&below, &json!({ "settled_by": "Ada Lind" }));
        }
        assert_eq!(check()["verdict"], stopped, "{what}");
        for surface in [None, Some("smooth"), Some("textured")] {
            assert_eq!(look(surface, "2027-03-10T09:00:00Z", false), "refer", "{what} {surface:?}");
            assert_eq!(check()["verdict"], stopped, "{what} {surface:?}");
        }
        assert_eq!(look(Some("smooth"), "2027-03-11T09:00:00Z", true), "nothing", "{what}");
        assert_eq!(check()["verdict"], "proceed_with_conditions", "{what}");
    }
}

/// A look that says nothing of the surface is no better than one that found it smooth, and changed
/// skin is remembered.
#[test]
fn a_look_without_the_surface_asks_for_one() {
    let running = Running::start();
    let lot = json!({ "text": "0.30 3RS LOT A1 EXP 2036-01 STERILE EO", "packs": 5 });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2027-01-11T09:00:00Z", "packs": [{ "lot_id": lot["id"], "intact": true }],
    });
    let treatment = running.call(&Request::post("/v1/treatments", &body)).json();
    let below = format!("/v1/treatments/{}/reviews", treatment["id"].as_str().expect("an id"));
    let answers = healthy(&running, "lips");
    let open = || {
        let check = made(&running, "lips", "2027-04-06", &json!({ "answers": answers }));
        let findings = check["findings"].as_array().expect("a list").iter();
        let rules = findings.filter_map(|found| found["rule"].as_str().map(str::to_owned));
        rules.filter(|rule| rule.starts_with("earlier_result")).collect::<Vec<_>>()
    };
    assert!(open().is_empty());
    for (at, surface, found) in [
        ("2027-03-01T09:00:00Z", None, vec!["earlier_result_not_told"]),
        ("2027-03-02T09:00:00Z", Some("textured"), vec!["earlier_result_textured"]),
        ("2027-03-03T09:00:00Z", Some("smooth"), vec![]),
        ("2027-03-04T09:00:00Z", None, vec!["earlier_result_not_told"]),
        ("2027-03-05T09:00:00Z", Some("raised"), vec!["earlier_result_raised"]),
        ("2027-03-06T09:00:00Z", None, vec!["earlier_result_raised"]),
    ] {
        let mut review =
            json!({ "zones": [{ "zone": "whole", "kept": "from_75" }], "reviewed_at": at });
        if let Some(surface) = surface {
            review["surface"] = json!(surface);
        }
        let seen = running.call(&Request::post(&*below, &review));
        assert_eq!(seen.status, 201, "{}", seen.text());
        assert_eq!(open(), found, "{at} {surface:?}");
    }
}

#[test]
fn a_replay_tells_of_a_recall_and_of_a_changed_client() {
    let running = Running::start();
    for code in ["A1", "B1"] {
        let lot =
            json!({ "text": format!("0.30 3RL LOT {code} EXP 2036-01 STERILE EO"), "packs": 5 });
        assert_eq!(running.call(&Request::post("/v1/lots", &lot)).status, 201);
    }
    keep(&running, &json!({ "answers": { "pregnant": false } }));
    let members = json!({ "answers": healthy(&running, "brows"), "candidates": "drawer" });
    let check = made(&running, "brows", "2027-04-06", &members);
    let replay = || {
        let path = format!("/v1/appointment-checks/{}/replays", check["id"].as_str().expect("id"));
        running.call(&Request::new("POST", path)).json()
    };
    assert_eq!(replay()["same"], true, "{}", replay());
    let lots = running.call(&Request::get("/v1/lots")).json();
    let first = lots["items"].as_array().expect("lots").iter().find(|lot| lot["lot"] == "A1");
    let first = first.expect("A1")["id"].as_str().expect("an id");
    let recall = json!({ "reason": "the supplier wrote" });
    let recall = Request::post(format!("/v1/lots/{first}/recalls"), &recall);
    let recalled = running.call(&recall);
    assert!(recalled.status < 300, "{}", recalled.text());
    keep(&running, &json!({ "answers": { "pregnant": true } }));
    let told = replay();
    let part = |part: &str| {
        let all = told["differences"].as_array().expect("a list").iter();
        let found = all.clone().find(|one| one["part"] == part);
        found.unwrap_or_else(|| panic!("{part}: {told}"))["because"]
            .as_str()
            .expect("why")
            .to_owned()
    };
    assert!(part("lots").contains("A1"), "{}", part("lots"));
    assert!(part("client").contains("Pregnancy"), "{}", part("client"));
}

#[test]
fn what_changed_is_told_in_words() {
    let running = Running::start();
    let mut answers = healthy(&running, "lips");
    made(&running, "lips", "2027-04-06", &json!({ "answers": answers }));
    answers.insert("skin_history".to_owned(), json!(["keloid"]));
    let check = made(&running, "lips", "2027-04-06", &json!({ "answers": answers }));
    let differences = check["changes"]["differences"].as_array().expect("a list").iter();
    let verdict =
        differences.clone().find(|one| one["part"] == "verdict").expect("another verdict");
    let because = verdict["because"].as_str().expect("why");
    assert!(because.contains("Keloid") && because.contains("New:"), "{because}");
    assert!(!because.contains('?') && !because.contains("You "), "to the studio: {because}");
    assert_eq!(because.matches("New:").count(), 1, "each once: {because}");
    assert!(!because.contains("skin_history") && !because.contains("Z."), "{because}");
}

/// The skin is kept with its day and area like an answer: what is sent of it takes nothing away from
/// what is kept, a dark type counts for ever, and a light one for a year in its area.
#[test]
fn a_kept_skin_counts_with_its_day_and_its_area() {
    let running = Running::start();
    let answers = healthy(&running, "brows");
    let told = |skin: &Value, on: &str, treatment: &str| {
        // An older skin does not take the place of a newer one.
        let none = json!({ "skin": null });
        let _ = running.call(&Request::merge(CLIENT, &none).header("If-Match", "*"));
        keep(
            &running,
            &json!({
                "skin": skin, "answers": answers,
                "given": { "treatment": "brows", "on": TODAY },
                "answered": { "skin": { "treatment": treatment, "on": on } },
            }),
        )
    };
    let (dark, light) = (json!({ "phototype": "V" }), json!({ "phototype": "II" }));
    let dry = json!({ "oiliness": "dry" });
    let none = json!({});
    for (skin, on, area, sent, spoke, asks) in [
        (&dark, TODAY, "brows", json!({}), true, false),
        (&dark, "2020-01-01", "lips", json!({}), true, false),
        (&dark, TODAY, "brows", json!({ "skin": dry }), true, false),
        (&dark, TODAY, "brows", json!({ "skin": light }), true, false),
        (&light, TODAY, "brows", json!({ "skin": dark }), true, false),
        (&light, TODAY, "brows", json!({}), false, false),
        (&light, TODAY, "brows", json!({ "setting": { "skin": dark } }), true, false),
        (&light, "2026-01-01", "brows", json!({}), false, true),
        (&light, TODAY, "lips", json!({}), false, true),
        (&none, TODAY, "brows", json!({}), false, true),
    ] {
        let kept = told(skin, on, area);
        assert_eq!(kept["answered"]["skin"]["on"], on, "{kept}");
        let check = made(&running, "brows", "2027-03-17", &sent);
        let findings = check["findings"].as_array().expect("a list");
        let dark_spoke = findings.iter().any(|one| one["rule"] == "darker_phototype");
        assert_eq!(dark_spoke, spoke, "{skin} of {on}, {area}: {sent}");
        let errands = check["todo"].to_string();
        assert_eq!(errands.contains("Skin type and colour"), asks, "{skin} {on} {area}: {sent}");
    }
    // Written back as it was read it keeps its day; told anew it is of today.
    told(&light, "2026-01-01", "brows");
    let held = running.call(&Request::get(CLIENT)).json();
    assert_eq!(keep(&running, &held)["answered"]["skin"]["on"], "2026-01-01");
    let without = json!({ "skin": dark, "given": { "treatment": "brows" } });
    let anew = keep(&running, &without);
    assert_eq!(anew["answered"]["skin"]["on"], TODAY, "{anew}");
}

/// What is kept is not undone in silence: an event of last week, the last day of something, a dark
/// skin. What may have ended since is taken back, and named.
#[test]
fn a_softer_second_word_undoes_nothing_in_silence() {
    let running = Running::start();
    let day = "2027-03-17";
    let clear = healthy(&running, "brows");
    for (on, kept, sent, rule, caution) in [
        (
            TODAY,
            json!({ "botulinum": true, "botulinum_on": TODAY }),
            json!({}),
            Some("botulinum"),
            "The graver answer counts",
        ),
        (
            TODAY,
            json!({ "skin_in_area": ["scar"], "scar_since": "2026-11-01", "scar_state": "raised" }),
            json!({}),
            Some("scar_fresh"),
            "The graver answer counts",
        ),
        (
            TODAY,
            json!({ "long_term_conditions": ["epilepsy"], "epilepsy_last_fit_on": "2027-03-01" }),
            json!({ "long_term_conditions": ["epilepsy"], "epilepsy_last_fit_on": "2019-01-01" }),
            Some("epilepsy_recent_fit"),
            "The graver answer counts",
        ),
        // Of two words of one day the graver counts, of two days the later.
        (TODAY, json!({ "pregnant": true }), json!({}), None, "The graver answer counts"),
        ("2027-03-01", json!({ "pregnant": true }), json!({}), None, "what was sent counts"),
    ] {
        let given = json!({ "on": on, "treatment": "brows" });
        keep(
            &running,
            &json!({ "born_on": "1990-06-15", "answers": kept, "given": given.clone() }),
        );
        let mut answers = clear.clone();
        answers.extend(sent.as_object().cloned().unwrap_or_default());
        let check = made(&running, "brows", day, &json!({ "answers": answers }));
        let findings = check["findings"].as_array().expect("a list");
        if let Some(rule) = rule {
            assert!(findings.iter().any(|one| one["rule"] == rule), "{kept}: {check}");
        }
        assert!(check["cautions"].to_string().contains(caution), "{kept}: {}", check["cautions"]);
    }
    let skin = json!({ "phototype": "V" });
    keep(&running, &json!({ "skin": skin, "given": { "on": TODAY, "treatment": "brows" } }));
    let sent = json!({ "answers": clear, "skin": { "phototype": "II" } });
    let check = made(&running, "brows", day, &sent);
    assert!(check["cautions"].to_string().contains("asks for more care"), "{}", check["cautions"]);
}

/// What is read aloud names every wait, and the client has a line for each; a plan whose day has
/// passed is no plan any more; nobody waits for a touch-up without being asked whether it is one.
#[test]
fn several_waits_a_passed_plan_and_a_scalp_are_told_as_they_are() {
    let running = Running::start();
    let lines = |check: &Value, key: &str, who: &str| {
        let all = check["todo"].as_array().expect("a list").iter();
        all.filter(|item| item["key"] == key && item["who"] == who).count()
    };
    let planned = json!({
        "born_on": "1990-06-15",
        "answers": { "cancer_treatment": ["chemotherapy_planned"], "chemotherapy_starts_on": "2027-01-02" },
        "given": { "treatment": "brows", "on": "2026-12-01" },
    });
    keep(&running, &planned);
    let brows = healthy(&running, "brows");
    let check = made(&running, "brows", "2027-04-06", &json!({ "answers": brows }));
    let rules: Vec<&Value> =
        check["findings"].as_array().expect("a list").iter().map(|one| &one["rule"]).collect();
    assert_eq!(check["verdict"], "refer", "{check}");
    assert!(rules.contains(&&json!("chemotherapy_begun")), "{rules:?}");

    keep(&running, &json!({ "born_on": "1990-06-15" }));
    let mut scalp = healthy(&running, "scalp");
    scalp.insert("previous_pmu_in_area".into(), json!(true));
    scalp.insert("previous_pmu_on".into(), json!("2027-03-10"));
    let check = made(&running, "scalp", "2027-03-24", &json!({ "answers": scalp }));
    assert_eq!((&check["verdict"], open(&check)), (&json!("hold"), vec!["scalp_touch_up"]));
    assert_eq!(lines(&check, "answer.scalp_touch_up", "studio"), 1, "{}", check["todo"]);
    // The stricter way is assumed: the answer may end the hold, and nothing waits for it.
    assert!(!check["summary"].to_string().contains("Answers are missing"), "{}", check["summary"]);
    assert!(
        check["todo"].to_string().contains("may let this wait end sooner"),
        "{}",
        check["todo"]
    );
    scalp.insert("scalp_touch_up".into(), json!(false));
    let check = made(&running, "scalp", "2027-03-24", &json!({ "answers": scalp }));
    assert_eq!((&check["verdict"], open(&check)), (&json!("proceed_with_conditions"), vec![]));

    let mut lips = healthy(&running, "lips");
    lips.insert("pregnant".into(), json!(true));
    lips.insert("medicines".into(), json!(["antibiotics"]));
    let check = made(&running, "lips", "2027-04-06", &json!({ "answers": lips }));
    let said = check["summary"].as_str().expect("words");
    let places = ["Pregnancy", "Antibiotics"].map(|topic| said.find(topic));
    assert!(places[0].is_some() && places[0] < places[1], "{said}");
    assert_eq!(lines(&check, "condition.pregnancy", "client"), 1, "{}", check["todo"]);

    // A record does not keep two ages; what it keeps may grow old.
    let skin = json!({ "born_on": "1985-06-15", "skin": { "age_years": 70 } });
    let tag = running.call(&Request::get(CLIENT)).header("etag").map(str::to_owned);
    let put = Request::put(CLIENT, &skin).header("If-Match", tag.expect("a tag"));
    let refused = running.call(&put);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/skin/age_years");
    keep(&running, &json!({ "born_on": "1985-06-15", "skin": { "age_years": 41 } }));
}
