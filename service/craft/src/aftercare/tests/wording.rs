use etui_schema::vocabulary::Address;
use etui_schema::vocabulary::Language;
use etui_schema::vocabulary::Oiliness;
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::Condition;

use std::sync::Arc;

use super::super::request::LONGEST_CALL;
use super::super::say::Say;
use super::super::texts::catalogue as texts;
use super::super::triage::Contacts;
use super::{aged, plans};

/// A message must fit into three to four short messages: whole sentences take more room than
/// notes, and nobody should have to guess what a note means.
const LONGEST: usize = 500;

fn said() -> Vec<Say> {
    let mut said = Vec::new();
    for treatment in Treatment::ALL {
        for age in [30, 70] {
            let mut request = aged(*treatment, age);
            request.skin.oiliness = Some(Oiliness::Dry);
            request.conditions = Condition::ALL.to_vec();
            let own: Option<Arc<str>> = Some("x".repeat(LONGEST_CALL).into());
            let named = Contacts {
                same_day: own.clone(),
                doctor: own.clone(),
                artist: own,
                emergency: None,
            };
            let countries = [None, Some("GB"), Some("DE"), Some("NL"), Some("US"), Some("AU")];
            let calls = [Contacts::default(), named];
            for (country, own) in
                countries.iter().flat_map(|c| calls.iter().map(move |own| (c, own)))
            {
                request.country = country.map(Into::into);
                request.contacts = own.clone();
                let plan = plans().plan(&request).unwrap();
                said.extend(plan.steps.into_iter().map(|step| step.say));
                said.extend(plan.cautions.into_iter().map(|caution| caution.say));
                said.extend(plan.assumed.into_iter().map(|assumed| assumed.say));
            }
        }
    }
    said
}

#[test]
fn messages_are_short_and_their_places_are_filled() {
    let said = said();
    for address in Address::ALL {
        let mut texts = texts().unwrap();
        texts.speak(*address);
        for (say, language) in
            said.iter().flat_map(|say| Language::ALL.iter().map(move |l| (say, *l)))
        {
            let text = say.in_language(&texts, language);
            assert!(text.chars().count() <= LONGEST, "{language} {}: {text}", say.key);
            assert!(!text.contains(['{', '}']), "{language} {}: {text}", say.key);
        }
        for (key, language) in
            texts.keys().flat_map(|key| Language::ALL.iter().map(move |l| (key, *l)))
        {
            assert!(texts.get(language, key).chars().count() <= LONGEST - 20, "{language} {key}");
        }
    }
}

/// Whom to call can be put in when a message is read, and it says the same.
#[test]
fn an_open_sentence_is_filled_as_it_would_have_been() {
    let own: Option<Arc<str>> = Some("{doctor} ring 030 1".into());
    let named =
        Contacts { emergency: None, same_day: own.clone(), doctor: own.clone(), artist: own };
    let mut open = 0;
    for (treatment, country) in Treatment::ALL
        .iter()
        .flat_map(|treatment| [None, Some("DE"), Some("GB")].map(|country| (treatment, country)))
    {
        for calls in [&named, &Contacts::default()] {
            let mut request = aged(*treatment, 30);
            request.conditions = Condition::ALL.to_vec();
            request.country = country.map(Into::into);
            request.contacts = calls.clone();
            for step in plans().plan(&request).unwrap().steps {
                for language in Language::ALL {
                    let said = step.say.in_language(plans().texts(), *language);
                    let Some(left) = step.say.open() else {
                        assert!(!said.contains("030 1"), "{said}");
                        continue;
                    };
                    let left = left.in_language(plans().texts(), *language);
                    let filled = plans().calling(&left, *language, (country, calls));
                    assert_eq!(filled, said, "{left}");
                    open += 1;
                }
            }
        }
    }
    assert!(30 < open, "{open} sentences were compared");
}

#[test]
fn no_text_stops_a_medicine_gives_a_dose_or_asks_about_hiv() {
    // German S3 guidance, JDDG 2015, doi 10.1111/ddg.12576: prescribed medicines
    // are kept; BHIVA and others, 19 September 2019: the status is not asked.
    let texts = texts().unwrap();
    let medicines = [
        "medicine",
        "medication",
        "tablet",
        "pill",
        "aspirin",
        "antibiotic",
        "antiviral",
        "blood thinner",
        "insulin",
        "medikament",
        "tablette",
        "antibiotik",
        "blutverdünner",
    ];
    let stopping = ["stop", "pause", "skip", "absetzen", "weglassen", "aussetzen", "leave out"];
    let dosing = [" mg", " ml", "milligram", "times a day", "mal täglich"];
    for key in texts.keys() {
        for language in Language::ALL {
            let text = texts.get(*language, key).to_lowercase();
            let names = medicines.iter().any(|word| text.contains(word));
            let stops = stopping.iter().any(|word| text.contains(word));
            assert!(!(names && stops), "{language} {key}: {text}");
            let mut words = text.split(|c: char| !c.is_alphanumeric());
            assert!(!words.any(|word| word == "hiv"), "{language} {key}: {text}");
            assert!(!dosing.iter().any(|word| text.contains(word)), "{language} {key}: {text}");
        }
    }
}

#[test]
fn every_text_is_used_and_dates_read_as_the_language_writes_them() {
    let texts = texts().unwrap();
    let date = super::super::say::Value::Date(jiff::civil::date(2027, 4, 5));
    let say = Say::plain("review_invite").with("date", date);
    assert!(say.in_language(&texts, Language::En).starts_with("From 5 April 2027 on"));
    assert!(say.in_language(&texts, Language::De).starts_with("Ab dem 5. April 2027"));

    let rules = concat!(
        include_str!("../../../rules/aftercare/steps.toml"),
        include_str!("../../../rules/aftercare/brows.toml"),
        include_str!("../../../rules/aftercare/lips.toml"),
        include_str!("../../../rules/aftercare/eyeliner.toml"),
        include_str!("../../../rules/aftercare/scalp.toml"),
        include_str!("../../../rules/aftercare/areola.toml"),
        include_str!("../../../rules/aftercare/modifiers.toml"),
        include_str!("../../../rules/aftercare/triage.toml"),
        include_str!("../../../rules/aftercare/countries.toml"),
        include_str!("../plan.rs"),
        include_str!("../say.rs"),
        include_str!("../country.rs"),
        include_str!("../entries.rs"),
        include_str!("../review.rs"),
        include_str!("../triage/findings.rs"),
        include_str!("../triage/judge.rs"),
        include_str!("../triage/now.rs"),
    );
    for key in texts.keys().filter(|key| !key.starts_with("month_")) {
        assert!(rules.contains(&format!("\"{key}\"")), "`{key}` is said by nothing");
    }
}

#[test]
fn german_is_polite_and_idiomatic() {
    let texts = texts().unwrap();
    for key in texts.keys() {
        let text = texts.get(Language::De, key);
        let mut words = text.split(|c: char| !c.is_alphanumeric());
        let familiar =
            |word: &str| ["du", "dir", "dich"].contains(&word) || word.starts_with("dein");
        assert!(!words.any(|word| familiar(&word.to_lowercase())), "{key}: {text}");
        for wrong in ["Kur ", "wander", "unruhig", "praxis", "Praxis"] {
            assert!(!text.contains(wrong), "{key}: {text}");
        }
    }
}
