//! Practice and sign-offs.

use etui_schema::endpoints::*;
use serde_json::{Value, json};

use super::Stop;
use crate::scans::scanned;

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

const SHEET_ID: (&str, &str) = ("make_practice_sheet", "/id");

const SIGN_OFF: (&str, &str) = ("give_sign_off", "/id");

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
        Stop::of(make_drills()).sends(drills()),
        Stop::of(grade_drill()).sends(worked),
        Stop::of(put_artist()).at("student-03").sends(student).prepares(),
        Stop::of(read_sheet()).sends(read),
        Stop::of(make_practice_sheet()).sends(sheet),
        Stop::of(hand_in_practice_sheet()).at(SHEET_ID).sends(handed_in),
        Stop::of(get_practice_sheet()).at(SHEET_ID).accept("image/svg+xml").prepares(),
        Stop::of(hand_in_practice_picture()).at(SHEET_ID).with(|tour| {
            json!({
                "bar_mm": 99.5,
                "picture": scanned(&tour.latest("get_practice_sheet").text(), 150.0, |_| 0.0),
            })
        }),
        Stop::of(mark_practice_sheet()).at(SHEET_ID).sends(marks),
        Stop::of(get_practice_sheet()).at(SHEET_ID),
        Stop::of(list_practice_sheets()).asks("artist_ref=student-03"),
        Stop::of(get_practice_progress()).at("student-03").asks("effect=soft_shading&site=brow"),
        Stop::of(give_sign_off()).sends(sign_off),
        Stop::of(list_sign_offs()).asks("artist_ref=student-03"),
        Stop::of(get_sign_off()).at(SIGN_OFF),
        Stop::of(withdraw_sign_off())
            .at(SIGN_OFF)
            .sends(json!({ "reason": "A healed result was patchy; practise the stretch again." })),
        Stop::of(get_practice_dossier()).at("student-03"),
        Stop::of(erase_practice()).at("student-03"),
    ]
}
