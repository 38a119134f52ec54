//! Puncture patterns: a seeded simulation of the dots that remain.

use crate::kinds::{sent, told};
use std::collections::BTreeMap;

use crate::configuration_comparisons::{CautionText, LabelOrConfiguration, ResolvedSetting};
use crate::service::Basis;
use crate::vocabulary::{Configuration, Setting};

/// What to simulate: give `path` or `area`.
#[sent(free)]
pub struct PuncturePatternRequest {
    /// The configuration.
    #[garde(dive)]
    pub configuration: LabelOrConfiguration,
    /// Hand, machine, skin, site, depth, speed; what is absent is assumed.
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// A stroke.
    #[garde(dive)]
    pub path: Option<StrokePath>,
    /// A rectangle to fill.
    #[garde(dive)]
    pub area: Option<FillArea>,
    /// Passes over the same place, 1 to 50; instead of those of the setting.
    #[garde(range(min = 1, max = 50))]
    pub passes: Option<u8>,
    /// Seed of chance, a whole number of 64 bits; 0 if absent. The same seed
    /// gives the same answer.
    #[serde(default)]
    pub seed: u64,
    /// How unsteady the hand is.
    #[garde(dive)]
    pub jitter: Option<HandJitter>,
    /// Width of the picture in pixels, 240 to 3000; 800 if absent.
    #[garde(range(min = 240, max = 3000))]
    pub width_px: Option<u32>,
    /// Parameters of the model to set otherwise, by name, inside their ranges.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    #[garde(length(max = 40))]
    pub parameters: BTreeMap<String, f64>,
}

/// A stroke, straight unless it bends.
#[sent(Copy)]
pub struct StrokePath {
    /// Length in millimetres, 1 to 100; a hair stroke at most 30.
    #[garde(range(min = 1.0, max = 100.0))]
    pub length_mm: f64,
    /// How far the direction turns from end to end, in degrees, 0 to 120.
    /// Present makes it a hair stroke, which lifts off over its last quarter.
    #[garde(range(min = 0.0, max = 120.0))]
    pub bend_degrees: Option<f64>,
}

/// A rectangle.
#[sent(Copy)]
pub struct FillArea {
    /// Width in millimetres, 0.5 to 50.
    #[garde(range(min = 0.5, max = 50.0))]
    pub width_mm: f64,
    /// Height in millimetres, 0.5 to 50.
    #[garde(range(min = 0.5, max = 50.0))]
    pub height_mm: f64,
}

/// How unsteady the hand is. Nothing published fixes these.
#[sent(Copy)]
pub struct HandJitter {
    /// How far the hand runs ahead or falls behind, as a share of the distance
    /// between strokes, 0 to 1; 0.15 if absent.
    #[garde(range(min = 0.0, max = 1.0))]
    pub pace: Option<f64>,
    /// How far the group turns around its axis, in degrees, 0 to 30; 5 if
    /// absent.
    #[garde(range(min = 0.0, max = 30.0))]
    pub turn_degrees: Option<f64>,
    /// How far the hand wanders sideways, in millimetres, 0 to 0.5; 0.03 if
    /// absent.
    #[garde(range(min = 0.0, max = 0.5))]
    pub wander_mm: Option<f64>,
}

/// What a pattern amounts to.
#[told]
pub struct PuncturePattern {
    /// The canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: Configuration,
    /// The setting that was reckoned with.
    pub setting: ResolvedSetting,
    /// The seed.
    pub seed: u64,
    /// How often the needle came down on the ground.
    pub strokes: u32,
    /// Dots whose middle lies on the ground.
    pub punctures: u32,
    /// Area of the ground in square millimetres: the band of the stroke, or
    /// the rectangle.
    pub ground_mm2: f64,
    /// Punctures per square millimetre of ground.
    pub punctures_per_mm2: f64,
    /// Diameter of a full mark in millimetres.
    pub dot_diameter_mm: f64,
    /// Mean area of one mark in square millimetres.
    pub dot_area_mm2: f64,
    /// Share of the ground under colour.
    pub coverage: ExpectedAndSimulated,
    /// Share of the ground hit at least twice.
    pub repeat_hits: ExpectedAndSimulated,
    /// How the dots lie to one another.
    pub spacing: DotSpacing,
    /// How ragged the outline is, in millimetres; smaller is sharper.
    pub edge_roughness_mm: f64,
    /// The largest gap in millimetres: along a stroke the longest stretch
    /// without colour, over an area the side of the largest bare square.
    pub largest_gap_mm: f64,
    /// Seconds that the needle works.
    pub seconds: f64,
    /// What to mind.
    pub cautions: Vec<CautionText>,
    /// Where the numbers came from.
    pub basis: Vec<Basis>,
}

/// A share by the Boolean model beside the counted one.
#[told(Copy)]
pub struct ExpectedAndSimulated {
    /// By the Boolean model, with the punctures per area that were counted.
    pub expected: f64,
    /// As counted in the pattern.
    pub simulated: f64,
}

/// How dots lie to one another.
#[told(Copy)]
pub struct DotSpacing {
    /// Mean distance between strokes along the travel in millimetres; absent
    /// over an area.
    pub strokes_mm: Option<f64>,
    /// Mean distance to the nearest neighbour in millimetres.
    pub nearest_mm: f64,
    /// That over what dots thrown at random have: 1 = random, above = evenly
    /// spread, below = in clusters.
    pub regularity: f64,
}
