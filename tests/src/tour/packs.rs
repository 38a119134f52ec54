//! Packs. They come last: what is kept here changes what is computed after.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

pub(super) fn stops() -> Vec<Stop> {
    let mut all = kept();
    all.extend(taken_away());
    all
}

fn kept() -> Vec<Stop> {
    vec![
        Stop::of(dry_run_rules_pack()).at("house").sends(json!({
            "pack": {
                "tighten": [
                    {
                        "rule": "cold_sore_history",
                        "verdict": "refer",
                        "refer_to": "prescriber",
                    },
                ],
            },
        })),
        Stop::of(put_rules_pack()).at("house").sends(json!({
            "version": "2027-03",
            "about": "What this studio asks beyond the usual.",
            "question": [{ "id": "marathon_soon", "kind": "yes_no" }],
            "rule": [{
                "id": "marathon",
                "when": [{ "yes": "marathon_soon" }],
                "verdict": "proceed_with_conditions",
                "basis": {
                    "condition": {
                        "sources": ["common-practice"],
                        "evidence": "common_practice",
                        "confidence": "low",
                    },
                },
            }],
            "tighten": [{ "rule": "isotretinoin_recent", "period": "P12M" }],
            "texts": {
                "question.marathon_soon.ask": {
                    "en": "Do you run a long race in the next two weeks?",
                },
                "question.marathon_soon.why": { "en": "Sweat disturbs healing." },
                "rule.marathon.because": { "en": "Sweat disturbs healing." },
                "rule.marathon.say": {
                    "en": "Plan the visit after the race.",
                    "de": "Den Termin nach dem Lauf planen.",
                },
            },
        })),
        Stop::of(put_label_spellings_pack()).at("supplier-north").sends(json!({
            "about": "How the northern supplier writes.",
            "code": [{ "text": "LN", "grouping": "round_liner" }],
            "noise": ["ZETA"],
        })),
        Stop::of(put_aftercare_pack()).at("house").sends(json!({
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
        })),
        Stop::of(list_packs()),
        Stop::of(get_rules_pack()).at("house"),
        Stop::of(get_label_spellings_pack()).at("supplier-north"),
        Stop::of(get_aftercare_pack()).at("house"),
    ]
}

/// Packs of other names, so that those above stay.
fn taken_away() -> Vec<Stop> {
    let body = json!({ "about": "No longer wanted.", "enabled": false });
    vec![
        Stop::of(put_rules_pack()).at("old").sends(body.clone()).prepares(),
        Stop::of(delete_rules_pack()).at("old").if_match("put_rules_pack"),
        Stop::of(put_label_spellings_pack()).at("old").sends(body.clone()).prepares(),
        Stop::of(delete_label_spellings_pack()).at("old").if_match("put_label_spellings_pack"),
        Stop::of(put_aftercare_pack()).at("old").sends(body).prepares(),
        Stop::of(delete_aftercare_pack()).at("old").if_match("put_aftercare_pack"),
    ]
}
