//! At the chair, and the days after it.

use serde_json::json;

use super::{Afternoon, Played, Scene, Who};
use crate::wire::Request;

pub(super) fn afternoons() -> Vec<Afternoon> {
    vec![chair(), script()]
}

fn treated(played: &Played) -> String {
    format!("/v1/treatments/{}", played.text("treatment", "/id"))
}

fn chair() -> Afternoon {
    let setting = json!({
        "hand": "heavy",
        "machine": { "stroke_mm": 3.5, "give": "firm" },
        "skin": { "age_years": 68, "oiliness": "dry", "thickness": "fine" },
    });
    let lots = json!([
        { "text": "0.20 3RL LOT A1 EXP 2029-02-28 STERILE EO", "packs": 5, "maker": "north" },
        { "text": "0.18 1RL LOT A2 EXP 2029-02-28 STERILE EO", "packs": 5, "maker": "north" },
        { "text": "0.30 7RS LOT A3 EXP 2029-02-28 STERILE EO", "packs": 5, "maker": "north" },
        { "text": "0.25 5RS LOT A4 EXP 2029-02-28 STERILE EO", "packs": 5, "maker": "north" },
    ]);
    Afternoon {
        name: "chair",
        title: ["At the chair", "Am Stuhl"],
        scenes: vec![
            Scene::new("delivery", move |_| {
                Request::post("/v1/deliveries", &json!({ "lots": lots }))
            })
            .at("2027-03-16T13:00:00Z"),
            Scene::new("artist", |_| Request::put("/v1/artists/juna", &json!({ "hand": "heavy" }))),
            Scene::new("client", |played| {
                let body = json!({
                    "born_on": "1958-10-02", "language": played.language(),
                    "skin": { "oiliness": "dry", "thickness": "fine" },
                });
                Request::put("/v1/clients/edda", &body)
            }),
            Scene::new("choice", move |_| {
                let body = json!({
                    "treatment": "brows", "effect": "soft_shading", "setting": setting,
                    "candidates": "drawer", "limit": 3,
                });
                Request::post("/v1/needle-selections", &body)
            })
            .tells(
                [
                    "Edda is 68, her skin is fine and dry; Juna has a heavy hand and a firm machine with a stroke of \
                     3.5 mm. What of the drawer?",
                    "Edda ist 68, ihre Haut fein und trocken; Juna hat eine schwere Hand und ein hartes Gerät mit \
                     3,5 mm Hub. Was aus der Schublade?",
                ],
                &[
                    (Who::Artist, "/cautions/*/message"),
                    (
                        Who::Artist,
                        "/ranked/*/canonical+answers.effect.because+answers.hand.because+answers.skin.because",
                    ),
                    (Who::Artist, "/set_aside/*/because"),
                    (Who::Artist, "/hints/*/message"),
                    (Who::Artist, "/would_change/*/because"),
                ],
            ),
            Scene::new("treatment", |played| {
                let body = json!({
                    "client_ref": "edda", "artist_ref": "juna", "treatment": "brows", "effect": "soft_shading",
                    "performed_at": "2027-03-16T12:55:00Z", "zone": "Europe/Berlin",
                    "packs": [{
                        "lot_id": played.text("delivery", "/outcomes/2/lot/id"), "intact": true, "site": "brow",
                    }],
                    "worked": { "hand": "heavy", "passes": 2 },
                });
                Request::post("/v1/treatments", &body)
            }),
            Scene::new("weeping", |played| {
                let body = json!({ "signs": ["weeping"], "place": "brow_tail" });
                Request::post(format!("{}/observations", treated(played)), &body)
            })
            .at("2027-03-16T13:50:00Z")
            .tells(
                ["At ten to three the skin weeps at the tail.", "Um zehn vor drei nässt die Haut am Ende der Braue."],
                &[(Who::Artist, "/steps/*/change"), (Who::Artist, "/cautions/*")],
            ),
        ],
    }
}

/// A message of the first claim has arrived.
fn delivered(name: &'static str, id: &'static str) -> Scene {
    Scene::new(name, move |played| {
        let body = json!({ "claim_id": played.text("first", "/claim_id"), "outcome": "delivered" });
        Request::post(format!("/v1/reminders/{}/outcomes", played.text("first", id)), &body)
    })
}

fn script() -> Afternoon {
    Afternoon {
        name: "messages",
        title: ["The messages of the days after", "Die Nachrichten der Tage danach"],
        scenes: vec![
            Scene::new("client", |played| {
                let body = json!({ "born_on": "1988-01-20", "language": played.language() });
                Request::put("/v1/clients/tilda", &body)
            })
            .at("2027-03-16T09:00:00Z"),
            Scene::new("lot", |_| {
                let text = "0.25 5RS LOT A4 EXP 2029-02-28 STERILE EO";
                Request::post("/v1/lots", &json!({ "text": text, "packs": 5, "maker": "north" }))
            }),
            Scene::new("treatment", |played| {
                let body = json!({
                    "client_ref": "tilda", "artist_ref": "juna", "treatment": "lips", "effect": "soft_shading",
                    "performed_at": "2027-03-16T08:00:00Z", "zone": "Europe/Berlin",
                    "packs": [{ "lot_id": played.text("lot", "/id"), "intact": true, "site": "lip" }],
                });
                Request::post("/v1/treatments", &body)
            }),
            Scene::new("first", |_| {
                Request::post("/v1/reminder-claims", &json!({ "limit": 50, "lease_seconds": 600 }))
            })
            .at("2027-03-16T12:00:00Z")
            .tells(
                [
                    "A few lines of shell claim what is due; this is what Tilda reads on the first day.",
                    "Ein paar Zeilen Shell holen ab, was fällig ist; das liest Tilda am ersten Tag.",
                ],
                &[(Who::Client, "/reminders/*/text")],
            ),
            delivered("told-0", "/reminders/0/id"),
            delivered("told-1", "/reminders/1/id"),
            Scene::new("third", |_| {
                Request::post("/v1/reminder-claims", &json!({ "limit": 50, "lease_seconds": 600 }))
            })
            .at("2027-03-17T12:00:00Z")
            .tells(
                ["The day after.", "Am Tag darauf."],
                &[(Who::Client, "/reminders/*/text")],
            ),
            Scene::new("report", |played| {
                let body = json!({
                    "symptoms": [
                        { "kind": "heat", "severity": "moderate", "trend": "worse" },
                        { "kind": "throbbing", "severity": "moderate", "trend": "worse" },
                    ],
                    "country": "DE",
                });
                Request::post(format!("{}/symptom-reports", treated(played)), &body)
            })
            .at("2027-03-21T18:00:00Z")
            .tells(
                [
                    "On the fifth evening she writes: hot, throbbing, worse than yesterday.",
                    "Am fünften Abend schreibt sie: heiß, pochend, schlimmer als gestern.",
                ],
                &[
                    (Who::Client, "/judgement/do_now/*"),
                    (Who::Client, "/judgement/report_again"),
                    (Who::Studio, "/judgement/findings/*/because"),
                ],
            ),
        ],
    }
}
