//! What denies a claim of sterility or makes it less, beside it or at a distance.
//!
//! Print is read in pieces: between a claim and its *no* may stand where it was made, a code, a
//! number, the heading of another column. While only what is read stands between, up to the next
//! word about sterility, such a word still speaks of the claim.

use super::Scan;
use super::lists::Context;
use super::sterile::{BEFORE, BEHIND, Hit, Says};
use crate::label::fold::{Class, class};

/// Words that are looked through, before a claim and behind it.
const REACH: usize = 16;

/// How a word stands to the claim that it may speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    Before,
    Behind,
    /// The next word behind.
    Right,
}

impl Scan<'_> {
    /// Whether a claim is denied, or left open by what may deny it or make it less.
    pub(super) fn denial(&self, hit: Hit, all: &[Hit]) -> Option<Says> {
        let before = self.words_before(hit.start).take(BEFORE).map(|word| (word, Place::Before));
        // Behind the end of a claim with its method a sentence of its own denies something else.
        let ended = self.is_ended(hit);
        let heard = |(start, end): &(usize, usize)| {
            let denies = ended && self.context(*start, *end) == Some(Context::Negation);
            !denies || self.is_last_of_line(*end)
        };
        let behind = self.words_behind(hit.end).take(BEHIND).filter(heard).enumerate();
        let behind =
            behind.map(|(i, word)| (word, if i == 0 { Place::Right } else { Place::Behind }));
        let mut open = self.is_torn_off(hit.start);
        for (word, place) in before.chain(behind) {
            match self.denies(word, place, all) {
                Some(Says::Not) => return Some(Says::Not),
                says => open |= says.is_some(),
            }
        }
        if self.sign_negates(hit.start) {
            return Some(Says::Not);
        }
        let behind = self.words_behind(hit.end).filter(heard);
        let behind = self.far(behind, Place::Behind, all);
        if behind == Some(Says::Not) {
            return behind;
        }
        open |= behind.is_some()
            || self.far(self.words_before(hit.start), Place::Before, all).is_some();
        open.then_some(Says::Open)
    }

    /// What the first word says that is not read and speaks of the claim all the same.
    fn far(
        &self,
        words: impl Iterator<Item = (usize, usize)>,
        place: Place,
        all: &[Hit],
    ) -> Option<Says> {
        let letters = self.text.letters.as_slice();
        let (mut number, mut of) = (false, false);
        for (start, end) in words.take(REACH) {
            if all.iter().any(|hit| hit.holds(start)) {
                return None;
            }
            if self.is_taken(start) {
                (number, of) = (false, false);
                continue;
            }
            let figures = letters[start..end].iter().all(char::is_ascii_digit);
            let share = letters[end..].iter().find(|c| **c != ' ') == Some(&'%');
            if figures && place == Place::Behind && (share || of) {
                return Some(Says::Open);
            }
            match self.context(start, end).filter(|_| 1 < end - start) {
                Some(Context::Negation) => {
                    if let Some(says) = self.denies((start, end), place, all) {
                        let last = self.is_last_of_line(end) && place == Place::Behind;
                        return Some(if last { says } else { Says::Open });
                    }
                    return None;
                }
                Some(Context::Partial) if place == Place::Behind => return Some(Says::Open),
                Some(Context::Condition) if place == Place::Behind && self.is_exact(start) => {
                    return (!self.is_of_damage(end)).then_some(Says::Open);
                }
                Some(means) if means.joins() || matches!(means, Context::Part | Context::Trade) => {
                }
                _ if figures || self.is_known(start, end) => {}
                _ => return None,
            }
            of = number && letters[start..end] == ['O', 'F'];
            number = figures;
        }
        None
    }

    /// What a negation near a claim says of it; none if the word is none or speaks of something
    /// else.
    fn denies(&self, (start, end): (usize, usize), place: Place, all: &[Hit]) -> Option<Says> {
        if self.context(start, end) != Some(Context::Negation) || !self.is_free(start, all) {
            return None;
        }
        let letters = self.text.letters.as_slice();
        let before = letters[..start].iter().rev().find(|c| !c.is_whitespace());
        if matches!(before, Some(':' | '=')) && place != Place::Before {
            return Some(Says::Not);
        }
        if letters[start..end] == ['N', 'O'] {
            let behind = letters[end..].iter().position(|c| class(*c) != Class::Other);
            let number = behind.map(|gap| end + gap).filter(|at| letters[*at].is_ascii_digit());
            match number {
                Some(at) if letters[end..at].contains(&'\n') || self.is_decimal(at) => {
                    return Some(if place == Place::Before { Says::Open } else { Says::Not });
                }
                // "No. 12" is a number, but behind the claim itself it may be its denial.
                Some(_) => return (place == Place::Right).then_some(Says::Open),
                None => {}
            }
        }
        (!self.is_of_others(end)).then_some(Says::Not)
    }

    /// Whether a word stands there with its own letters: `EAN` is no Greek *if*.
    pub(super) fn is_exact(&self, at: usize) -> bool {
        let found = self.reader.lists.context.at(&self.text.letters, at);
        found.is_some_and(|found| found.exact)
    }

    fn is_decimal(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let digits = letters[at..].iter().take_while(|c| c.is_ascii_digit()).count();
        matches!(letters.get(at + digits), Some('.' | ','))
            && letters.get(at + digits + 1).is_some_and(char::is_ascii_digit)
    }

    /// Whether a negation is of something that packs are free of (*no latex*).
    fn is_of_others(&self, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let mut words = self.words_behind(end);
        let Some((from, to)) = words.next() else { return false };
        let of_others = self.context(from, to) == Some(Context::Free);
        let free = words.next().is_some_and(|(from, to)| letters[from..to] == ['F', 'R', 'E', 'E']);
        of_others && !free && letters[end..from].iter().all(|c| *c == ' ')
    }

    fn is_last_of_line(&self, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let line = letters[end..].iter().take_while(|c| **c != '\n');
        line.into_iter().all(|c| class(*c) == Class::Other)
    }

    /// Whether a claim hangs on a hyphen whose first part is not there.
    fn is_torn_off(&self, start: usize) -> bool {
        let letters = &self.text.letters[..start];
        let [before @ .., '-'] = letters else { return false };
        !before.is_empty() && before.last().is_none_or(|c| *c == '\n')
    }
}
