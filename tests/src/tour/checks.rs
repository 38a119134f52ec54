//! The pre-appointment check.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

const CHECK: (&str, &str) = ("create_appointment_check", "/id");

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(create_appointment_check()).sends(json!({
            "booking_ref": "booking-2027-0311",
            "client_ref": "client-0042",
            "artist_ref": "artist-07",
            "machine_ref": "liner-1",
            "treatment": "lips",
            "effect": "soft_shading",
            "starts_at": "2027-04-06T08:00:00Z",
            "zone": "Europe/Berlin",
            "patch_test": {
                "made_at": "2027-03-12T10:00:00Z",
                "read_at": "2027-03-14T10:30:00Z",
                "result": "clear",
                "pigment_batch": "B-2231",
            },
            "pigments": [{
                "batch": "B-2231",
                "label": {
                    "statement": "yes",
                    "ingredients": "yes",
                    "nickel_notice": "no",
                    "chromium_notice": "no",
                    "safety_instructions": "yes",
                },
            }],
        })),
        Stop::of(list_appointment_checks()).asks("booking_ref=booking-2027-0311"),
        Stop::of(get_appointment_check()).at(CHECK),
        Stop::of(get_check_summary()).at(CHECK),
        Stop::of(get_check_sheet()).at(CHECK).asks("for=studio"),
        Stop::of(get_day_sheet()).at("2027-04-06"),
        Stop::of(replay_appointment_check()).at(CHECK),
    ]
}
