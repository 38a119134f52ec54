//! What is to be done, by when, and the form that asks.

use etui_schema::vocabulary::{Language, Phototype, Skin, Treatment, Verdict};
use serde_json::{Map, Value, json};

use super::support::{ON, assess, book, clear, day, visit, with};
use crate::screening::gate::{Override, Visit};
use crate::screening::todo::Todo;

/// Source, kind, latest day and doer of every line of a list.
fn lines(list: &[Todo]) -> Vec<(&str, &str, Option<String>, &str)> {
    let line = |todo: &'_ Todo| todo.due.map(|due| due.to_string());
    list.iter().map(|t| (&*t.from, t.kind.as_str(), line(t), t.who.as_str())).collect()
}

#[test]
fn days_are_counted_back_from_the_appointment() {
    let made_on = day("2027-02-25");
    let visit = Visit { as_of: made_on, ..visit(Treatment::Lips) };
    let changes = json!({
        "cold_sore_history": true, "recent_on_area": ["acids"],
        "medicines": ["prescribed_aspirin_or_clopidogrel"],
    });
    let found = with(book(), visit, &changes).unwrap();
    let list = book().todo(&found, ON, made_on, Language::En);
    let due = |text: &str| Some(text.to_owned());
    assert_eq!(
        lines(&list),
        [
            ("acids_on_area", "keep_off", due("2027-03-04"), "client"),
            ("cold_sore_history", "condition", due("2027-03-11"), "client"),
            ("prescribed_antiplatelet", "condition", due("2027-03-18"), "client"),
            ("prescribed_antiplatelet", "condition", due("2027-03-18"), "studio"),
            ("skin", "condition", due("2027-03-18"), "studio"),
            ("on_the_day", "ask_on_the_day", due("2027-03-18"), "studio"),
        ]
    );
    assert!(list.iter().all(|todo| !todo.is_late));
    assert!(list[1].text.contains("11 March 2027"), "{}", list[1].text);
    // Each line names its subject and speaks to the one who does it.
    assert!(list[2].text.starts_with("Aspirin or similar: "), "{}", list[2].text);
    assert!(list[2].text.contains("keep taking it as prescribed"), "{}", list[2].text);
    assert!(list[3].text.contains("Plan more time"), "{}", list[3].text);

    // A day that is past is worded as past.
    let late = Visit { as_of: day("2027-03-13"), ..visit };
    let found = with(book(), late, &json!({"cold_sore_history": true})).unwrap();
    let list = book().todo(&found, ON, late.as_of, Language::En);
    assert!(list[0].is_late && list[0].text.contains("was 11 March 2027"), "{}", list[0].text);
}

/// What changes within days is asked again when she comes: the first six rows of the table of
/// freshness, and whether anything is new. The list is the project's own, no source.
#[test]
fn the_list_of_the_day_asks_again_what_changes_within_days() {
    let rows: [(&str, &[&str], &[&str]); 8] = [
        ("on the day", &["questions for the day"], &["Fragen für den Tag"]),
        ("pregnant", &["pregnancy"], &["Schwangerschaft"]),
        (
            "infection",
            &["cold sore", "infection", "open skin"],
            &["Lippenherpes", "Infektion", "offene Haut"],
        ),
        (
            "flares",
            &["eczema", "psoriasis", "acne", "scaling", "sunburn", "tan"],
            &["Ekzem", "Schuppenflechte", "Akne", "Schuppen", "Sonnenbrand", "Bräune"],
        ),
        (
            "used there",
            &["acids", "retinoid", "steroid cream", "lash serum", "waxing", "tint", "lash work"],
            &["Säuren", "Retinoid", "Kortisoncreme", "Wimpernserum", "Waxing", "Färben", "Wimpern"],
        ),
        (
            "planned",
            &["numbing product", "skin test", "pigment"],
            &["Betäubungsmittel", "Hauttest", "Farbe"],
        ),
        (
            "medicines",
            &["medicines", "blood thinner", "steroids"],
            &["Neue Medikamente", "Blutverdünner", "Kortison"],
        ),
        ("anything new", &["new since", "anything else"], &["neu ist", "sonst etwas"]),
    ];
    let made_on = day("2027-02-25");
    for treatment in Treatment::ALL {
        let visit = Visit { as_of: made_on, ..visit(*treatment) };
        let found = with(book(), visit, &json!({})).unwrap();
        for language in [Language::En, Language::De] {
            let list = book().todo(&found, ON, made_on, language);
            let of_day = list.iter().find(|todo| todo.kind.as_str() == "ask_on_the_day").unwrap();
            for (row, english, german) in rows {
                for word in if language == Language::En { english } else { german } {
                    assert!(of_day.text.contains(word), "{row}: {word}: {}", of_day.text);
                }
            }
        }
    }
}

#[test]
fn a_referral_and_a_decline_keep_only_what_leads_out_of_them() {
    let made_on = day("2027-02-25");
    let visit = Visit { as_of: made_on, ..visit(Treatment::Eyeliner) };
    let todo = |visit, changes: &Value| {
        let found = with(book(), visit, changes).unwrap();
        book().todo(&found, ON, made_on, Language::En)
    };
    let list = todo(visit, &json!({"warfarin": true, "eyes": ["lash_extensions"]}));
    let due = Some("2027-03-11".to_owned());
    assert_eq!(lines(&list), [("warfarin", "written_view", due, "client")]);
    assert!(list[0].text.starts_with("Blood thinner with tests: "), "{}", list[0].text);

    let minor = Visit { born_on: day("2010-03-01"), ..visit };
    let list = todo(minor, &json!({"eyes": ["lash_extensions"], "warfarin": true}));
    assert_eq!(lines(&list), [("under_18", "condition", None, "client")]);
    // Her doctor has to be asked too, so a birthday is no day to come on.
    assert!(!list[0].text.contains("2028"), "{}", list[0].text);
    let list = todo(minor, &json!({"eyes": ["lash_extensions"]}));
    assert!(list[0].text.contains("from 1 March 2028 on"), "{}", list[0].text);
    assert!(!list[0].text.contains("February"), "{}", list[0].text);
}

#[test]
fn what_somebody_answers_for_leaves_no_errand() {
    let visit = visit(Treatment::Brows);
    let mut answers = clear(book(), &visit);
    answers.insert("breastfeeding".into(), json!(true));
    answers.insert("warfarin".into(), json!(true));
    let wish = |rule: &str| Override {
        rule: rule.to_owned(),
        reason: "written view of 1 March".to_owned(),
        by_ref: "artist-1".parse().unwrap(),
    };
    let overrides = [wish("breastfeeding"), wish("warfarin"), wish("keloid")];
    let skin = Skin { phototype: Some(Phototype::II), ..Skin::default() };
    let found = assess(book(), visit, &answers, Some(&skin), &overrides).unwrap();
    assert_eq!(found.idle_overrides, [2], "there is no keloid to answer for");
    // It is named as people name it, and a rule without such a name is not named at all.
    assert!(book().idle_override("keloid", Language::De).contains("„Keloid“"));
    for rule in ["keloid", "warfarin", "no_such_rule", "direct_oral_anticoagulant"] {
        for language in [Language::En, Language::De] {
            let said = book().idle_override(rule, language);
            assert!(!said.contains(['`', '_', '{']), "{said}");
        }
    }
    let list = book().todo(&found, ON, ON, Language::En);
    let due = Some("2027-03-18".to_owned());
    assert_eq!(lines(&list), [("breastfeeding", "condition", due, "studio")]);
}

#[test]
fn a_hold_names_its_person_beside_its_day_for_both() {
    let changes = json!({
        "cancer_treatment": ["chemotherapy_past_year"], "chemotherapy_ended_on": "2026-12-01",
    });
    let found = with(book(), visit(Treatment::Brows), &changes).unwrap();
    assert_eq!((found.hold_until, found.not_before), (None, Some(day("2027-06-01"))));
    assert!(found.waits_for_event && found.findings[0].person() == Some("oncologist"));
    for (language, whom, not_before) in [
        (Language::En, "your cancer team", "not before 1 June 2027"),
        (Language::De, "Ihr Krebsteam", "frühestens am 1. Juni 2027"),
    ] {
        let list = book().todo(&found, ON, ON, language);
        let doers: Vec<&str> = list.iter().map(|todo| todo.who.as_str()).collect();
        assert_eq!(doers, ["client", "studio"]);
        for todo in &list {
            assert!(todo.text.contains(whom) && todo.text.contains(not_before), "{}", todo.text);
            assert_eq!(todo.due, None, "no day stands for a person");
        }
    }
}

/// Another cream, another line, a word on the scar: none of them needs another day.
#[test]
fn what_can_be_changed_at_once_moves_no_visit() {
    let cream = |percent: f64, kind: &str| json!({ "numbing_cream": kind, "numbing_cream_lidocaine_percent": percent });
    let mut allergic = cream(4.0, "lidocaine");
    allergic["allergies"] = json!(["local_anaesthetic"]);
    for (rule, changes) in [
        ("prilocaine_near_eye", cream(2.5, "lidocaine_prilocaine")),
        ("numbing_cream_too_strong", cream(5.0, "lidocaine")),
        ("numbing_for_allergic", allergic),
        ("waterline_wanted", json!({ "waterline_wanted": true })),
    ] {
        let found = with(book(), visit(Treatment::Eyeliner), &changes).unwrap();
        assert_eq!(found.verdict, Verdict::Hold, "{rule}");
        for (language, moves) in [(Language::En, "Please move"), (Language::De, "Bitte den Termin")]
        {
            let list = book().todo(&found, ON, ON, language);
            let of_rule: Vec<&Todo> = list.iter().filter(|todo| &*todo.from == rule).collect();
            assert!(!of_rule.is_empty(), "{rule}: {list:?}");
            for todo in of_rule {
                assert_eq!((todo.kind.as_str(), todo.due), ("condition", None), "{rule}");
                assert!(!todo.text.contains(moves), "{}", todo.text);
            }
        }
    }
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
    assert_eq!(of("rebook"), ["pregnancy", "botulinum"]);
    assert!(of("ask_on_the_day").is_empty(), "it is the day");
}

/// Nobody is called to anything before a visit that will not be on its day: no day
/// is told but the one from which it may be.
#[test]
fn a_hold_sends_nobody_anywhere() {
    let made_on = day("2027-02-25");
    let visit = Visit { as_of: made_on, ..visit(Treatment::Lips) };
    let changes = json!({
        "pregnant": true, "cold_sore_history": true, "recent_on_area": ["acids"],
        "also_tell_us": ["fainting_or_needle_fear"],
    });
    let found = with(book(), visit, &changes).unwrap();
    assert_eq!(found.verdict, Verdict::Hold);
    for language in Language::ALL {
        let list = book().todo(&found, ON, made_on, *language);
        assert!(list.iter().any(|todo| todo.kind.as_str() == "rebook"), "{list:?}");
        for todo in &list {
            let is_open = matches!(todo.kind.as_str(), "answer" | "rebook");
            assert!(is_open || todo.due.is_none(), "{todo:?}");
            assert!(
                !matches!(&*todo.from, "cold_sore_history" | "acids" | "on_the_day"),
                "{todo:?}"
            );
        }
    }
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
    assert_eq!(
        schema["properties"]["pregnant"]["title"],
        "Falls das auf Sie zutreffen kann: Sind Sie schwanger?"
    );
}

/// Who reads an open question on a list sees what can be chosen, and nothing that
/// is offered for another treatment.
#[test]
fn an_open_question_names_its_options() {
    for treatment in Treatment::ALL {
        let none = assess(book(), visit(*treatment), &Map::new(), None, &[]).unwrap();
        for language in Language::ALL {
            let list = book().todo(&none, ON, ON, *language);
            let mut named = 0;
            for question in &none.unanswered {
                let text = &list.iter().find(|todo| todo.from == question.id).unwrap().text;
                let offered = question.offered(book().sentences(), *language, *treatment);
                for (_, label) in offered {
                    assert!(text.contains(label), "{language} {}: {text}", question.id);
                    named += 1;
                }
            }
            assert!(20 < named, "{treatment} {language}: {named}");
        }
    }
}
