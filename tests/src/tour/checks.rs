//! The pre-appointment check.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

const PATH: &str = "/v1/appointment-checks";

pub(super) fn stops() -> Vec<Stop> {
    let made =
        |tour: &super::Tour| format!("{PATH}/{}", tour.text("create_appointment_check", "/id"));
    vec![
        Stop::new("create_appointment_check", |_| {
            let body = json!({
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
            });
            Request::post(PATH, &body)
        }),
        Stop::new("list_appointment_checks", |_| {
            Request::get(format!("{PATH}?booking_ref=booking-2027-0311"))
        }),
        Stop::new("get_appointment_check", move |tour| Request::get(made(tour))),
        Stop::new("get_check_summary", move |tour| Request::get(format!("{}/summary", made(tour)))),
        Stop::new("get_check_sheet", move |tour| {
            Request::get(format!("{}/sheet?for=studio", made(tour)))
        }),
        Stop::new("get_day_sheet", |_| Request::get("/v1/day-sheets/2027-04-06")),
        Stop::new("replay_appointment_check", move |tour| {
            Request::new("POST", format!("{}/replays", made(tour)))
        }),
    ]
}
