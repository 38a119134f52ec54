//! Dates without a word, and the printed form of a symbol.

use super::{Scan, date_said, said};
use crate::label::dates::{self, Precision};
use crate::label::faults::FaultCode;
use crate::label::reading::{Origin, SpanKind};
use crate::label::symbol::fields_of_elements;
use crate::label::tables::Field;

impl Scan<'_> {
    /// A date that no word introduces: only forms that are nothing else.
    pub(super) fn loose_date(&mut self, at: usize) -> Option<usize> {
        let up = &self.text.up;
        // Only a date with its year of four digits is taken without a word.
        let soon = &up[at..up.len().min(at + 18)];
        let year = |w: &[u8]| w.starts_with(b"20") && w.iter().all(u8::is_ascii_digit);
        if !soon.windows(4).any(year) {
            return None;
        }
        let (date, len) = dates::read(&up[at..], &self.reader.file.month, self.as_of)?;
        let text = &up[at..at + len];
        let year = text.windows(4).any(year);
        let apart = text.iter().any(|b| !b.is_ascii_digit()) || len == 8;
        let told = date.readings.iter().all(|r| r.1 != Precision::Year);
        if !(year && apart && told && !date.doubtful) {
            return None;
        }
        self.found.taken.push((at, at + len));
        self.loose.push((date, at, at + len));
        Some(at + len)
    }

    /// Two dates: the earlier is the manufacture, the later the expiry, if the
    /// time between them is one a packet can have. One date finds its place
    /// beside the other one's word.
    pub(super) fn place_loose_dates(&mut self) {
        let longest = self.reader.file.shelf_life.longest_years;
        let loose = std::mem::take(&mut self.loose);
        let packet = &mut self.found.packet;
        let within = |from: jiff::civil::Date, to: jiff::civil::Date| {
            from < to && to.year() - from.year() <= longest
        };
        let day = |i: usize| loose[i].0.readings[0].0;
        let sure = loose.iter().all(|(date, _, _)| date.readings.len() == 1);
        // Which of the loose dates is the manufacture, which the expiry.
        let places = match (&packet.made_on, &packet.expires_on, loose.len()) {
            (None, None, 2) if sure && within(day(0), day(1)) => (Some(0), Some(1)),
            (None, None, 2) if sure && within(day(1), day(0)) => (Some(1), Some(0)),
            (Some(made), None, 1) if sure && within(made.date, day(0)) => (None, Some(0)),
            (None, Some(ends), 1) if sure && within(day(0), ends.date) => (Some(0), None),
            _ => (None, None),
        };
        if let Some(i) = places.0 {
            packet.made_on = Some(date_said(&loose[i].0, Field::Made, self.policy));
        }
        if let Some(i) = places.1 {
            packet.expires_on = Some(date_said(&loose[i].0, Field::ExpirySymbol, self.policy));
        }
        for (i, (_, start, end)) in loose.iter().enumerate() {
            let kind = match i {
                _ if places.0 == Some(i) => SpanKind::MadeOn,
                _ if places.1 == Some(i) => SpanKind::ExpiresOn,
                _ => {
                    // As an expiry a month counts to its end (ISO 15223-1, 5.1.4).
                    self.found.seen.passed |= loose[i].0.readings.iter().any(|(day, precision)| {
                        let last = match precision {
                            Precision::Day => *day,
                            Precision::Month | Precision::Year => dates::last_of_month(*day),
                        };
                        last < self.as_of
                    });
                    self.found.unread.push((*start, *end));
                    continue;
                }
            };
            self.found.spans.push(crate::label::reading::Span { start: *start, end: *end, kind });
        }
    }

    /// `(01)09521234543213 (17)270831`: what is printed under a symbol.
    pub(super) fn printed_elements(&mut self, at: usize) -> Option<usize> {
        let raw = &self.text.raw;
        let mut joined = Vec::new();
        let (mut here, mut end, mut count) = (at, at, 0);
        while let Some(len) = bracket(&raw[here..]) {
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
        let told = fields_of_elements(self.gs1, &parsed, self.as_of, Origin::Text);
        let packet = &mut self.found.packet;
        packet.lot = packet.lot.take().or(told.lot);
        packet.gtin = packet.gtin.take().or(told.gtin);
        packet.serial = packet.serial.take().or(told.serial);
        packet.expires_on = packet.expires_on.take().or(told.expires_on);
        packet.made_on = packet.made_on.take().or(told.made_on);
        packet.reference = packet.reference.take().or(told.reference);
        packet.quantity =
            packet.quantity.take().or_else(|| told.quantity.and_then(|q| said(q.value)));
        self.take(at, end, SpanKind::Elements);
        Some(end)
    }
}

/// The length of `(01)` at the beginning.
fn bracket(text: &[u8]) -> Option<usize> {
    let inner = text.strip_prefix(b"(")?;
    let digits = super::digits(inner);
    ((2..=4).contains(&digits) && inner.get(digits) == Some(&b')')).then_some(digits + 2)
}
