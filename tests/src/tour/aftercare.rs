//! Aftercare plans, symptom reports and reminders.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::new("make_aftercare_plan", |_| {
            let body = json!({
                "treatment": "brows",
                "performed_at": "2027-03-18T14:00:00+01:00",
                "zone": "Europe/Berlin",
                "skin": { "age_years": 47, "oiliness": "dry" },
                "quiet_hours": { "from": "21:00", "until": "08:00" },
                "closed_days": ["sunday", "monday"],
                "opening_hours": { "from": "09:30", "until": "18:00" },
            });
            Request::post("/v1/aftercare-plans", &body)
        }),
        Stop::new("list_symptom_questions", |_| {
            Request::get("/v1/symptom-questions?treatment=brows&day=5")
        }),
        Stop::new("judge_symptom_report", |_| {
            let body = json!({
                "treatment": "brows",
                "performed_at": "2027-03-18T14:00:00+01:00",
                "reported_at": "2027-03-23T19:10:00+01:00",
                "zone": "Europe/Berlin",
                "symptoms": [
                    { "kind": "heat", "severity": "moderate", "trend": "worse" },
                    { "kind": "throbbing", "severity": "mild", "trend": "worse" },
                ],
                "temperature_c": 37.6,
                "country": "DE",
            });
            Request::post("/v1/symptom-reports", &body)
        }),
        Stop::new("receive_lot", |_| {
            let body = json!({
                "text": "0.30 3RL LOT A1 EXP 2030-01-31 STERILE R",
                "packs": 10,
                "confirmed": {
                    "configuration": { "diameter_mm": 0.3, "count": 3, "grouping": "round_liner" },
                    "lot": "A1",
                    "expires_on": "2030-01-31",
                },
            });
            Request::post("/v1/lots", &body)
        })
        .prepares(),
        Stop::new("record_treatment", |tour| {
            let body = json!({
                "client_ref": "client-0311",
                "artist_ref": "artist-07",
                "treatment": "lips",
                "performed_at": "2027-03-16T07:00:00Z",
                "packs": [{ "lot_id": tour.text("receive_lot", "/id"), "intact": true }],
            });
            Request::post("/v1/treatments", &body)
        })
        .prepares(),
        Stop::new("list_reminders", |_| {
            Request::get("/v1/reminders?due_before=2027-03-17T00:00:00Z&limit=2")
        }),
        Stop::new("claim_reminders", |_| {
            Request::post("/v1/reminder-claims", &json!({ "limit": 2, "lease_seconds": 600 }))
        }),
        Stop::new("report_reminder", |tour| {
            let id = tour.text("claim_reminders", "/reminders/0/id");
            let body = json!({
                "claim_id": tour.text("claim_reminders", "/claim_id"),
                "outcome": "delivered",
            });
            Request::post(format!("/v1/reminders/{id}/outcomes"), &body)
        }),
    ]
}
