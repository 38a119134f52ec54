//! What reaches the client, and when.

use etui_schema::vocabulary::aftercare::{Condition, StepKind};
use etui_schema::vocabulary::{Language, Treatment};

use super::super::dating::days_between;
use super::{aged, plans, step};

/// A sign that cannot wait, and its words in English and in German.
type Flag = (&'static str, &'static [&'static str], &'static [&'static str]);

/// What every plan names, and to whom it sends: the ambulance, a doctor today.
const ALL: [(&str, &[Flag]); 2] = [
    (
        "ambulance",
        &[
            ("hard to breathe", &["hard to breathe"], &["Atem"]),
            ("hard to swallow", &["swallow"], &["Schluckbeschwerden"]),
            ("swollen tongue", &["swollen tongue"], &["geschwollener Zunge"]),
            ("swollen throat", &["throat"], &["Hals"]),
            ("faint", &["faint"], &["Ohnmacht"]),
        ],
    ),
    (
        "doctor",
        &[
            ("heat that spreads", &["heat", "spread"], &["Hitze", "ausbreitet"]),
            ("redness that spreads", &["redness"], &["Rötung"]),
            ("swelling that spreads", &["swelling"], &["Schwellung"]),
            ("fever", &["fever from 38 °C"], &["Fieber ab 38 °C"]),
            ("strong pain", &["strong"], &["stark"]),
            ("growing pain", &["growing", "pain"], &["wachsendem Schmerz"]),
        ],
    ),
];

/// Whom the message sends to, in the order of its sentences: how the place begins.
const TO: [(&str, &str, &str); 5] = [
    ("ambulance", "{emergency}", "Rufen Sie sofort {emergency}"),
    (
        "doctor",
        "Doctor today|Breast team or doctor today",
        "Holen Sie noch heute ärztliche Hilfe|Holen Sie noch heute Hilfe im Brustzentrum oder ärztlich",
    ),
    ("prescriber", "Also today, for a prescription:", "Bei Bläschen oder Kribbeln"),
    ("eye clinic", "Eye clinic today:", "Gehen Sie noch heute in eine Augenklinik"),
    ("rinse", "Something in the eye:", "Ist etwas im Auge"),
];

/// The signs of one area, by whom it sends to.
type OfArea = &'static [(&'static str, &'static [Flag])];

/// What the plan of each area names beside [`ALL`], by whom it sends to. What is to be named, and
/// whom to ask, is the project's own list; the signs of an allergy, of an infection and of
/// the eye are those of the NHS pages on anaphylaxis, cellulitis and eye injuries.
const OWN: [(Treatment, OfArea); 5] = [
    (
        Treatment::Brows,
        &[(
            "doctor",
            &[
                ("pus", &["pus"], &["Eiter"]),
                ("painful swollen lid", &["painful swollen lid"], &["Lid schmerzt und schwillt"]),
                ("blisters", &["blisters"], &["Bläschen"]),
                ("change of sight", &["change of sight"], &["verändertem Sehen"]),
            ],
        )],
    ),
    (
        Treatment::Lips,
        &[
            (
                "ambulance",
                &[(
                    "fast swelling",
                    &["fast swelling in the first hours"],
                    &["raschen Schwellung in den ersten Stunden"],
                )],
            ),
            ("doctor", &[("pus", &["pus"], &["Eiter"])]),
            (
                "prescriber",
                &[
                    ("blisters", &["blisters"], &["Bläschen"]),
                    ("tingling", &["tingling"], &["Kribbeln"]),
                ],
            ),
        ],
    ),
    (
        Treatment::Eyeliner,
        &[
            (
                "eye clinic",
                &[
                    ("eye pain", &["eye hurts"], &["Auge", "schmerzt"]),
                    ("light hurts", &["light hurts"], &["Licht schmerzt"]),
                    ("sight worse", &["sight worse"], &["schlechter sehen"]),
                    ("pus", &["pus"], &["Eiter"]),
                    ("eye shut", &["will not open"], &["Auge zu ist"]),
                ],
            ),
            (
                "rinse",
                &[("rinse first", &["rinse 20 minutes first"], &["spülen Sie zuerst 20 Minuten"])],
            ),
        ],
    ),
    (
        Treatment::Scalp,
        &[
            (
                "ambulance",
                &[
                    ("blotches", &["dark blotches"], &["dunklen Flecken"]),
                    (
                        "pain beyond the skin",
                        &["pain far beyond the skin worked on"],
                        &["Schmerz weit über die Stelle hinaus"],
                    ),
                ],
            ),
            (
                "doctor",
                &[
                    ("pus", &["pus"], &["Eiter"]),
                    ("forehead", &["forehead"], &["Stirn"]),
                    ("lids", &["lids"], &["Lider"]),
                ],
            ),
        ],
    ),
    (
        Treatment::Areola,
        &[(
            "doctor",
            &[
                ("pus", &["pus"], &["Eiter"]),
                ("red breast", &["red or warm breast"], &["Brust rot oder warm"]),
                ("fluid", &["fluid"], &["Flüssigkeit"]),
                ("implant", &["swollen implant side"], &["Implantatseite geschwollen"]),
            ],
        )],
    ),
];

/// The part of a message that sends to somebody.
fn part<'t>(said: &'t str, to: &str, language: Language, number: &str) -> &'t str {
    let heads = |(_, english, german): &(&str, &str, &str)| {
        let heads = if language == Language::En { *english } else { *german };
        heads.replace("{emergency}", number)
    };
    let starts =
        |row: &(&str, &str, &str)| heads(row).split('|').filter_map(|head| said.find(head)).min();
    let row = TO.iter().find(|(name, ..)| *name == to).unwrap();
    let from = starts(row).unwrap_or_else(|| panic!("{language}: nothing for {to}: {said}"));
    let until = TO.iter().filter_map(starts).filter(|start| from < *start).min();
    &said[from..until.unwrap_or(said.len())]
}

#[test]
fn the_first_message_of_every_plan_says_what_cannot_wait() {
    for (treatment, own) in OWN {
        // Midday, and so late that the night comes between.
        for performed_at in ["2027-03-18T13:00:00Z", "2027-03-18T22:20:00Z"] {
            for (country, english, german) in
                [("GB", "999 or 112", "999 oder 112"), ("DE", "112", "112"), ("AU", "000", "000")]
            {
                let mut request = aged(treatment, 30);
                request.performed_at = performed_at.parse().unwrap();
                request.country = Some(country.into());
                let plan = plans().plan(&request).unwrap();
                let first = plan.steps.iter().find(|step| step.message).unwrap();
                for (language, number) in [(Language::En, english), (Language::De, german)] {
                    let said = first.say.in_language(plans().texts(), language);
                    for (to, flags) in ALL.iter().chain(own) {
                        let part = part(&said, to, language, number);
                        for (sign, in_english, in_german) in *flags {
                            let words =
                                if language == Language::En { in_english } else { in_german };
                            let is_said = words
                                .iter()
                                .all(|word| word.split('|').any(|word| part.contains(word)));
                            assert!(is_said, "{treatment} {language} {to}: {sign}: {part}");
                        }
                    }
                }
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
        [(Language::En, "No shampoo", "quick wash"), (Language::De, "ohne Shampoo", "Kurz waschen")]
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
