//! Sentences on all packs and none on this one: *Broken needles must be discarded*.
//!
//! Of many it is said what is to be done with them, with nothing but the words of that sentence in its
//! line. *Needles broken*, and what stands behind a stop or before a capital, are findings.

use super::Scan;
use super::lists::Context;
use crate::label::fold::{Class, class};
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
pub(super) const STOPS: [char; 6] = ['\n', '.', ';', ':', '!', '?'];

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
        // A capital that follows begins a sentence of its own, of which this is no part: *opened
        // Needles must* … German nouns have one, and their words of damage an ending.
        let inflected = letters[..last].ends_with(&['E']);
        let mut joined = false;
        for (from, to) in self.words_behind(last).take(SENTENCE) {
            if !self.is_blank(last, from) {
                return None;
            }
            match self.general(from, to) {
                Some(General::Duty) => return many.then(|| (start, self.act_behind(to))),
                Some(General::Many) if !joined && (inflected || self.is_lower(from)) => many = true,
                None if joined && self.is_damage(from) => joined = false,
                None if !(joined || many) && self.is_joint(from, to) => joined = true,
                Some(_) | None => return None,
            }
            last = to;
        }
        None
    }

    /// Where a sentence begins with its capital and nothing of another before its word of damage, and
    /// whether many stand before it.
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
                Some(General::Many | General::Duty | General::Helper) | None => return None,
            }
            last = from;
        }
        self.is_title(last).then_some((last, many))
    }

    /// Where the words behind a duty end: *not be used*, *verwendet werden*.
    fn act_behind(&self, duty: usize) -> usize {
        let (mut end, mut act) = (duty, false);
        for (from, to) in self.words_behind(duty).take(ACT) {
            let helps = self.general(from, to) == Some(General::Helper);
            let denies =
                matches!(self.context(from, to), Some(Context::Negation | Context::First)) && !act;
            let goes_on = helps || denies || !act && !self.is_finding(from);
            if !self.is_blank(end, from) || !goes_on {
                break;
            }
            act |= !(helps || denies);
            end = to;
        }
        end
    }

    fn general(&self, from: usize, to: usize) -> Option<General> {
        let found = self.reader.lists.general.at(&self.text.letters[..to], from)?;
        (found.end == to).then_some(found.means)
    }

    /// *Broken or bent*.
    fn is_joint(&self, from: usize, to: usize) -> bool {
        let joint = self.reader.lists.goes_on.at(&self.text.letters[..to], from);
        joint.is_some_and(|joint| joint.exact && joint.end == to)
    }

    pub(super) fn is_lower(&self, at: usize) -> bool {
        self.text.raw.get(at).is_some_and(u8::is_ascii_lowercase)
    }

    /// Whether a word of damage begins here that is nothing else.
    fn is_finding(&self, at: usize) -> bool {
        let named = self.reader.lists.fields.at(&self.text.letters, at);
        named.is_some_and(|word| word.means.field == Field::Damaged)
    }

    /// Whether a word of damage begins here.
    fn is_damage(&self, at: usize) -> bool {
        self.damage_at(at).is_some()
    }

    fn is_blank(&self, from: usize, to: usize) -> bool {
        self.text.letters[from..to].iter().all(|c| *c == ' ')
    }
}
