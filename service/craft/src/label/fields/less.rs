//! What makes a claim of sterility less than one of the whole packet.
//!
//! A claim may be torn where its method would stand, tell a share of something, be of a part, or hang
//! on what is no damage of the pack. Each leaves it open.

use super::Scan;
use super::lists::Context;
use super::sterile::{Hit, NEAR};
use crate::label::fold::{Class, class};
use crate::label::reading::SpanKind;

/// Words behind a condition among which damage is told.
const CONDITION: usize = 8;

impl Scan<'_> {
    /// Whether a claim is torn, of a share or of a part; `untold` if no method is named.
    pub(super) fn is_less(&self, hit: Hit, untold: bool) -> bool {
        untold && (self.is_torn(hit.end) || self.is_of_part_before(hit.start))
            || self.is_of_share(hit.end) && !self.is_ended(hit)
            || self.is_of_part(hit.end)
    }

    /// Whether nothing stands where the word or the sign before it says how it was done.
    fn is_torn(&self, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let behind = self.words_behind(end).next();
        let line = letters[end..].iter().position(|c| *c == '\n');
        let stop = behind.map_or(letters.len(), |word| word.0);
        let stop = line.map_or(stop, |line| stop.min(end + line));
        let is_last = behind.is_none_or(|word| stop < word.0);
        if is_last && letters[end..stop].iter().any(|c| ":(=[_".contains(*c)) {
            return true;
        }
        let mut by = false;
        for (start, end) in self.words_behind(end).take(NEAR) {
            match self.context(start, end) {
                Some(Context::By) => by = true,
                Some(Context::Joining) => {}
                Some(_) | None => return by,
            }
        }
        by
    }

    /// Whether the figure behind a claim is a share of something (*50 %*).
    fn is_of_share(&self, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let figures = |c: &&char| c.is_ascii_digit() || matches!(**c, '.' | ',') || **c == ' ';
        let gap = letters[end..].iter().take_while(|c| class(**c) == Class::Other).count();
        let mut behind = letters[end + gap..].iter();
        let told = behind.by_ref().take_while(figures).count();
        let sign = letters.get(end + gap + told);
        0 < told && sign.is_some_and(|c| matches!(c, '%' | '‰' | '٪' | '％'))
    }

    /// Whether the words behind a claim end in a part of a needle (*sterile safety membrane*), and
    /// not in what has that part (*sterile membrane cartridge*).
    fn is_of_part(&self, end: usize) -> bool {
        let mut part = false;
        for (start, end) in self.words_behind(end).take(NEAR) {
            if self.is_taken(start) {
                break;
            }
            let means = self.context(start, end);
            let known = self.reader.lists.known.at(&self.text.letters[..end], start);
            match means {
                Some(Context::Part) => part = true,
                Some(_) => break,
                None if known.is_some_and(|found| found.end == end) => part = false,
                None => break,
            }
        }
        part
    }

    /// Whether a part stands right before the claim, as some languages put it.
    fn is_of_part_before(&self, start: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let Some((from, to)) = self.words_before(start).next() else { return false };
        let beside = letters[to..start].iter().all(|c| *c == ' ');
        beside && self.context(from, to) == Some(Context::Part)
    }

    /// Whether damage of the pack is what a condition is about.
    pub(super) fn is_of_damage(&self, end: usize) -> bool {
        let of_damage = |at: usize| {
            self.found.spans.iter().any(|span| {
                matches!(span.kind.known(), Some(SpanKind::Damage | SpanKind::Notice))
                    && span.start <= at
                    && at < span.end
            })
        };
        self.words_behind(end).take(CONDITION).any(|(start, end)| {
            of_damage(start) || self.context(start, end) == Some(Context::Intact)
        })
    }
}
