//! What few results may say, and what is not known never may.

use std::sync::LazyLock;

use etui_schema::vocabulary::Grouping;
use etui_schema::vocabulary::aftercare::Retention;
use proptest::prelude::*;

use super::*;
use crate::evidence::Register;

const PAIR: (Treatment, Effect) = (Treatment::Brows, Effect::SoftShading);

fn house() -> &'static (Hands, Training) {
    static HOUSE: LazyLock<(Hands, Training)> = LazyLock::new(|| {
        let register = Register::builtin().unwrap();
        (Hands::builtin(&register).unwrap(), Training::builtin(&register).unwrap())
    });
    &HOUSE
}

fn shader(diameter_mm: f64) -> Complete {
    Complete { diameter_mm, count: 3, grouping: Grouping::RoundShader, taper: None }
}

fn liner() -> Complete {
    Complete { diameter_mm: 0.20, count: 1, grouping: Grouping::RoundLiner, taper: None }
}

/// One result; told of the skin, unless it is said otherwise.
fn result(needle: Complete, held: bool) -> OwnResult {
    let kept = vec![if held { Retention::From75 } else { Retention::Under25 }];
    let (treatment, effect) = (PAIR.0, Some(PAIR.1));
    let healed = Healed { treatment, effect, configurations: vec![], kept, hurt: Some(false) };
    OwnResult { healed, used: vec![needle.into()] }
}

fn results(needle: Complete, held: u32, lost: u32) -> Vec<OwnResult> {
    (0..held + lost).map(|n| result(needle, n < held)).collect()
}

fn asked(results: &[OwnResult], forgotten: u32, needle: Complete) -> (f64, Option<OwnShare>) {
    let (hands, training) = house();
    let work = hands.own(training, results, forgotten).work(PAIR.0, PAIR.1);
    (work.mean().unwrap(), work.of(&needle))
}

/// What counts for a needle: the mean where nothing is said of it.
fn counts(results: &[OwnResult], forgotten: u32, needle: Complete) -> (f64, f64) {
    let (mean, share) = asked(results, forgotten, needle);
    (mean, share.map_or(mean, |share| share.counts))
}

#[test]
fn many_bad_and_many_good_results_stand_apart_and_few_do_not() {
    let mut all = results(liner(), 30, 0);
    all.extend(results(shader(0.30), 0, 30));
    // Half of 60; Beta(5, 5) and 0 of 30: mean 5/40.
    let (mean, below) = asked(&all, 0, shader(0.30));
    let below = below.unwrap();
    assert!((mean - 0.5).abs() < 1e-12 && (below.share - 0.125).abs() < 1e-12, "{below:?}");
    assert_eq!((below.standing, below.results, below.silent), (Standing::Below, 30, 0));
    assert!(0.125 < below.counts && below.counts < 0.5, "{below:?}");
    let above = asked(&all, 0, liner()).1.unwrap();
    assert_eq!(above.standing, Standing::Above);
    // One and the other mirror each other.
    assert!((above.counts - (1.0 - below.counts)).abs() < 1e-9, "{above:?} {below:?}");
    let mut few = results(liner(), 8, 8);
    few.extend(results(shader(0.30), 0, 2));
    let (mean, two) = asked(&few, 0, shader(0.30));
    let two = two.unwrap();
    assert_eq!((two.standing, two.counts), (Standing::Alike, mean));
    // A diameter within what is practised as one is the same needle, another is none.
    assert!(asked(&all, 0, shader(0.35)).1.is_some());
    assert_eq!(asked(&all, 0, shader(0.20)).1, None);
}

#[test]
fn too_few_in_all_say_nothing_and_other_work_is_not_counted() {
    let (hands, training) = house();
    let nine = results(liner(), 9, 0);
    let own = hands.own(training, &nine, 0);
    assert_eq!(own.work(PAIR.0, PAIR.1).mean(), None);
    assert_eq!(own.work(PAIR.0, PAIR.1).of(&liner()), None);
    let ten = results(liner(), 10, 0);
    for (treatment, effect, results) in
        [(PAIR.0, PAIR.1, 10), (Treatment::Lips, PAIR.1, 0), (PAIR.0, Effect::HairStrokes, 0)]
    {
        let work = hands.own(training, &ten, 0).work(treatment, effect);
        assert_eq!((work.results(), work.mean().is_some()), (results, results == 10));
    }
}

#[test]
fn what_held_on_hurt_skin_did_not_hold() {
    let mut all = results(liner(), 20, 20);
    let deep = OwnResult {
        healed: Healed { hurt: Some(true), ..result(shader(0.30), true).healed },
        ..result(shader(0.30), true)
    };
    all.extend(vec![deep; 30]);
    let share = asked(&all, 0, shader(0.30)).1.unwrap();
    assert_eq!(share.standing, Standing::Below);
}

/// Ways in which something of a result may not be told.
fn untold(mut result: OwnResult, way: u8) -> OwnResult {
    match way % 5 {
        0 => result.healed.hurt = None,
        1 => result.healed.kept.clear(),
        2 => result.healed.effect = None,
        3 => result.used.iter_mut().for_each(|used| used.diameter_mm = None),
        _ => result.used.iter_mut().for_each(|used| used.grouping = None),
    }
    result
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    /// Law: at the same mean and share, few results never move a needle more than many.
    #[test]
    fn few_never_move_more_than_many(
        mean in 0.02..0.98f64, share in 0.0..=1.0f64, few in 1..200u32, more in 0..300u32,
        silent in 0..20u32,
    ) {
        let training = &house().1;
        let moved = |of: u32| {
            let sum = |of: u32, held: u32| Sum { held: share * f64::from(held), of };
            let stands = stand(training, mean, sum(of + silent, of), sum(of, of));
            (stands.counts - mean).abs()
        };
        prop_assert!(moved(few) <= moved(few + more) + 1e-9, "{} {}", moved(few), moved(few + more));
    }

    /// Law: what counts lies between the mean and the share that was seen, and inside the interval.
    #[test]
    fn nothing_counts_beyond_what_was_seen(
        held in 0..60u32, lost in 0..60u32, others in 10..80u32, good in 0..80u32,
    ) {
        let mut all = results(liner(), others.min(good), others.saturating_sub(good));
        all.extend(results(shader(0.30), held, lost));
        let (mean, share) = asked(&all, 0, shader(0.30));
        prop_assert_eq!(share.is_some(), 0 < held + lost);
        if let Some(share) = share {
            let seen = f64::from(held) / f64::from(held + lost);
            prop_assert!(mean.min(seen) <= share.counts && share.counts <= mean.max(seen));
            prop_assert!(share.interval.low <= share.share && share.share <= share.interval.high);
            prop_assert_eq!(share.standing == Standing::Alike, share.counts.to_bits() == mean.to_bits());
        }
    }

    /// Law: one more result that held never counts for less, one that did not never for more.
    #[test]
    fn better_results_never_count_for_less(
        held in 0..40u32, lost in 0..40u32, mean in 0.05..0.95f64,
    ) {
        let training = &house().1;
        let at = |held: u32, lost: u32| {
            let sum = Sum { held: f64::from(held), of: held + lost };
            stand(training, mean, sum, sum).counts
        };
        prop_assert!(at(held, lost) <= at(held + 1, lost) + 1e-9);
        prop_assert!(at(held, lost + 1) <= at(held, lost) + 1e-9);
    }

    /// Law: results of a needle that are forgotten, or of which something is not told, never
    /// lift it above her work of the kind if it did not stand above, nor higher if it did.
    #[test]
    fn ignorance_never_lifts_a_needle(
        held in 0..40u32, lost in 0..40u32, others in (5..40u32, 5..40u32),
        hidden in proptest::collection::vec((any::<prop::sample::Index>(), 0..6u8), 1..30),
        forgotten in 0..3u32,
    ) {
        let other = results(liner(), others.0, others.1);
        let mine = results(shader(0.30), held, lost);
        let known: Vec<OwnResult> = other.iter().chain(&mine).cloned().collect();
        let mut left: Vec<Option<OwnResult>> = mine.into_iter().map(Some).collect();
        let mut gone = forgotten;
        // Only what did not hold is hidden: what held and is hidden speaks for it no more.
        for (index, way) in hidden.iter().filter(|_| lost != 0) {
            let at = held as usize + index.index(lost as usize);
            if *way == 5 {
                gone += u32::from(left[at].take().is_some());
            } else {
                left[at] = left[at].take().map(|one| untold(one, *way));
            }
        }
        let all: Vec<OwnResult> = other.into_iter().chain(left.into_iter().flatten()).collect();
        let (mean, knew) = counts(&known, forgotten, shader(0.30));
        let (then_mean, then) = counts(&all, gone, shader(0.30));
        prop_assert!(then - then_mean <= (knew - mean).max(0.0) + 1e-9,
            "{knew} of {mean}, then {then} of {then_mean}");
    }
}
