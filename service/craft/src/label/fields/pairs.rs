//! Dates without a word, and the printed form of a symbol.

use super::lists::Means;
use super::{Scan, said};
use crate::label::dates::{self, Precision, PrintedDate, Window};
use crate::label::elements::fields_of_elements;
use crate::label::faults::FaultCode;
use crate::label::fold::{Class, class, joins};
use crate::label::gs1::Parsed;
use crate::label::reading::{DateSaid, Origin, SpanKind};
use crate::label::tables::Field;

/// How near the year of a date without a word stands, in characters.
const SOON: usize = 18;
/// Longest date without a word, in characters.
const LONGEST: usize = 40;
/// Most elements that are printed under one symbol. A chain that is faulty is tried again from each
/// of its elements on, so that without an end the time grows with the square of its length.
const MOST_ELEMENTS: usize = 32;

/// What may be a date without a word.
pub(super) struct LooseDate {
    date: PrintedDate,
    end: usize,
    /// It is nothing else.
    pub(super) sure: bool,
    /// It has a year, or six digits.
    counts: bool,
}

/// How many numbers of four digits look like years of this century.
fn years(letters: &[char]) -> usize {
    let numbers = letters.split(|c| !c.is_ascii_digit());
    numbers.filter(|number| number.len() == 4 && number.starts_with(&['2', '0'])).count()
}

impl Scan<'_> {
    /// A date that no word introduces: only forms that are nothing else are
    /// taken; others that have passed are remembered.
    pub(super) fn loose_date(&mut self, at: usize) -> Option<usize> {
        let LooseDate { date, end, sure, counts } = self.date_at(at)?;
        if sure {
            self.found.taken.push((at, end));
            self.loose.push((date, at, end));
            return Some(end);
        }
        self.found.seen.passed |= counts && self.has_passed(&date);
        None
    }

    /// What may be a date without a word.
    pub(super) fn date_at(&self, at: usize) -> Option<LooseDate> {
        let letters = self.text.letters.as_slice();
        // Only a date with its year of four digits, or six digits, counts.
        let soon = &letters[at..letters.len().min(at + SOON)];
        let digits = |w: &[char], most: usize| w.iter().take(most).all(char::is_ascii_digit);
        let year = soon.windows(4).any(|w| w.starts_with(&['2']) && digits(w, 4));
        if !(year || 6 <= soon.len() && digits(soon, 6)) {
            return None;
        }
        let stop = self.region_end(at + 1).min(at + LONGEST);
        for count in (1..=3).rev() {
            let found = self.reader.dates.groups(&letters[at..stop], false, self.speaks, count);
            let groups = found.all.as_slice();
            if groups.len() < count {
                continue;
            }
            let end = at + groups.last()?.end;
            // A second year begins a second date.
            if 1 < years(&letters[at..end]) {
                continue;
            }
            let limit = letters.get(end).is_some_and(|c| class(*c) == Class::Sign)
                && self.reader.lists.limits.glued(letters, end).is_some();
            let boundary = limit || letters.get(end).is_none_or(|c| class(*c) == Class::Other);
            let date = dates::readings(groups, self.as_of);
            if !boundary || date.readings.is_empty() {
                continue;
            }
            let year = letters[at..end]
                .windows(4)
                .any(|w| w.starts_with(&['2', '0']) && w.iter().all(char::is_ascii_digit));
            let told = date.readings.iter().all(|r| r.1 != Precision::Year);
            let apart = 1 < count || end - at == 8 || groups.iter().any(|g| g.mark.is_some());
            let sure = year && apart && told && !date.doubtful && !found.odd;
            let counts = year || count == 1 && end - at == 6;
            return Some(LooseDate { date, end, sure, counts });
        }
        None
    }

    /// A word of expiry behind its date.
    pub(super) fn dated_before(&mut self, means: Means, at: usize, end: usize) -> usize {
        let letters = self.text.letters.as_slice();
        let gap = |to: usize| letters[to..at].iter().all(|c| joins(*c));
        match self.loose.pop_if(|(_, _, to)| gap(*to)) {
            Some((date, from, _)) => {
                self.take(from, end, SpanKind::ExpiresOn);
                self.found.seen.unproven_word |= means.unproven;
                self.place_said(self.date_said(&date, &[Field::ExpirySymbol]), Field::ExpirySymbol);
            }
            None => {
                self.leave_over_behind();
                self.found.taken.push((at, end));
                self.found.unread.push((at, end));
            }
        }
        end
    }

    /// Whether a reading that lies near lies before the day asked about.
    fn has_passed(&self, date: &PrintedDate) -> bool {
        let near = &self.reader.file.swallowed;
        let window = Window { years_back: near.years_back, years_ahead: near.years_ahead };
        date.readings.iter().any(|(day, _)| *day < self.as_of && !window.outside(*day, self.as_of))
    }

    /// Two dates: the earlier is the manufacture, the later the expiry, if the
    /// time between them is one a packet can have. One date finds its place
    /// beside the other one's word. None does while a word of expiry is left over.
    pub(super) fn place_loose_dates(&mut self, free: bool) {
        let longest = self.reader.file.shelf_life.longest_years;
        let all = std::mem::take(&mut self.loose);
        let (mut worded, mut loose) = (Vec::new(), Vec::new());
        for date in all {
            match self.own_word(date.1, date.2) {
                Some(own) => worded.push((date, own)),
                None => loose.push(date),
            }
        }
        let packet = &self.found.packet;
        let within = |from: jiff::civil::Date, to: jiff::civil::Date| {
            from < to && to.year() - from.year() <= longest
        };
        let day = |i: usize| loose[i].0.readings[0].0;
        let sure = loose.iter().all(|(date, _, _)| date.readings.len() == 1);
        // Which of the loose dates is the manufacture, which the expiry.
        let places = match (&packet.made_on, &packet.expires_on, loose.len()) {
            _ if !free => (None, None),
            (None, None, 2) if sure && within(day(0), day(1)) => (Some(0), Some(1)),
            (None, None, 2) if sure && within(day(1), day(0)) => (Some(1), Some(0)),
            (Some(made), None, 1) if sure && within(made.date, day(0)) => (None, Some(0)),
            (None, Some(ends), 1) if sure && within(day(0), ends.date) => (Some(0), None),
            _ => (None, None),
        };
        if let Some(i) = places.0 {
            self.found.packet.made_on = Some(self.date_said(&loose[i].0, &[Field::Made]));
        }
        if let Some(i) = places.1 {
            self.found.packet.expires_on =
                Some(self.date_said(&loose[i].0, &[Field::ExpirySymbol]));
        }
        for (i, (_, start, end)) in loose.iter().enumerate() {
            let kind = match i {
                _ if places.0 == Some(i) => SpanKind::MadeOn,
                _ if places.1 == Some(i) => SpanKind::ExpiresOn,
                _ => {
                    self.leave_unplaced(&loose[i].0, *start, *end);
                    continue;
                }
            };
            self.found.spans.push(crate::label::reading::Span {
                start: *start,
                end: *end,
                kind: kind.into(),
            });
        }
        for (date, own) in &worded {
            self.place_worded_date(date, *own);
        }
    }

    /// `(01)09521234543213 (17)270831`: what is printed under a symbol.
    pub(super) fn printed_elements(&mut self, at: usize) -> Option<usize> {
        let (parsed, end) = self.elements(at)?;
        let told = fields_of_elements(self.gs1, &parsed, self.as_of, Origin::Text);
        let packet = &mut self.found.packet;
        packet.lot = packet.lot.take().or(told.lot);
        packet.gtin = packet.gtin.take().or(told.gtin);
        packet.serial = packet.serial.take().or(told.serial);
        packet.made_on = packet.made_on.take().or(told.made_on);
        packet.reference = packet.reference.take().or(told.reference);
        packet.quantity =
            packet.quantity.take().or_else(|| told.quantity.and_then(|q| said(q.value)));
        if let Some(expires) = told.expires_on {
            self.place_element(expires);
        }
        self.take(at, end, SpanKind::Elements);
        Some(end)
    }

    /// The expiry of a printed symbol beside one with a word: within a month that tells no day it
    /// is the day; else the earlier counts, and a person looks.
    fn place_element(&mut self, expires: DateSaid) {
        match &mut self.found.packet.expires_on {
            Some(known)
                if known.precision == Precision::Month
                    && dates::last_of_month(known.date) == dates::last_of_month(expires.date) =>
            {
                (known.date, known.precision) = (expires.date, expires.precision);
            }
            _ => self.place_said(expires, Field::ExpirySymbol),
        }
    }

    /// The elements that are printed here, and where they end.
    pub(super) fn elements(&self, at: usize) -> Option<(Parsed<'static>, usize)> {
        let raw = &self.text.raw;
        let mut joined = Vec::new();
        let (mut here, mut end, mut count) = (at, at, 0);
        while let Some(len) = bracket(&raw[here..]).filter(|_| count < MOST_ELEMENTS) {
            let value = here + len + raw[here + len..].iter().take_while(|b| **b == b' ').count();
            let stop =
                value + raw[value..].iter().take_while(|b| !matches!(**b, b' ' | b'(')).count();
            if value == stop {
                break;
            }
            joined.extend_from_slice(&raw[here..here + len]);
            joined.extend_from_slice(&raw[value..stop]);
            (end, count) = (stop, count + 1);
            here = stop + raw[stop..].iter().take_while(|b| **b == b' ').count();
        }
        let item = joined.starts_with(b"(01)");
        if count < 2 && !item {
            return None;
        }
        let parsed = self.gs1.brackets(&joined, 0);
        if parsed.faults.iter().any(|f| f.code != FaultCode::MissingCompanion) {
            return None;
        }
        Some((parsed, end))
    }
}

/// The length of `(01)` at the beginning.
fn bracket(text: &[u8]) -> Option<usize> {
    let inner = text.strip_prefix(b"(")?;
    let digits = super::digits(inner);
    ((2..=4).contains(&digits) && inner.get(digits) == Some(&b')')).then_some(digits + 2)
}
