//! The configuration grammar: lexer, assignment of numbers, repair.

mod alone;
mod canonical;
mod cut;
mod digits;
mod draft;
mod interpret;
mod lexer;
mod lexicon;
mod num;
mod numbers;
mod parameters;
mod parts;
mod repair;
mod signs;
mod sizes;

pub(crate) use interpret::Interpreted;
pub(crate) use lexicon::Lexicon;
pub(crate) use parameters::{Certainty, Counts, Inch, Shaft, Slang, Zeros};

use crate::label::reading::{Candidate, Refusal, Span, SpanKind};

/// Reads the configuration out of a text, leaving out what is read already.
///
/// `raw` is the text as written, `up` the same in upper case.
pub(crate) fn read(
    raw: &[u8],
    up: &[u8],
    taken: &[(usize, usize)],
    lexicon: &Lexicon,
) -> Interpreted {
    if taken.is_empty()
        && let Some(exact) = canonical::exact(raw, lexicon)
    {
        return exactly(&exact, raw.len(), lexicon.sure.canonical);
    }
    let tokens = lexer::lex(up, lexicon, taken);
    let mut read = interpret::interpret(&tokens, lexicon);
    interpret::name_packs(up, &tokens, lexicon, &mut read);
    read.disturbed |= small_l_for_one(raw);
    // What is marked as something else is not misread.
    let other = read.refusal == Some(Refusal::Filiform);
    let unsure = read.disturbed || read.refusal.is_some() && !other;
    if unsure && !tokens.overflow && !tokens.all.is_empty() {
        let left = left_over(up, taken);
        repair::repair(&left, lexicon, &mut read);
    }
    leave_nothing_out(up, taken, &mut read);
    read
}

/// Whatever way a text was read, a digit or a sign that no part of the reading took is
/// told as unread.
fn leave_nothing_out(up: &[u8], taken: &[(usize, usize)], read: &mut Interpreted) {
    for (at, byte) in up.iter().enumerate() {
        let tells = byte.is_ascii_digit() || matches!(byte, b'$' | b'&' | b'~' | b'?' | b'!');
        let within = |(start, end): &(usize, usize)| *start <= at && at < *end;
        let used = taken.iter().any(within)
            || read.unread.iter().any(within)
            || read.spans.iter().any(|span| within(&(span.start, span.end)));
        if tells && !used {
            read.unread.push((at, at + 1));
        }
    }
}

/// A small l at a digit among capitals is more likely a 1.
fn small_l_for_one(raw: &[u8]) -> bool {
    let at_digit = |w: &[u8]| matches!(w, [b'l', b'0'..=b'9'] | [b'0'..=b'9', b'l']);
    raw.windows(2).any(at_digit) && raw.iter().any(u8::is_ascii_uppercase)
}

fn exactly(exact: &canonical::Exact, end: usize, certainty: f64) -> Interpreted {
    let (diameter, count, code) = exact.ends;
    let mut read = Interpreted::default();
    read.candidates.push(Candidate {
        configuration: exact.configuration,
        certainty,
        tight: false,
        because: interpret::exactly(),
    });
    let told = exact.configuration;
    let parts = [
        (told.diameter_mm.is_some(), 0, diameter, SpanKind::Diameter),
        (told.count.is_some(), diameter + 1, count, SpanKind::Count),
        (told.grouping.is_some(), count, code, SpanKind::Grouping),
        (told.taper.is_some(), code + 1, end, SpanKind::Taper),
    ];
    let told = parts.into_iter().filter(|p| p.0);
    read.spans.extend(told.map(|(_, start, end, kind)| Span { start, end, kind: kind.into() }));
    read
}

/// The text without what is read already.
fn left_over(up: &[u8], taken: &[(usize, usize)]) -> Vec<u8> {
    let mut left = Vec::with_capacity(up.len());
    let mut at = 0;
    for (start, end) in taken {
        left.extend_from_slice(up.get(at..*start).unwrap_or_default());
        left.push(b' ');
        at = at.max(*end);
    }
    left.extend_from_slice(up.get(at..).unwrap_or_default());
    left
}
