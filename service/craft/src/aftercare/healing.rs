//! How skin heals, as far as a date can be hung on it.
//!
//! Phases overlap: `phases(2)` is inflammation and clean-up at once.
//!
//! The earliest touch-up is a floor of 28 days, the time after which tattooed
//! skin looked normal again under the electron microscope, stretched by
//!
//! ```text
//! heal_factor(age) = 1                             age <= 35
//!                    1 + 0.42 (age - 35)/(60 - 35)  35 < age < 60
//!                    1.42                          60 <= age
//! ```
//!
//! and rounded up to whole weeks: 28, 35, 42 days. The factor is the ratio of
//! the renewal times of the horny layer in cohorts of about 60 and 35 years
//! (28.1 / 19.8 days); that it carries over to a touch-up is our inference,
//! and nothing is claimed below 35 or above 60.

use etui_schema::vocabulary::aftercare::HealingPhase;

use super::parameters::{Heal, Parameters};
use crate::evidence::Basis;

/// A phase with its days, both ends included.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phase {
    /// Which one.
    pub phase: HealingPhase,
    /// First day.
    pub from_day: i32,
    /// Last day.
    pub to_day: i32,
    /// Where the days come from.
    pub basis: Basis,
}

/// How much slower skin of an age renews itself than at 35; from 1.0 to 1.42.
pub(crate) fn heal_factor(heal: &Heal, age_years: u8) -> f64 {
    let from = f64::from(heal.from_age_years);
    let to = f64::from(heal.to_age_years);
    let along = ((f64::from(age_years) - from) / (to - from)).clamp(0.0, 1.0);
    1.0 + along * (heal.factor - 1.0)
}

/// Days from the session to the earliest touch-up, in whole weeks. Without an
/// age the slowest skin is assumed.
pub(crate) fn touch_up_days(parameters: &Parameters, age_years: Option<u8>) -> i32 {
    let heal = &parameters.heal;
    let factor = heal_factor(heal, age_years.unwrap_or(heal.to_age_years));
    let days = f64::from(parameters.floor_days.value) * factor;
    // At most 42 x 2 (both bounded when the parameters are loaded), so that
    // counting up by weeks ends soon and needs no cast.
    let mut weeks = 0;
    while f64::from(weeks * 7) < days - 1e-9 {
        weeks += 1;
    }
    weeks * 7
}
