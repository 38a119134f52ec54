//! What was used on whom.

use etui_schema::endpoints::*;
use serde_json::json;

use super::Stop;

/// The treatment that later stops use.
pub(super) const TREATMENT: (&str, &str) = ("record_treatment", "/id");

/// The stops of each kind of entry: those that make one like its row says, and those that read.
macro_rules! of_entries {
    ([] $($(#[$of:meta])* $member:ident $name:ident $types:tt [$make:ident $get:ident $list:ident] {
        $path:literal $scope:tt $(#[$doc:meta])* $says:literal $more:literal $made:literal
        $speaks:tt $short:tt $one:literal $a:literal $the:literal $all:literal $page:literal $(like $like:tt)?
    })*) => { (
        vec![$($(Stop::of($make()).at(TREATMENT).sends(json!($like)),)?)*],
        [$(
            Stop::of($get()).at(TREATMENT).at((stringify!($make), "/id")),
            Stop::of($list()).at(TREATMENT),
        )*],
    ) };
}

pub(super) fn stops() -> Vec<Stop> {
    let (made, read) = etui_schema::entries!(of_entries);
    let mut stops = vec![Stop::of(record_treatment()).with(|tour| {
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
    })];
    for stop in made {
        let reports = stop.at.id == keep_symptom_report().at.id;
        stops.push(stop);
        if reports {
            stops.push(
                Stop::of(settle_symptom_report())
                    .at(TREATMENT)
                    .at(("keep_symptom_report", "/id"))
                    .sends(
                        json!({ "settled_by": "Ada", "note": "Seen in the studio, going down." }),
                    ),
            );
        }
    }
    stops.extend([
        Stop::of(record_review()).at(TREATMENT).sends(json!({
            "zones": [
                { "zone": "upper_lip", "kept": "from_75" },
                { "zone": "lip_border", "kept": "from_25_to_50" },
            ],
            "colour": "as_planned",
            "surface": "smooth",
        })),
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
    ]);
    stops.extend(read);
    stops.extend([
        Stop::of(list_treatments()).asks("client_ref=client-0042"),
        Stop::of(get_treatment()).at(TREATMENT),
    ]);
    stops
}
