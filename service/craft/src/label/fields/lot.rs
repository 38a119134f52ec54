//! Whether the code of a lot stands there whole.
//!
//! A blank, a line break or a stain inside a code leaves a part of it, and a recall of the whole
//! would pass it by. What stands beside a code and could be a part of it leaves it open: the part and
//! what both are together count as codes of the pack, and a person looks.

use super::Scan;
use crate::label::fold::{Class, class};

/// Most parts that are put together.
const PARTS: usize = 4;
/// Capitals that are as soon a part of a code as a word.
const SHORT: usize = 3;

/// Signs that stand for something that could not be read.
fn is_lost(c: char) -> bool {
    matches!(c, '?' | '…' | '*' | '#' | '~' | '^' | '□' | '▯' | '�' | '▀'..='▟' | '■')
}

/// Signs that print sets right behind a code; any other there may be what is left of one.
fn is_print(c: char) -> bool {
    c.is_whitespace() || ".,;:|/-+=_()[]{}<>\"'“”„«»®™".contains(c)
}

impl Scan<'_> {
    /// Asks about a code from which something may be missing: `word` is where its word ends.
    pub(super) fn look_beside_lot(&mut self, word: usize, start: usize, stop: usize) {
        let letters = &self.text.letters[word..stop];
        let dots = letters.windows(2).any(|two| two == ['.', '.']);
        let mut open = dots
            || letters.iter().any(|c| is_lost(*c))
            || letters.get(start - word) == Some(&'_')
            || self.is_torn_off_behind(start, stop)
            || self.is_remark_behind(stop);
        let mut whole = self.text.raw[start..stop].to_vec();
        let mut at = stop;
        for _ in 0..PARTS {
            let Some((from, to)) = self.part_behind(at) else { break };
            open = true;
            whole.extend(self.text.raw[from..to].iter().filter(|b| b.is_ascii_alphanumeric()));
            at = to;
        }
        self.found.seen.lot_open |= open;
        if stop - start < whole.len() {
            self.found.packet.other_lots.push(String::from_utf8_lossy(&whole).into_owned());
        }
    }

    /// Whether what stands right behind a code, or the box that it stands in, is not whole.
    fn is_torn_off_behind(&self, start: usize, stop: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let behind = letters.get(stop).copied();
        let before = letters[..start].iter().rev().take_while(|c| **c != '\n');
        let opened = letters[..start].last() == Some(&'[');
        let boxed = before.into_iter().any(|c| *c == '[');
        let closed = behind == Some(']');
        let strange = behind.is_some_and(|c| class(c) == Class::Other && !is_print(c));
        strange || opened && !closed || closed && !boxed
    }

    /// Whether a bracket behind a code says that it was not read: `[illegible]`, `(?)`, `[ ]`. One that
    /// is glued to the code says so whatever stands in it, unless that is a field of its own.
    fn is_remark_behind(&self, stop: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let gap = letters[stop..].iter().take_while(|c| **c == ' ').count();
        let Some('(' | '[' | '{' | '<') = letters.get(stop + gap) else { return false };
        let at = stop + gap + 1;
        let inner = at + letters[at..].iter().take_while(|c| c.is_whitespace()).count();
        let Some(first) = letters.get(inner) else { return true };
        let field = self.reader.lists.field(letters, inner).is_some();
        let printed = first.is_ascii_digit() && letters[at - 1] == '(';
        let glued = gap == 0 && !field && !printed;
        glued || is_lost(*first) || class(*first) == Class::Other || self.is_no_lot(inner, None)
    }

    /// Whether a word says that no code stands there, or where it does: `LOT siehe Rückseite`.
    pub(super) fn is_no_lot(&self, at: usize, stop: Option<usize>) -> bool {
        let found = self.reader.lists.no_lot.at(&self.text.letters, at);
        let own = found.is_some_and(|found| found.exact && stop.is_none_or(|to| to <= found.end));
        let Some(stop) = stop else { return own };
        let (letters, raw) = (&self.text.letters[at..stop], &self.text.raw[at..stop]);
        let alphabetic = letters.iter().all(|c| class(*c) == Class::Letter);
        let small = 3 < raw.len() && raw.iter().skip(1).all(u8::is_ascii_lowercase);
        let same = 2 < raw.len() && letters.iter().all(|c| *c == letters[0]);
        own || alphabetic && (small || same)
    }

    /// Whether what stands behind the word of a lot, and is no code, may be what is left of one.
    pub(super) fn is_left_of_lot(&self, at: usize) -> bool {
        let rest = &self.text.letters[at..];
        let word = rest.iter().take_while(|c| class(**c) != Class::Other);
        rest.first().is_some_and(|c| is_lost(*c)) || word.into_iter().any(char::is_ascii_digit)
    }

    /// What stands behind a code and may belong to it; a lost sign counts as a part.
    fn part_behind(&self, at: usize) -> Option<(usize, usize)> {
        let letters = self.text.letters.as_slice();
        let here = *letters.get(at)?;
        if letters[at..].starts_with(&['.', '.']) || is_hanging(&letters[at..]) {
            return Some((at, at + 1));
        }
        match class(here) {
            Class::Letter if !here.is_ascii() => return Some((at, self.run_end(at))),
            Class::Letter | Class::Digit | Class::Sign => return None,
            Class::Other => {}
        }
        let joint = |c: &&char| c.is_whitespace() || "|:;,/-_.=+".contains(**c);
        let from = at + letters[at..].iter().take_while(joint).count();
        let next = *letters.get(from)?;
        if self.reader.lists.field(letters, from).is_some() {
            return None;
        }
        if is_lost(next) && !self.is_size(from) {
            return Some((from, from + 1));
        }
        let to = self.run_end(from);
        (from < to && !self.is_known_behind(from, to) && self.is_like_a_part(from, to))
            .then_some((from, to))
    }

    /// Where letters and digits end.
    fn run_end(&self, from: usize) -> usize {
        let own = |c: &&char| matches!(class(**c), Class::Letter | Class::Digit);
        from + self.text.letters[from..].iter().take_while(own).count()
    }

    /// Short capitals, or whatever has a digit in it.
    fn is_like_a_part(&self, from: usize, to: usize) -> bool {
        let behind = self.text.letters.get(to);
        let letters = &self.text.letters[from..to];
        // `HR: Rok valjanosti`: in which language the next words are.
        let code: String = letters.iter().map(char::to_ascii_lowercase).collect();
        let language = self.reader.dates.months.language(&code).is_some();
        if language && behind.is_some_and(|c| matches!(c, ':' | '/')) {
            return false;
        }
        let small = self.text.raw[from..to].iter().any(u8::is_ascii_lowercase);
        letters.iter().any(char::is_ascii_digit)
            || letters.len() < 2
            || letters.len() <= SHORT && !small
            || self.is_named_part(from, to)
    }

    /// A word that codes are numbered with: *Beta*.
    fn is_named_part(&self, from: usize, to: usize) -> bool {
        let found = self.reader.lists.lot_parts.at(&self.text.letters, from);
        found.is_some_and(|found| found.end == to)
    }

    /// Whether a word behind a code is something else: of a method, a needle, a quantity, a date.
    fn is_known_behind(&self, from: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let lists = &self.reader.lists;
        let long = 1 < to - from;
        let method = lists.methods.at(letters, from).is_some_and(|found| to <= found.end);
        let needle = lists.known.at(letters, from).is_some_and(|found| to <= found.end);
        long && (method || self.context(from, to).is_some())
            || needle
            || self.is_size(from)
            || self.is_pieces(from)
            || self.date_at(from).is_some_and(|date| date.sure)
    }

    /// Whether a configuration begins here, also with blanks inside it (`12 5RL`, `3 RL`).
    fn is_size(&self, from: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let token =
            |at: usize| at + letters[at..].iter().take_while(|c| !c.is_whitespace()).count();
        let end = token(from);
        let next = end + letters[end..].iter().take_while(|c| **c == ' ').count();
        let number = (1..=2).contains(&(end - from)) || end - from == 4;
        let figures = number && letters[from..end].iter().all(char::is_ascii_digit);
        let code = || self.reader.lists.known.at(letters, next).is_some();
        self.is_configuration(from, end)
            || figures && end < next && (code() || self.is_configuration(next, token(next)))
    }
}

/// Whether a hyphen that is glued to a code ends it, as if more had followed.
fn is_hanging(letters: &[char]) -> bool {
    let ends = |c: &char| class(*c) == Class::Other && *c != '/';
    matches!(letters, ['-' | '_', rest @ ..] if rest.first().is_none_or(ends))
}
