//! Published facts, facts of the trade and laws of the whole module.

mod facts;
mod laws;
mod packings;
mod patterns;

use etui_schema::vocabulary::{Grouping, Machine, Setting, Site};

use super::{Circumstances, Complete, Measures, Model};

fn model() -> Model {
    Model::builtin().unwrap()
}

fn complete(diameter_mm: f64, count: u8, grouping: Grouping) -> Complete {
    Complete { diameter_mm, count, grouping, taper: None }
}

/// A setting with everything that measures depend on.
fn setting(depth_mm: f64, stroke_mm: f64, rate_hz: f64, hand_speed_mm_s: f64) -> Setting {
    Setting {
        machine: Some(Machine { stroke_mm: Some(stroke_mm), rate_hz: Some(rate_hz), give: None }),
        site: Some(Site::Brow),
        depth_mm: Some(depth_mm),
        hand_speed_mm_s: Some(hand_speed_mm_s),
        passes: Some(1),
        ..Setting::default()
    }
}

fn ordinary(model: &Model) -> Circumstances {
    model.circumstances(&Setting::default())
}

fn measure(model: &Model, diameter_mm: f64, count: u8, grouping: Grouping) -> Measures {
    model.measure(&complete(diameter_mm, count, grouping), &ordinary(model))
}

#[track_caller]
fn near(found: f64, want: f64, tolerance: f64, what: &str) {
    assert!((found - want).abs() <= tolerance, "{what}: {found} instead of {want}");
}
