//! The bracketed form: what is printed under a symbol, or typed by hand.

use std::borrow::Cow;

use super::{Gs1, Parsed};
use crate::label::faults::{Fault, FaultCode};

impl Gs1 {
    /// `(01)09521234543213(17) 270831(10)23A114`; a backslash takes an opening
    /// bracket into the value.
    pub(crate) fn brackets(&self, text: &[u8], base: usize) -> Parsed<'static> {
        let mut parsed = Parsed::new(Cow::Owned(Vec::with_capacity(text.len())));
        let mut at = 0;
        while at < text.len() {
            let Some(key) = key(&text[at..]) else {
                parsed.fault(base + at, FaultCode::BadBracket);
                break;
            };
            let Some((index, ai)) = self.table.exactly(key) else {
                let says = format!("({})", String::from_utf8_lossy(key));
                parsed.faults.push(Fault::with(base + at, FaultCode::UnknownAi, says));
                break;
            };
            let begin = at;
            at += key.len() + 2;
            let mut value = Vec::new();
            while let Some(byte) = text.get(at).filter(|b| **b != b'(') {
                if *byte == b'\\' && text.get(at + 1) == Some(&b'(') {
                    at += 1;
                }
                value.push(text[at]);
                at += 1;
            }
            let value = trimmed(&value);
            let start = parsed.data.len();
            parsed.data.to_mut().extend_from_slice(value);
            self.element(&mut parsed, index, ai, (base + begin, start), value);
        }
        if text.is_empty() {
            parsed.fault(base, FaultCode::Empty);
        }
        self.companions(&mut parsed);
        parsed
    }
}

fn key(text: &[u8]) -> Option<&[u8]> {
    let rest = text.strip_prefix(b"(")?;
    let len = rest.iter().take(5).position(|b| *b == b')')?;
    let key = &rest[..len];
    ((2..=4).contains(&len) && key.iter().all(u8::is_ascii_digit)).then_some(key)
}

/// Without the spaces that print puts around a value; a value of spaces alone
/// stays as it is, so that it is refused for what it is.
fn trimmed(value: &[u8]) -> &[u8] {
    match value.trim_ascii() {
        [] => value,
        trimmed => trimmed,
    }
}
