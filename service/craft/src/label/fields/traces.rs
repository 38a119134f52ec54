//! What looks like the data of a symbol in print and was not read as such.
//!
//! Print under a symbol is worn and misread like any other; a bracket that became another one, a
//! date with hyphens, a prefix of the scanner or another standard leaves elements that no rule
//! reads. Their expiry may be earlier than the one with a word, so a person looks.

use super::Scan;
use crate::label::gs1::check_digit_fits;

/// Digits of an item number behind its identifier.
const ITEM: usize = 14;

impl Scan<'_> {
    /// Remembers whether such data stands somewhere.
    pub(super) fn tell_traces(&mut self) {
        let seen =
            (0..self.text.up.len()).any(|at| self.is_trace(at) && !self.is_part_of_elements(at));
        self.found.seen.symbol_trace |= seen;
    }

    /// Whether data that no rule reads begins here.
    fn is_trace(&self, at: usize) -> bool {
        let up = &self.text.up[at..];
        let before = at.checked_sub(1).map_or(b' ', |i| self.text.up[i]);
        let begins = !before.is_ascii_alphanumeric();
        match up {
            // The scanner's prefix.
            [
                b']',
                b'C' | b'D' | b'E' | b'Q' | b'J',
                b'0'..=b'4',
                b'0'..=b'9' | b'(' | b'+',
                ..,
            ] => true,
            [b'+', first, rest @ ..] if first.is_ascii_alphabetic() => is_hibc(rest),
            [b'/', b'1', b'4' | b'6', b'D', rest @ ..] => digits(rest) == 8,
            [b'?' | b'&', b'1', b'7' | b'5', b'=', ..] => true,
            [b'/', b'1', b'7' | b'5', b'/', rest @ ..] => digits(rest) == 6,
            [b'/', b'0', b'1', b'/', rest @ ..] => digits(rest) == ITEM,
            [b'0', b'1', rest @ ..] if begins => {
                ITEM < digits(rest) && check_digit_fits(&rest[..ITEM])
            }
            _ => self.is_dated_element(at),
        }
    }

    /// Whether the identifier of an expiry stands here with something that looks like its date:
    /// `[17]260731`, `(l7) 26-07-31`, `17 260731`, `AI17: 260731`.
    fn is_dated_element(&self, at: usize) -> bool {
        let up = &self.text.up;
        let [one, b'7', rest @ ..] = &up[at..] else { return false };
        if !matches!(one, b'1' | b'I' | b'L' | b'|') {
            return false;
        }
        let before = at.checked_sub(1).map_or(b' ', |i| up[i]);
        let named = up[..at].ends_with(b"AI");
        let opened = matches!(before, b'(' | b'[' | b'{' | b'<');
        let between = rest.iter().take_while(|b| b" )]}>:.=-\n".contains(b)).take(4).count();
        let closed = rest[..between].iter().any(|b| matches!(b, b')' | b']' | b'}' | b'>'));
        let value = &rest[between..];
        let six = is_day(value);
        let whole = six && digits(value) == 6;
        let blank = before.is_ascii_whitespace() || at == 0;
        (opened || closed || named) && (six || is_parted_day(value))
            || blank && 0 < between && whole && !self.is_taken(at)
            || opened && between == 0 && whole
    }

    fn is_part_of_elements(&self, at: usize) -> bool {
        use crate::label::reading::SpanKind;
        let spans = self.found.spans.iter();
        spans.filter(|s| s.kind == SpanKind::Elements).any(|s| s.start <= at && at < s.end)
    }
}

/// How many digits stand at the beginning, of as many as matter.
fn digits(text: &[u8]) -> usize {
    text.iter().take(ITEM + 2).take_while(|b| b.is_ascii_digit()).count()
}

/// Six or eight digits, or letters that OCR takes for them, that begin like a year.
fn is_day(text: &[u8]) -> bool {
    let digit =
        |b: &&u8| b.is_ascii_digit() || matches!(b, b'O' | b'I' | b'L' | b'S' | b'B' | b'Z');
    let count = text.iter().take(ITEM).take_while(digit).count();
    matches!(count, 6 | 8) && 4 <= text[..count].iter().filter(|b| b.is_ascii_digit()).count()
        || 6 < digits(text)
}

/// A date with signs between its parts.
fn is_parted_day(text: &[u8]) -> bool {
    let first = digits(text);
    let sign = |b: Option<&u8>| matches!(b, Some(b'-' | b'.' | b'/' | b' '));
    let second = text.get(first + 1..).map_or(0, digits);
    matches!(first, 2 | 4) && sign(text.get(first)) && second == 2
}

/// The rest of primary data, a stroke and a code of secondary data.
fn is_hibc(rest: &[u8]) -> bool {
    let part = |b: &&u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'.');
    let primary = rest.iter().take_while(part).count();
    4 <= primary && matches!(&rest[primary..], [b'/', b'$' | b'0'..=b'9' | b'S', ..])
}
