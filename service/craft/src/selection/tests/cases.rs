//! The table of cases: `cases.toml`, one entry a case, each with the count of
//! agreeing pages. Common practice, no source.
//!
//! `expect` holds sentences of a small language:
//!
//! | sentence | holds if |
//! |---|---|
//! | `first single\|liner` | the first is one of these forms |
//! | `first 0.18-0.25 mm` | the first has such a diameter, inclusive |
//! | `first 3-7 needles` | the first has so many needles, inclusive |
//! | `three not single` | none of the first three is of the form |
//! | `liner above shader` | the best of the one form stands above the best of the other |
//! | `aside single` | every candidate of the form is set aside |
//! | `ranked woven_magnum` | at least one of the form is ranked |
//! | `caution TEXT` | the first carries a caution with this text |
//! | `because QUESTION TEXT` | the first answers the question with this text |
//! | `view TEXT` | a differing view asks a question with this text |
//! | `hint TEXT` | a hint has this text |

use serde::Deserialize;

use super::*;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    about: String,
    treatment: Treatment,
    effect: Effect,
    #[serde(default)]
    setting: Setting,
    agreement: String,
    expect: Vec<String>,
}

/// The place of the best of a form; past the end if none is ranked.
fn place(selection: &Selection, form: &str) -> usize {
    let is = |r: &Ranked| name_of(&r.configuration) == form;
    selection.ranked.iter().position(is).unwrap_or(usize::MAX)
}

fn name_of(configuration: &Complete) -> &'static str {
    let form = Form::of(configuration.grouping, configuration.count);
    form.map_or("hand_blade", |(form, _)| form.as_str())
}

fn range<T: std::str::FromStr>(text: &str) -> (T, T)
where
    T::Err: std::fmt::Debug,
{
    let (low, high) = text.split_once('-').unwrap_or((text, text));
    (low.parse().unwrap(), high.parse().unwrap())
}

pub(super) fn holds(selection: &Selection, sentence: &str) -> bool {
    let (word, rest) = sentence.split_once(' ').unwrap();
    let first = &selection.ranked[0];
    let configuration = &first.configuration;
    let known = |form: &str| Form::ALL.iter().any(|f| f.as_str() == form);
    match (word, rest.split_once(' ')) {
        ("first", Some((numbers, "mm"))) => {
            let (low, high) = range::<f64>(numbers);
            (low - 1e-9..=high + 1e-9).contains(&configuration.diameter_mm)
        }
        ("first", Some((numbers, "needles"))) => {
            let (low, high) = range::<u8>(numbers);
            (low..=high).contains(&configuration.count)
        }
        ("first", None) => {
            assert!(rest.split('|').all(known), "{sentence}");
            rest.split('|').any(|form| name_of(configuration) == form)
        }
        ("three", Some(("not", form))) => {
            assert!(known(form), "{sentence}");
            3 <= place(selection, form)
        }
        ("aside", None) => {
            assert!(known(rest), "{sentence}");
            place(selection, rest) == usize::MAX
        }
        ("ranked", None) => place(selection, rest) < usize::MAX,
        ("caution", _) => first.cautions.iter().any(|c| c.message.contains(rest)),
        ("because", Some((question, text))) => {
            let answer = first.answers.iter().find(|a| a.question.as_str() == question).unwrap();
            answer.because.contains(text)
        }
        ("view", _) => selection.differing_views.iter().any(|v| v.question.contains(rest)),
        ("hint", _) => selection.hints.iter().any(|h| h.message.contains(rest)),
        (form, Some(("above", other))) if known(form) && known(other) => {
            place(selection, form) < place(selection, other)
        }
        _ => panic!("`{sentence}` is no sentence"),
    }
}

#[test]
fn every_case_of_the_table_holds() {
    let cases: Cases = toml::from_str(include_str!("cases.toml")).unwrap();
    assert!(80 <= cases.case.len(), "{}", cases.case.len());
    let house = House::open();
    let mut failures = Vec::new();
    for case in &cases.case {
        assert!(!case.agreement.is_empty() && !case.expect.is_empty(), "{}", case.about);
        let selection = house.usual(case.treatment, case.effect, &case.setting);
        for sentence in case.expect.iter().filter(|s| !holds(&selection, s)) {
            failures.push(format!(
                "{} ({} {}): `{sentence}`, but {:?}",
                case.about,
                case.treatment,
                case.effect,
                &texts(&selection)[..4]
            ));
        }
    }
    assert!(failures.is_empty(), "{failures:#?}");
}

#[test]
fn the_table_covers_every_pair_hand_and_kind_of_skin() {
    let cases: Cases = toml::from_str(include_str!("cases.toml")).unwrap();
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        let of_pair = |c: &&Case| c.treatment == treatment && c.effect == effect;
        assert!(cases.case.iter().any(|c| of_pair(&c)), "{treatment} {effect}");
    }
    for hand in Hand::ALL {
        assert!(cases.case.iter().any(|c| c.setting.hand == Some(*hand)), "{hand}");
    }
}
