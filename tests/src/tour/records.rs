//! Artists and machines.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

const ARTIST: &str = "/v1/artists/artist-07";
const MACHINE: &str = "/v1/machines/liner-1";

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::new("put_artist", |_| {
            let body = json!({
                "hand": "medium",
                "practice": [{
                    "configuration": { "diameter_mm": 0.2, "count": 1, "grouping": "round_liner" },
                    "on": "2027-02-20",
                    "signed_off_by": "trainer-01",
                }],
            });
            Request::put(ARTIST, &body)
        }),
        Stop::new("get_artist", |_| Request::get(ARTIST)),
        Stop::new("put_machine", |_| {
            Request::put(MACHINE, &json!({ "stroke_mm": 3.5, "rate_hz": 110.0, "give": "medium" }))
        }),
        Stop::new("get_machine", |_| Request::get(MACHINE)),
    ]
}
