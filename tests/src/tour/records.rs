//! Clients, artists and machines.

use serde_json::json;

use super::Stop;
use crate::wire::Request;

const CLIENT: &str = "/v1/clients/client-0042";
const ERASED: &str = "/v1/clients/client-0007";
const ARTIST: &str = "/v1/artists/artist-07";
const MACHINE: &str = "/v1/machines/liner-1";
/// Those that are taken away again.
const LEFT: &str = "/v1/artists/artist-03";
const SOLD: &str = "/v1/machines/liner-0";

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::new("put_client", |tour| {
            let body = json!({
                "born_on": "1984-05-02",
                "skin": { "phototype": "III", "oiliness": "combination", "thickness": "normal" },
                "answers": super::screening::healthy(tour, &[("cold_sore_history", json!(true))]),
                "language": "en",
                "zone": "Europe/Berlin",
            });
            Request::put(CLIENT, &body)
        }),
        Stop::new("get_client", |_| Request::get(CLIENT)),
        Stop::new("patch_client", |tour| {
            let patch = json!({ "skin": { "sensitivity": "normal" } });
            Request::merge(CLIENT, &patch).header("If-Match", tour.etag("get_client"))
        }),
        Stop::new("list_clients", |_| Request::get("/v1/clients?limit=10")),
        Stop::new("put_client", |_| Request::put(ERASED, &json!({ "born_on": "1990-01-31" })))
            .prepares(),
        Stop::new("erase_client", |tour| {
            Request::new("DELETE", ERASED).header("If-Match", tour.etag("put_client"))
        }),
        Stop::new("put_artist", |_| {
            let body = json!({
                "hand": "medium",
                "practice": [{
                    "configuration": { "diameter_mm": 0.2, "count": 1, "grouping": "round_liner" },
                    "on": "2027-02-20",
                    "signed_off_by": "trainer-01",
                }],
            });
            Request::put(ARTIST, &body)
        }),
        Stop::new("get_artist", |_| Request::get(ARTIST)),
        Stop::new("put_artist", |_| Request::put(LEFT, &json!({ "hand": "light" }))).prepares(),
        Stop::new("patch_artist", |tour| {
            let patch = json!({ "hand": "heavy" });
            Request::merge(LEFT, &patch).header("If-Match", tour.etag("put_artist"))
        }),
        Stop::new("list_artists", |_| Request::get("/v1/artists?limit=10")),
        Stop::new("delete_artist", |tour| {
            Request::new("DELETE", LEFT).header("If-Match", tour.etag("patch_artist"))
        }),
        Stop::new("put_machine", |_| {
            Request::put(MACHINE, &json!({ "stroke_mm": 3.5, "rate_hz": 110.0, "give": "medium" }))
        }),
        Stop::new("get_machine", |_| Request::get(MACHINE)),
        Stop::new("put_machine", |_| {
            Request::put(SOLD, &json!({ "stroke_mm": 3.0, "rate_hz": 90.0, "give": "soft" }))
        })
        .prepares(),
        Stop::new("patch_machine", |tour| {
            let patch = json!({ "rate_hz": 100.0 });
            Request::merge(SOLD, &patch).header("If-Match", tour.etag("put_machine"))
        }),
        Stop::new("list_machines", |_| Request::get("/v1/machines?limit=10")),
        Stop::new("delete_machine", |tour| {
            Request::new("DELETE", SOLD).header("If-Match", tour.etag("patch_machine"))
        }),
    ]
}

/// After everything that a dossier shows.
pub(super) fn dossiers() -> Vec<Stop> {
    vec![
        Stop::new("get_hand_profile", |_| Request::get("/v1/hand-profiles/artist-07")),
        Stop::new("get_dossier", |_| Request::get(format!("{CLIENT}/dossier"))),
    ]
}
