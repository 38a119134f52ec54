//! The canonical shape, read exactly: it stands for itself.
//!
//! ```text
//! canonical = ( diameter / "?" ) SP ( count / "?" ) ( code / "?" ) [ SP taper ]
//! diameter  = "0." 2*3DIGIT        ; in the range that is sold
//! count     = 1*2DIGIT             ; 1 to 49, no leading zero
//! ```

use etui_schema::vocabulary::{Configuration, Grouping, Taper};

use super::lexicon::{Lexicon, Thousandths};

/// A configuration and where its parts stand.
pub(crate) struct Exact {
    pub(crate) configuration: Configuration,
    /// Ends of diameter, count, code.
    pub(crate) ends: (usize, usize, usize),
}

/// Reads a text that has exactly the canonical shape.
pub(crate) fn exact(raw: &[u8], lexicon: &Lexicon) -> Option<Exact> {
    if 20 < raw.len() {
        return None;
    }
    let space = raw.iter().take(6).position(|b| *b == b' ')?;
    let diameter = match &raw[..space] {
        b"?" => None,
        text => Some(diameter(text, lexicon.range)?),
    };
    let rest = &raw[space + 1..];
    let digits = rest.iter().take_while(|b| b.is_ascii_digit()).count();
    let (count, code_at) = match (rest.first()?, digits) {
        (b'?', _) => (None, 1),
        (b'1'..=b'9', 1 | 2) => (Some(count(&rest[..digits])?), digits),
        _ => return None,
    };
    let tail = &rest[code_at..];
    let code_len = tail.iter().position(|b| *b == b' ').unwrap_or(tail.len());
    let grouping = match &tail[..code_len] {
        b"?" => None,
        code => Some(Grouping::ALL.iter().find(|g| g.code().as_bytes() == code).copied()?),
    };
    let taper = match tail.get(code_len + 1..) {
        None if code_len == tail.len() => None,
        Some(text) => Some(Taper::ALL.iter().find(|t| t.code().as_bytes() == text).copied()?),
        None => return None,
    };
    let count_end = space + 1 + code_at;
    let diameter_mm = diameter.map(|d| f64::from(d) / 1000.0);
    Some(Exact {
        configuration: Configuration { diameter_mm, count, grouping, taper },
        ends: (space, count_end, count_end + code_len),
    })
}

fn diameter(text: &[u8], range: (Thousandths, Thousandths)) -> Option<Thousandths> {
    let digits = text.strip_prefix(b"0.")?;
    if !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let value = digits.iter().fold(0, |n: u16, b| n * 10 + u16::from(b - b'0'));
    let value = match digits.len() {
        2 => value * 10,
        // Three decimals are canonical only where two would not do.
        3 if !value.is_multiple_of(10) => value,
        _ => return None,
    };
    (range.0 <= value && value <= range.1).then_some(value)
}

fn count(digits: &[u8]) -> Option<u8> {
    let value = digits.iter().fold(0, |n, b| n * 10 + (b - b'0'));
    (1..=49).contains(&value).then_some(value)
}
