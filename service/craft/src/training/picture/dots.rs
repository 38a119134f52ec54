//! What one mark looks like, and dots that are strewn.
//!
//! What one mark looks like comes from the mean profile of a row as a disc under the
//! picture's blur.

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::fit::{disc, least, scaled};
use super::panel::Drawn;
use super::peaks::Dots;
use super::plane::{Plane, mean, median, pixels, quantile, whole};
use super::rows::expected;
use super::{Mark, Measured, Quality, Seen};

/// What one mark of a row looks like; `None` if it cannot be told.
pub(super) fn mark(drawn: &Drawn, spacing_mm: f64, quality: &Quality) -> Option<Mark> {
    let dots = Dots::find(drawn, quality, expected(drawn, 1, spacing_mm), 0.0).ok()?;
    if dots.all.len() < 5 {
        return None;
    }
    profile(drawn, &dots, quality.blur_mm)
}

/// The mean profile of single dots, as a disc under the blur.
pub(super) fn profile(drawn: &Drawn, dots: &Dots, blur_mm: f64) -> Option<Mark> {
    let scale = drawn.scale;
    let (reach, bin) = (0.5 * dots.width + (3.0 * blur_mm + 0.04) * scale, 0.25);
    let mut bins = vec![(0.0, 0.0); pixels(reach / bin).min(4_000)];
    let doubled = dots.doubled(None);
    for (dot, _) in dots.all.iter().zip(doubled).filter(|(_, is_doubled)| !is_doubled) {
        let far = whole(reach) + 1;
        for y in whole(dot.y) - far..=whole(dot.y) + far + 1 {
            for x in whole(dot.x) - far..=whole(dot.x) + far + 1 {
                let r = (x as f64 - dot.x).hypot(y as f64 - dot.y);
                if let Some(bin) = bins.get_mut(pixels(r / bin - 0.5)) {
                    bin.0 += f64::from(drawn.darkness.at(x, y));
                    bin.1 += 1.0;
                }
            }
        }
    }
    let profile: Vec<(f64, f64, f64)> = (0..)
        .zip(&bins)
        .filter(|(_, (_, many))| 0.0 < *many)
        .map(|(at, (sum, many))| ((f64::from(at) + 0.5) * bin / scale, sum / many, *many))
        .collect();
    let seen = 0.5 * dots.width / scale;
    let shape = |radius: f64| scaled(&profile, |r| disc(r, radius, blur_mm));
    let radius = least(0.3 * seen, 1.4 * seen, |radius| shape(radius).2);
    let (bed, height, _) = shape(radius);
    let darkness = height / (1.0 - bed).max(0.5);
    let plausible = darkness.is_finite() && 0.0 < darkness && darkness < 1.3;
    plausible.then_some(Mark { diameter_mm: 2.0 * radius, darkness: darkness.min(1.0) })
}

/// That nothing of it can be said.
pub(super) fn all_of(measures: &[Quantity], fault: QuantityFault) -> Measured {
    let values = measures.iter().map(|measure| (*measure, Err(fault))).collect();
    Measured { values, ..Measured::default() }
}

/// Measures dots in no rows.
pub(super) fn scattered(drawn: &Drawn, seen: &Seen) -> Measured {
    let [left, top, right, low] = drawn.box_mm;
    let area = (right - left) * (low - top);
    let asked = pixels(0.6 * area).max(4);
    let dots = match Dots::find(drawn, &seen.quality, asked, 0.0) {
        Ok(dots) => dots,
        Err(fault) => return all_of(SCATTERED, fault),
    };
    let few = dots.all.len() < 8;
    let nearest: Vec<f64> = dots
        .all
        .iter()
        .enumerate()
        .map(|(at, own)| {
            let others = dots.all.iter().enumerate().filter(|(other, _)| *other != at);
            others
                .map(|(_, one)| (one.x - own.x).hypot(one.y - own.y))
                .fold(f64::INFINITY, f64::min)
        })
        .collect();
    let density = dots.all.len() as f64 / area.max(1e-6);
    let regularity = 2.0 * mean(&nearest) / drawn.scale * density.sqrt();
    let told = |value: f64| if few { Err(QuantityFault::TooFew) } else { Ok(value) };
    let usual = median(dots.all.iter().map(|dot| dot.peak).collect());
    let bare = bare_square_mm(drawn, 0.4 * usual);
    let values = vec![
        (Quantity::Count, Ok(dots.all.len() as f64)),
        (Quantity::Doubled, Ok(dots.twice(None))),
        (Quantity::PerCm2, Ok(100.0 * density)),
        (Quantity::Regularity, told(regularity)),
        (Quantity::BareSquareMm, told(bare)),
    ];
    Measured { values, ..Measured::default() }
}

const SCATTERED: &[Quantity] = &[
    Quantity::Count,
    Quantity::Doubled,
    Quantity::PerCm2,
    Quantity::Regularity,
    Quantity::BareSquareMm,
];

/// Side of the largest square of the box without a pixel that is as dark.
pub(super) fn bare_square_mm(drawn: &Drawn, from: f64) -> f64 {
    let [left, top, right, low] = drawn.pixels();
    let mut above = vec![0_u32; right.saturating_sub(left) + 1];
    let mut most = 0;
    for y in top..low {
        let mut corner = 0;
        for (at, x) in (left..right).enumerate() {
            let before = above[at + 1];
            above[at + 1] = if f64::from(drawn.darkness.get(x, y)) < from {
                1 + before.min(above[at]).min(corner)
            } else {
                0
            };
            most = most.max(above[at + 1]);
            corner = before;
        }
    }
    f64::from(most) / drawn.scale
}

/// The darkest of a panel, spikes left out.
pub(super) fn darkest(plane: &Plane, [left, top, right, low]: [usize; 4], share: f64) -> f64 {
    let mut values: Vec<f64> = (top..low)
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .map(|(x, y)| f64::from(plane.get(x, y)))
        .collect();
    quantile(&mut values, share)
}
