//! One request asked in both languages: nothing is left in the other one.

use etui_tests::running::{Running, with_token};
use etui_tests::wire::Request;
use serde_json::{Value, json};

/// Members that hold no sentence in a language: codes, names, what was sent, and
/// what a number is about for its basis.
const SAME: &[&str] = &[
    "about",
    "source",
    "kind",
    "code",
    "canonical",
    "then_first",
    "change",
    "pointer",
    "pointers",
    "configuration",
    "setting",
    "parameters",
    "reference",
    "flips",
    "becomes",
    "by_pressure",
    "by_trauma",
    "by_cover_rate",
    "spans",
    "elements",
    "faults",
    "assumed",
];

/// Every text of an answer that people read, with its place.
fn sentences(value: &Value, place: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::String(text) if 2 < text.split(' ').filter(|word| 2 < word.len()).count() => {
            found.push((place.to_owned(), text.clone()));
        }
        Value::Array(all) => {
            all.iter().for_each(|one| sentences(one, &format!("{place}/-"), found));
        }
        Value::Object(all) => {
            // `change` is a sentence in a step, and a pointer elsewhere.
            let told = |key: &str| {
                !SAME.contains(&key) || (key == "change" && place.ends_with("step_up/-"))
            };
            for (key, one) in all.iter().filter(|(key, _)| told(key)) {
                sentences(one, &format!("{place}/{key}"), found);
            }
        }
        Value::Null | Value::Bool(_) | Value::Number(_) | Value::String(_) => {}
    }
}

#[test]
fn every_sentence_of_the_craft_is_in_the_language_asked_for() {
    let setting = json!({
        "hand": "heavy", "site": "scalp", "depth_mm": 0.5, "hand_speed_mm_s": 40.0,
        "machine": { "stroke_mm": 4.2, "rate_hz": 150.0, "give": "soft" },
        "skin": { "thickness": "fine", "age_years": 70, "signs": ["broken_vessels", "scarred"] },
    });
    let label = |text: &str| json!({ "text": text });
    let labels: Vec<Value> = [
        "1003RL",
        "3RL",
        "0.30 9M STERILE EO",
        "RLT 0.25 5",
        "0.25x30 acupuncture",
        "",
        "hello there",
        "#10 5RS EXP 2031-02",
        "1003RL LOT 12 2020-01-01",
    ]
    .into_iter()
    .map(label)
    .collect();
    let needle = |effect: &str, treatment: &str| json!({ "treatment": treatment, "effect": effect, "setting": setting, "limit": 250 });
    let compared = json!({
        "configurations": [{ "label": "0.30 3RL" }, { "label": "0.25 5RS" }, { "label": "0.35 9M1" }],
        "setting": setting,
    });
    for (path, body) in [
        ("/v1/needle-selections", needle("soft_shading", "brows")),
        ("/v1/needle-selections", needle("hair_strokes", "brows")),
        ("/v1/needle-selections", needle("dense_fill", "lips")),
        ("/v1/needle-selections", needle("bold_line", "eyeliner")),
        ("/v1/needle-selections", needle("scalp_dots", "scalp")),
        ("/v1/needle-selections", needle("areola_shading", "areola")),
        ("/v1/configuration-comparisons", compared),
        ("/v1/label-readings", json!({ "labels": labels })),
    ] {
        let running = Running::shared();
        let [english, german] = ["en", "de"].map(|language| {
            let request = Request::post(path, &body).header("Accept-Language", language);
            let answer = running.call(&with_token(&request, running.token()));
            assert_eq!(answer.status, 200, "{path}: {}", answer.text());
            let mut found = Vec::new();
            sentences(&answer.json(), "", &mut found);
            found
        });
        assert!(4 < english.len(), "{path}: {english:?}");
        let same: Vec<_> = english.iter().filter(|one| german.contains(one)).collect();
        assert!(same.is_empty(), "{path}: {same:#?}");
        for (place, text) in &german {
            let words: Vec<&str> = text.split(|c: char| !c.is_alphabetic()).collect();
            for english in ["the", "with", "and", "is", "not", "for"] {
                assert!(!words.contains(&english), "{path}{place}: {text}");
            }
        }
    }
}
