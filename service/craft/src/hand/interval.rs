//! Intervals of a share and of the difference of two shares.
//!
//! Both stay inside what a share can be and hold up with few results, which
//! the textbook interval does not.

/// How many of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Count {
    /// So many.
    pub hits: u32,
    /// Of so many.
    pub of: u32,
}

/// A lower and an upper end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Count {
    /// Counts those that fit.
    pub fn of(all: impl Iterator<Item = bool>) -> Self {
        let mut count = Self { hits: 0, of: 0 };
        for hit in all {
            count.hits += u32::from(hit);
            count.of += 1;
        }
        count
    }

    /// The share; `None` of none.
    #[must_use]
    pub fn share(self) -> Option<Share> {
        let mean = f64::from(self.hits) / f64::from(self.of);
        (self.of != 0).then_some(Share { mean, of: self.of })
    }
}

/// The mean of so many shares, each from 0 to 1. Where each is 0 or 1 it is the
/// share of a count; where they lie between, they vary less than that, and the
/// intervals are wider than they would have to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// The mean, 0 to 1.
    pub mean: f64,
    /// Of so many, at least one.
    pub of: u32,
}

impl Share {
    /// The mean of all; `None` of none.
    pub fn of(all: impl Iterator<Item = f64>) -> Option<Self> {
        let (sum, of) = all.fold((0.0, 0), |(sum, of), one| (sum + one, of + 1));
        (of != 0).then(|| Self { mean: (sum / f64::from(of)).clamp(0.0, 1.0), of })
    }

    /// The score interval of the share (Wilson 1927) for a quantile `z` of the
    /// normal distribution.
    #[must_use]
    pub fn interval(self, z: f64) -> Interval {
        let (share, n) = (self.mean, f64::from(self.of));
        let spread = 1.0 + z * z / n;
        let middle = (share + z * z / (2.0 * n)) / spread;
        let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt() / spread;
        // Where none or all are hits the ends are 0 and 1 but for rounding.
        let low = if share <= 0.0 { 0.0 } else { (middle - half).max(0.0) };
        let high = if 1.0 <= share { 1.0 } else { (middle + half).min(1.0) };
        Interval { low, high }
    }

    /// The interval of this share less another (Newcombe 1998, method 10).
    #[must_use]
    pub fn less(self, other: Self, z: f64) -> Interval {
        let (mine, theirs) = (self.mean, other.mean);
        let (own, their) = (self.interval(z), other.interval(z));
        let difference = mine - theirs;
        Interval {
            low: difference - (mine - own.low).hypot(their.high - theirs),
            high: difference + (own.high - mine).hypot(theirs - their.low),
        }
    }
}

/// The quantile for each of `comparisons` that are made at once, so that all of
/// them together err as seldom as one would at `z` (Bonferroni's inequality:
/// the chance of error is shared out evenly).
#[must_use]
pub(super) fn shared_out(z: f64, comparisons: u32) -> f64 {
    let tail = upper_tail(z) / f64::from(comparisons.max(1));
    let (mut low, mut high) = (z, 9.0_f64.max(z));
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if tail < upper_tail(middle) { low = middle } else { high = middle }
    }
    low
}

/// The chance that a standard normal value lies above `z`: the series of
/// Marsaglia (Evaluating the normal distribution, J Stat Softw 2004;11(4)).
fn upper_tail(z: f64) -> f64 {
    let (mut term, mut sum, mut odd) = (z, z, 1.0);
    while f64::EPSILON * sum.abs() < term.abs() {
        odd += 2.0;
        term *= z * z / odd;
        sum += term;
    }
    (0.5 - sum * (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const Z: f64 = 1.959_964;

    fn near(found: Interval, low: f64, high: f64, case: &str) {
        // Published to four places.
        let off = (found.low - low).abs().max((found.high - high).abs());
        assert!(off < 0.000_06, "{case}: {found:?}");
    }

    #[test]
    fn shares_as_published() {
        // Newcombe RG, Stat Med 1998;17:857-872, table I, method 3 (Wilson)
        for (hits, of, low, high) in [
            (81, 263, 0.2553, 0.3662),
            (15, 148, 0.0624, 0.1605),
            (0, 20, 0.0, 0.1611),
            (1, 29, 0.0061, 0.1718),
        ] {
            near(
                Count { hits, of }.share().unwrap().interval(Z),
                low,
                high,
                &format!("{hits} of {of}"),
            );
        }
        assert_eq!(Count { hits: 0, of: 0 }.share(), None);
    }

    #[test]
    fn a_difference_as_published() {
        // Newcombe RG, Stat Med 1998;17:873-890, table II, contrast (a), method 10
        near(share(56, 70).less(share(48, 80), Z), 0.0524, 0.3339, "56/70 - 48/80");
    }

    #[test]
    fn quantiles_of_comparisons_made_at_once() {
        // Standard normal quantiles at 1 - 0.05 / (2 m), to three places:
        // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1, read backwards.
        for (comparisons, z) in [(1, 1.960), (2, 2.241), (5, 2.576), (10, 2.807), (25, 3.090)] {
            let found = shared_out(Z, comparisons);
            assert!((found - z).abs() < 0.001, "{comparisons}: {found}");
        }
    }

    fn share(hits: u32, of: u32) -> Share {
        Count { hits, of }.share().unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        #[test]
        fn an_interval_holds_its_share_and_narrows(of in 1_u32..500, part in 0.0_f64..=1.0) {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part of a u32")]
            let hits = (f64::from(of) * part).floor() as u32;
            let one = share(hits, of);
            let (mean, held) = (one.mean, one.interval(Z));
            prop_assert!(0.0 <= held.low && held.low <= mean && mean <= held.high && held.high <= 1.0);
            let more = share(hits * 10, of * 10).interval(Z);
            prop_assert!(more.high - more.low < held.high - held.low);
            let other = share(of - hits, of).interval(Z);
            prop_assert!((other.low + held.high - 1.0).abs() < 1e-12, "misses mirror hits");
        }

        #[test]
        fn a_difference_turns_round(a in 1_u32..60, x in 0_u32..60, b in 1_u32..60, y in 0_u32..60) {
            let (one, other) = (share(x.min(a), a), share(y.min(b), b));
            let (there, back) = (one.less(other, Z), other.less(one, Z));
            prop_assert!((there.low + back.high).abs() < 1e-12);
            prop_assert!(-1.0 <= there.low && there.high <= 1.0);
            let same = one.less(one, Z);
            prop_assert!(same.low <= 0.0 && 0.0 <= same.high);
        }
    }
}
