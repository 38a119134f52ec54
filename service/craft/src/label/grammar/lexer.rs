//! From folded text to tokens: numbers, codes, tapers, marks.

use etui_schema::vocabulary::Taper;

use super::cut::cut;
use super::lexicon::{Lexicon, Piece};
use super::num::{Num, Unit, run, told, value};
use crate::label::normal::{DIAMETER, MARKED};
use crate::label::tables::Mark;

/// Most tokens a configuration is sought in.
const MOST: usize = 40;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Tok {
    Num(Num),
    /// Index into the lexicon's codes.
    Code(u16),
    Taper(Taper),
    Mark(Mark),
    Noise,
    Unknown,
}

/// A token and where it stands, in bytes of the folded text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Token {
    pub(crate) tok: Tok,
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// Whether nothing stands between it and the token before.
    pub(crate) glued: bool,
    /// Whether white space stands before it.
    pub(crate) blank: bool,
}

/// The tokens of a text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tokens {
    pub(crate) all: Vec<Token>,
    /// Another way to cut a run of letters.
    pub(crate) cut_otherwise: Option<(u16, Option<Taper>)>,
    /// M1 or M2 with more digits behind it.
    pub(crate) magnum_digit: bool,
    /// A T alone behind a code.
    pub(crate) t_alone: bool,
    /// A decimal has a unit of which no needle is that thick.
    pub(crate) odd_unit: bool,
    /// There was more than a configuration can be.
    pub(crate) overflow: bool,
}

/// Cuts a text into tokens, leaving out what `taken` says is read already.
pub(crate) fn lex(up: &[u8], lexicon: &Lexicon, taken: &[(usize, usize)]) -> Tokens {
    let mut lexer = Lexer {
        text: up,
        up,
        lexicon,
        tokens: Tokens { all: Vec::with_capacity(8), ..Tokens::default() },
        at: 0,
        from: 0,
        last_end: usize::MAX,
        hash: None,
        worded: None,
        diameter: None,
    };
    for (start, end) in taken {
        // No word reaches into what is read already.
        lexer.stretch(&up[..(*start).min(up.len())]);
        lexer.at = lexer.at.max(*end);
        lexer.from = lexer.at;
        lexer.last_end = usize::MAX;
    }
    lexer.stretch(up);
    lexer.drop_signs();
    lexer.settle_worded();
    lexer.tokens
}

pub(super) struct Lexer<'a> {
    /// All of the text; `up` ends where the present stretch ends.
    text: &'a [u8],
    pub(super) up: &'a [u8],
    pub(super) lexicon: &'a Lexicon,
    pub(super) tokens: Tokens,
    pub(super) at: usize,
    /// Where the present stretch begins.
    from: usize,
    pub(super) last_end: usize,
    pub(super) hash: Option<usize>,
    /// A word such as "No.": where it ends, and the token of its number.
    pub(super) worded: Option<(usize, usize)>,
    diameter: Option<usize>,
}

impl<'a> Lexer<'a> {
    fn stretch(&mut self, up: &'a [u8]) {
        self.up = up;
        while self.at < up.len() {
            if MOST < self.tokens.all.len() {
                self.tokens.overflow = true;
                break;
            }
            self.step();
        }
    }

    fn step(&mut self) {
        let (at, byte) = (self.at, self.up[self.at]);
        if let Some(end) = self.marked(at) {
            return self.push(Tok::Unknown, at, end);
        }
        match byte {
            b'0'..=b'9' => self.number(),
            b'.' | b',' if self.is_digit(at + 1) && self.last_end != at => self.number(),
            b'A'..=b'Z' => self.word(),
            b'#' => self.hash_sign(),
            DIAMETER => {
                self.drop_signs();
                self.diameter = Some(at);
                self.at += 1;
            }
            b'*' => self.push(Tok::Mark(Mark::Times), at, at + 1),
            b'"' | b'\'' => self.quote(),
            b'|' if self.is_stroke() => self.push(Tok::Unknown, at, at + 1),
            b' ' | b'\t' | b'\n' | b'\r' | b'-' | b'/' | b'_' | b'.' | b',' | b';' | b':'
            | b'|' | b'(' | b')' | b'[' | b']' | b'{' | b'}' | b'=' | b'`' => self.at += 1,
            // A sign that is no separator may be a letter or a digit.
            _ => {
                let end = self.up[at..].iter().take_while(|b| **b == byte).count() + at;
                self.push(Tok::Unknown, at, end);
            }
        }
    }

    /// Where a word ends that has a letter with a mark in it: no part of it is of a configuration.
    fn marked(&self, at: usize) -> Option<usize> {
        let own = |b: &&u8| b.is_ascii_uppercase() || **b == MARKED;
        let end = at + self.up[at..].iter().take_while(own).count();
        self.up[at..end].contains(&MARKED).then_some(end)
    }

    pub(super) fn is_digit(&self, at: usize) -> bool {
        self.up.get(at).is_some_and(u8::is_ascii_digit)
    }

    /// Whether the upright stroke here may be a 1 or an l: it touches a letter
    /// or a digit, and is no frame around the text or edge of what is read.
    fn is_stroke(&self) -> bool {
        let (first, last) = (self.at == 0, self.at + 1 == self.text.len());
        let framed = self.text.first() == Some(&b'|') && self.text.last() == Some(&b'|');
        let left = self.at.checked_sub(1).filter(|at| self.from <= *at).map(|at| self.up[at]);
        let right = self.up.get(self.at + 1).copied();
        let touches = |side: Option<u8>| side.is_some_and(|b| b.is_ascii_alphanumeric());
        let inner = left.is_some() && right.is_some();
        (touches(left) || touches(right)) && (inner || (first || last) && !framed)
    }

    pub(super) fn push(&mut self, tok: Tok, start: usize, end: usize) {
        if !matches!(tok, Tok::Num(_)) {
            self.drop_signs();
        }
        let blank = start.checked_sub(1).is_some_and(|at| self.up[at].is_ascii_whitespace());
        let glued = self.last_end == start;
        self.tokens.all.push(Token { tok, start, end, glued, blank });
        self.last_end = end;
        self.at = end;
    }

    /// A "#" or a diameter sign that no number follows.
    pub(super) fn drop_signs(&mut self) {
        for at in [self.hash.take(), self.diameter.take()].into_iter().flatten() {
            let sign =
                Token { tok: Tok::Unknown, start: at, end: at + 1, glued: false, blank: false };
            self.tokens.all.push(sign);
        }
    }

    pub(super) fn number(&mut self) {
        let start = self.at;
        let digits = run(&self.up[start..]);
        let mut end = start + digits;
        let value = value(&self.up[start..end]);
        let (mut fraction, mut decimals) = (0, 0);
        // A point is decimal after at most one digit: 0.30, .30; 10.03 is two numbers.
        let point = self.up.get(end).is_some_and(|b| matches!(b, b'.' | b','));
        if digits == 1 && value == 0 && point && !self.is_digit(end + 1) {
            // "0." whose decimals stand elsewhere, or nowhere.
            return self.push(Tok::Unknown, start, end + 1);
        }
        if digits <= 1 && point && self.hash.is_none() {
            let shown = run(&self.up[end + 1..]);
            if 0 < shown {
                let all = &self.up[end + 1..end + 1 + shown];
                (fraction, decimals) = (super::num::value(all), told(all));
                end += 1 + shown;
            }
        }
        let short = |n: usize| u8::try_from(n).unwrap_or(u8::MAX);
        let signs = [self.hash.take(), self.diameter.take()];
        let from = signs.iter().flatten().min().copied().unwrap_or(start);
        let num = Num {
            value,
            digits: short(digits),
            fraction,
            decimals: short(decimals),
            hash: signs[0].is_some(),
            diameter_sign: signs[1].is_some(),
            unit: None,
        };
        self.push(Tok::Num(num), from, end);
    }

    fn word(&mut self) {
        let at = self.at;
        if self.spaced_letters() {
            return;
        }
        if let Some((piece, end)) = self.lexicon.word(self.up, at) {
            let ends_in_digit = self.up[end - 1].is_ascii_digit();
            if ends_in_digit && self.is_digit(end) {
                self.tokens.magnum_digit = true;
            }
            self.piece(piece, at, end);
            return;
        }
        let mut run = letters(&self.up[at..]);
        // A sign between numbers may be glued to the code: 5RSX25.
        if 1 < run && self.up[at + run - 1] == b'X' && self.is_digit(at + run) {
            run -= 1;
        }
        match cut(&self.up[at..at + run], self.lexicon) {
            Some((pieces, other)) => {
                let mut from = at;
                for (piece, len) in pieces {
                    self.piece(piece, from, from + len);
                    from += len;
                }
                self.tokens.cut_otherwise = self.tokens.cut_otherwise.or(other);
            }
            None => self.push(Tok::Unknown, at, at + letters(&self.up[at..])),
        }
    }

    /// Gives the last number a unit that ends at `end`, if it can have it.
    pub(super) fn give_unit(&mut self, unit: Unit, end: usize) -> bool {
        let lexicon = self.lexicon;
        let Some(Token { tok: Tok::Num(num), end: number_end, .. }) = self.tokens.all.last_mut()
        else {
            return false;
        };
        let two = u8::try_from(num.value).ok().filter(|_| num.digits == 2 && num.decimals == 0);
        let fits = num.unit.is_none()
            && !num.hash
            && match unit {
                Unit::Millimetre | Unit::Micrometre => true,
                Unit::Gauge => {
                    *number_end == self.at
                        || two.is_some_and(|n| lexicon.gauges.iter().any(|g| g.0 == n))
                }
                // A needle is thinner than 0.03 inch.
                Unit::Inch => 0 < num.decimals && num.inches().is_some_and(|n| n < 300),
                Unit::Thousandth => num.value < 30,
            };
        if fits {
            num.unit = Some(unit);
            *number_end = end;
            self.last_end = end;
            self.at = end;
        }
        fits
    }

    /// Whether the last token is a decimal.
    pub(super) fn is_decimal(&self) -> bool {
        let last = self.tokens.all.last();
        last.is_some_and(|last| matches!(last.tok, Tok::Num(num) if 0 < num.decimals))
    }

    /// Whether a decimal ends here.
    fn touches_decimal(&self, at: usize) -> bool {
        self.is_decimal() && self.tokens.all.last().is_some_and(|last| last.end == at)
    }

    #[expect(clippy::wildcard_enum_match_arm, reason = "five of many pieces are units")]
    pub(super) fn piece(&mut self, piece: Piece, start: usize, end: usize) {
        let unit = match piece {
            Piece::Mark(Mark::Millimetre) => Some(Unit::Millimetre),
            Piece::Mark(Mark::Micrometre) => Some(Unit::Micrometre),
            Piece::Mark(Mark::Gauge) => Some(Unit::Gauge),
            Piece::Mark(Mark::Inch) => Some(Unit::Inch),
            Piece::Mark(Mark::Thousandth) => Some(Unit::Thousandth),
            _ => None,
        };
        let beside = start.checked_sub(self.last_end).is_some_and(|gap| gap <= 1);
        if let Some(unit) = unit {
            self.at = start;
            if beside && self.hash.is_none() && self.give_unit(unit, end) {
                return;
            }
            // `0.30 in blister` is no inch.
            let word =
                || self.up[end..].iter().find(|b| **b != b' ').is_some_and(u8::is_ascii_alphabetic);
            let apart = self.last_end < start && end - start == 2 && word();
            self.tokens.odd_unit |= unit == Unit::Inch && beside && self.is_decimal() && !apart;
            if unit == Unit::Gauge && self.gauge_number(start, end) {
                return;
            }
        }
        if piece == Piece::Mark(Mark::Number) && self.number_word(start, end) {
            return;
        }
        let tok = match piece {
            Piece::Code(code) => Tok::Code(code),
            Piece::Taper(taper) => Tok::Taper(taper),
            // IN without a number, and SIZE, are words of every packet; `0.30in` is no needle.
            Piece::Mark(Mark::Inch) if end - start == 2 && !self.touches_decimal(start) => {
                Tok::Noise
            }
            Piece::Mark(Mark::Number) if 4 <= end - start => Tok::Noise,
            // A unit without a number is nothing.
            Piece::Mark(
                Mark::Millimetre
                | Mark::Micrometre
                | Mark::Gauge
                | Mark::Inch
                | Mark::Thousandth
                | Mark::Number,
            ) => Tok::Unknown,
            Piece::Mark(mark) => Tok::Mark(mark),
            Piece::Noise => Tok::Noise,
        };
        if tok == Tok::Mark(Mark::Textured) && end - start == 1 {
            self.t_alone(start);
        }
        self.push(tok, start, end);
    }
}

/// How many letters a text begins with.
pub(super) fn letters(text: &[u8]) -> usize {
    text.iter().take_while(|b| b.is_ascii_uppercase()).count()
}
