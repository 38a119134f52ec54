//! What is held on a client, and what stays findable by lot after an erasure.

use etui_tests::running::Running;
use etui_tests::wire::Request;
use serde_json::json;

use crate::history::{NOTE, lot, path, record};

/// Everything that is held is in it, and after an erasure there is none.
#[test]
fn a_dossier_holds_everything_until_the_client_is_forgotten() {
    let running = Running::start();
    assert_eq!(running.call(&Request::get("/v1/clients/client-1/dossier")).status, 404);
    let put = json!({ "born_on": "1990-05-02", "skin": { "oiliness": "oily" } });
    assert_eq!(running.call(&Request::put("/v1/clients/client-1", &put)).status, 201);
    let check = json!({
        "booking_ref": "booking-1", "client_ref": "client-1", "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-05-03T09:00:00Z",
    });
    let check = running.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(check.status, 201, "{}", check.text());
    let calendar = json!({ "of": "client", "reference": "client-1" });
    assert_eq!(running.call(&Request::post("/v1/calendars", &calendar)).status, 201);
    let treatment = record(&running, &lot(&running, "D2"));
    for (of, body) in [
        (
            "/observations",
            json!({ "signs": ["weeping"], "note": NOTE, "at": "2027-01-20T09:10:00Z" }),
        ),
        ("/symptom-reports", json!({ "symptoms": [{ "kind": "swelling" }] })),
        ("/reviews", json!({ "zones": [{ "zone": "whole", "kept": "from_75" }], "note": NOTE })),
        ("/amendments", json!({ "reason": NOTE, "values": { "effect": "pixelated" } })),
    ] {
        let answer = running.call(&Request::post(path(&treatment, of), &body));
        assert_eq!(answer.status, 201, "{}", answer.text());
    }
    let dossier = running.call(&Request::get("/v1/clients/client-1/dossier"));
    assert_eq!(dossier.status, 200, "{}", dossier.text());
    let dossier = dossier.json();
    assert_eq!(dossier["client"]["born_on"], "1990-05-02");
    assert_eq!(dossier["checks"][0]["check"]["id"], check.json()["id"]);
    assert!(dossier["checks"][0]["made_from"].to_string().contains("booking-1"));
    let whole = running.call(&Request::get(path(&treatment, ""))).json();
    assert_eq!(dossier["treatments"], json!([whole]));
    for kind in ["observations", "symptom_reports", "reviews", "amendments"] {
        assert_eq!(whole[kind].as_array().map(Vec::len), Some(1), "{kind}");
    }
    assert!(dossier["reminders"].as_array().is_some_and(|all| !all.is_empty()), "{dossier}");
    assert_eq!(dossier["calendars"].as_array().map(Vec::len), Some(1));
    let done: Vec<&str> = dossier["audit"]
        .as_array()
        .into_iter()
        .flatten()
        .filter_map(|entry| entry["what"].as_str())
        .collect();
    assert_eq!(
        done,
        [
            "client.put",
            "check.make",
            "calendar.open",
            "treatment.record",
            "observation.record",
            "symptom_report.keep",
            "review.record",
            "treatment.amend"
        ]
    );
    let forgotten = Request::new("DELETE", "/v1/clients/client-1").header("If-Match", "*");
    assert_eq!(running.call(&forgotten).status, 200);
    let gone = running.call(&Request::get("/v1/clients/client-1/dossier"));
    assert_eq!(gone.status, 404, "{}", gone.text());
    assert!(!gone.text().contains(NOTE));
}

/// Treatments and checks to come, by lot and by what a notice names, as JSON
/// and as a table.
#[test]
fn exposures_are_found_by_what_the_notice_names() {
    let running = Running::start();
    let lot = lot(&running, "E1");
    let treatment = record(&running, &lot);
    let check = json!({
        "booking_ref": "booking-9", "client_ref": "client-9", "treatment": "brows",
        "effect": "soft_shading", "starts_at": "2027-05-03T09:00:00Z", "born_on": "1990-05-02",
    });
    let check = running.call(&Request::post("/v1/appointment-checks", &check));
    assert_eq!(check.status, 201, "{}", check.text());
    let by_notice = Request::get("/v1/exposures?lot=E1&maker=North");
    let found = running.call(&by_notice);
    assert_eq!(found.status, 200, "{}", found.text());
    let found = found.json();
    assert_eq!(found["treatments"][0]["treatment_id"], treatment["id"]);
    assert_eq!(found["upcoming_checks"][0]["client_ref"], "client-9", "{found}");
    let by_lot = running.call(&Request::get(format!("/v1/lots/{lot}/exposures"))).json();
    assert_eq!(by_lot, found);
    let table = running.call(&by_notice.clone().header("Accept", "text/csv"));
    assert_eq!(table.media(), "text/csv");
    let text = table.text();
    let rows: Vec<&str> = text.lines().collect();
    assert_eq!(rows.len(), 3, "{text}");
    assert!(rows[1].starts_with("treatment,") && rows[1].contains(",client-1,artist-1,"), "{text}");
    assert!(rows[2].starts_with("check,,") && rows[2].contains(",booking-9,client-9,"), "{text}");
    // An authority knows the lot by its code, not by our id; each row stands for itself.
    let columns: Vec<&str> = rows[0].split(',').collect();
    for row in &rows[1..] {
        let row: Vec<&str> = row.split(',').collect();
        let at = |name: &str| columns.iter().position(|column| *column == name).expect(name);
        assert_eq!(row.len(), columns.len(), "{text}");
        assert_eq!(row[at("lot_id")], lot, "{text}");
        assert_eq!(row[at("lot")], "E1", "{text}");
        assert_ne!(row[at("configuration")], "", "{text}");
    }
    let other = running.call(&Request::get("/v1/exposures?lot=E1&maker=south")).json();
    assert_eq!(other["treatments"], json!([]));
    assert_eq!(other["similar_lot_ids"], json!([lot]));
    let never = running.call(&Request::get("/v1/exposures?lot=NEVER"));
    assert_eq!(never.json()["clients"], json!([]));
    assert_eq!(running.call(&Request::get("/v1/exposures")).status, 400);
}
