//! The measures of one configuration under given circumstances.
//!
//! Formulas, units and sources stand at each field of [`Measures`]; the same
//! is available as data in [`super::documentation`].

use etui_schema::vocabulary::{Give, Hand};

use super::cautions::{Cautions, Found};
use super::circumstances::{Circumstances, Defaults};
use super::complete::Complete;
use super::holes::{Holes, TipDepths};
use super::layout::Layout;
use super::mechanics::{coverage, dwell_ms, entry_speed_mm_s, peak_speed_mm_s, repeat_hits};
use super::parameters::{Parameter, Parameters};
use super::skin::{SkinTable, Tolerance};
use super::trauma::{CAUSES, Trauma};

/// Everything that is measured. All numbers are finite.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Width across the travel, shaft edge to shaft edge, in mm; for rounds
    /// the diameter of the bundle (its turn in the hand is unknown).
    pub band_width_mm: f64,
    /// Area of the hull of the shafts, in mm² (Steiner's formula).
    pub footprint_mm2: f64,
    /// Tips per mm² of footprint: n / footprint.
    pub tips_per_mm2: f64,
    /// Distance of the two nearest tips, centre to centre, in mm; none for a
    /// single.
    pub nearest_gap_mm: Option<f64>,
    /// Diameter of the deepest tip's hole at the skin's surface, in mm:
    /// `min(d, d·z/L)`.
    pub hole_diameter_mm: f64,
    /// Mean area of one hole, in mm²: the union of one stroke's holes over
    /// their number.
    pub hole_area_mm2: f64,
    /// Area of the union of the holes of one stroke, in mm².
    pub stroke_area_mm2: f64,
    /// Diameter of the mark of colour around the deepest tip's hole, in mm:
    /// hole + 2 × the parameter `mark_growth_mm`.
    pub mark_diameter_mm: f64,
    /// Mean area of one mark of colour, in mm².
    pub mark_area_mm2: f64,
    /// Pressure on each tip, 1.0 = 0.30 3RL under a medium hand on a machine
    /// of medium give: hand × give / (sharing tips × d^e).
    pub pressure_index: f64,
    /// Over how many single tips the force is shared, spacing included.
    pub sharing_tips: f64,
    /// Peak speed of the tips, in mm/s: π·f·s.
    pub tip_speed_mm_s: f64,
    /// Speed at which the tips meet the skin, in mm/s: 2π·f·√(p(s − p)).
    pub entry_speed_mm_s: f64,
    /// Time in the skin in each stroke, in ms: acos(1 − 2p/s)/(π·f).
    pub dwell_ms: f64,
    /// Strokes per mm of travel in one pass: f / v.
    pub strokes_per_mm: f64,
    /// Punctures per mm² after all passes: tips in the skin × f × passes /
    /// (v × band width).
    pub punctures_per_mm2: f64,
    /// Expected share of the area under holes: 1 − exp(−λa) with
    /// `punctures_per_mm2` and `hole_area_mm2`.
    pub coverage: f64,
    /// Expected share of the area pierced at least twice, same λ and a.
    pub repeat_hits: f64,
    /// Expected share of the area under colour: 1 − exp(−λa) with
    /// `mark_area_mm2`.
    pub colour_coverage: f64,
    /// Passes until the area under colour reaches the parameter
    /// `cover_target`, at least 1.
    pub passes_to_cover: u32,
    /// Seconds of needle time for 1 cm² in that many passes:
    /// passes × 100 mm² / (v × band width).
    pub seconds_per_cm2: f64,
    /// How much the skin is asked to bear, 1.0 = reference.
    pub trauma_index: f64,
    /// The trauma index by cause.
    pub trauma: Trauma,
    /// How deep the tips reach.
    pub depths: TipDepths,
    /// Depth over the thickness reckoned with; above 1 = through the skin.
    pub depth_share: f64,
    /// Thickness reckoned with, in mm (histology of the site, judged
    /// thickness, age).
    pub skin_mm: f64,
    /// What to warn of.
    pub cautions: Cautions,
}

/// What is divided by, so that the reference is 1.0.
#[derive(Debug, Clone, Copy)]
pub(super) struct Reference {
    pub(super) pressure: f64,
    pub(super) trauma: [f64; CAUSES],
}

impl Reference {
    /// Divides by nothing.
    pub(super) const NONE: Self = Self { pressure: 1.0, trauma: [1.0; CAUSES] };
}

/// What measuring needs besides the configuration and the circumstances.
#[derive(Clone, Copy)]
pub(super) struct Context<'a> {
    pub(super) parameters: &'a Parameters,
    pub(super) skin: &'a SkinTable,
    pub(super) defaults: &'a Defaults,
    pub(super) reference: &'a Reference,
}

/// Measures one configuration on its layout.
pub(super) fn measure(
    context: Context<'_>,
    configuration: &Complete,
    layout: &Layout,
    circumstances: &Circumstances,
) -> Measures {
    let Context { parameters, skin, defaults, reference } = context;
    let tolerance = skin.tolerance(circumstances.site, &circumstances.skin, parameters);
    let depth_mm = circumstances.depth_mm;
    let (stroke_mm, rate_hz) = (circumstances.stroke_mm, circumstances.rate_hz);
    let d = configuration.diameter_mm;
    let holes = Holes::new(configuration, layout, depth_mm, parameters);
    let travel = Travel::new(layout.band_width * d, circumstances, &holes);
    let sharing_tips = sharing_tips(configuration, layout, holes.engaged, parameters);
    let load = hand_force(circumstances, parameters) / sharing_tips;
    let pressure = load / d.powf(parameters.get(Parameter::PressureDiameterExponent));
    let raw = raw_trauma(d, circumstances, &tolerance, &travel, load, parameters);
    let trauma = Trauma::relative_to(raw, &reference.trauma);
    let cover = Cover::new(&travel, &holes, circumstances, parameters);
    let footprint_mm2 = layout.footprint * d * d;
    let found = Found { tolerance: &tolerance, travel: &travel, depths: &holes.depths };
    Measures {
        band_width_mm: travel.band_width_mm,
        footprint_mm2,
        tips_per_mm2: f64::from(configuration.count) / footprint_mm2,
        nearest_gap_mm: layout.nearest.map(|gap| gap * d),
        hole_diameter_mm: holes.deepest_diameter_mm,
        hole_area_mm2: holes.mean_area_mm2,
        stroke_area_mm2: holes.union_area_mm2,
        mark_diameter_mm: holes.mark_diameter_mm,
        mark_area_mm2: holes.mark_area_mm2,
        pressure_index: pressure / reference.pressure,
        sharing_tips,
        tip_speed_mm_s: peak_speed_mm_s(stroke_mm, rate_hz),
        entry_speed_mm_s: entry_speed_mm_s(stroke_mm, rate_hz, depth_mm),
        dwell_ms: dwell_ms(stroke_mm, rate_hz, depth_mm),
        strokes_per_mm: travel.strokes_per_mm,
        punctures_per_mm2: travel.punctures_per_mm2,
        coverage: cover.holes,
        repeat_hits: cover.repeat_hits,
        colour_coverage: cover.colour,
        passes_to_cover: cover.passes,
        seconds_per_cm2: cover.seconds_per_cm2,
        trauma_index: trauma.index,
        trauma,
        depths: holes.depths,
        depth_share: depth_mm / tolerance.total_mm,
        skin_mm: tolerance.total_mm,
        cautions: found.cautions(configuration, circumstances, skin, defaults, parameters),
    }
}

/// How many orders there are.
pub(super) const RANKINGS: usize = 3;

/// What configurations are ordered by: pressure, trauma, area covered per
/// second. Factors that all configurations share are left out, so the values
/// only rank configurations under the same circumstances.
pub(super) fn rankings(
    configuration: &Complete,
    layout: &Layout,
    circumstances: &Circumstances,
    parameters: &Parameters,
) -> [f64; RANKINGS] {
    let value = |parameter| parameters.get(parameter);
    let d = configuration.diameter_mm;
    let holes = Holes::new(configuration, layout, circumstances.depth_mm, parameters);
    let travel = Travel::new(layout.band_width * d, circumstances, &holes);
    let load = 1.0 / sharing_tips(configuration, layout, holes.engaged, parameters);
    let pressure = load / d.powf(value(Parameter::PressureDiameterExponent));
    let trauma = travel.punctures_per_mm2.powf(value(Parameter::TraumaDensityExponent))
        * d.powf(value(Parameter::TraumaDiameterExponent))
        * load.powf(value(Parameter::TraumaLoadExponent));
    let cover = Cover::new(&travel, &holes, circumstances, parameters);
    [pressure, trauma, 1.0 / cover.seconds_per_cm2]
}

/// The hand's travel over the skin.
#[derive(Debug, Clone, Copy)]
pub(super) struct Travel {
    pub(super) band_width_mm: f64,
    pub(super) strokes_per_mm: f64,
    pub(super) punctures_per_mm2: f64,
}

impl Travel {
    fn new(band_width_mm: f64, circumstances: &Circumstances, holes: &Holes) -> Self {
        let strokes_per_mm = circumstances.rate_hz / circumstances.hand_speed_mm_s;
        let tips = f64::from(holes.depths.in_skin);
        let passes = f64::from(circumstances.passes);
        let punctures_per_mm2 = tips * strokes_per_mm * passes / band_width_mm;
        Self { band_width_mm, strokes_per_mm, punctures_per_mm2 }
    }
}

/// What the passes cover.
struct Cover {
    holes: f64,
    repeat_hits: f64,
    colour: f64,
    passes: u32,
    seconds_per_cm2: f64,
}

impl Cover {
    fn new(
        travel: &Travel,
        holes: &Holes,
        circumstances: &Circumstances,
        parameters: &Parameters,
    ) -> Self {
        let lambda = travel.punctures_per_mm2;
        let per_pass = lambda * holes.mark_area_mm2 / f64::from(circumstances.passes);
        let passes = passes_until(parameters.get(Parameter::CoverTarget), per_pass);
        let swept_mm2_s = circumstances.hand_speed_mm_s * travel.band_width_mm;
        Self {
            holes: coverage(lambda, holes.mean_area_mm2),
            repeat_hits: repeat_hits(lambda, holes.mean_area_mm2),
            colour: coverage(lambda, holes.mark_area_mm2),
            passes,
            seconds_per_cm2: f64::from(passes) * 100.0 / swept_mm2_s,
        }
    }
}

/// Whole passes until `1 − exp(−µ·passes)` reaches the target; at least 1.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped between 1 and a million"
)]
fn passes_until(target: f64, mean_per_pass: f64) -> u32 {
    // A hair below the whole number is the whole number: rounding, not need.
    let passes = (-(1.0 - target).ln() / mean_per_pass - 1e-9).ceil();
    passes.clamp(1.0, 1e6) as u32
}

/// Force of the hand that the machine passes on; medium on medium = 1.
pub(super) fn hand_force(circumstances: &Circumstances, parameters: &Parameters) -> f64 {
    let hand = match circumstances.hand {
        Hand::Light => parameters.get(Parameter::HandLight),
        Hand::Medium => 1.0,
        Hand::Heavy => parameters.get(Parameter::HandHeavy),
    };
    let give = match circumstances.give {
        Give::Soft => parameters.get(Parameter::GiveSoft),
        Give::Medium => 1.0,
        Give::Firm => parameters.get(Parameter::GiveFirm),
    };
    hand * give
}

/// Over how many single tips the force is shared: the tips that reach the
/// skin, and beyond their number the room that they stand in.
///
/// With *H* the footprint in discs of one shaft and *q* the parameter
/// `pressure_spreading` this is `engaged · (H/n)^q`: the tips alone for q = 0,
/// the footprint alone for q = 1.
pub(super) fn sharing_tips(
    configuration: &Complete,
    layout: &Layout,
    engaged: f64,
    parameters: &Parameters,
) -> f64 {
    let discs = layout.footprint / std::f64::consts::FRAC_PI_4;
    let room = discs / f64::from(configuration.count);
    engaged * room.powf(parameters.get(Parameter::PressureSpreading))
}

/// The factors of the trauma index before they are divided by the reference,
/// in the order of [`super::trauma::Cause`].
fn raw_trauma(
    diameter_mm: f64,
    circumstances: &Circumstances,
    tolerance: &Tolerance,
    travel: &Travel,
    load: f64,
    parameters: &Parameters,
) -> [f64; CAUSES] {
    let value = |parameter| parameters.get(parameter);
    let depth = circumstances.depth_mm / tolerance.total_mm;
    let speed = peak_speed_mm_s(circumstances.stroke_mm, circumstances.rate_hz);
    let limit = value(Parameter::OverworkStrokesPerMm);
    let beyond = (travel.strokes_per_mm / limit).max(1.0);
    [
        depth.powf(value(Parameter::TraumaDepthExponent)),
        travel.punctures_per_mm2.powf(value(Parameter::TraumaDensityExponent)),
        diameter_mm.powf(value(Parameter::TraumaDiameterExponent)),
        load.powf(value(Parameter::TraumaLoadExponent)),
        speed.powf(value(Parameter::TraumaImpactExponent)),
        beyond.powf(value(Parameter::TraumaOverworkExponent)),
        tolerance.strain,
    ]
}
