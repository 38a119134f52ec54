//! Clients, artists and machines.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

const CLIENT: &str = "client-0042";
const ERASED: &str = "client-0007";
const ARTIST: &str = "artist-07";
const MACHINE: &str = "liner-1";
/// Those that are taken away again.
const LEFT: &str = "artist-03";
const SOLD: &str = "liner-0";

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(put_client()).at(CLIENT).with(|tour| {
            json!({
                "born_on": "1984-05-02",
                "skin": { "phototype": "III", "oiliness": "combination", "thickness": "normal" },
                "answers": super::screening::healthy(tour, &[("cold_sore_history", json!(true))]),
                "language": "en",
                "zone": "Europe/Berlin",
            })
        }),
        Stop::of(get_client()).at(CLIENT),
        Stop::of(patch_client())
            .at(CLIENT)
            .sends(json!({ "skin": { "sensitivity": "normal" } }))
            .if_match("get_client"),
        Stop::of(list_clients()).asks("limit=10"),
        Stop::of(put_client()).at(ERASED).sends(json!({ "born_on": "1990-01-31" })).prepares(),
        Stop::of(erase_client()).at(ERASED).if_match("put_client"),
        Stop::of(put_artist()).at(ARTIST).sends(json!({
            "hand": "medium",
            "practice": [{
                "configuration": { "diameter_mm": 0.2, "count": 1, "grouping": "round_liner" },
                "on": "2027-02-20",
                "signed_off_by": "trainer-01",
            }],
        })),
        Stop::of(get_artist()).at(ARTIST),
        Stop::of(put_artist()).at(LEFT).sends(json!({ "hand": "light" })).prepares(),
        Stop::of(patch_artist()).at(LEFT).sends(json!({ "hand": "heavy" })).if_match("put_artist"),
        Stop::of(list_artists()).asks("limit=10"),
        Stop::of(delete_artist()).at(LEFT).if_match("patch_artist"),
        Stop::of(put_machine())
            .at(MACHINE)
            .sends(json!({ "stroke_mm": 3.5, "rate_hz": 110.0, "give": "medium" })),
        Stop::of(get_machine()).at(MACHINE),
        Stop::of(put_machine())
            .at(SOLD)
            .sends(json!({ "stroke_mm": 3.0, "rate_hz": 90.0, "give": "soft" }))
            .prepares(),
        Stop::of(patch_machine())
            .at(SOLD)
            .sends(json!({ "rate_hz": 100.0 }))
            .if_match("put_machine"),
        Stop::of(list_machines()).asks("limit=10"),
        Stop::of(delete_machine()).at(SOLD).if_match("patch_machine"),
    ]
}

/// After everything that a dossier shows.
pub(super) fn dossiers() -> Vec<Stop> {
    vec![Stop::of(get_hand_profile()).at(ARTIST), Stop::of(get_dossier()).at(CLIENT)]
}
