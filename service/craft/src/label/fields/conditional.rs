//! Sentences under a condition, which are of all packs and none on this one: *Do not use if the package is
//! damaged*, *If opened or wet, discard*, *sterile unless damaged*.
//!
//! Such a sentence is read whole or not at all, in one language and on one line: what forbids, the
//! condition, the pack with its verb, and damage joined to damage. What stands behind it, a name that
//! begins like a condition, and a condition that forbids nothing leave a word of damage the finding it is.

use std::collections::BTreeMap;

use super::Scan;
use super::general::STOPS;
use super::lists::Context;
use super::stained::stained;
use super::words::Words;
use crate::label::fold::{Class, class};
use crate::label::normal::MARKED;
use crate::label::reading::SpanKind;
use crate::label::tables::{ConditionalWords, Field};

/// Words of the pack and its verb at most.
const MIDDLE: usize = 6;
/// Characters from a claim to its exception at most, with its method between them.
const CLAIM: usize = 40;

/// Words of such sentences, each with the languages that have it.
#[derive(Debug, Clone)]
pub(crate) struct Clauses {
    ifs: Words<u32>,
    whens: Words<u32>,
    unless: Words<u32>,
    middle: Words<u32>,
    forbids: Words<u32>,
}

impl Clauses {
    pub(crate) fn new(rows: &[ConditionalWords]) -> Self {
        let list = |of: fn(&ConditionalWords) -> &Vec<String>| {
            let mut all: BTreeMap<&str, u32> = BTreeMap::new();
            for (language, row) in (0..u32::BITS).zip(rows) {
                of(row).iter().for_each(|word| *all.entry(word).or_default() |= 1 << language);
            }
            Words::new(all.into_iter().map(|(word, languages)| (word, languages, usize::MAX)))
        };
        Self {
            ifs: list(|row| &row.ifs),
            whens: list(|row| &row.whens),
            unless: list(|row| &row.unless),
            middle: list(|row| &row.middle),
            forbids: list(|row| &row.forbids),
        }
    }
}

/// What was read of a sentence: where it ends, and the languages it may be of.
#[derive(Debug, Clone, Copy)]
struct Part {
    end: usize,
    languages: u32,
}

impl Scan<'_> {
    /// Whether a place lies in a sentence under a condition.
    pub(super) fn is_conditional(&self, at: usize) -> bool {
        self.notices.iter().any(|(start, end)| *start <= at && at < *end)
    }

    /// Takes every such sentence, with the negation in it.
    pub(super) fn tell_conditional(&mut self) {
        for (start, end) in std::mem::take(&mut self.notices) {
            self.take(start, end, SpanKind::Notice);
        }
    }

    /// Every sentence under a condition.
    pub(super) fn all_conditional(&self) -> Vec<(usize, usize)> {
        let starts = self.contexts.iter().map(|(start, _, _)| *start);
        let whole = starts.filter_map(|at| {
            let end = self.forbidden_if(at).or_else(|| self.if_forbidden(at));
            Some((at, end.or_else(|| self.unless(at))?))
        });
        let known = self.words.iter().filter(|(at, word)| {
            word.means.field == Field::Notice && self.torn(*at, word.end).is_none()
        });
        let goes_on = known.filter_map(|(at, word)| Some((*at, self.goes_on(*at, word.end)?)));
        whole.chain(goes_on).collect()
    }

    /// Whether a word forbids under a condition of whatever: *Do not use if in doubt*. One that names what
    /// tells packs apart may be of this one: *if lot* …, *if made before* …
    pub(super) fn forbids_under(&self, at: usize, end: usize) -> bool {
        let negated = self.words_behind(at).take_while(|word| word.0 < end);
        let mut negated = negated.filter(|(from, to)| {
            self.context(*from, *to) == Some(Context::Negation) && 1 < to - from
        });
        let clauses = &self.reader.lists.clauses;
        let forbids = self.next(&clauses.forbids, Part { end: at, languages: u32::MAX });
        let under = || {
            let part = forbids.filter(|part| part.end == end)?;
            let part = self.next(&clauses.ifs, self.comma(part))?;
            (self.is_small(part.end) && !self.tells_apart(part)).then_some(())
        };
        negated.next().is_some() && under().is_some()
    }

    /// Whether a number stands next, or the name of one that a pack has of its own.
    fn tells_apart(&self, part: Part) -> bool {
        let letters = self.text.letters.as_slice();
        let at = self.beside(self.middle(part).end);
        let named = self.reader.lists.fields.at(letters, at).is_some_and(|word| {
            matches!(
                word.means.field,
                Field::Lot
                    | Field::Reference
                    | Field::Serial
                    | Field::Gtin
                    | Field::Made
                    | Field::Aside
            )
        });
        named || letters.get(at).is_some_and(|c| class(*c) == Class::Digit)
    }

    /// *Do not use if the package is damaged.*
    fn forbidden_if(&self, at: usize) -> Option<usize> {
        let clauses = &self.reader.lists.clauses;
        let part = self.next(&clauses.forbids, Part { end: at, languages: u32::MAX })?;
        let part = self.comma(part);
        let when = || self.next(&clauses.whens, part);
        let part = self.next(&clauses.ifs, part).or_else(when)?;
        self.named(part).filter(|_| self.is_small(part.end)).map(|part| part.end)
    }

    /// Whether a condition that forbids is left open by the end of the line before: what stands next may be
    /// its damage or a finding, and is asked about.
    pub(super) fn is_wrapped(&self, at: usize) -> bool {
        let letters = &self.text.letters[..at];
        let Some(line) = letters.iter().rposition(|c| *c == '\n') else { return false };
        let from = letters[..line].iter().rposition(|c| *c == '\n').map_or(0, |at| at + 1);
        let part = |end: usize| Part { end, languages: u32::MAX };
        let clauses = &self.reader.lists.clauses;
        let open = |at: usize| {
            let part = self.comma(self.next(&clauses.forbids, part(at))?);
            let when = || self.next(&clauses.whens, part);
            let part = self.next(&clauses.ifs, part).or_else(when)?;
            Some(self.beside(self.middle(part).end) == line)
        };
        let next = part(line + 1);
        let begins = [next, self.middle(next)].iter().any(|part| self.beside(part.end) == at);
        begins && (from..line).any(|at| super::begins(letters, at) && open(at) == Some(true))
    }

    /// *If the package is damaged, do not use.*
    fn if_forbidden(&self, at: usize) -> Option<usize> {
        let clauses = &self.reader.lists.clauses;
        let before = self.text.letters[..at].iter().rev().find(|c| **c != ' ');
        let part = Part { end: at, languages: u32::MAX };
        let when = || self.next(&clauses.whens, part);
        let part = self.next(&clauses.ifs, part).or_else(when)?;
        let begins = before.is_none_or(|c| STOPS.contains(c));
        let part = self.middle(self.named(part).filter(|_| begins)?);
        self.next(&clauses.forbids, self.comma(part)).map(|part| part.end)
    }

    /// *Sterile unless opened or damaged.*
    fn unless(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let part = Part { end: at, languages: u32::MAX };
        let part = self.next(&self.reader.lists.clauses.unless, part)?;
        let before = letters[..at].iter().rposition(|c| STOPS.contains(c) || *c == ',');
        let from = before.map_or(0, |stop| stop + 1).max(at.saturating_sub(CLAIM));
        let claim = (from..at).any(|at| self.reader.lists.stems.begins(letters, at));
        self.named(part).filter(|_| claim).map(|part| part.end)
    }

    /// Where the first part of a known notice ends that is a sentence of its own: `DO NOT USE` above *if
    /// damaged return*. Other parts go on in small letters on the next line or behind a dash, and without
    /// a capital on their own.
    pub(super) fn torn(&self, at: usize, end: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let lists = &self.reader.lists;
        let (mut first, mut last) = (at, at);
        for (from, to) in self.words_behind(at).take_while(|word| word.0 < end) {
            let gap = &letters[last..from];
            let plain = gap.iter().all(|c| matches!(c, ' ' | ',' | '\''));
            let found = lists.fields.at(&letters[..last], at).filter(|word| word.end == last);
            let finding = found.is_some_and(|word| {
                matches!(word.means.field, Field::NotForUse | Field::Damaged | Field::Doubtful)
            });
            let condition = self.context(from, to) == Some(Context::Condition);
            let whole = finding && condition;
            let stop = gap.iter().any(|c| STOPS.contains(c) && (whole || *c != '\n'));
            let capital = condition && self.is_title(from) && !self.is_title(first);
            if at < from
                && (capital || stop || !plain && !self.is_lower(from))
                && (finding || condition)
            {
                return Some(last);
            }
            (first, last) = (from, to);
        }
        None
    }

    /// Where a known notice of damage ends that goes on: *Do not use if damaged* … *or wet*.
    fn goes_on(&self, at: usize, end: usize) -> Option<usize> {
        let of_damage = (at..end).any(|at| {
            super::begins(&self.text.letters, at) && {
                self.damage_at(at).is_some_and(|stop| stop <= end)
            }
        });
        let part = Part { end, languages: u32::MAX };
        if of_damage { self.joined(part).map(|part| self.all_joined(part).end) } else { None }
    }

    /// The pack, its verb, and all the damage that is named of it.
    fn named(&self, part: Part) -> Option<Part> {
        self.damage_of(part).map(|part| self.all_joined(part))
    }

    fn damage_of(&self, part: Part) -> Option<Part> {
        let part = self.middle(part);
        self.damage_at(self.beside(part.end)).map(|end| Part { end, ..part })
    }

    fn all_joined(&self, mut part: Part) -> Part {
        while let Some(more) = self.joined(part) {
            part = more;
        }
        part
    }

    /// *Or wet*; behind a comma alone only before the last of several: *open, wet or damaged*.
    fn joined(&self, part: Part) -> Option<Part> {
        let comma = self.comma(part);
        let from = self.beside(comma.end);
        // A line that begins with such a word begins no sentence; one letter may be a mark of a list.
        let wrapped = self.text.letters.get(from) == Some(&'\n');
        let from = if wrapped { self.beside(from + 1) } else { from };
        let joint = self.reader.lists.goes_on.at(&self.text.letters, from);
        let joint = joint.filter(|joint| {
            let long = !wrapped || 1 < joint.end - from;
            joint.exact && long && !self.is_stopped(from, joint.end)
        });
        if let Some(joint) = joint {
            return self.damage_of(Part { end: joint.end, ..comma });
        }
        let more = if comma.end == part.end { None } else { self.damage_of(comma) };
        more.filter(|more| self.joined(*more).is_some())
    }

    /// Behind the pack and its verb.
    fn middle(&self, mut part: Part) -> Part {
        for _ in 0..MIDDLE {
            match self.next(&self.reader.lists.clauses.middle, part) {
                Some(next) => part = next,
                None => break,
            }
        }
        part
    }

    /// Behind the word of a list that stands next on the line, in a language of the sentence.
    fn next(&self, list: &Words<u32>, part: Part) -> Option<Part> {
        let from = self.beside(part.end);
        let found = list.at(&self.text.letters, from)?;
        let languages = part.languages & found.means;
        let read = found.exact && languages != 0 && !self.is_stopped(from, found.end);
        read.then_some(Part { end: found.end, languages })
    }

    /// Where a word of damage ends that begins here.
    pub(super) fn damage_at(&self, at: usize) -> Option<usize> {
        let letters = self.text.letters.as_slice();
        let lists = &self.reader.lists;
        let field = lists
            .fields
            .at(letters, at)
            .filter(|word| matches!(word.means.field, Field::Damaged | Field::Doubtful));
        // With a letter wrong it is asked about alone, and here it is no finding either.
        let stem = lists.spoilt.iter().find_map(|stem| stained(letters, at, stem));
        let stem = stem.map(|end| {
            let own = letters[end..].iter().take_while(|c| class(**c) == Class::Letter);
            end + own.count()
        });
        let end = field.map(|word| word.end).or(stem);
        end.filter(|end| !self.is_stopped(at, *end))
    }

    fn is_stopped(&self, from: usize, to: usize) -> bool {
        self.text.letters[from..to].iter().any(|c| STOPS.contains(c))
    }

    /// Behind the comma that many languages put between the two parts.
    fn comma(&self, part: Part) -> Part {
        let at = self.beside(part.end);
        let comma = self.text.letters.get(at) == Some(&',');
        Part { end: if comma { at + 1 } else { part.end }, ..part }
    }

    /// The next place on the line that is no blank.
    fn beside(&self, at: usize) -> usize {
        let blank = |c: &&char| matches!(**c, ' ' | '\'');
        at + self.text.letters[at..].iter().take_while(blank).count()
    }

    /// Whether the word that ends here does not begin a sentence by its letters: `if`, `IF`, and no `If`.
    fn is_small(&self, end: usize) -> bool {
        let begins = self.words_before(end).next();
        begins.is_none_or(|(start, _)| !self.is_title(start))
    }

    /// Whether a word is written with a capital first and small letters behind.
    pub(super) fn is_title(&self, at: usize) -> bool {
        let raw = |at: usize| self.text.raw.get(at).copied().unwrap_or_default();
        let capital = raw(at).is_ascii_uppercase() || raw(at) == MARKED;
        capital && (raw(at + 1).is_ascii_lowercase() || raw(at + 1) == MARKED)
    }
}
