//! What the built-in steps forbid is spoken of only to be forbidden.
//!
//! A sentence falls into clauses: at its marks, at words that join and at words that
//! begin a thought of their own. A clause that speaks of something governed is kept
//! if one word forbids it, and nothing but fillers stands between the two: *do not go
//! into the sun*, but not *do not worry about the sun*. What only goes on with a list
//! stays forbidden (*no pool, sea or sauna*). Two words that forbid (*never avoid*)
//! are one too many.

use std::ops::Range;

use super::lists::{Governed, Lists, find, hits};

/// Something governed that is not forbidden: what was found, and what it is of.
pub(super) struct Spoken {
    pub(super) found: String,
    pub(super) what: String,
}

/// The first thing of a sentence that is spoken of without being forbidden.
pub(super) fn spoken(lists: &Lists, sentence: &str) -> Option<Spoken> {
    let clauses = clauses(lists, sentence);
    let first = clauses.iter().find_map(|clause| clause.governed.first().map(|g| (clause, g)))?;
    // *No sauna? Nonsense.*
    if sentence.ends_with('?') || find(sentence, &lists.turned).is_some() {
        return Some(told(first.0, first.1));
    }
    // Whether a prohibition is open that a list goes on with, and what waits for one.
    let mut open = false;
    let mut waiting: Option<Spoken> = None;
    for clause in &clauses {
        let goes_on = clause.joint != Joint::Breaks && clause.is_bare(lists);
        if clause.joint == Joint::Breaks {
            open = false;
        }
        let with_deeds =
            clause.joint == Joint::Or && clause.is_filled(lists, true, 0..clause.words.len());
        let forbids = clause.forbids(lists);
        match (clause.governed.first(), forbids) {
            (None, forbids) => {
                open = forbids == Forbids::Before
                    || open && (goes_on || with_deeds) && forbids == Forbids::Not;
                if waiting.is_some() && !goes_on {
                    return waiting;
                }
            }
            (Some(_), Forbids::Before) => {
                if waiting.is_some() {
                    return waiting;
                }
                open = true;
            }
            (Some(_), Forbids::After) => {
                if waiting.is_some() && clause.joint == Joint::Breaks {
                    return waiting;
                }
                (open, waiting) = (false, None);
            }
            (Some(_), Forbids::Not) if open && (goes_on || with_deeds) => {}
            (Some(governed), Forbids::Not) if clause.is_bare(lists) && clause.marks.is_empty() => {
                if waiting.is_some() && clause.joint == Joint::Breaks {
                    return waiting;
                }
                waiting = waiting.or_else(|| Some(told(clause, governed)));
            }
            (Some(governed), _) => return Some(told(clause, governed)),
        }
    }
    waiting
}

fn told(clause: &Clause<'_>, (words, of): &(Range<usize>, &Governed)) -> Spoken {
    Spoken { found: clause.words[words.clone()].join(" "), what: of.what.clone() }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Joint {
    Breaks,
    List,
    Or,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Forbids {
    Not,
    /// By a word before what it forbids.
    Before,
    /// By a word behind it.
    After,
}

struct Clause<'a> {
    joint: Joint,
    words: Vec<String>,
    governed: Vec<(Range<usize>, &'a Governed)>,
    /// What could forbid, in order, none within another.
    marks: Vec<Mark>,
    also: Vec<Range<usize>>,
}

struct Mark {
    words: Range<usize>,
    before: bool,
    after: bool,
}

fn clauses<'a>(lists: &'a Lists, sentence: &str) -> Vec<Clause<'a>> {
    let mut all = Vec::new();
    let (mut joint, mut words) = (Joint::Breaks, Vec::new());
    let mut close = |joint: Joint, words: &mut Vec<String>| {
        if !words.is_empty() {
            all.push(Clause::new(lists, joint, std::mem::take(words)));
        }
    };
    let mut rest = sentence;
    while let Some(at) = rest.find(|c: char| c.is_alphanumeric()) {
        let between = &rest[..at];
        if between.contains([':', '(', ')', '"', '\u{2013}', '\u{2014}', '/'])
            || between.contains(" - ")
        {
            close(joint, &mut words);
            joint = Joint::Breaks;
        } else if between.contains(',') {
            close(joint, &mut words);
            joint = Joint::List;
        }
        let word = &rest[at..];
        let end = word.find(|c: char| !c.is_alphanumeric() && c != '\'').unwrap_or(word.len());
        let (word, behind) = word.split_at(end);
        let is = |list: &[String]| list.iter().any(|one| one == word);
        if is(&lists.breaks) {
            close(joint, &mut words);
            joint = Joint::Breaks;
        } else if is(&lists.joins) {
            // What began a thought of its own goes on with none.
            let begun = words.is_empty() && joint == Joint::Breaks;
            close(joint, &mut words);
            joint = match (begun, is(&lists.or)) {
                (true, _) => Joint::Breaks,
                (false, true) => Joint::Or,
                (false, false) => Joint::List,
            };
        }
        if !is(&lists.joins) || is(&lists.nor) && words.is_empty() {
            words.push(word.trim_matches('\'').to_owned());
        }
        rest = behind;
    }
    close(joint, &mut words);
    all
}

/// The words of a clause that a pattern takes up, whole words.
fn taken(text: &str, patterns: &[String]) -> Vec<Range<usize>> {
    let number = |at: usize| text[..at].matches(' ').count();
    let of = |(at, behind): (usize, usize)| number(at)..number(behind) + 1;
    patterns.iter().flat_map(|pattern| hits(text, pattern)).map(of).collect()
}

fn within(one: &Range<usize>, other: &Range<usize>) -> bool {
    other.start <= one.start && one.end <= other.end
}

impl<'a> Clause<'a> {
    fn new(lists: &'a Lists, joint: Joint, words: Vec<String>) -> Self {
        let text = words.join(" ");
        let mut governed = Vec::new();
        for kind in &lists.governed {
            let apart = taken(&text, &kind.apart);
            let of_kind = taken(&text, &kind.words);
            let here =
                of_kind.into_iter().filter(|it| !apart.iter().any(|other| within(it, other)));
            governed.extend(here.map(|range| (range, kind)));
        }
        governed.sort_by_key(|(range, _)| (range.start, range.end));
        let mut marks: Vec<Mark> = Vec::new();
        let mut mark = |words: Range<usize>, before: bool, after: bool| match marks
            .iter_mut()
            .find(|it| it.words.start < words.end && words.start < it.words.end)
        {
            Some(known) => {
                known.words = known.words.start.min(words.start)..known.words.end.max(words.end);
                known.before |= before;
                known.after |= after;
            }
            None => marks.push(Mark { words, before, after }),
        };
        taken(&text, &lists.before).into_iter().for_each(|it| mark(it, true, false));
        taken(&text, &lists.after).into_iter().for_each(|it| mark(it, false, true));
        // However often it is said that something is let be, it is said once.
        let mut also: Vec<Range<usize>> =
            governed.iter().flat_map(|(_, kind)| taken(&text, &kind.also)).collect();
        also.sort_by_key(|it| it.start);
        also.first().cloned().into_iter().for_each(|it| mark(it, true, true));
        marks.sort_by_key(|it| it.words.start);
        Self { joint, words, governed, marks, also }
    }

    /// Whether all words of a part are governed, forbid, or fill.
    fn is_filled(&self, lists: &Lists, deeds: bool, mut part: Range<usize>) -> bool {
        part.all(|at| {
            let word = &self.words[at];
            let is = |list: &[String]| list.contains(word);
            let governed = self.governed.iter().any(|(range, _)| range.contains(&at));
            governed
                || self.marks.iter().any(|mark| mark.words.contains(&at))
                || self.also.iter().any(|range| range.contains(&at))
                || word.bytes().all(|b| b.is_ascii_digit())
                || is(&lists.fillers)
                || deeds && is(&lists.deeds)
        })
    }

    /// Nothing but things and fillers, as in a list.
    fn is_bare(&self, lists: &Lists) -> bool {
        self.is_filled(lists, false, 0..self.words.len())
    }

    fn forbids(&self, lists: &Lists) -> Forbids {
        let [mark] = &self.marks[..] else { return Forbids::Not };
        let (first, last) = match (self.governed.first(), self.governed.last()) {
            (Some((first, _)), Some((last, _))) => (first, last),
            // What is forbidden is still to come: *do not touch, rub or scratch*.
            _ if mark.before && self.is_filled(lists, true, 0..self.words.len()) => {
                return Forbids::Before;
            }
            _ => return Forbids::Not,
        };
        if mark.before && mark.words.start <= first.start {
            let linked = self.is_filled(lists, true, mark.words.end.min(last.start)..last.start);
            // *No sun is too strong* forbids nothing.
            let none = find(&self.words[mark.words.start], &lists.none).is_some();
            let turned = none && self.words[last.end..].iter().any(|word| lists.is.contains(word));
            if linked && !turned {
                return Forbids::Before;
            }
        }
        let mut behind = mark.words.end..self.words.len();
        let closed = |at: usize| {
            find(&self.words[at], &lists.closing).is_some()
                || self.is_filled(lists, true, at..at + 1)
        };
        if mark.after
            && last.start <= mark.words.start
            && self.is_filled(lists, true, first.start..mark.words.start)
            && behind.all(closed)
        {
            return Forbids::After;
        }
        // *Die Krusten nicht abkratzen*: between what it forbids.
        let between = first.start < mark.words.start && mark.words.end <= last.start;
        if between
            && (mark.before || mark.after)
            && self.is_filled(lists, true, first.start..last.end)
        {
            return Forbids::Before;
        }
        Forbids::Not
    }
}
