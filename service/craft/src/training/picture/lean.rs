//! How strokes of one panel lean and bend together.
//!
//! Strokes side by side are copies of each other moved across the panel. Of all parabolas
//! that one is looked for along which darkness adds up to the sharpest lanes; moved back by
//! it, the strokes are upright, whatever their slope was.

use super::panel::Drawn;
use super::plane::{Plane, pixels, whole};

/// Steepest slope that is looked for, the highest bow in mm, and how many steps each way.
const STEEP: f64 = 1.0;
const BOW_MM: f64 = 2.4;
const STEPS: i8 = 6;
/// Places between which darkness is looked at, along and across, in mm.
const ALONG_MM: f64 = 0.2;
const ACROSS_MM: f64 = 0.12;

/// How far a place lies across, from the upright: slope and bow over a length, in pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lean {
    middle: f64,
    half: f64,
    slope: f64,
    bow: f64,
}

impl Lean {
    pub(super) const fn none() -> Self {
        Self { middle: 0.0, half: 1.0, slope: 0.0, bow: 0.0 }
    }

    /// The lean under which a panel has the sharpest lanes.
    pub(super) fn of(drawn: &Drawn) -> Self {
        let [left, _, right, _] = drawn.pixels();
        let half = 0.5 * right.saturating_sub(left) as f64;
        let flat = Self { middle: left as f64 + half, half: half.max(1.0), slope: 0.0, bow: 0.0 };
        let soft = drawn.darkness.blurred(0.06 * drawn.scale, 0.06 * drawn.scale);
        let mut best = (flat.lanes(drawn, &soft), flat);
        let (mut slope_step, mut bow_step) =
            (STEEP / f64::from(STEPS), BOW_MM * drawn.scale / f64::from(STEPS));
        for round in 0..3 {
            let steps = if round == 0 { STEPS } else { 2 };
            let about = best.1;
            for i in -steps..=steps {
                for j in -steps..=steps {
                    let lean = Self {
                        slope: about.slope + f64::from(i) * slope_step,
                        bow: about.bow + f64::from(j) * bow_step,
                        ..flat
                    };
                    let found = lean.lanes(drawn, &soft);
                    if best.0 < found {
                        best = (found, lean);
                    }
                }
            }
            (slope_step, bow_step) = (slope_step / 3.0, bow_step / 3.0);
        }
        best.1
    }

    /// How far a place along the panel is moved across.
    fn shift(&self, x: f64) -> f64 {
        let x = x - self.middle;
        self.slope * x + self.bow * (1.0 - (x / self.half).powi(2))
    }

    /// Squares of what each lane holds, summed: the more, the sharper.
    fn lanes(&self, drawn: &Drawn, soft: &Plane) -> f64 {
        let [left, top, right, low] = drawn.pixels();
        let step = |mm: f64| pixels(mm * drawn.scale).max(1);
        let (along, across) = (step(ALONG_MM), step(ACROSS_MM));
        let most = self.most();
        let side = across as f64;
        let mut lanes = vec![0.0_f64; pixels((low as f64 - top as f64 + 2.0 * most) / side) + 2];
        for x in (left..right).step_by(along) {
            let shift = self.shift(x as f64);
            for y in (top..low).step_by(across) {
                let lane = pixels((y as f64 - top as f64 - shift + most) / side);
                if let Some(lane) = lanes.get_mut(lane) {
                    *lane += f64::from(soft.get(x, y)).max(0.0);
                }
            }
        }
        lanes.iter().map(|lane| lane * lane).sum()
    }

    /// The farthest that anything is moved.
    fn most(&self) -> f64 {
        1.3 * (self.slope.abs() * self.half + self.bow.abs())
    }

    /// The panel with its strokes upright, and by how many rows it grew at either side.
    pub(super) fn upright(&self, plane: &Plane) -> (Plane, usize) {
        let above = pixels(self.most());
        let upright = Plane::of(plane.width, plane.height + 2 * above, |x, y| {
            let y = y.cast_signed() - above.cast_signed() + whole(self.shift(x as f64) + 0.5);
            let inside = 0 <= y && y.cast_unsigned() < plane.height;
            if inside { plane.get(x, y.cast_unsigned()) } else { 0.0 }
        });
        (upright, above)
    }

    /// Places of the upright panel, where they were.
    pub(super) fn back(
        &self,
        spot: &[(usize, usize)],
        above: usize,
        height: usize,
    ) -> Vec<(usize, usize)> {
        spot.iter()
            .filter_map(|(x, y)| {
                let shift = whole(self.shift(*x as f64) + 0.5);
                let y = y.cast_signed() - above.cast_signed() + shift;
                (0 <= y && y.cast_unsigned() < height).then_some((*x, y.cast_unsigned()))
            })
            .collect()
    }
}
