//! Values behind their words: lots, references, numbers of articles, quantities.

use super::lists::Context;
use super::{Scan, digits, number, said};
use crate::label::fold::{Class, class, joins};
use crate::label::gs1::check_digit_fits;
use crate::label::reading::{Said, SpanKind};
use crate::label::tables::Field;
use crate::label::verdict::same_word;

impl Scan<'_> {
    /// Where a value begins behind its word.
    pub(super) fn value_at(&self, end: usize) -> usize {
        let skipped = |c: &&char| {
            matches!(
                **c,
                ' ' | '\n'
                    | '\r'
                    | '\t'
                    | ':'
                    | '.'
                    | '#'
                    | '='
                    | '-'
                    | '/'
                    | '|'
                    | ']'
                    | '['
                    | '"'
                    | '\''
                    | '“'
                    | '”'
                    | '„'
                    | '«'
                    | '»'
            )
        };
        end + self.text.letters[end..].iter().take_while(skipped).count()
    }

    #[expect(clippy::wildcard_enum_match_arm, reason = "three of many kinds of span are codes")]
    pub(super) fn identity(&mut self, at: usize, end: usize, kind: SpanKind) -> Option<usize> {
        let lot = kind == SpanKind::Lot;
        let start = self.value_at(end);
        let up = &self.text.up;
        // The identifier of a symbol's lot alone: `LOT (10)23A114`.
        let named = lot && up[start..].starts_with(b"(10)") && self.elements(start).is_none();
        let start = if named { start + 4 } else { start };
        let part =
            |b: &&u8| b.is_ascii_alphanumeric() || matches!(**b, b'-' | b'.' | b'_' | b'/' | b'+');
        let len = up[start..].iter().take_while(part).count();
        // A field's word behind a stroke is no part of the value.
        let next = |at: &usize| {
            self.text.letters[*at] == '/'
                && self.reader.lists.field(&self.text.letters, at + 1).is_some_and(|f| f.exact)
        };
        let len = (start..start + len).find(next).map_or(len, |at| at - start);
        let len = self.without_other_field(start, len);
        let value = &self.text.raw[start..start + len];
        let trimmed =
            value.len() - value.iter().rev().take_while(|b| !b.is_ascii_alphanumeric()).count();
        // The next field's word is no value of this one.
        let letters = &self.text.letters;
        let word = self.reader.lists.field(letters, start).is_some_and(|found| found.exact);
        // On the next line a configuration is no value either.
        let broken = letters[end..start].contains(&'\n');
        if trimmed == 0
            || word
            || self.is_struck(start + len)
            || broken && self.is_configuration(start, start + trimmed)
        {
            self.found.seen.lot_open |= lot && trimmed == 0 && self.is_left_of_lot(start);
            return None;
        }
        let stop = start + trimmed;
        if lot && self.is_no_lot(start, Some(stop)) {
            self.found.seen.lot_open = true;
            return None;
        }
        let value = said(String::from_utf8_lossy(&self.text.raw[start..stop]).into_owned());
        let packet = &mut self.found.packet;
        let slot = match kind {
            SpanKind::Lot => &mut packet.lot,
            SpanKind::Serial => &mut packet.serial,
            _ => {
                self.found.reference_at = Some((start, stop));
                &mut packet.reference
            }
        };
        let differs = |read: &Said<String>, now: &Said<String>| !same_word(&read.value, &now.value);
        match (&mut *slot, value) {
            (Some(read), Some(now)) if lot && differs(read, &now) => {
                self.found.seen.two_lots = true;
                packet.other_lots.push(now.value);
            }
            (Some(_), _) => {}
            (None, value) => *slot = value,
        }
        if lot {
            self.look_beside_lot(end, start, stop);
        }
        self.take(at, stop, kind);
        // What was cut off begins a word of its own.
        self.chunk = Some(start);
        Some(stop)
    }

    /// A value up to a negation right before a word about sterility, and up to a word of expiry with
    /// its date, from which a blank or a hyphen was lost: `A1-NON STERILE`, `A1EXP2028-07`.
    fn without_other_field(&self, start: usize, len: usize) -> usize {
        let letters = self.text.letters.as_slice();
        let stop = start + len;
        let negation = || {
            let run = letters[start..stop].iter().rev().take_while(|c| class(**c) == Class::Letter);
            let from = stop - run.count();
            let glued = start < from && letters[from - 1].is_ascii_digit();
            let long = if glued { 3 } else { 2 };
            let gap = letters[stop..].iter().take_while(|c| joins(**c)).count();
            let denies = self.context(from, stop) == Some(Context::Negation) && long <= stop - from;
            let sterile = self.reader.lists.stems.begins(letters, stop + gap);
            (denies && sterile).then_some(from)
        };
        let expiry = || {
            (start..stop).find(|at| {
                let word = self.reader.lists.fields.glued(letters, *at);
                let word = word.filter(|word| {
                    word.exact
                        && word.means.field == Field::ExpirySymbol
                        && word.means.language.is_none()
                        && 3 <= word.end - at
                });
                word.is_some_and(|word| {
                    let next = letters[word.end..].iter().find(|c| !joins(**c));
                    next.is_some_and(char::is_ascii_digit)
                })
            })
        };
        negation().or_else(expiry).map_or(len, |at| at - start)
    }

    pub(super) fn gtin(&mut self, at: usize, end: usize) -> Option<usize> {
        let start = self.value_at(end);
        let digits = digits(&self.text.up[start..]);
        let value = &self.text.up[start..start + digits];
        if !matches!(digits, 8 | 12 | 13 | 14)
            || self.is_struck(start + digits)
            || !check_digit_fits(value)
        {
            return None;
        }
        self.found.packet.gtin = said(format!("{:0>14}", String::from_utf8_lossy(value)));
        self.take(at, start + digits, SpanKind::Gtin);
        Some(start + digits)
    }

    pub(super) fn quantity(&mut self, at: usize, end: usize) -> Option<usize> {
        let start = self.value_at(end);
        let digits = digits(&self.text.up[start..]);
        if !(1..=4).contains(&digits) || self.is_struck(start + digits) {
            return None;
        }
        let after = start + digits;
        let behind = after + usize::from(self.text.up.get(after) == Some(&b' '));
        let stop = self.reader.lists.pieces.at(&self.text.letters, behind).map_or(after, |p| p.end);
        self.found.packet.quantity = said(number(&self.text.up[start..after]));
        self.take(at, stop, SpanKind::Quantity);
        Some(stop)
    }

    /// `20 PCS`.
    pub(super) fn pieces(&mut self, at: usize) -> Option<usize> {
        let up = &self.text.up;
        let digits = digits(&up[at..]);
        if 4 < digits || (0 < at && up[at - 1] == b'.') {
            return None;
        }
        let after = at + digits;
        let behind = after + usize::from(matches!(up.get(after), Some(b' ' | b'/')));
        let stop = self.reader.lists.pieces.at(&self.text.letters, behind)?.end;
        self.found.packet.quantity = said(number(&up[at..after]));
        self.take(at, stop, SpanKind::Quantity);
        Some(stop)
    }
}
