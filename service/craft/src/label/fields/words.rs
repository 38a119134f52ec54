//! The words of packets, looked up at a place of the folded text.
//!
//! A tree by letters, built once. Letters and digits that OCR takes for each
//! other, and letters of other scripts that look alike, lie on one branch. In
//! a word of a list a blank stands for any joint or none (blank, line break,
//! `. - _ / : '`), a dot for a joint that must be there.

use std::ops::Range;

use crate::label::fold::{self, Class, SKIP, class, joins, skeleton};

/// Where the branches and the words of a node begin in those of all; they end where those of the next begin.
#[derive(Debug, Clone, Copy)]
struct Node {
    edges: u32,
    ends: u32,
}

#[derive(Debug, Clone)]
struct Word<T> {
    /// Where its letters lie in those of all.
    letters: Range<u32>,
    /// Whether a letter in disguise may stand for one of its own.
    lenient: bool,
    means: T,
}

/// A word that was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Found<T> {
    pub(crate) means: T,
    pub(crate) end: usize,
    /// Whether it is written with its own letters.
    pub(crate) exact: bool,
}

/// A list of words. The tree lies packed in rows: there are tens of thousands of nodes, most with one
/// branch and no word.
#[derive(Debug, Clone)]
pub(crate) struct Words<T> {
    /// And one behind the last, where all end.
    nodes: Box<[Node]>,
    edges: Box<[(char, u32)]>,
    ends: Box<[u32]>,
    words: Box<[Word<T>]>,
    letters: Box<[char]>,
    /// Where the words go on that begin with a letter of ASCII; the root for no word. Most places of
    /// a text are asked for no more than this.
    first: [u32; 128],
}

/// Branches of a node up to which it is faster to look at each.
const FEW: usize = 8;

/// A node while the tree is built.
#[derive(Default)]
struct Grown {
    edges: Vec<(char, u32)>,
    ends: Vec<u32>,
}

impl<T: Copy> Words<T> {
    /// A list of texts and what they mean; `lenient` says from how many
    /// letters on a misread one is taken.
    pub(crate) fn new<'a>(all: impl Iterator<Item = (&'a str, T, usize)>) -> Self {
        let (mut grown, mut words, mut letters) = (vec![Grown::default()], Vec::new(), Vec::new());
        for (text, means, lenient) in all {
            let from = letters.len();
            letters.extend(text.chars().map(fold::letter));
            let of_word = letters.get(from..).unwrap_or_default();
            let own = of_word.iter().filter(|c| !matches!(c, ' ' | '.')).count();
            let mut at = 0;
            for c in of_word.iter().copied().filter(|c| *c != SKIP) {
                at = branch(&mut grown, at, skeleton(c));
            }
            if let Some(node) = grown.get_mut(at) {
                node.ends.push(number(words.len()));
            }
            let letters = number(from)..number(letters.len());
            words.push(Word { letters, lenient: lenient <= own, means });
        }
        Self::packed(grown, words, letters)
    }

    fn packed(grown: Vec<Grown>, words: Vec<Word<T>>, letters: Vec<char>) -> Self {
        let mut first = [0; 128];
        for (key, next) in grown.first().map_or(&[][..], |root| root.edges.as_slice()) {
            if let Some(place) = first.get_mut(*key as usize) {
                *place = *next;
            }
        }
        let (mut edges, mut ends) = (Vec::with_capacity(grown.len()), Vec::new());
        let mut nodes = Vec::with_capacity(grown.len() + 1);
        for node in grown {
            nodes.push(Node { edges: number(edges.len()), ends: number(ends.len()) });
            edges.extend(node.edges);
            ends.extend(node.ends);
        }
        nodes.push(Node { edges: number(edges.len()), ends: number(ends.len()) });
        Self {
            nodes: nodes.into(),
            edges: edges.into(),
            ends: ends.into(),
            words: words.into(),
            letters: letters.into(),
            first,
        }
    }

    /// The branches of a node, in the order of their letters.
    fn edges(&self, at: usize) -> &[(char, u32)] {
        self.of(at, &self.edges, |node| node.edges)
    }

    /// The words that end at a node.
    fn ends(&self, at: usize) -> &[u32] {
        self.of(at, &self.ends, |node| node.ends)
    }

    fn of<'a, U>(&self, at: usize, all: &'a [U], begin: fn(&Node) -> u32) -> &'a [U] {
        let Some([here, next]) = self.nodes.get(at..at + 2) else { return &[] };
        all.get(begin(here) as usize..begin(next) as usize).unwrap_or_default()
    }

    fn letters(&self, word: &Word<T>) -> &[char] {
        let Range { start, end } = word.letters;
        self.letters.get(start as usize..end as usize).unwrap_or_default()
    }

    fn edge(&self, at: usize, key: char) -> Option<usize> {
        if let (0, Some(next)) = (at, self.first.get(key as usize)) {
            return (*next != 0).then_some(*next as usize);
        }
        let edges = self.edges(at);
        let found = match edges.len() {
            ..=FEW => edges.iter().find(|edge| edge.0 == key),
            _ => edges.binary_search_by_key(&key, |edge| edge.0).ok().and_then(|at| edges.get(at)),
        };
        found.map(|edge| edge.1 as usize)
    }

    /// The longest word at a place, which ends where no letter follows.
    pub(crate) fn at(&self, text: &[char], at: usize) -> Option<Found<T>> {
        self.look(text, at, true)
    }

    /// The longest word written exactly so at a place, whatever follows.
    pub(crate) fn glued(&self, text: &[char], at: usize) -> Option<Found<T>> {
        self.look(text, at, false)
    }

    /// Whether a word of the list begins here, in whatever longer word.
    pub(crate) fn begins(&self, text: &[char], at: usize) -> bool {
        let (mut node, mut at) = (0, at);
        while let Some(&here) = text.get(at) {
            let joint = joins(here) && here != SKIP;
            let next = self.edge(node, if joint { ' ' } else { skeleton(here) });
            match next {
                _ if here == SKIP => {}
                Some(next) => node = next,
                None => return false,
            }
            if !self.ends(node).is_empty() {
                return true;
            }
            at += 1;
            if joint {
                at += text[at..].iter().take_while(|c| joins(**c)).count();
            }
        }
        false
    }

    fn look(&self, text: &[char], at: usize, closed: bool) -> Option<Found<T>> {
        // Most words of a label begin no word of the list.
        self.edge(0, skeleton(*text.get(at)?))?;
        let mut best = None;
        self.walk(0, text, (at, at), closed, &mut best);
        best
    }

    fn walk(
        &self,
        mut node: usize,
        text: &[char],
        (start, mut at): (usize, usize),
        closed: bool,
        best: &mut Option<Found<T>>,
    ) {
        loop {
            self.arrive(node, text, (start, at), closed, best);
            let Some(&here) = text.get(at) else { return };
            at += 1;
            if here == SKIP {
                continue;
            }
            // In order: what stands for joints lies before all letters.
            if self.edges(node).first().is_some_and(|edge| edge.0 <= '.') {
                let joints = text[at - 1..].iter().take_while(|c| joins(**c)).count();
                let behind = at - 1 + joints;
                if let Some(next) = self.edge(node, ' ') {
                    self.walk(next, text, (start, behind), closed, best);
                }
                if let Some(next) = self.edge(node, '.').filter(|_| 0 < joints) {
                    self.walk(next, text, (start, behind), closed, best);
                }
            }
            match self.edge(node, skeleton(here)) {
                Some(next) if !joins(here) => node = next,
                Some(_) | None => return,
            }
        }
    }

    /// Takes the words that end here, if one is better than the best so far.
    fn arrive(
        &self,
        node: usize,
        text: &[char],
        (start, at): (usize, usize),
        closed: bool,
        best: &mut Option<Found<T>>,
    ) {
        for word in self.ends(node).iter().filter_map(|n| self.words.get(*n as usize)) {
            let end = at + text[at..].iter().take_while(|c| **c == SKIP).count();
            let letters = self.letters(word);
            let last = letters.last().copied().map(class);
            let open = last == Some(Class::Letter)
                && text.get(end).is_some_and(|c| class(*c) == Class::Letter);
            let own = |c: &&char| !joins(**c);
            let exact = letters.iter().filter(own).eq(text[start..at].iter().filter(own));
            // A digit that stands for the last letter begins no number: `Fyrnist 14`.
            let digit = |at: Option<usize>| {
                at.and_then(|at| text.get(at)).is_some_and(char::is_ascii_digit)
            };
            let cut = last == Some(Class::Letter) && digit(at.checked_sub(1)) && digit(Some(end));
            if (closed && open) || !(exact || closed && word.lenient && !cut) {
                continue;
            }
            let better =
                best.as_ref().is_none_or(|b| b.end < end || b.end == end && !b.exact && exact);
            if better {
                *best = Some(Found { means: word.means, end, exact });
            }
        }
    }
}

/// The place behind the branch of a node by a letter, which is made where there is none.
fn branch(grown: &mut Vec<Grown>, at: usize, key: char) -> usize {
    let next = grown.len();
    let Some(node) = grown.get_mut(at) else { return at };
    match node.edges.binary_search_by_key(&key, |edge| edge.0) {
        Ok(found) => node.edges[found].1 as usize,
        Err(place) => {
            node.edges.insert(place, (key, number(next)));
            grown.push(Grown::default());
            next
        }
    }
}

fn number(place: usize) -> u32 {
    u32::try_from(place).unwrap_or(u32::MAX)
}
