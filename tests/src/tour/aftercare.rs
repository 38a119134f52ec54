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
    ]
}

/// After the treatments, whose reminders these are.
pub(super) fn reminders() -> Vec<Stop> {
    vec![
        Stop::new("get_treatment_aftercare", |tour| {
            let id = tour.text("record_treatment", "/id");
            Request::get(format!("/v1/treatments/{id}/aftercare"))
        }),
        Stop::new("get_aftercare_sheet", |tour| {
            let id = tour.text("record_treatment", "/id");
            Request::get(format!("/v1/treatments/{id}/aftercare-sheet"))
        }),
        Stop::new("get_treatment_calendar", |tour| {
            let id = tour.text("record_treatment", "/id");
            Request::get(format!("/v1/treatments/{id}/aftercare.ics"))
        }),
        Stop::new("open_calendar", |_| {
            let body = json!({ "of": "artist", "reference": "artist-07" });
            Request::post("/v1/calendars", &body)
        }),
        Stop::new("get_calendar", |tour| Request::get(tour.text("open_calendar", "/path"))),
        Stop::new("get_calendar_feed", |tour| {
            Request::get(format!("/v1/calendars/{}", tour.text("open_calendar", "/id")))
        }),
        Stop::new("list_calendars", |_| Request::get("/v1/calendars")),
        Stop::new("open_calendar", |_| Request::post("/v1/calendars", &json!({ "of": "studio" })))
            .prepares(),
        Stop::new("close_calendar", |tour| {
            let id = tour.text("open_calendar", "/id");
            Request::new("DELETE", format!("/v1/calendars/{id}"))
        }),
        Stop::new("list_reminders", |_| {
            Request::get("/v1/reminders?due_before=2027-03-17T00:00:00Z&limit=2")
        }),
        Stop::new("get_reminder", |tour| {
            Request::get(format!("/v1/reminders/{}", tour.text("list_reminders", "/items/0/id")))
        }),
        Stop::new("claim_reminders", |_| {
            Request::post("/v1/reminder-claims", &json!({ "limit": 2, "lease_seconds": 600 }))
        }),
        Stop::new("get_claim", |tour| {
            let id = tour.text("claim_reminders", "/claim_id");
            Request::get(format!("/v1/reminder-claims/{id}"))
        }),
        Stop::new("list_claims", |_| Request::get("/v1/reminder-claims")),
        Stop::new("extend_claim", |tour| {
            let id = tour.text("claim_reminders", "/claim_id");
            Request::post(
                format!("/v1/reminder-claims/{id}/extensions"),
                &json!({ "lease_seconds": 1200 }),
            )
        }),
        Stop::new("return_claim", |tour| {
            let id = tour.text("claim_reminders", "/claim_id");
            let body = json!({ "reminders": [tour.text("claim_reminders", "/reminders/0/id")] });
            Request::post(format!("/v1/reminder-claims/{id}/returns"), &body)
        }),
        Stop::new("claim_reminders", |_| {
            Request::post("/v1/reminder-claims", &json!({ "limit": 2, "lease_seconds": 600 }))
        })
        .prepares(),
        Stop::new("report_reminder", |tour| {
            let id = tour.text("claim_reminders", "/reminders/0/id");
            let body = json!({
                "claim_id": tour.text("claim_reminders", "/claim_id"),
                "outcome": "delivered",
            });
            Request::post(format!("/v1/reminders/{id}/outcomes"), &body)
        }),
        Stop::new("release_reminders", |tour| {
            let id = tour.text("claim_reminders", "/reminders/0/id");
            Request::post(
                "/v1/reminder-releases",
                &json!({ "decision": "send", "reminders": [id] }),
            )
        }),
    ]
}
