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

/// Last: with the first of them the studio is a chain, and its records say where they are.
pub(super) fn branches() -> Vec<Stop> {
    let hours = json!([{ "day": "saturday", "from": "10:00", "until": "16:00" }]);
    let harbour = json!({
        "name": "Harbour", "zone": "Europe/Lisbon", "country": "PT", "hours": hours,
        "closed_days": ["2027-12-24"], "numbers": { "artist": "the studio, 210 000 000" },
    });
    let more = json!({ "text": "0.25 3RL LOT N9 EXP 2029-01-31 STERILE EO", "packs": 12 });
    vec![
        Stop::of(put_branch()).at("closing").sends(json!({ "name": "Old town" })).prepares(),
        Stop::of(delete_branch()).at("closing").if_match("put_branch"),
        Stop::of(put_branch()).at("harbour").sends(harbour),
        Stop::of(get_branch()).at("harbour"),
        Stop::of(patch_branch())
            .at("harbour")
            .sends(json!({ "closed_days": ["2027-12-24", "2027-12-25"] }))
            .if_match("get_branch"),
        Stop::of(list_branches()).asks("limit=10"),
        Stop::of(receive_lot()).sends(more).prepares(),
        Stop::of(move_lot())
            .at(("receive_lot", "/id"))
            .sends(json!({ "branch_ref": "harbour", "packs": 5 })),
    ]
}

/// After everything that a dossier shows.
pub(super) fn dossiers() -> Vec<Stop> {
    vec![Stop::of(get_hand_profile()).at(ARTIST), Stop::of(get_dossier()).at(CLIENT)]
}
