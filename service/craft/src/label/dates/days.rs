//! What a year, a month and a day are together, and what cannot be.

use jiff::civil::Date;

use crate::label::fold::{Class, class};

/// What a year, a month and a day are together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Day {
    Is(Date),
    /// Worked out from the year of another era.
    Reckoned(Date),
    /// Such as 31 April: a misprint or a misreading, and no reason to try
    /// another order.
    Broken,
    Never,
}

/// The year that two digits stand for, from 49 years back to 50 ahead.
pub(crate) fn century(two_digits: i16, as_of: Date) -> i16 {
    let now = as_of.year();
    let base = now - now.rem_euclid(100);
    match two_digits - now.rem_euclid(100) {
        51.. => base - 100 + two_digits,
        ..=-50 => base + 100 + two_digits,
        _ => base + two_digits,
    }
}

/// Years of the Buddhist era that packets carry; they lie 543 ahead.
const BUDDHIST: std::ops::RangeInclusive<u32> = 2550..=2599;

/// Years of the Persian calendar that packets carry. Those of the lunar calendar of
/// the same lands lie behind them and are not read.
const PERSIAN: std::ops::RangeInclusive<u32> = 1395..=1425;

/// Whether a year is one of the Persian calendar.
pub(super) fn is_persian(year: u32) -> bool {
    PERSIAN.contains(&year)
}

/// A day of a Persian year, or the last one of its month.
pub(super) fn persian(year: u32, month: u32, day: Option<u32>) -> Day {
    // Eight leap years in 33; the first year of the range begins on 20 March 2016.
    let leap = |year: u32| matches!(year % 33, 1 | 5 | 9 | 13 | 17 | 22 | 26 | 30);
    let length = match month {
        1..=6 => 31,
        7..=11 => 30,
        12 => 29 + u32::from(leap(year)),
        _ => return Day::Never,
    };
    let day = day.unwrap_or(length);
    if !is_persian(year) || !(1..=31).contains(&day) {
        return Day::Never;
    }
    if length < day {
        return Day::Broken;
    }
    let years: u32 = (*PERSIAN.start()..year).map(|year| 365 + u32::from(leap(year))).sum();
    let months = if month <= 6 { (month - 1) * 31 } else { 186 + (month - 7) * 30 };
    let days = jiff::Span::new().days(years + months + day - 1);
    jiff::civil::date(2016, 3, 20).checked_add(days).map_or(Day::Never, Day::Reckoned)
}

/// A year of four digits that a packet can carry.
pub(super) fn ymd(year: u32, month: u32, day: u32) -> Day {
    if BUDDHIST.contains(&year) {
        return match ymd(year - 543, month, day) {
            Day::Is(date) | Day::Reckoned(date) => Day::Reckoned(date),
            other @ (Day::Broken | Day::Never) => other,
        };
    }
    if !(1970..=2099).contains(&year) {
        return Day::Never;
    }
    whole(i16::try_from(year).unwrap_or(0), month, day)
}

/// A year of two digits.
pub(super) fn short(year: u32, month: u32, day: u32, as_of: Date) -> Day {
    match i16::try_from(year) {
        Ok(year @ 0..=99) => whole(century(year, as_of), month, day),
        _ => Day::Never,
    }
}

pub(super) fn whole(year: i16, month: u32, day: u32) -> Day {
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) {
        return Day::Never;
    }
    let part = |n: u32| i8::try_from(n).unwrap_or(0);
    Date::new(year, part(month), part(day)).map_or(Day::Broken, Day::Is)
}

/// A day in Chinese numbers: `一日`.
pub(super) fn is_day_in_words(text: &[char]) -> bool {
    let number = |c: &&char| "一二三四五六七八九十廿卅".contains(**c);
    let count = text.iter().take_while(number).count();
    0 < count && matches!(text.get(count), Some('日' | '号'))
}

/// Whether a quarter of a year stands there: `2028Q3`, `Q3`, `3Q28`. It is no month,
/// and its Q no zero.
pub(super) fn names_a_quarter(region: &[char]) -> bool {
    let mut words = region.split(|c| class(*c) == Class::Other);
    words.any(|word| {
        let at = word.iter().position(|c| *c == 'Q');
        at.is_some_and(|at| {
            let (before, behind) = (&word[..at], &word[at + 1..]);
            let quarter = |part: &[char]| matches!(part, ['1'..='4']);
            let year = |part: &[char]| {
                matches!(part.len(), 0 | 2 | 4) && part.iter().all(char::is_ascii_digit)
            };
            quarter(behind) && year(before) || quarter(before) && year(behind)
        })
    })
}

#[cfg(test)]
mod tests {
    use super::{Day, persian};
    use jiff::civil::date;

    /// Beginnings and ends of Persian years, as almanacs print them.
    #[test]
    fn persian_days_are_those_of_the_almanac() {
        for (day, want) in [
            ((1395, 1, Some(1)), Day::Reckoned(date(2016, 3, 20))),
            ((1399, 12, Some(30)), Day::Reckoned(date(2021, 3, 20))),
            ((1400, 1, Some(1)), Day::Reckoned(date(2021, 3, 21))),
            ((1403, 12, None), Day::Reckoned(date(2025, 3, 20))),
            ((1404, 1, Some(1)), Day::Reckoned(date(2025, 3, 21))),
            ((1404, 7, Some(1)), Day::Reckoned(date(2025, 9, 23))),
            ((1405, 12, None), Day::Reckoned(date(2027, 3, 20))),
            ((1405, 12, Some(30)), Day::Broken),
            ((1407, 6, Some(9)), Day::Reckoned(date(2028, 8, 30))),
            ((1407, 7, Some(31)), Day::Broken),
            ((1407, 13, None), Day::Never),
            ((1450, 4, Some(10)), Day::Never),
        ] {
            let (year, month, day) = day;
            assert_eq!(persian(year, month, day), want, "{year}/{month}/{day:?}");
        }
    }
}
