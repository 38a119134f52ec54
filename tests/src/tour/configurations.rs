//! Configurations side by side, drawn, chosen, and as patterns.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(compare_configurations()).sends(json!({
            "configurations": [
                { "label": "0.20 1RL" },
                { "diameter_mm": 0.3, "count": 3, "grouping": "round_shader", "taper": "long" },
            ],
            "setting": {
                "hand": "medium",
                "machine": { "stroke_mm": 2.5, "rate_hz": 100.0, "give": "medium" },
                "site": "brow",
                "depth_mm": 0.4,
                "hand_speed_mm_s": 20.0,
            },
        })),
        Stop::of(draw_configurations()).asks("label=0.20+1RL&label=0.30+3RS&format=svg"),
        Stop::of(select_needles()).sends(json!({
            "treatment": "brows",
            "effect": "hair_strokes",
            "setting": {
                "hand": "heavy",
                "machine": { "stroke_mm": 3.5, "give": "firm" },
                "skin": { "age_years": 68, "oiliness": "dry", "thickness": "fine" },
            },
            "candidates": [
                { "label": "0.18 1RL" },
                { "label": "0.20 3RL" },
                { "label": "0.30 1RL" },
                { "diameter_mm": 0.3, "count": 9, "grouping": "woven_magnum" },
            ],
        })),
        Stop::of(simulate_pattern()).sends(json!({
            "configuration": { "label": "0.25 1RL" },
            "setting": { "site": "brow", "hand_speed_mm_s": 10.0 },
            "path": { "length_mm": 8.0, "bend_degrees": 40.0 },
            "passes": 2,
            "seed": 7,
        })),
    ]
}
