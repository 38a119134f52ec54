//! Where the needle comes down.

use std::f64::consts::TAU;

use super::super::holes::tip_depths_mm;
use super::super::hull::{Point, union_area_of_discs};
use super::super::layout::Stand;
use super::super::mechanics::hole_diameter_mm;
use super::super::model::Model;
use super::super::parameters::Parameter;
use super::chance::{Chance, sine_cosine};
use super::request::{Ground, PUNCTURES_MAX, PatternError, PatternRequest};

/// One mark in the skin.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// Along the stroke, or across the area's width, in mm.
    pub along_mm: f64,
    /// Across the stroke from its middle line, or along the area's height, in mm.
    pub across_mm: f64,
    /// Radius of the mark, in mm.
    pub radius_mm: f64,
}

/// A point of the drawing plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// To the right, in mm.
    pub x_mm: f64,
    /// Downwards, in mm.
    pub y_mm: f64,
}

/// A simulated pattern.
#[derive(Debug, Clone, PartialEq)]
pub struct Pattern {
    /// What was drawn.
    pub ground: Ground,
    /// Every mark, in the order in which it was made.
    pub dots: Vec<Dot>,
    /// How often the needle came down on the ground.
    pub strokes: u32,
    /// Mean distance between strokes along the travel, in mm; none over an
    /// area or for fewer than two strokes a pass.
    pub stroke_spacing_mm: Option<f64>,
    /// Width of the band that a stroke draws, in mm.
    pub band_width_mm: f64,
    /// Diameter of a full mark, in mm.
    pub dot_diameter_mm: f64,
    /// Mean area of one mark, in mm², what overlaps within a stroke counted
    /// once.
    pub dot_area_mm2: f64,
    /// Time that the needle works, in seconds.
    pub seconds: f64,
}

impl Model {
    /// Simulates the dots that remain.
    ///
    /// # Errors
    /// [`PatternError`] if the ground or the jitter is out of range or there
    /// would be more than [`PUNCTURES_MAX`] punctures.
    pub fn pattern(&self, request: &PatternRequest) -> Result<Pattern, PatternError> {
        let group = Group::new(self, request);
        let planned = group.planned_strokes(request);
        request.check(planned * group.tips_in_skin())?;
        let mut chance = Chance::new(request.seed);
        let mut dots = Vec::with_capacity(capacity(planned * group.tips_in_skin()));
        let drawn = match request.ground {
            Ground::Area { width_mm, height_mm } => {
                group.fill(width_mm, height_mm, planned, request, &mut chance, &mut dots)
            }
            Ground::Straight { length_mm } => {
                group.stroke(length_mm, 1.0, request, &mut chance, &mut dots)
            }
            Ground::Hair { length_mm, .. } => {
                group.stroke(length_mm, LIFT_FROM, request, &mut chance, &mut dots)
            }
        };
        Ok(Pattern {
            ground: request.ground,
            strokes: drawn.strokes,
            stroke_spacing_mm: drawn.spacing_mm,
            band_width_mm: group.band_width_mm,
            dot_diameter_mm: 2.0 * group.full_radius_mm,
            dot_area_mm2: group.mean_area_mm2(&dots),
            seconds: f64::from(drawn.strokes) / request.circumstances.rate_hz,
            dots,
        })
    }
}

/// Where along a hair stroke the hand begins to lift, and the share of the
/// depth that is left at its end.
const LIFT_FROM: f64 = 0.75;
const LIFTED: f64 = 0.3;

/// The group of tips that comes down together.
struct Group {
    tips: Vec<(Point, f64)>,
    diameter_mm: f64,
    taper_mm: f64,
    growth_mm: f64,
    band_width_mm: f64,
    reach_mm: f64,
    full_radius_mm: f64,
    union_area_mm2: f64,
    round: bool,
}

/// What a drawing came to.
struct Drawn {
    strokes: u32,
    spacing_mm: Option<f64>,
}

impl Group {
    fn new(model: &Model, request: &PatternRequest) -> Self {
        let PatternRequest { configuration, circumstances, .. } = request;
        let layout = model.layout(configuration.grouping, configuration.count);
        let d = configuration.diameter_mm;
        let parameters = model.parameters();
        let depth_mm = circumstances.depth_mm;
        let tips: Vec<(Point, f64)> = tip_depths_mm(configuration, layout, depth_mm, parameters)
            .zip(&layout.tips)
            .filter(|(depth, _)| 0.0 < *depth)
            // To a picometre, so that the last bit of a layout does not matter.
            .map(|(depth, tip)| (Point { x: picometre(tip.x * d), y: picometre(tip.y * d) }, depth))
            .collect();
        let mut group = Self {
            diameter_mm: d,
            taper_mm: model.taper_mm(configuration),
            growth_mm: parameters.get(Parameter::MarkGrowthMm),
            band_width_mm: picometre(layout.band_width * d),
            reach_mm: 0.0,
            full_radius_mm: 0.0,
            union_area_mm2: 0.0,
            round: Stand::of(configuration.grouping) == Stand::Round,
            tips,
        };
        group.full_radius_mm = group.radius_mm(depth_mm);
        let reach = group.tips.iter().map(|(tip, _)| tip.x * tip.x + tip.y * tip.y);
        group.reach_mm = reach.fold(0.0, f64::max).sqrt() + group.full_radius_mm;
        let marks: Vec<(Point, f64)> =
            group.tips.iter().map(|(tip, depth)| (*tip, group.radius_mm(*depth))).collect();
        group.union_area_mm2 = union_area_of_discs(&marks);
        group
    }

    fn tips_in_skin(&self) -> f64 {
        self.tips.iter().map(|_| 1.0).sum()
    }

    fn radius_mm(&self, depth_mm: f64) -> f64 {
        0.5 * hole_diameter_mm(self.diameter_mm, self.taper_mm, depth_mm) + self.growth_mm
    }

    /// How often the needle will come down, before rounding.
    fn planned_strokes(&self, request: &PatternRequest) -> f64 {
        let at = &request.circumstances;
        let per_mm = at.rate_hz / at.hand_speed_mm_s;
        let passes = f64::from(at.passes);
        match request.ground {
            Ground::Straight { length_mm } | Ground::Hair { length_mm, .. } => {
                length_mm * per_mm * passes
            }
            Ground::Area { width_mm, height_mm } => {
                let around = 2.0 * self.reach_mm;
                let ground = (width_mm + around) * (height_mm + around);
                ground * per_mm * passes / self.band_width_mm
            }
        }
    }

    /// Draws a line once for each pass.
    fn stroke(
        &self,
        length_mm: f64,
        lift_from: f64,
        request: &PatternRequest,
        chance: &mut Chance,
        dots: &mut Vec<Dot>,
    ) -> Drawn {
        let spacing = request.circumstances.hand_speed_mm_s / request.circumstances.rate_hz;
        let jitter = request.jitter;
        let mut strokes = 0;
        let (mut travelled, mut steps) = (0.0, 0.0);
        for _ in 0..request.circumstances.passes {
            let mut hand = Unsteady::default();
            let held = self.held(chance);
            let mut planned = spacing * chance.unit();
            let (mut first, mut last) = (None, 0.0);
            while planned < length_mm {
                hand.step(chance);
                let along = planned + hand.pace * jitter.pace * spacing;
                let centre = Point { x: hand.wander * jitter.wander_mm, y: along };
                let turn = held + hand.turn * jitter.turn_deg * (TAU / 360.0);
                let depth = lifted(planned / length_mm, lift_from);
                self.come_down(centre, turn, depth, dots);
                steps += f64::from(u8::from(first.is_some()));
                first = first.or(Some(along));
                last = along;
                strokes += 1;
                planned += spacing;
            }
            travelled += first.map_or(0.0, |first| last - first);
        }
        Drawn { strokes, spacing_mm: (1.0 <= steps).then(|| travelled / steps) }
    }

    /// Fills a rectangle, strokes falling evenly at random in and around it;
    /// what lies wholly outside is dropped and not counted. So the rectangle is
    /// worked as evenly at its edge as in its middle.
    fn fill(
        &self,
        width_mm: f64,
        height_mm: f64,
        planned: f64,
        request: &PatternRequest,
        chance: &mut Chance,
        dots: &mut Vec<Dot>,
    ) -> Drawn {
        let held = self.held(chance);
        let (width, height) = (width_mm + 2.0 * self.reach_mm, height_mm + 2.0 * self.reach_mm);
        let mut strokes = 0;
        for _ in 0..whole(planned) {
            let centre = Point {
                x: chance.unit() * height - self.reach_mm,
                y: chance.unit() * width - self.reach_mm,
            };
            let turn = held + chance.bell() * request.jitter.turn_deg * (TAU / 360.0);
            let on = |at: f64, side_mm: f64| 0.0 <= at && at < side_mm;
            strokes += u32::from(on(centre.x, height_mm) && on(centre.y, width_mm));
            self.come_down(centre, turn, 1.0, dots);
        }
        let full = self.full_radius_mm;
        let touches = |at: f64, side_mm: f64| -full < at && at < side_mm + full;
        dots.retain(|d| touches(d.along_mm, width_mm) && touches(d.across_mm, height_mm));
        Drawn { strokes, spacing_mm: None }
    }

    /// How the group is turned in the hand: a round as it happens to be, a
    /// row square to the travel.
    fn held(&self, chance: &mut Chance) -> f64 {
        let turn = chance.unit() * TAU;
        if self.round { turn } else { 0.0 }
    }

    fn come_down(&self, centre: Point, turn: f64, depth_share: f64, dots: &mut Vec<Dot>) {
        let (sine, cosine) = sine_cosine(turn);
        for (tip, depth) in &self.tips {
            dots.push(Dot {
                along_mm: centre.y + tip.x * sine + tip.y * cosine,
                across_mm: centre.x + tip.x * cosine - tip.y * sine,
                radius_mm: self.radius_mm(depth * depth_share),
            });
        }
    }

    /// Mean area of a mark: the union of one stroke's marks over their number,
    /// less what a lifted hand makes them smaller.
    fn mean_area_mm2(&self, dots: &[Dot]) -> f64 {
        let full: f64 = self.tips.iter().map(|(_, depth)| self.radius_mm(*depth).powi(2)).sum();
        let squared: f64 = dots.iter().map(|dot| dot.radius_mm * dot.radius_mm).sum();
        let mean = if dots.is_empty() { 0.0 } else { squared / count_of(dots) };
        self.union_area_mm2 / self.tips_in_skin() * (mean * self.tips_in_skin() / full)
    }
}

/// The share of the depth that is left at a share of the way.
fn lifted(way: f64, lift_from: f64) -> f64 {
    if way <= lift_from {
        return 1.0;
    }
    1.0 - (1.0 - LIFTED) * (way - lift_from) / (1.0 - lift_from)
}

/// Three slow movements of the hand, each with mean 0 and deviation 1.
#[derive(Default)]
struct Unsteady {
    pace: f64,
    turn: f64,
    wander: f64,
}

impl Unsteady {
    /// How much of a movement is left at the next stroke, and the share of
    /// chance that keeps its deviation at 1: 0.6² + 0.8² = 1.
    const KEPT: f64 = 0.6;
    const NEW: f64 = 0.8;

    fn step(&mut self, chance: &mut Chance) {
        for movement in [&mut self.pace, &mut self.turn, &mut self.wander] {
            *movement = Self::KEPT * *movement + Self::NEW * chance.bell();
        }
    }
}

impl Pattern {
    /// Where a dot lies in the drawing plane: a hair stroke is bent.
    #[must_use]
    pub fn place(&self, dot: &Dot) -> Place {
        let (length_mm, bend_deg) = match self.ground {
            Ground::Hair { length_mm, bend_deg } => (length_mm, bend_deg),
            Ground::Straight { .. } | Ground::Area { .. } => (1.0, 0.0),
        };
        // Below a tenth of a degree an arc is a line as far as a picture goes.
        if bend_deg < 0.1 {
            return Place { x_mm: dot.along_mm, y_mm: dot.across_mm };
        }
        let radius = length_mm / (bend_deg * (TAU / 360.0));
        let (sine, cosine) = sine_cosine(dot.along_mm / radius);
        let from_middle = radius - dot.across_mm;
        Place { x_mm: from_middle * sine, y_mm: radius - from_middle * cosine }
    }
}

fn picometre(length_mm: f64) -> f64 {
    (length_mm * 1e9).round() / 1e9
}

#[expect(clippy::cast_precision_loss, reason = "far fewer than 2^53 dots")]
pub(super) fn count_of<T>(items: &[T]) -> f64 {
    items.len() as f64
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "checked to be at most PUNCTURES_MAX"
)]
fn whole(planned: f64) -> u32 {
    planned.round().clamp(1.0, f64::from(PUNCTURES_MAX)) as u32
}

fn capacity(punctures: f64) -> usize {
    usize::try_from(whole(punctures)).unwrap_or(0) + 64
}
