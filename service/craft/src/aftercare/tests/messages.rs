//! What reaches the client, and when.

use etui_schema::vocabulary::aftercare::{Condition, StepKind};
use etui_schema::vocabulary::{Language, Treatment};

use super::super::dating::days_between;
use super::{aged, plans, step};

/// What every plan names, in English and in German.
const ALL: [(&str, &str); 11] = [
    ("breathe or swallow", "Schluckbeschwerden"),
    ("throat", "Hals"),
    ("faint", "Ohnmacht"),
    ("spread", "Schwellung"),
    ("heat", "Hitze"),
    ("redness", "Rötung"),
    ("pus", "Eiter"),
    ("38 °C", "38 °C"),
    ("strong", "stark"),
    ("growing", "Fieber"),
    ("pain", "Schmerz"),
];

#[test]
fn the_first_message_of_every_plan_says_what_cannot_wait() {
    for (treatment, own) in [
        (Treatment::Brows, &["lid", "blisters", "sight"][..]),
        (Treatment::Lips, &["first hours", "blisters", "tingling", "prescription"]),
        (
            Treatment::Eyeliner,
            &["eye hurts", "not open", "light hurts", "sight", "Eye clinic", "rinse 20 minutes"],
        ),
        (Treatment::Scalp, &["forehead", "lids", "blotches", "beyond the skin"]),
        (Treatment::Areola, &["breast", "fluid", "implant", "Breast team"]),
    ] {
        // Midday, and so late that the night comes between.
        for performed_at in ["2027-03-18T13:00:00Z", "2027-03-18T22:20:00Z"] {
            for (country, number) in [("GB", "999 or 112"), ("DE", "112"), ("AU", "000")] {
                let mut request = aged(treatment, 30);
                request.performed_at = performed_at.parse().unwrap();
                request.country = Some(country.into());
                let plan = plans().plan(&request).unwrap();
                let first = plan.steps.iter().find(|step| step.message).unwrap();
                let said = first.say.in_language(plans().texts(), Language::En);
                let german = first.say.in_language(plans().texts(), Language::De);
                let all = ALL.map(|(english, _)| english);
                for word in all.iter().chain(own).chain([&number]) {
                    assert!(said.contains(word), "{treatment} {country}: {word}: {said}");
                }
                for (_, word) in ALL {
                    assert!(german.contains(word), "{treatment} {country}: {word}: {german}");
                }
                assert!(german.contains("wächst") || german.contains("wachsend"), "{german}");
                let waits = first.at.at.duration_since(request.performed_at);
                assert!(waits.as_hours() < 24, "{treatment} {performed_at}");
            }
        }
    }
}

#[test]
fn what_a_client_must_not_do_reaches_her_while_it_matters() {
    for treatment in Treatment::ALL {
        let plan = plans().plan(&aged(*treatment, 30)).unwrap();
        for rule in &plan.steps {
            if !matches!(rule.kind, StepKind::Do | StepKind::Avoid) {
                continue;
            }
            let said = rule.say.in_language(plans().texts(), Language::En);
            let sent = plan.steps.iter().find(|step| {
                step.message && step.say.in_language(plans().texts(), Language::En).contains(&said)
            });
            let sent = sent.unwrap_or_else(|| panic!("{treatment}: nobody hears of {}", rule.key));
            let day = days_between(plan.performed_on, sent.at.local.date());
            let late = if rule.from_day == 0 { 2 } else { rule.from_day };
            assert!(day <= late, "{treatment} {}: day {day}", rule.key);
        }
        // Lips peel from day 3, brows itch from day 2: common practice, no source.
        let skin = step(&plan, "care_skin");
        assert_eq!(days_between(plan.performed_on, skin.at.local.date()), 2, "{treatment}");
    }
}

#[test]
fn messages_come_one_after_the_other() {
    for treatment in Treatment::ALL {
        for performed_at in ["2027-03-18T08:00:00Z", "2027-03-18T13:00:00Z", "2027-03-18T23:20:00Z"]
        {
            let mut request = aged(*treatment, 30);
            request.performed_at = performed_at.parse().unwrap();
            request.conditions = Condition::ALL.to_vec();
            let plan = plans().plan(&request).unwrap();
            let sent: Vec<_> = plan.steps.iter().filter(|step| step.message).collect();
            for two in sent.windows(2) {
                let apart = two[1].at.at.duration_since(two[0].at.at);
                assert!(120 <= apart.as_mins(), "{treatment}: {} {}", two[0].key, two[1].key);
            }
            // By night nobody is written to, also where no quiet hours were told.
            for step in &sent {
                let hour = step.at.local.hour();
                assert!((8..21).contains(&hour), "{treatment} {} at {}", step.key, step.at.local);
            }
        }
    }
}

/// Shampoo on fresh dots is what the trade warns of; "a quick wash is fine" would invite it.
#[test]
fn a_fresh_scalp_hears_of_shampoo_on_the_day() {
    let plan = plans().plan(&aged(Treatment::Scalp, 30)).unwrap();
    for (language, shampoo, quick) in
        [(Language::En, "No shampoo", "quick wash"), (Language::De, "kein Shampoo", "Kurz waschen")]
    {
        let sent = step(&plan, "care_wash").say.in_language(plans().texts(), language);
        assert!(sent.contains(shampoo), "{sent}");
        for step in &plan.steps {
            let said = step.say.in_language(plans().texts(), language);
            assert!(!said.contains(quick), "{}: {said}", step.key);
        }
    }
}

/// A pass sets new dots, a touch-up works the same ones: each names its own day and what it is of.
#[test]
fn the_two_days_of_a_scalp_are_of_two_things() {
    let plan = plans().plan(&aged(Treatment::Scalp, 30)).unwrap();
    for (key, of) in [("next_session", "new dots"), ("touch_up_invite", "same skin")] {
        let said = step(&plan, key).say.in_language(plans().texts(), Language::En);
        assert!(said.contains(of), "{key}: {said}");
    }
    let bare = step(&plan, "next_session").say.in_language(plans().texts(), Language::En);
    assert!(bare.contains("no scab, redness or tenderness"), "{bare}");
}

#[test]
fn nobody_is_asked_for_a_photo_of_an_areola() {
    let plan = plans().plan(&aged(Treatment::Areola, 30)).unwrap();
    for step in &plan.steps {
        for (language, word) in [(Language::En, "photo"), (Language::De, "Foto")] {
            let said = step.say.in_language(plans().texts(), language);
            let asked = said.contains(word) && step.key.as_ref() != "review_invite";
            assert!(!asked, "{}: {said}", step.key);
        }
    }
    assert_eq!(&*step(&plan, "review_invite").say.key, "review_invite_private");
}
