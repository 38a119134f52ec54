//! Practice and sign-offs.

use serde_json::{Value, json};

use super::{Stop, Tour};
use crate::scans::scanned;
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

/// A drawn sheet of 44 × 36 mm at 150 pixels an inch, PNG in base64: `craft` draws it.
const SHEET: &str = include_str!("../../data/sheets/small.png.base64");

fn sheet_of(tour: &Tour) -> String {
    format!("/v1/practice-sheets/{}", tour.text("make_practice_sheet", "/id"))
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
    let sheet = json!({ "artist_ref": "student-03", "drills": drills() });
    let handed_in = json!({ "panels": [
        { "panel": 1, "values": worked["values"] },
    ] });
    let marks = json!({
        "panels": [{ "panel": 1, "marks": worked["marks"] }],
        "note": "A steady hand; the stretch let go at the end.",
    });
    let read = json!({
        "card": { "width_mm": 44.0, "height_mm": 36.0, "panels": [
            {
                "drill": "single_dots", "left_mm": 10.0, "top_mm": 11.0, "width_mm": 24.0,
                "height_mm": 3.0, "spacing_mm": 2.0,
            },
            {
                "drill": "straight_strokes", "left_mm": 11.0, "top_mm": 15.0, "width_mm": 14.0,
                "height_mm": 10.0, "spacing_mm": 2.0, "length_mm": 8.0, "line_mm": 0.3,
            },
        ] },
        "picture": SHEET.trim(),
    });
    vec![
        Stop::new("make_drills", |_| Request::post("/v1/drills", &drills())),
        Stop::new("grade_drill", move |_| Request::post("/v1/drill-grades", &worked)),
        Stop::new("put_artist", move |_| Request::put("/v1/artists/student-03", &student))
            .prepares(),
        Stop::new("read_sheet", move |_| Request::post("/v1/sheet-readings", &read)),
        Stop::new("make_practice_sheet", move |_| Request::post("/v1/practice-sheets", &sheet)),
        Stop::new("hand_in_practice_sheet", move |tour| {
            Request::post(format!("{}/attempts", sheet_of(tour)), &handed_in)
        }),
        Stop::new("get_practice_sheet", |tour| {
            Request::get(sheet_of(tour)).header("Accept", "image/svg+xml")
        })
        .prepares(),
        Stop::new("hand_in_practice_picture", |tour| {
            let svg = tour.latest("get_practice_sheet").text();
            let picture = scanned(&svg, 150.0, |_| 0.0);
            let body = json!({ "bar_mm": 99.5, "picture": picture });
            Request::post(format!("{}/pictures", sheet_of(tour)), &body)
        }),
        Stop::new("mark_practice_sheet", move |tour| {
            Request::post(format!("{}/marks", sheet_of(tour)), &marks)
        }),
        Stop::new("get_practice_sheet", |tour| Request::get(sheet_of(tour))),
        Stop::new("list_practice_sheets", |_| {
            Request::get("/v1/practice-sheets?artist_ref=student-03")
        }),
        Stop::new("get_practice_progress", |_| {
            Request::get("/v1/artists/student-03/progress?effect=soft_shading&site=brow")
        }),
        Stop::new("give_sign_off", move |_| Request::post("/v1/sign-offs", &sign_off)),
        Stop::new("list_sign_offs", |_| Request::get("/v1/sign-offs?artist_ref=student-03")),
        Stop::new("get_sign_off", |tour| Request::get(one(tour))),
        Stop::new("withdraw_sign_off", |tour| {
            let body =
                json!({ "reason": "A healed result was patchy; practise the stretch again." });
            Request::post(format!("{}/withdrawals", one(tour)), &body)
        }),
        Stop::new("get_practice_dossier", |_| Request::get("/v1/artists/student-03/practice")),
        Stop::new("erase_practice", |_| Request::new("DELETE", "/v1/artists/student-03/practice")),
    ]
}
