//! What was told of one area stands beside what was told of another: our own rule, since nothing
//! published says how a studio keeps two answers.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

use super::packs::healthy;

const CLIENT: &str = "/v1/clients/client-1";

fn check(running: &Running, treatment: &str, told: &Value) -> Value {
    let body = json!({
        "booking_ref": format!("booking-{treatment}"), "client_ref": "client-1",
        "treatment": treatment, "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z",
        "born_on": "1990-06-15", "candidates": "usual", "answers": healthy(running, treatment, told),
    });
    let answer = running.call(&Request::post("/v1/appointment-checks", &body));
    assert_eq!(answer.status, 201, "{}", answer.text());
    answer.json()
}

#[test]
fn what_was_told_of_the_lips_is_not_forgotten_over_the_brows() {
    let running = Running::start();
    let spot = json!({ "skin_in_area": ["changing_spot"] });
    assert_eq!(check(&running, "lips", &spot)["verdict"], "refer");
    check(&running, "brows", &json!({ "skin_in_area": ["eczema"] }));

    let read = || running.call(&Request::get(CLIENT));
    let of = |client: &Value| {
        let others = client["other_answers"].as_array().cloned().unwrap_or_default();
        let others = others.iter().map(|one| (one["treatment"].clone(), one["answer"].clone()));
        let first = &client["answered"]["skin_in_area"]["treatment"];
        let first = (first.clone(), client["answers"]["skin_in_area"].clone());
        (first, others.collect::<Vec<_>>())
    };
    let (brows, lips) = (json!("brows"), json!("lips"));
    let kept = read();
    assert_eq!(
        of(&kept.json()),
        ((brows.clone(), json!(["eczema"])), vec![(lips.clone(), json!(["changing_spot"]))])
    );
    // A healthy form for the lips does not take it back, with or without a form for the brows.
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "refer");
    let tag = |answer: &etui_tests::wire::Answer| answer.header("etag").expect("a tag").to_owned();
    let put = |body: &Value| {
        let current = tag(&read());
        running.call(&Request::put(CLIENT, body).header("If-Match", current))
    };
    let form = json!({
        "born_on": "1990-06-15", "answers": { "skin_in_area": ["none_of_these"] },
        "given": { "treatment": "brows" },
    });
    let kept = put(&form);
    assert_eq!(kept.status, 200, "{}", kept.text());
    assert_eq!(of(&kept.json()).1, [(lips.clone(), json!(["changing_spot"]))]);
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "refer");

    // What was read is taken as it was read, and nothing else under that name.
    let kept = read().json();
    let again = put(&kept);
    assert_eq!(again.status, 200, "{}", again.text());
    assert_eq!(of(&again.json()), of(&kept));
    let mut other = again.json();
    other["other_answers"] = json!([]);
    let refused = put(&other);
    assert_eq!(refused.status, 422, "{}", refused.text());
    assert_eq!(refused.json()["errors"][0]["pointer"], "#/other_answers");

    // It is put right by an answer for the lips.
    let right = json!({
        "answers": { "skin_in_area": ["none_of_these"] }, "given": { "treatment": "lips" },
    });
    let current = tag(&read());
    let kept = running.call(&Request::merge(CLIENT, &right).header("If-Match", current));
    assert_eq!(kept.status, 200, "{}", kept.text());
    let none = json!(["none_of_these"]);
    assert_eq!(of(&kept.json()), ((lips, none.clone()), vec![(brows, none)]));
    assert_eq!(check(&running, "lips", &json!({}))["verdict"], "proceed_with_conditions");
}

/// Under one reference there is one date of birth, whichever check told it first.
#[test]
fn a_child_is_not_grown_up_by_the_next_check() {
    let running = Running::start();
    let ask = |born_on: &str| {
        let body = json!({
            "booking_ref": "booking-1", "client_ref": "client-2", "treatment": "brows",
            "effect": "soft_shading", "starts_at": "2027-04-06T08:00:00Z", "born_on": born_on,
            "candidates": "usual", "answers": healthy(&running, "brows", &json!({})),
        });
        running.call(&Request::post("/v1/appointment-checks", &body))
    };
    let first = ask("2010-06-15");
    assert_eq!(first.status, 201, "{}", first.text());
    let second = ask("1990-06-15");
    assert_eq!(second.status, 422, "{}", second.text());
    let fault = &second.json()["errors"][0];
    assert_eq!((&fault["pointer"], &fault["code"]), (&json!("#/born_on"), &json!("contradiction")));
    assert_eq!(ask("2010-06-15").json()["verdict"], first.json()["verdict"]);
}
