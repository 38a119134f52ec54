//! The outcome of a screening or a check in a few sentences, to be read aloud.
//!
//! While a hold waits for an event or for a person, that is said first, and a
//! day only beside it as *not before*; a day is never said alone. Of several holds
//! each is said under what it is about, the longest first: nobody hears of the shortest
//! and comes then. Beside a referral they are said too.

use etui_craft::text::{self, Catalogue};
use etui_schema::skin_assessments::Finding;
use etui_schema::vocabulary::{CivilDate, Language, Verdict};

/// What an outcome hangs on.
pub struct Outcome<'a> {
    /// The outcome.
    pub verdict: Verdict,
    /// The day of all holds, if nothing else is open.
    pub hold_until: Option<CivilDate>,
    /// The latest day that a hold names.
    pub not_before: Option<CivilDate>,
    /// What was found.
    pub findings: &'a [Finding],
    /// What each hold among it waits for, the longest first.
    pub waits: &'a [String],
    /// How many questions are open.
    pub open: usize,
    /// Whether something beside the findings, a skin test, asks for a doctor.
    pub others_refer: bool,
}

/// The outcome in words.
#[must_use]
pub fn summary(words: &Catalogue, outcome: &Outcome<'_>, language: Language) -> String {
    let Outcome { verdict, hold_until, not_before, findings, waits, open, others_refer } = outcome;
    let said = |day: &CivilDate| text::day(language, day.0);
    let first = |event: &str| words.fill(language, "check.hold_event_first", &[("event", event)]);
    let missing = || words.fill(language, "check.incomplete", &[("open", &open.to_string())]);
    // A day that was said beside its event is not said again.
    let not_before = |already: &str| {
        let day = said(not_before.as_ref()?);
        // The 2nd of a month stands within the 12th.
        let is_whole =
            |(at, _): (usize, &str)| !already[..at].ends_with(|c: char| c.is_ascii_digit());
        let is_new = !already.match_indices(&*day).any(is_whole);
        is_new.then(|| words.fill(language, "check.hold_not_before", &[("date", &day)]))
    };
    match (verdict, hold_until) {
        (Verdict::Hold, Some(day)) => {
            let moved = words.fill(language, "check.hold_day", &[("date", &said(day))]);
            std::iter::once(&moved).chain(*waits).map(String::as_str).collect::<Vec<_>>().join(" ")
        }
        (Verdict::Hold, None) => {
            let event = match waits {
                [] if findings.iter().any(is_studios) => {
                    words.fill(language, "check.hold_studio", &[])
                }
                // Only answers are open.
                [] if 0 < *open => first(&missing()),
                [] => words.fill(language, "check.hold_event", &[]),
                waits if 0 < *open => first(&format!("{} {}", waits.join(" "), missing())),
                waits => first(&waits.join(" ")),
            };
            let day = not_before(&event);
            [event].into_iter().chain(day).collect::<Vec<_>>().join(" ")
        }
        // Somebody looks first, and what holds the visit holds it all the same.
        (Verdict::Refer, _) => {
            let key = if !others_refer && is_a_talk(words, findings, language) {
                "check.refer_talk"
            } else {
                "check.refer"
            };
            let refer = words.fill(language, key, &[]);
            // "Not yet" is said once.
            let day = not_before(&waits.join(" "));
            let said = std::iter::once(&refer).chain(*waits).chain(&day);
            said.map(String::as_str).collect::<Vec<_>>().join(" ")
        }
        _ => words.fill(language, &format!("check.{verdict}"), &[("open", &open.to_string())]),
    }
}

/// Whether all that others should look at is a matter to talk about: nobody is sent to a
/// doctor for a wish.
fn is_a_talk(words: &Catalogue, findings: &[Finding], language: Language) -> bool {
    let counsel = words.get(language, "whom.trusted_counsel");
    let stands = |it: &&Finding| it.verdict == Verdict::Refer && it.overridden.is_none();
    let mut referred = findings.iter().filter(stands).peekable();
    referred.peek().is_some() && referred.all(|it| it.whom.as_deref() == Some(counsel))
}

/// Whether it is of those who work here: what they have to practise is no word for the client.
fn is_studios(finding: &Finding) -> bool {
    finding.rule.starts_with("training.")
}

#[cfg(test)]
mod tests {
    use etui_craft::evidence::Register;
    use etui_craft::screening::rulebook::Rulebook;
    use etui_schema::vocabulary::{Address, Treatment};
    use serde_json::{Map, Value, json};

    use super::*;
    use crate::studio::craft::Craft;
    use crate::studio::skin_assessments::assess;

    fn finding() -> Finding {
        Finding {
            rule: "one".to_owned(),
            verdict: Verdict::Hold.into(),
            because: String::new(),
            condition: None,
            short: None,
            hold_until: None,
            not_before: None,
            waits_for_event: false,
            due: None,
            whom: None,
            law: false,
            overridden: None,
            pack: None,
            evidence: Vec::new(),
        }
    }

    #[test]
    fn every_verdict_is_put_in_words() {
        let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
        let day = Some(CivilDate(jiff::civil::date(2027, 4, 12)));
        let say = |outcome: &Outcome<'_>, language| summary(book.sentences(), outcome, language);
        for verdict in Verdict::ALL {
            for (language, day) in Language::ALL.iter().flat_map(|l| [(*l, None), (*l, day)]) {
                let outcome = Outcome {
                    verdict: *verdict,
                    hold_until: day,
                    not_before: day,
                    findings: &[],
                    waits: &[],
                    open: 3,
                    others_refer: false,
                };
                let said = say(&outcome, language);
                assert!(said.contains(' ') && !said.contains(['{', '}']), "{verdict}: {said}");
            }
        }
    }

    #[test]
    fn no_day_is_said_alone_while_something_else_is_open() {
        let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
        let day = CivilDate(jiff::civil::date(2027, 4, 12));
        let waits = ["after the birth".to_owned(), "after a fortnight".to_owned()];
        for (language, said_day) in
            [(Language::En, "12 April 2027"), (Language::De, "12. April 2027")]
        {
            let outcome = Outcome {
                verdict: Verdict::Hold,
                hold_until: None,
                not_before: Some(day),
                findings: &[],
                waits: &waits,
                open: 0,
                others_refer: false,
            };
            let said = summary(book.sentences(), &outcome, language);
            let places = [&*waits[0], &waits[1], said_day].map(|part| said.find(part));
            assert!(places[0].is_some() && places.is_sorted(), "{said}");
            let alone =
                Outcome { hold_until: Some(CivilDate(jiff::civil::date(2027, 4, 12))), ..outcome };
            assert!(summary(book.sentences(), &alone, language).contains(said_day));
            let told = [format!("not before {said_day}")];
            let once = summary(book.sentences(), &Outcome { waits: &told, ..outcome }, language);
            assert_eq!(once.matches(said_day).count(), 1, "{once}");
            let refer = Outcome { verdict: Verdict::Refer, ..outcome };
            let said = summary(book.sentences(), &refer, language);
            let yet = ["Not yet", "Noch nicht"].map(|yet| said.matches(yet).count());
            assert!(
                yet.iter().sum::<usize>() == 1 && waits.iter().all(|one| said.contains(one)),
                "{said}"
            );
        }
    }

    /// What holds a visit to lips, each with what it is about.
    const HOLDS: [(&str, &str); 10] = [
        ("pregnancy", r#"{"pregnant": true}"#),
        ("breastfeeding", r#"{"breastfeeding": true}"#),
        ("antibiotics", r#"{"medicines": ["antibiotics"]}"#),
        ("isotretinoin_now", r#"{"isotretinoin": "now"}"#),
        ("cold_sore_active", r#"{"cold_sore_active": true, "cold_sore_history": true}"#),
        ("skin_infection", r#"{"skin_infection": true, "skin_infection_healed_on": "2027-03-10"}"#),
        ("filler", r#"{"recent_procedures": ["filler"], "filler_place": "in_area"}"#),
        ("chemotherapy_now", r#"{"cancer_treatment": ["chemotherapy_now"]}"#),
        ("open_or_weeping", r#"{"skin_in_area": ["open_or_weeping"]}"#),
        ("mrsa", r#"{"skin_history": ["mrsa"]}"#),
    ];

    /// Every set of three holds, beside clear answers and beside none, with somebody to be asked
    /// and without: each that stands is told, and none alone.
    #[test]
    fn every_hold_of_several_is_spoken() {
        let craft = Craft::load(Address::Sie).unwrap();
        let day = jiff::civil::date(2027, 3, 18);
        let questions = craft.rulebook.questions(Treatment::Lips, day, day);
        let clear: Map<String, Value> = questions
            .filter(|question| question.follows.is_none())
            .filter_map(|question| Some((question.id.to_string(), question.clear_answer()?)))
            .collect();
        for set in 1..1_u32 << HOLDS.len() {
            if 3 < set.count_ones() {
                continue;
            }
            let held = || HOLDS.iter().enumerate().filter(move |(at, _)| set >> at & 1 == 1);
            for (base, refers) in [(&clear, false), (&clear, true), (&Map::new(), false)] {
                let mut answers = base.clone();
                for (_, (_, told)) in held() {
                    answers.extend(serde_json::from_str::<Map<String, Value>>(told).unwrap());
                }
                if refers {
                    answers.insert("warfarin".to_owned(), true.into());
                }
                let request = json!({
                    "treatment": "lips", "on": "2027-03-18", "born_on": "1990-06-15", "answers": answers,
                });
                let request = serde_json::from_value(request).unwrap();
                for language in Language::ALL {
                    let found = assess(&craft, None, day, *language, &request).unwrap();
                    for (_, (rule, _)) in held() {
                        let words = craft.rulebook.sentences();
                        let key = format!("rule.{rule}.topic");
                        let topic = words.get(*language, &key);
                        assert!(found.says.contains(topic), "{rule}, {answers:?}: {}", found.says);
                    }
                }
            }
        }
    }

    #[test]
    fn nobody_is_sent_to_a_doctor_for_a_wish() {
        let book = Rulebook::builtin(&Register::builtin().unwrap()).unwrap();
        let words = book.sentences();
        for language in Language::ALL {
            let refer = |whom: &str| Finding {
                verdict: Verdict::Refer.into(),
                whom: Some(words.get(*language, whom).to_owned()),
                ..finding()
            };
            let (talk, doctor) = (refer("whom.trusted_counsel"), refer("whom.doctor"));
            let cases = [
                (vec![talk.clone()], "check.refer_talk"),
                (vec![talk.clone(), finding()], "check.refer_talk"),
                (vec![talk, doctor.clone()], "check.refer"),
                (vec![doctor], "check.refer"),
                (Vec::new(), "check.refer"),
            ];
            for (findings, key) in cases {
                let outcome = Outcome {
                    verdict: Verdict::Refer,
                    hold_until: None,
                    not_before: None,
                    findings: &findings,
                    waits: &[],
                    open: 0,
                    others_refer: false,
                };
                let said = summary(words, &outcome, *language);
                assert!(said.starts_with(words.get(*language, key)), "{key}: {said}");
            }
        }
    }
}
