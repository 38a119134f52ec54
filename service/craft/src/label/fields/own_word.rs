//! Dates whose own word was not read.
//!
//! Beside a known expiry a date without any word is the manufacture; with a word that nobody read,
//! or one of a limit (*until*), it may as well be the day on which the pack ends.

use super::Scan;
use crate::label::dates::{self, Precision, PrintedDate};
use crate::label::fold::{Class, class, joins};
use crate::label::reading::{DateSaid, SpanKind};
use crate::label::tables::Field;

impl Scan<'_> {
    /// Whether a word of its own stands at a date that no field's word introduces.
    pub(super) fn has_own_word(&self, start: usize, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let limits = &self.reader.lists.limits;
        // The date begins with its month or with a number, or with a word that dates pass over.
        let begins = class(letters[start]) != Class::Digit
            && self.reader.dates.months.at(letters, start, self.speaks).is_none();
        let bound = letters[end..].iter().find(|c| **c != ' ') == Some(&'=');
        if begins || bound || (start..end).any(|at| limits.glued(letters, at).is_some()) {
            return true;
        }
        let behind = self.words_behind(end).next();
        if behind.is_some_and(|(from, to)| {
            limits.at(letters, from).is_some_and(|found| to <= found.end) && !self.is_taken(from)
        }) {
            return true;
        }
        let Some((from, to)) = self.words_before(start).next() else { return false };
        let limit = limits.at(&letters[..to], from).is_some_and(|found| found.end == to);
        let figures = letters[from..to].iter().all(char::is_ascii_digit);
        // What is left of EXP is a word, whatever else it may be.
        let expiry = letters[from..to].ends_with(&['X', 'P']);
        let unread = limit || expiry || !figures && !self.is_known(from, to);
        !self.is_taken(from) && unread || self.is_of_second_lot(from)
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
    pub(super) fn place_worded_date(&mut self, date: &PrintedDate, start: usize, end: usize) {
        let said = self.date_said(date, &[Field::ExpirySymbol]);
        let packet = &self.found.packet;
        let made = packet.made_on.as_ref().is_some_and(|made| said.date < made.date);
        let earlier = packet.expires_on.as_ref().is_some_and(|ends| said.date < ends.date);
        if earlier && !made {
            let kind = SpanKind::ExpiresOn;
            self.found.spans.push(crate::label::reading::Span { start, end, kind: kind.into() });
            self.place_said(DateSaid { doubtful: true, ..said }, Field::ExpirySymbol);
        } else {
            self.leave_unplaced(date, start, end);
        }
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
