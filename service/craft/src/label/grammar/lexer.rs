//! From folded text to tokens: numbers, codes, tapers, marks.

use etui_schema::vocabulary::Taper;

use super::lexicon::{Lexicon, Piece, Thousandths};
use crate::label::normal::{DIAMETER, STRANGE};
use crate::label::tables::Mark;

/// Most tokens a configuration is sought in.
const MOST: usize = 40;

/// A unit behind a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Millimetre,
    Micrometre,
    Gauge,
}

/// A number as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Num {
    /// The digits before the point as a number; at most eight count.
    pub(crate) value: u32,
    /// How many digits stand before the point.
    pub(crate) digits: u8,
    /// The digits behind the point as a number.
    pub(crate) fraction: u32,
    /// How many digits stand behind the point; none if there is no point.
    pub(crate) decimals: u8,
    pub(crate) hash: bool,
    pub(crate) diameter_sign: bool,
    pub(crate) unit: Option<Unit>,
}

impl Num {
    /// The value as written in millimetres, in thousandths.
    pub(crate) fn millimetres(self) -> Option<Thousandths> {
        let scale = match self.decimals {
            0 => 0,
            1 => 100,
            2 => 10,
            3 => 1,
            _ => return None,
        };
        let value = match self.unit {
            Some(Unit::Micrometre) if self.decimals == 0 => self.value,
            Some(Unit::Micrometre | Unit::Gauge) => return None,
            _ => self.value.checked_mul(1000)?.checked_add(self.fraction * scale)?,
        };
        u16::try_from(value).ok()
    }

    /// Whether it is written as a diameter: decimals, unit or sign.
    pub(crate) fn is_literal(self) -> bool {
        0 < self.decimals
            || self.diameter_sign
            || matches!(self.unit, Some(Unit::Millimetre | Unit::Micrometre))
    }

    /// One or two plain digits.
    pub(crate) fn small(self) -> Option<u8> {
        let plain = self.digits <= 2 && !self.is_literal() && self.unit.is_none();
        plain.then(|| u8::try_from(self.value).ok()).flatten()
    }
}

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
}

/// The tokens of a text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Tokens {
    pub(crate) all: Vec<Token>,
    /// Another way to cut a run of letters.
    pub(crate) cut_otherwise: Option<(u16, Option<Taper>)>,
    /// M1 or M2 with more digits behind it.
    pub(crate) magnum_digit: bool,
    /// There was more than a configuration can be.
    pub(crate) overflow: bool,
}

/// Cuts a text into tokens, leaving out what `taken` says is read already.
pub(crate) fn lex(up: &[u8], lexicon: &Lexicon, taken: &[(usize, usize)]) -> Tokens {
    let mut lexer = Lexer {
        up,
        lexicon,
        tokens: Tokens { all: Vec::with_capacity(8), ..Tokens::default() },
        at: 0,
        last_end: usize::MAX,
        hash: None,
        diameter: None,
    };
    for (start, end) in taken {
        // No word reaches into what is read already.
        lexer.stretch(&up[..(*start).min(up.len())]);
        lexer.at = lexer.at.max(*end);
        lexer.last_end = usize::MAX;
    }
    lexer.stretch(up);
    lexer.drop_signs();
    lexer.tokens
}

struct Lexer<'a> {
    up: &'a [u8],
    lexicon: &'a Lexicon,
    tokens: Tokens,
    at: usize,
    last_end: usize,
    hash: Option<usize>,
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
        let next_is_digit = self.up.get(at + 1).is_some_and(u8::is_ascii_digit);
        match byte {
            b'0'..=b'9' => self.number(),
            b'.' | b',' if next_is_digit && self.last_end != at => self.number(),
            b'A'..=b'Z' => self.word(),
            b'#' => {
                self.drop_signs();
                self.hash = Some(at);
                self.at += 1;
            }
            DIAMETER => {
                self.drop_signs();
                self.diameter = Some(at);
                self.at += 1;
            }
            b'*' => self.push(Tok::Mark(Mark::Times), at, at + 1),
            b'?' | STRANGE => {
                let end = self.up[at..].iter().take_while(|b| **b == byte).count() + at;
                self.push(Tok::Unknown, at, end);
            }
            _ => self.at += 1,
        }
    }

    fn push(&mut self, tok: Tok, start: usize, end: usize) {
        if !matches!(tok, Tok::Num(_)) {
            self.drop_signs();
        }
        self.tokens.all.push(Token { tok, start, end, glued: self.last_end == start });
        self.last_end = end;
        self.at = end;
    }

    /// A "#" or a diameter sign that no number follows.
    fn drop_signs(&mut self) {
        for at in [self.hash.take(), self.diameter.take()].into_iter().flatten() {
            let glued = false;
            self.tokens.all.push(Token { tok: Tok::Unknown, start: at, end: at + 1, glued });
        }
    }

    fn number(&mut self) {
        let start = self.at;
        let digits = run(&self.up[start..]);
        let mut end = start + digits;
        let value = value(&self.up[start..end]);
        let (mut fraction, mut decimals) = (0, 0);
        // A point is decimal after at most one digit: 0.30, .30; 10.03 is two numbers.
        if digits <= 1 && self.up.get(end).is_some_and(|b| matches!(b, b'.' | b',')) {
            decimals = run(&self.up[end + 1..]);
            if 0 < decimals {
                fraction = self::value(&self.up[end + 1..end + 1 + decimals]);
                end += 1 + decimals;
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
        if let Some((piece, end)) = self.lexicon.word(self.up, at) {
            let ends_in_digit = self.up[end - 1].is_ascii_digit();
            if ends_in_digit && self.up.get(end).is_some_and(u8::is_ascii_digit) {
                self.tokens.magnum_digit = true;
            }
            self.piece(piece, at, end);
            return;
        }
        let run = self.up[at..].iter().take_while(|b| b.is_ascii_uppercase()).count();
        match cut(&self.up[at..at + run], self.lexicon) {
            Some((pieces, other)) => {
                let mut from = at;
                for (piece, len) in pieces {
                    self.piece(piece, from, from + len);
                    from += len;
                }
                self.tokens.cut_otherwise = self.tokens.cut_otherwise.or(other);
            }
            None => self.push(Tok::Unknown, at, at + run),
        }
    }

    #[expect(clippy::wildcard_enum_match_arm, reason = "three of many pieces are units")]
    fn piece(&mut self, piece: Piece, start: usize, end: usize) {
        let glued = self.last_end == start;
        let unit = match piece {
            Piece::Mark(Mark::Millimetre) => Some(Unit::Millimetre),
            Piece::Mark(Mark::Micrometre) => Some(Unit::Micrometre),
            Piece::Mark(Mark::Gauge) if glued => Some(Unit::Gauge),
            _ => None,
        };
        if let Some(unit) = unit
            && let Some(Token { tok: Tok::Num(num), end: number_end, .. }) =
                self.tokens.all.last_mut()
            && num.unit.is_none()
            && start - *number_end <= 1
        {
            num.unit = Some(unit);
            *number_end = end;
            self.last_end = end;
            self.at = end;
            return;
        }
        let tok = match piece {
            Piece::Code(code) => Tok::Code(code),
            Piece::Taper(taper) => Tok::Taper(taper),
            // A unit without a number is nothing.
            Piece::Mark(Mark::Millimetre | Mark::Micrometre | Mark::Gauge) => Tok::Unknown,
            Piece::Mark(mark) => Tok::Mark(mark),
            Piece::Noise => Tok::Noise,
        };
        self.push(tok, start, end);
    }
}

fn run(text: &[u8]) -> usize {
    text.iter().take_while(|b| b.is_ascii_digit()).count()
}

fn value(digits: &[u8]) -> u32 {
    digits.iter().take(8).fold(0, |n, b| n * 10 + u32::from(b - b'0'))
}

type Pieces = Vec<(Piece, usize)>;
/// Another meaning of the same letters: a code and perhaps a taper.
type Rival = (u16, Option<Taper>);

/// The best way to cut a run of letters into words, and another one that is
/// nearly as good: at most one code and one taper, no letter left over.
fn cut(run: &[u8], lexicon: &Lexicon) -> Option<(Pieces, Option<Rival>)> {
    // The longest sensible run: a code, a taper, a mark and a pack word.
    if 24 < run.len() {
        return None;
    }
    let mut ways: Vec<(u8, Pieces)> = Vec::new();
    let mut so_far = Vec::with_capacity(4);
    cut_on(run, lexicon, 0, &mut so_far, &mut ways);
    ways.sort_by_key(|way| way.0);
    let mut ways = ways.into_iter();
    let (weakness, best) = ways.next()?;
    let meaning = |pieces: &Pieces| {
        let mut code = None;
        let mut taper = None;
        for (piece, _) in pieces {
            match piece {
                Piece::Code(c) => code = Some(*c),
                Piece::Taper(t) => taper = Some(*t),
                Piece::Mark(_) | Piece::Noise => {}
            }
        }
        (code, taper)
    };
    let own = meaning(&best);
    let other = ways
        .take_while(|(other, _)| *other < weakness + 3)
        .map(|(_, pieces)| meaning(&pieces))
        .find(|other| *other != own)
        .and_then(|(code, taper)| code.map(|code| (code, taper)));
    Some((best, other))
}

fn cut_on(
    run: &[u8],
    lexicon: &Lexicon,
    weakness: u8,
    so_far: &mut Pieces,
    ways: &mut Vec<(u8, Pieces)>,
) {
    if run.is_empty() {
        ways.push((weakness, so_far.clone()));
        return;
    }
    if 4 <= so_far.len() || 16 <= ways.len() {
        return;
    }
    for (piece, len, own) in lexicon.beginnings(run) {
        let clash = so_far.iter().any(|(before, _)| {
            matches!(
                (before, piece),
                (Piece::Code(_), Piece::Code(_)) | (Piece::Taper(_), Piece::Taper(_))
            )
        });
        // Signs between numbers and units are words of their own.
        let sign = matches!(
            piece,
            Piece::Mark(Mark::Times | Mark::Millimetre | Mark::Micrometre | Mark::Gauge)
        );
        if clash || sign || (piece == Piece::Noise && len < 4) {
            continue;
        }
        so_far.push((piece, len));
        cut_on(&run[len..], lexicon, weakness + own, so_far, ways);
        so_far.pop();
    }
}
