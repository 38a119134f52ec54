//! Aftercare plans and symptom reports.

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
    ]
}
