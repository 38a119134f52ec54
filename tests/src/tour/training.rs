//! Practice and sign-offs.

use serde_json::{Value, json};

use super::{Stop, Tour};
use crate::wire::Request;

fn drills() -> Value {
    json!({
        "configuration": { "diameter_mm": 0.2, "count": 1, "grouping": "round_liner" },
        "effect": "hair_strokes",
        "site": "brow",
        "level": "working",
        "seed": 7,
        "mark_mm": 0.1,
    })
}

fn one(tour: &Tour) -> String {
    format!("/v1/sign-offs/{}", tour.text("give_sign_off", "/id"))
}

pub(super) fn stops() -> Vec<Stop> {
    let student = json!({ "hand": "light", "standing": "student" });
    let worked = json!({
        "drills": drills(),
        "panel": 1,
        "values": [
            { "quantity": "count", "got": 20 },
            { "quantity": "doubled", "got": 0 },
            { "quantity": "mark_mm", "got": 0.105 },
        ],
        "marks": { "depth": "good", "stretch": "fair", "tears": "good" },
    });
    let sign_off = json!({
        "artist_ref": "student-03",
        "covers": {
            "grouping": "round_liner",
            "count": 1,
            "diameter_mm": { "from": 0.18, "to": 0.25 },
            "effect": "hair_strokes",
            "site": "brow",
        },
        "rung": "under_eye",
        "valid_until": "2027-09-30",
        "note": "Six sheets seen; stretch is steady.",
    });
    vec![
        Stop::new("make_drills", |_| Request::post("/v1/drills", &drills())),
        Stop::new("grade_drill", move |_| Request::post("/v1/drill-grades", &worked)),
        Stop::new("put_artist", move |_| Request::put("/v1/artists/student-03", &student))
            .prepares(),
        Stop::new("give_sign_off", move |_| Request::post("/v1/sign-offs", &sign_off)),
        Stop::new("list_sign_offs", |_| Request::get("/v1/sign-offs?artist_ref=student-03")),
        Stop::new("get_sign_off", |tour| Request::get(one(tour))),
        Stop::new("withdraw_sign_off", |tour| {
            let body =
                json!({ "reason": "A healed result was patchy; practise the stretch again." });
            Request::post(format!("{}/withdrawals", one(tour)), &body)
        }),
    ]
}
