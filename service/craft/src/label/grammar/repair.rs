//! Reading what OCR and typing broke.
//!
//! What is undone: characters that OCR takes for each other (`0 O D Q`,
//! `1 l I | !`, `5 S $`, `8 B &`, `2 Z`, `6 G`, `M N`, `R P`), a blank or a line
//! break put in, a separator left out. A text that does not read cleanly is
//! tried again with one, then with two of these undone. What reads then is a
//! candidate with its repair among the reasons; it is never clear.

use super::draft::push_candidate;
use super::interpret::{Interpreted, interpret, name_packs};
use super::lexer::lex;
use super::lexicon::Lexicon;
use crate::label::reading::{Because, Candidate};

/// Most places that are tried; more corruption than that is not noise.
const MOST_EDITS: usize = 28;
/// Longest stretch that is repaired, in bytes.
const LONGEST: usize = 64;

/// One corruption undone.
#[derive(Debug, Clone, Copy)]
enum Edit {
    /// The byte there is another.
    Put(usize, u8),
    /// The bytes there are not there.
    Close(usize),
    /// A blank belongs there.
    Open(usize),
}

impl Edit {
    fn place(self) -> usize {
        match self {
            Self::Put(at, _) | Self::Close(at) | Self::Open(at) => at,
        }
    }

    fn reason(self, text: &[u8]) -> Because {
        match self {
            Self::Put(at, to) => Because::Repaired(text[at], to),
            Self::Close(_) => Because::Closed,
            Self::Open(_) => Because::Opened,
        }
    }
}

/// Adds what the text says with corruptions undone.
pub(crate) fn repair(text: &[u8], lexicon: &Lexicon, into: &mut Interpreted) {
    let trimmed = text.trim_ascii();
    if LONGEST < trimmed.len() || trimmed.is_empty() {
        return;
    }
    let edits = edits(trimmed);
    let mut found = Vec::new();
    for edit in &edits {
        attempt(trimmed, &[*edit], lexicon, lexicon.sure.one_repair, &mut found);
    }
    let whole = |found: &[Candidate]| found.iter().any(|c| c.missing().next().is_none());
    if !whole(&found) {
        for (i, first) in edits.iter().enumerate() {
            for second in &edits[i + 1..] {
                if first.place() != second.place() {
                    attempt(
                        trimmed,
                        &[*first, *second],
                        lexicon,
                        lexicon.sure.two_repairs,
                        &mut found,
                    );
                }
            }
        }
    }
    // What lacks something is worth having only where nothing whole stands.
    if whole(&found) {
        found.retain(|c| c.missing().next().is_none());
    } else if into.is_complete() {
        return;
    }
    if found.is_empty() {
        return;
    }
    for candidate in &mut into.candidates {
        candidate.certainty *= lexicon.sure.unrepaired;
    }
    for candidate in found {
        push_candidate(&mut into.candidates, candidate);
    }
    into.candidates.sort_by(|a, b| b.certainty.total_cmp(&a.certainty));
    into.candidates.truncate(8);
    into.confirm = true;
    into.refusal = None;
}

fn attempt(
    text: &[u8],
    edits: &[Edit],
    lexicon: &Lexicon,
    weight: f64,
    found: &mut Vec<Candidate>,
) {
    let mended = apply(text, edits);
    let tokens = lex(&mended, lexicon, &[]);
    let mut read = interpret(&tokens, lexicon);
    name_packs(&mended, &tokens, lexicon, &mut read);
    let coded = read.candidates.first().is_some_and(|c| c.configuration.grouping.is_some());
    let clean = !read.disturbed && read.refusal.is_none() && read.unread.is_empty();
    if !clean || !coded {
        return;
    }
    for mut candidate in read.candidates {
        candidate.certainty *= weight;
        for edit in edits {
            candidate.because.push(edit.reason(text));
        }
        push_candidate(found, candidate);
    }
}

fn apply(text: &[u8], edits: &[Edit]) -> Vec<u8> {
    let mut out = Vec::with_capacity(text.len() + 2);
    for (at, byte) in text.iter().enumerate() {
        let here = edits.iter().find(|edit| edit.place() == at);
        match here {
            Some(Edit::Put(_, other)) => out.push(*other),
            Some(Edit::Close(_)) => {}
            Some(Edit::Open(_)) => out.extend_from_slice(&[b' ', *byte]),
            None => out.push(*byte),
        }
    }
    out
}

/// What OCR may have seen in place of a digit.
fn digit_for(byte: u8) -> Option<u8> {
    Some(match byte {
        b'O' | b'Q' | b'D' => b'0',
        b'I' | b'L' | b'|' | b'!' => b'1',
        b'S' | b'$' => b'5',
        b'B' | b'&' => b'8',
        b'Z' => b'2',
        b'G' => b'6',
        _ => return None,
    })
}

/// What OCR may have seen in place of a letter.
fn letter_for(byte: u8) -> Option<u8> {
    Some(match byte {
        b'0' => b'O',
        b'1' | b'I' | b'|' | b'!' => b'L',
        b'5' | b'$' => b'S',
        b'8' | b'&' => b'B',
        b'6' => b'G',
        b'N' => b'M',
        b'P' => b'R',
        _ => return None,
    })
}

/// Every place where something may have been misread.
fn edits(text: &[u8]) -> Vec<Edit> {
    let mut edits = Vec::new();
    let at = |i: usize| text.get(i).copied().unwrap_or(b' ');
    for i in 0..text.len() {
        let before = if i == 0 { b' ' } else { text[i - 1] };
        let (here, after) = (text[i], at(i + 1));
        let digit_near = before.is_ascii_digit()
            || after.is_ascii_digit()
            || digit_for(before).is_some()
            || before == b'M'
            || matches!(before, b'.' | b' ' | b'-' | b'/' | b'#' | b'_');
        let sign = |b: u8| b.is_ascii_alphabetic() || matches!(b, b'$' | b'&' | b'|' | b'!');
        if let Some(digit) = digit_for(here).filter(|_| digit_near) {
            edits.push(Edit::Put(i, digit));
        }
        let letter_near = sign(before) || sign(after) || matches!(here, b'N' | b'P');
        if let Some(letter) = letter_for(here).filter(|_| letter_near) {
            edits.push(Edit::Put(i, letter));
        }
        if here.is_ascii_whitespace() && 0 < i {
            edits.push(Edit::Close(i));
        }
        let decimal = here.is_ascii_digit() && after == b'.' && before.is_ascii_digit();
        if decimal {
            edits.push(Edit::Open(i));
        }
    }
    edits.truncate(MOST_EDITS);
    edits
}
