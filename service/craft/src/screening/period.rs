//! Calendar periods: how long to wait, counted the way a calendar counts.
//!
//! Written as ISO 8601 durations of calendar units, largest first: `P6M`,
//! `P2W`, `P1Y`, `P1M10D`. Years become twelve months and weeks seven days;
//! months and days stay apart, because six months are not a number of days.
//!
//! Months are added first and the day is held at the end of a shorter month,
//! then days: 31 August and `P6M` give 28 or 29 February.

use std::fmt;
use std::str::FromStr;

use jiff::Span;
use jiff::civil::Date;

/// The longest period in months, and the longest in days: a hundred years.
const MOST_MONTHS: u32 = 1_200;
const MOST_DAYS: u32 = 36_525;

/// A period of calendar months and days, not empty, at most a hundred years.
///
/// ```
/// use etui_craft::screening::period::Period;
/// use jiff::civil::date;
/// let half_a_year: Period = "P6M".parse().unwrap();
/// assert_eq!(half_a_year.after(date(2026, 8, 31)), date(2027, 2, 28));
/// assert_eq!(half_a_year.to_string(), "P6M");
/// assert!("6 months".parse::<Period>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Period {
    months: u32,
    days: u32,
}

/// A text that is no calendar period.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is not a calendar period such as P6M, P2W or P10D, at most 100 years")]
pub struct PeriodError {
    /// What was written, shortened to 40 characters.
    pub found: String,
}

/// The unit a period is spoken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Calendar months.
    Months,
    /// Weeks of seven days.
    Weeks,
    /// Days.
    Days,
}

impl Period {
    /// The day on which the period, begun on `day`, has passed. Held at the
    /// last day the calendar knows (9999-12-31).
    #[must_use]
    pub fn after(self, day: Date) -> Date {
        day.saturating_add(self.span())
    }

    /// The last day on which a period that must have passed by `day` may
    /// begin. Held at the first day the calendar knows.
    #[must_use]
    pub fn before(self, day: Date) -> Date {
        day.saturating_sub(self.span())
    }

    /// Whether this period ends no earlier than `other`, whatever the day on
    /// which both begin. Checked on every day of a leap cycle.
    #[must_use]
    pub fn covers(self, other: Self) -> bool {
        let mut day = jiff::civil::date(2027, 1, 1);
        for _ in 0..1_461 {
            if self.after(day) < other.after(day) {
                return false;
            }
            day = day.saturating_add(Span::new().days(1));
        }
        true
    }

    /// The period in the units people say, largest first: months, then weeks
    /// where the days make whole weeks, else days.
    pub fn spoken(self) -> impl Iterator<Item = (u32, Unit)> {
        let rest = match self.days {
            0 => None,
            days if days % 7 == 0 => Some((days / 7, Unit::Weeks)),
            days => Some((days, Unit::Days)),
        };
        let months = (0 < self.months).then_some((self.months, Unit::Months));
        months.into_iter().chain(rest)
    }

    fn span(self) -> Span {
        // Both numbers are within the limits of a span by construction.
        Span::new().months(i64::from(self.months)).days(i64::from(self.days))
    }
}

impl FromStr for Period {
    type Err = PeriodError;

    fn from_str(text: &str) -> Result<Self, PeriodError> {
        parse(text).ok_or_else(|| PeriodError { found: text.chars().take(40).collect() })
    }
}

fn parse(text: &str) -> Option<Period> {
    let mut rest = text.strip_prefix('P')?;
    let (mut months, mut days) = (0_u32, 0_u32);
    let mut units = "YMWD";
    while !rest.is_empty() {
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let number: u32 = rest.get(..digits)?.parse().ok()?;
        let unit = rest[digits..].chars().next()?;
        units = &units[units.find(unit)? + 1..];
        rest = &rest[digits + unit.len_utf8()..];
        match unit {
            'Y' => months = months.checked_add(number.checked_mul(12)?)?,
            'M' => months = months.checked_add(number)?,
            'W' => days = days.checked_add(number.checked_mul(7)?)?,
            _ => days = days.checked_add(number)?,
        }
    }
    let fits = months <= MOST_MONTHS && days <= MOST_DAYS && 0 < months + days;
    fits.then_some(Period { months, days })
}

impl fmt::Display for Period {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("P")?;
        for (number, unit) in self.spoken() {
            let letter = match unit {
                Unit::Months => 'M',
                Unit::Weeks => 'W',
                Unit::Days => 'D',
            };
            write!(f, "{number}{letter}")?;
        }
        Ok(())
    }
}

impl<'de> serde::Deserialize<'de> for Period {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use proptest::prelude::*;

    fn period(text: &str) -> Period {
        text.parse().unwrap()
    }

    #[test]
    fn periods_count_as_a_calendar_does() {
        for (from, wait, to) in [
            (date(2026, 8, 31), "P6M", date(2027, 2, 28)),
            (date(2027, 8, 31), "P6M", date(2028, 2, 29)),
            (date(2026, 10, 31), "P4M", date(2027, 2, 28)),
            (date(2027, 10, 31), "P4M", date(2028, 2, 29)),
            (date(2028, 2, 29), "P1Y", date(2029, 2, 28)),
            (date(2027, 1, 31), "P1M1D", date(2027, 3, 1)),
            (date(2027, 3, 1), "P2W", date(2027, 3, 15)),
            (date(9999, 12, 1), "P2M", date(9999, 12, 31)),
        ] {
            assert_eq!(period(wait).after(from), to, "{from} and {wait}");
        }
        assert_eq!(period("P14D").before(date(2027, 3, 15)), date(2027, 3, 1));
        assert_eq!(period("P6M").before(date(2027, 8, 31)), date(2027, 2, 28));
    }

    #[test]
    fn what_is_no_period_is_refused() {
        for bad in [
            "",
            "P",
            "6M",
            "P6",
            "PM",
            "P0D",
            "P-1D",
            "P1.5M",
            "P1D1M",
            "P1M1M",
            "P1S",
            "PT1H",
            "P1201M",
            "P36526D",
            "P99999999999Y",
            "p6m",
            "P6ₘ",
        ] {
            assert!(bad.parse::<Period>().is_err(), "{bad}");
        }
    }

    #[test]
    fn months_and_days_are_compared_on_every_day() {
        for (long, short, covers) in [
            ("P12M", "P6M", true),
            ("P6M", "P6M", true),
            ("P5M", "P6M", false),
            ("P31D", "P1M", true),
            ("P30D", "P1M", false),
            ("P1M", "P28D", true),
            ("P1M", "P29D", false),
        ] {
            assert_eq!(period(long).covers(period(short)), covers, "{long} {short}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(crate::laws::cases(256)))]

        #[test]
        fn a_period_reads_back_and_never_goes_backwards(
            months in 0_u32..120, days in 1_u32..400, year in 1900_i16..2200, nth in 1_i16..366,
        ) {
            let made = Period { months, days };
            prop_assert_eq!(made.to_string().parse::<Period>(), Ok(made));
            let day = date(year, 1, 1).saturating_add(Span::new().days(i64::from(nth)));
            prop_assert!(day < made.after(day));
            prop_assert!(made.before(day) < day);
        }
    }
}
