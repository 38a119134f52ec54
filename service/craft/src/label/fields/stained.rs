//! Words of damage that a stain or a line break has spoilt.
//!
//! Nobody reads *dam@ged* as anything else, so a word that differs in one letter from the stem of one
//! counts as it; whole words are in the lists.

use super::Scan;
use crate::label::fold::{self, Class, class};
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
            let begins = super::begins(letters, at) && !self.is_taken(at);
            let mut stems = self.reader.lists.spoilt.iter().filter(|_| begins);
            let end = stems.find_map(|stem| stained(letters, at, stem));
            if let Some(end) = end {
                let kind = self.damage(at, true);
                self.take(at, end, kind);
                if kind == SpanKind::Damage {
                    self.found.unread.push((at, end));
                }
                at = end;
            }
            at += 1;
        }
    }
}

/// Where a stem ends that stands here with at most one letter lost, wrong, strange or too many.
fn stained(letters: &[char], at: usize, stem: &[char]) -> Option<usize> {
    let same = fold::skeleton(*letters.get(at)?) == fold::skeleton(*stem.first()?);
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
    if here.is_some_and(|c| fold::skeleton(c) == fold::skeleton(*wanted)) {
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
