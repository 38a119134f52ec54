//! What an artist's healed results say about her hand.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use crate::plugins::{issue, register, text};

fn lot(running: &Running, text: &str) -> String {
    let body = json!({ "text": text, "packs": 100, "maker": "north" });
    let answer = running.call(&Request::post("/v1/lots", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()["id"].as_str().expect("an id").to_owned()
}

/// One treatment and its review on day 55.
fn healed(running: &Running, lot: &str, client: &str, kept: &str) {
    let body = json!({
        "client_ref": client, "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-01-20T09:00:00Z",
        "packs": [{ "lot_id": lot, "intact": true }],
    });
    let treatment = running.call(&Request::post("/v1/treatments", &body));
    assert_eq!(treatment.status, 201, "{}", treatment.text());
    let path =
        format!("/v1/treatments/{}/reviews", treatment.json()["id"].as_str().expect("an id"));
    // An early look does not count, and takes nothing from the later one.
    for at in ["2027-02-01T09:00:00Z", "2027-03-15T09:00:00Z"] {
        let body = json!({ "reviewed_at": at, "zones": [{ "zone": "whole", "kept": kept }] });
        let review = running.call(&Request::post(&path, &body));
        assert_eq!(review.status, 201, "{}", review.text());
    }
}

fn profile(running: &Running) -> Value {
    let answer = running.call(&Request::get("/v1/hand-profiles/artist-1"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()
}

fn group<'a>(profile: &'a Value, configuration: &str) -> &'a Value {
    let groups = profile["groups"].as_array().expect("groups");
    groups.iter().find(|one| one["configuration"] == configuration).expect("the group")
}

#[test]
fn healed_results_are_counted_with_their_uncertainty() {
    let running = Running::start();
    assert_eq!(running.call(&Request::get("/v1/hand-profiles/artist-1")).status, 404);
    let (fine, coarse) = (
        lot(&running, "0.20 1RL LOT F1 EXP 2036-01 STERILE EO"),
        lot(&running, "0.30 3RS LOT C1 EXP 2036-01 STERILE EO"),
    );
    for n in 0..9 {
        healed(&running, &coarse, &format!("client-c{n}"), "under_25");
    }
    for n in 0..10 {
        healed(&running, &fine, &format!("client-f{n}"), "from_75");
    }
    let few = profile(&running);
    assert_eq!((&few["results"], &few["fewest"]), (&json!(19), &json!(10)));
    let nine = group(&few, "0.30 3RS");
    assert_eq!((&nine["too_few"], &nine["held"]), (&json!(true), &json!({ "count": 0, "of": 9 })));
    assert!(nine.get("held_share").is_none() && nine.get("against_rest").is_none(), "{nine}");

    healed(&running, &coarse, "client-c9", "under_25");
    let enough = profile(&running);
    let (below, above) = (group(&enough, "0.30 3RS"), group(&enough, "0.20 1RL"));
    assert_eq!(below["against_rest"]["standing"], "below");
    assert_eq!(above["against_rest"]["standing"], "above");
    // 0 of 10: Wilson 1927, z² / (n + z²) with z = 1.959964
    let high = below["held_share"]["high"].as_f64().expect("a share");
    assert!((high - 0.277_533).abs() < 1e-5, "{high}");
    assert!(!below["text"].as_str().unwrap_or_default().contains("deeper"), "{below}");
    assert!(enough["basis"].to_string().contains("wilson-1927"));

    // A student's are drawn towards the studio's, 10 of 20: Beta(5, 5), then 0 and 10 of 10.
    assert!(below.get("drawn_share").is_none(), "{below}");
    let student = json!({ "hand": "light", "standing": "student" });
    assert_eq!(running.call(&Request::put("/v1/artists/artist-1", &student)).status, 201);
    let drawn = profile(&running);
    for (configuration, mean) in [("0.30 3RS", 0.25), ("0.20 1RL", 0.75)] {
        let found = &group(&drawn, configuration)["drawn_share"];
        let share = found["share"].as_f64().expect("a share");
        assert!((share - mean).abs() < 1e-9, "{configuration}: {found}");
        let (low, high) =
            (found["low"].as_f64().expect("low"), found["high"].as_f64().expect("high"));
        assert!(low < share && share < high, "{configuration}: {found}");
    }

    let forgotten = Request::new("DELETE", "/v1/clients/client-c9").header("If-Match", "*");
    assert_eq!(running.call(&forgotten).status, 200);
    let after = profile(&running);
    assert_eq!((&after["results"], &after["forgotten"]), (&json!(19), &json!(1)));
    assert_eq!(group(&after, "0.30 3RS")["too_few"], true);
}

/// What is written down and looked at twice is one result, and what was struck is none.
#[test]
fn a_double_is_one_result_and_a_struck_record_none() {
    let running = Running::start();
    let lot = lot(&running, "0.30 3RS LOT M1 EXP 2036-01 STERILE EO");
    healed(&running, &lot, "client-1", "from_75");
    healed(&running, &lot, "client-1", "from_75");
    assert_eq!(profile(&running)["results"], 1);
    healed(&running, &lot, "client-2", "from_75");
    assert_eq!(profile(&running)["results"], 2);
    let listed = running.call(&Request::get("/v1/treatments?client_ref=client-2")).json();
    let path = format!("/v1/treatments/{}/amendments", listed["items"][0]["id"].as_str().unwrap());
    let struck = json!({ "reason": "another client", "strike_packs": [0] });
    let struck = running.call(&Request::post(path, &struck));
    assert_eq!(struck.status, 201, "{}", struck.text());
    assert_eq!(profile(&running)["results"], 1);
}

/// Work that was written down under another artist's name counts for her whose
/// work it was, with every result, and for nobody else.
#[test]
fn results_follow_the_artist_who_did_the_work() {
    let running = Running::start();
    let lot = lot(&running, "0.30 3RS LOT M1 EXP 2036-01");
    healed(&running, &lot, "client-1", "from_75");
    healed(&running, &lot, "client-2", "from_75");
    let listed = running.call(&Request::get("/v1/treatments?client_ref=client-1")).json();
    let path = format!("/v1/treatments/{}/amendments", listed["items"][0]["id"].as_str().unwrap());
    let body = json!({ "reason": "another's", "values": { "artist_ref": "artist-2" } });
    let amended = running.call(&Request::post(path, &body));
    assert_eq!(amended.status, 201, "{}", amended.text());
    for artist in ["artist-1", "artist-2"] {
        let told = running.call(&Request::get(format!("/v1/hand-profiles/{artist}"))).json();
        assert_eq!(told["results"], 1, "{artist}: {told}");
    }
}

/// A choice of needles that asks for her own results tells them apart, moves the order alone,
/// and is for those who may read results; one that does not ask is as it ever was.
#[test]
fn a_choice_takes_her_own_results_as_one_question_more() {
    let running = Running::start();
    let plain = json!({ "treatment": "brows", "effect": "soft_shading", "limit": 250,
        "candidates": [{ "label": "0.30 3RS" }, { "label": "0.25 5RS" }, { "label": "0.30 1RL" }] });
    let asking = |more: Value| {
        let mut body = plain.clone();
        body["own_results"] = more;
        body
    };
    let select = |body: &Value| running.call(&Request::post("/v1/needle-selections", body));
    let own = json!({ "artist_ref": "artist-1", "weight": 1 });
    let unknown = select(&asking(own.clone()));
    assert_eq!(unknown.status, 422, "{}", unknown.text());
    assert_eq!(unknown.json()["errors"][0]["pointer"], "#/own_results/artist_ref");
    let heavy = select(&asking(json!({ "artist_ref": "artist-1", "weight": 1.5 })));
    assert_eq!(heavy.json()["errors"][0]["pointer"], "#/own_results/weight");

    let (bad, good) = (
        lot(&running, "0.30 3RS LOT B1 EXP 2036-01"),
        lot(&running, "0.25 5RS LOT G1 EXP 2036-01"),
    );
    for n in 0..12 {
        healed(&running, &bad, &format!("client-b{n}"), "under_25");
        healed(&running, &good, &format!("client-g{n}"), "from_75");
    }
    let without = select(&plain);
    assert!(!without.text().contains("own_results"), "{}", without.text());
    let (without, with) = (without.json(), select(&asking(own.clone())).json());
    assert_eq!(with["own_results"]["results"], 24, "{with}");
    assert_eq!(
        (&with["own_results"]["share"], &with["own_results"]["weight"]),
        (&json!(0.5), &json!(1.0))
    );
    assert!(with["own_results"]["basis"].to_string().contains("gelman-bda"), "{with}");
    let of = |answer: &Value, canonical: &str| {
        let ranked = answer["ranked"].as_array().expect("a ranking").clone();
        ranked.into_iter().find(|one| one["canonical"] == canonical).expect("the needle")
    };
    // Beta(5, 5) and 0 of 12: 5 of 22.
    let below = of(&with, "0.30 3RS")["own_results"].clone();
    assert_eq!((&below["standing"], &below["results"]), (&json!("below"), &json!(12)), "{below}");
    assert!((below["held_share"]["share"].as_f64().expect("a share") - 5.0 / 22.0).abs() < 1e-6);
    // What held lifts nothing while nobody said that the skin was not hurt.
    let untold = of(&with, "0.25 5RS")["own_results"].clone();
    assert_eq!((&untold["standing"], &untold["silent"]), (&json!("alike"), &json!(12)), "{untold}");
    let none = of(&with, "0.30 1RL")["own_results"].clone();
    assert_eq!((&none["results"], &none["desirability"]), (&json!(0), &json!(0.5)), "{none}");
    for needle in ["0.30 3RS", "0.25 5RS", "0.30 1RL"] {
        let (mut one, mut other) = (of(&without, needle), of(&with, needle));
        for each in [&mut one, &mut other] {
            let each = each.as_object_mut().expect("an object");
            each.remove("own_results");
            each.remove("desirability");
        }
        assert_eq!(one, other);
    }
    let german = Request::post("/v1/needle-selections", &asking(own.clone()));
    let german = running.call(&german.header("Accept-Language", "de")).json();
    let because = of(&german, "0.30 3RS")["own_results"]["because"].to_string();
    assert!(because.contains("Tiefe ist nie die Antwort"), "{because}");

    let plugin = register(&running, "chooser", json!({ "scopes": ["compute"] }));
    let token = issue(&running, plugin, &json!({ "name": "desk", "scopes": ["compute"] }));
    let post = |body: &Value| {
        running.call(&Request::post("/v1/needle-selections", body).token(&text(&token)))
    };
    assert_eq!(post(&plain).status, 200);
    let refused = post(&asking(own));
    assert_eq!(refused.status, 403, "{}", refused.text());
    assert!(refused.text().contains("treatments:read"), "{}", refused.text());
}
