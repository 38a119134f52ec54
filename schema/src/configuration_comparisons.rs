//! Configurations side by side: what each does in this skin, under this hand
//! and machine.

use crate::describe::JsonSchema;
use crate::kinds::{sent, sparing, told};
use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::service::Basis;
use crate::vocabulary::{Configuration, Give, Grouping, Hand, Setting, Site, Skin, Taper};

/// Configurations to compare, and the setting they work in.
#[sent]
pub struct ConfigurationComparisonRequest {
    /// 1 to 24 configurations; the first is what the others are held against.
    #[garde(length(min = 1, max = 24), dive)]
    pub configurations: Vec<LabelOrConfiguration>,
    /// Hand, machine, skin, site, depth, speed, passes; what is absent is
    /// assumed and listed.
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// Parameters of the model to set otherwise, by name, inside their ranges.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    #[garde(length(max = 40))]
    pub parameters: BTreeMap<String, f64>,
}

/// One configuration: a label such as `0.20 1RL`, or its fields.
#[sent(free)]
pub struct LabelOrConfiguration {
    /// The label; leave the other members out then.
    #[garde(length(chars, min = 1, max = 120))]
    pub label: Option<String>,
    /// Diameter of one needle's shaft in millimetres, 0.10 to 0.60.
    #[garde(range(min = 0.10, max = 0.60))]
    pub diameter_mm: Option<f64>,
    /// Number of needles, 1 to 49.
    #[garde(range(min = 1, max = 49))]
    pub count: Option<u8>,
    /// How the needles are bound together.
    pub grouping: Option<Grouping>,
    /// Length class of the ground point.
    pub taper: Option<Taper>,
}

/// Configurations side by side.
#[told]
pub struct ConfigurationComparison {
    /// The setting that was reckoned with.
    pub setting: ResolvedSetting,
    /// What is to be minded with each of them: it is said here once, and not again
    /// at each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<CautionText>,
    /// In the order of the request.
    pub compared: Vec<ComparedConfiguration>,
    /// Canonical texts in three orders.
    pub order: ConfigurationOrder,
    /// Whether each order stands, whatever the assumed parameters are.
    pub sensitivity: Vec<OrderSensitivity>,
    /// The parameters that the numbers rest on.
    pub parameters: Vec<ModelParameter>,
    /// What every index is relative to.
    pub reference: String,
    /// How to take the numbers.
    pub statement: String,
    /// Where the numbers came from.
    pub basis: Vec<Basis>,
}

/// A setting with nothing left open.
#[told]
pub struct ResolvedSetting {
    /// How firmly the artist works.
    pub hand: Hand,
    /// The machine.
    pub machine: ResolvedMachine,
    /// What was told of the skin.
    pub skin: Skin,
    /// Where on the body.
    pub site: Site,
    /// Depth of the deepest tip in millimetres; not the hang.
    pub depth_mm: f64,
    /// Speed of the hand in millimetres per second.
    pub hand_speed_mm_s: f64,
    /// Passes over the same place.
    pub passes: u8,
    /// JSON pointers, below the setting, of what was not told but assumed.
    pub assumed: Vec<String>,
}

/// A machine with nothing left open.
#[told(Copy)]
pub struct ResolvedMachine {
    /// Full travel of the needle in millimetres.
    pub stroke_mm: f64,
    /// Strokes per second.
    pub rate_hz: f64,
    /// How far the drive yields.
    pub give: Give,
}

/// One configuration of a comparison.
#[told]
pub struct ComparedConfiguration {
    /// The canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: Configuration,
    /// What it does.
    pub measures: Measures,
    /// Each measure over that of the first configuration.
    pub relative: RelativeMeasures,
    /// What changed against the first, and why, in one sentence.
    pub because: String,
    /// What to mind.
    pub cautions: Vec<CautionText>,
}

/// Declares the measures and the same measures relative to the first.
macro_rules! measures {
    ($($(#[$doc:meta])* $name:ident: $kind:ty),+ $(,)?) => {
        /// What one configuration does under the setting.
        #[sparing]
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
        pub struct Measures {
            $($(#[$doc])* pub $name: $kind,)+
            /// Distance of the two nearest tips, centre to centre, in
            /// millimetres; absent for a single.
            pub nearest_gap_mm: Option<f64>,
            /// What the trauma index is made of.
            pub trauma_causes: Vec<TraumaCause>,
            /// How deep the tips reach.
            pub tips: TipReach,
            /// How many tips lie in each ring, from the outside inwards; empty
            /// for rows.
            #[serde(default, skip_serializing_if = "Vec::is_empty")]
            pub rings: Vec<u8>,
        }

        /// Each measure divided by that of the first configuration; 1 = the
        /// same.
        #[sparing]
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
        pub struct RelativeMeasures {
            $($(#[$doc])* pub $name: f64,)+
            /// Absent if one of the two is a single.
            pub nearest_gap_mm: Option<f64>,
        }
    };
}

measures! {
    /// Width across the travel, shaft edge to shaft edge, in millimetres.
    band_width_mm: f64,
    /// Area of the hull of the shafts in square millimetres.
    footprint_mm2: f64,
    /// Tips per square millimetre of footprint.
    tips_per_mm2: f64,
    /// Diameter of the deepest tip's hole at the surface in millimetres.
    hole_diameter_mm: f64,
    /// Mean area of one hole in square millimetres.
    hole_area_mm2: f64,
    /// Area of the holes of one stroke together in square millimetres.
    stroke_area_mm2: f64,
    /// Diameter of the mark of colour in millimetres.
    mark_diameter_mm: f64,
    /// Pressure on each tip; 1 = 0.30 3RL under a medium hand and give.
    pressure_index: f64,
    /// Over how many single tips the force is shared, spacing included.
    sharing_tips: f64,
    /// Peak speed of the tips in millimetres per second.
    tip_speed_mm_s: f64,
    /// Speed at which the tips meet the skin in millimetres per second.
    entry_speed_mm_s: f64,
    /// Time in the skin in each stroke in milliseconds.
    dwell_ms: f64,
    /// Strokes on each millimetre of travel in one pass.
    strokes_per_mm: f64,
    /// Punctures per square millimetre after all passes.
    punctures_per_mm2: f64,
    /// Expected share of the area under holes: 1 − exp(−λa).
    coverage: f64,
    /// Expected share of the area pierced at least twice.
    repeat_hits: f64,
    /// Expected share of the area under colour.
    colour_coverage: f64,
    /// Passes until the area counts as covered with colour.
    passes_to_cover: u32,
    /// Seconds of needle time for one square centimetre in that many passes.
    seconds_per_cm2: f64,
    /// How much the skin is asked to bear; 1 = 0.30 3RL on an ordinary brow.
    trauma_index: f64,
    /// Depth over the thickness of the skin; from 1 on the tip goes through.
    depth_share: f64,
}

/// One cause of the trauma index.
#[told]
pub struct TraumaCause {
    /// `depth`, `density`, `diameter`, `load`, `impact`, `overwork` or `skin`.
    pub cause: String,
    /// By how much it multiplies the index.
    pub factor: f64,
    /// Its share in the distance from the reference, 0 to 1.
    pub share: f64,
}

/// How deep the tips reach.
#[told(Copy)]
pub struct TipReach {
    /// Deepest tip in millimetres.
    pub deepest_mm: f64,
    /// Shallowest tip in millimetres; 0 if it does not reach the skin.
    pub shallowest_mm: f64,
    /// Mean over all tips in millimetres.
    pub mean_mm: f64,
    /// Tips that reach the skin.
    pub in_skin: u8,
}

/// Something to mind.
#[told(Eq)]
pub struct CautionText {
    /// The code to branch on.
    pub code: String,
    /// The sentence.
    pub message: String,
}

/// Canonical texts in three orders; equals keep the order of the request.
#[told(Eq)]
pub struct ConfigurationOrder {
    /// The highest pressure on each tip first.
    pub by_pressure: Vec<String>,
    /// The highest trauma index first.
    pub by_trauma: Vec<String>,
    /// The most area covered in a second first.
    pub by_cover_rate: Vec<String>,
}

/// Whether one order depends on an assumption.
#[told]
pub struct OrderSensitivity {
    /// `by_pressure`, `by_trauma` or `by_cover_rate`.
    pub order: String,
    /// Whether it stays the same at both ends of every assumed parameter.
    pub holds: bool,
    /// Where it does not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub flips: Vec<OrderFlip>,
}

/// One parameter whose end changes an order.
#[told]
pub struct OrderFlip {
    /// The parameter.
    pub parameter: String,
    /// The end of its range.
    pub value: f64,
    /// The order there.
    pub becomes: Vec<String>,
}

/// One parameter of the model.
#[told]
pub struct ModelParameter {
    /// Its name, as `parameters` of the request takes it.
    pub name: String,
    /// The value in force.
    pub value: f64,
    /// Whether it was assumed rather than set by the request.
    pub assumed: bool,
    /// Lowest value that may be set.
    pub low: f64,
    /// Highest value that may be set.
    pub high: f64,
    /// Its unit.
    pub unit: String,
    /// What it is.
    pub about: String,
    /// Id of the source.
    pub source: String,
}
