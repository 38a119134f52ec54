//! Aftercare plans, symptom reports and reminders.

use etui_schema::endpoints::*;
use serde_json::json;

use super::treatments::TREATMENT;
use super::{Stop, Told};

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(make_aftercare_plan()).sends(json!({
            "treatment": "brows",
            "performed_at": "2027-03-18T14:00:00+01:00",
            "zone": "Europe/Berlin",
            "skin": { "age_years": 47, "oiliness": "dry" },
            "quiet_hours": { "from": "21:00", "until": "08:00" },
            "closed_days": ["sunday", "monday"],
            "opening_hours": { "from": "09:30", "until": "18:00" },
        })),
        Stop::of(list_symptom_questions()).asks("treatment=brows&day=5"),
        Stop::of(judge_symptom_report()).sends(json!({
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
        })),
    ]
}

/// The claim that later stops use.
const CLAIM: (&str, &str) = ("claim_reminders", "/claim_id");

/// After the treatments, whose reminders these are.
pub(super) fn reminders() -> Vec<Stop> {
    vec![
        Stop::of(get_treatment_aftercare()).at(TREATMENT),
        Stop::of(get_aftercare_sheet()).at(TREATMENT),
        Stop::of(get_treatment_calendar()).at(TREATMENT),
        Stop::of(open_calendar()).sends(json!({ "of": "artist", "reference": "artist-07" })),
        Stop::of(get_calendar()).at(Told::Made(|tour| {
            let path = tour.text("open_calendar", "/path");
            path.trim_start_matches("/v1/calendars/").trim_end_matches(".ics").to_owned()
        })),
        Stop::of(get_calendar_feed()).at(("open_calendar", "/id")),
        Stop::of(list_calendars()),
        Stop::of(open_calendar()).sends(json!({ "of": "studio" })).prepares(),
        Stop::of(close_calendar()).at(("open_calendar", "/id")),
        Stop::of(list_reminders()).asks("due_before=2027-03-17T00:00:00Z&limit=2"),
        Stop::of(get_reminder()).at(("list_reminders", "/items/0/id")),
        Stop::of(claim_reminders()).sends(json!({ "limit": 2, "lease_seconds": 600 })),
        Stop::of(get_claim()).at(CLAIM),
        Stop::of(list_claims()),
        Stop::of(extend_claim()).at(CLAIM).sends(json!({ "lease_seconds": 1200 })),
        Stop::of(return_claim())
            .at(CLAIM)
            .with(|tour| json!({ "reminders": [tour.text("claim_reminders", "/reminders/0/id")] })),
        Stop::of(claim_reminders()).sends(json!({ "limit": 2, "lease_seconds": 600 })).prepares(),
        Stop::of(report_reminder()).at(("claim_reminders", "/reminders/0/id")).with(|tour| {
            json!({
                "claim_id": tour.text("claim_reminders", "/claim_id"),
                "outcome": "delivered",
            })
        }),
        Stop::of(release_reminders()).with(|tour| {
            json!({
                "decision": "send",
                "reminders": [tour.text("claim_reminders", "/reminders/0/id")],
            })
        }),
    ]
}
