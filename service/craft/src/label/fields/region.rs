//! The region of a date: from its word to the next field.

use jiff::civil::Date;

use super::expiry::says_before;
use super::lists::{Context, Means};
use super::{Scan, begins, digits};
use crate::label::reading::{DateSaid, Origin, Precision, SpanKind};
use crate::label::tables::Field;

/// Diameters that a bare decimal can be, in hundredths of a millimetre.
const DECIMALS: std::ops::RangeInclusive<u32> = 10..=60;

/// Longest name of a month before its day, with the blank, in characters.
const MONTH: usize = 16;

/// So many places that were not read bound the day that somebody may say. No packet has more: what repeats
/// a word for hundreds of times is no reason to look through all of it as often.
const BOUNDING: usize = 24;

/// Where a second year begins, with a blank before it: behind the day of manufacture
/// that is another date, which often has no word of its own.
fn before_second_year(letters: &[char], from: usize, to: usize) -> usize {
    let begins = |at: &usize| {
        let year = letters.get(*at..*at + 4).is_some_and(|four| {
            four.starts_with(&['2', '0']) && four.iter().all(char::is_ascii_digit)
        });
        let before = letters.get(at.wrapping_sub(1)).copied();
        year && before.is_some_and(|c| !c.is_ascii_digit())
    };
    let second = (from..to).filter(begins).nth(1);
    second.filter(|at| letters[at - 1].is_whitespace()).unwrap_or(to)
}

impl Scan<'_> {
    pub(super) fn dated(&mut self, means: Means, at: usize, end: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let aside = means.field == Field::Aside;
        let made = means.field == Field::Made || aside;
        let stop = self.region_end(end);
        let stop = if made { before_second_year(letters, end, stop) } else { stop };
        let region = self.without_stroke(&letters[end..stop], stop);
        if self.is_bare(region) {
            // A word alone: nothing stood there.
            return if made { None } else { self.bare_expiry(means, at, end, stop) };
        }
        let before = !made && says_before(region);
        let (from, words) = if made { (at, vec![means]) } else { self.shared(means, at) };
        let (date, len) = self.reader.dates.region(region, true, self.speaks, self.as_of);
        let Some(mut date) = date else {
            if aside || !made && !self.leave_over(words, at, end) && len == 0 {
                return None;
            }
            self.take_denials(end, stop);
            if !made {
                self.found.seen.unread_expiry = true;
                if self.found.unread.len() < BOUNDING {
                    let until = self.reader.dates.until(region, self.speaks, self.as_of);
                    self.found.until = self.found.until.into_iter().chain(until).min();
                }
            }
            self.found.taken.push((at, end + len));
            self.found.unread.push((at, end + len));
            return Some(end + len);
        };
        let whole = date.readings.iter().all(|reading| reading.1 == Precision::Day);
        let behind = self.filler_behind(end + len, stop).filter(|_| whole && !made);
        let len = behind.map_or(len, |behind| behind - end);
        self.take(at, end + len, if made { SpanKind::MadeOn } else { SpanKind::ExpiresOn });
        if aside {
            self.place_aside(self.date_said(&date, &[Field::Made]));
            return Some(end + len);
        }
        if let Some(months) = date.period_months {
            self.period_months = self.period_months.or(Some(months)).filter(|_| !made);
            return Some(end + len);
        }
        if !made {
            self.found.seen.unproven_word |= words.iter().all(|word| word.unproven);
            self.add_number_before(from, &mut date);
            date.doubtful |= self.is_of_something_else(from);
            if date.doubtful {
                self.doubt(end + len, stop);
            }
        }
        let mut fields: Vec<Field> = words.iter().map(|word| word.field).collect();
        fields.extend(before.then_some(Field::ExpiryBefore));
        let said = self.date_said(&date, &fields);
        if !made {
            let until = said.latest().min(date.least.unwrap_or(Date::MAX));
            self.found.bound = Some(self.found.bound.unwrap_or(Date::MAX).min(until));
        }
        self.place_said(said, means.field);
        Some(end + len)
    }

    /// A date of something else than the expiry and the manufacture: of the day of packing, of a
    /// revision. One that is still to come is as improbable as a manufacture.
    fn place_aside(&mut self, said: DateSaid) {
        if self.as_of < said.date {
            self.found.packet.made_on.get_or_insert(said);
        }
    }

    /// A negation, or a *before*, between the word of a date and its first digit belongs to that
    /// date and denies nothing else.
    fn take_denials(&mut self, from: usize, stop: usize) {
        let digit = self.text.letters[from..stop].iter().position(char::is_ascii_digit);
        let Some(digit) = digit else { return };
        let words = self.words_behind(from).take_while(|word| word.1 <= from + digit);
        let own = |(start, end): &(usize, usize)| {
            matches!(self.context(*start, *end), Some(Context::Negation | Context::First))
        };
        let own: Vec<_> = words.filter(own).collect();
        self.found.taken.extend(&own);
        self.found.unread.extend(own);
    }

    pub(super) fn place_said(&mut self, said: DateSaid, field: Field) {
        let packet = &mut self.found.packet;
        let slot = if field == Field::Made { &mut packet.made_on } else { &mut packet.expires_on };
        match slot {
            None => *slot = Some(said),
            Some(known) if known.date == said.date => {
                known.doubtful |= said.doubtful;
                known.repaired &= said.repaired;
            }
            // Twice with two values: the earlier counts, and a person looks.
            Some(known) => {
                if said.date < known.date {
                    known.precision = said.precision;
                }
                let all = [known.date, said.date];
                known.date = known.date.min(said.date);
                known.also.extend(all.into_iter().chain(said.also));
                known.also.sort_unstable();
                known.also.dedup();
                known.also.retain(|day| *day != known.date);
                known.doubtful = true;
                known.repaired |= said.repaired;
            }
        }
    }

    /// Made, and a shelf life: counted from the first day of the month, and a person looks. Beside
    /// an expiry it changes nothing within a month; else the earlier counts.
    pub(super) fn place_period(&mut self) {
        let Some(months) = self.period_months else { return };
        let packet = &self.found.packet;
        let from = packet.made_on.as_ref().map(|made| made.date.first_of_month());
        let until = from.and_then(|day| day.checked_add(jiff::Span::new().months(months)).ok());
        let near = |one: Date, other: Date| {
            let next = one.min(other).checked_add(jiff::Span::new().months(1));
            next.is_ok_and(|next| one.max(other) <= next)
        };
        match (until, &packet.expires_on) {
            (None, None) => self.found.seen.unread_expiry = true,
            (None, Some(_)) => {}
            (Some(until), Some(ends)) if near(until, ends.date) => {}
            (Some(date), _) => {
                let (precision, from) = (Precision::Day, Origin::Text);
                let (also, doubtful, repaired) = (Vec::new(), true, false);
                let said = DateSaid { date, precision, also, doubtful, repaired, from };
                self.place_said(said, Field::ExpirySymbol);
            }
        }
    }

    /// Where the region of a word ends: at the next field's word, a printed
    /// symbol, a configuration, or pieces on a line of their own.
    pub(super) fn region_end(&self, from: usize) -> usize {
        let letters = self.text.letters.as_slice();
        for at in from..letters.len() {
            let here = letters[at];
            if self.words.binary_search_by_key(&at, |word| word.0).is_ok() {
                return at;
            }
            let apart = from < at && letters[at - 1].is_whitespace();
            if !apart {
                continue;
            }
            let bracket = here == '('
                && (self.is_pieces(at + 1)
                    || self.norm(at + 1).is_some()
                    || self.elements(at).is_some());
            if [
                self.norm(at),
                self.measured(at),
                self.street(at),
                self.town(at),
                self.house(at),
                self.maker_number(at),
            ]
            .iter()
            .any(Option::is_some)
            {
                return at;
            }
            let token = letters[at..].iter().take_while(|c| !c.is_whitespace()).count();
            let (size, to) = (self.is_configuration(at, at + token), at + token);
            if bracket || size && !self.may_be_day(at, to) || self.is_pieces(at) {
                return at;
            }
        }
        letters.len()
    }

    fn is_field(&self, at: usize) -> bool {
        self.reader.lists.field(&self.text.letters, at).is_some()
    }

    /// A region without the stroke that parts it from the next field: `EXP:2028-05/STERILE`.
    fn without_stroke<'t>(&self, region: &'t [char], stop: usize) -> &'t [char] {
        match region {
            [date @ .., '/'] if !date.contains(&'/') && self.is_field(stop) => date,
            _ => region,
        }
    }

    /// Whether what looks like a part of a configuration may be the day of a date: `1st`, a length
    /// that no needle has, a number behind its sign and nothing of a configuration behind it.
    fn may_be_day(&self, from: usize, to: usize) -> bool {
        let token = &self.text.up[from..to];
        let letters = self.text.letters.as_slice();
        // A dot behind the number ends a day as in Korea, and no size.
        let (token, dotted) = match token {
            [token @ .., b'.'] => (token, true),
            token => (token, false),
        };
        let short = matches!(token, [b'0', b'1'..=b'3', b'M', b'M'] | [b'1'..=b'3', b'M', b'M']);
        let sign = matches!(token, [b'#' | 1, _] | [b'#' | 1, _, _]);
        let next = to + letters[to..].iter().take_while(|c| c.is_whitespace()).count();
        let word = letters[next..].iter().take_while(|c| !c.is_whitespace()).count();
        let of_it = || {
            let known = self.reader.lists.known.at(letters, next).is_some();
            !self.is_field(next) && (known || self.is_configuration(next, next + word))
        };
        short || self.is_ordinal(from, to) || sign && (dotted || !of_it())
    }

    /// The first of a month: `1st of March`, where `ST` is no taper.
    fn is_ordinal(&self, from: usize, to: usize) -> bool {
        let token = &self.text.up[from..to];
        let letters = self.text.letters.as_slice();
        let next = to + letters[to..].iter().take_while(|c| c.is_whitespace()).count();
        let dates = &self.reader.dates;
        let month = |at: usize| dates.months.at(letters, at, self.speaks);
        let behind = |end: usize| letters[end..from].iter().all(|c| c.is_whitespace());
        let before = || {
            let starts = (from.saturating_sub(MONTH)..from).filter(|at| begins(letters, *at));
            starts.filter_map(month).any(|(_, end)| end < from && behind(end))
        };
        (1..=2).contains(&digits(token))
            && token.ends_with(b"ST")
            && digits(token) + 2 == token.len()
            && (matches!(token, [b'1', _, _] | [b'0' | b'2' | b'3', b'1', _, _])
                || letters[next..].starts_with(&['O', 'F', ' '])
                || month(next).is_some()
                || before())
    }

    pub(super) fn is_pieces(&self, at: usize) -> bool {
        let count = digits(&self.text.up[at..]);
        let behind = at + count + usize::from(self.text.up.get(at + count) == Some(&b' '));
        (1..=4).contains(&count)
            && self.text.up[at] != b'0'
            && self.reader.lists.pieces.at(&self.text.letters, behind).is_some()
    }

    /// Whether a token is of a needle configuration and of nothing else: a
    /// decimal that a diameter can have, a size with its sign, or digits with a
    /// code glued on.
    pub(super) fn is_configuration(&self, from: usize, to: usize) -> bool {
        let token = &self.text.up[from..to];
        let Some((sign, rest)) = token.split_first() else { return false };
        if matches!(sign, b'#' | 1) {
            return rest.first().is_some_and(u8::is_ascii_digit);
        }
        let count = digits(token);
        if count == 1 && matches!(token.get(count), Some(b'.' | b',')) {
            let fraction = digits(&token[count + 1..]);
            let tail = &token[count + 1 + fraction..];
            let value = token[count + 1..]
                .iter()
                .take(2)
                .fold(0, |n, b| n * 10 + u32::from(b.wrapping_sub(b'0')));
            let whole = token[..count].iter().all(|b| *b == b'0');
            return whole
                && (2..=3).contains(&fraction)
                && (tail.is_empty() || tail == b"MM")
                && DECIMALS.contains(&value);
        }
        let letters = &self.text.letters[..to];
        let mut at = from + count;
        while at < to {
            match self.reader.lists.known.glued(letters, at) {
                Some(found) if 0 < found.end - at => at = found.end,
                _ => return false,
            }
        }
        // One letter behind digits is as soon dirt on a date.
        (1..=4).contains(&count) && from + count + 1 < to
    }
}
