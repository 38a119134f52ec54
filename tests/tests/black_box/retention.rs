//! How long records are kept: looked at first, removed on order, health long
//! before the trace.

use std::path::Path;

use etui_tests::engine;
use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::{Value, json};

const PROGRAM: &str = env!("CARGO_BIN_EXE_etui_under_test");

fn look(running: &Running) -> Value {
    let answer = running.call(&Request::get("/v1/retention"));
    assert_eq!(answer.status, 200, "{}", answer.text());
    answer.json()
}

fn records(looked: &Value) -> Vec<(String, u64)> {
    let kinds = looked["kinds"].as_array().expect("kinds");
    kinds
        .iter()
        .map(|kind| {
            let name = kind["kind"].as_str().expect("a name").to_owned();
            (name, kind["records"].as_u64().expect("a number"))
        })
        .collect()
}

fn sweep(running: &Running, digest: &Value) -> etui_tests::wire::Answer {
    running.call(&Request::post("/v1/retention-sweeps", &json!({ "digest": digest })))
}

fn expired(reminders: u64, checks: u64, health: u64, traces: u64) -> Vec<(String, u64)> {
    [("reminders", reminders), ("checks", checks), ("health", health), ("traces", traces)]
        .map(|(kind, count)| (kind.to_owned(), count))
        .into()
}

/// Everything that can belong to a treatment, in a fresh studio.
fn filled(running: &Running) -> (String, String) {
    let lot =
        json!({ "text": "0.30 3RS LOT Z1 EXP 2036-01 STERILE EO", "packs": 9, "maker": "north" });
    let lot = running.call(&Request::post("/v1/lots", &lot)).json();
    let lot = lot["id"].as_str().expect("an id").to_owned();
    let client = json!({ "born_on": "1990-05-02" });
    assert_eq!(running.call(&Request::put("/v1/clients/client-1", &client)).status, 201);
    for client in [Value::Null, json!("client-1")] {
        let mut body = json!({
            "booking_ref": "booking-1", "treatment": "brows", "effect": "soft_shading",
            "starts_at": "2027-04-03T09:00:00Z", "born_on": "1990-05-02",
        });
        if !client.is_null() {
            body["client_ref"] = client;
            body["booking_ref"] = json!("booking-2");
            body.as_object_mut().expect("an object").remove("born_on");
        }
        let check = running.call(&Request::post("/v1/appointment-checks", &body));
        assert_eq!(check.status, 201, "{}", check.text());
    }
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "brows",
        "effect": "soft_shading", "performed_at": "2027-01-20T09:00:00Z",
        "packs": [{ "lot_id": lot, "intact": true, "serial": "1" }],
    });
    let treatment = running.call(&Request::post("/v1/treatments", &body));
    assert_eq!(treatment.status, 201, "{}", treatment.text());
    let treatment = treatment.json()["id"].as_str().expect("an id").to_owned();
    for (of, body) in [
        ("observations", json!({ "signs": ["weeping"], "at": "2027-01-20T09:10:00Z" })),
        ("symptom-reports", json!({ "symptoms": [{ "kind": "swelling" }] })),
        ("reviews", json!({ "zones": [{ "zone": "whole", "kept": "from_75" }] })),
        (
            "amendments",
            json!({ "reason": "two packs", "add_packs": [{ "lot_id": lot, "intact": true, "serial": "2" }] }),
        ),
    ] {
        let path = format!("/v1/treatments/{treatment}/{of}");
        let answer = running.call(&Request::post(path, &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    (lot, treatment)
}

fn is_sound(folder: &Path) {
    let folder = folder.display().to_string();
    let done = engine::command(PROGRAM, &["verify", "--data", &folder]).output();
    let done = done.expect("the program runs");
    assert!(done.status.success(), "{}", String::from_utf8_lossy(&done.stderr));
}

#[test]
fn health_is_forgotten_long_before_the_trace() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let running = Running::start_at(folder.path());
    let (lot, treatment) = filled(&running);
    let now = look(&running);
    assert_eq!(records(&now), expired(0, 0, 0, 0));
    let periods: Vec<&str> = now["kinds"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|k| k["keep_for"].as_str())
        .collect();
    assert_eq!(periods, ["P1Y", "P3Y", "P3Y", "P10Y"]);

    // Four years on: what is sealed has had its time, the trace has not.
    running.set_clock("2031-03-16T08:00:00Z");
    let health = look(&running);
    assert_eq!(records(&health), expired(0, 2, 1, 0));
    let stale = sweep(&running, &now["digest"]);
    assert_eq!(stale.status, 409, "{}", stale.text());
    assert_eq!(records(&look(&running)), expired(0, 2, 1, 0), "a refused sweep removes nothing");
    let swept = sweep(&running, &health["digest"]);
    assert_eq!(swept.status, 200, "{}", swept.text());
    assert_eq!(swept.json()["more"], false);
    assert_eq!(running.call(&Request::get("/v1/clients/client-1/dossier")).status, 404);
    assert_eq!(running.call(&Request::get(format!("/v1/treatments/{treatment}"))).status, 404);
    let exposures = Request::get(format!("/v1/lots/{lot}/exposures"));
    assert_eq!(running.call(&exposures).json()["clients"], json!(["client-1"]));
    assert_eq!(records(&look(&running)), expired(0, 0, 0, 0));

    // Eleven years on: the trace too.
    running.set_clock("2038-03-17T08:00:00Z");
    let traces = look(&running);
    assert_eq!(records(&traces), expired(0, 0, 0, 1));
    assert_eq!(sweep(&running, &traces["digest"]).status, 200);
    assert_eq!(running.call(&exposures).json()["treatments"], json!([]));
    assert_eq!(records(&look(&running)), expired(0, 0, 0, 0));
    running.stop();
    is_sound(folder.path());
}

/// A client who comes back is no stranger.
#[test]
fn a_client_who_was_seen_again_is_kept() {
    let running = Running::start();
    let (lot, _) = filled(&running);
    running.set_clock("2029-12-01T08:00:00Z");
    let body = json!({
        "client_ref": "client-1", "artist_ref": "artist-1", "treatment": "lips",
        "performed_at": "2029-12-01T07:00:00Z", "packs": [{ "lot_id": lot, "intact": true }],
    });
    assert_eq!(running.call(&Request::post("/v1/treatments", &body)).status, 201);
    running.set_clock("2031-03-16T08:00:00Z");
    assert_eq!(records(&look(&running)), expired(0, 2, 0, 0));
    running.set_clock("2033-01-02T08:00:00Z");
    assert_eq!(records(&look(&running)), expired(0, 2, 1, 0));
}

/// Reminders that came to their end go after a year; those still to be sent
/// stay.
#[test]
fn reminders_that_ended_go_first() {
    let running = Running::start();
    let (lot, _) = filled(&running);
    // A later session cancels what was open of the one before.
    for at in ["2027-03-14T07:00:00Z", "2027-03-16T07:00:00Z"] {
        let body = json!({
            "client_ref": "client-2", "artist_ref": "artist-1", "treatment": "brows",
            "performed_at": at, "packs": [{ "lot_id": lot, "intact": true }],
        });
        assert_eq!(running.call(&Request::post("/v1/treatments", &body)).status, 201);
    }
    running.set_clock("2029-06-01T08:00:00Z");
    let looked = look(&running);
    let reminders = records(&looked)[0].1;
    assert!(0 < reminders, "{looked}");
    assert_eq!(sweep(&running, &looked["digest"]).status, 200);
    assert_eq!(records(&look(&running))[0].1, 0);
    let cancelled = running.call(&Request::get("/v1/reminders?state=cancelled")).json();
    for left in cancelled["items"].as_array().into_iter().flatten() {
        assert!("2028-06-01" < left["due_at"].as_str().unwrap_or_default(), "{left}");
    }
    let open = running.call(&Request::get("/v1/reminders?state=scheduled")).json();
    assert_ne!(open["items"], json!([]));
}
