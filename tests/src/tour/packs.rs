//! Packs. They come last: what is kept here changes what is computed after.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

const RULES: &str = "/v1/packs/rules/house";
const SPELLINGS: &str = "/v1/packs/label-spellings/supplier-north";
const AFTERCARE: &str = "/v1/packs/aftercare/house";

pub(super) fn stops() -> Vec<Stop> {
    let mut all = kept();
    all.extend(taken_away());
    all
}

fn kept() -> Vec<Stop> {
    vec![
        Stop::new("dry_run_rules_pack", |_| {
            let pack = json!({ "tighten": [{ "rule": "cold_sore_history", "verdict": "refer", "refer_to": "prescriber" }] });
            Request::post(format!("{RULES}/dry-runs"), &json!({ "pack": pack }))
        }),
        Stop::new("put_rules_pack", |_| {
            let grounds = json!({ "sources": ["common-practice"], "evidence": "common_practice", "confidence": "low" });
            let body = json!({
                "version": "2027-03",
                "about": "What this studio asks beyond the usual.",
                "question": [{ "id": "marathon_soon", "kind": "yes_no" }],
                "rule": [{
                    "id": "marathon",
                    "when": [{ "yes": "marathon_soon" }],
                    "verdict": "proceed_with_conditions",
                    "basis": { "condition": grounds },
                }],
                "tighten": [{ "rule": "isotretinoin_recent", "period": "P12M" }],
                "texts": {
                    "question.marathon_soon.ask": { "en": "Do you run a long race in the next two weeks?" },
                    "question.marathon_soon.why": { "en": "Sweat disturbs healing." },
                    "rule.marathon.because": { "en": "Sweat disturbs healing." },
                    "rule.marathon.say": { "en": "Plan the visit after the race.", "de": "Den Termin nach dem Lauf planen." },
                },
            });
            Request::put(RULES, &body)
        }),
        Stop::new("put_label_spellings_pack", |_| {
            let body = json!({
                "about": "How the northern supplier writes.",
                "code": [{ "text": "LN", "grouping": "round_liner" }],
                "noise": ["ZETA"],
            });
            Request::put(SPELLINGS, &body)
        }),
        Stop::new("put_aftercare_pack", |_| {
            let body = json!({
                "step": [{
                    "key": "house_balm",
                    "kind": "do",
                    "treatments": ["brows", "lips"],
                    "from_day": 1,
                    "to_day": 7,
                    "message": true,
                    "text": { "en": "Use a thin layer of the balm we gave you for {days} days." },
                    "sources": { "days": "common-practice", "text": "common-practice" },
                }],
            });
            Request::put(AFTERCARE, &body)
        }),
        Stop::new("list_packs", |_| Request::get("/v1/packs")),
        Stop::new("get_rules_pack", |_| Request::get(RULES)),
        Stop::new("get_label_spellings_pack", |_| Request::get(SPELLINGS)),
        Stop::new("get_aftercare_pack", |_| Request::get(AFTERCARE)),
    ]
}

/// Packs of other names, so that those above stay.
fn taken_away() -> Vec<Stop> {
    [
        ("put_rules_pack", "delete_rules_pack", "/v1/packs/rules/old"),
        (
            "put_label_spellings_pack",
            "delete_label_spellings_pack",
            "/v1/packs/label-spellings/old",
        ),
        ("put_aftercare_pack", "delete_aftercare_pack", "/v1/packs/aftercare/old"),
    ]
    .into_iter()
    .flat_map(|(put, delete, path)| {
        let body = json!({ "about": "No longer wanted.", "enabled": false });
        [
            Stop::new(put, move |_| Request::put(path, &body)).prepares(),
            Stop::new(delete, move |tour| {
                Request::new("DELETE", path).header("If-Match", tour.etag(put))
            }),
        ]
    })
    .collect()
}
