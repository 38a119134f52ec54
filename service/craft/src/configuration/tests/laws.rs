//! Laws that hold for every configuration and setting.

use etui_schema::vocabulary::{
    Give, Grouping, Hand, Machine, Phototype, Setting, Site, Skin, Taper,
};
use proptest::prelude::*;

use super::super::{Complete, Model, OrderBy, Parameter};

fn any_of<T: Copy + std::fmt::Debug + 'static>(all: &'static [T]) -> impl Strategy<Value = T> {
    prop::sample::select(all)
}

fn configurations() -> impl Strategy<Value = Complete> {
    let tapers = prop_oneof![Just(None), any_of(Taper::ALL).prop_map(Some)];
    (0.15..0.45_f64, 1..=49_u8, any_of(Grouping::ALL), tapers).prop_map(
        |(diameter_mm, count, grouping, taper)| Complete { diameter_mm, count, grouping, taper },
    )
}

fn settings() -> impl Strategy<Value = Setting> {
    let machine =
        (1.5..4.0_f64, 20.0..250.0_f64, any_of(Give::ALL)).prop_map(|(stroke, rate, give)| {
            Machine { stroke_mm: Some(stroke), rate_hz: Some(rate), give: Some(give) }
        });
    (any_of(Hand::ALL), machine, any_of(Site::ALL), 0.05..1.4_f64, 1.0..150.0_f64, 1..=9_u8)
        .prop_map(|(hand, machine, site, depth, speed, passes)| Setting {
            hand: Some(hand),
            machine: Some(machine),
            skin: None,
            site: Some(site),
            depth_mm: Some(depth),
            hand_speed_mm_s: Some(speed),
            passes: Some(passes),
        })
}

thread_local! {
    static MODEL: Model = Model::builtin().unwrap();
}

const HAIR: f64 = 1.0 + 1e-9;

proptest! {
    #![proptest_config(ProptestConfig {
        max_global_rejects: u32::MAX,
        ..ProptestConfig::with_cases(crate::laws::cases(256))
    })]

    #[test]
    fn more_tips_of_the_same_size_never_raise_pressure(one in configurations(), told in settings(), spreading in 0.0..0.9_f64) {
        MODEL.with(|model| {
            let model = model.with([("pressure_spreading", spreading)]).unwrap();
            let circumstances = model.circumstances(&told);
            let more = Complete { count: (one.count + 1).min(49), ..one };
            let (few, many) =
                (model.measure(&one, &circumstances), model.measure(&more, &circumstances));
            prop_assert!(many.pressure_index <= few.pressure_index * HAIR, "{} {}", few.pressure_index, many.pressure_index);
            Ok(())
        })?;
    }

    #[test]
    fn deeper_never_lowers_trauma(one in configurations(), told in settings(), by in 1.0..3.0_f64) {
        MODEL.with(|model| {
            let shallow = model.circumstances(&told);
            let mut deep = shallow.clone();
            deep.depth_mm *= by;
            let (less, more) = (model.measure(&one, &shallow), model.measure(&one, &deep));
            prop_assert!(less.trauma_index <= more.trauma_index * HAIR);
            Ok(())
        })?;
    }

    #[test]
    fn thicker_never_lowers_trauma_nor_raises_pressure(one in configurations(), told in settings(), by in 1.0..1.3_f64) {
        MODEL.with(|model| {
            let circumstances = model.circumstances(&told);
            let thicker = Complete { diameter_mm: one.diameter_mm * by, ..one };
            // Tips on an arc stand further back when the group is wider.
            prop_assume!(one.grouping != Grouping::CurvedMagnum && one.grouping != Grouping::SlopedFlat);
            let (thin, thick) =
                (model.measure(&one, &circumstances), model.measure(&thicker, &circumstances));
            prop_assert!(thin.trauma_index <= thick.trauma_index * HAIR);
            prop_assert!(thick.pressure_index <= thin.pressure_index * HAIR);
            Ok(())
        })?;
    }

    #[test]
    fn wider_spacing_never_lowers_band_width_or_raises_pressure(one in configurations(), told in settings(), share in 0.0..1.0_f64) {
        MODEL.with(|model| {
            let circumstances = model.circumstances(&told);
            let parameter = Parameter::of_layout(one.grouping)[0];
            let [low, high] = model.parameters().specification(parameter).range;
            let at = |share: f64| model.with([(parameter.as_str(), low + share * (high - low))]).unwrap();
            let (narrow, wide) = (at(share * 0.5), at(share));
            let (narrow, wide) = (narrow.measure(&one, &circumstances), wide.measure(&one, &circumstances));
            prop_assert!(narrow.band_width_mm <= wide.band_width_mm * HAIR);
            prop_assert!(narrow.footprint_mm2 <= wide.footprint_mm2 * HAIR || one.grouping == Grouping::StackedMagnum);
            Ok(())
        })?;
    }

    #[test]
    fn a_faster_hand_never_raises_punctures(one in configurations(), told in settings(), by in 1.0..5.0_f64) {
        MODEL.with(|model| {
            let slow = model.circumstances(&told);
            let mut fast = slow.clone();
            fast.hand_speed_mm_s *= by;
            let (slow, fast) = (model.measure(&one, &slow), model.measure(&one, &fast));
            prop_assert!(fast.punctures_per_mm2 <= slow.punctures_per_mm2 * HAIR);
            prop_assert!(fast.coverage <= slow.coverage * HAIR);
            prop_assert!(fast.trauma_index <= slow.trauma_index * HAIR);
            Ok(())
        })?;
    }

    #[test]
    fn every_number_is_finite_and_in_its_range(one in configurations(), told in settings()) {
        MODEL.with(|model| {
            let measures = model.measure(&one, &model.circumstances(&told));
            for share in [measures.coverage, measures.repeat_hits, measures.colour_coverage] {
                prop_assert!((0.0..=1.0).contains(&share));
            }
            prop_assert!(measures.repeat_hits <= measures.coverage);
            prop_assert!(measures.coverage <= measures.colour_coverage * HAIR);
            prop_assert!(1 <= measures.passes_to_cover && 1 <= measures.depths.in_skin);
            prop_assert!(measures.hole_diameter_mm <= one.diameter_mm);
            prop_assert!(measures.sharing_tips.is_finite() && 0.0 < measures.sharing_tips);
            for number in [measures.pressure_index, measures.trauma_index, measures.seconds_per_cm2,
                measures.footprint_mm2, measures.tips_per_mm2, measures.dwell_ms, measures.hole_area_mm2] {
                prop_assert!(number.is_finite() && 0.0 < number);
            }
            let shares: f64 = measures.trauma.shares().map(|(_, share)| share).sum();
            prop_assert!((shares - 1.0).abs() < 1e-9 || shares == 0.0);
            Ok(())
        })?;
    }

    #[test]
    fn colour_of_the_skin_alone_changes_nothing(one in configurations(), told in settings(), phototype in any_of(Phototype::ALL)) {
        MODEL.with(|model| {
            let coloured = Setting { skin: Some(Skin { phototype: Some(phototype), ..Skin::default() }), ..told.clone() };
            let (plain, coloured) = (model.circumstances(&told), model.circumstances(&coloured));
            prop_assert_eq!(model.measure(&one, &plain), model.measure(&one, &coloured));
            Ok(())
        })?;
    }

    #[test]
    fn an_order_is_sorted_and_a_flip_is_another_order(many in prop::collection::vec(configurations(), 1..8), told in settings()) {
        MODEL.with(|model| {
            let circumstances = model.circumstances(&told);
            let comparison = model.compare(&many, &circumstances).unwrap();
            let by = |order: OrderBy, i: usize| match order {
                OrderBy::Pressure => comparison.compared[i].measures.pressure_index,
                OrderBy::Trauma => comparison.compared[i].measures.trauma_index,
                OrderBy::CoverRate => 1.0 / comparison.compared[i].measures.seconds_per_cm2,
            };
            for order in OrderBy::ALL {
                prop_assert!(comparison.order(order).is_sorted_by(|a, b| by(order, *b) <= by(order, *a) * (1.0 + 1e-7)));
            }
            for flip in &comparison.flips {
                prop_assert_ne!(&flip.becomes[..], comparison.order(flip.order));
                prop_assert!(!comparison.holds(flip.order));
            }
            Ok(())
        })?;
    }
}

#[test]
fn bands_widen_with_the_count_in_every_row_and_round() {
    MODEL.with(|model| {
        for grouping in Grouping::ALL {
            for count in 1..49 {
                let width = |count| model.layout(*grouping, count).band_width;
                assert!(width(count) <= width(count + 1) + 1e-9, "{grouping} {count}");
            }
        }
    });
}
