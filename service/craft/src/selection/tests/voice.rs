//! One voice: no two sentences of one answer contradict each other, in either
//! language; and each language says all of it.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::vocabulary::SkinSign;
use proptest::prelude::*;
use serde::Deserialize;

use super::*;
use crate::text::tests::literals::said_by_code;
use crate::text::text_files;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pairs {
    pair: Vec<Pair>,
    once: Vec<Once>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Once {
    about: String,
    language: Language,
    parts: Vec<String>,
}

impl Once {
    /// The sentences that say it, if more than one does.
    fn broken_by<'a>(&self, notes: &[&'a str]) -> Option<Vec<&'a str>> {
        let says = |text: &&str| self.parts.iter().any(|part| text.contains(&**part));
        let said: Vec<&str> = notes.iter().copied().filter(says).collect();
        (1 < said.len()).then_some(said)
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Pair {
    about: String,
    language: Language,
    one: Vec<String>,
    other: Vec<String>,
    #[serde(default)]
    guard: bool,
}

impl Pair {
    /// The two sentences that contradict each other.
    fn broken_by<'a>(&self, said: &[&'a str]) -> Option<[&'a str; 2]> {
        let of = |parts: &[String]| {
            said.iter().copied().find(|text| parts.iter().any(|part| text.contains(&**part)))
        };
        Some([of(&self.one)?, of(&self.other)?])
    }
}

/// The hands, machines and skins of the scan.
pub(super) fn settings() -> Vec<Setting> {
    let machines = [
        None,
        Some((2.0, 60.0, Give::Soft, None)),
        Some((2.5, 40.0, Give::Medium, Some(100.0))),
        Some((3.0, 170.0, Give::Medium, Some(3.0))),
        Some((3.5, 100.0, Give::Firm, None)),
        Some((4.2, 140.0, Give::Firm, Some(20.0))),
    ];
    let skins = [
        Skin::default(),
        Skin { thickness: Some(Thickness::Fine), ..Skin::default() },
        Skin { oiliness: Some(Oiliness::Oily), ..Skin::default() },
        Skin { sensitivity: Some(Sensitivity::High), age_years: Some(70), ..Skin::default() },
        Skin {
            thickness: Some(Thickness::Thick),
            oiliness: Some(Oiliness::Dry),
            ..Skin::default()
        },
        Skin { signs: vec![SkinSign::Scarred, SkinSign::LargePores], ..Skin::default() },
        Skin { signs: vec![SkinSign::BrokenVessels, SkinSign::Lax], ..Skin::default() },
    ];
    let mut settings = Vec::new();
    for hand in Hand::ALL {
        for machine in machines {
            for skin in &skins {
                settings.push(Setting {
                    hand: Some(*hand),
                    machine: machine.map(|(stroke_mm, rate_hz, give, _)| Machine {
                        stroke_mm: Some(stroke_mm),
                        rate_hz: Some(rate_hz),
                        give: Some(give),
                    }),
                    hand_speed_mm_s: machine.and_then(|(_, _, _, speed)| speed),
                    skin: Some(skin.clone()),
                    ..Setting::default()
                });
            }
        }
    }
    settings
}

/// Rates outside what was measured on such machines, under a hand too slow and too fast; and
/// twice a light hand of which nothing else is told, so that each language has it.
fn beyond() -> Vec<Setting> {
    let fragile = Skin { oiliness: Some(Oiliness::Dry), ..Skin::default() };
    let skins = [None, None, Some(fragile.clone()), Some(fragile)];
    let mut settings = vec![hand(Hand::Light), hand(Hand::Light)];
    for (rate_hz, hand_speed_mm_s) in [(30.0, 1.0), (30.0, 60.0), (220.0, 4.0), (220.0, 280.0)] {
        let machine = Machine { stroke_mm: Some(3.0), rate_hz: Some(rate_hz), give: None };
        settings.extend(skins.iter().map(|skin| Setting {
            machine: Some(machine),
            skin: skin.clone(),
            hand_speed_mm_s: Some(hand_speed_mm_s),
            ..Setting::default()
        }));
    }
    settings
}

/// The cautions and remarks of one needle, with the hints beside it.
fn notes<'a>(selection: &'a Selection, ranked: &'a Ranked) -> Vec<&'a str> {
    let notes = ranked.cautions.iter().chain(&ranked.remarks).chain(&selection.hints);
    notes.map(|note| &*note.message).collect()
}

/// What is said of one needle, with the hints beside it.
fn said<'a>(selection: &'a Selection, ranked: &'a Ranked) -> Vec<&'a str> {
    let answers = ranked.answers.iter().map(|answer| &*answer.because);
    answers.chain(notes(selection, ranked)).collect()
}

/// Every sentence that an answer holds.
fn all(selection: &Selection) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for ranked in &selection.ranked {
        all.extend(said(selection, ranked).into_iter().map(str::to_owned));
    }
    all.extend(selection.set_aside.iter().map(|aside| aside.because.clone()));
    all.extend(selection.would_change.iter().map(|change| change.because.clone()));
    for step in &selection.step_up {
        all.extend([step.change.to_string(), step.because.to_string()]);
    }
    for view in &selection.differing_views {
        all.push(view.question.to_string());
        for school in &view.schools {
            let School { view, reason, would_choose, .. } = school;
            all.extend([view.to_string(), reason.to_string(), would_choose.clone()]);
        }
    }
    all
}

/// What contradicts itself, or is said twice, of one needle.
fn breaks<'a>(
    pairs: &[Pair],
    once: &[Once],
    selection: &'a Selection,
    language: Language,
) -> Vec<(String, Vec<&'a str>)> {
    let mut broken = Vec::new();
    for ranked in &selection.ranked {
        let (said, notes) = (said(selection, ranked), notes(selection, ranked));
        for matter in once.iter().filter(|matter| matter.language == language) {
            let twice = matter.broken_by(&notes);
            broken.extend(twice.map(|twice| (format!("{} said twice", matter.about), twice)));
        }
        for pair in pairs.iter().filter(|pair| pair.language == language) {
            let both = pair.broken_by(&said);
            broken.extend(both.map(|both| (pair.about.clone(), both.to_vec())));
        }
    }
    broken
}

/// Some word of the wire, or none.
fn maybe<T: Copy + std::fmt::Debug + 'static>(
    all: &'static [T],
) -> impl Strategy<Value = Option<T>> {
    proptest::option::of(proptest::sample::select(all))
}

prop_compose! {
    fn any_skin()(
        thickness in maybe(Thickness::ALL),
        oiliness in maybe(Oiliness::ALL),
        sensitivity in maybe(Sensitivity::ALL),
        age_years in proptest::option::of(18_u8..95),
        signs in proptest::sample::subsequence(SkinSign::ALL, 0..=2),
    ) -> Skin {
        Skin { thickness, oiliness, sensitivity, age_years, signs, ..Skin::default() }
    }
}

prop_compose! {
    fn any_machine()(
        stroke_mm in proptest::option::of(1.5_f64..4.6),
        rate_hz in proptest::option::of(20.0_f64..230.0),
        give in maybe(Give::ALL),
    ) -> Machine {
        Machine { stroke_mm, rate_hz, give }
    }
}

prop_compose! {
    fn any_setting()(
        hand in maybe(Hand::ALL),
        machine in proptest::option::of(any_machine()),
        skin in proptest::option::of(any_skin()),
        hand_speed_mm_s in proptest::option::of(0.5_f64..150.0),
        depth_mm in proptest::option::of(0.05_f64..1.2),
        passes in proptest::option::of(1_u8..20),
    ) -> Setting {
        Setting { hand, machine, skin, hand_speed_mm_s, depth_mm, passes, ..Setting::default() }
    }
}

proptest! {
    /// Law: what may not stand in one answer does not, whatever is told.
    #[test]
    fn no_answer_contradicts_itself_whatever_is_told(
        setting in any_setting(),
        at in any::<proptest::sample::Index>(),
        language in proptest::sample::select(Language::ALL),
    ) {
        let Pairs { pair: pairs, once } = toml::from_str(include_str!("voice.toml")).unwrap();
        let house = House::open();
        let all = house.pairs();
        let (treatment, effect) = *at.get(&all);
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates: house.selector.usual(),
            limit: 5,
            folds: true,
            language,
        };
        let selection = house.selector.select(&house.model, &request).unwrap();
        let broken = breaks(&pairs, &once, &selection, language);
        prop_assert!(broken.is_empty(), "{treatment} {effect}: {broken:?}");
    }
}

#[test]
fn no_two_sentences_of_one_answer_contradict_each_other() {
    let Pairs { pair: pairs, once } = toml::from_str(include_str!("voice.toml")).unwrap();
    let house = House::open();
    let (mut answers, mut sentences, mut used) = (0.0, 0.0, BTreeSet::new());
    let mut broken: BTreeMap<String, (usize, String)> = BTreeMap::new();
    for (treatment, effect) in house.pairs() {
        // Both languages say the same under the same keys: each answer is read in one.
        for (at, setting) in settings().into_iter().chain(beyond()).enumerate() {
            let language = Language::ALL[at % Language::ALL.len()];
            let request = Request {
                treatment,
                effect,
                setting: &setting,
                candidates: house.selector.usual(),
                limit: 3,
                folds: false,
                language,
            };
            let selection = house.selector.select(&house.model, &request).unwrap();
            answers += 1.0;
            sentences +=
                f64::from(u32::try_from(said(&selection, &selection.ranked[0]).len()).unwrap());
            for (about, sentences) in breaks(&pairs, &once, &selection, language) {
                let case = format!("{treatment} {effect} {setting:?}: {sentences:?}");
                broken.entry(format!("{language} {about}")).or_insert((0, case)).0 += 1;
            }
            for ranked in &selection.ranked {
                let said = said(&selection, ranked);
                for pair in pairs.iter().filter(|pair| pair.language == language) {
                    for (side, parts) in [&pair.one, &pair.other].into_iter().enumerate() {
                        if parts.iter().any(|part| said.iter().any(|text| text.contains(&**part))) {
                            used.insert((pair.about.clone(), language, side));
                        }
                    }
                }
            }
        }
    }
    println!("{answers} answers, {:.1} sentences on the first", sentences / answers);
    assert!(broken.is_empty(), "{broken:#?}");
    // A side that nothing says holds nothing, unless it stands guard.
    let told = pairs.iter().filter(|pair| !pair.guard);
    let sides = told.flat_map(|p| [0, 1].map(|at| (p.about.clone(), p.language, at)));
    let idle: BTreeSet<_> = sides.filter(|side| !used.contains(side)).collect();
    assert!(idle.is_empty(), "never said: {idle:#?}");
}

/// A part that no sentence of the catalogue holds keeps nothing apart; what stands guard
/// may wait for a sentence that was said once.
#[test]
fn every_part_of_a_pair_is_part_of_a_sentence() {
    let Pairs { pair: pairs, once } = toml::from_str(include_str!("voice.toml")).unwrap();
    let house = House::open();
    let texts = &house.selector.rules.texts;
    let pairs = pairs.iter().filter(|pair| !pair.guard);
    let pairs = pairs.flat_map(|it| it.one.iter().chain(&it.other).map(|part| (it.language, part)));
    let once = once.iter().flat_map(|it| it.parts.iter().map(|part| (it.language, part)));
    for (language, part) in pairs.chain(once) {
        // What is measured has its sentences in a catalogue of its own.
        let measured = text_files!("configuration")[language as usize].text;
        let is_said = texts.keys().any(|key| texts.get(language, key).contains(&**part))
            || measured.contains(&**part);
        assert!(is_said, "{language}: nothing says `{part}`");
    }
}

/// A sentence that is the same in both languages was not translated; what is no
/// sentence (a canonical text, a count) may be.
#[test]
fn an_answer_is_in_one_language() {
    let house = House::open();
    let setting = Setting {
        depth_mm: Some(0.4),
        site: Some(etui_schema::vocabulary::Site::Scalp),
        ..settings()[90].clone()
    };
    let canonical = |text: &str| text.split(' ').count() < 3;
    for (treatment, effect) in house.pairs() {
        let [en, de] = [Language::En, Language::De].map(|language| {
            let usual = house.selector.usual();
            all(&house.saying(language, treatment, effect, &setting, usual))
        });
        assert_eq!(en.len(), de.len(), "{treatment} {effect}");
        for (en, de) in en.iter().zip(&de) {
            assert!(en != de || canonical(en), "{treatment} {effect}: {en}");
            for text in [en, de] {
                assert!(!text.contains(['{', '}', '_']) && !text.is_empty(), "{text}");
            }
        }
    }
}

#[test]
fn every_sentence_is_said_by_code_or_by_a_rule() {
    let rules = [
        include_str!("../../../rules/selection/brows.toml"),
        include_str!("../../../rules/selection/lips.toml"),
        include_str!("../../../rules/selection/eyeliner.toml"),
        include_str!("../../../rules/selection/scalp.toml"),
        include_str!("../../../rules/selection/areola.toml"),
        include_str!("../../../rules/selection/notes.toml"),
        include_str!("../../../rules/selection/hints.toml"),
        include_str!("../../../rules/selection/views.toml"),
    ]
    .concat();
    let (house, said) = (House::open(), said_by_code("selection"));
    for key in house.selector.rules.texts.keys() {
        let named = rules.contains(&format!("\"{key}\""));
        let is_made = key.starts_with("form.") || key.starts_with("if.");
        let said = said.contains(key.trim_end_matches(".one")) || is_made;
        assert!(named || said, "nothing says `{key}`");
    }
}
