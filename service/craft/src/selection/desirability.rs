//! Desirability functions after Derringer and Suich (1980).
//!
//! Each answer `y` of a candidate becomes a desirability `d` between 0 (fails)
//! and 1 (nothing left to wish for). With limits `low < target < high` and an
//! exponent `s` (1 = straight line, above 1 = strict, below 1 = lenient):
//!
//! | wish | formula between the limits | outside |
//! |---|---|---|
//! | more ([`Wish::More`]) | `((y - low) / (target - low))^s` | 0 at or below `low`, 1 from `target` on |
//! | less ([`Wish::Less`]) | `((high - y) / (high - target))^s` | 1 up to `target`, 0 from `high` on |
//! | near ([`Wish::Near`]) | the first below the target, the second above it | 0 at or beyond a limit |
//!
//! Several desirabilities are combined by their weighted geometric mean
//! `D = (d1^w1 · d2^w2 · …)^(1 / (w1 + w2 + …))`, so that one need that fails
//! outright (`d = 0`) makes the whole fail, whatever the rest promises. The
//! sum is kept in logarithms ([`Blend`]): that is what makes the effect of one
//! circumstance separable from all others.
//!
//! Source: Derringer and Suich 1980, Journal of Quality Technology 12:214-219,
//! as retold in the NIST/SEMATECH e-Handbook of Statistical Methods.

use serde::Deserialize;

/// What is wished of one number. Limits are in the unit of that number.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case", tag = "wish")]
pub enum Wish {
    /// The more the better, up to `target`.
    More {
        /// At or below this the need fails.
        low: f64,
        /// From here on nothing is left to wish for.
        target: f64,
        /// Exponent; 1 if not told.
        #[serde(default = "straight")]
        s: f64,
    },
    /// The less the better, down to `target`.
    Less {
        /// Up to this nothing is left to wish for.
        target: f64,
        /// At or above this the need fails.
        high: f64,
        /// Exponent; 1 if not told.
        #[serde(default = "straight")]
        s: f64,
    },
    /// As near to `target` as can be.
    Near {
        /// At or below this the need fails.
        low: f64,
        /// The value wished for.
        target: f64,
        /// At or above this the need fails.
        high: f64,
        /// Exponent below the target; 1 if not told.
        #[serde(default = "straight")]
        s: f64,
        /// Exponent above the target; 1 if not told.
        #[serde(default = "straight")]
        t: f64,
    },
}

const fn straight() -> f64 {
    1.0
}

/// Why a wish makes no sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WishError {
    /// The limits are not in rising order, or not finite.
    #[error("limits must be finite and rise from low over target to high")]
    Limits,
    /// An exponent is not positive and finite.
    #[error("an exponent must be finite and greater than 0")]
    Exponent,
}

impl Wish {
    /// Holds the limits and exponents against what the formulas need.
    ///
    /// # Errors
    /// [`WishError`] for limits out of order or an exponent that is not
    /// positive.
    pub fn check(self) -> Result<(), WishError> {
        let (limits, exponents) = match self {
            Self::More { low, target, s } => ([low, target, f64::MAX], [s, 1.0]),
            Self::Less { target, high, s } => ([f64::MIN, target, high], [s, 1.0]),
            Self::Near { low, target, high, s, t } => ([low, target, high], [s, t]),
        };
        let [low, target, high] = limits;
        if !(limits.iter().all(|x| x.is_finite()) && low < target && target < high) {
            return Err(WishError::Limits);
        }
        if !exponents.iter().all(|x| x.is_finite() && 0.0 < *x) {
            return Err(WishError::Exponent);
        }
        Ok(())
    }

    /// The desirability of `y`, 0 to 1. A `y` that is not a number fails.
    ///
    /// ```
    /// use etui_craft::selection::desirability::Wish;
    /// let abrasion = Wish::More { low: 120.0, target: 170.0, s: 1.0 };
    /// assert!((abrasion.of(129.5) - 0.19).abs() < 1e-9);
    /// assert_eq!(abrasion.of(119.0), 0.0);
    /// ```
    #[must_use]
    pub fn of(self, y: f64) -> f64 {
        if y.is_nan() {
            return 0.0;
        }
        match self {
            Self::More { low, target, s } => rising(y, low, target, s),
            Self::Less { target, high, s } => falling(y, target, high, s),
            Self::Near { low, target, high, s, t } => {
                if y < target {
                    rising(y, low, target, s)
                } else {
                    falling(y, target, high, t)
                }
            }
        }
    }
}

fn rising(y: f64, low: f64, target: f64, s: f64) -> f64 {
    powered(((y - low) / (target - low)).clamp(0.0, 1.0), s)
}

fn falling(y: f64, target: f64, high: f64, s: f64) -> f64 {
    powered(((high - y) / (high - target)).clamp(0.0, 1.0), s)
}

/// A power that keeps 0 and 1 exact and costs nothing at the usual exponent.
fn powered(d: f64, s: f64) -> f64 {
    if (s - 1.0).abs() < f64::EPSILON { d } else { d.powf(s) }
}

/// A weighted geometric mean in the making.
///
/// ```
/// use etui_craft::selection::desirability::Blend;
/// let mut blend = Blend::default();
/// blend.add(0.25, 1.0);
/// blend.add(1.0, 1.0);
/// assert!((blend.mean() - 0.5).abs() < 1e-12);
/// blend.add(0.0, 0.1);
/// assert_eq!(blend.mean(), 0.0);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Blend {
    log_sum: f64,
    weight_sum: f64,
}

impl Blend {
    /// Adds a desirability (0 to 1) with its weight. A weight of 0 adds
    /// nothing, not even a failure.
    pub fn add(&mut self, desirability: f64, weight: f64) {
        if 0.0 < weight {
            self.log_sum += weight * desirability.ln();
            self.weight_sum += weight;
        }
    }

    /// The mean, 0 to 1; 1 if nothing was added.
    #[must_use]
    pub fn mean(self) -> f64 {
        if 0.0 < self.weight_sum { (self.log_sum / self.weight_sum).exp() } else { 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Tyre-tread example of Derringer and Suich 1980, Journal of Quality
    /// Technology 12:214-219, as retold in the NIST/SEMATECH e-Handbook: limits
    /// and responses as printed there. The responses are printed rounded, so
    /// the overall 0.583 comes out to a thousandth and a bit.
    #[test]
    fn the_tyre_tread_example_comes_out() {
        let rows = [
            (129.5, Wish::More { low: 120.0, target: 170.0, s: 1.0 }, 0.19),
            (1300.0, Wish::More { low: 1000.0, target: 1300.0, s: 1.0 }, 1.0),
            (465.7, Wish::Near { low: 400.0, target: 500.0, high: 600.0, s: 1.0, t: 1.0 }, 0.66),
            (68.0, Wish::Near { low: 60.0, target: 67.5, high: 75.0, s: 1.0, t: 1.0 }, 0.93),
        ];
        let mut blend = Blend::default();
        for (y, wish, want) in rows {
            assert!((wish.of(y) - want).abs() < 0.005, "{y}: {}", wish.of(y));
            blend.add(wish.of(y), 1.0);
        }
        assert!((blend.mean() - 0.583).abs() < 0.002, "{}", blend.mean());
    }

    #[test]
    fn the_limits_themselves_are_settled() {
        let more = Wish::More { low: 1.0, target: 2.0, s: 2.0 };
        let less = Wish::Less { target: 1.0, high: 2.0, s: 0.5 };
        let near = Wish::Near { low: 1.0, target: 2.0, high: 4.0, s: 1.0, t: 2.0 };
        for (wish, y, want) in [
            (more, 1.0, 0.0),
            (more, 1.5, 0.25),
            (more, 2.0, 1.0),
            (more, f64::INFINITY, 1.0),
            (less, 1.0, 1.0),
            (less, 1.75, 0.5),
            (less, 2.0, 0.0),
            (near, 1.0, 0.0),
            (near, 1.5, 0.5),
            (near, 2.0, 1.0),
            (near, 3.0, 0.25),
            (near, 4.0, 0.0),
            (near, f64::NAN, 0.0),
        ] {
            assert!((wish.of(y) - want).abs() < 1e-12, "{wish:?} of {y} is {}", wish.of(y));
        }
    }

    #[test]
    fn senseless_wishes_are_refused() {
        for (wish, why) in [
            (Wish::More { low: 2.0, target: 2.0, s: 1.0 }, WishError::Limits),
            (Wish::Less { target: f64::NAN, high: 2.0, s: 1.0 }, WishError::Limits),
            (Wish::Near { low: 0.0, target: 2.0, high: 1.0, s: 1.0, t: 1.0 }, WishError::Limits),
            (Wish::More { low: 1.0, target: 2.0, s: 0.0 }, WishError::Exponent),
            (
                Wish::Near { low: 0.0, target: 1.0, high: 2.0, s: 1.0, t: f64::INFINITY },
                WishError::Exponent,
            ),
        ] {
            assert_eq!(wish.check(), Err(why), "{wish:?}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        /// Law: a desirability stays within 0 and 1, and never rises on the
        /// way away from the target.
        #[test]
        fn away_from_the_target_is_never_better(
            low in -10.0..0.0f64, up in 0.1..5.0f64, over in 0.1..5.0f64,
            s in 0.1..4.0f64, a in -20.0..20.0f64, b in -20.0..20.0f64,
        ) {
            let (target, high) = (low + up, low + up + over);
            let near = Wish::Near { low, target, high, s, t: s };
            let (da, db) = (near.of(a), near.of(b));
            prop_assert!((0.0..=1.0).contains(&da));
            let same_side = (a < target) == (b < target);
            if same_side && (a - target).abs() < (b - target).abs() {
                prop_assert!(db <= da, "{a} {da} {b} {db}");
            }
        }
    }
}
