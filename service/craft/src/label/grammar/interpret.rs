//! From tokens to readings: one code, its numbers, its taper, its marks.

use super::draft::push_groupings;
use super::lexer::{Tok, Token, Tokens};
use super::lexicon::Lexicon;
use super::numbers::{Assigned, Numbers, Stretch};
use super::parts::Parts;
use crate::label::reading::{Because, Candidate, Reasons, Refusal, Span, SpanKind};
use crate::label::tables::Mark;

/// What came of a stretch of text.
#[derive(Debug, Clone, Default)]
pub(crate) struct Interpreted {
    /// Readings, best first.
    pub(crate) candidates: Vec<Candidate>,
    /// Whether a person must confirm even a single reading.
    pub(crate) confirm: bool,
    /// Whether something stands there that no rule places.
    pub(crate) disturbed: bool,
    /// Why nothing can be read.
    pub(crate) refusal: Option<Refusal>,
    /// The quantity in the pack, if the first reading has one.
    pub(crate) pack: Option<u8>,
    /// What was read as what, in bytes of the folded text.
    pub(crate) spans: Vec<Span>,
    /// Tokens that mean nothing.
    pub(crate) unread: Vec<Stretch>,
}

impl Interpreted {
    /// One complete reading with nothing to ask.
    pub(crate) fn is_clear(&self) -> bool {
        !self.confirm && !self.disturbed && self.candidates.len() == 1 && self.is_complete()
    }

    /// Whether the first reading has everything.
    pub(crate) fn is_complete(&self) -> bool {
        self.candidates.first().is_some_and(|c| c.missing().next().is_none())
    }
}

/// Reads tokens.
pub(crate) fn interpret(tokens: &Tokens, lexicon: &Lexicon) -> Interpreted {
    let (one, other) = tokens.all.split_at(tokens.all.len() / 2);
    let alike = |(a, b): (&Token, &Token)| a.tok == b.tok && !matches!(a.tok, Tok::Unknown);
    if !one.is_empty() && one.len() == other.len() && one.iter().zip(other).all(alike) {
        // The same words twice, as on both sides of a packet.
        let mut read = some(one, tokens, lexicon);
        let again =
            |t: &Token| Span { start: t.start, end: t.end, kind: SpanKind::PackWord.into() };
        read.spans.extend(other.iter().map(again));
        read.candidates.iter_mut().for_each(|c| c.because.push(Because::SaidTwice));
        return read;
    }
    let read = some(&tokens.all, tokens, lexicon);
    let codes = tokens.all.iter().filter(|token| matches!(token.tok, Tok::Code(_))).count();
    if 1 < codes && !read.is_clear() {
        return twice(tokens, lexicon).unwrap_or(read);
    }
    read
}

/// Reads some of the tokens of a text.
fn some(all: &[Token], tokens: &Tokens, lexicon: &Lexicon) -> Interpreted {
    let mut parts = Parts::sort(all, tokens, lexicon);
    let mut result = Interpreted {
        disturbed: parts.disturbed || parts.contradiction,
        unread: std::mem::take(&mut parts.unread),
        ..Interpreted::default()
    };
    if parts.two_labels {
        result.refusal = Some(Refusal::SeveralLabels);
    } else if filiform(&parts, lexicon) {
        result.refusal = Some(Refusal::Filiform);
    } else {
        read_parts(&mut parts, tokens, lexicon, &mut result);
    }
    left_unread(all, &parts.spans, &mut result.unread);
    result.spans = parts.spans;
    result
}

/// A label that is printed twice, as on both sides of a packet, is one label
/// if both say the same.
fn twice(tokens: &Tokens, lexicon: &Lexicon) -> Option<Interpreted> {
    let said = |read: &Interpreted| read.candidates.first().map(|c| c.configuration);
    let fits = |read: &Interpreted| {
        let coded = said(read).is_some_and(|c| c.grouping.is_some());
        read.refusal.is_none() && !read.disturbed && coded
    };
    (1..tokens.all.len()).find_map(|at| {
        let (one, other) = tokens.all.split_at(at);
        let mut first = Some(some(one, tokens, lexicon)).filter(fits)?;
        let mut second = Some(some(other, tokens, lexicon)).filter(fits)?;
        if said(&first) != said(&second) {
            return None;
        }
        for candidate in &mut first.candidates {
            candidate.because.push(Because::SaidTwice);
        }
        first.confirm |= second.confirm || first.candidates.len() != second.candidates.len();
        first.spans.append(&mut second.spans);
        first.unread.append(&mut second.unread);
        Some(first)
    })
}

/// Numbers that the first reading does not use are not read.
fn left_unread(all: &[Token], spans: &[Span], unread: &mut Vec<Stretch>) {
    for token in all.iter().filter(|token| matches!(token.tok, Tok::Num(_))) {
        let used = spans.iter().any(|s| s.start < token.end && token.start < s.end);
        if !used {
            unread.push((token.start, token.end));
        }
    }
}

/// Notes with every reading the packs whose words stand in the text.
pub(crate) fn name_packs(up: &[u8], tokens: &Tokens, lexicon: &Lexicon, read: &mut Interpreted) {
    if !lexicon.has_packs() {
        return;
    }
    for token in &tokens.all {
        if !matches!(token.tok, Tok::Code(_) | Tok::Taper(_) | Tok::Noise) {
            continue;
        }
        let Some(pack) = lexicon.pack_of(up, (token.start, token.end)) else { continue };
        for candidate in &mut read.candidates {
            candidate.because.push(Because::FromPack(pack));
        }
    }
}

/// `0.30x40`, `0.25 35 mm`: diameter and length, without a grouping.
fn filiform(parts: &Parts, lexicon: &Lexicon) -> bool {
    if parts.code.is_some() {
        return false;
    }
    match parts.numbers().as_slice() {
        [one] => parts.length && one.num.is_literal(),
        [a, b] => {
            let whole = b.num.small().is_some() || b.num.is_literal() && b.num.decimals == 0;
            let long = whole && lexicon.filiform <= b.num.value;
            parts.times && a.num.is_literal() && long
        }
        _ => false,
    }
}

fn read_parts(parts: &mut Parts, tokens: &Tokens, lexicon: &Lexicon, result: &mut Interpreted) {
    let mut numbers = Numbers::new(lexicon);
    let pins = parts.code.is_some_and(|(code, _)| lexicon.codes[usize::from(code)].pins);
    let prong = parts.has(Mark::Prong) && parts.code.is_none();
    let lone = parts.has(Mark::Single) || parts.has(Mark::Nano);
    if pins {
        numbers.pins(&parts.numbers());
    } else if prong || (lone && parts.code.is_none()) {
        prongs(parts, prong, &mut numbers);
    } else if parts.code.is_some() {
        numbers.around(&parts.before, &parts.after, parts.times);
    } else {
        numbers.alone(&parts.before);
    }
    result.disturbed |= parts.has(Mark::Prong) && parts.code.is_some();
    result.disturbed |= numbers.left_over;
    let nothing = parts.code.is_none() && parts.taper.is_none() && parts.before.is_empty();
    if nothing && parts.marks == 0 {
        return;
    }
    if numbers.no_size && numbers.found.is_empty() {
        result.refusal = Some(Refusal::NoSuchSize);
        return;
    }
    if numbers.found.is_empty() {
        result.disturbed = true;
        let nothing = Assigned::nothing(lexicon.sure.plain * lexicon.sure.parts_only);
        numbers.found.push(Assigned { confirm: true, ..nothing });
    }
    let found = numbers.found;
    if let Some(at) = numbers.again {
        parts.span(at, SpanKind::Diameter);
    }
    spans_of(&found[0], &mut parts.spans);
    result.pack = found[0].pack;
    let by_word = prong || lone;
    if parts.has(Mark::Bugpin) || parts.has(Mark::Standard) {
        for assigned in slang(parts, &found, lexicon) {
            push_groupings(parts, tokens, lexicon, &assigned, by_word, result);
        }
    } else {
        for assigned in &found {
            push_groupings(parts, tokens, lexicon, assigned, by_word, result);
        }
    }
    result.candidates.sort_by(|a, b| b.certainty.total_cmp(&a.certainty));
    // A word that means nothing may be what is missing.
    result.disturbed |= !result.unread.is_empty() && !result.is_complete();
}

/// `1 prong 0.30`, `single 0.18`, `nano 0.18`: the count is in the word.
fn prongs(parts: &Parts, prong: bool, numbers: &mut Numbers<'_>) {
    let all = parts.numbers();
    if prong {
        // The number in front of the word is the count.
        match all.as_slice() {
            [count] => numbers.around(&[*count], &[], false),
            [a, b] if b.num.is_literal() => numbers.around(&[*b, *a], &[], false),
            [a, b] => numbers.around(&[*a, *b], &[], false),
            _ => {}
        }
        return;
    }
    numbers.alone(&all);
    for assigned in &mut numbers.found {
        if assigned.count.is_none() {
            assigned.count = Some(1);
        }
    }
}

fn spans_of(assigned: &Assigned, spans: &mut Vec<Span>) {
    let pack = if assigned.pack.is_some() { assigned.pack_at } else { (0, 0) };
    for (at, kind) in [
        (assigned.at.0, SpanKind::Diameter),
        (assigned.at.1, SpanKind::Count),
        (pack, SpanKind::Quantity),
    ] {
        if at.0 < at.1 {
            spans.push(Span { start: at.0, end: at.1, kind: kind.into() });
        }
    }
    spans.sort_unstable_by_key(|s| s.start);
}

/// Words that stand for a diameter, or that agree with one.
fn slang(parts: &Parts, found: &[Assigned], lexicon: &Lexicon) -> Vec<Assigned> {
    let sure = &lexicon.sure;
    let mut out = Vec::with_capacity(found.len());
    for assigned in found {
        let mut assigned = *assigned;
        let mut spread = false;
        for (mark, diameters, most) in lexicon.slang.iter().filter(|row| parts.has(row.0)) {
            let reason = slang_reason(*mark);
            match assigned.diameter {
                None if assigned.count.is_some() || parts.code.is_some() => {
                    spread = true;
                    for (i, mm) in diameters.iter().enumerate() {
                        let share = if i == 0 { sure.even } else { sure.second };
                        let weight = assigned.weight * share;
                        let mut read =
                            Assigned { diameter: Some(*mm), weight, confirm: true, ..assigned };
                        read.because.push(reason);
                        out.push(read);
                    }
                }
                Some(mm) if most.is_some_and(|most| most < mm) => {
                    assigned.because.push(Because::BugpinContradicts);
                    assigned.confirm = true;
                    assigned.weight *= sure.even;
                }
                Some(_) if most.is_some() => assigned.because.push(Because::BugpinAgrees),
                _ => assigned.because.push(reason),
            }
        }
        if !spread {
            out.push(assigned);
        }
    }
    out
}

fn slang_reason(mark: Mark) -> Because {
    if mark == Mark::Bugpin { Because::Bugpin } else { Because::Standard }
}

/// The reasons of a canonical text.
pub(crate) fn exactly() -> Reasons {
    let mut because = Reasons::NONE;
    because.push(Because::Canonical);
    because
}
