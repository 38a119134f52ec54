//! Numbers that are of no needle, no date and no lot: of a street, a share, a temperature, a norm.
//!
//! They stand on every pack, and a whole reading is not asked about for them. Which words lead to a
//! street number is rule data; the rest are signs.

use super::{Scan, digits};
use crate::label::fold::{Class, class};
use crate::label::reading::SpanKind;

/// Digits of a street number or a share at most.
const SHORT: usize = 4;
/// Words of the name of a street at most.
const NAME: usize = 3;
/// Digits of the number of a town in many countries, which no configuration has.
const TOWN: usize = 5;

impl Scan<'_> {
    /// Takes every such number.
    pub(super) fn tell_elsewhere(&mut self) {
        let letters = self.text.letters.as_slice();
        let mut at = 0;
        while at < letters.len() {
            let begins = letters[at] == '©' || super::begins(letters, at);
            let free = begins && !self.is_taken(at) && !self.is_share(at);
            let norm = if begins { self.norm(at) } else { None };
            let other = || {
                let named = || self.street(at).or_else(|| self.town(at)).or_else(|| self.house(at));
                self.measured(at).or_else(named)
            };
            let end = norm.or_else(|| if free { other() } else { None });
            if let Some(end) = end.filter(|end| !self.is_taken(end - 1)) {
                let from = (at..end).find(|from| !self.is_taken(*from)).unwrap_or(at);
                self.take(from, end, SpanKind::Notice);
                at = end;
            }
            at += 1;
        }
    }

    /// Whether a figure may be a share of what is sterile: no claim with its method ended before.
    fn is_share(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let before = self.sterile.iter().rev().find(|hit| hit.end <= at);
        letters[at].is_ascii_digit()
            && before.is_some_and(|hit| !(hit.is_told() && letters[hit.end..at].contains(&'\n')))
    }

    /// A share, a humidity or a temperature, and up to which: `20-80%`, `5 °C - 30 °C`.
    pub(super) fn measured(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let sign = |c: &char| matches!(c, '°' | '℃' | '℉' | '%' | '٪');
        let number = |at: usize| {
            let end = at + digits(&self.text.up[at..]);
            (at < end && end - at <= SHORT).then_some(end)
        };
        let blanks =
            |at: usize| at + letters[at..].iter().take_while(|c| matches!(c, ' ' | '-')).count();
        let unit = |at: usize| {
            let at = blanks(at);
            letters.get(at).filter(|c| sign(c))?;
            let behind = letters.get(at + 1..).unwrap_or_default();
            let scale = matches!(behind, ['C' | 'F', rest @ ..]
                if rest.first().is_none_or(|c| class(*c) != Class::Letter));
            Some(at + 1 + usize::from(scale))
        };
        // No decimal, of which a part would be left.
        let before = at.checked_sub(1).and_then(|i| letters.get(i));
        let end = number(at).filter(|_| !matches!(before, Some('.' | ',' | '/')))?;
        unit(end).or_else(|| {
            let to = blanks(end);
            number(to).filter(|_| end < to && letters[end..to].contains(&'-')).and_then(unit)
        })
    }

    /// A norm, a regulation or a year of copyright: `EN 17169:2020`, `EU) 2017/745`, `© 2025`.
    pub(super) fn norm(&self, at: usize) -> Option<usize> {
        const NAMES: [&[char]; 4] =
            [&['D', 'I', 'N'], &['I', 'S', 'O'], &['I', 'E', 'C'], &['E', 'N']];
        let letters = self.text.letters.as_slice();
        let blanks = |at: usize| {
            at + letters[at..].iter().take_while(|c| matches!(c, ' ' | ')' | '/')).count()
        };
        let number = |at: usize| digits(self.text.up.get(at..).unwrap_or_default());
        if *letters.get(at)? == '©' {
            let from = blanks(at + 1);
            return (number(from) == 4).then_some(from + 4);
        }
        if letters[at..].starts_with(&['E', 'U']) {
            let from = blanks(at + 2);
            let behind = number(from + 5);
            let told = number(from) == 4 && letters.get(from + 4) == Some(&'/');
            return (told && (2..=SHORT).contains(&behind)).then_some(from + 5 + behind);
        }
        let (mut from, mut names) = (at, 0);
        while let Some(name) = NAMES.iter().find(|name| letters[from..].starts_with(name)) {
            from = blanks(from + name.len());
            names += 1;
        }
        let first = number(from);
        let mut end = from + first;
        let mut parts = 0;
        for (sign, least, most) in [('-', 1, 2), (':', 4, 4)] {
            let count = number(end + 1);
            if letters.get(end) == Some(&sign) && (least..=most).contains(&count) {
                end += 1 + count;
                parts += 1;
            }
        }
        // *En 2028* is Spanish for *in 2028*.
        let year = names == 1 && letters[at] == 'E' && parts == 0 && first < 5;
        (0 < names && (3..=5).contains(&first) && !year).then_some(end)
    }

    /// The number of a town before its name: `10115 Berlin`, `31-958 Kraków`, `CH-8001 Zürich`.
    pub(super) fn town(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let number = |at: usize| at + digits(self.text.up.get(at..).unwrap_or_default());
        let land = letters[at..].iter().take_while(|c| class(**c) == Class::Letter).count();
        let coded = matches!(land, 1 | 2) && letters.get(at + land) == Some(&'-');
        let code = coded && !self.is_known(at, at + land);
        let at = if coded { at + land + 1 } else { at };
        let first = number(at);
        let parted = first == at + 2 && letters.get(first) == Some(&'-');
        let end = if parted { number(first + 1) } else { first };
        let count = end - at - usize::from(parted);
        let whole = count == TOWN || code && count == SHORT;
        let blank = whole && letters.get(end) == Some(&' ');
        let name = letters.get(end + 1..).unwrap_or_default();
        let name = name.iter().take_while(|c| class(**c) == Class::Letter).count();
        (blank && SHORT <= name && !self.is_known(end + 1, end + 1 + name)).then_some(end)
    }

    /// The number of a house before the name of its street, on one line: `14 Mill Lane`.
    pub(super) fn house(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let end = at + digits(&self.text.up[at..]);
        if !(1..=SHORT).contains(&(end - at))
            || letters[at] == '0'
            || letters.get(end) != Some(&' ')
        {
            return None;
        }
        let mut last = end;
        let mut words = self.words_behind(end).take(NAME).take_while(|(from, to)| {
            let beside = letters[last..*from].iter().all(|c| *c == ' ');
            last = *to;
            beside && !self.is_known(*from, *to)
        });
        words.any(|(from, _)| self.is_street(from)).then_some(end)
    }

    /// The number of a house behind the name of its street: `Hauptstr. 12`.
    pub(super) fn street(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let run = letters[at..].iter().take_while(|c| class(**c) == Class::Letter).count();
        let end = at + run;
        let gap = letters[end..].iter().take_while(|c| matches!(c, ' ' | '.' | ',')).count();
        let from = end + gap;
        let count = digits(&self.text.up[from..]);
        let to = from + count;
        let letter = letters.get(to).is_some_and(|c| matches!(c, 'A'..='F'));
        let closed = |at: usize| {
            letters.get(at).is_none_or(|c| class(*c) == Class::Other && !matches!(c, '.' | '#'))
                || matches!(letters.get(at..), Some(['.', c, ..]) if c.is_whitespace())
        };
        let to = to + usize::from(letter);
        (0 < gap && (1..=SHORT).contains(&count) && closed(to) && self.is_street(at)).then_some(to)
    }

    /// Whether a word ends as names of streets do.
    pub(super) fn is_street(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let run = letters[at..].iter().take_while(|c| class(**c) == Class::Letter).count();
        let streets = &self.reader.lists.streets;
        // `WORD` is no road.
        let long = |from: usize| from == at || at + 3 <= from && from + 3 <= at + run;
        let ends = |from: usize| streets.at(letters, from).is_some_and(|f| f.end == at + run);
        (at..at + run).any(|from| long(from) && ends(from))
    }
}
