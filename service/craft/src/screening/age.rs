//! Age in whole years, by the day.
//!
//! A year of life is complete at the beginning of the birthday. Somebody born
//! on 29 February completes it on 1 March in a common year: the later of the
//! two readings in use, because before that day nobody can be sure that the
//! age the law asks for has been reached.

use jiff::civil::Date;

/// Age from which somebody may be treated: the studio's own rule, and law where
/// the rulebook says so.
pub const OF_AGE_YEARS: u8 = 18;

/// The first day on which somebody born on `born_on` is `years` old.
///
/// ```
/// use etui_craft::screening::age::reaches;
/// use jiff::civil::date;
/// assert_eq!(reaches(date(2008, 2, 29), 18), date(2026, 3, 1));
/// assert_eq!(reaches(date(2008, 2, 29), 20), date(2028, 2, 29));
/// ```
#[must_use]
pub fn reaches(born_on: Date, years: u8) -> Date {
    let Some(year) = born_on.year().checked_add(i16::from(years)) else { return Date::MAX };
    match Date::new(year, born_on.month(), born_on.day()) {
        Ok(birthday) => birthday,
        // 29 February of a common year, or a year beyond the calendar.
        Err(_) => Date::new(year, 3, 1).unwrap_or(Date::MAX),
    }
}

/// Age in whole years on a day; `None` before the birth.
///
/// ```
/// use etui_craft::screening::age::on;
/// use jiff::civil::date;
/// assert_eq!(on(date(2008, 11, 25), date(2026, 11, 25)), Some(18));
/// assert_eq!(on(date(2008, 11, 26), date(2026, 11, 25)), Some(17));
/// assert_eq!(on(date(2027, 1, 1), date(2026, 11, 25)), None);
/// ```
#[must_use]
pub fn on(born_on: Date, day: Date) -> Option<i16> {
    if day < born_on {
        return None;
    }
    let years = day.year() - born_on.year();
    let birthday = u8::try_from(years).map_or(Date::MIN, |years| reaches(born_on, years));
    Some(if day < birthday { years - 1 } else { years })
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_birthday_counts_from_its_first_hour() {
        // Tattooing of Minors Act 1969: the offence ends with the 18th birthday.
        for (born, day, age) in [
            (date(2008, 11, 25), date(2026, 11, 25), 18),
            (date(2008, 11, 25), date(2026, 11, 24), 17),
            (date(2008, 2, 29), date(2026, 2, 28), 17),
            (date(2008, 2, 29), date(2026, 3, 1), 18),
            (date(2004, 2, 29), date(2024, 2, 29), 20),
            (date(2004, 2, 29), date(2024, 2, 28), 19),
            (date(2027, 1, 1), date(2027, 1, 1), 0),
        ] {
            assert_eq!(on(born, day), Some(age), "born {born}, on {day}");
        }
    }

    #[test]
    fn the_calendars_end_is_no_panic() {
        assert_eq!(reaches(date(9990, 2, 28), 18), Date::MAX);
        assert_eq!(on(Date::MIN, Date::MAX), Some(19_998));
    }
}
