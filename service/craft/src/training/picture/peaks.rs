//! Dots: which maxima of darkness are some.
//!
//! A dot is a local maximum; its place is the centroid of darkness within half its
//! width and two standard deviations of blur, as far as it is nearest. Skin has grain,
//! about as wide as a dot: what may be grain is no dot, and a panel in which nothing
//! parts the one from the other is not counted.

use std::f64::consts::PI;

use etui_schema::vocabulary::QuantityFault;

use super::Quality;
use super::panel::Drawn;
use super::plane::{Plane, components, mean, median, pixels, quantile, whole};

/// The least darkness that stands out, of itself and over the noise.
const FAINT: f64 = 0.05;
const OVER_NOISE: f64 = 5.0;
/// Of some thousand places of a panel the darkest grain is seldom as many standard
/// deviations above the skin.
const OVER_GRAIN: f64 = 4.3;
/// The lightest dot over the usual one; one on the corner of four pixels is lighter by half.
const LIGHTEST: f64 = 0.264;
/// What lies between the lightest dot and the darkest grain, over the usual dot.
const PARTED: f64 = 0.12;
/// What is left out is grain, or a speck of so little darkness over the usual dot: anything
/// between may be a dot.
const SPECK: f64 = 0.20;
/// More dots than this are no drill.
const MOST: usize = 5_000;
/// So many pixels across, and so many times the width that blur alone gives, from which on a
/// finer picture would not help.
const SHARP: (f64, f64) = (3.0, 1.3);
/// Pixels across below which it is chance how dark a dot looks: all grain has to be lighter
/// than the lightest.
const COARSE: f64 = 2.0;

pub(super) struct Dot {
    /// In pixels of the panel.
    pub(super) x: f64,
    pub(super) y: f64,
    /// Darkness of its middle.
    pub(super) peak: f64,
}

pub(super) struct Dots {
    pub(super) all: Vec<Dot>,
    /// Full width at half height, in pixels.
    pub(super) width: f64,
}

/// Where dots are looked for: left, top, right, bottom in pixels, the last two not in it.
#[derive(Clone, Copy)]
struct Part([usize; 4]);

impl Part {
    fn holds(self, x: f64, y: f64) -> bool {
        let Self([left, top, right, low]) = self;
        left as f64 - 0.5 <= x
            && x < right as f64 - 0.5
            && top as f64 - 0.5 <= y
            && y < low as f64 - 0.5
    }
}

impl Dots {
    /// Those in the box, and beside it along x by `beside` mm.
    pub(super) fn find(
        drawn: &Drawn,
        quality: &Quality,
        many: usize,
        beside: f64,
    ) -> Result<Self, QuantityFault> {
        let scale = drawn.scale;
        let sharp = drawn.darkness.blurred(0.025 * scale, 0.025 * scale);
        let [left, top, right, low] = drawn.pixels();
        let beside = pixels(beside * scale);
        let (left, right) = (left.saturating_sub(beside), (right + beside).min(sharp.width));
        let part = Part([left, top, right, low]);
        let peak = usual(&maxima(&sharp, FAINT), part, many).ok_or(QuantityFault::TooFaint)?;
        let (bed, noise) = ground(&sharp, part);
        if peak < FAINT.max(OVER_NOISE * noise) {
            return Err(QuantityFault::TooFaint);
        }
        let width = width(&sharp, peak).ok_or(QuantityFault::TooFine)?;
        let round = sharp.blurred(0.22 * width, 0.22 * width);
        let across = width / scale * quality.dpi / 25.4;
        let seen = parted(&round, part, (many, peak, width), across < COARSE);
        let mut kept = seen.map_err(|why| {
            let (pixels, times) = SHARP;
            let is_sharp = pixels <= across && times * 2.355 * quality.blur_mm <= width / scale;
            if is_sharp { why } else { QuantityFault::TooFine }
        })?;
        let reach = 0.5 * width + 2.0 * quality.blur_mm * scale;
        // Grain that lies around a dot would draw its place to itself.
        let from = (0.1 * peak).max(bed + 2.0 * noise);
        for _ in 0..2 {
            kept = (0..kept.len()).map(|at| centroid(&sharp, &kept, at, reach, from)).collect();
        }
        let near = (0.2 * width).max(0.8);
        let all = kept.iter().filter(|(x, y)| part.holds(*x, *y));
        let all =
            all.map(|(x, y)| Dot { x: *x, y: *y, peak: around(&drawn.darkness, *x, *y, near) });
        Ok(Self { all: all.collect(), width })
    }

    /// Those that were struck twice: darker in the middle than one mark of such a darkness can
    /// be. Blur takes as much from both.
    pub(super) fn doubled(&self, mark: Option<f64>) -> Vec<bool> {
        let usual = median(self.all.iter().map(|dot| dot.peak).collect());
        let own = mark.unwrap_or(usual).max(usual).clamp(1e-3, 1.0);
        let twice = (1.0 - (1.0 - own).powf(1.5)) * usual / own;
        self.all.iter().map(|dot| twice < dot.peak).collect()
    }

    /// How many were.
    pub(super) fn twice(&self, mark: Option<f64>) -> f64 {
        self.doubled(mark).iter().map(|is_doubled| f64::from(u8::from(*is_doubled))).sum()
    }
}

/// How wide what is darker than half of the usual dot is, in pixels.
fn width(sharp: &Plane, peak: f64) -> Option<f64> {
    let half = |x: usize, y: usize| 0.5 * peak < f64::from(sharp.get(x, y));
    let areas = components(sharp.width, sharp.height, half);
    let areas = areas.iter().filter(|spot| 4 <= spot.len()).map(|spot| spot.len() as f64);
    let width = 2.0 * (median(areas.collect()) / PI).sqrt();
    (1.5 <= width).then_some(width)
}

/// Darkness of the dot in the middle of as many as there should be.
fn usual(peaks: &[(usize, usize, f64)], part: Part, many: usize) -> Option<f64> {
    let within = peaks.iter().filter(|(x, y, _)| part.holds(*x as f64, *y as f64));
    let mut values: Vec<f64> = within.map(|(.., value)| *value).collect();
    values.sort_by(|a, b| b.total_cmp(a));
    values.get((many / 2).min(values.len() / 2)).copied()
}

/// The bare skin of a part and its noise, from the lighter pixels: the darker ones are dots.
fn ground(plane: &Plane, Part([left, top, right, low]): Part) -> (f64, f64) {
    let mut values: Vec<f64> = (top..low)
        .flat_map(|y| (left..right).map(move |x| (x, y)))
        .map(|(x, y)| f64::from(plane.get(x, y)))
        .collect();
    // Of a Gaussian a tenth lies 1.2816 standard deviations below the middle, four tenths 0.2533.
    let (tenth, middle) = (quantile(&mut values, 0.1), quantile(&mut values, 0.4));
    let noise = (middle - tenth) / (1.2816 - 0.2533);
    (middle + 0.2533 * noise, noise)
}

/// The maxima that are dots, if none of them may be grain: what is darker than any grain and
/// than the lightest dot, with nothing near that limit on either side.
fn parted(
    round: &Plane,
    part: Part,
    (many, peak, width): (usize, f64, f64),
    is_coarse: bool,
) -> Result<Vec<(f64, f64)>, QuantityFault> {
    let (bed, noise) = ground(round, part);
    let grainy = bed.max(0.0) + OVER_GRAIN * noise;
    let from = grainy.max(LIGHTEST * peak);
    if is_coarse && LIGHTEST * peak < grainy {
        return Err(QuantityFault::TooNoisy);
    }
    let mut peaks = maxima(round, (0.5 * from).max(bed + 2.5 * noise));
    peaks.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut apart: Vec<(usize, usize, f64)> = Vec::new();
    for (x, y, value) in peaks {
        let far = |one: &(usize, usize, f64)| {
            0.6 * width < (one.0 as f64 - x as f64).hypot(one.1 as f64 - y as f64)
        };
        if apart.iter().all(far) {
            apart.push((x, y, value));
        }
        if 2 * MOST < apart.len() {
            return Err(QuantityFault::TooNoisy);
        }
    }
    let room = PARTED * usual(&apart, part, many).ok_or(QuantityFault::TooFaint)?;
    let within = apart.iter().filter(|(x, y, _)| part.holds(*x as f64, *y as f64));
    let (dots, grain): (Vec<f64>, Vec<f64>) =
        within.map(|(.., value)| *value).partition(|value| from <= *value);
    let lightest = dots.into_iter().fold(f64::INFINITY, f64::min);
    let darkest = grain.into_iter().fold(0.0, f64::max);
    let is_doubtful = lightest - darkest < room || grainy.max(SPECK * peak) < darkest;
    if lightest.is_infinite() || is_doubtful || MOST < apart.len() {
        return Err(QuantityFault::TooNoisy);
    }
    apart.retain(|(.., value)| from <= *value);
    Ok(apart.into_iter().map(|(x, y, _)| (x as f64, y as f64)).collect())
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
