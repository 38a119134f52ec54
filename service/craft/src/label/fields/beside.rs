//! What stands right beside a claim of sterility and is not known.
//!
//! A word that nobody knows may be a negation that a stain or a reader has spoilt, so it
//! leaves the claim open. Words that only join let the next one speak.

use super::Scan;
use super::around::has_odd_sign;
use super::lists::Context;
use super::sterile::{Hit, NEAR};
use crate::label::fold::{Class, class};

impl Scan<'_> {
    /// Whether a word or a sign that nobody knows stands right beside a claim.
    pub(super) fn has_stranger(&self, hit: Hit, all: &[Hit]) -> bool {
        let (before, behind) =
            (self.words_before(hit.start).next(), self.words_behind(hit.end).next());
        let letters = self.text.letters.as_slice();
        let gap = before.map_or(0, |word| word.1)..hit.start;
        let then = hit.end..behind.map_or(letters.len(), |word| word.0);
        // A question mark that stands apart asks about what stands before it.
        let apart = letters[gap.clone()].last().is_some_and(|c| c.is_whitespace());
        let asked = |c: &&char| apart && **c == '?';
        let odd = has_odd_sign(letters[gap].iter().filter(|c| !asked(c)));
        if odd || has_odd_sign(letters[then].iter()) {
            return true;
        }
        // A condition stands behind what it is of (*sterile unless opened*).
        let told = all.iter().any(|hit| hit.is_told());
        !told && self.is_of_a_name(hit)
            || self.is_strange(self.words_before(hit.start), told, all, false)
            || self.is_strange(self.words_behind(hit.end), told, all, true)
    }

    /// Whether the first of these words that says something by itself is not known.
    fn is_strange(
        &self,
        words: impl Iterator<Item = (usize, usize)>,
        told: bool,
        all: &[Hit],
        conditions: bool,
    ) -> bool {
        let mut open = false;
        for (start, end) in words.take(NEAR) {
            if !self.is_free(start, all) {
                return false;
            }
            match self.context(start, end) {
                // One letter joins nothing that is not a method, and that is taken; nor does
                // what a mark binds to another word.
                Some(means)
                    if means.joins() && 1 < end - start && self.stands_apart(start, end) => {}
                // What begins something else says nothing without the next word.
                Some(Context::Doubt) if conditions && 1 < end - start => open = true,
                // Of what is sold, and not of the pack, where no method is told.
                Some(Context::Trade) if self.is_exact(start) && told => {
                    return conditions && self.is_doubted_noun((start, end), told, all);
                }
                Some(Context::Condition) if conditions && 1 < end - start => {
                    return self.is_when(start, end) || !self.is_of_damage(end);
                }
                None if conditions && self.is_known(start, end) => {
                    return self.is_doubted_noun((start, end), told, all);
                }
                _ => return !self.is_known(start, end),
            }
        }
        open
    }

    /// Whether a noun behind a claim is said less of in its line: *needles recommended*, *needle ?*.
    fn is_doubted_noun(&self, noun: (usize, usize), told: bool, all: &[Hit]) -> bool {
        let letters = self.text.letters.as_slice();
        let word = |(start, end): (usize, usize)| {
            !letters[start..end].iter().any(|c| class(*c) == Class::Digit)
        };
        let line = noun.1 + letters[noun.1..].iter().take_while(|c| **c != '\n').count();
        let whole = |(start, end): (usize, usize)| {
            let known = self.reader.lists.known.at(letters, start);
            (start, known.filter(|found| found.exact).map_or(end, |found| end.max(found.end)))
        };
        let mut last = whole(noun);
        let line = line.max(last.1);
        for (start, end) in self.words_behind(noun.1).take(NEAR) {
            if start < last.1 {
                continue;
            }
            let stop = line.min(start);
            if told && !word(last) {
                return false;
            }
            if has_odd_sign(letters[last.1..stop].iter()) {
                return true;
            }
            if line <= start || !self.is_free(start, all) {
                return false;
            }
            match self.context(start, end) {
                Some(means) if means.joins() && 1 < end - start => {}
                Some(Context::Trade) if told && self.is_exact(start) => {}
                Some(Context::Doubt | Context::Part) if 1 < end - start => {}
                Some(Context::Condition) if 1 < end - start => {
                    return self.is_when(start, end) || !self.is_of_damage(end);
                }
                _ if self.is_known(start, end) => {}
                _ => return true,
            }
            last = whole((start, end));
        }
        word(last) && has_odd_sign(letters[last.1..line.max(last.1)].iter())
    }

    /// Whether a condition is of a time: *when sealed*.
    fn is_when(&self, start: usize, end: usize) -> bool {
        self.text.letters[start..end] == ['W', 'H', 'E', 'N']
    }

    /// Whether a claim without a method stands in a line of the maker: *Sterile Supplies Ltd*.
    fn is_of_a_name(&self, hit: Hit) -> bool {
        let letters = self.text.letters.as_slice();
        let from = letters[..hit.start].iter().rposition(|c| *c == '\n').map_or(0, |at| at + 1);
        let line = letters[hit.end..].iter().take_while(|c| **c != '\n').count();
        self.names_maker(from, hit.end + line)
    }

    /// Whether no letter stands behind one mark at either end of a word.
    fn stands_apart(&self, start: usize, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let letter = |at: Option<usize>| {
            at.and_then(|at| letters.get(at)).is_some_and(|c| class(*c) == Class::Letter)
        };
        let mark = |at: Option<usize>| {
            let c = at.and_then(|at| letters.get(at));
            c.is_some_and(|c| {
                class(*c) == Class::Other && !c.is_whitespace() && *c != '-' && *c != '/'
            })
        };
        let before = mark(start.checked_sub(1)) && letter(start.checked_sub(2));
        let behind = mark(Some(end)) && letter(Some(end + 1));
        !before && !behind
    }

    /// Whether a single digit belongs to a decimal, counts a code beside it (`3 RL`) or is the size
    /// of one (`#8 3RL`). Else it may be what is left of a negation (`0` of `O`) or of a box. A
    /// longer number is none, and stands there on good packs: the notified body's beside its mark, a
    /// quantity.
    fn is_part_of_size(&self, at: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let beside = |place: Option<usize>| place.and_then(|place| letters.get(place));
        let point = |c: Option<&char>| matches!(c, Some('.' | ','));
        let digit = |c: Option<&char>| c.is_some_and(char::is_ascii_digit);
        let behind = point(beside(Some(at + 1))) && digit(beside(Some(at + 2)));
        let before = beside(at.checked_sub(1));
        let before = point(before) && digit(beside(at.checked_sub(2)));
        let code = |word: Option<(usize, usize)>| {
            word.is_some_and(|(from, to)| {
                let known = self.reader.lists.known.glued(&letters[..to], from);
                letters[from..to].iter().all(|c| class(*c) == Class::Letter)
                    && known.is_some_and(|found| found.end == to)
            })
        };
        let hash = beside(at.checked_sub(1)) == Some(&'#');
        let sized = |word: Option<(usize, usize)>| {
            word.is_some_and(|(from, to)| {
                let has = |of: Class| letters[from..to].iter().any(|c| class(*c) == of);
                hash && has(Class::Letter) && has(Class::Digit) && self.is_known(from, to)
            })
        };
        let counts = letters[at] != '0'
            && [self.words_before(at).next(), self.words_behind(at + 1).next()]
                .into_iter()
                .any(|word| code(word) || sized(word));
        behind || before || counts
    }

    /// A method, a number, or what configurations are written with. One letter
    /// alone may be what is left of a negation, or a box that was ticked.
    pub(super) fn is_known(&self, start: usize, end: usize) -> bool {
        let letters = &self.text.letters[..end];
        let lists = &self.reader.lists;
        if lists.methods.at(letters, start).is_some_and(|found| found.end == end) {
            return true;
        }
        let digit = |c: &char| c.is_ascii_digit();
        if end - start == 1 && digit(&letters[start]) {
            return self.is_part_of_size(start);
        }
        if end - start == 1 {
            let before = letters[..start].iter().rposition(|c| class(*c) != Class::Other);
            let line = |at: usize| !letters[at..].contains(&'\n');
            return before.is_some_and(|at| digit(&letters[at]) && !self.is_taken(at) && line(at));
        }
        // The first of the words that one of configurations is of.
        let whole = lists.known.at(&self.text.letters, start);
        if whole.is_some_and(|found| found.exact && end <= found.end) {
            return true;
        }
        // Parts are put together only around digits (`30RL`): letters alone may be what a
        // stain made of a negation, and so may a part that is one.
        let mixed = letters[start..].iter().any(digit);
        let mut at = start;
        while at < end {
            if digit(&letters[at]) {
                at += 1;
                continue;
            }
            let negated = lists
                .context
                .glued(letters, at)
                .is_some_and(|found| found.means == Context::Negation && 1 < found.end - at);
            match lists.known.glued(letters, at) {
                Some(found) if found.end == end && at == start => return true,
                Some(found) if at < found.end && mixed && !negated => at = found.end,
                _ => return false,
            }
        }
        true
    }
}
