//! Dates as printed: every form, with every reading, never one guessed.
//!
//! Up to three groups of digits or month names are read; what their shape
//! allows is listed, and the earliest day is what counts for fitness:
//!
//! ```text
//! date    = ymd / ym / my / dmy / year
//! ymd     = 4DIGIT sep 1*2DIGIT sep 1*2DIGIT / 8DIGIT
//! dmy     = 1*2DIGIT sep 1*2DIGIT sep 4DIGIT       ; day/month or month/day
//! ym      = 4DIGIT sep 1*2DIGIT / 6DIGIT           ; end of the month
//! my      = 1*2DIGIT sep 4DIGIT / month year       ; end of the month
//! short   = 2DIGIT sep 2DIGIT / 6DIGIT / 4DIGIT    ; every order that exists
//! sep     = "-" / "/" / "." / blank
//! ```
//!
//! "After the end of the year, month or day shown" (ISO 15223-1, 5.1.4). A
//! two-digit year lies from 49 years back to 50 ahead (GS1, section 7.12).

use jiff::civil::Date;

use super::tables::Month;

/// How much of the day was told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Precision {
    /// The day.
    Day,
    /// The month.
    Month,
    /// The year.
    Year,
}

impl Precision {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Month => "month",
            Self::Year => "year",
        }
    }
}

/// Every reading of one printed date; the earliest first.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct PrintedDate {
    /// Readings, earliest first, each at its last usable day.
    pub(crate) readings: Vec<(Date, Precision)>,
    /// Whether a person should confirm it although one reading is left.
    pub(crate) doubtful: bool,
}

impl PrintedDate {
    fn add(&mut self, date: Option<Date>, precision: Precision) {
        let Some(date) = date else { return };
        let last = match precision {
            Precision::Day => date,
            Precision::Month => last_of_month(date),
            Precision::Year => Date::new(date.year(), 12, 31).unwrap_or(date),
        };
        if !self.readings.iter().any(|r| r.0 == last) {
            self.readings.push((last, precision));
            self.readings.sort_unstable();
        }
    }
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

/// The last day of the date's month.
pub(crate) fn last_of_month(date: Date) -> Date {
    date.last_of_month()
}

/// The last day of the month before the date's month.
pub(crate) fn last_of_month_before(date: Date) -> Date {
    date.first_of_month().yesterday().unwrap_or(date)
}

#[derive(Debug, Clone, Copy)]
enum Group {
    /// Value, number of digits.
    Digits(u32, usize),
    /// Month of that number.
    Name(i8),
}

/// Reads a date at the beginning of the text; how far it reaches.
pub(crate) fn read(text: &[u8], months: &[Month], as_of: Date) -> Option<(PrintedDate, usize)> {
    if let Some(found) = read_groups(text, months, as_of) {
        return Some(found);
    }
    // Letters that OCR puts for digits, tried only if nothing else fits.
    let mut folded: Vec<u8> = text.iter().take(24).copied().collect();
    for i in 0..folded.len() {
        let near = (0 < i && folded[i - 1].is_ascii_digit())
            || folded.get(i + 1).is_some_and(u8::is_ascii_digit);
        if near || i == 0 {
            folded[i] = digit_for(folded[i]);
        }
    }
    if folded == text[..folded.len()] {
        return None;
    }
    let (mut date, end) = read_groups(&folded, months, as_of)?;
    date.doubtful = true;
    Some((date, end))
}

/// The digit that OCR takes this letter for.
pub(crate) fn digit_for(letter: u8) -> u8 {
    match letter {
        b'O' | b'Q' | b'D' => b'0',
        b'I' | b'L' => b'1',
        b'Z' => b'2',
        b'S' => b'5',
        b'B' => b'8',
        other => other,
    }
}

fn read_groups(text: &[u8], months: &[Month], as_of: Date) -> Option<(PrintedDate, usize)> {
    let (groups, ends) = groups(text, months);
    // The longest run of groups that is a date; what follows is not its.
    for count in (1..=groups.len()).rev() {
        let boundary = text.get(ends[count - 1]).is_none_or(|b| !b.is_ascii_alphanumeric());
        let date = readings(&groups[..count], as_of);
        if boundary && !date.readings.is_empty() {
            return Some((date, ends[count - 1]));
        }
    }
    None
}

/// Up to three groups and where each ends.
fn groups(text: &[u8], months: &[Month]) -> (Vec<Group>, Vec<usize>) {
    let (mut groups, mut ends) = (Vec::with_capacity(3), Vec::with_capacity(3));
    let mut at = 0;
    let mut sign: Option<u8> = None;
    while groups.len() < 3 {
        let start = at;
        let mut between = None;
        if !groups.is_empty() {
            while text.get(at).is_some_and(|b| matches!(b, b'-' | b'/' | b'.' | b' ' | b',')) {
                between = Some(between.filter(|b| *b != b' ').unwrap_or(text[at]));
                at += 1;
            }
        }
        let Some((group, end)) = group(&text[at..], months) else { break };
        let named =
            matches!(group, Group::Name(_)) || groups.iter().any(|g| matches!(g, Group::Name(_)));
        // Digits belong together if one sign stands between them throughout;
        // a blank holds a date together only after a year of four digits.
        let together = named
            || match (groups.first(), between, sign) {
                (None, _, _) => true,
                (Some(_), None, _) => false,
                (Some(Group::Digits(_, 4)), Some(b' '), None | Some(b' ')) => true,
                (Some(_), Some(b' '), _) => false,
                (Some(_), Some(_), None) => true,
                (Some(_), Some(b), Some(before)) => b == before,
            };
        if !together || 3 < at - start {
            break;
        }
        if !named {
            sign = between.or(sign);
        }
        at += end;
        groups.push(group);
        ends.push(at);
    }
    (groups, ends)
}

fn group(text: &[u8], months: &[Month]) -> Option<(Group, usize)> {
    let digits = text.iter().take_while(|b| b.is_ascii_digit()).count();
    if (1..=8).contains(&digits) {
        let value = text[..digits].iter().fold(0, |n, b| n * 10 + u32::from(b - b'0'));
        return Some((Group::Digits(value, digits), digits));
    }
    let letters = text.iter().take_while(|b| b.is_ascii_alphabetic()).count();
    let month = months.iter().find(|m| m.words.iter().any(|w| w.as_bytes() == &text[..letters]))?;
    (0 < digits || 0 < letters).then_some((Group::Name(month.number), letters))
}

fn readings(groups: &[Group], as_of: Date) -> PrintedDate {
    let mut date = PrintedDate::default();
    match groups {
        [Group::Digits(n, digits)] => one_group(*n, *digits, as_of, &mut date),
        [Group::Digits(a, 4), Group::Digits(b, 1 | 2)] => {
            date.add(ymd(*a, *b, 1), Precision::Month);
        }
        [Group::Digits(a, 1 | 2), Group::Digits(b, 4)] => {
            date.add(ymd(*b, *a, 1), Precision::Month);
        }
        [Group::Digits(a, 2), Group::Digits(b, 2)] => {
            date.add(short(*a, *b, 1, as_of), Precision::Month);
            date.add(short(*b, *a, 1, as_of), Precision::Month);
            date.doubtful = true;
        }
        [Group::Digits(a, 4), Group::Digits(b, 1 | 2), Group::Digits(c, 1 | 2)] => {
            date.add(ymd(*a, *b, *c), Precision::Day);
        }
        [Group::Digits(a, 1 | 2), Group::Digits(b, 1 | 2), Group::Digits(c, 4)] => {
            date.add(ymd(*c, *b, *a), Precision::Day);
            date.add(ymd(*c, *a, *b), Precision::Day);
        }
        [Group::Digits(a, 2), Group::Digits(b, 2), Group::Digits(c, 2)] => {
            date.add(short(*a, *b, *c, as_of), Precision::Day);
            date.add(short(*c, *b, *a, as_of), Precision::Day);
            date.add(short(*c, *a, *b, as_of), Precision::Day);
        }
        _ => named(groups, as_of, &mut date),
    }
    date
}

/// Forms with the month's name.
fn named(groups: &[Group], as_of: Date, date: &mut PrintedDate) {
    let month = |m: i8| u32::try_from(m).unwrap_or(0);
    match *groups {
        [Group::Name(m), Group::Digits(y, 4)] | [Group::Digits(y, 4), Group::Name(m)] => {
            date.add(ymd(y, month(m), 1), Precision::Month);
        }
        [Group::Name(m), Group::Digits(y, 2)] | [Group::Digits(y, 2), Group::Name(m)] => {
            date.add(short(y, month(m), 1, as_of), Precision::Month);
            date.doubtful = true;
        }
        [Group::Digits(d, 1 | 2), Group::Name(m), Group::Digits(y, 4)]
        | [Group::Digits(y, 4), Group::Name(m), Group::Digits(d, 1 | 2)]
        | [Group::Name(m), Group::Digits(d, 1 | 2), Group::Digits(y, 4)] => {
            date.add(ymd(y, month(m), d), Precision::Day);
        }
        [Group::Digits(a, 2), Group::Name(m), Group::Digits(b, 2)] => {
            date.add(short(a, month(m), b, as_of), Precision::Day);
            date.add(short(b, month(m), a, as_of), Precision::Day);
        }
        _ => {}
    }
}

/// Digits without anything between them.
fn one_group(n: u32, digits: usize, as_of: Date, date: &mut PrintedDate) {
    let (high, middle, low) = (n / 10_000, n / 100 % 100, n % 100);
    match digits {
        8 => {
            date.add(ymd(high, middle, low), Precision::Day);
            if date.readings.is_empty() {
                let (a, b, year) = (n / 1_000_000, n / 10_000 % 100, n % 10_000);
                date.add(ymd(year, b, a), Precision::Day);
                date.add(ymd(year, a, b), Precision::Day);
            }
        }
        6 => {
            date.add(ymd(n / 100, low, 1), Precision::Month);
            // Nobody writes the day first and then a month that looks like 20YYMM.
            if date.readings.is_empty() {
                date.add(ymd(n % 10_000, high, 1), Precision::Month);
                date.add(short(low, middle, high, as_of), Precision::Day);
            }
            date.add(short(high, middle, low, as_of), Precision::Day);
        }
        4 => {
            date.add(ymd(n, 1, 1), Precision::Year);
            date.add(short(middle, low, 1, as_of), Precision::Month);
            date.add(short(low, middle, 1, as_of), Precision::Month);
            date.doubtful = date.readings.first().is_some_and(|r| r.1 != Precision::Year);
        }
        _ => {}
    }
}

/// A year of four digits that a packet can carry.
fn ymd(year: u32, month: u32, day: u32) -> Option<Date> {
    if !(1970..=2099).contains(&year) {
        return None;
    }
    let year = i16::try_from(year).ok()?;
    Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
}

/// A year of two digits.
fn short(year: u32, month: u32, day: u32, as_of: Date) -> Option<Date> {
    let year = century(i16::try_from(year).ok().filter(|y| *y < 100)?, as_of);
    Date::new(year, i8::try_from(month).ok()?, i8::try_from(day).ok()?).ok()
}
