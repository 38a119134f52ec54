//! Questions, assessments, skin typing.

use etui_schema::endpoints::*;
use serde_json::{Map, Value, json};

use super::{Stop, Tour};

pub(super) fn stops() -> Vec<Stop> {
    vec![
        Stop::of(list_screening_questions()).asks("treatment=lips&on=2027-04-06"),
        Stop::of(create_skin_assessment()).with(|tour| {
            json!({
                "treatment": "lips",
                "on": "2027-04-06",
                "born_on": "1984-05-02",
                "as_of": "2027-03-16",
                "answers": healthy(tour, &[("cold_sore_history", json!(true))]),
                "skin": { "phototype": "III", "oiliness": "combination" },
            })
        }),
        Stop::of(create_phototype_score()).sends(json!({
            "eyes": 2, "hair": 2, "skin": 2, "freckles": 3, "long_sun": 1,
            "depth_of_tan": 2, "tans_within_hours": 2, "face_to_sun": 2,
            "last_exposure": 1, "area_tans": 2,
        })),
        Stop::of(create_skin_colour()).sends(json!({
            "lab": { "l": 62.0, "a": 10.0, "b": 17.0 },
            "site": "lip",
            "other": { "l": 60.5, "a": 11.0, "b": 17.5 },
        })),
    ]
}

/// The answers of somebody who has nothing to report, but for these: the clear
/// answer to every question, no follow-up.
pub(super) fn healthy(tour: &Tour, but: &[(&str, Value)]) -> Value {
    let asked = tour.answer("list_screening_questions");
    let first = asked["questions"].as_array().into_iter().flatten();
    let mut answers: Map<String, Value> = first
        .filter(|question| question.get("ask_if").is_none() && question["optional"] != true)
        .filter_map(|question| {
            Some((question["id"].as_str()?.to_owned(), question.get("clear_answer")?.clone()))
        })
        .collect();
    answers.extend(but.iter().map(|(id, answer)| ((*id).to_owned(), answer.clone())));
    Value::Object(answers)
}
