//! Dates whose own word was not read.
//!
//! Beside a known expiry a date without any word is the manufacture; with a word that nobody read,
//! or one of a limit (*until*), it may as well be the day on which the pack ends.

use jiff::civil::Date;

use super::Scan;
use crate::label::dates::{self, Precision, PrintedDate};
use crate::label::fold::{Class, class, joins};
use crate::label::reading::{DateSaid, Span, SpanKind};
use crate::label::tables::Field;

/// Letters from which on a word is no torn EXP.
const LONG: usize = 5;

/// What a word is that stands at a date and is none of a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Own {
    /// Until, or what may be left of a word of expiry.
    Limit,
    /// A whole word that nobody knows.
    Unknown,
}

impl Scan<'_> {
    /// What word of its own stands at a date that no field's word introduces.
    pub(super) fn own_word(&self, start: usize, end: usize) -> Option<Own> {
        let letters = self.text.letters.as_slice();
        let limits = &self.reader.lists.limits;
        let bound = letters[end..].iter().find(|c| **c != ' ') == Some(&'=');
        let behind = self.words_behind(end).next();
        let until = behind.is_some_and(|(from, to)| {
            limits.at(letters, from).is_some_and(|found| to <= found.end) && !self.is_taken(from)
        });
        if bound || until || (start..end).any(|at| limits.glued(letters, at).is_some()) {
            return Some(Own::Limit);
        }
        // The date begins with its month or with a number, or with a word that dates pass over.
        let begins = class(letters[start]) != Class::Digit
            && self.reader.dates.months.at(letters, start, self.speaks).is_none();
        let Some((from, to)) = self.words_before(start).next() else {
            return begins.then_some(Own::Limit);
        };
        if self.is_of_sterilising(start, begins) {
            return None;
        }
        let limit = limits.at(&letters[..to], from).is_some_and(|found| found.end == to);
        let figures = letters[from..to].iter().all(char::is_ascii_digit);
        // What is left of EXP is a word, whatever else it may be.
        let expiry = letters[from..to].ends_with(&['X', 'P']);
        // Nor is *open* or *used* a word of manufacture.
        let damage =
            |span: &Span| span.kind == SpanKind::Damage && span.start <= from && from < span.end;
        let damage = self.found.spans.iter().any(damage);
        let unread =
            !self.is_taken(from) && (limit || expiry || !figures && !self.is_known(from, to));
        let plain = !limit && !expiry && !damage && !self.is_taken(from);
        let long =
            LONG <= to - from && letters[from..to].iter().all(|c| class(*c) == Class::Letter);
        match begins || unread || damage || self.is_of_second_lot(from) {
            true if plain && long => Some(Own::Unknown),
            true => Some(Own::Limit),
            false => None,
        }
    }

    /// Whether a date is the day of sterilising: `sterilisiert am 15.01.2023`.
    fn is_of_sterilising(&self, start: usize, begins: bool) -> bool {
        const ON: [&str; 7] = ["AM", "ON", "LE", "DEN", "IL", "EL", "OP"];
        let letters = self.text.letters.as_slice();
        let first = if begins { self.words_behind(start).next() } else { None };
        let Some((from, to)) = first.or_else(|| self.words_before(start).next()) else {
            return false;
        };
        let word: String = letters[from..to].iter().collect();
        let before = self.words_before(from).next().filter(|_| ON.contains(&&*word));
        before.is_some_and(|(at, _)| {
            let spans = self.found.spans.iter().filter(|span| span.kind == SpanKind::Sterility);
            spans.into_iter().any(|span| span.start <= at && at < span.end)
        })
    }

    /// Whether a place belongs to another lot than the first: its date is of that lot.
    fn is_of_second_lot(&self, at: usize) -> bool {
        let lots = self.found.spans.iter().filter(|span| span.kind == SpanKind::Lot);
        lots.skip(1).any(|lot| lot.start <= at && at < lot.end)
    }

    /// Whether a word right before one of expiry says that it is of something else: a warranty, an
    /// ink, a card; or that there is none.
    pub(super) fn is_of_something_else(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let Some((from, to)) = self.words_before(at).next() else { return false };
        let beside = letters[to..at].iter().all(|c| *c == ' ');
        let found = self.reader.lists.others.at(&letters[..to], from);
        // A mark of conformity stands before any word, and is valid until a day itself.
        let mark = letters[from..to] == ['C', 'E'] && letters[at..].starts_with(&['V', 'A']);
        let of_it = found.is_some_and(|found| found.end == to) && !self.is_taken(from);
        beside && (mark || of_it)
    }

    /// What stands behind a whole date and means nothing, up to the next field: `р.`, `까지`.
    pub(super) fn filler_behind(&self, end: usize, stop: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let from = end + letters[end..stop].iter().take_while(|c| joins(**c)).count();
        let here = *letters.get(from).filter(|_| from < stop)?;
        let to = self.reader.dates.filler(&letters[..stop], from, here)?;
        let rest = letters[to..stop].iter().all(|c| joins(*c));
        // One letter alone may be what is left of a negation.
        let own = letters[from..to].iter().filter(|c| !joins(**c)).count();
        let short = class(here) == Class::Letter && own < 2;
        let rest = rest && (!short || !here.is_ascii() && letters.get(from + 1) == Some(&'.'));
        (rest && self.context(from, to).is_none()).then_some(to)
    }

    /// A date with a word that was not read beside an expiry: the earlier counts, and a person
    /// looks. Before the day of manufacture no pack ends.
    pub(super) fn place_worded_date(
        &mut self,
        (date, start, end): &(PrintedDate, usize, usize),
        own: Own,
    ) {
        let (start, end) = (*start, *end);
        let said = self.date_said(date, &[Field::ExpirySymbol]);
        let packet = &self.found.packet;
        let made = packet.made_on.as_ref().is_some_and(|made| said.date < made.date);
        let earlier = packet.expires_on.as_ref().is_some_and(|ends| said.date < ends.date);
        if earlier && !made {
            let kind = SpanKind::ExpiresOn;
            self.found.spans.push(Span { start, end, kind: kind.into() });
            let as_of = self.as_of;
            match &mut self.found.packet.expires_on {
                // Past a day under whatever word no pack is thrown away for it.
                Some(ends) if own == Own::Unknown && said.date < as_of && as_of <= ends.date => {
                    ends.also.push(said.date);
                    ends.doubtful = true;
                }
                _ => self.place_said(DateSaid { doubtful: true, ..said }, Field::ExpirySymbol),
            }
        } else {
            // What stands behind *until* bounds what a person may read there.
            if self.found.packet.expires_on.is_none() && self.is_until(start) {
                let until = self.found.until.unwrap_or(Date::MAX);
                self.found.until = Some(until.min(said.latest()));
            }
            self.leave_unplaced(date, start, end);
        }
    }

    /// Whether the word right before a date says until when.
    fn is_until(&self, start: usize) -> bool {
        let Some((from, to)) = self.words_before(start).next() else { return false };
        let found = self.reader.lists.limits.at(&self.text.letters[..to], from);
        found.is_some_and(|found| found.end == to)
    }

    /// A date that no rule places.
    pub(super) fn leave_unplaced(&mut self, date: &PrintedDate, start: usize, end: usize) {
        // As an expiry a month counts to its end (ISO 15223-1, 5.1.4).
        self.found.seen.passed |= date.readings.iter().any(|(day, precision)| {
            let last = match precision {
                Precision::Day => *day,
                Precision::Month | Precision::Year => dates::last_of_month(*day),
            };
            last < self.as_of
        });
        self.found.unread.push((start, end));
    }
}
