//! What a group leaves when it is drawn along a line or over a field.
//!
//! The width that is seen is that of the outermost marks, not of the shafts: the
//! extent of the tips across the travel and one mark. A round turns in the hand,
//! so its extent is the mean over all turns, by Cauchy's formula the perimeter of
//! the tips' hull over π; a row is held square to the travel.

use std::f64::consts::{FRAC_PI_4, PI};

use crate::configuration::hull::{Point, area_and_perimeter, convex_hull};
use crate::configuration::{Circumstances, Complete, Model, Stand};

/// One configuration at work, in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Where the tips stand that reach the skin.
    pub tips: Vec<Point>,
    /// Diameter of one mark.
    pub mark_mm: f64,
    /// Area of one mark, what overlaps within the group counted once.
    pub mark_area_mm2: f64,
    /// Punctures of one pass over 1 mm².
    pub per_mm2: f64,
    /// Strokes of the needle a second.
    pub rate_hz: f64,
    /// Speed of the hand, in mm/s, that `per_mm2` is reckoned with.
    pub hand_speed_mm_s: f64,
    /// Whether it turns in the hand.
    pub is_round: bool,
}

impl Line {
    /// Measures a configuration; a mark that was measured counts before the one
    /// that the model reckons.
    #[must_use]
    pub fn of(
        model: &Model,
        configuration: &Complete,
        circumstances: &Circumstances,
        measured_mark_mm: Option<f64>,
    ) -> Self {
        let one_pass = Circumstances { passes: 1, ..circumstances.clone() };
        let measures = model.measure(configuration, &one_pass);
        let d = configuration.diameter_mm;
        let layout = model.layout(configuration.grouping, configuration.count);
        let mark_mm = measured_mark_mm.unwrap_or(measures.mark_diameter_mm);
        let scale = mark_mm / measures.mark_diameter_mm;
        Self {
            tips: layout.tips.iter().map(|tip| Point { x: tip.x * d, y: tip.y * d }).collect(),
            mark_mm,
            mark_area_mm2: measures.mark_area_mm2 * scale * scale,
            per_mm2: measures.punctures_per_mm2,
            rate_hz: circumstances.rate_hz,
            hand_speed_mm_s: circumstances.hand_speed_mm_s,
            is_round: Stand::of(configuration.grouping) == Stand::Round,
        }
    }

    /// The width that one line is seen with.
    #[must_use]
    pub fn width_mm(&self) -> f64 {
        self.extent_mm() + self.mark_mm
    }

    /// The least and the greatest width, by how the group is turned.
    #[must_use]
    pub fn width_range_mm(&self) -> [f64; 2] {
        let extents = self.extents();
        let least = extents.iter().copied().fold(f64::INFINITY, f64::min);
        let most = extents.iter().copied().fold(0.0, f64::max);
        [least + self.mark_mm, most + self.mark_mm]
    }

    /// Mean extent of the tips' centres across the travel.
    #[must_use]
    pub fn extent_mm(&self) -> f64 {
        if self.is_round {
            return area_and_perimeter(&convex_hull(&self.tips)).1 / PI;
        }
        extent(&self.tips, 0.0)
    }

    /// The fastest hand that leaves a line unbroken: two marks in a row meet in a
    /// waist of at least this share of their width.
    #[must_use]
    pub fn unbroken_mm_s(&self, waist: f64) -> f64 {
        self.rate_hz * self.mark_mm * (1.0 - waist * waist).max(0.0).sqrt()
    }

    /// The slowest hand that leaves bare skin of this width between two marks.
    #[must_use]
    pub fn apart_mm_s(&self, gap_mm: f64) -> f64 {
        self.rate_hz * (self.mark_mm + gap_mm)
    }

    /// Passes to a cover, and the speed of the hand at which so many whole passes
    /// give it; see [`passes_to`].
    #[must_use]
    pub fn field(&self, cover: f64) -> (u8, f64) {
        let exact = passes_to(cover, self.per_mm2, self.mark_area_mm2);
        let whole = whole(exact);
        (whole, self.hand_speed_mm_s * f64::from(whole) / exact)
    }

    /// Marks of a square millimetre at a cover, by the Boolean model.
    #[must_use]
    pub fn density_at(&self, cover: f64) -> f64 {
        -(1.0 - cover).ln() / self.mark_area_mm2
    }

    /// Area of a full mark.
    #[must_use]
    pub fn full_mark_mm2(&self) -> f64 {
        FRAC_PI_4 * self.mark_mm * self.mark_mm
    }

    /// Extents at every degree of a half turn; of a row, as it is held.
    fn extents(&self) -> Vec<f64> {
        if !self.is_round {
            return vec![extent(&self.tips, 0.0)];
        }
        (0..180_u32).map(|degree| extent(&self.tips, f64::from(degree) * PI / 180.0)).collect()
    }
}

/// Passes until a share is under colour: −ln(1 − C) / (λ·a), not yet whole.
#[must_use]
pub fn passes_to(cover: f64, per_mm2: f64, mark_area_mm2: f64) -> f64 {
    -(1.0 - cover).ln() / (per_mm2 * mark_area_mm2)
}

/// The nearest whole number of passes, 1 to 50.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped between 1 and 50"
)]
fn whole(passes: f64) -> u8 {
    passes.round().clamp(1.0, 50.0) as u8
}

/// Extent of points across a direction.
fn extent(points: &[Point], turn: f64) -> f64 {
    let (sine, cosine) = turn.sin_cos();
    let across = points.iter().map(|p| p.x * cosine + p.y * sine);
    let (least, most) =
        across.fold((f64::MAX, f64::MIN), |(least, most), x| (least.min(x), most.max(x)));
    (most - least).max(0.0)
}
