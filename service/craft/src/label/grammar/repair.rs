//! Reading what OCR and typing broke.
//!
//! Noise model, one corruption each: `0/O`, `1/l/I`, `5/S`, `8/B`, `RL/R1`
//! (and `RS/R5`), a blank put in, a separator left out, lower case, two words
//! glued. A text that does not read cleanly is tried again with one, then with
//! two of these undone. What reads then is a candidate with its repair among
//! the reasons; it is never clear.

use super::interpret::{Interpreted, interpret, name_packs, push_candidate};
use super::lexer::lex;
use super::lexicon::Lexicon;
use crate::label::reading::{Because, Candidate};

/// Most places that are tried; more corruption than that is not noise.
const MOST_EDITS: usize = 24;
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
        attempt(trimmed, &[*edit], lexicon, 0.62, &mut found);
    }
    if found.is_empty() {
        for (i, first) in edits.iter().enumerate() {
            for second in &edits[i + 1..] {
                if first.place() != second.place() {
                    attempt(trimmed, &[*first, *second], lexicon, 0.4, &mut found);
                }
            }
        }
    }
    if found.is_empty() {
        return;
    }
    for candidate in &mut into.candidates {
        candidate.certainty *= 0.4;
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
    let clean = !read.disturbed && read.refusal.is_none() && read.is_complete();
    if !clean {
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

/// Every place where the noise model may have been at work.
fn edits(text: &[u8]) -> Vec<Edit> {
    let mut edits = Vec::new();
    let at = |i: usize| text.get(i).copied().unwrap_or(b' ');
    for i in 0..text.len() {
        let before = if i == 0 { b' ' } else { text[i - 1] };
        let (here, after) = (text[i], at(i + 1));
        let digit_near = before.is_ascii_digit()
            || after.is_ascii_digit()
            || before == b'.'
            || matches!(before, b' ' | b'-' | b'/' | b'#' | b'_');
        let letter_near = before.is_ascii_alphabetic() || after.is_ascii_alphabetic();
        let put = match here {
            b'O' | b'Q' if digit_near || digit_like(before) => Some(b'0'),
            b'I' if letter_near && !digit_near && before != b'M' => Some(b'L'),
            b'I' | b'L' if digit_near || digit_like(before) || before == b'M' => Some(b'1'),
            b'S' if digit_near || digit_like(before) => Some(b'5'),
            b'B' if digit_near || digit_like(before) => Some(b'8'),
            b'0' if letter_near => Some(b'O'),
            b'1' if letter_near => Some(b'L'),
            b'5' if letter_near => Some(b'S'),
            b'8' if letter_near => Some(b'B'),
            _ => None,
        };
        edits.extend(put.map(|byte| Edit::Put(i, byte)));
        // An I or a 1 behind a letter may be either neighbour of the model.
        if here == b'I' {
            let other = if put == Some(b'1') { b'L' } else { b'1' };
            edits.push(Edit::Put(i, other));
        }
        if here == b' ' && 0 < i {
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

/// Letters that OCR puts for digits.
fn digit_like(byte: u8) -> bool {
    matches!(byte, b'O' | b'I' | b'L' | b'S' | b'B')
}
