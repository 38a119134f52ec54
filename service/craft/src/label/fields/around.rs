//! The words around a word about sterility, damage or use.

use super::Scan;
use super::lists::Context;
use super::sterile::Hit;
use crate::label::fold::{Class, class};
use crate::label::reading::SpanKind;

/// Words behind one of "before" among which the year of its date stands.
const DATED: usize = 3;

impl Scan<'_> {
    /// Whether a date stands at a word of "before": such a word says until when the
    /// pack may be used and not what is to be done first.
    pub(super) fn is_before_a_date(&self, start: usize, end: usize) -> bool {
        let letters = self.text.letters.as_slice();
        let sign = matches!(letters[start], '前' | '전');
        let before = letters[..start].iter().rev().find(|c| !c.is_whitespace());
        let part = |c: &char| c.is_ascii_digit() || "年月日년월일".contains(*c);
        if sign && before.is_some_and(part) {
            return true;
        }
        for (from, to) in self.words_behind(end).take(DATED) {
            let word = &letters[from..to];
            let dates = &self.reader.dates;
            match word {
                ['2', '0', ..] if 4 <= word.len() && word.iter().all(char::is_ascii_digit) => {
                    return true;
                }
                _ if word.iter().all(char::is_ascii_digit)
                    || dates.months.at(letters, from, self.speaks).is_some()
                    || dates.filler(letters, from, word[0]).is_some() => {}
                _ => return false,
            }
        }
        false
    }

    /// Neither read as a field nor part of another word about sterility.
    pub(super) fn is_free(&self, at: usize, all: &[Hit]) -> bool {
        !self.is_taken(at) && !all.iter().any(|hit| hit.holds(at))
    }

    pub(super) fn is_taken(&self, at: usize) -> bool {
        self.found.taken.iter().any(|(start, end)| *start <= at && at < *end)
    }

    pub(super) fn context(&self, start: usize, end: usize) -> Option<Context> {
        match self.contexts.binary_search_by_key(&start, |word| word.0) {
            Ok(known) if self.contexts[known].1 == end => self.contexts[known].2,
            Ok(_) | Err(_) => self.context_of(start, end),
        }
    }

    fn context_of(&self, start: usize, end: usize) -> Option<Context> {
        let found = self.reader.lists.context.at(&self.text.letters[..end], start)?;
        (found.end == end).then_some(found.means)
    }

    /// What every word of the text says to those around it: each is asked for many times.
    pub(super) fn all_contexts(&self) -> Vec<(usize, usize, Option<Context>)> {
        self.words_behind(0).map(|(start, end)| (start, end, self.context_of(start, end))).collect()
    }

    /// Words before a place, the nearest first.
    pub(super) fn words_before(&self, at: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let letters = self.text.letters.as_slice();
        let mut end = at;
        std::iter::from_fn(move || {
            let gap = letters[..end].iter().rev().take_while(|c| class(**c) == Class::Other);
            end -= gap.count();
            let kind = class(*letters.get(end.checked_sub(1)?)?);
            let run = |c: &&char| same_word(class(**c), kind);
            let start = end - letters[..end].iter().rev().take_while(run).count();
            let word = (start, end);
            end = start;
            Some(word)
        })
    }

    /// Words behind a place, the nearest first.
    pub(super) fn words_behind(&self, at: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
        let letters = self.text.letters.as_slice();
        let mut start = at;
        std::iter::from_fn(move || {
            start += letters[start..].iter().take_while(|c| class(**c) == Class::Other).count();
            let kind = class(*letters.get(start)?);
            let run = |c: &&char| same_word(class(**c), kind);
            let end = start + letters[start..].iter().take_while(run).count();
            let word = (start, end);
            start = end;
            Some(word)
        })
    }

    /// A negation that belongs to nothing that was read may deny anything on the pack. Short
    /// ones are numbers, codes and prepositions of other languages too often: they count before a
    /// word that was not read either.
    pub(super) fn tell_negations(&mut self) {
        let letters = self.text.letters.as_slice();
        let denied = self.words_before(letters.len()).any(|(start, end)| {
            self.context(start, end) == Some(Context::Negation)
                && !self.is_taken(start)
                && (3 <= end - start || 1 < end - start && self.is_of_unread(start, end))
        });
        let signs = (0..letters.len()).any(|at| self.is_sign_of_denial(at) && !self.is_taken(at));
        self.found.seen.not_for_use |= denied || signs;
    }

    fn is_of_unread(&self, start: usize, end: usize) -> bool {
        const PREPOSITIONS: [&str; 3] = ["ON", "UN", "NI"];
        let letters = self.text.letters.as_slice();
        let word: String = letters[start..end].iter().collect();
        let Some((from, to)) = self.words_behind(end).next() else { return false };
        !PREPOSITIONS.contains(&&*word)
            && letters[end..from].iter().all(|c| c.is_whitespace())
            && 1 < to - from
            && letters[from..to].iter().all(|c| class(*c) == Class::Letter)
            && !self.is_taken(from)
            && !self.is_known(from, to)
            && self.context(from, to) != Some(Context::Free)
    }

    /// A sign that denies or forbids, and is no part of *unused*, *unopened* or *stainless*.
    fn is_sign_of_denial(&self, at: usize) -> bool {
        const DENY: [char; 4] = ['不', '未', '勿', '禁'];
        const ELSE: [char; 12] =
            ['锈', '鏽', '銹', '錆', '使', '用', '开', '開', '拆', '含', '同', '止'];
        let letters = self.text.letters.as_slice();
        let (here, next) = (letters[at], letters.get(at + 1));
        let other =
            next.is_some_and(|c| ELSE.contains(c)) && !(here == '不' && next == Some(&'使'));
        DENY.contains(&here) && !other
    }

    /// Damage, or a condition such as "if the package is damaged"; what is not `sure` is asked
    /// about.
    pub(super) fn damage(&mut self, at: usize, end: usize, sure: bool) -> SpanKind {
        // A finding that begins with the last word of a sentence is none of it: *do not use needle bent*.
        let within = self.is_conditional(at) && self.is_conditional(end - 1);
        if within || self.take_general(at, end) {
            self.found.seen.notice = true;
            return SpanKind::Notice;
        }
        let sure = sure && !self.is_wrapped(at);
        self.found.seen.damaged |= sure;
        self.found.seen.not_for_use |= !sure;
        SpanKind::Damage
    }

    /// Not for use, or a notice such as "do not use if".
    pub(super) fn not_for_use(&mut self, at: usize, end: usize) -> SpanKind {
        if self.is_conditional(at) || self.take_general(at, end) || self.forbids_under(at, end) {
            self.found.seen.notice = true;
            return SpanKind::Notice;
        }
        self.found.seen.not_for_use = true;
        SpanKind::Damage
    }
}

/// Letters and digits make one word, signs of scripts without blanks another.
fn same_word(one: Class, other: Class) -> bool {
    one != Class::Other && (one == Class::Sign) == (other == Class::Sign)
}

/// Whether more stands between two words than print puts there: a question, a
/// sign that is no punctuation, a box that was left empty.
pub(super) fn has_odd_sign<'a>(gap: impl Iterator<Item = &'a char>) -> bool {
    const PLAIN: &str = ".,:;-_/|()[]*+='\"!&#©®™•°\0";
    let mut seen = gap.filter(|c| !c.is_whitespace()).peekable();
    while let Some(c) = seen.next() {
        let empty = matches!((c, seen.peek()), ('[', Some(']')) | ('(', Some(')')));
        if empty || !PLAIN.contains(*c) {
            return true;
        }
    }
    false
}
