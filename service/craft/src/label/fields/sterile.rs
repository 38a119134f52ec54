//! What the words about sterility say together.
//!
//! A claim is a whole known word or the symbol, with or without its method. A
//! negation up to three words before it or two behind it, or glued on, wins
//! over it, and so does a farther one with nothing unread between (`denied`); so does work that is still to be done ("before use"). Words about
//! sterilising again say neither. A word with a sterile stem that is not known,
//! and an unknown word right beside a claim, leave open whether it is one. The
//! worst that was said counts: a contradiction is not sterile.

use super::around::has_odd_sign;
use super::lists::{Context, Means};
use super::{Scan, said};
use crate::label::fold::{Class, class};
use crate::label::reading::{Method, SpanKind};

/// Words before a claim among which a negation counts.
pub(super) const BEFORE: usize = 3;
/// Words behind a claim among which a negation counts.
pub(super) const BEHIND: usize = 2;
/// Words before and behind among which other words count.
pub(super) const NEAR: usize = 4;
/// Most words between a claim and its method.
const JOINING: usize = 4;

/// What a word about sterility says by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Says {
    /// Sterile, and whether the word is known from memory only.
    Claim(Method, bool),
    /// To sterilise.
    Verb,
    /// Not sterile.
    Not,
    /// A sterile stem in a word that is not known.
    Open,
}

/// A word about sterility.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Hit {
    pub(super) start: usize,
    pub(super) end: usize,
    says: Says,
}

impl Hit {
    pub(super) const fn new(start: usize, end: usize, says: Says) -> Self {
        Self { start, end, says }
    }

    /// Whether it is a claim with its method.
    pub(super) fn is_told(self) -> bool {
        matches!(self.says, Says::Claim(method, _) if method != Method::NotTold)
    }

    pub(super) const fn holds(self, at: usize) -> bool {
        self.start <= at && at < self.end
    }
}

/// What all of them say.
#[derive(Debug, Default)]
struct Sum {
    method: Option<Method>,
    not: bool,
    open: bool,
}

impl Scan<'_> {
    /// A claim, with the method behind or before it; where it ends.
    pub(super) fn claim(&mut self, means: Means, at: usize, end: usize) -> usize {
        let (method, from, stop) = match self.method_behind(end) {
            Some((method, stop)) => (method, at, stop),
            None => {
                let inside = self.method_inside(at, end).map(|method| (method, at));
                let told = inside.or_else(|| self.method_before(at));
                let (method, from) = told.unwrap_or((Method::NotTold, at));
                (method, from, end)
            }
        };
        // Struck, or with a mark or an odd sign between the word and its method.
        let between = &self.text.letters[from..stop];
        let struck = (from..=stop).any(|at| self.is_struck(at))
            || has_odd_sign(between.iter().filter(|c| class(**c) == Class::Other));
        let claim = Says::Claim(method, means.unproven);
        self.sterile.push(Hit::new(from, stop, if struck { Says::Open } else { claim }));
        self.take(from, stop, SpanKind::Sterility);
        stop
    }

    fn method_behind(&self, end: usize) -> Option<(Method, usize)> {
        let letters = self.text.letters.as_slice();
        let (mut at, mut alone) = (end, false);
        for _ in 0..=JOINING {
            let next = at + letters[at..].iter().take_while(|c| class(**c) == Class::Other).count();
            let joins = self.reader.lists.context.at(letters, next);
            let joins = joins.filter(|found| found.means.joins());
            let found = self.reader.lists.methods.at(letters, next);
            if let Some(found) = found.filter(|m| joins.is_none_or(|j| j.end <= m.end)) {
                // One letter is a method only in the box beside the word, and
                // not if it begins another field.
                let box_ = at == end && next - at <= 3;
                let letter = found.end - next == 1;
                // A preposition of one letter stands before a word, not before what is in a box.
                let lone = alone && found.end - next <= 3;
                // What begins another field, or a longer claim, is not this one's method.
                let field = self.reader.lists.field(letters, next);
                let other = field.is_some_and(|field| found.end < field.end);
                // The 0 of `STERILE E 0.30` begins a decimal.
                let decimal = letters[next..found.end].last() == Some(&'0')
                    && matches!(letters.get(found.end), Some('.' | ','));
                return (!other && !lone && !decimal && (box_ || !letter))
                    .then_some((found.means, found.end));
            }
            alone |= joins?.end - next == 1;
            at = joins?.end;
        }
        None
    }

    /// A method that is part of the claim itself.
    fn method_inside(&self, start: usize, end: usize) -> Option<Method> {
        let letters = &self.text.letters[..end];
        (start..end).find_map(|at| {
            let found = self.reader.lists.methods.glued(letters, at)?;
            let long = class(letters[at]) == Class::Sign || 5 < found.end - at;
            long.then_some(found.means)
        })
    }

    /// A method right before a claim, as some languages put it, and where it begins.
    fn method_before(&self, at: usize) -> Option<(Method, usize)> {
        let letters = self.text.letters.as_slice();
        let from = at.saturating_sub(48);
        (from..at).find_map(|start| {
            let begin = start == 0 || class(letters[start - 1]) != Class::Letter;
            let found = self.reader.lists.methods.at(letters, start).filter(|_| begin)?;
            let short = found.end - start < 3;
            let gap = letters.get(found.end..at)?;
            let near = gap.iter().all(|c| class(*c) == Class::Other)
                || gap.iter().all(|c| class(*c) != Class::Other) && gap.len() <= 3
                || self.joining(found.end, at);
            (near && !short).then_some((found.means, start))
        })
    }

    fn joining(&self, mut at: usize, to: usize) -> bool {
        let letters = self.text.letters.as_slice();
        while at < to {
            if class(letters[at]) == Class::Other {
                at += 1;
                continue;
            }
            match self.reader.lists.context.at(letters, at) {
                Some(found) if found.means.joins() => at = found.end,
                _ => return false,
            }
        }
        true
    }

    pub(super) fn judge_sterility(&mut self) {
        self.find_stems();
        if self.sterile.is_empty() {
            return;
        }
        let hits = std::mem::take(&mut self.sterile);
        let mut sum = Sum::default();
        for hit in &hits {
            match self.meaning(*hit, &hits) {
                None => {}
                Some(Says::Claim(method, false)) => {
                    sum.method = sum.method.filter(|m| *m != Method::NotTold).or(Some(method));
                }
                // A word from memory holds and clears nothing.
                Some(Says::Claim(_, true)) => {}
                Some(Says::Not) => sum.not = true,
                Some(Says::Verb | Says::Open) => sum.open = true,
            }
        }
        self.found.seen.not_sterile |= sum.not;
        if let (Some(method), false, false) = (sum.method, sum.not, sum.open) {
            self.found.packet.sterilised_by = said(method);
        }
    }

    /// Words with a sterile stem that no list knows whole.
    fn find_stems(&mut self) {
        let letters = self.text.letters.as_slice();
        for at in 0..letters.len() {
            if class(letters[at]) == Class::Other || !self.reader.lists.stems.begins(letters, at) {
                continue;
            }
            if self.sterile.iter().any(|hit| hit.holds(at)) || self.is_taken(at) {
                continue;
            }
            let run = |c: &&char| matches!(class(**c), Class::Letter | Class::Digit);
            let start = at - letters[..at].iter().rev().take_while(run).count();
            let end = at + letters[at..].iter().take_while(run).count().max(1);
            // RE- and its like: a ban on sterilising again says neither; without a ban it may
            // have been done.
            let again = matches!(letters[start..at], ['R', 'E'] | ['R', 'I'] | ['R', 'E', 'E']);
            if again && self.own_negations(start) {
                self.take(start, end, SpanKind::Notice);
                continue;
            }
            let glued = if start < at { self.context(start, at) } else { None };
            let says = if glued == Some(Context::Negation) { Says::Not } else { Says::Open };
            if self.sterile.last().is_none_or(|hit| hit.start != start || hit.says != says) {
                self.sterile.push(Hit::new(start, end, says));
            }
        }
    }

    /// What a word says with those around it; none if it says neither.
    fn meaning(&mut self, hit: Hit, all: &[Hit]) -> Option<Says> {
        if hit.says == Says::Not {
            return Some(Says::Not);
        }
        if hit.says == Says::Verb && self.near(hit, Context::Again, all) {
            return if self.own_negations(hit.start) { None } else { Some(Says::Open) };
        }
        let first = self.first(hit, all);
        if first == Some(Says::Not) {
            return first;
        }
        let denied = self.denial(hit, all);
        match hit.says {
            Says::Claim(..) if denied == Some(Says::Not) => Some(Says::Not),
            Says::Claim(..) if first.is_some() || denied.is_some() || self.is_doubted(hit, all) => {
                Some(Says::Open)
            }
            Says::Claim(method, _)
                if self.has_stranger(hit, all)
                    || self.is_again(hit, all)
                    || self.is_less(hit, method == Method::NotTold) =>
            {
                Some(Says::Open)
            }
            says @ (Says::Claim(..) | Says::Verb | Says::Not | Says::Open) => Some(says),
        }
    }

    /// Whether a claim says of itself that it was made again: a word of it right beside, which no
    /// other word about sterility claims.
    fn is_again(&self, hit: Hit, all: &[Hit]) -> bool {
        let before = self.words_before(hit.start).take(1);
        let words: Vec<_> = before.chain(self.words_behind(hit.end).take(2)).collect();
        words.into_iter().any(|(start, end)| {
            let others = self.words_behind(end).take(2).any(|(next, _)| {
                all.iter().any(|other| other.start != hit.start && other.holds(next))
            });
            self.context(start, end) == Some(Context::Again) && self.is_free(start, all) && !others
        })
    }

    /// Whether a word stands near that may be a negation or a place. Behind the end of a claim with its
    /// method a whole one begins something else: *In case of* …
    fn is_doubted(&self, hit: Hit, all: &[Hit]) -> bool {
        let ended = self.is_ended(hit);
        let mut doubts = self.all_near(hit, Context::Doubt, all).into_iter();
        doubts.any(|(start, end)| start < hit.start || !ended || end - start < 2)
    }

    fn near(&self, hit: Hit, wanted: Context, all: &[Hit]) -> bool {
        !self.all_near(hit, wanted, all).is_empty()
    }

    /// What words near it say of work that is to be done first: on another line they are as soon of
    /// another sentence, and those that belong to a date say until when the pack may be used.
    fn first(&self, hit: Hit, all: &[Hit]) -> Option<Says> {
        let letters = self.text.letters.as_slice();
        let claim = matches!(hit.says, Says::Claim(..));
        let mut found = self.all_near(hit, Context::First, all);
        found.retain(|(start, end)| {
            // Danish *før*, and no *for* of other languages.
            let other = letters[*start..*end] == ['F', 'O', 'R']
                && self.text.raw[start + 1].eq_ignore_ascii_case(&b'o');
            !claim || !other && (*start < hit.start || !self.is_ended(hit))
        });
        let dated = |(start, end): &(usize, usize)| self.is_before_a_date(*start, *end);
        let strict = |(start, end): &(usize, usize)| {
            let gap = if *start < hit.start { *end..hit.start } else { hit.end..*start };
            let gap = &letters[gap];
            let beside = gap.iter().all(|c| class(*c) == Class::Other);
            !claim || !gap.contains(&'\n') || beside && !hit.is_told()
        };
        let says = if found.iter().all(dated) || !found.iter().any(strict) {
            Says::Open
        } else {
            Says::Not
        };
        (!found.is_empty()).then_some(says)
    }

    /// Whether a claim with its method ends with its line or its sentence.
    pub(super) fn is_ended(&self, hit: Hit) -> bool {
        let letters = self.text.letters.as_slice();
        let close = |c: &&char| **c != '\n' && (c.is_whitespace() || ")]|*".contains(**c));
        let at = hit.end + letters[hit.end..].iter().take_while(close).count();
        let full = || {
            let next = letters.get(at + 1);
            letters.get(at) == Some(&'.') && next.is_none_or(|c| c.is_whitespace())
        };
        hit.is_told() && (letters.get(at) == Some(&'\n') || full())
    }

    /// The words of one kind near a word about sterility.
    fn all_near(&self, hit: Hit, wanted: Context, all: &[Hit]) -> Vec<(usize, usize)> {
        let before = self.words_before(hit.start).take(NEAR);
        let behind = self.words_behind(hit.end).take(NEAR);
        let words = before.chain(behind).filter(|(start, end)| {
            self.context(*start, *end) == Some(wanted) && self.is_free(*start, all)
        });
        // Scripts without blanks: any sign near it.
        let letters = self.text.letters.as_slice();
        let from = hit.start.saturating_sub(8);
        let to = letters.len().min(hit.end + 8);
        let signs = (from..hit.start).chain(hit.end..to).filter_map(|at| {
            let sign = class(letters[at]) == Class::Sign && self.is_free(at, all);
            let found = self.reader.lists.context.glued(letters, at).filter(|_| sign)?;
            (found.means == wanted).then_some((at, found.end))
        });
        words.chain(signs).collect()
    }

    /// A sign of negation right before a claim in a script without blanks.
    pub(super) fn sign_negates(&self, start: usize) -> bool {
        let letters = self.text.letters.as_slice();
        (1..=4).filter_map(|back| start.checked_sub(back)).any(|at| {
            class(letters[at]) == Class::Sign
                && self
                    .reader
                    .lists
                    .context
                    .glued(letters, at)
                    .is_some_and(|found| found.means == Context::Negation && found.end == start)
        })
    }

    /// Negations near a word about sterilising again belong to it; whether there is one.
    fn own_negations(&mut self, start: usize) -> bool {
        let before = self.words_before(start).take(BEFORE);
        let words: Vec<_> = before.chain(self.words_behind(start).skip(1).take(BEFORE)).collect();
        let negation = |(from, to): &(usize, usize)| {
            self.context(*from, *to) == Some(Context::Negation) && !self.is_taken(*from)
        };
        let own: Vec<_> = words.into_iter().filter(negation).collect();
        own.iter().for_each(|(from, to)| self.take(*from, *to, SpanKind::Notice));
        !own.is_empty()
    }
}
