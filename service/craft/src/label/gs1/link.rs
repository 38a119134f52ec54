//! GS1 Digital Link addresses (GS1 Digital Link Standard: URI Syntax 1.3).
//!
//! The key is the last pair of the path that is one. Shorter GTINs than 14
//! digits, which older editions allowed, are padded on the left, on purpose. The
//! words that stood for identifiers before edition 1.2 (`gtin`, `lot`, `ser` …)
//! are read too. A qualifier that cannot follow the path as it stands is an
//! attribute like any other: a lot may stand in the query behind 235.

use std::borrow::Cow;
use std::collections::BTreeSet;

use super::table::{Ai, Number};
use super::{Gs1, Parsed};
use crate::label::faults::{Fault, FaultCode};

/// Words of the older editions; from memory except `gtin`, `ser` and `sscc`.
const WORDS: &[(&[u8], &[u8])] = &[
    (b"gtin", b"01"),
    (b"itip", b"8006"),
    (b"gmn", b"8013"),
    (b"cpid", b"8010"),
    (b"gln", b"414"),
    (b"payTo", b"415"),
    (b"gsrnp", b"8017"),
    (b"gsrn", b"8018"),
    (b"gcn", b"255"),
    (b"sscc", b"00"),
    (b"gdti", b"253"),
    (b"ginc", b"401"),
    (b"gsin", b"402"),
    (b"grai", b"8003"),
    (b"giai", b"8004"),
    (b"cpv", b"22"),
    (b"lot", b"10"),
    (b"ser", b"21"),
];

/// One step of the path or pair of the query: key, value, place of the key.
type Pair<'a> = (&'a [u8], &'a [u8], usize);

impl Gs1 {
    /// Reads an address; `base` is where it begins in the data as sent.
    pub(crate) fn link(&self, address: &[u8], base: usize) -> Parsed<'static> {
        let mut parsed = Parsed::new(Cow::Owned(Vec::with_capacity(address.len())));
        match self.path_and_query(address) {
            Ok((path, query)) => {
                for pair in &path {
                    self.pair(&mut parsed, *pair, base, Place::Path);
                }
                let mut seen = BTreeSet::new();
                for pair in query {
                    self.attribute(&mut parsed, &path, pair, base);
                    if is_number(pair.0) && !seen.insert(pair.0) {
                        let at = base + pair.2;
                        let key = String::from_utf8_lossy(pair.0);
                        parsed.faults.push(Fault::of(&key, at, FaultCode::DoubledAttribute));
                        break;
                    }
                }
                self.companions(&mut parsed);
            }
            Err((at, code)) => parsed.fault(base + at, code),
        }
        parsed
    }

    /// The steps from the key on, and the pairs of the query.
    fn path_and_query<'a>(
        &self,
        address: &'a [u8],
    ) -> Result<(Vec<Pair<'a>>, Vec<Pair<'a>>), (usize, FaultCode)> {
        if let Some(at) = address.iter().position(|b| !in_address(*b)) {
            return Err((at, FaultCode::BadAddress));
        }
        let host = scheme(address).ok_or((0, FaultCode::BadAddress))?;
        let end = address.iter().position(|b| *b == b'#').unwrap_or(address.len());
        let address = &address[..end];
        let mark = address.iter().position(|b| *b == b'?').unwrap_or(end);
        let slash = address[host..mark].iter().position(|b| *b == b'/').map(|at| at + host);
        let slash = slash.ok_or((mark, FaultCode::NoPrimaryKey))?;
        let host_fits = address[host..slash]
            .iter()
            .all(|b| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'-' | b':' | b'[' | b']'));
        if host == slash || !host_fits {
            return Err((host, FaultCode::BadAddress));
        }
        let steps = self.steps(address, slash + 1, mark)?;
        Ok((steps, query(address, mark)))
    }

    fn steps<'a>(
        &self,
        address: &'a [u8],
        from: usize,
        to: usize,
    ) -> Result<Vec<Pair<'a>>, (usize, FaultCode)> {
        let mut parts: Vec<(usize, &[u8])> = Vec::new();
        let mut at = from;
        for part in address[from..to].split(|b| *b == b'/') {
            parts.push((at, part));
            at += part.len() + 1;
        }
        // From the end: pairs until one of them is a key.
        let mut steps = Vec::new();
        for pair in parts.rchunks_exact(2) {
            let ((place, key), (_, value)) = (pair[0], pair[1]);
            let ai = self.named(key).ok_or((place, FaultCode::NoPrimaryKey))?;
            steps.push((key, value, place));
            if ai.is_some_and(|ai| ai.qualifiers.is_some()) {
                steps.reverse();
                self.qualifiers(&steps)?;
                return Ok(steps);
            }
        }
        Err((from, FaultCode::NoPrimaryKey))
    }

    /// The identifier of a step: none if it is digits that no table knows,
    /// nothing at all if it is neither a number nor a known word.
    fn named(&self, key: &[u8]) -> Option<Option<&Ai>> {
        let word = WORDS.iter().find(|(word, _)| *word == key).map(|(_, ai)| *ai);
        let number = word.unwrap_or(key);
        let digits = (2..=4).contains(&number.len()) && number.iter().all(u8::is_ascii_digit);
        digits.then(|| self.table.exactly(number).map(|(_, ai)| ai))
    }

    /// The steps after the key must be a sequence of its qualifiers, in order.
    fn qualifiers(&self, steps: &[Pair<'_>]) -> Result<(), (usize, FaultCode)> {
        let number = |key| self.named(key).flatten().map(|ai| ai.number);
        let key = self.named(steps[0].0).flatten().and_then(|ai| ai.qualifiers.as_ref());
        let fits = |sequence: &Vec<Number>| {
            let mut left = sequence.iter();
            steps[1..].iter().all(|(step, _, _)| {
                number(step).is_some_and(|n| left.by_ref().any(|q| q.stands_for(n)))
            })
        };
        match key {
            Some(sequences) if steps.len() == 1 || sequences.iter().any(fits) => Ok(()),
            _ => Err((steps[steps.len() - 1].2, FaultCode::BadQualifier)),
        }
    }

    fn attribute(
        &self,
        parsed: &mut Parsed<'static>,
        path: &[Pair<'_>],
        pair: Pair<'_>,
        base: usize,
    ) {
        if !is_number(pair.0) {
            return; // Not GS1's: ignored, as the standard says.
        }
        if let Some((_, ai)) = self.table.exactly(pair.0)
            && (!ai.attribute && !self.qualifies(path, ai) || self.belongs_into(path, ai))
        {
            let at = base + pair.2;
            parsed.faults.push(Fault::of(&ai.key, at, FaultCode::NotAnAttribute));
        }
        self.pair(parsed, pair, base, Place::Query);
    }

    /// Whether the identifier is the path's key, or may qualify it beside the
    /// qualifiers that the path already has.
    fn belongs_into(&self, path: &[Pair<'_>], ai: &Ai) -> bool {
        let numbers: Vec<Number> =
            path.iter().filter_map(|step| self.named(step.0).flatten()).map(|k| k.number).collect();
        let Some((key, qualifiers)) = numbers.split_first() else { return false };
        let fits = |sequence: &Vec<Number>| {
            let holds = |n: &Number| sequence.iter().any(|q| q.stands_for(*n));
            holds(&ai.number) && qualifiers.iter().all(holds)
        };
        *key == ai.number || self.sequences(path).is_some_and(|all| all.iter().any(fits))
    }

    /// Whether the identifier qualifies the path's key in some sequence.
    fn qualifies(&self, path: &[Pair<'_>], ai: &Ai) -> bool {
        let all = self.sequences(path);
        all.is_some_and(|all| all.iter().flatten().any(|q| q.stands_for(ai.number)))
    }

    /// The sequences of qualifiers that the path's key takes.
    fn sequences(&self, path: &[Pair<'_>]) -> Option<&Vec<Vec<Number>>> {
        let key = self.named(path.first()?.0).flatten()?;
        key.qualifiers.as_ref()
    }

    fn pair(&self, parsed: &mut Parsed<'static>, pair: Pair<'_>, base: usize, place: Place) {
        let (key, value, at) = pair;
        let number = WORDS.iter().find(|(word, _)| *word == key).map_or(key, |(_, ai)| *ai);
        let Some((index, ai)) = self.table.exactly(number) else {
            let says = format!("({})", String::from_utf8_lossy(key));
            parsed.faults.push(Fault::with(base + at, FaultCode::UnknownAi, says));
            return;
        };
        let mut value = decoded(value, place);
        if matches!(&*ai.key, "01" | "02") && matches!(value.len(), 8 | 12 | 13) {
            value.splice(0..0, std::iter::repeat_n(b'0', 14 - value.len()));
        }
        let start = parsed.data.len();
        parsed.data.to_mut().extend_from_slice(&value);
        self.element(parsed, index, ai, (base + at, start), &value);
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    Path,
    Query,
}

/// Whether the text begins like an address; the scheme is all in one case.
pub(crate) fn is_address(text: &[u8]) -> bool {
    scheme(text).is_some()
}

/// Whether a key of the query is an identifier's number.
fn is_number(key: &[u8]) -> bool {
    !key.is_empty() && key.iter().all(u8::is_ascii_digit)
}

/// Where the host begins.
fn scheme(address: &[u8]) -> Option<usize> {
    [&b"https://"[..], b"http://", b"HTTPS://", b"HTTP://"]
        .iter()
        .find(|scheme| address.starts_with(scheme))
        .map(|scheme| scheme.len())
}

fn query(address: &[u8], mark: usize) -> Vec<Pair<'_>> {
    let mut pairs = Vec::new();
    let mut at = mark + 1;
    for piece in address.get(at..).unwrap_or_default().split(|b| matches!(b, b'&' | b';')) {
        if let Some(equals) = piece.iter().position(|b| *b == b'=') {
            pairs.push((&piece[..equals], &piece[equals + 1..], at));
        }
        at += piece.len() + 1;
    }
    pairs
}

/// Characters of RFC 3986, and the percent sign.
fn in_address(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || b"-._~:/?#[]@!$&'()*+,;=%".contains(&byte)
}

/// Percent sequences undone; a plus is a space in the query only.
fn decoded(value: &[u8], place: Place) -> Vec<u8> {
    let mut out = Vec::with_capacity(value.len());
    let mut at = 0;
    while let Some(byte) = value.get(at) {
        let hex = value.get(at + 1..at + 3).filter(|h| h.iter().all(u8::is_ascii_hexdigit));
        let hex = hex.and_then(|h| std::str::from_utf8(h).ok());
        let escaped = hex.and_then(|h| u8::from_str_radix(h, 16).ok());
        match (byte, escaped) {
            (b'%', Some(code)) => {
                out.push(code);
                at += 2;
            }
            (b'+', _) if place == Place::Query => out.push(b' '),
            _ => out.push(*byte),
        }
        at += 1;
    }
    out
}
