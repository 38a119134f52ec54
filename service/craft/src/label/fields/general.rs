//! Sentences on all packs and none on this one: *Broken needles must be discarded*, *If the package is
//! damaged do not use*.
//!
//! Of many it is said what is to be done with them, with nothing but the words of that sentence in its
//! line; and a sentence that begins with a condition forbids under it. *Needles broken*, and what stands
//! behind a stop, are findings.

use super::Scan;
use super::lists::Context;
use crate::label::fold::{Class, class, skeleton};
use crate::label::reading::{Span, SpanKind};
use crate::label::tables::Field;

/// A word of a sentence on all packs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum General {
    /// Many needles or packs, of which the word of damage stands before.
    Many,
    /// The same in languages that put that word behind.
    ManyFirst,
    /// Must, shall, should.
    Duty,
    /// Be.
    Helper,
    /// All, the.
    Article,
}

/// Words behind one of damage among which the duty stands.
const SENTENCE: usize = 6;
/// Words behind a duty that belong to it.
const ACT: usize = 4;
/// What ends a sentence, or its line.
const STOPS: [char; 5] = ['\n', '.', ';', ':', '!'];
/// Letters of a word before a condition that begins its sentence: *In case of* …
const SHORT: usize = 2;

impl Scan<'_> {
    /// Takes the sentence on all packs that a word of damage or use belongs to; whether it is one.
    pub(super) fn take_general(&mut self, at: usize, end: usize) -> bool {
        if let Some((start, stop)) = self.duty(at, end) {
            self.take(start, stop, SpanKind::Notice);
            return true;
        }
        // A sentence that was taken before goes on here.
        let notice =
            |span: &Span| span.kind == SpanKind::Notice && span.start <= at && at < span.end;
        self.found.spans.iter().any(notice)
    }

    /// The sentence round a word of damage that says what must be done with many.
    fn duty(&self, at: usize, end: usize) -> Option<(usize, usize)> {
        let letters = self.text.letters.as_slice();
        let own = |c: &&char| class(**c) == Class::Letter;
        let mut last = end + letters[end..].iter().take_while(own).count();
        let (start, mut many) = self.begins_sentence(at)?;
        for (from, to) in self.words_behind(last).take(SENTENCE) {
            if !self.is_blank(last, from) {
                return None;
            }
            match self.general(from, to) {
                Some(General::Duty) => return many.then(|| (start, self.act_behind(to))),
                Some(General::Many) => many = true,
                Some(General::ManyFirst | General::Helper | General::Article) => return None,
                None if self.joins_damage(from, to) => {}
                None => return None,
            }
            last = to;
        }
        None
    }

    /// Where a sentence begins with nothing before its word of damage that is of another, and whether
    /// many stand before it.
    fn begins_sentence(&self, at: usize) -> Option<(usize, bool)> {
        let (mut many, mut last) = (false, at);
        for (from, to) in self.words_before(at) {
            let gap = &self.text.letters[to..last];
            if self.is_taken(from) || gap.iter().any(|c| STOPS.contains(c)) {
                break;
            }
            match self.general(from, to) {
                Some(General::ManyFirst) => many = true,
                Some(General::Article) => {}
                Some(General::Many | General::Duty | General::Helper) => return None,
                None if self.is_blank(to, last) && self.joins_damage(from, to) => {}
                None => return None,
            }
            last = from;
        }
        Some((last, many))
    }

    /// Where the words behind a duty end: *not be used*, *entsorgt*.
    fn act_behind(&self, duty: usize) -> usize {
        let (mut end, mut act) = (duty, false);
        for (from, to) in self.words_behind(duty).take(ACT) {
            let helps = matches!(self.context(from, to), Some(Context::Negation | Context::First))
                || self.general(from, to) == Some(General::Helper);
            if !self.is_blank(end, from) || !helps && (act || self.is_finding(from)) {
                break;
            }
            act |= !helps;
            end = to;
        }
        end
    }

    /// The words before what forbids, in a sentence of one line that begins with a condition of damage;
    /// the nearest first.
    fn condition_before(&self, at: usize) -> Option<Vec<(usize, usize)>> {
        let letters = self.text.letters.as_slice();
        let (mut words, mut last) = (Vec::new(), at);
        for (from, to) in self.words_before(at) {
            if letters[to..last].iter().any(|c| STOPS.contains(c)) {
                break;
            }
            words.push((from, to));
            last = from;
        }
        let condition = |(from, to): &(usize, usize)| {
            self.context(*from, *to) == Some(Context::Condition) && !self.is_taken(*from)
        };
        let begun = words.iter().rposition(condition)?;
        let before = words.get(begun + 1..).unwrap_or_default();
        let first = before.is_empty() || matches!(before, [(from, to)] if to - from <= SHORT);
        let named = words.iter().take(begun).any(|(from, _)| self.is_damage(*from));
        (first && named).then_some(words)
    }

    /// Takes every negation that forbids under a condition of damage, and is of no claim: *nie używać*.
    pub(super) fn tell_conditions(&mut self) {
        let letters = self.text.letters.as_slice();
        for at in 1..self.contexts.len() {
            let ((from, to, said), (next, end, _)) = (self.contexts[at - 1], self.contexts[at]);
            let forbids = said == Some(Context::Negation)
                && !self.is_taken(from)
                && self.is_blank(to, next)
                && self.is_free(next, &self.sterile)
                && !self.is_damage(next)
                && !self.reader.lists.stems.begins(letters, next);
            if forbids && self.take_condition(from) {
                self.take(from, end, SpanKind::Notice);
            }
        }
    }

    /// Takes the condition under which something forbids: *If the package is damaged do not use*.
    pub(super) fn take_condition(&mut self, at: usize) -> bool {
        let Some(words) = self.condition_before(at) else { return false };
        for (from, to) in words {
            let denies = self.context(from, to) == Some(Context::Negation) && self.is_exact(from);
            if !(denies || self.is_taken(from)) {
                self.take(from, to, SpanKind::Notice);
            }
        }
        true
    }

    fn general(&self, from: usize, to: usize) -> Option<General> {
        let found = self.reader.lists.general.at(&self.text.letters[..to], from)?;
        (found.end == to).then_some(found.means)
    }

    /// *Broken or bent*.
    fn joins_damage(&self, from: usize, to: usize) -> bool {
        let joint = self.reader.lists.goes_on.at(&self.text.letters[..to], from);
        joint.is_some_and(|joint| joint.end == to) || self.is_damage(from)
    }

    /// Whether a word of damage begins here that is nothing else.
    fn is_finding(&self, at: usize) -> bool {
        let named = self.reader.lists.fields.at(&self.text.letters, at);
        named.is_some_and(|word| word.means.field == Field::Damaged)
    }

    /// Whether a word of damage begins here.
    fn is_damage(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let lists = &self.reader.lists;
        let named = lists.fields.at(letters, at);
        let own = || letters[at..].iter().map(|c| skeleton(*c));
        let stem = |stem: &[char]| stem.iter().copied().eq(own().take(stem.len()));
        named.is_some_and(|word| matches!(word.means.field, Field::Damaged | Field::Doubtful))
            || lists.spoilt.iter().any(|own| stem(own))
    }

    fn is_blank(&self, from: usize, to: usize) -> bool {
        self.text.letters[from..to].iter().all(|c| *c == ' ')
    }
}
