//! The tokens of a label, sorted by what they are.

use etui_schema::vocabulary::Taper;

use super::lexer::{Tok, Token, Tokens};
use super::lexicon::Lexicon;
use super::numbers::{Placed, Stretch};
use crate::label::reading::{Span, SpanKind};
use crate::label::tables::Mark;

/// The tokens, sorted by what they are.
pub(super) struct Parts {
    pub(super) code: Option<(u16, Stretch)>,
    pub(super) taper: Option<(Taper, Stretch)>,
    pub(super) before: Vec<Placed>,
    pub(super) after: Vec<Placed>,
    pub(super) marks: u32,
    pub(super) times: bool,
    /// A number between two codes, and one before the first.
    pub(super) two_labels: bool,
    /// A length that can only be the shaft's.
    pub(super) length: bool,
    /// A T alone, which may mean several things.
    pub(super) t_alone: bool,
    pub(super) contradiction: bool,
    pub(super) disturbed: bool,
    pub(super) unread: Vec<Stretch>,
    pub(super) spans: Vec<Span>,
}

impl Parts {
    pub(super) fn has(&self, mark: Mark) -> bool {
        self.marks >> mark as u32 & 1 == 1
    }

    pub(super) fn numbers(&self) -> Vec<Placed> {
        self.before.iter().chain(&self.after).copied().collect()
    }

    /// Sorts some of the tokens of a text.
    pub(super) fn sort(all: &[Token], tokens: &Tokens, lexicon: &Lexicon) -> Self {
        let mut parts = Self {
            code: None,
            taper: None,
            before: Vec::with_capacity(3),
            after: Vec::new(),
            marks: 0,
            times: false,
            two_labels: false,
            length: false,
            t_alone: tokens.t_alone,
            contradiction: false,
            disturbed: tokens.overflow || tokens.odd_unit,
            unread: Vec::new(),
            spans: Vec::with_capacity(4),
        };
        for (i, token) in all.iter().enumerate() {
            let before = i.checked_sub(1).and_then(|i| all.get(i));
            parts.token(token, before, all.get(i + 1), lexicon);
        }
        parts
    }

    pub(super) fn span(&mut self, at: Stretch, kind: SpanKind) {
        self.spans.push(Span { start: at.0, end: at.1, kind: kind.into() });
    }

    pub(super) fn token(
        &mut self,
        token: &Token,
        before: Option<&Token>,
        next: Option<&Token>,
        lexicon: &Lexicon,
    ) {
        let at = (token.start, token.end);
        match token.tok {
            Tok::Num(num) if num.is_shaft(lexicon.shaft) && !broken(before) => {
                self.length = true;
                self.span(at, SpanKind::PackWord);
            }
            Tok::Num(num) => {
                let touches = next.is_some_and(|n| n.glued);
                let blank = token.blank;
                let placed = Placed { num, start: at.0, end: at.1, touches, blank };
                match self.code {
                    None => self.before.push(placed),
                    Some(_) => self.after.push(placed),
                }
            }
            Tok::Code(code) => self.take_code(code, at, lexicon),
            Tok::Taper(taper) => {
                self.contradiction |= self.taper.is_some_and(|(known, _)| known != taper);
                self.taper.get_or_insert((taper, at));
                self.span(at, SpanKind::Taper);
            }
            Tok::Mark(mark) => {
                if mark == Mark::Times {
                    // Between two numbers, or it is a piece of something else.
                    let left = before.is_some_and(|t| {
                        matches!(t.tok, Tok::Num(_) | Tok::Code(_) | Tok::Taper(_))
                    });
                    let right = next.is_some_and(|t| matches!(t.tok, Tok::Num(_)));
                    self.times = left && right;
                    self.disturbed |= !self.times;
                }
                self.marks |= 1 << mark as u32;
                self.span(at, SpanKind::Mark);
            }
            Tok::Noise => self.span(at, SpanKind::PackWord),
            Tok::Unknown => {
                // Long words are a maker's text; short ones may be a broken code.
                let lone = !token.glued && next.is_none_or(|n| !n.glued);
                self.disturbed |= !lone || token.end - token.start < 4;
                self.unread.push(at);
            }
        }
    }

    pub(super) fn take_code(&mut self, code: u16, at: Stretch, lexicon: &Lexicon) {
        let Some((known, known_at)) = self.code else {
            self.code = Some((code, at));
            self.span(at, SpanKind::Grouping);
            return;
        };
        let text = |c: u16| &lexicon.codes[usize::from(c)];
        let same = text(known).grouping == text(code).grouping;
        let word = |at: Stretch| 4 <= at.1 - at.0;
        self.span(at, SpanKind::Grouping);
        // A code and its word in full say the same thing twice.
        if same && (word(at) || word(known_at)) {
            if text(known).confirm && !text(code).confirm {
                self.code = Some((code, known_at));
            }
            return;
        }
        self.two_labels |= !self.before.is_empty() && !self.after.is_empty();
        self.contradiction = true;
    }
}

/// Whether a number may go on in the next one: `0.2 5mm`.
fn broken(before: Option<&Token>) -> bool {
    before.is_some_and(|token| match token.tok {
        Tok::Num(num) => {
            num.decimals == 1 && num.unit.is_none() || num.value == 0 && !num.is_written()
        }
        Tok::Code(_) | Tok::Taper(_) | Tok::Mark(_) | Tok::Noise | Tok::Unknown => false,
    })
}
