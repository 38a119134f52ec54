//! What blur does to a cover, and how to take it back.
//!
//! Where discs lie close, blur fills the bare skin between them: at 300 pixels an inch
//! a half cover is seen as more than half. How much follows from the mark and the blur
//! alone as long as marks fall anyhow and their pigment adds up, which we assume. So
//! such a field is drawn once, with a fixed seed, blurred, and held against itself.

use super::Mark;
use super::plane::{Plane, pixels, single, whole};
use crate::configuration::pattern::Chance;

/// Side of the field that is drawn, in mm.
const SIDE_MM: f64 = 6.0;
const SEED: u64 = 0x5eed_c0fe;
/// Covers at which both are compared.
const COVERS: [f64; 10] = [0.05, 0.12, 0.22, 0.34, 0.46, 0.58, 0.70, 0.80, 0.89, 0.96];

/// Covers as they are seen, and as they are.
pub(super) struct Correction(Vec<(f64, f64)>);

impl Correction {
    pub(super) fn of(mark: Mark, blur_mm: f64) -> Self {
        let radius = 0.5 * mark.diameter_mm;
        let scale = (5.0 / radius).clamp(16.0, 64.0);
        let side = pixels(SIDE_MM * scale);
        let area = std::f64::consts::PI * (radius / SIDE_MM).powi(2);
        let mut chance = Chance::new(SEED);
        let mut marks = vec![0_u8; side * side];
        let mut put = 0_usize;
        let mut both = vec![(0.0, 0.0)];
        for cover in COVERS {
            let wanted = pixels(-(1.0 - cover).ln() / area);
            while put < wanted {
                let (x, y) = (chance.unit() * side as f64, chance.unit() * side as f64);
                lay(&mut marks, side, (x, y), radius * scale);
                put += 1;
            }
            let through = 1.0 - mark.darkness.clamp(0.01, 0.99);
            let plane = Plane::of(side, side, |x, y| {
                single(1.0 - through.powi(i32::from(marks[y * side + x])))
            });
            let plane = plane.blurred(blur_mm * scale, blur_mm * scale);
            let half = single(0.5 * (1.0 - through));
            let all = marks.len() as f64;
            let seen = plane.data.iter().filter(|value| half < **value).count() as f64 / all;
            let true_cover = marks.iter().filter(|many| 0 < **many).count() as f64 / all;
            if both.last().is_some_and(|(before, _)| before + 1e-6 < seen) {
                both.push((seen, true_cover));
            }
        }
        both.push((1.0 + 1e-9, 1.0));
        Self(both)
    }

    /// The cover of what is seen.
    pub(super) fn apply(&self, seen: f64) -> f64 {
        let pairs = self.0.iter().zip(self.0.iter().skip(1));
        for ((x0, y0), (x1, y1)) in pairs {
            if seen <= *x1 {
                return y0 + (seen - x0) / (x1 - x0).max(1e-9) * (y1 - y0);
            }
        }
        1.0
    }
}

/// Lays one mark; what goes over an edge comes in at the other.
fn lay(marks: &mut [u8], side: usize, (cx, cy): (f64, f64), radius: f64) {
    let far = whole(radius) + 1;
    let round = |at: isize| at.rem_euclid(side.cast_signed().max(1)).cast_unsigned();
    for y in whole(cy) - far..=whole(cy) + far {
        for x in whole(cx) - far..=whole(cx) + far {
            if (x as f64 + 0.5 - cx).hypot(y as f64 + 0.5 - cy) <= radius
                && let Some(own) = marks.get_mut(round(y) * side + round(x))
            {
                *own = own.saturating_add(1);
            }
        }
    }
}
