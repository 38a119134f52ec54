//! What was used on whom.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

/// The treatment that later stops use.
pub(super) const TREATMENT: (&str, &str) = ("record_treatment", "/id");

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(record_treatment()).with(|tour| {
            json!({
                "client_ref": "client-0042",
                "artist_ref": "artist-07",
                "machine_ref": "liner-1",
                "treatment": "lips",
                "effect": "soft_shading",
                "performed_at": "2027-03-16T07:30:00Z",
                "zone": "Europe/Berlin",
                "packs": [
                    {
                        "lot_id": tour.text("receive_lot", "/id"),
                        "intact": true,
                        "site": "lip",
                    },
                ],
                "worked": { "hand": "medium", "passes": 2 },
            })
        }),
        Stop::of(record_observation())
            .at(TREATMENT)
            .sends(json!({ "signs": ["weeping"], "pack": 0 })),
        Stop::of(get_observation()).at(TREATMENT).at(("record_observation", "/id")),
        Stop::of(keep_symptom_report()).at(TREATMENT).sends(json!({
            "symptoms": [{ "kind": "swelling", "severity": "mild", "trend": "better" }],
            "country": "DE",
        })),
        Stop::of(settle_symptom_report())
            .at(TREATMENT)
            .at(("keep_symptom_report", "/id"))
            .sends(json!({ "settled_by": "Ada", "note": "Seen in the studio, going down." })),
        Stop::of(get_symptom_report()).at(TREATMENT).at(("keep_symptom_report", "/id")),
        Stop::of(countersign_treatment())
            .at(TREATMENT)
            .sends(json!({ "note": "In the room from start to end." })),
        Stop::of(get_countersignature()).at(TREATMENT).at(("countersign_treatment", "/id")),
        Stop::of(record_review()).at(TREATMENT).sends(json!({
            "zones": [
                { "zone": "upper_lip", "kept": "from_75" },
                { "zone": "lip_border", "kept": "from_25_to_50" },
            ],
            "colour": "as_planned",
            "surface": "smooth",
        })),
        Stop::of(get_review()).at(TREATMENT).at(("record_review", "/id")),
        Stop::of(amend_treatment()).at(TREATMENT).with(|tour| {
            json!({
                "reason": "a second pack was opened for the border",
                "values": { "worked": { "hand": "light", "passes": 2 } },
                "add_packs": [
                    {
                        "lot_id": tour.text("receive_lot", "/id"),
                        "intact": true,
                        "site": "lip",
                    },
                ],
            })
        }),
        Stop::of(get_amendment()).at(TREATMENT).at(("amend_treatment", "/id")),
        Stop::of(list_observations()).at(TREATMENT),
        Stop::of(list_symptom_reports()).at(TREATMENT),
        Stop::of(list_countersignatures()).at(TREATMENT),
        Stop::of(list_reviews()).at(TREATMENT),
        Stop::of(list_amendments()).at(TREATMENT),
        Stop::of(list_treatments()).asks("client_ref=client-0042"),
        Stop::of(get_treatment()).at(TREATMENT),
    ]
}
