//! Strokes side by side: counted, and each measured along its own middle.
//!
//! What belongs to one stroke is found in darkness blurred along the travel, breaks and
//! lanes closed. Then the stroke is straightened: profiles square to its curve. Its
//! width is that of the mean profile between the outermost places of half height, so
//! that lanes of one group are one stroke; blur and wander are taken out by the table of
//! a bar under a Gaussian.

use etui_schema::vocabulary::{Quantity, QuantityFault};

use super::dots::{all_of, darkest};
use super::fit::{Curve, true_width};
use super::panel::Drawn;
use super::plane::{Plane, components, mean, median, pixels, spread};
use super::{Measured, Seen};

/// What was asked of them.
pub(super) struct Wanted {
    pub(super) spacing_mm: f64,
    pub(super) length_mm: f64,
    pub(super) width_mm: f64,
    pub(super) is_bent: bool,
    pub(super) runs_down: bool,
}

const ALL: &[Quantity] = &[
    Quantity::Count,
    Quantity::SpacingMm,
    Quantity::SpacingCv,
    Quantity::WidthMm,
    Quantity::WidthCv,
    Quantity::StraightnessMm,
    Quantity::LiftOff,
    Quantity::BowMm,
    Quantity::Gaps,
];

/// Pixels along and across that are one stroke although bare skin lies between, in mm.
const CLOSED_ALONG_MM: f64 = 0.9;
const FAINT: f64 = 0.05;
const MOST: usize = 200;

/// One stroke, straightened.
struct Stroke {
    /// Where it lies across at 40 % of its length, in mm.
    place_mm: f64,
    /// Its seen width of the mean profile, and the spread of its middle, in mm.
    seen_mm: f64,
    straightness_mm: f64,
    lift_off: f64,
    bow_mm: f64,
    gaps: Vec<(f64, f64)>,
    /// Spread over mean of what it holds, from one millimetre to the next.
    uneven: f64,
}

/// Measures the strokes of a panel.
pub(super) fn measure(drawn: &Drawn, wanted: &Wanted, seen: &Seen) -> Measured {
    let turned;
    let drawn = if wanted.runs_down {
        turned = drawn.turned();
        &turned
    } else {
        drawn
    };
    let strokes = match find(drawn, wanted, seen.quality.blur_mm) {
        Ok(strokes) => strokes,
        Err(fault) => return all_of(ALL, fault),
    };
    let few = || Err(QuantityFault::TooFew);
    let of = |value: fn(&Stroke) -> f64| strokes.iter().map(value).collect::<Vec<_>>();
    let mut places = of(|one| one.place_mm);
    places.sort_by(f64::total_cmp);
    let gaps: Vec<f64> = places.iter().zip(places.iter().skip(1)).map(|(a, b)| b - a).collect();
    let spaced = |value: f64| if gaps.len() < 2 { few() } else { Ok(value) };
    let any = |value: f64| if strokes.is_empty() { few() } else { Ok(value) };
    let blur = seen.quality.blur_mm;
    let widths: Vec<f64> = strokes
        .iter()
        .map(|one| true_width(one.seen_mm, blur.hypot(one.straightness_mm)))
        .collect();
    let narrowest = strokes.iter().map(|one| one.seen_mm).fold(f64::INFINITY, f64::min);
    let fine = !seen.sees_width(narrowest);
    let width = |value: f64| if fine { Err(QuantityFault::TooFine) } else { any(value) };
    let width_cv = match strokes.as_slice() {
        [one] => one.uneven,
        _ => spread(&widths) / mean(&widths).max(1e-9),
    };
    let values = vec![
        (Quantity::Count, Ok(strokes.len() as f64)),
        (Quantity::SpacingMm, spaced(mean(&gaps))),
        (Quantity::SpacingCv, spaced(spread(&gaps) / mean(&gaps).max(1e-9))),
        (Quantity::WidthMm, width(mean(&widths))),
        (Quantity::WidthCv, width(width_cv)),
        (Quantity::StraightnessMm, any(mean(&of(|one| one.straightness_mm)))),
        (Quantity::LiftOff, any(mean(&of(|one| one.lift_off)))),
        (Quantity::BowMm, any(mean(&of(|one| one.bow_mm)))),
        (Quantity::Gaps, any(strokes.iter().map(|one| one.gaps.len()).sum::<usize>() as f64)),
    ];
    let gaps_mm = strokes
        .iter()
        .flat_map(|one| &one.gaps)
        .map(|(x, y)| if wanted.runs_down { (*y, *x) } else { (*x, *y) });
    Measured { values, spots_mm: Vec::new(), gaps_mm: gaps_mm.collect() }
}

fn find(drawn: &Drawn, wanted: &Wanted, blur_mm: f64) -> Result<Vec<Stroke>, QuantityFault> {
    let scale = drawn.scale;
    let along = drawn.darkness.blurred(0.3 * scale, 0.02 * scale);
    let top =
        darkest(&along, drawn.pixels(), 0.965).max(0.5 * darkest(&along, drawn.pixels(), 0.995));
    if top < FAINT {
        return Err(QuantityFault::TooFaint);
    }
    let [left, box_top, right, box_low] = drawn.pixels();
    let mut dark: Vec<bool> = (0..along.width * along.height)
        .map(|at| {
            let (x, y) = (at % along.width, at / along.width);
            (left..right).contains(&x) && 0.4 * top < f64::from(along.get(x, y))
        })
        .collect();
    let room = (0.5 * (wanted.spacing_mm - wanted.width_mm)).max(0.0);
    let lanes = if 0.0 < wanted.spacing_mm { wanted.width_mm.min(room) } else { wanted.width_mm };
    close(&mut dark, (along.width, along.height), pixels(lanes * scale), true);
    close(&mut dark, (along.width, along.height), pixels(CLOSED_ALONG_MM * scale), false);
    let spots = components(along.width, along.height, |x, y| dark[y * along.width + x]);
    if 20 * MOST < spots.len() {
        return Err(QuantityFault::TooFaint);
    }
    let mut strokes = Vec::new();
    for spot in &spots {
        let xs = spot.iter().map(|(x, _)| *x);
        let long = (xs.clone().max().unwrap_or(0) - xs.min().unwrap_or(0)) as f64 / scale;
        let middle = mean(&spot.iter().map(|(_, y)| *y as f64).collect::<Vec<_>>());
        let inside = box_top as f64 - 0.5 <= middle && middle < box_low as f64;
        if long < 0.4 * wanted.length_mm || !inside {
            continue;
        }
        if let Some(stroke) = straightened(drawn, spot, wanted, blur_mm) {
            strokes.push(stroke);
        }
        if MOST < strokes.len() {
            return Err(QuantityFault::TooFaint);
        }
    }
    Ok(strokes)
}

/// Fills bare runs that are no longer than this and have dark at both ends.
fn close(dark: &mut [bool], (width, height): (usize, usize), most: usize, across: bool) {
    let (lines, length) = if across { (width, height) } else { (height, width) };
    for line in 0..lines {
        let place = |at: usize| if across { at * width + line } else { line * width + at };
        let mut last: Option<usize> = None;
        for at in 0..length {
            if !dark[place(at)] {
                continue;
            }
            if let Some(last) = last
                && at - last <= most + 1
            {
                (last + 1..at).for_each(|at| dark[place(at)] = true);
            }
            last = Some(at);
        }
    }
}

/// Profiles square to a curve, `steps` to each side.
struct Strip {
    /// Along the curve from its first pixel column, across from the one side.
    rows: Vec<Vec<f64>>,
    first: usize,
    scale: f64,
}

/// Steps of a profile, in pixels.
const STEP: f64 = 0.25;

impl Strip {
    fn along(
        plane: &Plane,
        curve: &Curve,
        (first, last): (usize, usize),
        half: f64,
        scale: f64,
    ) -> Self {
        let steps = pixels(half / STEP).max(2).cast_signed();
        let rows = (first..=last).map(|x| {
            let x = x as f64;
            let (y, slope) = (curve.at(x), curve.slope(x));
            let long = slope.hypot(1.0);
            (-steps..=steps)
                .map(|at| {
                    let off = at as f64 * STEP / long;
                    plane.cubic(x - slope * off, y + off)
                })
                .collect()
        });
        Self { rows: rows.collect(), first, scale }.without_bed()
    }

    /// Less what lies at both ends, along one millimetre or so.
    fn without_bed(mut self) -> Self {
        let many = self.rows.first().map_or(0, Vec::len);
        let end = (many / 8).max(1);
        let reach = pixels(0.6 * self.scale);
        let beds: Vec<f64> = self
            .rows
            .iter()
            .map(|row| 0.5 * (mean(&row[..end.min(many)]) + mean(&row[many - end.min(many)..])))
            .collect();
        for (at, row) in self.rows.iter_mut().enumerate() {
            let near = &beds[at.saturating_sub(reach)..(at + reach + 1).min(beds.len())];
            let bed = median(near.to_vec());
            row.iter_mut().for_each(|value| *value -= bed);
        }
        self
    }

    fn offset(&self, at: usize) -> f64 {
        let many = self.rows.first().map_or(0, Vec::len);
        (at as f64 - (many as f64 - 1.0) / 2.0) * STEP
    }

    /// What each profile holds.
    fn held(&self) -> Vec<f64> {
        self.rows.iter().map(|row| row.iter().sum::<f64>() * STEP).collect()
    }

    /// The middle of a profile, of what is darker than a value.
    fn middle(&self, row: &[f64], from: f64) -> Option<(f64, f64)> {
        let dark = row.iter().map(|value| (value - from).max(0.0));
        let weight: f64 = dark.clone().sum();
        let sum: f64 = dark.enumerate().map(|(at, dark)| dark * self.offset(at)).sum();
        (0.0 < weight).then(|| (sum / weight, weight))
    }
}

fn straightened(
    drawn: &Drawn,
    spot: &[(usize, usize)],
    wanted: &Wanted,
    blur_mm: f64,
) -> Option<Stroke> {
    let scale = drawn.scale;
    let plane = &drawn.darkness;
    let points: Vec<(f64, f64, f64)> = spot
        .iter()
        .map(|(x, y)| (*x as f64, *y as f64, f64::from(plane.get(*x, *y)).max(0.0)))
        .collect();
    let mut curve = Curve::of(&points, wanted.is_bent)?;
    let ends = spot.iter().fold((usize::MAX, 0), |(a, b), (x, _)| (a.min(*x), b.max(*x)));
    let pad = pixels(0.4 * scale);
    let ends = (ends.0.saturating_sub(pad), (ends.1 + pad).min(plane.width.saturating_sub(1)));
    let wide = 0.75 * wanted.width_mm + 4.0 * blur_mm + 0.18;
    let half =
        if 0.0 < wanted.spacing_mm { wide.min(0.5 * wanted.spacing_mm) } else { wide } * scale;
    let mut strip = Strip::along(plane, &curve, ends, half, scale);
    let mut span = strip.span(wanted.length_mm)?;
    for _ in 0..2 {
        let top = strip.top(span);
        let middles: Vec<(f64, f64, f64)> = strip.middles(span, (0.03, 0.9), 0.25 * top, &curve);
        curve = Curve::of(&middles, wanted.is_bent)?;
        strip = Strip::along(plane, &curve, ends, half, scale);
        span = strip.span(wanted.length_mm)?;
    }
    let top = strip.top(span);
    let body = strip.part(span, 0.10, 0.70);
    let profile = profile(&strip.rows[body.0..body.1]);
    let seen = half_width(&profile)? * STEP / scale;
    let middles = strip.middles(span, (0.10, 0.70), 0.25 * top, &curve);
    let own = Curve::of(&middles, wanted.is_bent)?;
    let off: Vec<f64> = middles.iter().map(|(x, y, _)| (y - own.at(*x)) / scale).collect();
    let held = strip.held();
    let all = mean(&held[body.0..body.1]);
    let end = strip.part(span, 0.92, 0.99);
    let at = strip.first as f64 + span.0 + 0.4 * (span.1 - span.0);
    let millimetres = held[body.0..body.1].chunks(pixels(scale).max(1)).map(mean);
    let millimetres: Vec<f64> = millimetres.collect();
    Some(Stroke {
        place_mm: drawn.on_card(at, curve.at(at)).1,
        seen_mm: seen,
        straightness_mm: spread(&off),
        lift_off: if all <= 0.0 { 1.0 } else { (mean(&held[end.0..end.1]) / all).max(0.0) },
        bow_mm: if wanted.is_bent { curve.bow(span.1 - span.0) / scale } else { 0.0 },
        gaps: strip.gaps(span, all, drawn, &curve),
        uneven: spread(&millimetres) / all.max(1e-9),
    })
}

impl Strip {
    /// Where the stroke begins and ends, in rows; of the length that was asked where it
    /// comes near.
    fn span(&self, length_mm: f64) -> Option<(f64, f64)> {
        let held = self.held();
        let reach = pixels(0.1 * self.scale);
        let smooth: Vec<f64> = (0..held.len())
            .map(|at| mean(&held[at.saturating_sub(reach)..(at + reach + 1).min(held.len())]))
            .collect();
        let usual = median(smooth.clone());
        if usual <= 0.0 {
            return None;
        }
        let first = smooth.iter().position(|value| 0.5 * usual < *value)?;
        let last = smooth.iter().rposition(|value| 0.15 * usual < *value)?;
        let (first, last) = (first as f64, last as f64);
        let asked = length_mm * self.scale;
        let near = (last - first - asked).abs() <= 0.1 * asked;
        let last = if near { (first + asked).min((held.len() - 1) as f64) } else { last };
        (first + 8.0 <= last).then_some((first, last))
    }

    /// The rows of a part of it, from one share of its length to another.
    fn part(&self, (first, last): (f64, f64), from: f64, to: f64) -> (usize, usize) {
        let at = |share: f64| pixels(first + share * (last - first)).min(self.rows.len());
        let (from, to) = (at(from), at(to));
        if from < to {
            (from, to)
        } else {
            (from.min(self.rows.len().saturating_sub(1)), (from + 1).min(self.rows.len()))
        }
    }

    fn top(&self, span: (f64, f64)) -> f64 {
        let (from, to) = self.part(span, 0.10, 0.70);
        profile(&self.rows[from..to]).into_iter().fold(0.0, f64::max)
    }

    /// Middles of the profiles of a part, as points of the panel, each with its weight.
    fn middles(
        &self,
        span: (f64, f64),
        (from, to): (f64, f64),
        dark: f64,
        curve: &Curve,
    ) -> Vec<(f64, f64, f64)> {
        let (from, to) = self.part(span, from, to);
        (from..to)
            .filter_map(|at| {
                let (off, weight) = self.middle(&self.rows[at], dark)?;
                let x = (self.first + at) as f64;
                let slope = curve.slope(x);
                let off = off / slope.hypot(1.0);
                Some((x - slope * off, curve.at(x) + off, weight))
            })
            .collect()
    }

    /// Breaks of the body: where next to nothing is held for longer than a fifth of a
    /// millimetre.
    fn gaps(&self, span: (f64, f64), usual: f64, drawn: &Drawn, curve: &Curve) -> Vec<(f64, f64)> {
        let (from, to) = self.part(span, 0.02, 0.90);
        let held = self.held();
        let (mut found, mut run) = (Vec::new(), 0_usize);
        for at in from..=to {
            let bare = at < to && held.get(at).is_some_and(|value| *value < 0.3 * usual);
            if bare {
                run += 1;
            } else {
                if 0.2 * self.scale < run as f64 {
                    let x = self.first as f64 + at as f64 - 0.5 * run as f64;
                    found.push(drawn.on_card(x, curve.at(x)));
                }
                run = 0;
            }
        }
        found
    }
}

/// The mean of profiles.
fn profile(rows: &[Vec<f64>]) -> Vec<f64> {
    let many = rows.first().map_or(0, Vec::len);
    (0..many)
        .map(|at| mean(&rows.iter().filter_map(|row| row.get(at).copied()).collect::<Vec<_>>()))
        .collect()
}

/// From the outermost crossing of half height to the other, in steps.
fn half_width(profile: &[f64]) -> Option<f64> {
    let half = 0.5 * profile.iter().copied().fold(0.0, f64::max);
    if half <= 0.0 {
        return None;
    }
    let first = profile.iter().position(|value| half <= *value)?;
    let last = profile.iter().rposition(|value| half <= *value)?;
    let between =
        |low: f64, high: f64| if high <= low { 0.0 } else { (high - half) / (high - low) };
    let before = first.checked_sub(1).and_then(|at| profile.get(at));
    let after = profile.get(last + 1);
    let left = before.map_or(0.0, |low| between(*low, profile[first]));
    let right = after.map_or(0.0, |low| between(*low, profile[last]));
    Some((last - first) as f64 + left + right)
}
