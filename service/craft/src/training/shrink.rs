//! Few results, drawn towards many: shares under a beta distribution.
//!
//! Quantiles are found by halving on the regularised incomplete beta function,
//! which is reckoned by its continued fraction (modified Lentz).

use super::Training;
use crate::hand::Interval;
use crate::rules::Origin;

/// A beta distribution of a share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beta {
    /// Weight of what held.
    pub a: f64,
    /// Weight of what did not.
    pub b: f64,
}

/// A share drawn towards the studio's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shrunk {
    /// Its mean.
    pub mean: f64,
    /// Its middle 95 %.
    pub interval: Interval,
}

impl Beta {
    /// That of a mean strictly inside 0 to 1 and a strength above 0; ends are
    /// brought inside.
    #[must_use]
    pub fn of(mean: f64, strength: f64) -> Self {
        let (mean, strength) = (mean.clamp(1e-3, 1.0 - 1e-3), strength.max(1e-3));
        Self { a: mean * strength, b: (1.0 - mean) * strength }
    }

    /// After so many results, of which so much held.
    #[must_use]
    pub fn seen(self, held: f64, of: u32) -> Self {
        Self { a: self.a + held, b: self.b + f64::from(of) - held }
    }

    /// Its mean.
    #[must_use]
    pub fn mean(self) -> f64 {
        self.a / (self.a + self.b)
    }

    /// The value below which a share of it lies.
    #[must_use]
    pub fn quantile(self, share: f64) -> f64 {
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.below(middle) < share { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }

    /// The share of it below a value.
    fn below(self, x: f64) -> f64 {
        let Self { a, b } = self;
        if x <= 0.0 || 1.0 <= x {
            return if x <= 0.0 { 0.0 } else { 1.0 };
        }
        let front = a * x.ln() + b * (-x).ln_1p() - ln_beta(a, b);
        if x < (a + 1.0) / (a + b + 2.0) {
            front.exp() * fraction(a, b, x) / a
        } else {
            1.0 - front.exp() * fraction(b, a, 1.0 - x) / b
        }
    }
}

impl Training {
    /// The mean share that held of an artist's few results, each judged whole or in parts, drawn
    /// towards the studio's share.
    #[must_use]
    pub fn shrunk_share(&self, studio_share: f64, share: f64, of: u32) -> Shrunk {
        let prior = Beta::of(studio_share, self.rules.progress.prior_results.value);
        let seen = prior.seen(share.clamp(0.0, 1.0) * f64::from(of), of);
        let interval = Interval { low: seen.quantile(0.025), high: seen.quantile(0.975) };
        Shrunk { mean: seen.mean(), interval }
    }

    /// The sources of the drawing, of its strength, and of which diameters are one.
    pub(crate) fn drawn_by(&self) -> [&Origin; 3] {
        let (progress, sign_off) = (&self.rules.progress, &self.rules.sign_off);
        let (strength, near) = (&progress.prior_results, &sign_off.diameter_tolerance_mm);
        [&progress.sources.few, &strength.source, &near.source]
    }
}

/// The continued fraction of the incomplete beta function.
fn fraction(a: f64, b: f64, x: f64) -> f64 {
    let tiny = 1e-300;
    let away = |value: f64| if value.abs() < tiny { tiny } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away(1.0 - (a + b) * x / (a + 1.0));
    let mut result = d;
    for step in 1..300_u32 {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        d = 1.0 / away(1.0 + even * d);
        c = away(1.0 + even / c);
        result *= c * d;
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        d = 1.0 / away(1.0 + odd * d);
        c = away(1.0 + odd / c);
        let change = c * d;
        result *= change;
        if (change - 1.0).abs() < 1e-14 {
            break;
        }
    }
    result
}

fn ln_beta(a: f64, b: f64) -> f64 {
    ln_gamma(a) + ln_gamma(b) - ln_gamma(a + b)
}

/// The logarithm of the gamma function for values above 0: Stirling's series,
/// after the argument was raised above 12.
fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut product) = (x, 1.0);
    while x < 12.0 {
        product *= x;
        x += 1.0;
    }
    let by = 1.0 / (x * x);
    let series = (1.0 / 12.0 - by * (1.0 / 360.0 - by * (1.0 / 1260.0 - by / 1680.0))) / x;
    (x - 0.5) * x.ln() - x + 0.5 * std::f64::consts::TAU.ln() + series - product.ln()
}
