//! Cuts the region behind a date's word into groups, and says what is left.

use jiff::civil::Date;

use super::days::{is_day_in_words, names_a_quarter};
use super::months::{Languages, Months};
use super::{PrintedDate, evaluate};
use crate::label::fields::words::Words;
use crate::label::fold::{Class, SKIP, class, joins};
use crate::label::tables::{DateWords, MonthFile};

/// Most groups that are looked at.
const MOST: usize = 6;
/// Most letters in disguise that are tried.
const DISGUISES: u32 = 4;

/// What stands behind a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Mark {
    Year,
    Month,
    Day,
    /// A period.
    Years,
    /// A period.
    Months,
}

/// What a group is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Piece {
    /// Value, number of digits.
    Digits(u32, usize),
    /// The months that a name can be; bit 0 is January, bit 12 the first of the
    /// Persian year.
    Name(u32),
    /// A Roman number, 1 to 12.
    Roman(u8),
    /// Years to add to the year that follows.
    Era(i16),
}

/// One group, and what stands before it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Group {
    pub(crate) piece: Piece,
    pub(crate) mark: Option<Mark>,
    pub(crate) end: usize,
    /// The sign before it, other than a blank.
    pub(crate) sign: Option<char>,
    pub(crate) blank: bool,
    /// Nothing stands before it.
    pub(crate) glued: bool,
}

/// The groups of a region.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Groups {
    pub(crate) all: Vec<Group>,
    /// A digit, a month or a sign is left that no group took.
    pub(crate) rest: bool,
    /// A word is left.
    pub(crate) words: bool,
    /// A line break or a strange sign stands between groups.
    pub(crate) odd: bool,
    /// Where a word ends that is glued to the last group and means nothing.
    tail: usize,
}

/// What stands between two groups.
#[derive(Debug, Clone, Copy, Default)]
struct Between {
    sign: Option<char>,
    blank: bool,
    breaks: bool,
    odd: bool,
    /// A part that could not be read may have stood there.
    lost: bool,
    end: usize,
}

/// Reads dates.
#[derive(Debug, Clone)]
pub(crate) struct Reader {
    pub(crate) months: Months,
    pub(super) marks: Words<Mark>,
    fillers: Words<()>,
    eras: Words<i16>,
}

impl Reader {
    pub(crate) fn new(months: &MonthFile, words: &DateWords) -> Self {
        let marked = [
            (&words.year, Mark::Year),
            (&words.month, Mark::Month),
            (&words.day, Mark::Day),
            (&words.years, Mark::Years),
            (&words.months, Mark::Months),
        ];
        let marked = marked.iter().flat_map(|(list, mark)| list.iter().map(move |w| (&**w, *mark)));
        let eras = words.era.iter().flat_map(|era| era.words.iter().map(move |w| (&**w, era.add)));
        let exact = usize::MAX;
        Self {
            months: Months::new(months),
            marks: Words::new(marked.map(|(word, mark)| (word, mark, exact))),
            fillers: Words::new(words.filler.iter().map(|w| (&**w, (), exact))),
            eras: Words::new(eras.map(|(word, add)| (word, add, exact))),
        }
    }

    /// The date of a region, and where its last group ends; the end of the
    /// region's last group too if it is no date.
    pub(crate) fn region(
        &self,
        region: &[char],
        glued: bool,
        speaks: Languages,
        as_of: Date,
    ) -> (Option<PrintedDate>, usize) {
        let found = self.groups(region, glued, speaks, MOST);
        let end = found.all.last().map_or(0, |g| g.end.max(found.tail));
        if let Some(date) = evaluate(&found, as_of) {
            return (Some(date), end);
        }
        if names_a_quarter(region) {
            return (None, end);
        }
        match self.disguised(region, glued, speaks, as_of) {
            Some((date, end)) => (Some(date), end),
            None => (None, end),
        }
    }

    /// Cuts a region into at most so many groups.
    pub(crate) fn groups(
        &self,
        text: &[char],
        glued: bool,
        speaks: Languages,
        most: usize,
    ) -> Groups {
        let mut found = Groups::default();
        let mut at = 0;
        loop {
            let between = between(text, at, found.all.is_empty());
            let Some(&here) = text.get(between.end) else {
                found.rest |= hangs(&found, between);
                return found;
            };
            if let Some(end) = self.filler(text, between.end, here) {
                // A sign before a filler still stands between the groups.
                if between.end == at && !found.all.is_empty() && !here.is_ascii() {
                    found.tail = end;
                }
                at = end;
                // One letter of ours may be dirt as well; so is an abbreviation before any number.
                let letter = here.is_ascii()
                    && (end - between.end == 1
                        || found.all.is_empty()
                            && text.get(between.end + 1).is_none_or(|c| joins(*c)));
                found.odd |= between.odd || letter;
                continue;
            }
            let first = found.all.is_empty();
            let era = found.all.last().is_some_and(|g| matches!(g.piece, Piece::Era(_)));
            let part = self.part(text, between.end, speaks, era);
            let (Some((piece, mark, end)), true) = (part, found.all.len() < most) else {
                return self.left(text, between, found, speaks);
            };
            found.odd |= between.odd || between.breaks;
            found.rest |= between.lost && !first;
            found.all.push(Group {
                piece,
                mark,
                end,
                sign: between.sign,
                blank: between.blank,
                glued: if first { glued && between.end == 0 } else { between.end == at },
            });
            at = end;
        }
    }

    /// Where a word that means nothing ends.
    pub(crate) fn filler(&self, text: &[char], at: usize, here: char) -> Option<usize> {
        if class(here) == Class::Digit {
            return None;
        }
        self.fillers.at(text, at).map(|found| found.end)
    }

    /// A group that begins here.
    fn part(
        &self,
        text: &[char],
        at: usize,
        speaks: Languages,
        era: bool,
    ) -> Option<(Piece, Option<Mark>, usize)> {
        let digits = text[at..].iter().take_while(|c| c.is_ascii_digit()).count();
        // Behind an era a year has up to three digits.
        if !(matches!(digits, 0..=2 | 4 | 6 | 8) || era && digits == 3) {
            return None;
        }
        if 0 < digits {
            let value = text[at..at + digits].iter().take(9);
            let value = value.fold(0, |n, c| n * 10 + c.to_digit(10).unwrap_or(0));
            let end = at + digits;
            let next = end + text[end..].iter().take_while(|c| **c == ' ').count();
            // `14 tháng 7 2028` is a day of July and no fourteen months.
            let month = self.months.is_numbered(text, next);
            let mark = self.marks.at(text, next).filter(|_| !month);
            let end = mark.map_or(end, |found| found.end);
            return Some((Piece::Digits(value, digits), mark.map(|f| f.means), end));
        }
        if let Some(found) = self.eras.glued(text, at)
            && text[found.end..]
                .iter()
                .find(|c| **c != ' ' && **c != '.')
                .is_some_and(char::is_ascii_digit)
        {
            return Some((Piece::Era(found.means), None, found.end));
        }
        if let Some((mask, end)) = self.months.at(text, at, speaks) {
            return Some((Piece::Name(mask), None, end));
        }
        // A Roman number stands apart: glued to digits a letter is dirt.
        let apart = at.checked_sub(1).is_none_or(|i| class(text[i]) == Class::Other);
        let (number, end) = roman(text, at).filter(|_| apart)?;
        if text.get(end).is_some_and(|c| class(*c) != Class::Other) {
            return None;
        }
        Some((Piece::Roman(number), None, end))
    }

    /// What is left behind the groups that were taken.
    fn left(
        &self,
        text: &[char],
        between: Between,
        mut found: Groups,
        speaks: Languages,
    ) -> Groups {
        found.rest |= hangs(&found, between) || between.odd;
        found.rest |= between.sign.is_some() && !between.blank;
        let last = found.all.last().map_or(0, |g| g.end);
        found.rest |= between.end == last;
        let mut at = between.end;
        let mut broken = between.breaks;
        while let Some(&here) = text.get(at) {
            broken |= here == '\n';
            if class(here) == Class::Digit {
                // On a line of its own a long number is none of a date.
                let run = text[at..].iter().take_while(|c| c.is_ascii_digit()).count();
                found.rest |= !broken || run <= 4;
                at += run;
                continue;
            }
            found.words |= matches!(class(here), Class::Letter | Class::Sign);
            found.rest |= is_day_in_words(&text[at..]);
            let begins = at == 0 || class(text[at - 1]) == Class::Other;
            found.rest |= begins && self.months.at(text, at, speaks).is_some();
            at += 1;
        }
        found
    }

    /// Letters that OCR puts for digits: each is a digit or dirt.
    fn disguised(
        &self,
        region: &[char],
        glued: bool,
        speaks: Languages,
        as_of: Date,
    ) -> Option<(PrintedDate, usize)> {
        let near = |at: usize| {
            let beside = [at.checked_sub(1), Some(at + 1)];
            beside.into_iter().flatten().any(|i| {
                region.get(i).is_some_and(|c| c.is_ascii_digit() || disguise(*c).is_some())
            })
        };
        let token_digit = |at: usize| {
            let run = |c: &&char| class(**c) != Class::Other;
            let before = region[..at].iter().rev().take_while(run);
            let whole = before.chain(region[at..].iter().take_while(run));
            let (mut digit, mut plain) = (false, true);
            for c in whole {
                digit |= c.is_ascii_digit();
                plain &= c.is_ascii_digit() || disguise(*c).is_some();
            }
            digit && plain
        };
        let places: Vec<usize> = (0..region.len().min(32))
            .filter(|at| disguise(region[*at]).is_some() && near(*at) && token_digit(*at))
            .collect();
        let count = u32::try_from(places.len()).ok().filter(|n| (1..=DISGUISES).contains(n))?;
        let mut best: Option<(PrintedDate, usize)> = None;
        for choice in 0..1_u32 << count {
            let mut text = Vec::with_capacity(region.len());
            for (at, c) in region.iter().enumerate() {
                match places.iter().position(|p| *p == at) {
                    Some(bit) if choice >> bit & 1 == 1 => {}
                    Some(_) => text.extend(disguise(*c)),
                    None => text.push(*c),
                }
            }
            let found = self.groups(&text, glued, speaks, MOST);
            let dropped = usize::try_from(choice.count_ones()).unwrap_or(0);
            let end = found.all.last().map_or(0, |g| g.end + dropped);
            let Some(mut date) = evaluate(&found, as_of) else { continue };
            (date.doubtful, date.repaired) = (true, true);
            match &mut best {
                None => best = Some((date, end)),
                Some((known, known_end)) => {
                    known.readings.extend(date.readings);
                    known.readings.sort_unstable();
                    known.readings.dedup_by_key(|r| r.0);
                    *known_end = end.max(*known_end);
                }
            }
        }
        best
    }
}

/// The digit that a letter may be.
fn disguise(c: char) -> Option<char> {
    let digit = char::from(super::digit_for(u8::try_from(c).ok()?));
    (digit != c).then_some(digit)
}

/// A sign behind the last group, as if more had followed.
fn hangs(found: &Groups, between: Between) -> bool {
    let dotted = found.all.iter().skip(1).any(|g| g.sign == Some('.') && !g.blank);
    !found.all.is_empty()
        && (between.odd && between.sign.is_some()
            || matches!(between.sign, Some('-' | '/'))
            || between.sign == Some('.') && dotted && found.all.len() < 3 && year_first(found))
}

fn year_first(found: &Groups) -> bool {
    matches!(found.all.first(), Some(Group { piece: Piece::Digits(_, 4), .. }))
}

/// Everything up to the next letter or digit.
fn between(text: &[char], at: usize, first: bool) -> Between {
    let mut found = Between { end: at, ..Between::default() };
    let mut signs = 0;
    while let Some(&c) = text.get(found.end) {
        match c {
            SKIP => {}
            ' ' | '\t' | '\r' => found.blank = true,
            '\n' => {
                found.blank = true;
                found.breaks = !first;
            }
            ',' | '.' | '-' | '/' => {
                // Two signs in a row are one too many.
                found.odd |= found.sign.is_some() && !first;
                found.sign = Some(c);
                signs += 1;
            }
            _ if class(c) != Class::Other => return found,
            ':' | '=' | '#' | '[' | ']' | '|' | '(' | ')' if first => {}
            // What closes a bracket or ends a sentence behind the date, or begins the next field's box.
            ')' | ']' | ';' | ':' | '|' | '['
                if text[found.end + 1..].iter().all(|c| c.is_whitespace()) => {}
            _ => {
                found.odd = true;
                found.sign = Some(c);
                signs += 1;
                found.lost |= matches!(c, '?' | '#' | '…' | '□');
            }
        }
        found.lost |= 2 < signs;
        found.end += 1;
    }
    found
}

/// A Roman number up to twelve, as a word.
pub(super) fn roman(text: &[char], at: usize) -> Option<(u8, usize)> {
    const NUMBERS: [&str; 12] =
        ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"];
    let word: String =
        text[at..].iter().take_while(|c| class(**c) == Class::Letter).take(5).collect();
    let found = NUMBERS.iter().position(|n| **n == word)?;
    Some((u8::try_from(found + 1).ok()?, at + word.len()))
}
