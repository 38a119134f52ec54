//! Published numbers and facts of the trade, one by one.

use etui_schema::vocabulary::{
    Grouping, Hand, Language, Machine, Setting, Site, Skin, Taper, Thickness,
};

use super::super::draw::{Specimen, draw_side, draw_tips};
use super::super::mechanics::{coverage, dwell_ms, hole_diameter_mm, peak_speed_mm_s, repeat_hits};
use super::super::{Caution, Complete, Parameter, arc_set_back_mm};
use super::{complete, measure, model, near, setting};

#[test]
fn rows_are_as_wide_as_their_pitch_makes_them() {
    let model = model();
    for (grouping, want) in [
        (Grouping::Flat, 2.10),
        (Grouping::StackedMagnum, 1.20),
        (Grouping::WovenMagnum, 2.10),
        (Grouping::CurvedMagnum, 2.10),
        (Grouping::HandBlade, 0.30),
    ] {
        let found = measure(&model, 0.30, 7, grouping).band_width_mm;
        near(found, want, 1e-9, grouping.as_str());
    }
}

/// One needle is told with one width: the picture writes that of the measures.
#[test]
fn a_picture_writes_the_width_that_is_measured() {
    let model = model();
    for (diameter_mm, count, grouping) in [
        (0.30, 5, Grouping::RoundShader),
        (0.25, 3, Grouping::RoundShader),
        (0.35, 8, Grouping::RoundLiner),
        (0.30, 7, Grouping::CurvedMagnum),
        (0.25, 1, Grouping::RoundLiner),
    ] {
        let configuration = complete(diameter_mm, count, grouping);
        let specimens = [Specimen { configuration, caption: None }];
        let svg = draw_tips(&model, &specimens, 600, Language::En).svg;
        let width = measure(&model, diameter_mm, count, grouping).band_width_mm;
        assert!(svg.contains(&format!("{width:.2} mm wide")), "{width}: {svg}");
    }
}

/// What is reckoned for a thin or old skin was measured by nobody, and the picture says so. The
/// lash margin was measured, 0.32 mm (Hwang 2006); fine skin is taken as thinner by the model.
#[test]
fn a_thickness_that_was_scaled_is_not_said_to_be_measured() {
    use etui_schema::vocabulary::{Setting, Site, Skin, Thickness};
    let model = model();
    let drawn = |thickness, language| {
        let skin = Some(Skin { thickness, ..Skin::default() });
        let setting = Setting { site: Some(Site::LashLine), skin, ..Setting::default() };
        let at = model.circumstances(&setting);
        draw_side(&model, &[complete(0.20, 1, Grouping::RoundLiner)], &at, 700, language).svg
    };
    for (language, measured, scaled) in [
        (Language::En, "(as measured in tissue)", "(measured in tissue, scaled for this skin)"),
        (Language::De, "(am Gewebe gemessen)", "(am Gewebe gemessen, für diese Haut umgerechnet)"),
    ] {
        let (untold, fine) = (drawn(None, language), drawn(Some(Thickness::Fine), language));
        assert!(untold.contains("0.32 mm") || untold.contains("0,32 mm"), "{untold}");
        assert!(untold.contains(measured) && !untold.contains(scaled), "{untold}");
        assert!(fine.contains(scaled) && !fine.contains(measured), "{fine}");
    }
}

/// The legend speaks of what is drawn: a row has no circle around it. Tips that come out below
/// the skin have rings that stand apart, also in the smallest picture.
#[test]
fn a_legend_and_rings_are_of_what_is_drawn() {
    use etui_schema::vocabulary::Setting;
    let model = model();
    for (grouping, circle) in [(Grouping::Flat, false), (Grouping::RoundShader, true)] {
        let specimens = [Specimen { configuration: complete(0.30, 5, grouping), caption: None }];
        let svg = draw_tips(&model, &specimens, 600, Language::En).svg;
        assert_eq!(svg.contains("Dashed circle"), circle, "{svg}");
    }
    let deep = model.circumstances(&Setting { depth_mm: Some(3.0), ..Setting::default() });
    let both = [complete(0.30, 5, Grouping::RoundShader), complete(0.30, 7, Grouping::Flat)];
    let svg = draw_side(&model, &both, &deep, 240, Language::En).svg;
    let number = |mark: &str, name: &str| -> f64 {
        let (_, rest) = mark.split_once(&format!("{name}=\"")).unwrap();
        rest.split_once('"').unwrap().0.parse().unwrap()
    };
    let rings = svg.split("<circle class=\"through\"").skip(1);
    let mut rings: Vec<(f64, f64)> =
        rings.map(|mark| (number(mark, "cx"), number(mark, "r"))).collect();
    assert_eq!(rings.len(), 12, "{svg}");
    rings.sort_by(|one, other| one.0.total_cmp(&other.0));
    for pair in rings.windows(2) {
        let apart = pair[1].0 - pair[0].0;
        // Tips behind each other have one ring for the eye.
        assert!(apart < 0.5 || pair[0].1 + pair[1].1 <= apart + 0.5, "{pair:?}");
    }
}

#[test]
fn hulls_of_rows_follow_from_their_pitch() {
    let model = model();
    for (count, flat, stacked, woven) in [
        (5, 4.7854, 4.5844, 8.1996),
        (7, 6.7854, 6.4505, 12.1996),
        (9, 8.7854, 8.3165, 16.1996),
        (15, 14.7854, 13.9146, 28.1996),
    ] {
        let hull = |grouping| model.layout(grouping, count).footprint;
        near(hull(Grouping::Flat), flat, 1e-4, &format!("flat {count}"));
        near(hull(Grouping::StackedMagnum), stacked, 1e-4, &format!("stacked {count}"));
        near(hull(Grouping::WovenMagnum), woven, 1e-4, &format!("woven {count}"));
    }
    near(model.layout(Grouping::RoundLiner, 7).footprint, 6.3835, 1e-4, "round 7");
    near(model.layout(Grouping::RoundLiner, 11).footprint, 11.4672, 1e-4, "round 11");
    let nearest = model.layout(Grouping::WovenMagnum, 7).nearest.unwrap();
    near(nearest, 2.0_f64.sqrt(), 1e-12, "nearest tips of a woven magnum");
}

#[test]
fn seven_needles_stand_densest_in_a_round_and_loosest_in_a_woven_magnum() {
    let model = model();
    let density = |grouping| measure(&model, 0.30, 7, grouping).tips_per_mm2;
    for (grouping, want) in [
        (Grouping::WovenMagnum, 6.38),
        (Grouping::Flat, 11.46),
        (Grouping::StackedMagnum, 12.06),
        (Grouping::RoundLiner, 12.18),
    ] {
        near(density(grouping), want, 0.01, grouping.as_str());
    }
}

#[test]
fn edges_of_a_curved_magnum_stand_back() {
    for (edge_mm, radius_mm, want) in [(0.9, 5.0, 0.0817), (1.2, 5.0, 0.1461), (2.45, 8.0, 0.3844)]
    {
        near(arc_set_back_mm(edge_mm, radius_mm), want, 1e-4, &format!("{edge_mm} on {radius_mm}"));
    }
    let model = model().with([("arc_radius_mm", 5.0)]).unwrap();
    let circumstances = model.circumstances(&setting(0.5, 2.5, 100.0, 10.0));
    let depths = model.measure(&complete(0.30, 7, Grouping::CurvedMagnum), &circumstances).depths;
    near(depths.deepest_mm - depths.shallowest_mm, 0.0817, 1e-4, "7 of 0.30 on 5 mm");
}

#[test]
fn holes_are_cones() {
    for (d, taper, depth, diameter) in [
        (0.25, 1.5, 0.5, 0.0833),
        (0.25, 1.5, 2.0, 0.2500),
        (0.30, 3.5, 1.0, 0.0857),
        (0.30, 1.5, 2.0, 0.3000),
        (0.35, 5.5, 0.5, 0.0318),
    ] {
        near(hole_diameter_mm(d, taper, depth), diameter, 1e-3, "diameter");
    }
}

#[test]
fn a_thick_needle_of_long_taper_makes_a_thinner_hole_than_a_thin_one_of_short() {
    let model = model();
    let circumstances = model.circumstances(&setting(0.5, 2.5, 100.0, 10.0));
    let hole = |diameter_mm, taper| {
        let one = Complete { taper, ..complete(diameter_mm, 1, Grouping::RoundLiner) };
        model.measure(&one, &circumstances).hole_diameter_mm
    };
    near(hole(0.35, Some(Taper::Long)), 0.0318, 1e-4, "0.35 long");
    near(hole(0.25, Some(Taper::Short)), 0.0833, 1e-4, "0.25 short");
}

#[test]
fn a_crank_moves_the_tip_as_a_sine() {
    near(peak_speed_mm_s(3.0, 100.0), 942.5, 0.1, "peak");
    for (stroke, rate, depth, want) in
        [(3.0, 100.0, 1.0, 3.918), (2.5, 50.0, 1.0, 8.718), (4.0, 200.0, 1.0, 1.667)]
    {
        near(dwell_ms(stroke, rate, depth), want, 1e-3, &format!("{stroke} mm at {rate} Hz"));
    }
    let model = model();
    let circumstances = model.circumstances(&setting(1.0, 3.0, 100.0, 10.0));
    let measures = model.measure(&complete(0.30, 3, Grouping::RoundLiner), &circumstances);
    near(measures.tip_speed_mm_s, 942.5, 0.1, "peak as measured");
    near(measures.entry_speed_mm_s, 888.6, 0.1, "speed at the skin");
}

/// Boolean model (after Stoyan, Kendall, Mecke 1987), held against simulation.
#[test]
fn random_holes_cover_as_the_boolean_model_says() {
    for (lambda, radius, once, twice) in [
        (5.7, 0.05, 0.04378, 0.00097),
        (20.0, 0.06, 0.20244, 0.02203),
        (46.4, 0.10, 0.76723, 0.42792),
    ] {
        let area = std::f64::consts::PI * radius * radius;
        near(coverage(lambda, area), once, 1e-4, "at least once");
        near(repeat_hits(lambda, area), twice, 1e-4, "at least twice");
        let two_passes = 1.0 - (1.0 - coverage(lambda, area)).powi(2);
        near(coverage(2.0 * lambda, area), two_passes, 1e-12, "two passes");
    }
}

#[test]
fn punctures_per_area_follow_from_rate_speed_and_width() {
    let model = model();
    let circumstances = model.circumstances(&setting(0.4, 2.5, 100.0, 10.0));
    for (diameter, count, want) in [(0.30, 3, 46.41), (0.30, 7, 77.78), (0.25, 1, 40.0)] {
        let one = complete(diameter, count, Grouping::RoundLiner);
        let measures = model.measure(&one, &circumstances);
        near(measures.punctures_per_mm2, want, 5e-3, &format!("{count} of {diameter}"));
        near(measures.strokes_per_mm, 10.0, 1e-12, "strokes");
        let by_hand = coverage(measures.punctures_per_mm2, measures.hole_area_mm2);
        near(measures.coverage, by_hand, 1e-12, "coverage");
    }
}

/// Hwang et al. 2006, J Craniofac Surg 17:54: 320 ± 49 µm at the lash margin.
#[test]
fn half_a_millimetre_goes_through_the_lash_margin() {
    let model = model();
    let fine = Some(Skin { thickness: Some(Thickness::Fine), ..Skin::default() });
    for (site, depth, caution, warned) in [
        (Site::LashLine, 0.5, Caution::ThroughSkin, true),
        (Site::LashLine, 0.3, Caution::NearlyThroughSkin, true),
        (Site::LashLine, 0.2, Caution::NearlyThroughSkin, false),
        (Site::Brow, 0.5, Caution::ThroughSkin, false),
        (Site::UpperLid, 0.75, Caution::ThroughSkin, true),
        // Half of a brow is not close to its other side.
        (Site::Brow, 0.6, Caution::NearlyThroughSkin, false),
        (Site::Brow, 0.9, Caution::NearlyThroughSkin, true),
    ] {
        let told = Setting { site: Some(site), depth_mm: Some(depth), ..Setting::default() };
        let circumstances = model.circumstances(&told);
        let found = model.measure(&complete(0.25, 1, Grouping::RoundLiner), &circumstances);
        assert_eq!(found.cautions.contains(caution), warned, "{site} at {depth}");
    }
    // The usual depth of the lash line, where the skin is fine.
    let told = Setting { site: Some(Site::LashLine), skin: fine, ..Setting::default() };
    let found =
        model.measure(&complete(0.25, 1, Grouping::RoundLiner), &model.circumstances(&told));
    assert!(found.cautions.contains(Caution::NearlyThroughSkin));
}

/// Hwang et al. 2006 (histology): a brow is thicker than a lid.
#[test]
fn a_brow_is_thicker_than_a_lid() {
    let model = model();
    let total = |site| model.skin().site(site).total_mm.value;
    assert!(total(Site::UpperLid) < total(Site::Brow));
    near(total(Site::Brow) / total(Site::LashLine), 3.5, 0.05, "histology, lash margin");
}

/// Upper lid skin does not thin with age: 884 ± 112 µm (21 to 30 years)
/// against 818 ± 85 µm (60 and more), not significant.
#[test]
fn age_never_thins_a_lid() {
    let model = model();
    let thickness = |site, age_years| {
        let skin = Skin { age_years: Some(age_years), ..Skin::default() };
        model.skin().tolerance(site, &skin, model.parameters()).total_mm
    };
    for site in [Site::UpperLid, Site::LashLine, Site::Lip] {
        near(thickness(site, 90), thickness(site, 30), 1e-12, site.as_str());
    }
    near(thickness(Site::Brow, 70) / thickness(Site::Brow, 40), 0.91, 1e-9, "three decades");
    near(thickness(Site::Brow, 120) / thickness(Site::Brow, 40), 0.80, 1e-9, "at most a fifth");
}

/// Gill et al. 2008, Clin J Pain 24:585: length × 3 hurts × 7, number × 10
/// just over × 2.
#[test]
fn depth_counts_for_more_than_number() {
    let model = model();
    let trauma = |depth, passes| {
        let told = Setting { passes: Some(passes), ..setting(depth, 2.5, 100.0, 20.0) };
        let circumstances = model.circumstances(&told);
        model.measure(&complete(0.30, 3, Grouping::RoundLiner), &circumstances).trauma_index
    };
    near(trauma(0.6, 1) / trauma(0.3, 1), 2.0_f64.powf(1.77), 1e-9, "twice as deep");
    near(trauma(0.3, 2) / trauma(0.3, 1), 2.0_f64.powf(0.30), 1e-9, "twice as many");
    near(trauma(0.9, 1) / trauma(0.3, 1), 7.0, 0.02, "three times as deep");
    near(trauma(0.3, 10) / trauma(0.3, 1), 2.0, 0.01, "ten times as many");
}

/// Arendt-Nielsen et al. 2006, Somatosens Mot Res 23:37: pain in 63, 53 and
/// 31 % of insertions with 23G, 27G and 32G, which are nominally 0.6414, 0.4128
/// and 0.2350 mm thick.
#[test]
fn the_exponent_of_the_diameter_comes_from_the_published_pain() {
    let exponent =
        |thick: (f64, f64), thin: (f64, f64)| (thick.1 / thin.1).ln() / (thick.0 / thin.0).ln();
    let model = model();
    let told = model.parameters().specification(Parameter::TraumaDiameterExponent);
    near(exponent((0.6414, 0.63), (0.2350, 0.31)), told.default, 0.01, "over the whole range");
    near(exponent((0.6414, 0.63), (0.4128, 0.53)), told.range[0], 0.01, "thick pair");
    near(exponent((0.4128, 0.53), (0.2350, 0.31)), told.range[1], 0.01, "thin pair");
}

#[test]
fn rates_outside_what_was_measured_are_warned_of() {
    let model = model();
    for (rate_hz, warned) in
        [(39.0, true), (40.0, false), (100.0, false), (200.0, false), (201.0, true)]
    {
        let circumstances = model.circumstances(&setting(0.4, 2.5, rate_hz, 20.0));
        let found = model.measure(&complete(0.30, 3, Grouping::RoundLiner), &circumstances);
        assert_eq!(found.cautions.contains(Caution::RateOutside), warned, "{rate_hz} Hz");
    }
}

/// Common practice, no source: under the same hand a fine single presses
/// hardest, then a thicker single, a three liner, a three shader, a magnum.
#[test]
fn pressure_falls_in_the_order_that_the_trade_knows() {
    let model = model();
    let pressure = |d, count, grouping| measure(&model, d, count, grouping).pressure_index;
    let groups =
        [(3, Grouping::RoundLiner), (3, Grouping::RoundShader), (7, Grouping::WovenMagnum)];
    for d in [0.20, 0.25, 0.30, 0.35] {
        let mut last = pressure(d, 1, Grouping::RoundLiner);
        for (count, grouping) in groups {
            let next = pressure(d, count, grouping);
            assert!(next < last, "{d} {count} {grouping}: {next} is not below {last}");
            last = next;
        }
    }
    let singles = [0.20, 0.25, 0.30, 0.35].map(|d| pressure(d, 1, Grouping::RoundLiner));
    assert!(singles.is_sorted_by(|a, b| b < a), "{singles:?}");
    assert!(pressure(0.20, 3, Grouping::RoundLiner) < pressure(0.35, 1, Grouping::RoundLiner));
}

/// Common practice (six pages): slow hand and fast machine overwork, fast hand
/// and slow machine leave gaps; strokes of 3.5 mm and more are too long for a
/// lid.
#[test]
fn hand_and_machine_out_of_step_are_warned_of() {
    let model = model();
    for (rate_hz, speed, caution, warned) in [
        (150.0, 3.0, Caution::Overwork, true),
        (100.0, 20.0, Caution::Overwork, false),
        (50.0, 60.0, Caution::Gaps, true),
        (100.0, 20.0, Caution::Gaps, false),
    ] {
        let circumstances = model.circumstances(&setting(0.4, 2.5, rate_hz, speed));
        let found = model.measure(&complete(0.30, 3, Grouping::RoundLiner), &circumstances);
        assert_eq!(found.cautions.contains(caution), warned, "{rate_hz} Hz, {speed} mm/s");
    }
    for (site, stroke_mm, warned) in [
        (Site::UpperLid, 3.5, true),
        (Site::LashLine, 4.0, true),
        (Site::UpperLid, 3.4, false),
        (Site::Brow, 4.0, false),
    ] {
        let machine = Machine { stroke_mm: Some(stroke_mm), rate_hz: None, give: None };
        let told = Setting { site: Some(site), machine: Some(machine), ..Setting::default() };
        let circumstances = model.circumstances(&told);
        let found = model.measure(&complete(0.25, 1, Grouping::RoundLiner), &circumstances);
        assert_eq!(found.cautions.contains(Caution::LongStrokeOnLid), warned, "{site} {stroke_mm}");
    }
}

#[test]
fn what_is_assumed_is_said_and_warns_of_nothing() {
    let model = model();
    for site in Site::ALL {
        let told = Setting { site: Some(*site), ..Setting::default() };
        let circumstances = model.circumstances(&told);
        assert!(!circumstances.assumed.contains(&"/site"));
        assert!(circumstances.assumed.contains(&"/machine/stroke_mm"));
        let found = model.measure(&complete(0.30, 3, Grouping::RoundLiner), &circumstances);
        let cautions: Vec<_> =
            found.cautions.iter().filter(|c| *c != Caution::ThicknessAssumed).collect();
        assert!(cautions.is_empty(), "{site}: {cautions:?}");
        for pointer in &circumstances.assumed {
            assert!(model.defaults().source_of(pointer, *site).is_some(), "{pointer}");
        }
    }
    let heavy = Setting { hand: Some(Hand::Heavy), ..Setting::default() };
    let light = Setting { hand: Some(Hand::Light), ..Setting::default() };
    assert!(model.circumstances(&light).depth_mm < model.circumstances(&heavy).depth_mm);
}
