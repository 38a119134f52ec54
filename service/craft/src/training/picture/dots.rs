//! Dots: in rows, and strewn.
//!
//! A dot is a local maximum; its place is the centroid of darkness within half its
//! width and two standard deviations of blur, as far as it is nearest. What one mark
//! looks like comes from the mean profile of a row as a disc under the picture's blur.

use std::f64::consts::PI;

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::fit::{Curve, disc, least, scaled};
use super::panel::Drawn;
use super::plane::{Plane, components, mean, median, pixels, quantile, spread, whole};
use super::{Mark, Measured, Seen};

/// A skip can be told from a wide gap while the spread is below this.
const TELLING_CV: f64 = 0.17;
/// The least darkness that stands out, of itself and over the noise.
const FAINT: f64 = 0.05;
const OVER_NOISE: f64 = 5.0;
/// So far beside a panel a dot of a row may lie; what is printed there stands farther off.
pub(in super::super) const BESIDE_MM: f64 = 0.5;
/// More dots than this are no drill.
const MOST: usize = 5_000;

struct Dot {
    /// In pixels of the panel.
    x: f64,
    y: f64,
    /// Darkness of its middle.
    peak: f64,
}

struct Dots {
    all: Vec<Dot>,
    /// Full width at half height, in pixels.
    width: f64,
}

impl Dots {
    /// Those in the box, and beside it along x by `beside` mm.
    fn find(drawn: &Drawn, blur_mm: f64, many: usize, beside: f64) -> Result<Self, QuantityFault> {
        let scale = drawn.scale;
        let sharp = drawn.darkness.blurred(0.025 * scale, 0.025 * scale);
        let [left, top, right, low] = drawn.pixels();
        let beside = pixels(beside * scale);
        let (left, right) = (left.saturating_sub(beside), (right + beside).min(sharp.width));
        let inside = |x: f64, y: f64| {
            left as f64 - 0.5 <= x
                && x < right as f64 - 0.5
                && top as f64 - 0.5 <= y
                && y < low as f64 - 0.5
        };
        let (_, noise) = bed(&sharp, [left, top, right, low]);
        let mut peaks = maxima(&sharp, FAINT);
        peaks.retain(|(x, y, _)| inside(*x as f64, *y as f64));
        peaks.sort_by(|a, b| b.2.total_cmp(&a.2));
        let middle = (many / 2).min(peaks.len() / 2);
        let Some((.., peak)) = peaks.get(middle).copied() else {
            return Err(QuantityFault::TooFaint);
        };
        if peak < FAINT.max(OVER_NOISE * noise) {
            return Err(QuantityFault::TooFaint);
        }
        let half = |x: usize, y: usize| 0.5 * peak < f64::from(sharp.get(x, y));
        let areas = components(sharp.width, sharp.height, half);
        let areas = areas.iter().filter(|spot| 4 <= spot.len()).map(|spot| spot.len() as f64);
        let width = 2.0 * (median(areas.collect()) / PI).sqrt();
        if width < 1.5 {
            return Err(QuantityFault::TooFine);
        }
        let round = sharp.blurred(0.22 * width, 0.22 * width);
        let (bed, noise) = bed(&round, [left, top, right, low]);
        // A light dot has to stand out of the noise, or the noise is counted with the dots; one
        // on the corner of four pixels is lighter by half.
        let over = bed.max(0.0) + OVER_NOISE * noise;
        if 0.28 * peak < over {
            return Err(QuantityFault::TooFine);
        }
        let mut peaks = maxima(&round, over.max(0.33 * 0.8 * peak));
        peaks.sort_by(|a, b| b.2.total_cmp(&a.2));
        let mut kept: Vec<(f64, f64)> = Vec::new();
        for (x, y, _) in peaks {
            let at = (x as f64, y as f64);
            let apart = |one: &(f64, f64)| (one.0 - at.0).hypot(one.1 - at.1);
            if kept.iter().all(|one| 0.6 * width < apart(one)) {
                kept.push(at);
            }
            if MOST < kept.len() {
                return Err(QuantityFault::TooFaint);
            }
        }
        let reach = 0.5 * width + 2.0 * blur_mm * scale;
        for _ in 0..2 {
            kept =
                (0..kept.len()).map(|at| centroid(&sharp, &kept, at, reach, 0.1 * peak)).collect();
        }
        let near = (0.2 * width).max(0.8);
        let all = kept.iter().filter(|(x, y)| inside(*x, *y));
        let all =
            all.map(|(x, y)| Dot { x: *x, y: *y, peak: around(&drawn.darkness, *x, *y, near) });
        Ok(Self { all: all.collect(), width })
    }

    /// Whether a dot was struck twice: darker in its middle than one can be.
    fn is_doubled(&self, dot: &Dot) -> bool {
        let usual = median(self.all.iter().map(|dot| dot.peak).collect());
        1.0 - (1.0 - usual).max(0.0).powf(1.5) < dot.peak
    }

    fn doubled(&self) -> usize {
        self.all.iter().filter(|dot| self.is_doubled(dot)).count()
    }
}

/// The middle of a part, and its noise: a robust standard deviation.
fn bed(plane: &Plane, [left, top, right, low]: [usize; 4]) -> (f64, f64) {
    let values: Vec<f64> = (top..low)
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .map(|(x, y)| f64::from(plane.get(x, y)))
        .collect();
    let bed = median(values.clone());
    let off = values.iter().map(|value| (value - bed).abs());
    (bed, 1.4826 * median(off.collect()))
}

/// Pixels that no neighbour exceeds, from a value on.
fn maxima(plane: &Plane, from: f64) -> Vec<(usize, usize, f64)> {
    let mut found = Vec::new();
    for y in 0..plane.height {
        for x in 0..plane.width {
            let own = plane.get(x, y);
            if f64::from(own) < from {
                continue;
            }
            let (cx, cy) = (x.cast_signed(), y.cast_signed());
            let near = (-1..=1).flat_map(|j| (-1..=1).map(move |i| (i, j)));
            let mut near = near.filter(|at| *at != (0, 0));
            if near.all(|(i, j)| plane.at(cx + i, cy + j) <= own) {
                found.push((x, y, f64::from(own)));
            }
        }
    }
    found
}

fn centroid(plane: &Plane, all: &[(f64, f64)], at: usize, reach: f64, from: f64) -> (f64, f64) {
    let (cx, cy) = all[at];
    let near: Vec<(f64, f64)> = all
        .iter()
        .enumerate()
        .filter(|(other, (x, y))| *other != at && (x - cx).hypot(y - cy) < 2.0 * reach)
        .map(|(_, at)| *at)
        .collect();
    let (mut weight, mut sx, mut sy) = (0.0, 0.0, 0.0);
    let far = whole(reach) + 1;
    for y in whole(cy) - far..=whole(cy) + far + 1 {
        for x in whole(cx) - far..=whole(cx) + far + 1 {
            let (px, py) = (x as f64, y as f64);
            let own = (px - cx).hypot(py - cy);
            let nearest = near.iter().all(|(x, y)| own <= (px - x).hypot(py - y));
            if own <= reach && nearest {
                let dark = (f64::from(plane.at(x, y)) - from).max(0.0);
                weight += dark;
                sx += dark * px;
                sy += dark * py;
            }
        }
    }
    if weight <= 0.0 { (cx, cy) } else { (sx / weight, sy / weight) }
}

fn around(plane: &Plane, cx: f64, cy: f64, reach: f64) -> f64 {
    let far = whole(reach) + 1;
    let (x, y) = (whole(cx + 0.5), whole(cy + 0.5));
    let near = (y - far..=y + far).flat_map(|y| (x - far..=x + far).map(move |x| (x, y)));
    let near = near.filter(|(x, y)| (*x as f64 - cx).hypot(*y as f64 - cy) <= reach);
    let values: Vec<f64> = near.map(|(x, y)| f64::from(plane.at(x, y))).collect();
    if values.is_empty() { f64::from(plane.at(x, y)) } else { mean(&values) }
}

/// What one mark of a row looks like; `None` if it cannot be told.
pub(super) fn mark(drawn: &Drawn, spacing_mm: f64, blur_mm: f64) -> Option<Mark> {
    let dots = Dots::find(drawn, blur_mm, expected(drawn, 1, spacing_mm), 0.0).ok()?;
    if dots.all.len() < 5 {
        return None;
    }
    profile(drawn, &dots, blur_mm)
}

/// The mean profile of single dots, as a disc under the blur.
fn profile(drawn: &Drawn, dots: &Dots, blur_mm: f64) -> Option<Mark> {
    let scale = drawn.scale;
    let (reach, bin) = (0.5 * dots.width + (3.0 * blur_mm + 0.04) * scale, 0.25);
    let mut bins = vec![(0.0, 0.0); pixels(reach / bin).min(4_000)];
    for dot in dots.all.iter().filter(|dot| !dots.is_doubled(dot)) {
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

/// How many dots a panel of rows has if it is full.
fn expected(drawn: &Drawn, rows: usize, spacing_mm: f64) -> usize {
    let [left, _, right, _] = drawn.box_mm;
    pixels((right - left) / spacing_mm.max(0.05)).clamp(1, 2_000) * rows.max(1)
}

/// Measures rows of dots.
pub(super) fn rows(drawn: &Drawn, rows: usize, spacing_mm: f64, seen: &Seen) -> Measured {
    let blur_mm = seen.quality.blur_mm;
    let many = expected(drawn, rows, spacing_mm);
    let dots = match Dots::find(drawn, blur_mm, many, (0.25 * spacing_mm).min(BESIDE_MM)) {
        Ok(dots) => dots,
        Err(fault) => return all_of(ROWS, fault),
    };
    let scale = drawn.scale;
    let (mut gaps, mut off, mut skipped, mut gaps_mm) = (Vec::new(), Vec::new(), 0, Vec::new());
    for row in in_rows(&dots.all, rows) {
        for (a, b) in row.iter().zip(row.iter().skip(1)) {
            let gap = (b.x - a.x) / scale;
            if 1.5 * spacing_mm <= gap {
                skipped += pixels(gap / spacing_mm).saturating_sub(1).max(1);
                gaps_mm.push(drawn.on_card(f64::midpoint(a.x, b.x), f64::midpoint(a.y, b.y)));
            } else {
                // Two that nearly touch are two, as they are counted.
                gaps.push(gap);
            }
        }
        let points: Vec<(f64, f64, f64)> = row.iter().map(|dot| (dot.x, dot.y, 1.0)).collect();
        if let Some(line) = Curve::of(&points, false) {
            off.extend(points.iter().map(|(x, y, _)| (y - line.at(*x)) / scale));
        }
    }
    let few = QuantityFault::TooFew;
    let enough = 3 <= gaps.len();
    let cv = spread(&gaps) / mean(&gaps).max(1e-9);
    let diameter = match profile(drawn, &dots, blur_mm) {
        Some(mark) if 5 <= dots.all.len() => {
            if seen.sees_width(mark.diameter_mm.max(dots.width / scale)) {
                Ok(mark.diameter_mm)
            } else {
                Err(QuantityFault::TooFine)
            }
        }
        _ => Err(few),
    };
    let skips = match (enough, cv < TELLING_CV) {
        (false, _) => Err(few),
        (true, false) => Err(QuantityFault::TooUneven),
        (true, true) => Ok(skipped as f64),
    };
    let spaced = |value: f64| if enough { Ok(value) } else { Err(few) };
    let values = vec![
        (Quantity::Count, Ok(dots.all.len() as f64)),
        (Quantity::Doubled, Ok(dots.doubled() as f64)),
        (Quantity::Skipped, skips),
        (Quantity::SpacingMm, spaced(mean(&gaps))),
        (Quantity::SpacingCv, spaced(cv)),
        (Quantity::OffLineMm, if enough { Ok(spread(&off)) } else { Err(few) }),
        (Quantity::MarkMm, diameter),
    ];
    Measured { values, spots_mm: Vec::new(), gaps_mm }
}

const ROWS: &[Quantity] = &[
    Quantity::Count,
    Quantity::Doubled,
    Quantity::Skipped,
    Quantity::SpacingMm,
    Quantity::SpacingCv,
    Quantity::OffLineMm,
    Quantity::MarkMm,
];

/// That nothing of it can be said.
pub(super) fn all_of(measures: &[Quantity], fault: QuantityFault) -> Measured {
    let values = measures.iter().map(|measure| (*measure, Err(fault))).collect();
    Measured { values, ..Measured::default() }
}

/// Dots by their rows, parted at the widest distances down the panel, each along x.
fn in_rows(dots: &[Dot], rows: usize) -> Vec<Vec<&Dot>> {
    let mut down: Vec<&Dot> = dots.iter().collect();
    down.sort_by(|a, b| a.y.total_cmp(&b.y));
    let mut steps: Vec<usize> = (1..down.len()).collect();
    steps.sort_by(|a, b| (down[*b].y - down[*b - 1].y).total_cmp(&(down[*a].y - down[*a - 1].y)));
    let mut cuts: Vec<usize> = steps.into_iter().take(rows.saturating_sub(1)).collect();
    cuts.sort_unstable();
    cuts.push(down.len());
    let mut from = 0;
    let mut all = Vec::with_capacity(cuts.len());
    for cut in cuts {
        let mut row = down[from..cut].to_vec();
        row.sort_by(|a, b| a.x.total_cmp(&b.x));
        all.push(row);
        from = cut;
    }
    all
}

/// Measures dots in no rows.
pub(super) fn scattered(drawn: &Drawn, seen: &Seen) -> Measured {
    let [left, top, right, low] = drawn.box_mm;
    let area = (right - left) * (low - top);
    let blur_mm = seen.quality.blur_mm;
    let asked = pixels(0.6 * area).max(4);
    let dots = match Dots::find(drawn, blur_mm, asked, 0.0) {
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
        (Quantity::Doubled, Ok(dots.doubled() as f64)),
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
