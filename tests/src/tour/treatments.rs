//! What was used on whom.

use serde_json::json;

use super::{Stop, Tour};
use crate::wire::Request;

fn made(tour: &Tour) -> String {
    format!("/v1/treatments/{}", tour.text("record_treatment", "/id"))
}

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::new("record_treatment", |tour| {
            let body = json!({
                "client_ref": "client-0042",
                "artist_ref": "artist-07",
                "machine_ref": "liner-1",
                "treatment": "lips",
                "effect": "soft_shading",
                "performed_at": "2027-03-16T07:30:00Z",
                "zone": "Europe/Berlin",
                "packs": [{ "lot_id": tour.text("receive_lot", "/id"), "intact": true, "site": "lip" }],
                "worked": { "hand": "medium", "passes": 2 },
            });
            Request::post("/v1/treatments", &body)
        }),
        Stop::new("record_observation", |tour| {
            let body = json!({ "signs": ["weeping"], "pack": 0 });
            Request::post(format!("{}/observations", made(tour)), &body)
        }),
        Stop::new("get_observation", |tour| {
            Request::get(format!(
                "{}/observations/{}",
                made(tour),
                tour.text("record_observation", "/id")
            ))
        }),
        Stop::new("keep_symptom_report", |tour| {
            let body = json!({
                "symptoms": [{ "kind": "swelling", "severity": "mild", "trend": "better" }],
                "country": "DE",
            });
            Request::post(format!("{}/symptom-reports", made(tour)), &body)
        }),
        Stop::new("settle_symptom_report", |tour| {
            let body = json!({ "settled_by": "Ada", "note": "Seen in the studio, going down." });
            let report = tour.text("keep_symptom_report", "/id");
            let path = format!("{}/symptom-reports/{report}/settlements", made(tour));
            Request::post(path, &body)
        }),
        Stop::new("get_symptom_report", |tour| {
            Request::get(format!(
                "{}/symptom-reports/{}",
                made(tour),
                tour.text("keep_symptom_report", "/id")
            ))
        }),
        Stop::new("countersign_treatment", |tour| {
            let body = json!({ "note": "In the room from start to end." });
            Request::post(format!("{}/countersignatures", made(tour)), &body)
        }),
        Stop::new("get_countersignature", |tour| {
            Request::get(format!(
                "{}/countersignatures/{}",
                made(tour),
                tour.text("countersign_treatment", "/id")
            ))
        }),
        Stop::new("record_review", |tour| {
            let body = json!({
                "zones": [
                    { "zone": "upper_lip", "kept": "from_75" },
                    { "zone": "lip_border", "kept": "from_25_to_50" },
                ],
                "colour": "as_planned",
                "surface": "smooth",
            });
            Request::post(format!("{}/reviews", made(tour)), &body)
        }),
        Stop::new("get_review", |tour| {
            Request::get(format!("{}/reviews/{}", made(tour), tour.text("record_review", "/id")))
        }),
        Stop::new("amend_treatment", |tour| {
            let body = json!({
                "reason": "a second pack was opened for the border",
                "values": { "worked": { "hand": "light", "passes": 2 } },
                "add_packs": [{ "lot_id": tour.text("receive_lot", "/id"), "intact": true, "site": "lip" }],
            });
            Request::post(format!("{}/amendments", made(tour)), &body)
        }),
        Stop::new("get_amendment", |tour| {
            Request::get(format!(
                "{}/amendments/{}",
                made(tour),
                tour.text("amend_treatment", "/id")
            ))
        }),
        Stop::new("list_observations", |tour| Request::get(format!("{}/observations", made(tour)))),
        Stop::new("list_symptom_reports", |tour| {
            Request::get(format!("{}/symptom-reports", made(tour)))
        }),
        Stop::new("list_countersignatures", |tour| {
            Request::get(format!("{}/countersignatures", made(tour)))
        }),
        Stop::new("list_reviews", |tour| Request::get(format!("{}/reviews", made(tour)))),
        Stop::new("list_amendments", |tour| Request::get(format!("{}/amendments", made(tour)))),
        Stop::new("list_treatments", |_| Request::get("/v1/treatments?client_ref=client-0042")),
        Stop::new("get_treatment", |tour| Request::get(made(tour))),
    ]
}
