//! What a packet says of its maker: where he is, how he is reached, which document it is.
//!
//! A line that names a company, or a street or a country with a number, and neither a field nor anything
//! of a needle, says nothing of one. In other lines a number belongs to the word before it (`Unit 5`,
//! `CE 0123`). Which words these are is rule data; what may deny something is heard wherever it stands.

use super::lists::Context;
use super::words::Found;
use super::{Scan, begins, digits};
use crate::label::fold::{Class, class};
use crate::label::normal::DIAMETER;
use crate::label::reading::SpanKind;

/// What a word of the maker is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Maker {
    /// Stands before the number of a house or a document.
    Number,
    /// Stands before a telephone's groups of digits.
    Call,
    /// Stands before the four digits of a notified body.
    Body,
    /// A street, a country: with a number in its line.
    Place,
    /// A company, or where it is made: of the maker whatever stands beside it.
    Firm,
}

/// Digits of the number of a notified body.
const BODY: usize = 4;
/// Fewest digits of a telephone that begins with the code of its country.
const CALL: usize = 8;
/// Longest number of a document, in characters.
const LONG: usize = 24;
/// Letters of a preposition or an article.
const SMALL: usize = 3;
/// Signs between a word and its number, or between two groups.
const SIGNS: usize = 3;

impl Scan<'_> {
    /// Takes every line of the maker, and every number of his in other lines.
    pub(super) fn tell_maker(&mut self) {
        let letters = self.text.letters.as_slice();
        let mut from = 0;
        for line in letters.split(|c| *c == '\n') {
            let to = from + line.len();
            let of_maker = self.is_of_maker(from, to);
            for at in from..to {
                let sign = matches!(letters[at], '+' | '&');
                if !sign && !begins(letters, at) {
                    continue;
                }
                let word = self.maker_word(at);
                let end = self.number_of(at, word).or_else(|| match letters[at] {
                    '&' => self.ampersand(at),
                    _ => self.address(at, word),
                });
                if let Some(end) = end.filter(|end| !self.is_taken(end - 1)) {
                    let free = (at..end).find(|at| !self.is_taken(*at)).unwrap_or(at);
                    self.take(free, end, SpanKind::Notice);
                }
            }
            if of_maker {
                self.take_line(from, to);
            } else {
                self.take_small_words(from, to);
            }
            from = to + 1;
        }
    }

    /// A sign for *and* between two words on one line.
    fn ampersand(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let [' ', '&', ' '] = letters.get(at.checked_sub(1)?..at + 2)? else { return None };
        let word = |(from, to): (usize, usize)| {
            let own = letters[from..to].iter().all(|c| class(*c) == Class::Letter);
            own && 1 < to - from && !self.is_code(from, to)
        };
        let (before, behind) = (self.words_before(at).next()?, self.words_behind(at).next()?);
        let beside = before.1 + 1 == at && behind.0 == at + 2;
        (beside && word(before) && word(behind)).then_some(at + 1)
    }

    /// Whether a line names the maker, and no field, no date and nothing of a needle.
    fn is_of_maker(&self, from: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let within = |start: usize, end: usize| start < to && from < end;
        let has_digit =
            |part: &&(usize, usize)| letters[part.0..part.1].iter().any(char::is_ascii_digit);
        let mut fields = self.found.spans.iter().filter(|span| span.kind != SpanKind::Notice);
        let read = fields.any(|span| within(span.start, span.end))
            || self.found.unread.iter().filter(has_digit).any(|part| within(part.0, part.1));
        !read && self.names_maker(from, to) && !self.has_needle(from, to)
    }

    /// Whether a stretch has a word that names the maker, or where he is.
    pub(super) fn names_maker(&self, from: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let numbered = letters[from..to].iter().any(char::is_ascii_digit);
        let names = |at: usize| match letters[at] {
            '@' => true,
            '+' => self.maker_number(at).is_some(),
            _ if !begins(letters, at) => false,
            _ => {
                let word = self.maker_word(at).filter(|word| word.end <= to);
                word.is_some_and(|word| match word.means {
                    Maker::Firm => true,
                    Maker::Number | Maker::Call | Maker::Place => numbered,
                    Maker::Body => false,
                }) || numbered && self.is_street(at)
            }
        };
        (from..to).any(names)
    }

    /// Whether a stretch has a diameter, a size, a number with a code behind it, or one behind a word of
    /// needles (`Size 12`).
    fn has_needle(&self, from: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let named = |(from, to): (usize, usize)| {
            let word = letters[from..to].iter().all(|c| class(*c) == Class::Letter);
            word && self.is_known(from, to)
                && SMALL <= to - from
                && self.maker_number(from).is_none()
                && !self.is_numero(from, to)
        };
        let figures = |(from, to): (usize, usize)| {
            to - from <= BODY && letters[from..to].iter().all(char::is_ascii_digit)
        };
        let tokens: Vec<_> = self.tokens(from, to).collect();
        self.text.up[from..to].iter().any(|b| matches!(b, b'#' | &DIAMETER))
            || tokens.windows(2).any(|two| named(two[0]) && figures(two[1]))
            || (0..tokens.len()).any(|n| self.is_of_needle(tokens[n], tokens.get(n + 1).copied()))
    }

    /// Whether a token is of a needle, perhaps with the next.
    fn is_of_needle(&self, (start, end): (usize, usize), next: Option<(usize, usize)>) -> bool {
        let figures = self.text.letters[start..end].iter().all(char::is_ascii_digit);
        self.is_configuration(start, end)
            || figures && next.is_some_and(|(from, to)| self.is_code(from, to))
    }

    /// A grouping of two letters or more, alone.
    fn is_code(&self, start: usize, end: usize) -> bool {
        let found = self.reader.lists.known.at(&self.text.letters[..end], start);
        let code = found.is_some_and(|found| found.means && found.exact && found.end == end);
        code && 1 < end - start
    }

    /// What stands between blanks, without the signs at its ends.
    fn tokens(&self, from: usize, to: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let letters = self.text.letters.as_slice();
        let mut at = from;
        let parts = letters[from..to].split(|c| c.is_whitespace());
        let places = parts.map(move |part| {
            let start = at;
            at += part.len() + 1;
            (start, start + part.len())
        });
        places.filter_map(|(start, end)| {
            let own = |c: &char| class(*c) != Class::Other;
            let first = start + letters[start..end].iter().position(own)?;
            Some((first, start + letters[start..end].iter().rposition(own)? + 1))
        })
    }

    /// Takes a line but for the words that may deny something.
    fn take_line(&mut self, from: usize, to: usize) {
        let letters = self.text.letters.as_slice();
        let own = |c: &&char| !c.is_whitespace();
        let whole = |(start, end): (usize, usize)| {
            let before = letters[from..start].iter().rev().take_while(own).count();
            (start - before, end + letters[end..to].iter().take_while(own).count())
        };
        let tokens: Vec<_> = self.tokens(from, to).map(whole).collect();
        let mut open: Option<(usize, usize)> = None;
        for (start, end) in tokens {
            if (start..end).any(|at| self.is_taken(at)) || self.may_deny(start, end) {
                if let Some((start, end)) = open.take() {
                    self.take(start, end, SpanKind::Notice);
                }
            } else {
                open = Some((open.map_or(start, |part| part.0), end));
            }
        }
        if let Some((start, end)) = open {
            self.take(start, end, SpanKind::Notice);
        }
    }

    /// Takes the short words of a name: *Officina del Sopracciglio*. A line of nothing but words, and
    /// long ones that nobody knows at both ends, has no broken code in it.
    fn take_small_words(&mut self, from: usize, to: usize) {
        let tokens: Vec<_> = self.tokens(from, to).collect();
        let letters = self.text.letters.as_slice();
        let plain = |(start, end): &(usize, usize)| {
            let word = letters[*start..*end].iter().all(|c| class(*c) == Class::Letter);
            word && !self.is_taken(*start) && !self.is_known(*start, *end)
        };
        let long = |token: &(usize, usize)| SMALL < token.1 - token.0;
        let [first, between @ .., last] = tokens.as_slice() else { return };
        if !(long(first) && long(last) && tokens.iter().all(plain)) {
            return;
        }
        let small = |token: &&(usize, usize)| !long(token) && !self.may_deny(token.0, token.1);
        let small: Vec<_> = between.iter().filter(small).copied().collect();
        small.into_iter().for_each(|(start, end)| self.take(start, end, SpanKind::Notice));
    }

    /// Whether a token has a word in it that may say something of the pack.
    fn may_deny(&self, start: usize, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let of_sterility = (start..end).any(|at| self.reader.lists.stems.begins(letters, at));
        let mut words = self.words_behind(start).take_while(|word| word.0 < end);
        // One letter is what is left of a word where a claim may follow.
        let last = letters.get(end).is_none_or(|c| *c == '\n');
        of_sterility
            || words.any(|(from, to)| match self.context(from, to) {
                Some(
                    Context::Negation
                    | Context::Doubt
                    | Context::First
                    | Context::Again
                    | Context::Partial
                    | Context::Condition,
                ) => (1 < to - from || last && end - start == 1) && !self.is_numero(from, to),
                Some(
                    Context::Joining
                    | Context::By
                    | Context::Intact
                    | Context::Part
                    | Context::Free
                    | Context::Trade,
                )
                | None => false,
            })
    }

    /// `No. 18`, on one line.
    fn is_numero(&self, from: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let next = letters[to..].iter().find(|c| !matches!(c, ' ' | '.' | ':'));
        letters[from..to] == ['N', 'O'] && next.is_some_and(char::is_ascii_digit)
    }

    /// The word of the maker that begins here; initials have their stops, as codes have none (`S L`).
    fn maker_word(&self, at: usize) -> Option<Found<Maker>> {
        let letters = self.text.letters.as_slice();
        let word = self.reader.lists.maker.at(letters, at)?;
        let own = &letters[at..word.end];
        let written = own.windows(2).any(|two| two.iter().all(|c| class(*c) == Class::Letter));
        (written || own.contains(&'.')).then_some(word)
    }

    /// Where initials of a company, or an address of the web, end that begin here.
    fn address(&self, at: usize, word: Option<Found<Maker>>) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        if 0 < at && !letters[at - 1].is_whitespace() || self.is_taken(at) {
            return None;
        }
        let line = letters[at..].iter().take_while(|c| !c.is_whitespace()).count();
        let (start, end) = self.tokens(at, at + line).next().filter(|token| token.0 == at)?;
        let token = &letters[start..end];
        let web = token.contains(&'@')
            || token.starts_with(&['W', 'W', 'W', '.'])
            || token.starts_with(&['H', 'T', 'T', 'P']);
        let initials =
            word.filter(|word| word.means == Maker::Firm && letters[at..word.end].contains(&'.'));
        initials.map(|word| word.end).or_else(|| web.then_some(end))
    }

    /// Where a number of the maker's ends whose word, or whose plus, begins here.
    pub(super) fn maker_number(&self, at: usize) -> Option<usize> {
        self.number_of(at, self.maker_word(at))
    }

    /// The same, of the word that begins here.
    fn number_of(&self, at: usize, word: Option<Found<Maker>>) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        if letters[at] == '+' {
            let end = self.groups(at + 1)?;
            let count = letters[at..end].iter().filter(|c| c.is_ascii_digit()).count();
            return (CALL <= count).then_some(end);
        }
        let word = word?;
        let from = self.number_place(word.end);
        match word.means {
            Maker::Place | Maker::Firm => None,
            Maker::Number => self.one_number(from),
            Maker::Call => self.groups(from),
            Maker::Body => {
                let figures = digits(self.text.up.get(from..)?);
                self.one_number(from).filter(|end| figures == BODY && from + BODY == *end)
            }
        }
    }

    /// Where the number of a word may begin: behind signs, and behind *No.*
    fn number_place(&self, end: usize) -> usize {
        let letters = self.text.letters.as_slice();
        let sign = |c: &&char| matches!(**c, ' ' | '.' | ':' | '°' | 'º' | '(' | '+');
        let skip = |at: usize| at + letters[at..].iter().take_while(sign).take(SIGNS).count();
        let at = skip(end);
        let word = letters[at..].iter().take_while(|c| class(**c) == Class::Letter).count();
        let behind = skip(at + word);
        // *No.*, or the code of a country.
        let land = matches!(word, 1 | 2)
            && letters.get(behind).is_some_and(char::is_ascii_digit)
            && !self.is_code(at, at + word);
        let short = land || matches!(letters[at..at + word], ['N', 'O' | 'R']);
        if short && at + word < behind { behind } else { at }
    }

    /// A number, perhaps with letters, up to a blank; none that a needle may have.
    fn one_number(&self, from: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let line = letters.get(from..)?.iter().take_while(|c| **c != '\n').count();
        let mut tokens = self.tokens(from, from + line);
        let (start, end) = tokens.next().filter(|token| token.0 == from)?;
        let number = letters[start..end].iter().any(char::is_ascii_digit) && end - start <= LONG;
        (number && !self.is_of_needle((start, end), tokens.next())).then_some(end)
    }

    /// Groups of digits as telephones have them, without those that a needle may have.
    fn groups(&self, from: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let sign = |c: &&char| matches!(**c, ' ' | '-' | '/' | '.' | '(' | ')');
        let (mut at, mut end) = (from, None);
        loop {
            let group = digits(self.text.up.get(at..)?);
            let stop = at + group;
            let token = letters[at..].iter().take_while(|c| !c.is_whitespace()).count();
            let closed = letters.get(stop).is_none_or(|c| class(*c) == Class::Other);
            let next = stop + letters[stop..].iter().take_while(|c| **c == ' ').count();
            let word = letters[next..].iter().take_while(|c| class(**c) != Class::Other).count();
            let needle =
                self.is_of_needle((at, at + token), None) || self.is_code(next, next + word);
            if group == 0 || !closed || needle || self.is_taken(at) {
                return end;
            }
            end = Some(stop);
            at = stop + letters[stop..].iter().take_while(sign).take(SIGNS).count();
        }
    }
}
