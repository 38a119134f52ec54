//! An artist's own results as one question more: it moves the order, and nothing else.

use std::collections::BTreeMap;

use etui_schema::vocabulary::Configuration;
use etui_schema::vocabulary::aftercare::Retention;
use proptest::prelude::*;

use super::*;
use crate::hand::{Hands, Healed, OwnResult, Standing};
use crate::training::Training;

fn rooms() -> &'static (Hands, Training) {
    static ROOMS: LazyLock<(Hands, Training)> = LazyLock::new(|| {
        let register = Register::builtin().unwrap();
        (Hands::builtin(&register).unwrap(), Training::builtin(&register).unwrap())
    });
    &ROOMS
}

fn results(
    pair: (Treatment, Effect),
    needle: Complete,
    held: usize,
    lost: usize,
) -> Vec<OwnResult> {
    let one = |kept| OwnResult {
        healed: Healed {
            treatment: pair.0,
            effect: Some(pair.1),
            configurations: Vec::new(),
            kept: vec![kept],
            hurt: Some(false),
        },
        used: vec![Configuration::from(needle)],
    };
    let mut all = vec![one(Retention::From75); held];
    all.extend(vec![one(Retention::Under25); lost]);
    all
}

fn request<'a>(pair: (Treatment, Effect), setting: &'a Setting, folds: bool) -> Request<'a> {
    Request {
        treatment: pair.0,
        effect: pair.1,
        setting,
        candidates: House::open().selector.usual(),
        limit: usize::MAX,
        folds,
        language: Language::En,
    }
}

fn knowing(request: &Request<'_>, results: &[OwnResult], weight: Option<f64>) -> Selection {
    let (house, (hands, training)) = (House::open(), rooms());
    let own = hands.own(training, results, 0);
    house.selector.select_knowing(&house.model, request, own, weight).unwrap()
}

/// What is said of each needle, but for its place and her results.
fn told(selection: &Selection) -> BTreeMap<String, Ranked> {
    let of = |one: &Ranked| Ranked { own: None, desirability: 0.0, ..one.clone() };
    selection.ranked.iter().map(|one| (one.configuration.canonical(), of(one))).collect()
}

fn place(selection: &Selection, needle: &Complete) -> usize {
    selection.ranked.iter().position(|one| one.configuration == *needle).unwrap()
}

fn a_setting() -> impl Strategy<Value = Setting> {
    proptest::sample::select(voice::settings())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(48)))]

    /// Law: her results move the order alone. What is set aside stays so, and of no needle is
    /// anything else said; with no weight, or results of other work, the order stays as well.
    #[test]
    fn they_move_the_order_and_nothing_else(
        setting in a_setting(), pair in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(),
        held in 0..60usize, lost in 0..60usize, weight in proptest::option::of(0.0..=1.0f64),
    ) {
        let house = House::open();
        let pairs = house.pairs();
        let pair = pairs[pair.index(pairs.len())];
        let request = request(pair, &setting, false);
        let without = house.selector.select(&house.model, &request).unwrap();
        prop_assert!(without.own.is_none() && without.ranked.iter().all(|one| one.own.is_none()));
        let needle = without.ranked[at.index(without.ranked.len())].configuration;
        let mut mine = results(pair, needle, held, lost);
        mine.extend(results(pair, house.selector.usual()[0].configuration, 8, 4));
        let with = knowing(&request, &mine, weight);
        prop_assert_eq!(told(&with), told(&without));
        prop_assert_eq!(&with.set_aside, &without.set_aside);
        prop_assert_eq!(&with.hints, &without.hints);
        prop_assert_eq!(&with.assumed, &without.assumed);
        prop_assert!(with.ranked.iter().all(|one| 0.0 < one.desirability && one.desirability <= 1.0));
        let elsewhere = pairs.iter().find(|other| other.0 != pair.0).unwrap();
        let other = results(*elsewhere, needle, held + 10, lost);
        for same in [knowing(&request, &mine, Some(0.0)), knowing(&request, &other, None)] {
            prop_assert_eq!(texts(&same), texts(&without));
            let desirable = |all: &Selection| {
                all.ranked.iter().map(|one| one.desirability).collect::<Vec<_>>()
            };
            prop_assert_eq!(desirable(&same), desirable(&without));
            prop_assert_eq!(&same.would_change, &without.would_change);
        }
    }

    /// Law: fewer results of the same share never move a rank more than many.
    #[test]
    fn few_results_never_move_a_rank_more_than_many(
        setting in a_setting(), pair in any::<prop::sample::Index>(), at in any::<prop::sample::Index>(),
        held in 0..8usize, lost in 0..8usize, others in (1..8usize, 1..8usize), times in 2..8usize,
    ) {
        let house = House::open();
        let pairs = house.pairs();
        let pair = pairs[pair.index(pairs.len())];
        let request = request(pair, &setting, false);
        let without = house.selector.select(&house.model, &request).unwrap();
        let needle = without.ranked[at.index(without.ranked.len())].configuration;
        let far = Complete { count: needle.count.wrapping_add(100), ..needle };
        // All her work the same so many times over: every share stays.
        let moved = |times: usize| {
            let mut mine = results(pair, needle, held * times, lost * times);
            mine.extend(results(pair, far, (others.0 + 5) * times, (others.1 + 5) * times));
            place(&knowing(&request, &mine, None), &needle).abs_diff(place(&without, &needle))
        };
        prop_assert!(moved(1) <= moved(times), "{} {}", moved(1), moved(times));
    }
}

#[test]
fn what_surely_held_comes_before_what_suits_about_as_well() {
    let house = House::open();
    let (pair, setting) = ((Treatment::Brows, Effect::SoftShading), Setting::default());
    let request = request(pair, &setting, true);
    let without = house.selector.select(&house.model, &request).unwrap();
    let first = without.ranked[0].configuration;
    let mut mine = results(pair, first, 4, 60);
    mine.extend(results(pair, needle("0.35 14RL"), 60, 0));
    let with = knowing(&request, &mine, Some(1.0));
    let own = |needle: &Complete| {
        let one = with.ranked.iter().find(|one| one.configuration == *needle).unwrap();
        one.own.clone().unwrap()
    };
    let bad = own(&first);
    assert_eq!(bad.share.unwrap().standing, Standing::Below);
    assert!(bad.because.contains("depth is never the answer"), "{}", bad.because);
    assert!(0 < place(&with, &first), "{:?}", texts(&with));
    let now = with.ranked[0].own.clone().unwrap();
    assert!(now.share.is_none() && bad.desirability < now.desirability, "{now:?}");
    // A needle that her results tell apart does not stand beside one that they do not.
    for one in &with.ranked {
        assert!(
            place(&with, &first) == place(&with, &one.configuration) || !one.alike.contains(&first)
        );
    }
    let question = with.own.unwrap();
    assert_eq!((question.weight, question.results, question.forgotten), (1.0, 124, 0));
    assert!(question.basis.iter().any(|basis| &*basis.source == "gelman-bda"));
}
