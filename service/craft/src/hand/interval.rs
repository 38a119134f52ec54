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
    pub fn share(self) -> Option<f64> {
        (self.of != 0).then(|| f64::from(self.hits) / f64::from(self.of))
    }

    /// The score interval of the share (Wilson 1927) for a quantile `z` of the
    /// normal distribution; `None` of none.
    #[must_use]
    pub fn interval(self, z: f64) -> Option<Interval> {
        let (share, n) = (self.share()?, f64::from(self.of));
        let spread = 1.0 + z * z / n;
        let middle = (share + z * z / (2.0 * n)) / spread;
        let half = z * (share * (1.0 - share) / n + z * z / (4.0 * n * n)).sqrt() / spread;
        // Where none or all are hits the ends are 0 and 1 but for rounding.
        let low = if self.hits == 0 { 0.0 } else { (middle - half).max(0.0) };
        let high = if self.hits == self.of { 1.0 } else { (middle + half).min(1.0) };
        Some(Interval { low, high })
    }

    /// The interval of this share less another (Newcombe 1998, method 10);
    /// `None` if one of them is of none.
    #[must_use]
    pub fn less(self, other: Self, z: f64) -> Option<Interval> {
        let (mine, theirs) = (self.share()?, other.share()?);
        let (own, their) = (self.interval(z)?, other.interval(z)?);
        let difference = mine - theirs;
        Some(Interval {
            low: difference - (mine - own.low).hypot(their.high - theirs),
            high: difference + (own.high - mine).hypot(theirs - their.low),
        })
    }
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
            near(Count { hits, of }.interval(Z).unwrap(), low, high, &format!("{hits} of {of}"));
        }
        assert_eq!(Count { hits: 0, of: 0 }.interval(Z), None);
    }

    #[test]
    fn a_difference_as_published() {
        // Newcombe RG, Stat Med 1998;17:873-890, table II, contrast (a), method 10
        let (one, other) = (Count { hits: 56, of: 70 }, Count { hits: 48, of: 80 });
        near(one.less(other, Z).unwrap(), 0.0524, 0.3339, "56/70 - 48/80");
        assert_eq!(one.less(Count { hits: 0, of: 0 }, Z), None);
    }

    proptest! {
        #[test]
        fn an_interval_holds_its_share_and_narrows(of in 1_u32..500, part in 0.0_f64..=1.0) {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a part of a u32")]
            let hits = (f64::from(of) * part).floor() as u32;
            let one = Count { hits, of };
            let (share, held) = (one.share().unwrap(), one.interval(Z).unwrap());
            prop_assert!(0.0 <= held.low && held.low <= share && share <= held.high && held.high <= 1.0);
            let more = Count { hits: hits * 10, of: of * 10 }.interval(Z).unwrap();
            prop_assert!(more.high - more.low < held.high - held.low);
            let other = Count { hits: of - hits, of }.interval(Z).unwrap();
            prop_assert!((other.low + held.high - 1.0).abs() < 1e-12, "misses mirror hits");
        }

        #[test]
        fn a_difference_turns_round(a in 1_u32..60, x in 0_u32..60, b in 1_u32..60, y in 0_u32..60) {
            let (one, other) = (Count { hits: x.min(a), of: a }, Count { hits: y.min(b), of: b });
            let (there, back) = (one.less(other, Z).unwrap(), other.less(one, Z).unwrap());
            prop_assert!((there.low + back.high).abs() < 1e-12);
            prop_assert!(-1.0 <= there.low && there.high <= 1.0);
            let same = one.less(one, Z).unwrap();
            prop_assert!(same.low <= 0.0 && 0.0 <= same.high);
        }
    }
}
