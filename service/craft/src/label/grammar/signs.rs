//! Signs and words that belong to the number or the code beside them: `#10`,
//! `10#`, `No. 10`, `G30`, `0.012"`, `10's`, `R L`, `RS-T`.

use super::cut::{cut, meaning, whole};
use super::lexer::{Lexer, Tok, Token, letters};
use super::lexicon::Piece;
use super::num::{Num, Unit, run, value};

impl Lexer<'_> {
    /// The plain number of one or two digits that ends right here.
    fn plain_before(&mut self) -> Option<(&mut Num, &mut usize)> {
        let here = self.at;
        match self.tokens.all.last_mut()? {
            Token { tok: Tok::Num(num), end, .. } if *end == here && num.small().is_some() => {
                Some((num, end))
            }
            _ => None,
        }
    }

    /// Makes the number that ends here a size; the sign ends at `end`.
    fn make_size(&mut self, end: usize) -> bool {
        let Some((num, number_end)) = self.plain_before() else { return false };
        num.hash = true;
        *number_end = end;
        self.last_end = end;
        self.at = end;
        true
    }

    /// `#10`, and `10#` where no other number follows or the first is a size.
    pub(super) fn hash_sign(&mut self) {
        let at = self.at;
        let sizes = &self.lexicon.sizes;
        let leads = self
            .up
            .get(at + 1..)
            .is_some_and(|rest| rest.iter().find(|b| **b != b' ').is_some_and(u8::is_ascii_digit));
        let known = match self.tokens.all.last() {
            Some(Token { tok: Tok::Num(num), .. }) => {
                sizes.get(num.value as usize).is_some_and(Option::is_some)
            }
            _ => false,
        };
        if (known || !leads) && self.make_size(at + 1) {
            return;
        }
        self.drop_signs();
        self.hash = Some(at);
        self.at += 1;
    }

    /// A quote sign: inches behind a number that is thin enough, the plural of
    /// a size, or what encloses a word.
    pub(super) fn quote(&mut self) {
        let at = self.at;
        let twice = self.up[at..].starts_with(b"''");
        let plural = self.up[at..].starts_with(b"'S")
            && !self.up.get(at + 2).is_some_and(u8::is_ascii_alphanumeric);
        if plural && self.make_size(at + 2) {
            return;
        }
        let signs = if twice { 2 } else { 1 };
        if (twice || self.up[at] == b'"')
            && self.last_end == at
            && self.give_unit(Unit::Inch, at + signs)
        {
            return;
        }
        // A sign that closes nothing is of inches that no needle has.
        let opened = self.up[..at].iter().filter(|b| **b == b'"').count() % 2 == 1;
        self.tokens.odd_unit |=
            (twice || self.up[at] == b'"') && self.last_end == at && self.is_decimal() && !opened;
        self.at += 1;
    }

    /// `R L`, `R S L T`, `M 1`: letters of one code, each by itself.
    pub(super) fn spaced_letters(&mut self) -> bool {
        let start = self.at;
        let joint = |at: usize| {
            self.up.get(at).is_some_and(|b| b.is_ascii_whitespace() || matches!(b, b'.' | b'-'))
        };
        let letter = |at: usize| {
            self.up.get(at).is_some_and(u8::is_ascii_uppercase)
                && !self.up.get(at + 1).is_some_and(u8::is_ascii_uppercase)
        };
        if !joint(start + 1) || letters(&self.up[start..]) != 1 {
            return false;
        }
        let mut places = vec![start];
        while let Some(last) = places.last().copied()
            && joint(last + 1)
            && letter(last + 2)
            && places.len() < 6
        {
            places.push(last + 2);
        }
        let last = places.last().copied().unwrap_or(start);
        let magnum = self.up[last] == b'M'
            && matches!(self.up.get(last + 2), Some(b'1' | b'2'))
            && joint(last + 1)
            && !self.is_digit(last + 3)
            && self.up.get(last + 3) != Some(&b'.');
        if magnum {
            places.push(last + 2);
        }
        for most in (2..=places.len()).rev() {
            let joined: Vec<u8> = places[..most].iter().map(|at| self.up[*at]).collect();
            let Some((pieces, other)) = whole(&joined, self.lexicon) else { continue };
            let mut from = 0;
            for (piece, len) in pieces {
                self.piece(piece, places[from], places[from + len - 1] + 1);
                from += len;
            }
            self.tokens.cut_otherwise = self.tokens.cut_otherwise.or(other);
            self.tokens.magnum_digit |= magnum && most == places.len();
            return true;
        }
        false
    }

    /// `G30`, `GAUGE 30`.
    pub(super) fn gauge_number(&mut self, start: usize, end: usize) -> bool {
        let at = end + usize::from(1 < end - start && self.up.get(end) == Some(&b' '));
        let Some(digits) = self.up.get(at..at + 2).filter(|d| d.iter().all(u8::is_ascii_digit))
        else {
            return false;
        };
        let n = value(digits);
        let known = self.lexicon.gauges.iter().any(|g| u32::from(g.0) == n);
        if !known || self.is_digit(at + 2) {
            return false;
        }
        self.drop_signs();
        let num = Num {
            value: n,
            digits: 2,
            fraction: 0,
            decimals: 0,
            hash: false,
            diameter_sign: false,
            unit: Some(Unit::Gauge),
        };
        self.push(Tok::Num(num), start, at + 2);
        true
    }

    /// `No. 10`, `SIZE 10`: the word makes the number a size.
    pub(super) fn number_word(&mut self, start: usize, end: usize) -> bool {
        let joint = |b: &&u8| matches!(**b, b' ' | b'.' | b':' | b'#' | b'=');
        let at = end + self.up[end..].iter().take_while(joint).count();
        let digits = run(&self.up[at.min(self.up.len())..]);
        let known = (1..=2).contains(&digits)
            && self.lexicon.sizes[value(&self.up[at..at + digits]) as usize % 100].is_some();
        let point =
            matches!(self.up.get(at + digits), Some(b'.' | b',')) && self.is_digit(at + digits + 1);
        // The letter N alone is too little without its point.
        let weak = end - start == 1 && self.up.get(end) == Some(&b' ') && at == end + 1;
        if !known || point || weak {
            return false;
        }
        self.drop_signs();
        self.worded = Some((end, self.tokens.all.len()));
        self.hash = Some(start);
        self.at = at;
        self.number();
        true
    }

    /// "No." also stands before lots and article numbers: without a grouping
    /// near it, it says nothing of a size.
    pub(super) fn settle_worded(&mut self) {
        let Some((end, index)) = self.worded else { return };
        let near = self
            .tokens
            .all
            .iter()
            .enumerate()
            .any(|(i, token)| matches!(token.tok, Tok::Code(_)) && i.abs_diff(index) <= 3);
        let Some(token) = self.tokens.all.get_mut(index).filter(|_| !near) else { return };
        if let Tok::Num(num) = &mut token.tok {
            num.hash = false;
        }
        let word = Token { tok: Tok::Unknown, end, ..*token };
        token.start = end;
        self.tokens.all.insert(index, word);
    }

    /// A T alone may belong to the code before it: RS-T as RST, RL-T as RLT.
    pub(super) fn t_alone(&mut self, start: usize) {
        self.tokens.t_alone = true;
        let Some(Token { tok: Tok::Code(code), start: from, end, glued: _, blank: _ }) =
            self.tokens.all.last_mut()
        else {
            return;
        };
        let own = &self.up[*from..*end];
        if start == *end || !own.iter().all(u8::is_ascii_uppercase) {
            return;
        }
        let joined = [own, b"T"].concat();
        match self.lexicon.word(&joined, 0) {
            Some((Piece::Code(other), len)) if len == joined.len() => *code = other,
            _ => {
                let Some((pieces, other)) = cut(&joined, self.lexicon) else { return };
                let rival = Some(meaning(&pieces))
                    .and_then(|(code, taper)| code.map(|code| (code, taper)))
                    .into_iter()
                    .chain(other)
                    .find(|rival| *rival != (*code, None));
                self.tokens.cut_otherwise = self.tokens.cut_otherwise.or(rival);
            }
        }
    }
}
