//! What the sentences say, and how easily they read.

use etui_schema::vocabulary::{Language, Treatment, Verdict};
use serde_json::{Map, Value, json};

use super::support::{ON, assess, book, visit, with};
use crate::screening::gate::{Finding, Visit};
use crate::screening::question::{Kind, Who};
use crate::screening::wording::objection;
use crate::text::tests::sentences::Counted;

/// Every finding that can be, for every treatment, with all risks at once.
fn all_findings(look: impl Fn(&Finding<'_>, Language, &str)) {
    for treatment in Treatment::ALL {
        for as_of in ["2027-03-18", "2027-01-01"] {
            let visit = Visit { as_of: super::support::day(as_of), ..visit(*treatment) };
            let young = Visit { born_on: super::support::day("2010-01-01"), ..visit };
            let mut answers: Map<String, Value> = Map::new();
            for question in book().questions(*treatment, ON, ON) {
                let value = match &question.kind {
                    Kind::YesNo => json!(true),
                    Kind::Choice { options, .. } => json!(&*options[options.len() - 1].id),
                    Kind::Choices { options } => json!(
                        options[..options.len() - 1]
                            .iter()
                            .filter(|option| option.treatments.has(*treatment))
                            .map(|option| &*option.id)
                            .collect::<Vec<_>>()
                    ),
                    Kind::Date { .. } => continue,
                    Kind::Number { max, .. } => json!(max),
                };
                answers.insert(question.id.to_string(), value);
            }
            let found = assess(book(), young, &answers, None, &[]).unwrap();
            for finding in &found.findings {
                for language in Language::ALL {
                    look(finding, *language, &book().condition(finding, ON, *language));
                }
            }
        }
    }
}

#[test]
fn every_finding_says_what_its_verdict_must_say() {
    all_findings(|finding, language, condition| {
        let id = &finding.rule.id;
        assert!(!condition.contains('{') && !condition.is_empty(), "{id}: {condition}");
        assert!(!book().because(finding, language).is_empty(), "{id}");
        assert_eq!(objection(language, condition), None, "{id}: {condition}");
        match finding.verdict {
            Verdict::Refer => {
                let whom = finding.rule.keys.whom.as_deref().unwrap();
                let words = book().sentences();
                let named =
                    [words.get(language, whom).to_owned(), words.accusative(language, whom)];
                assert!(named.iter().any(|name| condition.contains(name)), "{id}: {condition}");
            }
            Verdict::Hold => {
                let until = book().until(finding, language);
                assert!(!until.is_empty() && condition.contains(&until), "{id}: {condition}");
            }
            Verdict::Proceed
            | Verdict::ProceedWithConditions
            | Verdict::Incomplete
            | Verdict::Decline => {}
        }
    });
}

#[test]
fn no_sentence_advises_doses_or_promises() {
    for key in book().sentences().keys() {
        for language in Language::ALL {
            let sentence = book().sentences().get(*language, key);
            assert_eq!(objection(*language, sentence), None, "{key}: {sentence}");
        }
    }
}

#[test]
fn nothing_is_asked_about_hiv() {
    // BHIVA and others, joint statement, 19 September 2019.
    let hiv = |text: &str| text.to_lowercase().contains("hiv");
    for question in book().all_questions() {
        assert!(!hiv(&question.id));
        assert!(question.kind.options().iter().all(|option| !hiv(&option.id)));
    }
    assert!(!book().sentences().keys().any(|key| hiv(book().sentences().get(Language::En, key))));
}

#[test]
fn every_sentence_is_used() {
    let words = book().sentences();
    let mut used: Vec<String> = Vec::new();
    for question in book().all_questions() {
        used.extend([question.ask_key.to_string(), question.why_key.to_string()]);
        used.push(format!("question.{}.topic", question.id));
        used.extend(question.kind.options().iter().map(|option| option.key.to_string()));
    }
    for rule in book().all_rules() {
        let keys = &rule.keys;
        used.push(keys.because.to_string());
        used.extend(
            [
                &keys.say,
                &keys.beside,
                &keys.by,
                &keys.until,
                &keys.until_dated,
                &keys.whom,
                &keys.topic,
                &keys.law,
                &keys.dated,
                &keys.late,
                &keys.stays,
                &keys.client,
                &keys.studio,
            ]
            .into_iter()
            .flatten()
            .map(|key| key.to_string()),
        );
        assert!(keys.topic.is_some(), "{} names no topic", rule.id);
    }
    for band in book().bands() {
        used.extend(["plan", "follow_up"].map(|what| format!("band.{}.{what}", band.id)));
    }
    let standing = [
        "month.",
        "date.",
        "period.",
        "hold.",
        "refer.",
        "decline.",
        "todo.",
        "score.",
        "until.day",
        "until.not_before",
        "patch_test.",
        "pigment.",
        "skin.",
        "caution.",
        "check.",
        "fault.",
    ];
    for key in words.keys() {
        let stands =
            standing.iter().any(|prefix| key.starts_with(prefix)) || key.ends_with(".accusative");
        let whole = key.trim_end_matches(".short");
        assert!(stands || used.iter().any(|used| used == whole), "nothing says `{key}`");
    }
    assert!(used.iter().all(|key| words.has(key)));
}

#[test]
fn dates_and_periods_are_spoken_in_both_languages() {
    let visit = visit(Treatment::Lips);
    let changes = json!({"cold_sore_active": true, "cold_sore_healed_on": "2027-03-17", "pregnant": true,
        "recent_procedures": ["filler"]});
    let found = with(book(), visit, &changes).unwrap();
    let said = |id: &str, language| {
        let finding = found.findings.iter().find(|finding| &*finding.rule.id == id).unwrap();
        book().condition(finding, ON, language)
    };
    for (id, language, condition) in [
        (
            "cold_sore_active",
            Language::En,
            "For this alone: not before 31 March 2027; what else stands in the way counts too.",
        ),
        (
            "cold_sore_active",
            Language::De,
            "Allein deswegen: frühestens am 31. März 2027; es zählt auch, was sonst noch im Weg steht.",
        ),
        (
            "pregnancy",
            Language::En,
            "For this alone: once the pregnancy is over, and breastfeeding too; what else stands in the way counts too.",
        ),
        (
            "filler",
            Language::De,
            "Allein deswegen: frühestens 4 Wochen nach dem Eingriff; es zählt auch, was sonst noch im Weg steht.",
        ),
    ] {
        assert_eq!(said(id, language), condition);
    }
}

/// A day that is told beside something else is none to book; one that is told alone is.
#[test]
fn words_and_days_wait_for_the_same() {
    let settled = json!({
        "skin_in_area": ["scar"], "scar_since": "2027-01-01", "scar_state": "pale_and_flat",
    });
    let mut open = settled.clone();
    open.as_object_mut().unwrap().remove("scar_state");
    for (answers, rule, day_alone) in [
        (settled, "scar_fresh", true),
        (open, "scar_fresh", false),
        (json!({"recent_on_area": ["tan"], "tan_on": "2027-03-10"}), "tan", false),
        (json!({"recent_on_area": ["sunburn"], "sunburn_on": "2027-03-10"}), "sunburn", false),
        (
            json!({"previous_pmu_in_area": true, "previous_pmu_on": "2027-03-10"}),
            "previous_pmu_fresh",
            false,
        ),
        (json!({"botulinum": true, "botulinum_on": "2027-03-10"}), "botulinum", true),
    ] {
        let found = with(book(), visit(Treatment::Brows), &answers).unwrap();
        let finding = found.findings.iter().find(|one| &*one.rule.id == rule).unwrap();
        assert_eq!(finding.hold_until.is_some(), day_alone, "{rule}");
        assert_eq!(finding.waits_for_event, !day_alone, "{rule}");
        let said = book().condition(finding, ON, Language::En);
        assert_eq!(said.contains("not before"), !day_alone, "{said}");
        let list = book().todo(&found, ON, ON, Language::En);
        let moved = list.iter().find(|todo| &*todo.from == rule && todo.kind.as_str() == "rebook");
        assert_eq!(moved.unwrap().due.is_some(), day_alone, "{rule}");
    }
}

/// While a visit waits its condition is read by the client: what the studio does meanwhile
/// is a line of the studio's.
#[test]
fn a_hold_tells_the_client_nothing_that_is_the_studios() {
    for rule in book().all_rules().iter().filter(|rule| rule.verdict == Verdict::Hold) {
        let is_studios = rule.task.is_some_and(|task| task.who == Who::Studio);
        assert!(!is_studios || rule.keys.say.is_none(), "{}", rule.id);
    }
}

/// Each is the end of "Ein Termin ist möglich, …".
#[test]
fn what_a_hold_waits_for_ends_a_german_sentence() {
    let words = book().sentences();
    for key in words.keys().filter(|key| key.starts_with("until.")) {
        let said = words.get(Language::De, key);
        let ends =
            ["wenn ", "sobald ", "frühestens ", "{from}"].iter().any(|word| said.starts_with(word));
        assert!(ends, "{key}: {said}");
    }
}

/// What is only planned can be left out, and the words say so; what is past cannot.
#[test]
fn a_wait_for_what_is_planned_says_that_it_falls_away() {
    for (option, question) in [
        ("acids", "acids_last_on"),
        ("tan", "tan_on"),
        ("waxing", "waxing_on"),
        ("tint", "tint_on"),
    ] {
        let seen = [("2027-02-18", true), ("2027-03-17", false), ("2027-03-18", false)];
        for (as_of, is_ahead) in seen {
            let visit = Visit { as_of: super::support::day(as_of), ..visit(Treatment::Brows) };
            let mut answers = json!({"recent_on_area": [option]});
            answers[question] = json!("2027-03-17");
            let found = with(book(), visit, &answers).unwrap();
            assert_eq!(found.findings[0].verdict, Verdict::Hold, "{option}");
            for language in Language::ALL {
                let said = book().condition(&found.findings[0], ON, *language);
                let falls_away = book().sentences().get(*language, "hold.ahead");
                assert_eq!(said.ends_with(falls_away), is_ahead, "{as_of}: {said}");
                assert_eq!(objection(*language, &said), None, "{said}");
            }
        }
    }
}

#[test]
fn skin_tests_and_labels_are_put_in_words() {
    use crate::screening::patch_test::{Caution, Judgement, Standing};
    use crate::screening::pigment::{Part, Remark};
    let limits =
        crate::screening::typing::Typing::builtin(&crate::evidence::Register::builtin().unwrap());
    let limits = limits.unwrap().patch_test;
    let all = [
        Standing::Met,
        Standing::Missing,
        Standing::TooLate,
        Standing::Expired,
        Standing::OtherBatch,
        Standing::ToCompare,
        Standing::Unread,
        Standing::Reacted,
    ];
    for language in Language::ALL {
        for standing in all {
            let judgement = Judgement {
                standing,
                cautions: vec![
                    Caution::DoesNotRuleOut,
                    Caution::EarlyTest,
                    Caution::EarlyReading,
                    Caution::BatchUnknown,
                ],
                not_before: ON,
                not_after: jiff::Timestamp::UNIX_EPOCH,
                by: ON,
                better_by: ON,
                look_from: None,
                look_by: ON,
            };
            let said = book().patch_test_words(&limits, &judgement, *language);
            assert_eq!(said.len(), 5);
            assert!(
                said.iter().all(|text| !text.starts_with("patch_test") && !text.contains('{')),
                "{said:?}"
            );
        }
        for remark in [
            Remark::NotForSkin,
            Remark::NickelForAllergic,
            Remark::ChromiumForAllergic,
            Remark::NoProof,
            Remark::Missing(Part::SafetyInstructions),
            Remark::Look(Part::Statement),
        ] {
            let said = book().pigment_words(remark, *language);
            assert!(!said.contains("pigment.") && !said.contains('{'), "{said}");
        }
        assert!(book().cautions(*language).iter().all(|text| text.contains(' ')));
    }
}

#[test]
fn the_texts_read_easily() {
    // Flesch 1948: 60 and above is plain; Amstad 1978 for German: 60 to 70 is plain.
    for (language, bound) in [(Language::En, 70.0), (Language::De, 60.0)] {
        let words = book().sentences();
        let told = ["question.", "rule.", "until.", "hold.", "refer."];
        let texts = words.keys().filter(|key| told.iter().any(|p| key.starts_with(p)));
        let counted = texts.map(|key| Counted::of(language, words.get(language, key)));
        let ease = counted.fold(Counted::default(), Counted::and).ease(language);
        println!("reading ease {language}: {ease:.1}");
        assert!(bound <= ease, "{language}: {ease}");
    }
}

/// Our own rule: an answer that changed is named by what its question is about, in a word or two
/// and never as the question.
#[test]
fn every_question_says_what_it_is_about() {
    let book = book();
    for (question, language) in book
        .all_questions()
        .iter()
        .flat_map(|question| Language::ALL.iter().map(move |l| (question, l)))
    {
        let key = format!("question.{}.topic", question.id);
        let topic = book.sentences().find(*language, &key).unwrap_or_else(|| panic!("{key}"));
        assert!(topic.chars().count() < 60 && !topic.ends_with(['?', '.']), "{key}: {topic}");
    }
}
