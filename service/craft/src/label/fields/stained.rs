//! Words of damage and use that a stain, a line break or a lost letter has spoilt.
//!
//! Nobody reads *dam@ged* as anything else, so a word that differs in one letter from the stem of one
//! counts as it; whole words are in the lists.

use super::Scan;
use crate::label::fold::{Class, class, skeleton};
use crate::label::reading::SpanKind;

/// Signs that a stain leaves inside a word, and the breaks of a line.
const STAINS: usize = 3;
/// Letters of a stem that is known with one of them wrong.
const LONG: usize = 6;

impl Scan<'_> {
    /// Takes every word of damage that is not whole.
    pub(super) fn tell_stained(&mut self) {
        let letters = self.text.letters.as_slice();
        let mut at = 0;
        while at < letters.len() {
            if !super::begins(letters, at) {
                at += 1;
                continue;
            }
            let free = !self.is_taken(at);
            let unread = self.found.unread.iter().any(|part| part.0 <= at && at < part.1);
            let mut stems = self.reader.lists.spoilt.iter().filter(|_| free);
            let sure = stems.find_map(|stem| stained(letters, at, stem));
            let near = || if free || unread { self.near_word(at) } else { None };
            if let Some(end) = sure.or_else(near) {
                let kind = self.damage(at, end, sure.is_some());
                self.take(at, end, kind);
                if kind == SpanKind::Damage && !unread {
                    self.found.unread.push((at, end));
                }
                at = end;
            }
            at += 1;
        }
    }

    /// Where a word ends that is near one of damage or use and is nothing else.
    fn near_word(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let lists = &self.reader.lists;
        let end = lists.near.at(letters, at)?;
        let judged = lists.fields.at(letters, at).is_some_and(|found| end <= found.end);
        let other = judged || lists.is_plain(letters, at);
        (!other && !self.is_known(at, end)).then_some(end)
    }
}

/// Where a stem ends that stands here with at most one letter lost, wrong, strange or too many.
pub(super) fn stained(letters: &[char], at: usize, stem: &[char]) -> Option<usize> {
    let same = skeleton(*letters.get(at)?) == *stem.first()?;
    let left = Left { signs: STAINS, wrong: usize::from(LONG <= stem.len()) };
    if same { behind(letters, at + 1, stem.get(1..)?, left) } else { None }
}

/// What a stem may still differ by.
#[derive(Debug, Clone, Copy)]
struct Left {
    signs: usize,
    wrong: usize,
}

fn behind(letters: &[char], at: usize, stem: &[char], left: Left) -> Option<usize> {
    let [wanted, rest @ ..] = stem else { return Some(at) };
    let here = letters.get(at).copied();
    if here.is_some_and(|c| skeleton(c) == *wanted) {
        return behind(letters, at + 1, rest, left);
    }
    let sign = here.is_some_and(|c| class(c) == Class::Other);
    if let Some(signs) = left.signs.checked_sub(1).filter(|_| sign)
        && let Some(end) = behind(letters, at + 1, stem, Left { signs, ..left })
    {
        return Some(end);
    }
    let left = Left { wrong: left.wrong.checked_sub(1)?, ..left };
    let lost = behind(letters, at, rest, left);
    let other = || here.and_then(|_| behind(letters, at + 1, rest, left));
    let more = || here.and_then(|_| behind(letters, at + 1, stem, left));
    lost.or_else(other).or_else(more)
}
