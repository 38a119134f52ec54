//! The few curves that are fitted.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// The error function, to 1.2e-7 (Numerical Recipes' Chebyshev fit of erfc).
pub(super) fn erf(x: f64) -> f64 {
    let z = x.abs();
    let t = 1.0 / (1.0 + 0.5 * z);
    let series = [
        0.170_872_77,
        -0.822_152_23,
        1.488_515_87,
        -1.135_203_98,
        0.278_868_07,
        -0.186_288_06,
        0.096_784_18,
        0.374_091_96,
        1.000_023_68,
        -1.265_512_23,
    ];
    let sum = series.iter().fold(0.0, |sum, one| sum * t + one);
    let rest = t * (sum - z * z).exp();
    if x < 0.0 { rest - 1.0 } else { 1.0 - rest }
}

/// The share of a Gaussian below x standard deviations.
pub(super) fn below(x: f64) -> f64 {
    0.5 * (1.0 + erf(x * FRAC_1_SQRT_2))
}

/// Points fitted by a line or a parabola with weights: coefficients from the constant
/// on, in x − `about`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Curve {
    about: f64,
    by: [f64; 3],
}

impl Curve {
    pub(super) fn of(points: &[(f64, f64, f64)], is_bent: bool) -> Option<Self> {
        let weight: f64 = points.iter().map(|(_, _, w)| w).sum();
        if weight.is_nan() || weight <= 0.0 {
            return None;
        }
        let about = points.iter().map(|(x, _, w)| x * w).sum::<f64>() / weight;
        let order = if is_bent { 3 } else { 2 };
        let mut rows = vec![vec![0.0; order + 1]; order];
        for (x, y, w) in points {
            let x = x - about;
            let powers = [1.0, x, x * x];
            for i in 0..order {
                for j in 0..order {
                    rows[i][j] += w * powers[i] * powers[j];
                }
                rows[i][order] += w * powers[i] * y;
            }
        }
        let solved = solve(rows)?;
        let mut by = [0.0; 3];
        by.iter_mut().zip(solved).for_each(|(by, found)| *by = found);
        Some(Self { about, by })
    }

    pub(super) fn at(&self, x: f64) -> f64 {
        let x = x - self.about;
        self.by[0] + x * (self.by[1] + x * self.by[2])
    }

    pub(super) fn slope(&self, x: f64) -> f64 {
        self.by[1] + 2.0 * (x - self.about) * self.by[2]
    }

    /// Height of the arc over the chord of a length along x, above 0 where it bulges up y.
    pub(super) fn bow(&self, length: f64) -> f64 {
        -self.by[2] * length * length / 4.0
    }
}

/// Solves equations given as rows with their right side; `None` if they do not settle it.
pub(super) fn solve(mut rows: Vec<Vec<f64>>) -> Option<Vec<f64>> {
    let n = rows.len();
    for column in 0..n {
        let best =
            (column..n).max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, best);
        let pivot = rows[column].clone();
        if !pivot[column].is_finite() || pivot[column].abs() < 1e-12 {
            return None;
        }
        for (at, row) in rows.iter_mut().enumerate() {
            if at != column {
                let by = row[column] / pivot[column];
                row.iter_mut().zip(&pivot).for_each(|(own, other)| *own -= by * other);
            }
        }
    }
    Some((0..n).map(|at| rows[at][n] / rows[at][at]).collect())
}

/// A profile as base + height × shape, by least squares: base, height, and what is left.
pub(super) fn scaled(profile: &[(f64, f64, f64)], shape: impl Fn(f64) -> f64) -> (f64, f64, f64) {
    let (mut s, mut sx, mut sxx, mut sy, mut sxy, mut syy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for (r, value, weight) in profile {
        let x = shape(*r);
        s += weight;
        sx += weight * x;
        sxx += weight * x * x;
        sy += weight * value;
        sxy += weight * x * value;
        syy += weight * value * value;
    }
    let det = s * sxx - sx * sx;
    if det.abs() < 1e-12 * s * s.max(1.0) {
        return (0.0, 0.0, f64::INFINITY);
    }
    let height = (s * sxy - sx * sy) / det;
    let base = (sy - height * sx) / s;
    let left = syy - base * sy - height * sxy;
    (base, height, left)
}

/// The best value between two ends by a coarse look and a fine one.
pub(super) fn least(from: f64, to: f64, cost: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (from, to);
    let mut best = low;
    for _ in 0..4 {
        let step = (high - low) / 16.0;
        let mut least = f64::INFINITY;
        for at in 0..=16_u8 {
            let x = low + f64::from(at) * step;
            let found = cost(x);
            if found < least {
                (least, best) = (found, x);
            }
        }
        (low, high) = ((best - step).max(from), (best + step).min(to));
    }
    best
}

/// A disc of radius `radius` under a Gaussian, at a distance from its middle, 1 where
/// it is whole.
pub(super) fn disc(distance: f64, radius: f64, sigma: f64) -> f64 {
    let steps = 48_u8;
    let step = 2.0 * radius / f64::from(steps);
    let root = sigma * (2.0 * PI).sqrt();
    (0..steps)
        .map(|at| {
            let x = -radius + (f64::from(at) + 0.5) * step;
            let half = (radius * radius - x * x).max(0.0).sqrt();
            let along = (-0.5 * ((x - distance) / sigma).powi(2)).exp() / root;
            along * erf(half * FRAC_1_SQRT_2 / sigma) * step
        })
        .sum()
}

/// Full width at half height of a bar under a Gaussian.
fn seen_width(width: f64, sigma: f64) -> f64 {
    let value = |x: f64| below((x + 0.5 * width) / sigma) - below((x - 0.5 * width) / sigma);
    let half = 0.5 * value(0.0);
    let (mut low, mut high) = (0.0, 0.5 * width + 4.0 * sigma);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if half < value(middle) { low = middle } else { high = middle }
    }
    low + high
}

/// The width of a bar that is seen so wide under a Gaussian.
pub(super) fn true_width(seen: f64, sigma: f64) -> f64 {
    if sigma <= 0.0 {
        return seen;
    }
    let (mut low, mut high) = (0.05 * sigma, seen + sigma);
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if seen_width(middle, sigma) < seen { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}
