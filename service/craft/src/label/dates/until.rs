//! The latest day that a region allows which is no date.
//!
//! Whoever looks at the packs reads better what could not be read, but nothing that cannot stand
//! there: the digits are what they are. Every way in which they tell a year counts, and the latest
//! that remains is the bound. A year written whole leaves no room for one of two digits. Letters
//! are digits in disguise, dirt or lost digits, each of them everywhere (our rule, no source).

use jiff::civil::Date;

use super::days::{century, names_a_quarter};
use super::groups::{Mark, roman};
use super::{Languages, Reader, digit_for};
use crate::label::fold::{Class, class};

/// Years that packets carry, those of other calendars with what is added to them.
const WHOLE: [(std::ops::RangeInclusive<i16>, i16); 3] =
    [(2000..=2099, 0), (2550..=2599, -543), (1395..=1425, 622)];

/// How far behind its word a date is looked for, in characters: behind the word in a dozen languages.
const REACH: usize = 320;

/// A digit, or none for one that is lost.
type Digit = Option<u8>;

/// What a region says beside the year that is looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Number(Vec<Digit>),
    /// The last month that a name can be.
    Month(u32),
    Quarter(u32),
}

/// How letters among digits are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Letters {
    Apart,
    Digits,
    Dirt,
}

/// The parts of a region, one way of reading it.
#[derive(Debug, Default)]
struct Parts {
    all: Vec<Part>,
    /// How many of them stand before a word that says something else; none if none does.
    near: Option<usize>,
    /// Whether such a word stands anywhere, and whether one leads to the digits.
    words: bool,
    leads: bool,
}

/// A year, whether it is written whole, and the last month that is left for it.
type Year = (i16, bool, Option<u32>);

impl Reader {
    /// The latest day that the digits of a region allow; none if they tell no year.
    pub(crate) fn until(&self, region: &[char], speaks: Languages, as_of: Date) -> Option<Date> {
        let region = region.get(..REACH).unwrap_or(region);
        let parts = |text: &[char], letters| self.parts(text, speaks, letters);
        let plain = parts(region, Letters::Apart).years(as_of);
        let whole: Vec<Year> = plain.iter().copied().filter(|year| year.1).collect();
        match whole.as_slice() {
            [] => {}
            [_] => return latest(&whole),
            // Several dates, and nothing says which is the expiry: the least of those nearest to it.
            _ => return self.least(region, speaks, as_of).or_else(|| latest(&whole)),
        }
        let as_printed = parts(region, Letters::Apart);
        if let Some(day) = plain_pair(&as_printed, as_of) {
            return Some(day);
        }
        let mut years = plain;
        for letters in [Letters::Digits, Letters::Dirt] {
            years.extend(parts(region, letters).years(as_of));
        }
        // The blanks of `20 6 31` part a day, a month and a year: without them it is a year and a month
        // of another century.
        if as_printed.is_day() {
            return latest(&years);
        }
        // `2 0 2 6 - 0 3`: blanks between digits are none of the date's.
        let joined = parts(&without_blanks(region), Letters::Apart).years(as_of);
        years.extend(joined.into_iter().filter(|year| year.1));
        let spaced = parts(&without_lone_blanks(region), Letters::Apart).years(as_of);
        years.extend(spaced);
        latest(&years)
    }

    /// The least of the days that the dates of the first line with a year written whole allow: a word
    /// or another year begins the next date.
    fn least(&self, region: &[char], speaks: Languages, as_of: Date) -> Option<Date> {
        let parts = |text: &[char]| self.parts(text, speaks, Letters::Apart);
        let whole = |parts: &Parts| {
            let years = parts.years(as_of).into_iter();
            years.filter(|year| year.1).collect::<Vec<_>>()
        };
        region.split(|c| *c == '\n').find_map(|line| {
            let mut dates = vec![Vec::new()];
            let mut told = false;
            for text in line.split(|c| c.is_whitespace()) {
                let part = parts(text);
                let (word, year) = (part.words && part.all.is_empty(), !whole(&part).is_empty());
                if word || year && told {
                    dates.push(Vec::new());
                    told = false;
                }
                told |= year;
                let date = dates.last_mut().filter(|_| !word);
                date.into_iter().for_each(|date| date.extend([' '].iter().chain(text)));
            }
            dates.iter().filter_map(|date| latest(&whole(&parts(date)))).min()
        })
    }

    fn parts(&self, text: &[char], speaks: Languages, letters: Letters) -> Parts {
        let quarters = names_a_quarter(text);
        let mut found = Parts::default();
        let mut at = 0;
        while let Some(&here) = text.get(at) {
            if let Some((quarter, end)) = quarter(text, at).filter(|_| quarters) {
                found.all.push(Part::Quarter(quarter));
                at = end;
            } else if let Some((month, end)) = week(text, at) {
                found.all.push(Part::Month(month));
                at = end;
            } else if let Some((digits, end)) = number(text, at, letters) {
                found.all.push(Part::Number(digits));
                at = end;
            } else if class(here) == Class::Other {
                at += 1;
            } else if let Some(mark) = self.marks.at(text, at) {
                // A period is no year.
                if matches!(mark.means, Mark::Years | Mark::Months) {
                    found.all.pop();
                    found.word();
                }
                at = mark.end.max(at + 1);
            } else if let Some((mask, end)) = self.months.at(text, at, speaks) {
                found.all.push(Part::Month((mask & 0xfff).max(1).ilog2() + 1));
                at = end.max(at + 1);
            } else if let Some((month, end)) = roman_apart(text, at) {
                found.all.push(Part::Month(u32::from(month)));
                at = end;
            } else if let Some(end) = self.filler(text, at, here) {
                at = end.max(at + 1);
            } else {
                let run = text[at..].iter().take_while(|c| class(**c) == class(here)).count();
                if 1 < run {
                    found.word();
                }
                at += run;
            }
        }
        found
    }
}

/// The end of the latest year that is written whole in what stands unread.
pub(crate) fn last_year(unread: &[char]) -> Option<Date> {
    let runs = unread.split(|c| !c.is_ascii_digit());
    let whole = runs.filter(|run| matches!(run.len(), 4 | 6 | 8) && run.starts_with(&['2', '0']));
    let year = |run: &[char]| run.get(..4)?.iter().collect::<String>().parse().ok();
    whole.filter_map(year).max().map(|year| Date::constant(year, 12, 31))
}

impl Parts {
    /// A word that says something else: before the first digit it leads to them.
    fn word(&mut self) {
        self.words = true;
        self.leads |= self.all.is_empty();
        if !self.all.is_empty() {
            self.near.get_or_insert(self.all.len());
        }
    }

    /// Whether a day and a month, in either order, and a year of two digits are all that is told.
    fn is_day(&self) -> bool {
        let [Part::Number(one), Part::Number(other), Part::Number(year)] = self.all.as_slice()
        else {
            return false;
        };
        let [one, other] = [one, other].map(|digits| short_number(digits));
        let pair = one.zip(other).is_some_and(|(one, other)| one.min(other) <= 12);
        pair && year.len() == 2 && year.iter().all(Option::is_some)
    }

    /// Every year that the parts tell.
    fn years(&self, as_of: Date) -> Vec<Year> {
        let mut years = Vec::new();
        for (at, part) in self.all.iter().enumerate() {
            let Part::Number(digits) = part else { continue };
            for (year, whole, left) in in_number(digits, as_of) {
                if !whole && self.near.is_some_and(|near| near <= at) {
                    continue;
                }
                // What stands before the first word is a date of its own.
                let near = self.near.filter(|near| at < *near && !self.leads);
                let stop = near.unwrap_or(self.all.len());
                let rest = self.all.iter().enumerate().take(stop);
                let rest = rest.filter(|(other, _)| *other != at);
                let rest: Vec<Part> = rest
                    .map(|(_, part)| part.clone())
                    .chain(left.into_iter().map(Part::Number))
                    .collect();
                let told = !self.words || near.is_some();
                years.push((year, whole, if told { month(&rest) } else { None }));
            }
        }
        years
    }
}

/// A month and the last digit of a year, in either order: the latest that both can be.
fn plain_pair(parts: &Parts, as_of: Date) -> Option<Date> {
    let [Part::Number(one), Part::Number(other)] = parts.all.as_slice() else { return None };
    let (&[Some(one)], &[Some(other)]) = (one.as_slice(), other.as_slice()) else { return None };
    let day = |month: u8, digit: u8| {
        let year = (-5..5).map(|n| as_of.year() + n).find(|y| y % 10 == i16::from(digit))?;
        Some(Date::new(year, i8::try_from(month).ok()?, 1).ok()?.last_of_month())
    };
    [day(one, other), day(other, one)].into_iter().flatten().max().filter(|_| !parts.words)
}

/// The last month of a week `W26` that begins here, and where it ends.
fn week(text: &[char], at: usize) -> Option<(u32, usize)> {
    let apart = at.checked_sub(1).is_none_or(|i| class(text[i]) != Class::Letter);
    let names = [&['W'][..], &['K', 'W'], &['C', 'W'], &['W', 'K']];
    let name = names.into_iter().rev().find(|name| text[at..].starts_with(name) && apart)?;
    let from = at + name.len();
    let from = from + usize::from(text.get(from) == Some(&' '));
    let digits: String = text[from..].iter().take_while(|c| c.is_ascii_digit()).collect();
    let week: i32 = digits.parse().ok().filter(|week| (1..=53).contains(week))?;
    // The first week ends on the tenth of January at the latest.
    let last = Date::constant(2027, 1, 1).checked_add(jiff::Span::new().days(week * 7 + 2)).ok()?;
    let month = if last.year() == 2027 { u32::try_from(last.month()).ok()? } else { 12 };
    (digits.len() < 3).then_some((month, from + digits.len()))
}

/// The last day of the latest of these years.
fn latest(years: &[Year]) -> Option<Date> {
    let last = |(year, _, month): &Year| {
        let month = month.and_then(|month| i8::try_from(month).ok()).unwrap_or(12);
        Date::new(*year, month, 1).ok().map(Date::last_of_month)
    };
    years.iter().filter_map(last).max()
}

/// What one or two digits tell that may be a day; none if one of them is lost.
fn short_number(digits: &[Digit]) -> Option<u32> {
    let value = |n: u32, digit: &Digit| digit.map(|digit| n * 10 + u32::from(digit));
    let short = Some(digits).filter(|digits| digits.len() <= 2)?;
    short.iter().try_fold(0, value).filter(|value| (1..=31).contains(value))
}

/// The last month that the rest of a date leaves; none if it may be any.
fn month(rest: &[Part]) -> Option<u32> {
    let is_month = |value: &u32| *value <= 12;
    match rest {
        [Part::Quarter(quarter)] => Some(quarter * 3),
        [Part::Month(month)]
        | [Part::Month(month), Part::Number(_)]
        | [Part::Number(_), Part::Month(month)] => Some(*month),
        [Part::Number(one)] => short_number(one).filter(is_month),
        [Part::Number(one), Part::Number(other)] => {
            let both = [short_number(one)?, short_number(other)?];
            both.into_iter().filter(is_month).max()
        }
        _ => None,
    }
}

/// The years that one run of digits can tell, and what of it is left then.
fn in_number(digits: &[Digit], as_of: Date) -> Vec<(i16, bool, Vec<Vec<Digit>>)> {
    let cut = |from: usize, to: usize| digits[from..to].to_vec();
    let left = |parts: &[(usize, usize)]| {
        parts.iter().filter(|part| part.0 < part.1).map(|part| cut(part.0, part.1)).collect()
    };
    let len = digits.len();
    let windows: &[usize] = match len {
        4 => &[0],
        5 => &[0, 1],
        6 => &[0, 2],
        8 => &[0, 4],
        _ => &[],
    };
    for at in windows {
        if let Some(year) = whole_year(&digits[*at..at + 4]) {
            let parts = if len == 8 && *at == 4 {
                vec![(0, 2), (2, 4)]
            } else if len == 8 {
                vec![(4, 6), (6, 8)]
            } else {
                vec![(0, *at), (at + 4, len)]
            };
            return vec![(year, true, left(&parts))];
        }
    }
    let pairs: &[usize] = match len {
        2 => &[0],
        3 => &[0, 1],
        4 => &[0, 2],
        6 => &[0, 2, 4],
        _ => &[],
    };
    let short = |at: &usize| {
        let year = short_year(&digits[*at..at + 2], as_of)?;
        let parts: Vec<_> = if len == 6 {
            [0, 2, 4].into_iter().filter(|other| other != at).map(|at| (at, at + 2)).collect()
        } else {
            vec![(0, *at), (at + 2, len)]
        };
        Some((year, false, left(&parts)))
    };
    pairs.iter().filter_map(short).collect()
}

/// Every number that digits can be of which some are lost.
fn values(digits: &[Digit]) -> Vec<i16> {
    digits.iter().fold(vec![0], |all, digit| {
        let each = digit.map_or(0..=9, |digit| digit..=digit);
        all.into_iter().flat_map(|n| each.clone().map(move |d| n * 10 + i16::from(d))).collect()
    })
}

fn whole_year(digits: &[Digit]) -> Option<i16> {
    let of = |value: i16| {
        let (_, add) = WHOLE.iter().find(|(years, _)| years.contains(&value))?;
        Some(value + add)
    };
    // Where the first two are lost any number is one.
    let told = digits.iter().take(2).all(Option::is_some);
    values(digits).into_iter().filter(|_| told).filter_map(of).max()
}

fn short_year(digits: &[Digit], as_of: Date) -> Option<i16> {
    values(digits).into_iter().map(|year| century(year, as_of)).max()
}

/// A run of digits that begins here, and where it ends; letters and lost digits in it as told.
fn number(text: &[char], at: usize, letters: Letters) -> Option<(Vec<Digit>, usize)> {
    let digit = |c: char| c.to_digit(10).and_then(|digit| u8::try_from(digit).ok());
    let lost = |c: char| matches!(c, '?' | '*' | '…' | '□');
    let plain = text[at..].iter().take_while(|c| c.is_ascii_digit()).count();
    let run = text[at..].iter().take_while(|c| c.is_ascii_alphanumeric() || lost(**c)).count();
    let run = &text[at..at + run];
    let begins = at.checked_sub(1).is_none_or(|i| class(text[i]) == Class::Other);
    let words = run.windows(2).any(|two| two.iter().all(char::is_ascii_alphabetic));
    let digits = run.iter().filter(|c| c.is_ascii_digit()).count();
    let mixed = begins && !words && digits < run.len() && run.len() <= 2 * digits;
    if letters == Letters::Apart || !mixed {
        let end = at + plain;
        return (0 < plain).then(|| (text[at..end].iter().map(|c| digit(*c)).collect(), end));
    }
    let read: Vec<Digit> = match letters {
        Letters::Dirt => run.iter().filter(|c| c.is_ascii_digit()).map(|c| digit(*c)).collect(),
        Letters::Digits | Letters::Apart => run.iter().map(|c| disguised(*c)).collect(),
    };
    Some((read, at + run.len()))
}

/// The digit that stands there or that a letter may be; none if it may be any.
fn disguised(c: char) -> Digit {
    let digit = match c {
        'G' => '6',
        _ => u8::try_from(c).map_or(c, |c| char::from(digit_for(c))),
    };
    digit.to_digit(10).and_then(|digit| u8::try_from(digit).ok())
}

/// `Q1` or `1Q` that begins here, and where it ends.
fn quarter(text: &[char], at: usize) -> Option<(u32, usize)> {
    let digit = |at: usize| text.get(at).is_some_and(char::is_ascii_digit);
    match text.get(at..at + 2)? {
        ['Q', number @ '1'..='4'] if !digit(at + 2) => number.to_digit(10),
        [number @ '1'..='4', 'Q'] if !at.checked_sub(1).is_some_and(digit) => number.to_digit(10),
        _ => None,
    }
    .map(|number| (number, at + 2))
}

fn roman_apart(text: &[char], at: usize) -> Option<(u8, usize)> {
    let apart = at.checked_sub(1).is_none_or(|i| class(text[i]) == Class::Other);
    let (number, end) = roman(text, at).filter(|_| apart)?;
    text.get(end).is_none_or(|c| class(*c) == Class::Other).then_some((number, end))
}

/// A region without the blanks between digits.
fn without_blanks(region: &[char]) -> Vec<char> {
    without(region, |_, _| true)
}

/// A region without the blanks between digits that stand alone.
fn without_lone_blanks(region: &[char]) -> Vec<char> {
    let lone = |at: usize| {
        let beside = [at.checked_sub(1), Some(at + 1)].into_iter().flatten();
        !beside.filter_map(|i| region.get(i)).any(char::is_ascii_digit)
    };
    without(region, |before, behind| lone(before) && lone(behind))
}

/// A region without the blanks between two digits at places of which something holds.
fn without(region: &[char], of: impl Fn(usize, usize) -> bool) -> Vec<char> {
    let digit = |c: &char| c.is_ascii_digit();
    let dropped = |at: usize| {
        let gap = |c: &char| matches!(c, ' ' | '\t');
        let before = region[..at].iter().rposition(|c| !gap(c));
        let behind = region[at..].iter().position(|c| !gap(c)).map(|more| at + more);
        before.zip(behind).is_some_and(|(before, behind)| {
            gap(&region[at])
                && digit(&region[before])
                && digit(&region[behind])
                && of(before, behind)
        })
    };
    (0..region.len()).filter(|at| !dropped(*at)).map(|at| region[at]).collect()
}
