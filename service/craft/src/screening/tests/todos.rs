//! What is to be done, by when, and the form that asks.

use etui_schema::vocabulary::{Language, Treatment};
use serde_json::{Value, json};

use super::support::{ON, book, clear, day, visit, with};
use crate::screening::gate::Visit;

#[test]
fn days_are_counted_back_from_the_appointment() {
    let made_on = day("2027-02-25");
    let visit = Visit { as_of: made_on, ..visit(Treatment::Lips) };
    let found = with(
        book(),
        visit,
        &json!({
            "cold_sore_history": true, "recent_on_area": ["acids"], "warfarin": true,
            "long_term_conditions": ["bleeding_disorder"],
        }),
    )
    .unwrap();
    let list = book().todo(&found, ON, made_on, Language::En);
    let items: Vec<_> = list
        .iter()
        .map(|todo| {
            (
                &*todo.from,
                todo.kind.as_str(),
                todo.due.map(|due| due.to_string()),
                todo.who.as_str(),
            )
        })
        .collect();
    let due = |text: &str| Some(text.to_owned());
    assert_eq!(
        items,
        [
            ("bleeding_disorder", "written_view", due("2027-03-04"), "client"),
            ("acids_on_area", "keep_off", due("2027-03-04"), "client"),
            ("warfarin", "written_view", due("2027-03-11"), "client"),
            ("cold_sore_history", "condition", due("2027-03-11"), "client"),
            ("on_the_day", "ask_on_the_day", due("2027-03-18"), "studio"),
        ]
    );
    assert!(list.iter().all(|todo| !todo.is_late));
    let cold_sore = list.iter().find(|todo| &*todo.from == "cold_sore_history").unwrap();
    assert!(cold_sore.text.contains("11 March 2027"), "{}", cold_sore.text);

    let late = book().todo(&found, ON, day("2027-03-10"), Language::De);
    let late: Vec<&str> = late.iter().filter(|todo| todo.is_late).map(|todo| &*todo.from).collect();
    assert_eq!(late, ["bleeding_disorder", "acids_on_area"]);
}

#[test]
fn open_answers_and_holds_are_on_the_list() {
    let visit = visit(Treatment::Brows);
    let changes = json!({"botulinum": true, "nickel_allergy": true, "pregnant": true});
    let found = with(book(), visit, &changes).unwrap();
    let list = book().todo(&found, ON, ON, Language::En);
    let of = |kind: &str| -> Vec<&str> {
        list.iter().filter(|todo| todo.kind.as_str() == kind).map(|todo| &*todo.from).collect()
    };
    assert_eq!(of("answer"), ["botulinum_on", "nickel_allergy_severe"]);
    assert_eq!(of("rebook"), ["botulinum", "pregnancy"]);
    assert!(of("ask_on_the_day").is_empty(), "it is the day");
}

#[test]
fn the_schema_of_answers_names_what_is_required() {
    for treatment in Treatment::ALL {
        let schema = book().answers_schema(*treatment, ON, ON, Language::En);
        assert_eq!(schema["additionalProperties"], false);
        let visit = visit(*treatment);
        let required = schema["required"].as_array().unwrap();
        let clear = clear(book(), &visit);
        for id in required {
            assert!(clear.contains_key(id.as_str().unwrap()), "{id} has no clear answer");
        }
        for question in book().questions(*treatment, ON, ON) {
            let property = &schema["properties"][&*question.id];
            assert!(property["title"].as_str().is_some_and(|title| !title.is_empty()));
            assert_eq!(property["x-kind"], question.kind.as_str());
            if let Some(options) = property["oneOf"].as_array() {
                assert_eq!(options.len(), question.kind.options().len(), "{}", question.id);
            }
        }
    }
    let schema = book().answers_schema(Treatment::Brows, ON, ON, Language::De);
    let follow_ups = schema["allOf"].as_array().unwrap();
    let stopped_on = follow_ups
        .iter()
        .find(|rule| rule["then"]["required"][0] == "isotretinoin_stopped_on")
        .unwrap();
    let leads: &Value = &stopped_on["if"]["properties"]["isotretinoin"]["enum"];
    assert_eq!(*leads, json!(["stopped"]));
    assert_eq!(schema["properties"]["pregnant"]["title"], "Sind Sie schwanger?");
}
