//! A trainer and two students: one becomes ready, one falls in doubt, one check holds, one
//! goes ahead under eye.

use serde_json::{Value, json};

use super::{Afternoon, Played, Scene, Who};
use crate::wire::Request;

/// Six days of practice: the names of their scenes, and where the clock stands.
const DAYS: [(&str, &str, &str, &str); 6] = [
    ("sheet-1", "work-1", "marks-1", "2027-03-16T15:00:00Z"),
    ("sheet-2", "work-2", "marks-2", "2027-03-17T15:00:00Z"),
    ("sheet-3", "work-3", "marks-3", "2027-03-18T15:00:00Z"),
    ("sheet-4", "work-4", "marks-4", "2027-03-19T15:00:00Z"),
    ("sheet-5", "work-5", "marks-5", "2027-03-20T15:00:00Z"),
    ("sheet-6", "work-6", "marks-6", "2027-03-21T15:00:00Z"),
];

pub(super) fn afternoons() -> Vec<Afternoon> {
    let title = ["A trainer and two students", "Eine Ausbilderin und zwei Schülerinnen"];
    let mut scenes = people();
    scenes.extend(DAYS.into_iter().flat_map(|(sheet, work, marks, now)| {
        [made(sheet, "anna").at(now), worked(work, sheet, "anna", true), marked(marks, sheet)]
    }));
    scenes.extend(doubt());
    scenes.extend(told());
    vec![Afternoon { name: "training", title, scenes }]
}

fn people() -> Vec<Scene> {
    let person = |name: &'static str, body: Value| {
        Scene::new(name, move |_| Request::put(format!("/v1/artists/{name}"), &body))
    };
    let student = || json!({ "hand": "light", "standing": "student" });
    let mut scenes = vec![
        person("berta", json!({ "hand": "medium", "trainer": true })),
        person("anna", student()),
        person("dora", student()),
    ];
    for (plugin, token, artist) in [
        ("plugin-berta", "token-berta", "berta"),
        ("plugin-anna", "token-anna", "anna"),
        ("plugin-dora", "token-dora", "dora"),
    ] {
        let scopes = match artist {
            "berta" => json!(["practice:read", "practice:write", "sign-offs", "clients:read"]),
            _ => json!(["practice:read", "practice:write"]),
        };
        let body = json!({ "name": artist, "scopes": scopes });
        scenes.push(Scene::new(plugin, move |_| Request::post("/v1/plugins", &body)));
        scenes.push(Scene::new(token, move |played| {
            let of = format!("/v1/plugins/{}/tokens", played.text(plugin, "/id"));
            Request::post(of, &json!({ "name": "phone", "acts_for": artist }))
        }));
    }
    scenes
}

fn by(played: &Played, artist: &str, request: Request) -> Request {
    let scene = format!("token-{artist}");
    request.token(&played.text(&scene, "/secret"))
}

fn made(name: &'static str, artist: &'static str) -> Scene {
    let body = json!({
        "artist_ref": artist,
        "drills": {
            "configuration": { "diameter_mm": 0.3, "count": 3, "grouping": "round_shader" },
            "effect": "soft_shading", "site": "brow", "level": "working", "seed": 5,
        },
    });
    Scene::new(name, move |played| by(played, artist, Request::post("/v1/practice-sheets", &body)))
}

fn panels(played: &Played, sheet: &str) -> Vec<Value> {
    played.answers[sheet]["drills"]["panels"].as_array().cloned().unwrap_or_default()
}

fn path(played: &Played, sheet: &str, end: &str) -> String {
    format!("/v1/practice-sheets/{}/{end}", played.text(sheet, "/id"))
}

fn worked(name: &'static str, sheet: &'static str, artist: &'static str, good: bool) -> Scene {
    Scene::new(name, move |played| {
        let panel = |panel: Value| {
            let got = |target: &Value| {
                let asked = target["asked"].as_f64().unwrap_or_default();
                let got = if good { asked } else { asked + 9.0 };
                json!({ "quantity": target["quantity"], "got": got })
            };
            let values: Vec<Value> =
                panel["targets"].as_array().into_iter().flatten().map(got).collect();
            json!({ "panel": panel["number"], "values": values })
        };
        let all: Vec<Value> = panels(played, sheet).into_iter().map(panel).collect();
        let body = json!({ "panels": all });
        by(played, artist, Request::post(path(played, sheet, "attempts"), &body))
    })
}

fn marked(name: &'static str, sheet: &'static str) -> Scene {
    Scene::new(name, move |played| {
        let marks = json!({ "depth": "good", "stretch": "good", "tears": "good" });
        let panel = |panel: Value| json!({ "panel": panel["number"], "marks": marks });
        let all: Vec<Value> = panels(played, sheet).into_iter().map(panel).collect();
        by(played, "berta", Request::post(path(played, sheet, "marks"), &json!({ "panels": all })))
    })
}

fn signed(name: &'static str, artist: &'static str, rung: &'static str) -> Scene {
    let body = json!({
        "artist_ref": artist,
        "covers": {
            "grouping": "round_shader", "count": 3, "diameter_mm": { "from": 0.3, "to": 0.3 },
            "effect": "soft_shading", "site": "brow",
        },
        "rung": rung,
        "valid_until": "2027-12-31",
    });
    Scene::new(name, move |played| by(played, "berta", Request::post("/v1/sign-offs", &body)))
}

/// Dora was signed off for work alone; a day later three panels fail.
fn doubt() -> Vec<Scene> {
    vec![
        signed("dora-signed", "dora", "alone"),
        made("dora-sheet", "dora").at("2027-03-22T13:00:00Z"),
        worked("dora-work", "dora-sheet", "dora", false),
        marked("dora-marks", "dora-sheet"),
    ]
}

fn progress(name: &'static str, artist: &'static str) -> Scene {
    Scene::new(name, move |played| {
        by(played, "berta", Request::get(format!("/v1/artists/{artist}/progress")))
    })
}

fn check(name: &'static str, artist: &'static str, needle: &'static str) -> Scene {
    Scene::new(name, move |played| {
        let body = json!({
            "booking_ref": name, "treatment": "brows", "effect": "soft_shading",
            "starts_at": "2027-04-06T08:00:00Z", "born_on": "1990-06-15",
            "answers": played.answered("questions", json!({})), "candidates": [needle],
            "artist_ref": artist,
        });
        Request::post("/v1/appointment-checks", &body)
    })
}

fn told() -> Vec<Scene> {
    const SAID: &[(Who, &str)] = &[
        (Who::Studio, "/summary"),
        (Who::Artist, "/findings/*/because"),
        (Who::Artist, "/findings/*/condition"),
    ];
    vec![
        Scene::new("questions", |_| {
            Request::get("/v1/screening-questions?treatment=brows&on=2027-04-06")
        }),
        progress("anna-ready", "anna").tells(
            [
                "Anna has handed in six sheets on six days, and Berta has marked them all. How far is she?",
                "Anna hat an sechs Tagen sechs Bögen abgegeben, und Berta hat alle bewertet. Wie weit ist sie?",
            ],
            &[(Who::Studio, "/practice/*/text"), (Who::Studio, "/cautions/*")],
        ),
        signed("anna-signed", "anna", "under_eye"),
        progress("anna-after", "anna").tells(
            [
                "Berta has looked at her hands as well, and signs her off for work under an eye until the end of the year. How far is she now?",
                "Berta hat auch auf ihre Hände gesehen und gibt sie bis zum Jahresende für die Arbeit unter Aufsicht frei. Wie weit ist sie jetzt?",
            ],
            &[(Who::Studio, "/practice/*/text")],
        ),
        progress("dora-doubt", "dora").tells(
            [
                "Dora was signed off for work alone; on her last sheet nothing held.",
                "Dora war für die Arbeit allein freigegeben; auf ihrem letzten Bogen gelang nichts.",
            ],
            &[(Who::Studio, "/practice/*/text")],
        ),
        check("anna-under-eye", "anna", "0.30 3RS").tells(
            [
                "A booking for Anna, with the needle that she was signed off for.",
                "Eine Buchung für Anna, mit der Nadel, für die sie freigegeben ist.",
            ],
            SAID,
        ),
        check("dora-holds", "dora", "0.30 5RS").tells(
            [
                "And one for Dora, with another needle.",
                "Und eine für Dora, mit einer anderen Nadel.",
            ],
            SAID,
        ),
    ]
}
