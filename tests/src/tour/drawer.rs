//! The drawer: lots, and what a recall needs.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

/// The lot that later stops use.
const LOT: (&str, &str) = ("receive_lot", "/id");

pub(super) fn stops() -> Vec<Stop> {
    let flats = json!({
        "text": "0.30 mm 5F\nLOT C1180\nEXP 2028-11-30\nSTERILE EO",
        "packs": 10,
        "maker": "supplier-2",
    });
    let shaders = json!({
        "text": "0.30 mm 3RS Long Taper\nLOT B4412\nEXP 2029-06-30\nSTERILE EO",
        "packs": 20,
        "maker": "supplier-1",
    });
    vec![
        Stop::of(receive_lot()).sends(flats).prepares(),
        Stop::of(receive_lot()).sends(shaders),
        Stop::of(receive_delivery()).sends(json!({ "lots": [
                {
                    "text": "0.25 3RL LOT N7 EXP 2029-01-31 STERILE EO",
                    "packs": 5,
                    "maker": "supplier-3",
                },
                { "text": "0.25 5RS LOT N8", "packs": 5, "maker": "supplier-3" },
            ] })),
        Stop::of(confirm_lots()).with(|tour| {
            json!({
                "by": "artist-1",
                "confirmed": { "sterile": true, "expires_on": "2029-01-31" },
                "lots": [{ "lot_id": tour.text("receive_delivery", "/outcomes/1/lot/id") }],
            })
        }),
        Stop::of(put_supplier_habit()).at("supplier-3").sends(json!({
            "maker": "supplier-3", "month": "last_day", "sterile": true,
            "confirmed_by": "artist-1", "note": "letter of 2027-01-04",
        })),
        Stop::of(get_supplier_habit()).at("supplier-3"),
        Stop::of(list_supplier_habits()).asks("limit=10"),
        // Another one, so that the first stays.
        Stop::of(put_supplier_habit())
            .at("supplier-old")
            .sends(json!({
                "maker": "supplier-old",
                "month": "last_day_before",
                "confirmed_by": "artist-1",
            }))
            .prepares(),
        Stop::of(patch_supplier_habit())
            .at("supplier-old")
            .sends(json!({ "note": "as their price list says" }))
            .if_match("put_supplier_habit"),
        Stop::of(delete_supplier_habit()).at("supplier-old").if_match("patch_supplier_habit"),
        Stop::of(list_lots()).asks("state=usable&limit=10"),
        Stop::of(get_lot()).at(LOT),
        Stop::of(adjust_lot())
            .at(LOT)
            .sends(json!({ "change": -1, "reason": "practice", "note": "for a drill" })),
    ]
}

/// After treatments and checks, since a recalled lot serves neither.
pub(super) fn recalls() -> Vec<Stop> {
    vec![
        Stop::of(recall_lot())
            .at(LOT)
            .sends(json!({ "reason": "sterile barrier may be broken; notice of 2027-03-15" })),
        Stop::of(recall_lots()).sends(json!({
            "lot": "C1180",
            "maker": "supplier-2",
            "reason": "sterility not shown; notice of 2027-03-16",
        })),
        Stop::of(list_recalls()).asks("limit=1"),
        Stop::of(get_recall()).at(("recall_lots", "/id")),
        Stop::of(find_exposures()).asks("lot=B4412&maker=supplier-1"),
        Stop::of(list_exposures()).at(LOT),
    ]
}
