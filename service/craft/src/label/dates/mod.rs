//! Dates as printed: every form, with every reading, never one guessed.
//!
//! ```text
//! region  = what stands between a word and the next word of a field
//! date    = ymd / ym / my / dmy / named / marked / era / short / year
//! ymd     = 4DIGIT sep 1*2DIGIT sep 1*2DIGIT / 8DIGIT
//! dmy     = 1*2DIGIT sep 1*2DIGIT sep 4DIGIT       ; day/month or month/day
//! ym      = 4DIGIT sep 1*2DIGIT / 6DIGIT           ; end of the month
//! my      = 1*2DIGIT sep 4DIGIT                    ; end of the month
//! named   = [ day ] month year in any order        ; names of every language
//! marked  = year "年" [ month "月" [ day "日" ] ]    ; and its like
//! short   = 2DIGIT sep 2DIGIT / 6DIGIT / 4DIGIT    ; every order that exists
//! sep     = "-" / "/" / "." / blank
//! ```
//!
//! "After the end of the year, month or day shown" (ISO 15223-1, 5.1.4). A
//! two-digit year lies from 49 years back to 50 ahead (GS1, section 7.12).
//!
//! What keeps a date from being read later than it is printed (our rules):
//!
//! - Every character of the region is used by the reading or known to mean
//!   nothing. A rest with a digit or a month in it makes a whole day doubtful
//!   and leaves anything less unread: a precision never falls unnoticed. A year
//!   alone is no whole date of a sterile pack, and is asked about.
//! - A part that cannot be is no reason to try another order or to roll over.
//! - A line break, a strange sign or a blank inside makes it doubtful; so does
//!   a part that one stray digit could have made.
//! - Letters for digits are tried only if nothing else fits, each as a digit
//!   and as dirt, and the earliest counts.

mod days;
mod groups;
mod months;
mod named;
mod until;

pub(crate) use days::century;
pub(crate) use groups::{Group, Groups, Mark, Piece, Reader};
pub(crate) use months::{Language, Languages, Months};
pub(crate) use until::last_year;

pub(crate) use etui_schema::vocabulary::label::Precision;
use jiff::civil::Date;

use self::days::{Day, is_persian, persian, short, ymd};
use self::named::with_name;

/// Every reading of one printed date.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(crate) struct PrintedDate {
    /// Readings, each at its last usable day; the earliest of those that lie
    /// near the day asked about first.
    pub(crate) readings: Vec<(Date, Precision)>,
    /// Whether a person should confirm it although one reading is left.
    pub(crate) doubtful: bool,
    /// Letters were read as digits.
    pub(crate) repaired: bool,
    /// A period in months that stands in place of a day.
    pub(crate) period_months: Option<i16>,
    /// The latest day of each of two dates, the lesser of them, where another stands behind.
    pub(crate) least: Option<Date>,
    /// In one order it is a day that no calendar has.
    broken: bool,
}

/// Several readings of one date: those within this time count before others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Window {
    pub(crate) years_back: i16,
    pub(crate) years_ahead: i16,
}

impl Window {
    /// Whether a date lies outside.
    pub(crate) fn outside(self, date: Date, as_of: Date) -> bool {
        let years = date.year() - as_of.year();
        years < -self.years_back || self.years_ahead < years
    }
}

impl PrintedDate {
    fn add(&mut self, day: Day, precision: Precision) {
        let date = match day {
            Day::Is(date) => date,
            Day::Reckoned(date) => {
                self.doubtful = true;
                date
            }
            Day::Broken => {
                self.broken = true;
                return;
            }
            Day::Never => return,
        };
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

    /// A date of the Persian calendar, at its last day already.
    fn add_persian(&mut self, year: u32, month: u32, day: Option<u32>) {
        match persian(year, month, day) {
            Day::Is(date) | Day::Reckoned(date) => {
                let precision = if day.is_some() { Precision::Day } else { Precision::Month };
                self.readings.push((date, precision));
                self.doubtful = true;
            }
            Day::Broken => self.broken = true,
            Day::Never => {}
        }
    }

    fn is_read(&self) -> bool {
        !self.readings.is_empty() || self.period_months.is_some()
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

/// Reads the groups of a region; none if they are no date, or not surely.
pub(crate) fn evaluate(found: &Groups, as_of: Date) -> Option<PrintedDate> {
    let groups = found.all.as_slice();
    let mut date = readings(groups, as_of);
    if date.is_read() {
        let whole = date.readings.iter().all(|r| r.1 == Precision::Day) && has_year(groups);
        let year = date.readings.iter().any(|r| r.1 == Precision::Year);
        if found.rest && !whole || found.words && (year || date.period_months.is_some()) {
            return None;
        }
        date.doubtful |= found.rest || found.odd;
        return Some(date);
    }
    // A day that is whole before the rest: nothing behind it makes it earlier.
    let front = groups.get(..3)?;
    if front.iter().any(|g| matches!(g.piece, Piece::Roman(_))) {
        return None;
    }
    let mut date = readings(front, as_of);
    let whole = date.readings.iter().all(|r| r.1 == Precision::Day) && has_year(front);
    date.doubtful = true;
    let numbers = front.iter().all(|g| matches!(g.piece, Piece::Digits(..)) && g.mark.is_none());
    let told = whole && 3 < groups.len() && (!numbers || is_clean(front));
    // Another whole day behind it: the earlier counts.
    if let Some(behind) = groups.get(3..6) {
        let latest = |all: &[(Date, Precision)]| all.iter().map(|reading| reading.0).max();
        let mut behind = readings(behind, as_of).readings;
        behind.retain(|reading| reading.1 == Precision::Day);
        date.least = latest(&date.readings).min(latest(&behind).or(Some(Date::MAX)));
        date.readings.extend(behind);
        date.readings.sort_unstable();
    }
    (date.is_read() && told).then_some(date)
}

fn has_year(groups: &[Group]) -> bool {
    let whole = |g: &Group| match g.piece {
        Piece::Digits(_, digits) => matches!(digits, 4 | 8) || g.mark == Some(Mark::Year),
        Piece::Name(_) | Piece::Roman(_) | Piece::Era(_) => false,
    };
    groups.iter().any(whole)
}

/// What the shape of the groups allows.
pub(crate) fn readings(groups: &[Group], as_of: Date) -> PrintedDate {
    let mut date = PrintedDate::default();
    if let [Group { piece: Piece::Digits(n, 1 | 2), mark: Some(mark), .. }] = groups {
        let months = match mark {
            Mark::Year | Mark::Years => 12,
            Mark::Months => 1,
            Mark::Month | Mark::Day => 0,
        };
        let period = i16::try_from(*n).ok().map(|n| n * months).filter(|n| 0 < *n);
        date.period_months = period;
        date.doubtful = true;
        return date;
    }
    if groups.iter().any(|g| matches!(g.mark, Some(Mark::Years | Mark::Months))) {
        return date;
    }
    // `15.08.2029 г.`: the word for a year behind the year, and nothing else is marked.
    if let Some(plain) = without_last_mark(groups) {
        return readings(&plain, as_of);
    }
    let era = groups.iter().any(|g| matches!(g.piece, Piece::Era(_)));
    let marked = groups.iter().any(|g| g.mark.is_some());
    let named = groups.iter().any(|g| matches!(g.piece, Piece::Name(_) | Piece::Roman(_)));
    if let Some(groups) = named::with_marked_month(groups) {
        with_name(&groups, as_of, &mut date);
    } else if era || marked && !(named && groups.iter().all(|g| g.mark != Some(Mark::Month))) {
        marks(groups, as_of, &mut date);
    } else if named {
        with_name(groups, as_of, &mut date);
    } else {
        numbers(groups, as_of, &mut date);
    }
    if date.broken {
        date.readings.clear();
    }
    date
}

fn without_last_mark(groups: &[Group]) -> Option<Vec<Group>> {
    let (last, before) = groups.split_last()?;
    let year = matches!(last.piece, Piece::Digits(_, 4)) && last.mark == Some(Mark::Year);
    let plain = |g: &Group| matches!(g.piece, Piece::Digits(_, 1 | 2)) && g.mark.is_none();
    let plain = year && !before.is_empty() && before.iter().all(plain) && is_clean(groups);
    plain.then(|| before.iter().copied().chain([Group { mark: None, ..*last }]).collect())
}

/// Year, month and day, each with its mark behind it.
fn marks(groups: &[Group], as_of: Date, date: &mut PrintedDate) {
    let (offset, groups) = match groups {
        [Group { piece: Piece::Era(offset), .. }, rest @ ..] => (Some(*offset), rest),
        _ => (None, groups),
    };
    let digits = |g: &Group| match g.piece {
        Piece::Digits(n, 1..=4) => Some(n),
        Piece::Name(mask) if mask.count_ones() == 1 && mask < 1 << 12 => {
            Some(mask.trailing_zeros() + 1)
        }
        Piece::Digits(..) | Piece::Name(_) | Piece::Roman(_) | Piece::Era(_) => None,
    };
    let [first, rest @ ..] = groups else { return };
    let Some(n) = digits(first) else { return };
    let year = match (offset, first.piece) {
        (Some(offset), _) => u32::try_from(i64::from(n) + i64::from(offset)).unwrap_or(0),
        (None, Piece::Digits(n, 4)) => n,
        _ => {
            let short = i16::try_from(n).unwrap_or(0);
            date.doubtful = true;
            u32::try_from(century(short, as_of)).unwrap_or(0)
        }
    };
    date.doubtful |= offset.is_some();
    let right = |g: &Group, mark| g.mark == Some(mark) || matches!(g.piece, Piece::Name(_));
    // A mark of another part: something stands where it does not belong.
    let wrong =
        |at: usize, mark| rest.get(at).is_some_and(|g: &Group| g.mark.is_some() && !right(g, mark));
    if wrong(0, Mark::Month) || wrong(1, Mark::Day) {
        return;
    }
    if offset.is_none() && first.mark != Some(Mark::Year) {
        return;
    }
    match rest {
        [] => date.add(ymd(year, 1, 1), Precision::Year),
        [month] => {
            date.doubtful |= !right(month, Mark::Month);
            date.add(digits(month).map_or(Day::Never, |m| ymd(year, m, 1)), Precision::Month);
        }
        [month, day] => {
            date.doubtful |= !right(month, Mark::Month) || !right(day, Mark::Day);
            let told = digits(month).zip(digits(day));
            date.add(told.map_or(Day::Never, |(m, d)| ymd(year, m, d)), Precision::Day);
        }
        _ => {}
    }
}

/// Forms of digits alone.
fn numbers(groups: &[Group], as_of: Date, date: &mut PrintedDate) {
    let clean = is_clean(groups);
    let (plain, lone) = (digits_of(groups), lone_digit(groups));
    match *plain.as_slice() {
        [(n, digits)] => one_group(n, digits, as_of, date),
        [(a, 4), (b, 1 | 2)] if is_persian(a) => date.add_persian(a, b, None),
        [(a, 4), (b, 1 | 2), (c, 1 | 2)] if is_persian(a) => date.add_persian(a, b, Some(c)),
        [(a, 4), (b, 1 | 2)] => date.add(ymd(a, b, 1), Precision::Month),
        [(a, 1 | 2), (b, 4)] => date.add(ymd(b, a, 1), Precision::Month),
        [(a, x @ (1 | 2)), (b, y @ (1 | 2))] if 2 < x + y => {
            // A year has two digits, a month may have one: `6/27`.
            date.add(if x == 2 { short(a, b, 1, as_of) } else { Day::Never }, Precision::Month);
            date.add(if y == 2 { short(b, a, 1, as_of) } else { Day::Never }, Precision::Month);
            date.doubtful = true;
        }
        [(a, 4), (b, 1 | 2), (c, 1 | 2)] => {
            date.add(ymd(a, b, c), Precision::Day);
            date.doubtful |= lone && !spaced(groups);
        }
        [(a, 1 | 2), (b, 1 | 2), (c, 4)] => {
            date.add(ymd(c, b, a), Precision::Day);
            date.add(ymd(c, a, b), Precision::Day);
        }
        [(a, x), (b, y), (c, z)] if x.max(y).max(z) <= 2 => {
            date.add(if x == 2 { short(a, b, c, as_of) } else { Day::Never }, Precision::Day);
            date.add(if z == 2 { short(c, b, a, as_of) } else { Day::Never }, Precision::Day);
            date.add(if z == 2 { short(c, a, b, as_of) } else { Day::Never }, Precision::Day);
            date.doubtful = true;
        }
        _ => {}
    }
    date.doubtful |= 1 < groups.len() && !clean;
}

fn digits_of(groups: &[Group]) -> Vec<(u32, usize)> {
    let digits = |g: &Group| match g.piece {
        Piece::Digits(n, digits) => (n, digits),
        Piece::Name(_) | Piece::Roman(_) | Piece::Era(_) => (0, usize::MAX),
    };
    groups.iter().map(digits).collect()
}

/// One sign stands between the groups throughout, or one blank behind a year.
fn is_clean(groups: &[Group]) -> bool {
    let between = groups.get(1..).unwrap_or_default();
    let year_first = matches!(groups.first(), Some(Group { piece: Piece::Digits(_, 4), .. }));
    let sign = between.first().and_then(|g| g.sign);
    between.iter().all(|g| g.sign == sign)
        && (sign.is_some_and(|c| matches!(c, '-' | '/' | '.')) || year_first && !lone_digit(groups))
}

fn lone_digit(groups: &[Group]) -> bool {
    groups.iter().any(|g| matches!(g.piece, Piece::Digits(_, 1)))
}

/// A sign and a blank behind it between all groups, as in Korea.
fn spaced(groups: &[Group]) -> bool {
    groups.iter().skip(1).all(|g| g.sign == Some('.') && g.blank)
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
            date.doubtful |= date.readings.iter().any(|r| r.1 == Precision::Day);
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
