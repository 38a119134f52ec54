//! HIBC supplier labelling (ANSI/HIBC 2.6): primary, secondary, combined.
//!
//! ```text
//! complete  = "+" primary check / "+" secondary link check
//!           / "+" primary "/" secondary *( "/" supplement ) check
//! primary   = lic 1*18pcn um            ; lic: a letter, then 3 letters or digits
//! secondary = yyjjj [ lot ] / "$" lot / "$+" serial / "$$" [ "+" ] [ qty ] dated
//! qty       = "8" 2DIGIT / "9" 5DIGIT
//! dated     = mmyy [ id ] / "2" mmddyy [ id ] / "3" yymmdd [ id ] / "4" yymmddhh [ id ]
//!           / "5" yyjjj [ id ] / "6" yyjjjhh [ id ] / "7" id / [ id ] ; last only after qty
//! supplement = "S" serial / "16D" yyyymmdd / "14D" yyyymmdd / "Q" 1*5DIGIT ; Q last
//! ```
//!
//! `check` makes the sum of all values before it, modulo 43, come out right.
//! It may be a space, which print shows as `_`, so nothing is ever trimmed.
//! `link` repeats the check of the primary symbol. Two-digit years follow the
//! sliding century of GS1, for which HIBC has no rule of its own.

mod secondary;

use jiff::civil::Date;

use crate::label::faults::{Fault, FaultCode};

/// Values of the check are positions in this list.
const CHARACTERS: &[u8; 43] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ-. $/+%";

/// A date of a symbol, as precise as it was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct SymbolDate {
    /// The day; the month's last if only a month was given.
    pub(crate) date: Date,
    /// Whether only the month was given.
    pub(crate) month_only: bool,
}

/// What HIBC data said.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Hibc {
    /// Parts in their order: key, value as written, date if it is one.
    pub(crate) parts: Vec<(&'static str, String, Option<SymbolDate>)>,
    /// What is wrong; positions in bytes of the data as sent.
    pub(crate) faults: Vec<Fault>,
}

impl Hibc {
    /// The first part of this key.
    pub(crate) fn get(&self, key: &str) -> Option<(&str, Option<SymbolDate>)> {
        self.parts.iter().find(|p| p.0 == key).map(|p| (p.1.as_str(), p.2))
    }

    fn push(&mut self, key: &'static str, value: &[u8]) {
        self.parts.push((key, String::from_utf8_lossy(value).into_owned(), None));
    }

    fn push_date(&mut self, key: &'static str, value: &[u8], date: SymbolDate) {
        self.parts.push((key, String::from_utf8_lossy(value).into_owned(), Some(date)));
    }
}

/// Reads HIBC data: one symbol, or the symbols of one pack one after another.
pub(crate) fn read(data: &[u8], base: usize, as_of: Date) -> Hibc {
    let (data, base) = match data {
        [b'*', inner @ .., b'*'] => (inner, base + 1),
        _ => (data, base),
    };
    let data: Vec<u8> = data.iter().map(|b| if *b == b'_' { b' ' } else { *b }).collect();
    let mut hibc = Hibc::default();
    if let Some(fault) = refuse(&data, base) {
        hibc.faults.push(fault);
        return hibc;
    }
    // One symbol, or a split at a plus where every piece is whole.
    let mut first = Hibc::default();
    match whole(&data, as_of, None, &mut first) {
        Ok(_) => return first,
        Err(flaw) => {
            if series(&data, as_of, None, &mut hibc) {
                return hibc;
            }
            hibc = Hibc { faults: vec![Fault::new(base + flaw.0, flaw.1)], ..first };
        }
    }
    hibc
}

/// What must not be read at all.
fn refuse(data: &[u8], base: usize) -> Option<Fault> {
    let foreign = |b: &u8| !CHARACTERS.contains(b) && !matches!(b, b'\n' | b'\r');
    if data.starts_with(b"+/") {
        return Some(Fault::new(base + 1, FaultCode::HibcProvider));
    }
    if let Some(at) = data.iter().position(u8::is_ascii_lowercase) {
        return Some(Fault::new(base + at, FaultCode::HibcLowerCase));
    }
    data.iter().position(foreign).map(|at| Fault::new(base + at, FaultCode::HibcCharacter))
}

/// A position and what is wrong there.
type Flaw = (usize, FaultCode);

/// Whether the data is whole symbols, one after another.
fn series(data: &[u8], as_of: Date, link: Option<u8>, into: &mut Hibc) -> bool {
    for at in 1..data.len() {
        if data[at] != b'+' {
            continue;
        }
        let piece = data[..at].strip_suffix(b"\r\n").or_else(|| data[..at].strip_suffix(b"\n"));
        let mut one = Hibc::default();
        let Ok(check) = whole(piece.unwrap_or(&data[..at]), as_of, link, &mut one) else {
            continue;
        };
        let known = into.parts.len();
        let link = Some(link.unwrap_or(check));
        into.parts.append(&mut one.parts);
        let rest = &data[at..];
        let mut last = Hibc::default();
        if whole(rest, as_of, link, &mut last).is_ok() {
            into.parts.append(&mut last.parts);
            return true;
        }
        if series(rest, as_of, link, into) {
            return true;
        }
        into.parts.truncate(known);
    }
    false
}

/// One whole symbol; its check character. `link` is the check of the primary
/// symbol before it, if there was one.
fn whole(data: &[u8], as_of: Date, link: Option<u8>, into: &mut Hibc) -> Result<u8, Flaw> {
    let [b'+', body @ .., check] = data else { return Err((0, FaultCode::HibcStructure)) };
    if !check_fits(data) {
        return Err((data.len() - 1, FaultCode::HibcCheck));
    }
    match body.first() {
        Some(b'A'..=b'Z') if link.is_none() => combined(body, as_of, into)?,
        Some(b'0'..=b'9' | b'$' | b'S') => linked(body, as_of, link, into)?,
        _ => return Err((1, FaultCode::HibcStructure)),
    }
    into.push("check", &[*check]);
    Ok(*check)
}

/// Primary, and what is joined to it with slashes.
fn combined(body: &[u8], as_of: Date, into: &mut Hibc) -> Result<(), Flaw> {
    let mut parts = body.split(|b| *b == b'/');
    let primary = parts.next().unwrap_or_default();
    secondary::primary(primary, into)?;
    let mut at = 2 + primary.len();
    let mut last = false;
    for (i, part) in parts.enumerate() {
        if last {
            return Err((at, FaultCode::HibcStructure));
        }
        if i == 0 {
            secondary::secondary(part, as_of, into).map_err(|(o, c)| (at + o, c))?;
        } else {
            secondary::supplement(part, into).map_err(|(o, c)| (at + o, c))?;
            last = part.starts_with(b"Q");
        }
        at += part.len() + 1;
    }
    Ok(())
}

/// A secondary symbol of its own: the character before the check is the link.
fn linked(body: &[u8], as_of: Date, link: Option<u8>, into: &mut Hibc) -> Result<(), Flaw> {
    let Some((own, data)) = body.split_last() else { return Err((1, FaultCode::HibcStructure)) };
    if link.is_some_and(|link| link != *own) {
        return Err((body.len(), FaultCode::HibcLink));
    }
    let read = match data.first() {
        Some(b'S') if link.is_some() => secondary::supplement(data, into),
        _ => secondary::secondary(data, as_of, into),
    };
    read.map_err(|(o, c)| (1 + o, c))?;
    into.push("link", &[*own]);
    Ok(())
}

/// Whether the last character checks the others.
fn check_fits(data: &[u8]) -> bool {
    let value = |b: &u8| CHARACTERS.iter().position(|c| c == b);
    let Some((check, rest)) = data.split_last() else { return false };
    let sum: Option<usize> = rest.iter().map(value).sum();
    sum.is_some_and(|sum| value(check) == Some(sum % 43))
}
