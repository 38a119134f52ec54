//! What the trade agrees on: no firm agreement is contradicted, under any hand,
//! machine or skin, and of the strong ones nine in ten hold.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::cases::holds;
use super::voice::settings;
use super::*;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Consensus {
    agreed: Vec<Agreed>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Agreed {
    about: String,
    weight: Weight,
    agreement: String,
    of: Vec<(Treatment, Effect)>,
    #[serde(default)]
    settings: Under,
    expect: Vec<String>,
}

#[derive(Deserialize, Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[serde(rename_all = "snake_case")]
enum Weight {
    Firm,
    Strong,
}

/// Under which settings it holds.
#[derive(Deserialize, Default)]
#[serde(untagged)]
enum Under {
    Named(Word),
    These(Vec<Setting>),
    #[default]
    Scan,
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum Word {
    All,
    Nothing,
}

impl Under {
    fn all(&self) -> Vec<Setting> {
        match self {
            Self::Scan | Self::Named(Word::All) => settings(),
            Self::Named(Word::Nothing) => vec![Setting::default()],
            Self::These(these) => these.clone(),
        }
    }
}

#[test]
fn no_firm_agreement_of_the_trade_is_contradicted() {
    let Consensus { agreed } = toml::from_str(include_str!("consensus.toml")).unwrap();
    let house = House::open();
    let mut held: BTreeMap<Weight, (u32, u32)> = BTreeMap::new();
    let (mut tried, mut failures) = (0, Vec::new());
    for one in &agreed {
        assert!(!one.agreement.is_empty() && !one.of.is_empty(), "{}", one.about);
        let mut broken: BTreeMap<&str, (u32, String)> = BTreeMap::new();
        for (treatment, effect) in &one.of {
            for setting in one.settings.all() {
                let selection = house.usual(*treatment, *effect, &setting);
                for sentence in &one.expect {
                    tried += 1;
                    if !holds(&selection, sentence) {
                        let first = &texts(&selection)[..3];
                        let case = || format!("{treatment} {effect} {setting:?}: {first:?}");
                        broken.entry(sentence).or_insert_with(|| (0, case())).0 += 1;
                    }
                }
            }
        }
        let count = held.entry(one.weight).or_default();
        count.0 += u32::from(broken.is_empty());
        count.1 += 1;
        if !broken.is_empty() {
            failures.push(format!("{:?} {}: {broken:#?}", one.weight, one.about));
        }
    }
    println!("{tried} tried; held of all: {held:?}\n{}", failures.join("\n"));
    let of = |weight: Weight| held.get(&weight).copied().unwrap_or_default();
    let (firm, all_firm) = of(Weight::Firm);
    let (strong, all_strong) = of(Weight::Strong);
    assert!(20 <= all_firm && 10 <= all_strong, "{held:?}");
    assert_eq!(firm, all_firm, "firm agreements contradicted:\n{}", failures.join("\n"));
    assert!(all_strong * 9 <= strong * 10, "{strong} of {all_strong}:\n{}", failures.join("\n"));
}

/// Nobody in the trade ties a needle to the tone of a skin.
#[test]
fn the_tone_of_the_skin_chooses_no_needle() {
    use etui_schema::vocabulary::Phototype;
    let house = House::open();
    for (treatment, effect) in house.pairs() {
        let ranked = |phototype| {
            texts(&house.usual(treatment, effect, &skin(|skin| skin.phototype = phototype)))
        };
        let untold = ranked(None);
        for phototype in Phototype::ALL {
            assert_eq!(ranked(Some(*phototype)), untold, "{treatment} {effect} {phototype}");
        }
    }
}
