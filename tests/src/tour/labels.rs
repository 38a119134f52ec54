//! Packets: print and symbol.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

pub(super) fn stops() -> Vec<Stop> {
    vec![Stop::of(read_labels()).sends(json!({
        "as_of": "2026-11-25",
        "labels": [
            {
                "text": "1203RLST LOT 23A114 EXP 2027-08 STERILE EO",
                "symbol": "]d20109521234543213172708311023A114",
            },
            { "text": "3RL10" },
        ],
    }))]
}
