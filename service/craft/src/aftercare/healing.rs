//! How skin heals, as far as a date can be hung on it.
//!
//! Phases overlap: `phases(2)` is inflammation and clean-up at once.
//!
//! # When worked skin may be worked again
//!
//! There is one rule, [`Healing::after`], and everybody asks it: the gate that
//! looks at earlier visits, the check's readiness, the plan's milestones, the
//! invitation to a touch-up and the review. So one session has one day, whoever
//! is asked.
//!
//! * A **touch-up** works the same skin again. Its floor of 28 days, the time
//!   after which tattooed skin looked normal again under the electron
//!   microscope, is stretched by age and rounded up to whole weeks: 28 days up
//!   to 35 years, 35 at 47.5, 42 from 60 on.
//!
//!   ```text
//!   heal_factor(age) = 1                             age <= 35
//!                      1 + 0.42 (age - 35)/(60 - 35)  35 < age < 60
//!                      1.42                          60 <= age
//!   ```
//!
//!   The factor is the ratio of the renewal times of the horny layer in cohorts
//!   of about 60 and 35 years (28.1 / 19.8 days); that it carries over to a
//!   touch-up is our inference, and nothing is claimed below 35 or above 60.
//! * The **next pass** of a scalp places new dots between the old ones. It may
//!   come after 10 days, after 14 from 60 years on, in a line between the two,
//!   and only where no scab, redness or tenderness is left: that somebody has to
//!   see on the day ([`Rested::bare`]). Any other treatment knows no passes;
//!   asking for one there gets the touch-up's days.
//!
//! Nobody is served sooner for telling less: without an age the oldest skin is
//! taken, and whoever does not know whether a visit is a pass asks for a
//! touch-up. The age is that on the day of the last session, in any studio, and
//! days are counted in the calendar of the client: of a session on day 0, the
//! first allowed day is day [`Rested::days`].

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::HealingPhase;
use jiff::civil::Date;

use super::dating::{DatingError, days_after};
use super::parameters::{Heal, Parameters};
use crate::evidence::{Basis, Register};
use crate::rules::RuleFault;

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

/// What is to be done with skin that was worked before.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// The same work again. Whoever does not know asks for this.
    TouchUp,
    /// The next pass of a series, beside what is there; for the scalp only.
    Pass,
}

/// How long worked skin rests.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rested {
    /// Days after the last session (day 0): the first on which it may be worked.
    pub days: i32,
    /// Whether that holds only where no scab, no redness and no tenderness is
    /// left; if some is, or nobody looked, the visit waits whatever the date.
    pub bare: bool,
    /// Where the days come from.
    pub basis: Vec<Basis>,
}

impl Rested {
    /// The first day on which the skin may be worked again.
    ///
    /// # Errors
    /// [`DatingError::OutOfCalendar`] beyond the calendar.
    pub fn from(&self, last: Date) -> Result<Date, DatingError> {
        days_after(last, self.days)
    }
}

/// The one rule of when worked skin may be worked again.
#[derive(Debug, Clone)]
pub struct Healing {
    parameters: Parameters,
}

impl Healing {
    /// The rule with the numbers compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if the file is not sound or names an unknown source.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        Ok(Self { parameters: Parameters::builtin(register)? })
    }

    /// How long skin rests after a session. `age_years` is the age on the day of
    /// that session; without it the oldest skin is taken.
    ///
    /// ```
    /// use etui_craft::aftercare::healing::{Healing, Next};
    /// use etui_craft::evidence::Register;
    /// use etui_schema::vocabulary::Treatment;
    /// let healing = Healing::builtin(&Register::builtin().unwrap()).unwrap();
    /// let days = |treatment, next, age| healing.after(treatment, next, age).days;
    /// assert_eq!(days(Treatment::Lips, Next::TouchUp, Some(30)), 28);
    /// assert_eq!(days(Treatment::Lips, Next::TouchUp, None), 42);
    /// assert_eq!(days(Treatment::Scalp, Next::Pass, Some(30)), 10);
    /// ```
    #[must_use]
    pub fn after(&self, treatment: Treatment, next: Next, age_years: Option<u8>) -> Rested {
        after(&self.parameters, treatment, next, age_years)
    }
}

/// [`Healing::after`] for whoever has the numbers already.
pub(crate) fn after(
    parameters: &Parameters,
    treatment: Treatment,
    next: Next,
    age_years: Option<u8>,
) -> Rested {
    let heal = &parameters.heal;
    let along = along(heal, age_years);
    let mut basis = vec![
        heal.sources.factor.basis("how much slower older skin renews itself"),
        heal.sources.shape.basis("that this carries over, and the line between the ages"),
    ];
    let row = parameters.of(treatment).and_then(|row| row.next_session_days.as_ref());
    if let (Next::Pass, Some(pass)) = (next, row) {
        basis.insert(0, pass.source.basis("days between two passes"));
        let days = f64::from(pass.least) + along * f64::from(pass.most - pass.least);
        return Rested { days: up_to(days, 1), bare: true, basis };
    }
    let floor = &parameters.floor_days;
    basis.insert(0, floor.source.basis("days before skin is worked again"));
    let days = f64::from(floor.value) * (1.0 + along * (heal.factor - 1.0));
    Rested { days: up_to(days, 7), bare: false, basis }
}

/// How far an age lies on the way from young to old skin, 0.0 to 1.0.
fn along(heal: &Heal, age_years: Option<u8>) -> f64 {
    let (from, to) = (f64::from(heal.from_age_years), f64::from(heal.to_age_years));
    let age = f64::from(age_years.unwrap_or(heal.to_age_years));
    ((age - from) / (to - from)).clamp(0.0, 1.0)
}

/// The first multiple of a step that is not below some days: at most 84, since
/// both parts are bounded when they are loaded, so counting up needs no cast.
fn up_to(days: f64, step: i32) -> i32 {
    let mut whole = 0;
    while f64::from(whole) < days - 1e-9 {
        whole += step;
    }
    whole
}
