//! The panels of each drill and what is judged of them.

use etui_schema::drills::{Pace, Target};
use etui_schema::vocabulary::{DrillKey, Effect, Grouping, Quantity};

use super::evenness::{bare_square_mm, chance_evenness};
use super::line::Line;
use super::rules::{DrillRules, Level};
use crate::configuration::Stand;

/// A panel, before it has a number and words.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    pub(super) drill: DrillKey,
    /// By what the panels of one drill differ.
    pub(super) step: f64,
    pub(super) size_mm: (f64, f64),
    pub(super) passes: u8,
    pub(super) pace: Option<Pace>,
    pub(super) targets: Vec<Target>,
}

/// What panels are planned from.
pub(super) struct Planner<'a> {
    pub(super) rules: &'a DrillRules,
    pub(super) level: &'a Level,
    pub(super) line: &'a Line,
    pub(super) grouping: Grouping,
}

/// Rows of the row drill, and their length in mm.
const ROWS: f64 = 3.0;
const ROW_MM: f64 = 20.0;
/// Strokes of a stroke drill, and their length in mm.
const STROKES: f64 = 8.0;
const STROKE_MM: f64 = 10.0;
/// Distance of bent strokes, in mm.
const BENT_APART_MM: f64 = 1.5;
/// Length of the long line.
const LONG_MM: f64 = 40.0;
/// Dots of the strewn drill on its square centimetre.
const STREWN: f64 = 60.0;
/// The two ends of the fading field, and its length.
const FADING: (f64, f64, f64) = (0.7, 0.1, 20.0);
/// The cover that a broad group is to lay.
const BROAD_COVER: f64 = 0.8;

/// Whether an effect is practised with a drill.
pub(super) fn is_for(drill: DrillKey, effect: Effect, grouping: Grouping) -> bool {
    let broad = !matches!(Stand::of(grouping), Stand::Round | Stand::Along);
    match drill {
        DrillKey::SingleDots => true,
        DrillKey::DotRows => effect == Effect::Pixelated,
        DrillKey::ScatteredDots => effect == Effect::ScalpDots,
        DrillKey::StraightStrokes => matches!(effect, Effect::HairStrokes | Effect::FineLine),
        DrillKey::CurvedStrokes => effect == Effect::HairStrokes,
        DrillKey::LongLine => matches!(effect, Effect::FineLine | Effect::BoldLine),
        DrillKey::Circle => matches!(effect, Effect::AreolaShading | Effect::BoldLine),
        DrillKey::Field => matches!(effect, Effect::SoftShading | Effect::DenseFill),
        DrillKey::FadingField => matches!(effect, Effect::SoftShading | Effect::AreolaShading),
        DrillKey::BroadField => effect == Effect::DenseFill && broad,
    }
}

impl Planner<'_> {
    /// The panels of one drill, in the order of their steps.
    pub(super) fn panels(&self, drill: DrillKey) -> Vec<Plan> {
        let steps: &[f64] = match drill {
            DrillKey::SingleDots => &[2.0],
            DrillKey::DotRows => &[1.0, 1.5, 2.0],
            DrillKey::ScatteredDots => &[STREWN],
            DrillKey::StraightStrokes => &[2.0, 1.5, 1.0],
            DrillKey::CurvedStrokes => &[15.0, 30.0, 60.0],
            DrillKey::LongLine => &[1.0, 2.0],
            DrillKey::Circle => &[10.0, 15.0],
            DrillKey::Field => &[0.2, 0.5, 0.8],
            DrillKey::FadingField => &[FADING.0],
            DrillKey::BroadField => &[BROAD_COVER],
        };
        steps.iter().map(|step| self.panel(drill, *step)).collect()
    }

    fn panel(&self, drill: DrillKey, step: f64) -> Plan {
        let (size_mm, targets) = match drill {
            DrillKey::SingleDots => ((44.0, 6.0), self.single_dots()),
            DrillKey::DotRows => ((24.0, 10.0), self.dot_rows(step)),
            DrillKey::ScatteredDots => ((10.0, 10.0), self.scattered()),
            DrillKey::StraightStrokes => ((18.0, 12.0), self.strokes(step)),
            DrillKey::CurvedStrokes => ((16.0, 12.0), self.curved(step)),
            DrillKey::LongLine => ((44.0, 6.0), self.long_line()),
            DrillKey::Circle => ((20.0, 20.0), self.circle()),
            DrillKey::Field => ((8.0, 8.0), self.field(step)),
            DrillKey::FadingField => ((20.0, 8.0), self.fading()),
            DrillKey::BroadField => ((15.0, 10.0), self.broad()),
        };
        let (passes, pace) = self.work(drill, step);
        Plan { drill, step, size_mm, passes, pace, targets }
    }

    /// Passes and pace. A blade is drawn by hand alone: its pace is not reckoned.
    fn work(&self, drill: DrillKey, step: f64) -> (u8, Option<Pace>) {
        let no_faster =
            Pace { least: None, most: Some(tidy(self.line.unbroken_mm_s(self.rules.waist.value))) };
        let (passes, pace) = match drill {
            DrillKey::SingleDots | DrillKey::DotRows | DrillKey::ScatteredDots => (1, None),
            DrillKey::StraightStrokes | DrillKey::CurvedStrokes | DrillKey::Circle => {
                (1, Some(no_faster))
            }
            DrillKey::LongLine => (if step < 1.5 { 1 } else { 2 }, Some(no_faster)),
            DrillKey::Field | DrillKey::FadingField | DrillKey::BroadField => {
                let (passes, speed) = self.line.field(step);
                let at = Some(tidy(speed));
                (passes, Some(Pace { least: at, most: at }))
            }
        };
        (passes, pace.filter(|_| self.grouping != Grouping::HandBlade))
    }

    fn single_dots(&self) -> Vec<Target> {
        let mark = self.line.mark_mm;
        vec![
            exactly(Quantity::Count, 20.0),
            self.doubled(),
            share(Quantity::MarkMm, mark, self.level.width),
        ]
    }

    fn dot_rows(&self, apart: f64) -> Vec<Target> {
        vec![
            exactly(Quantity::Count, ROWS * ((ROW_MM / apart).floor() + 1.0)),
            at_most(Quantity::Skipped, 0.0),
            self.doubled(),
            share(Quantity::SpacingMm, apart, self.level.spacing),
            at_most(Quantity::SpacingCv, self.level.cv),
            at_most(Quantity::OffLineMm, self.level.off_line_mm),
        ]
    }

    fn scattered(&self) -> Vec<Target> {
        let rules = self.rules;
        let (least, most) = (rules.regularity_least.value, rules.regularity_most.value);
        let apart = 10.0 / STREWN.sqrt();
        vec![
            share(Quantity::PerCm2, STREWN, self.level.spacing),
            between(Quantity::Regularity, f64::midpoint(least, most), least, most),
            at_most(Quantity::BareSquareMm, rules.bare_square.value * apart),
        ]
    }

    fn strokes(&self, apart: f64) -> Vec<Target> {
        let mut targets = self.any_strokes(apart);
        targets.push(at_most(Quantity::StraightnessMm, self.level.off_line_mm));
        targets
    }

    fn curved(&self, turn_deg: f64) -> Vec<Target> {
        let bow = bow_mm(STROKE_MM, turn_deg);
        let room = self.rules.bow_tolerance_mm.value;
        let mut targets = self.any_strokes(BENT_APART_MM);
        targets.push(between(Quantity::BowMm, bow, bow - room, bow + room));
        targets
    }

    fn any_strokes(&self, apart: f64) -> Vec<Target> {
        vec![
            exactly(Quantity::Count, STROKES),
            share(Quantity::SpacingMm, apart, self.level.spacing),
            at_most(Quantity::SpacingCv, self.level.cv),
            self.width(),
            at_most(Quantity::WidthCv, self.level.cv),
            at_most(Quantity::LiftOff, self.rules.lift_off.value),
        ]
    }

    fn long_line(&self) -> Vec<Target> {
        vec![
            self.width(),
            at_most(Quantity::WidthCv, self.level.cv),
            at_most(Quantity::Gaps, 0.0),
            at_most(Quantity::StraightnessMm, self.level.off_line_mm),
        ]
    }

    fn circle(&self) -> Vec<Target> {
        vec![
            at_most(Quantity::RadiusSdMm, self.level.off_line_mm),
            at_most(Quantity::ClosureMm, self.rules.closure_mm.value),
            self.width(),
        ]
    }

    fn field(&self, cover: f64) -> Vec<Target> {
        let bare = bare_square_mm(self.line, cover, 64.0);
        vec![
            self.cover(cover),
            at_most(Quantity::Evenness, self.even(cover)),
            at_most(Quantity::BareSquareMm, self.rules.bare_square.value * bare),
            at_most(Quantity::Overworked, 0.0),
        ]
    }

    fn fading(&self) -> Vec<Target> {
        let (from, to, length) = FADING;
        let trend = (to - from) / length;
        vec![
            share(Quantity::TrendPerMm, trend, self.level.width),
            at_most(Quantity::Evenness, self.even(f64::midpoint(from, to))),
            at_most(Quantity::Overworked, 0.0),
        ]
    }

    fn broad(&self) -> Vec<Target> {
        vec![
            self.cover(BROAD_COVER),
            at_most(Quantity::Stripes, self.even(BROAD_COVER)),
            at_most(Quantity::Overworked, 0.0),
        ]
    }

    fn doubled(&self) -> Target {
        at_most(Quantity::Doubled, self.rules.doubled.value)
    }

    fn cover(&self, cover: f64) -> Target {
        let room = self.rules.cover_tolerance.value;
        between(Quantity::Cover, cover, cover - room, cover + room)
    }

    /// Never below what chance alone gives.
    fn even(&self, cover: f64) -> f64 {
        self.rules.evenness.value * chance_evenness(self.line, cover)
    }

    /// How a group happens to be turned is no fault.
    fn width(&self) -> Target {
        let asked = self.line.width_mm();
        let [narrowest, widest] = self.line.width_range_mm();
        let room = self.level.width * asked;
        let (least, most) = ((asked - room).min(narrowest), (asked + room).max(widest));
        between(Quantity::WidthMm, asked, least, most)
    }
}

/// Height of an arc over its chord, by its length and how far it turns.
pub(super) fn bow_mm(length_mm: f64, turn_deg: f64) -> f64 {
    let turn = turn_deg.to_radians();
    length_mm / turn * (1.0 - (0.5 * turn).cos())
}

/// The length of a bent or straight stroke, for the words.
pub(super) const fn stroke_mm() -> f64 {
    STROKE_MM
}

/// The length of the long line, for the words.
pub(super) const fn long_mm() -> f64 {
    LONG_MM
}

fn between(quantity: Quantity, asked: f64, least: f64, most: f64) -> Target {
    Target { quantity, asked: tidy(asked), least: Some(tidy(least)), most: Some(tidy(most)) }
}

fn share(quantity: Quantity, asked: f64, room: f64) -> Target {
    let room = (asked * room).abs();
    between(quantity, asked, asked - room, asked + room)
}

fn exactly(quantity: Quantity, asked: f64) -> Target {
    between(quantity, asked, asked, asked)
}

/// What is best at nothing.
fn at_most(quantity: Quantity, most: f64) -> Target {
    Target { quantity, asked: 0.0, least: None, most: Some(tidy(most)) }
}

/// To four decimals: a tenth of a micrometre.
pub(super) fn tidy(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}
