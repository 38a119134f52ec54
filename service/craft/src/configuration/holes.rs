//! What one stroke leaves in the skin: how deep each tip reaches, its hole,
//! the mark of colour around it.

use super::complete::Complete;
use super::hull::{Point, union_area_of_discs};
use super::layout::{Layout, Stand, arc_set_back_mm};
use super::mechanics::{disc_area, hole_diameter_mm};
use super::parameters::{Parameter, Parameters};

/// How deep the tips of one configuration reach.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipDepths {
    /// Deepest tip, in mm.
    pub deepest_mm: f64,
    /// Shallowest tip, in mm; 0 if it does not reach the skin.
    pub shallowest_mm: f64,
    /// Mean over all tips, in mm.
    pub mean_mm: f64,
    /// Tips that reach the skin.
    pub in_skin: u8,
}

/// The holes of one stroke.
#[derive(Debug, Clone, Copy)]
pub(super) struct Holes {
    pub(super) depths: TipDepths,
    pub(super) deepest_diameter_mm: f64,
    pub(super) mean_area_mm2: f64,
    pub(super) union_area_mm2: f64,
    pub(super) mark_diameter_mm: f64,
    pub(super) mark_area_mm2: f64,
    /// Tips that carry the force, each by how far it reaches.
    pub(super) engaged: f64,
}

/// The depth of each tip in turn, never negative.
pub(super) fn tip_depths_mm<'a>(
    configuration: &'a Complete,
    layout: &'a Layout,
    depth_mm: f64,
    parameters: &Parameters,
) -> impl Iterator<Item = f64> + 'a {
    tip_levels_mm(configuration, layout, depth_mm, parameters).map(|level| level.max(0.0))
}

/// How far below the surface each tip lies; negative above it.
pub(super) fn tip_levels_mm<'a>(
    configuration: &'a Complete,
    layout: &'a Layout,
    depth_mm: f64,
    parameters: &Parameters,
) -> impl Iterator<Item = f64> + 'a {
    let d = configuration.diameter_mm;
    let arc = (Stand::of(configuration.grouping) == Stand::Arched)
        .then(|| parameters.get(Parameter::ArcRadiusMm));
    // With an even count no tip stands in the middle; the two beside it lead.
    let lead = arc.map_or(0.0, |radius| {
        let nearest = layout.tips.iter().map(|t| t.x.abs()).fold(f64::MAX, f64::min);
        arc_set_back_mm(nearest * d, radius)
    });
    layout.tips.iter().enumerate().map(move |(i, tip)| {
        let set_back = match arc {
            Some(radius) => arc_set_back_mm(tip.x * d, radius) - lead,
            None => layout.set_back.get(i).map_or(0.0, |z| z * d),
        };
        depth_mm - set_back
    })
}

impl Holes {
    pub(super) fn new(
        configuration: &Complete,
        layout: &Layout,
        depth_mm: f64,
        parameters: &Parameters,
    ) -> Self {
        let d = configuration.diameter_mm;
        let taper_mm = parameters.get(Parameter::of_taper(configuration.taper));
        let growth_mm = parameters.get(Parameter::MarkGrowthMm);
        let deepest_diameter_mm = hole_diameter_mm(d, taper_mm, depth_mm);
        let graded = matches!(Stand::of(configuration.grouping), Stand::Arched | Stand::Slanted);
        let apart = layout.nearest.is_none_or(|gap| deepest_diameter_mm <= gap * d);
        let mut sums = Sums::default();
        if graded {
            for depth in tip_depths_mm(configuration, layout, depth_mm, parameters) {
                sums.add(depth, hole_diameter_mm(d, taper_mm, depth), growth_mm, 1.0);
            }
        } else {
            let count = f64::from(configuration.count);
            sums.add(depth_mm, deepest_diameter_mm, growth_mm, count);
        }
        let union_area_mm2 = if apart {
            sums.hole_area
        } else {
            union_area(configuration, layout, depth_mm, taper_mm, parameters)
        };
        Self {
            depths: TipDepths {
                deepest_mm: depth_mm,
                shallowest_mm: sums.shallowest,
                mean_mm: sums.depth / f64::from(configuration.count),
                in_skin: sums.in_skin_rounded(),
            },
            deepest_diameter_mm,
            mean_area_mm2: union_area_mm2 / sums.in_skin,
            union_area_mm2,
            mark_diameter_mm: deepest_diameter_mm + 2.0 * growth_mm,
            mark_area_mm2: sums.mark_area / sums.in_skin,
            engaged: engaged(configuration, depth_mm, sums.depth, parameters),
        }
    }
}

/// Sums over the tips of one stroke.
struct Sums {
    depth: f64,
    shallowest: f64,
    in_skin: f64,
    hole_area: f64,
    mark_area: f64,
}

impl Default for Sums {
    fn default() -> Self {
        Self { depth: 0.0, shallowest: f64::MAX, in_skin: 0.0, hole_area: 0.0, mark_area: 0.0 }
    }
}

impl Sums {
    fn add(&mut self, depth: f64, hole: f64, growth: f64, tips: f64) {
        self.shallowest = self.shallowest.min(depth);
        if 0.0 < depth {
            self.depth += depth * tips;
            self.in_skin += tips;
            self.hole_area += disc_area(hole) * tips;
            self.mark_area += disc_area(hole + 2.0 * growth) * tips;
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a whole number between 1 and 49 by construction"
    )]
    fn in_skin_rounded(&self) -> u8 {
        self.in_skin.round() as u8
    }
}

fn union_area(
    configuration: &Complete,
    layout: &Layout,
    depth_mm: f64,
    taper_mm: f64,
    parameters: &Parameters,
) -> f64 {
    let d = configuration.diameter_mm;
    let discs: Vec<(Point, f64)> = tip_depths_mm(configuration, layout, depth_mm, parameters)
        .zip(&layout.tips)
        .filter(|(depth, _)| 0.0 < *depth)
        .map(|(depth, tip)| {
            let centre = Point { x: tip.x * d, y: tip.y * d };
            (centre, 0.5 * hole_diameter_mm(d, taper_mm, depth))
        })
        .collect();
    union_area_of_discs(&discs)
}

/// Tips that carry the force, each weighted by how far it reaches.
///
/// For a curved magnum the sum over the tips is replaced by the mean over the
/// band, which rises evenly with the count; the plain sum jumps a little
/// between odd and even counts.
fn engaged(
    configuration: &Complete,
    depth_mm: f64,
    depth_sum_mm: f64,
    parameters: &Parameters,
) -> f64 {
    if Stand::of(configuration.grouping) != Stand::Arched {
        return depth_sum_mm / depth_mm;
    }
    let radius = parameters.get(Parameter::ArcRadiusMm);
    let spacing = 0.5 * parameters.get(Parameter::PitchWoven) * configuration.diameter_mm;
    let half_band = 0.5 * f64::from(configuration.count) * spacing;
    // Where the arc leaves the skin: (R − z)² + x² = R².
    let leaves = (depth_mm * (2.0 * radius - depth_mm)).max(0.0).sqrt();
    let b = half_band.min(leaves);
    let arc = 0.5
        * (b * (radius * radius - b * b).max(0.0).sqrt()
            + radius * radius * (b / radius).min(1.0).asin());
    2.0 * ((depth_mm - radius) * b + arc) / (spacing * depth_mm)
}
