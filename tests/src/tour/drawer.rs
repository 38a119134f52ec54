//! The drawer: lots, and what a recall needs.

use serde_json::json;

use super::{Stop, Tour};
use crate::wire::Request;

/// The lot that later stops use.
fn lot(tour: &Tour) -> String {
    format!("/v1/lots/{}", tour.text("receive_lot", "/id"))
}

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
        Stop::new("receive_lot", move |_| Request::post("/v1/lots", &flats)).prepares(),
        Stop::new("receive_lot", move |_| Request::post("/v1/lots", &shaders)),
        Stop::new("receive_delivery", |_| {
            let lots = json!([
                { "text": "0.25 3RL LOT N7 EXP 2029-01-31 STERILE EO", "packs": 5, "maker": "supplier-3" },
                { "text": "0.25 5RS LOT N8", "packs": 5, "maker": "supplier-3" },
            ]);
            Request::post("/v1/deliveries", &json!({ "lots": lots }))
        }),
        Stop::new("confirm_lots", |tour| {
            let lot_id = tour.text("receive_delivery", "/outcomes/1/lot/id");
            let said = json!({ "sterile": true, "expires_on": "2029-01-31" });
            let body =
                json!({ "by": "artist-1", "confirmed": said, "lots": [{ "lot_id": lot_id }] });
            Request::post("/v1/lot-confirmations", &body)
        }),
        Stop::new("put_supplier_habit", |_| {
            let body = json!({
                "maker": "supplier-3", "month": "last_day", "sterile": true,
                "confirmed_by": "artist-1", "note": "letter of 2027-01-04",
            });
            Request::put("/v1/supplier-habits/supplier-3", &body)
        }),
        Stop::new("get_supplier_habit", |_| Request::get("/v1/supplier-habits/supplier-3")),
        Stop::new("list_supplier_habits", |_| Request::get("/v1/supplier-habits?limit=10")),
        // Another one, so that the first stays.
        Stop::new("put_supplier_habit", |_| {
            let body =
                json!({ "maker": "supplier-old", "month": "last_day_before", "confirmed_by": "artist-1" });
            Request::put("/v1/supplier-habits/supplier-old", &body)
        })
        .prepares(),
        Stop::new("patch_supplier_habit", |tour| {
            let patch = json!({ "note": "as their price list says" });
            Request::merge("/v1/supplier-habits/supplier-old", &patch)
                .header("If-Match", tour.etag("put_supplier_habit"))
        }),
        Stop::new("delete_supplier_habit", |tour| {
            let request = Request::new("DELETE", "/v1/supplier-habits/supplier-old");
            request.header("If-Match", tour.etag("patch_supplier_habit"))
        }),
        Stop::new("list_lots", |_| Request::get("/v1/lots?state=usable&limit=10")),
        Stop::new("get_lot", |tour| Request::get(lot(tour))),
        Stop::new("adjust_lot", |tour| {
            let body = json!({ "change": -1, "reason": "practice", "note": "for a drill" });
            Request::post(format!("{}/adjustments", lot(tour)), &body)
        }),
    ]
}

/// After treatments and checks, since a recalled lot serves neither.
pub(super) fn recalls() -> Vec<Stop> {
    vec![
        Stop::new("recall_lot", |tour| {
            let body = json!({ "reason": "sterile barrier may be broken; notice of 2027-03-15" });
            Request::post(format!("{}/recalls", lot(tour)), &body)
        }),
        Stop::new("recall_lots", |_| {
            let body = json!({
                "lot": "C1180",
                "maker": "supplier-2",
                "reason": "sterility not shown; notice of 2027-03-16",
            });
            Request::post("/v1/recalls", &body)
        }),
        Stop::new("list_recalls", |_| Request::get("/v1/recalls?limit=1")),
        Stop::new("get_recall", |tour| {
            Request::get(format!("/v1/recalls/{}", tour.text("recall_lots", "/id")))
        }),
        Stop::new("find_exposures", |_| Request::get("/v1/exposures?lot=B4412&maker=supplier-1")),
        Stop::new("list_exposures", |tour| Request::get(format!("{}/exposures", lot(tour)))),
    ]
}
