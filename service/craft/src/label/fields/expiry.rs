//! Words of expiry among each other: several for one date, and those that are left over.
//!
//! Two words with nothing but signs between them stand for one date, which is then the
//! earliest that any of them says. A word without a date of its own is asked about, and
//! while one is left over no date is inferred to be the manufacture: each that no other
//! word claims may be the one that it stands for.

use super::Scan;
use super::lists::Means;
use crate::label::dates::{self, Precision, PrintedDate};
use crate::label::fold::{Class, class, joins};
use crate::label::reading::{DateSaid, Span, SpanKind};
use crate::label::tables::Field;

/// Words of expiry whose date is still to come, or did not come.
#[derive(Debug, Default)]
pub(super) struct Open {
    /// Where the first of those stands that share the next date.
    from: Option<usize>,
    /// What those say that share the next date.
    shared: Vec<Means>,
    /// What those say that found none.
    left: Vec<Field>,
    /// One of them stands right before a word of manufacture, as headings do.
    heads: bool,
    /// What lies behind a date that may not be all of it.
    doubted: Vec<(usize, usize)>,
}

/// Whether a field's word is one of expiry that stands before its date.
fn is_expiry(field: Field) -> bool {
    matches!(
        field,
        Field::ExpirySymbol | Field::ExpiryWords | Field::ExpiryBefore | Field::ExpiryFrom
    )
}

impl Scan<'_> {
    /// Whether a region has nothing in it but signs, and codes of languages.
    pub(super) fn is_bare(&self, region: &[char]) -> bool {
        let empty = |c: &char| joins(*c) || matches!(c, '|' | '[' | ']' | '(' | ')' | '=' | ',');
        region.split(empty).all(|part| {
            let code: String = part.iter().map(char::to_ascii_lowercase).collect();
            part.is_empty() || part.len() == 2 && self.reader.dates.months.language(&code).is_some()
        })
    }

    /// A word of expiry with nothing behind it up to the next field.
    pub(super) fn bare_expiry(
        &mut self,
        means: Means,
        at: usize,
        end: usize,
        next: usize,
    ) -> Option<usize> {
        let next = self.reader.lists.field(&self.text.letters, next);
        let next = next.map(|found| found.means.field);
        self.open.from = self.open.from.or(Some(at));
        self.open.shared.push(means);
        if next.is_some_and(is_expiry) {
            self.take(at, end, SpanKind::ExpiresOn);
            return Some(end);
        }
        self.open.heads |= next == Some(Field::Made);
        let words = std::mem::take(&mut self.open.shared);
        self.open.from = None;
        if !self.leave_over(words, at, end) {
            return None;
        }
        self.found.taken.push((at, end));
        self.found.unread.push((at, end));
        Some(end)
    }

    /// The word of expiry in which a notice ends, where its date stands behind it: `Do not use after
    /// expiry date 2028-07`.
    pub(super) fn expiry_at_end(&self, at: usize, end: usize) -> Option<(usize, Means)> {
        let letters = self.text.letters.as_slice();
        let gap = letters[end..].iter().take_while(|c| joins(**c)).count();
        let from = end + gap;
        letters.get(from).filter(|c| c.is_ascii_digit())?;
        if letters[end..from].contains(&'\n') && !self.date_at(from).is_some_and(|date| date.sure) {
            return None;
        }
        let words = (at + 1..end).filter(|from| super::begins(letters, *from));
        words.filter_map(|from| Some((from, self.reader.lists.field(letters, from)?))).find_map(
            |(from, found)| {
                (is_expiry(found.means.field) && found.end == end).then_some((from, found.means))
            },
        )
    }

    /// Takes the words that share a date: where they begin, and what they say.
    pub(super) fn shared(&mut self, means: Means, at: usize) -> (usize, Vec<Means>) {
        let mut all = std::mem::take(&mut self.open.shared);
        all.push(means);
        (self.open.from.take().unwrap_or(at), all)
    }

    /// Words whose date did not come. Whether one of them is a word of nothing else: short ones
    /// of some languages are, unless a date follows.
    pub(super) fn leave_over(&mut self, words: Vec<Means>, at: usize, end: usize) -> bool {
        let weak = words.len() < 2 && end - at <= 3;
        let strong = words.iter().any(|word| word.language.is_none()) || !weak;
        self.open.left.extend(words.into_iter().map(|word| word.field));
        self.found.seen.unread_expiry |= strong;
        strong
    }

    /// A word behind which no date stands either.
    pub(super) fn leave_over_behind(&mut self) {
        self.found.seen.unread_expiry = true;
        self.open.left.push(Field::ExpirySymbol);
    }

    /// Remembers what lies behind a date that may not be all that its word stands for.
    pub(super) fn doubt(&mut self, from: usize, to: usize) {
        self.open.doubted.push((from, to));
    }

    /// A number right before the first word of a date that tells no day: `15. EXP 12/2028`. It may
    /// be that day, or the month of a year alone.
    pub(super) fn add_number_before(&self, at: usize, date: &mut PrintedDate) {
        let Some(number) = self.number_before(at) else { return };
        let mut earlier = Vec::new();
        for (day, precision) in &date.readings {
            let part = i8::try_from(number).unwrap_or(0);
            let day = match precision {
                Precision::Day => continue,
                Precision::Month => {
                    day.with().day(part).build().ok().map(|day| (day, Precision::Day))
                }
                Precision::Year => {
                    let month = day.with().day(1).month(part).build().ok();
                    month.map(|day| (dates::last_of_month(day), Precision::Month))
                }
            };
            date.doubtful = true;
            earlier.extend(day);
        }
        date.readings.extend(earlier);
        date.readings.sort_unstable();
        date.readings.dedup();
    }

    /// A number from 1 to 31 that stands alone, of no other field and of no configuration.
    fn number_before(&self, at: usize) -> Option<u32> {
        let letters = self.text.letters.as_slice();
        let back = |from: usize, is: fn(char) -> bool| {
            from - letters[..from].iter().rev().take_while(|c| is(**c)).count()
        };
        let end = back(at, |c| c.is_whitespace() || c == '.');
        let dotted = letters.get(end) == Some(&'.');
        let start = back(end, |c| c.is_ascii_digit());
        let before = start.checked_sub(1).map(|i| letters[i]);
        let number: String = letters[start..end].iter().collect();
        let number = number.parse().ok().filter(|n| (1..=31).contains(n))?;
        if 2 < end - start || before.is_some_and(|c| !c.is_whitespace()) {
            return None;
        }
        let taken = |at: usize| self.found.taken.iter().any(|part| part.0 <= at && at < part.1);
        let word = back(start, char::is_whitespace);
        let apart = word == 0 || taken(word - 1) || letters[word..start].contains(&'\n');
        (!taken(start) && (dotted || apart)).then_some(number)
    }

    /// Dates without a word that a word of expiry may stand for: where one is left over, all of
    /// them; else those behind a date that may not be all of it. One alone is not offered, since it
    /// may be what is left of another. Whether the rest may find places of their own.
    pub(super) fn claim_loose_dates(&mut self) -> bool {
        let Open { left, heads, doubted, .. } = std::mem::take(&mut self.open);
        let behind = |from| doubted.iter().any(|part| part.0 <= from && from < part.1);
        let (claimed, loose): (Vec<_>, Vec<_>) = std::mem::take(&mut self.loose)
            .into_iter()
            .partition(|(_, from, _)| !left.is_empty() || behind(*from));
        self.loose = loose;
        let made = self.found.packet.made_on.clone().filter(|_| heads);
        let others = usize::from(self.found.packet.expires_on.is_some() || made.is_some());
        if claimed.len() + others < 2 {
            self.loose.extend(claimed);
            return left.is_empty();
        }
        let fields = if left.is_empty() { &[Field::ExpirySymbol][..] } else { &left };
        for (date, start, end) in &claimed {
            self.found.spans.push(Span {
                start: *start,
                end: *end,
                kind: SpanKind::ExpiresOn.into(),
            });
            let said = self.date_said(date, fields);
            self.place_said(DateSaid { doubtful: true, ..said }, Field::ExpirySymbol);
        }
        if let Some(made) = made.filter(|_| !claimed.is_empty()) {
            let last = match made.precision {
                Precision::Day => made.date,
                Precision::Month | Precision::Year => dates::last_of_month(made.date),
            };
            self.place_said(DateSaid { date: last, doubtful: true, ..made }, Field::ExpirySymbol);
        }
        true
    }
}

/// Whether a region says that the date is one before which the pack is to be used.
pub(super) fn says_before(region: &[char]) -> bool {
    let sign = region.iter().find(|c| !joins(**c) && class(**c) == Class::Other);
    let first = region.iter().position(|c| class(*c) != Class::Other);
    let at = region.iter().position(|c| *c == '<');
    sign == Some(&'<') && at < first
}
