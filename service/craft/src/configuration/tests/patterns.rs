//! Simulated patterns against the Boolean model and the arithmetic of travel.

use etui_schema::vocabulary::{Grouping, Setting};
use proptest::prelude::*;

use super::super::Model;
use super::super::pattern::{Ground, Jitter, PatternError, PatternRequest};
use super::{complete, model, near, setting};

fn request(
    model: &Model,
    count: u8,
    grouping: Grouping,
    ground: Ground,
    seed: u64,
) -> PatternRequest {
    PatternRequest {
        configuration: complete(0.30, count, grouping),
        circumstances: model.circumstances(&setting(0.4, 2.5, 100.0, 10.0)),
        ground,
        jitter: Jitter::default(),
        seed,
    }
}

const SQUARE: Ground = Ground::Area { width_mm: 4.0, height_mm: 4.0 };

/// Over 200 seeds the mean stays within 3 standard errors of 1 − exp(−λa).
#[test]
fn an_area_is_covered_as_the_boolean_model_expects() {
    let model = model();
    for (count, grouping, passes) in [
        (1, Grouping::RoundLiner, 1),
        (3, Grouping::RoundLiner, 3),
        (7, Grouping::WovenMagnum, 2),
        (9, Grouping::CurvedMagnum, 4),
    ] {
        let mut off = Vec::new();
        for seed in 0..200 {
            let mut request = request(&model, count, grouping, SQUARE, seed);
            request.circumstances.passes = passes;
            let pattern = model.pattern(&request).unwrap();
            let measures = model.measure(&request.configuration, &request.circumstances);
            let statistics = pattern.statistics(seed);
            off.push(statistics.coverage.simulated - measures.colour_coverage);
        }
        let mean = off.iter().sum::<f64>() / 200.0;
        let variance = off.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 199.0;
        let error = (variance / 200.0).sqrt();
        assert!(mean.abs() <= 3.0 * error, "{count}{grouping}: off by {mean}, error {error}");
    }
}

#[test]
fn strokes_lie_as_far_apart_as_the_hand_moves_between_them() {
    let model = model();
    for (rate, speed, seed) in [(100.0, 10.0, 1), (60.0, 30.0, 2), (150.0, 5.0, 3)] {
        let mut request =
            request(&model, 3, Grouping::RoundLiner, Ground::Straight { length_mm: 40.0 }, seed);
        request.circumstances = model.circumstances(&setting(0.4, 2.5, rate, speed));
        let found = model.pattern(&request).unwrap().stroke_spacing_mm.unwrap();
        near(found / (speed / rate), 1.0, 0.01, &format!("{speed} mm/s at {rate} Hz"));
    }
}

#[test]
fn the_same_seed_gives_the_same_dots_and_another_seed_others() {
    let model = model();
    for ground in [SQUARE, Ground::Hair { length_mm: 8.0, bend_deg: 40.0 }] {
        let dots = |seed| {
            model.pattern(&request(&model, 3, Grouping::RoundShader, ground, seed)).unwrap().dots
        };
        assert_eq!(dots(5), dots(5));
        assert_ne!(dots(5), dots(6));
    }
    // The first dot to the bit, so that another machine shows a difference.
    let first =
        model.pattern(&request(&model, 1, Grouping::RoundLiner, SQUARE, 1)).unwrap().dots[0];
    let bits = [first.along_mm, first.across_mm].map(f64::to_bits);
    assert_eq!(bits, FIRST_DOT_OF_SEED_ONE, "{first:?}");
}

const FIRST_DOT_OF_SEED_ONE: [u64; 2] = [4_600_023_888_151_187_145, 4_613_978_511_485_067_895];

#[test]
fn a_hair_stroke_thins_at_its_end_and_bends() {
    let model = model();
    let ground = Ground::Hair { length_mm: 10.0, bend_deg: 60.0 };
    let pattern = model.pattern(&request(&model, 1, Grouping::RoundLiner, ground, 3)).unwrap();
    let (first, last) = (pattern.dots[0], pattern.dots[pattern.dots.len() - 1]);
    assert!(last.radius_mm < first.radius_mm);
    let place = pattern.place(&last);
    // The chord of a 60° arc of 10 mm is 10·sin(30°)/(π/6) = 9.549 mm.
    near((place.x_mm.powi(2) + place.y_mm.powi(2)).sqrt(), 9.549, 0.25, "chord");
}

#[test]
fn more_passes_leave_smaller_gaps() {
    let model = model();
    let gap = |passes| {
        let mut request = request(&model, 3, Grouping::RoundLiner, SQUARE, 9);
        request.circumstances.passes = passes;
        model.pattern(&request).unwrap().statistics(9).largest_gap_mm
    };
    assert!(gap(8) < gap(1), "{} against {}", gap(8), gap(1));
}

#[test]
fn dots_thrown_at_random_have_a_regularity_of_one_and_a_steady_line_more() {
    let model = model();
    let single = |ground| {
        let mut request = request(&model, 1, Grouping::RoundLiner, ground, 4);
        request.circumstances.passes = 1;
        model.pattern(&request).unwrap().statistics(4).spacing.regularity
    };
    near(single(Ground::Area { width_mm: 10.0, height_mm: 10.0 }), 1.0, 0.06, "area");
    assert!(1.05 < single(Ground::Straight { length_mm: 40.0 }));
}

#[test]
fn what_is_out_of_range_is_refused() {
    let model = model();
    let ask = |ground, jitter, speed| {
        let mut asked = request(&model, 49, Grouping::RoundLiner, ground, 1);
        asked.jitter = jitter;
        asked.circumstances.hand_speed_mm_s = speed;
        asked.circumstances.passes = 50;
        model.pattern(&asked)
    };
    let steady = Jitter::default();
    for (ground, jitter, speed) in [
        (Ground::Straight { length_mm: 0.0 }, steady, 50.0),
        (Ground::Straight { length_mm: f64::NAN }, steady, 50.0),
        (Ground::Hair { length_mm: 5.0, bend_deg: 121.0 }, steady, 50.0),
        (Ground::Area { width_mm: 51.0, height_mm: 1.0 }, steady, 300.0),
        (Ground::Straight { length_mm: 5.0 }, Jitter { pace: 1.5, ..steady }, 50.0),
    ] {
        assert!(
            matches!(ask(ground, jitter, speed), Err(PatternError::Range { .. })),
            "{ground:?}"
        );
    }
    let huge = ask(Ground::Area { width_mm: 50.0, height_mm: 50.0 }, steady, 0.5);
    assert!(matches!(huge, Err(PatternError::TooMany { .. })));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

    #[test]
    fn every_statistic_is_finite(count in 1..=15_u8, seed in any::<u64>(), kind in 0..3_u8, passes in 1..4_u8) {
        let model = model();
        let ground = match kind {
            0 => Ground::Straight { length_mm: 5.0 },
            1 => Ground::Hair { length_mm: 5.0, bend_deg: 30.0 },
            _ => Ground::Area { width_mm: 2.0, height_mm: 3.0 },
        };
        let asked = PatternRequest {
            circumstances: model.circumstances(&Setting { passes: Some(passes), ..Setting::default() }),
            ..request(&model, count, Grouping::RoundShader, ground, seed)
        };
        let statistics = model.pattern(&asked).unwrap().statistics(seed);
        prop_assert!((0.0..=1.0).contains(&statistics.coverage.simulated));
        prop_assert!(statistics.repeat_hits.simulated <= statistics.coverage.simulated);
        prop_assert!(statistics.spacing.regularity.is_finite());
        prop_assert!(statistics.edge_roughness_mm.is_finite() && 0.0 <= statistics.largest_gap_mm);
    }
}
