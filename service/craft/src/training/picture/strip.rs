//! One stroke, straightened: profiles square to its curve, a pixel of its length apart.
//!
//! The curve is a parabola in a frame along the chord, so that a bend of 70 degrees still
//! has one height at each place. Rows stand at even distances along the curve and not along
//! the chord: of a bend of 60 degrees the chord is a twentieth shorter than the stroke, and
//! what is looked for at its end would be looked for behind it.

use super::fit::Curve;
use super::panel::Drawn;
use super::plane::{Plane, mean, median, pixels};

/// More rows than this are no stroke.
const MOST_ROWS: usize = 20_000;

/// Axes along the line through points, and square to it, in pixels of the panel.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    x: f64,
    y: f64,
    cos: f64,
    sin: f64,
}

impl Frame {
    pub(super) fn along(points: &[(f64, f64, f64)]) -> Option<Self> {
        let line = Curve::of(points, false)?;
        let weight: f64 = points.iter().map(|(_, _, w)| w).sum();
        let x = points.iter().map(|(x, _, w)| x * w).sum::<f64>() / weight;
        let slope = line.slope(x);
        let long = slope.hypot(1.0);
        Some(Self { x, y: line.at(x), cos: long.recip(), sin: slope / long })
    }

    /// How much of a distance across the panel is left square to a curve where it is
    /// steepest, between two places.
    pub(super) fn least_apart(&self, curve: &Curve, (from, to): (f64, f64)) -> f64 {
        let own = self.sin.atan2(self.cos);
        let steep = |u: f64| (own + curve.slope(u).atan()).abs();
        steep(from).max(steep(to)).cos().max(0.2)
    }

    /// A point of the panel, along the line and square to it.
    pub(super) fn within(&self, x: f64, y: f64) -> (f64, f64) {
        let (x, y) = (x - self.x, y - self.y);
        (x * self.cos + y * self.sin, y * self.cos - x * self.sin)
    }

    /// The point of the panel.
    pub(super) fn out(&self, u: f64, v: f64) -> (f64, f64) {
        (self.x + u * self.cos - v * self.sin, self.y + u * self.sin + v * self.cos)
    }
}

/// Profiles square to a curve.
pub(super) struct Strip {
    /// Along the curve, across from the one side.
    pub(super) rows: Vec<Vec<f64>>,
    /// Where on its frame each of them stands.
    us: Vec<f64>,
    scale: f64,
}

/// Steps of a profile, in pixels.
pub(super) const STEP: f64 = 0.25;

impl Strip {
    pub(super) fn along(
        plane: &Plane,
        (frame, curve): (&Frame, &Curve),
        (from, to): (f64, f64),
        half: f64,
        scale: f64,
    ) -> Self {
        let steps = pixels(half / STEP).max(2).cast_signed();
        let (mut us, mut rows) = (Vec::new(), Vec::new());
        let mut u = from;
        while u <= to && us.len() < MOST_ROWS {
            let (v, slope) = (curve.at(u), curve.slope(u));
            let long = slope.hypot(1.0);
            let row = (-steps..=steps).map(|at| {
                let off = at as f64 * STEP / long;
                let (x, y) = frame.out(u - slope * off, v + off);
                plane.cubic(x, y)
            });
            rows.push(row.collect());
            us.push(u);
            u += long.recip();
        }
        Self { rows, us, scale }.without_bed()
    }

    /// Where on its frame a row stands.
    pub(super) fn u(&self, row: f64) -> f64 {
        let last = self.us.len().saturating_sub(1);
        self.us.get(pixels(row).min(last)).copied().unwrap_or(0.0)
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
    pub(super) fn held(&self) -> Vec<f64> {
        self.rows.iter().map(|row| row.iter().sum::<f64>() * STEP).collect()
    }

    /// The middle of a profile, of what is darker than a value.
    fn middle(&self, row: &[f64], from: f64) -> Option<(f64, f64)> {
        let dark = row.iter().map(|value| (value - from).max(0.0));
        let weight: f64 = dark.clone().sum();
        let sum: f64 = dark.enumerate().map(|(at, dark)| dark * self.offset(at)).sum();
        (0.0 < weight).then(|| (sum / weight, weight))
    }

    /// Where the stroke begins and ends, in rows: its own ends, and not those of the length
    /// that was asked. Of a stroke that is too short, bare skin behind it would be taken for
    /// a light end.
    pub(super) fn span(&self) -> Option<(f64, f64)> {
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
        // What is smoothed is seen a little behind the last mark.
        let (first, last) = (first as f64, last as f64 - 0.7 * reach as f64);
        (first + 8.0 <= last).then_some((first, last))
    }

    /// The rows of a part of it, from one share of its length to another.
    pub(super) fn part(&self, (first, last): (f64, f64), from: f64, to: f64) -> (usize, usize) {
        let at = |share: f64| pixels(first + share * (last - first)).min(self.rows.len());
        let (from, to) = (at(from), at(to));
        if from < to {
            (from, to)
        } else {
            (from.min(self.rows.len().saturating_sub(1)), (from + 1).min(self.rows.len()))
        }
    }

    pub(super) fn top(&self, span: (f64, f64)) -> f64 {
        let (from, to) = self.part(span, 0.10, 0.70);
        profile(&self.rows[from..to]).into_iter().fold(0.0, f64::max)
    }

    /// Middles of the profiles of a part, as points of the frame, each with its weight.
    pub(super) fn middles(
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
                let u = *self.us.get(at)?;
                let slope = curve.slope(u);
                let off = off / slope.hypot(1.0);
                Some((u - slope * off, curve.at(u) + off, weight))
            })
            .collect()
    }

    /// Breaks of the body: where next to nothing is held for longer than a fifth of a
    /// millimetre.
    pub(super) fn gaps(
        &self,
        span: (f64, f64),
        usual: f64,
        drawn: &Drawn,
        (frame, curve): (&Frame, &Curve),
    ) -> Vec<(f64, f64)> {
        let (from, to) = self.part(span, 0.02, 0.90);
        let held = self.held();
        let (mut found, mut run) = (Vec::new(), 0_usize);
        for at in from..=to {
            let bare = at < to && held.get(at).is_some_and(|value| *value < 0.3 * usual);
            if bare {
                run += 1;
            } else {
                if 0.2 * self.scale < run as f64 {
                    let u = self.u(at as f64 - 0.5 * run as f64);
                    let (x, y) = frame.out(u, curve.at(u));
                    found.push(drawn.on_card(x, y));
                }
                run = 0;
            }
        }
        found
    }
}

/// The mean of profiles.
pub(super) fn profile(rows: &[Vec<f64>]) -> Vec<f64> {
    let many = rows.first().map_or(0, Vec::len);
    (0..many)
        .map(|at| mean(&rows.iter().filter_map(|row| row.get(at).copied()).collect::<Vec<_>>()))
        .collect()
}

/// From the outermost crossing of half height to the other, in steps.
pub(super) fn half_width(profile: &[f64]) -> Option<f64> {
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
