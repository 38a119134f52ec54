//! Drills on practice skin: what is asked, and whether it was met.

use crate::describe::JsonSchema;
use crate::kinds::{sent, sparing, told};
use garde::Validate;
use serde::{Deserialize, Serialize};

use crate::service::Basis;
use crate::vocabulary::{
    Configuration, DrillKey, DrillLevel, Effect, Paper, Quantity, Setting, Site, TrainerMark,
};

/// What is to be practised.
#[sent(free)]
pub struct DrillRequest {
    /// With what; diameter, count and grouping are needed.
    #[garde(dive)]
    pub configuration: Configuration,
    /// For which effect; for all that suit the configuration if absent.
    pub effect: Option<Effect>,
    /// Where on the body the work will be.
    pub site: Site,
    /// Hand, machine, depth and speed; what is absent is assumed and named.
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// How close the drills are held to their targets.
    pub level: DrillLevel,
    /// Chooses the order and the sides. The same seed gives the same drills.
    #[serde(default)]
    pub seed: u32,
    /// Diameter of one mark, as it was measured on this skin with this pigment,
    /// in mm, 0.02 to 0.80; reckoned if absent.
    #[garde(range(min = 0.02, max = 0.80))]
    pub mark_mm: Option<f64>,
    /// The paper of the printed sheet; A4 if absent.
    pub paper: Option<Paper>,
}

/// The drills of a configuration.
#[told]
pub struct Drills {
    /// The configuration, in canonical text.
    pub canonical: String,
    /// How close they are held.
    pub level: DrillLevel,
    /// The seed they were made with.
    pub seed: u32,
    /// The panels, in the order in which they are to be worked.
    pub panels: Vec<Panel>,
    /// Why each quantity is held as close as it is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reasons: Vec<QuantityReason>,
    /// Effects for which the configuration is not practised, and why.
    pub set_aside: Vec<EffectSetAside>,
    /// Pointers into the setting of what was assumed.
    pub assumed: Vec<String>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// Why a quantity is held so close.
#[told(Eq)]
pub struct QuantityReason {
    /// Which.
    pub quantity: Quantity,
    /// Why.
    pub because: String,
}

/// An effect for which a configuration is not practised.
#[told]
pub struct EffectSetAside {
    /// The effect.
    pub effect: Effect,
    /// Why.
    pub because: String,
}

/// One panel of a drill: one attempt.
#[told]
pub struct Panel {
    /// Its number on the sheet, from 1.
    pub number: u8,
    /// The drill.
    pub drill: DrillKey,
    /// What to do, in words.
    pub asks: String,
    /// Why, in words.
    pub because: String,
    /// Its width, in mm.
    pub width_mm: f64,
    /// Its height, in mm.
    pub height_mm: f64,
    /// The quantity by which the panels of one drill differ: distance, turn,
    /// diameter, passes or cover.
    pub step: f64,
    /// Passes over the same place.
    pub passes: u8,
    /// The hand's speed, in mm/s; absent where each dot is set by itself.
    pub hand_speed_mm_s: Option<Pace>,
    /// What is judged.
    pub targets: Vec<Target>,
}

/// The speed of the hand.
#[told(Copy)]
pub struct Pace {
    /// Not slower.
    pub least: Option<f64>,
    /// Not faster.
    pub most: Option<f64>,
}

/// What is judged, and what is adequate.
#[told(Copy)]
pub struct Target {
    /// What.
    pub quantity: Quantity,
    /// What is aimed at.
    pub asked: f64,
    /// The least that is adequate; absent if less is never worse.
    pub least: Option<f64>,
    /// The most that is adequate; absent if more is never worse.
    pub most: Option<f64>,
}

/// A panel that was worked.
#[sent(free)]
pub struct DrillGradeRequest {
    /// What the drills were made from.
    #[garde(dive)]
    pub drills: DrillRequest,
    /// Which panel of them.
    #[garde(range(min = 1, max = 99))]
    pub panel: u8,
    /// What was measured, each quantity once.
    #[garde(length(max = 32), dive)]
    pub values: Vec<MeasuredQuantity>,
    /// What the trainer saw.
    pub marks: Option<TrainerMarks>,
}

/// A quantity that was measured.
#[sent(Copy, free)]
pub struct MeasuredQuantity {
    /// Which.
    pub quantity: Quantity,
    /// What was got, -1000 to 1000.
    #[garde(range(min = -1000.0, max = 1000.0))]
    pub got: f64,
}

/// What a trainer saw of a panel, which no picture shows.
#[sparing]
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate,
)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct TrainerMarks {
    /// Depth.
    pub depth: Option<TrainerMark>,
    /// Stretch of the skin.
    pub stretch: Option<TrainerMark>,
    /// Torn skin.
    pub tears: Option<TrainerMark>,
}

/// Whether a panel is adequate.
#[told]
pub struct DrillGrade {
    /// The drill.
    pub drill: DrillKey,
    /// The panel.
    pub panel: u8,
    /// Whether everything that is judged was told and met, and the trainer's
    /// three marks with it.
    pub adequate: bool,
    /// Each quantity.
    pub quantities: Vec<QuantityGrade>,
    /// The trainer's marks; what is absent nobody looked at.
    pub marks: TrainerMarks,
    /// In words.
    pub text: String,
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

/// One quantity of a panel.
#[told]
pub struct QuantityGrade {
    /// Which.
    pub quantity: Quantity,
    /// What was aimed at.
    pub asked: f64,
    /// What was got.
    pub got: Option<f64>,
    /// Room to the nearer end of what is adequate; below 0 beyond it.
    pub margin: Option<f64>,
    /// Whether it is adequate; absent if it cannot be said.
    pub adequate: Option<bool>,
    /// Why it cannot be said: `not_given`, or what a picture says.
    pub cannot: Option<String>,
}
