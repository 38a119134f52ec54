//! The parts of HIBC data: primary, secondary, supplements.

use jiff::civil::Date;

use super::{Flaw, Hibc, SymbolDate};
use crate::label::dates::{century, last_of_month};
use crate::label::faults::FaultCode;

/// Longest lot, serial or product number.
const LONGEST: usize = 18;

/// Labeler, product, unit of measure.
pub(super) fn primary(part: &[u8], into: &mut Hibc) -> Result<(), Flaw> {
    let wrong = |at: usize| (1 + at, FaultCode::HibcStructure);
    let alphanumeric = |b: &u8| b.is_ascii_uppercase() || b.is_ascii_digit();
    if let Some(at) = part.iter().position(|b| !alphanumeric(b)) {
        return Err(wrong(at));
    }
    let Some((lic, rest)) = part.split_at_checked(4) else { return Err(wrong(part.len())) };
    let Some((um, pcn)) = rest.split_last() else { return Err(wrong(part.len())) };
    if !um.is_ascii_digit() || pcn.is_empty() || LONGEST < pcn.len() {
        return Err(wrong(part.len() - 1));
    }
    into.push("lic", lic);
    into.push("pcn", pcn);
    into.push("um", &[*um]);
    Ok(())
}

/// Date, quantity, and lot or serial.
pub(super) fn secondary(part: &[u8], as_of: Date, into: &mut Hibc) -> Result<(), Flaw> {
    let structure = (0, FaultCode::HibcStructure);
    match part {
        [b'$', b'$', b'+', rest @ ..] => dated(rest, 3, "serial", as_of, into),
        [b'$', b'$', rest @ ..] => dated(rest, 2, "lot", as_of, into),
        [b'$', b'+', id @ ..] => required(id, 2, "serial", into),
        [b'$', id @ ..] => required(id, 1, "lot", into),
        [b'0'..=b'9', ..] => {
            let (date, id) = part.split_at_checked(5).ok_or(structure)?;
            into.push_date("expiry", date, julian(date, as_of)?);
            identity(id, 5, "lot", into)
        }
        _ => Err(structure),
    }
}

/// What follows `$$`.
fn dated(
    rest: &[u8],
    at: usize,
    key: &'static str,
    as_of: Date,
    into: &mut Hibc,
) -> Result<(), Flaw> {
    let quantity = match rest.first() {
        Some(b'8') => 2,
        Some(b'9') => 5,
        _ => return date_then(rest, at, key, as_of, into),
    };
    let structure = (at, FaultCode::HibcStructure);
    let digits = rest.get(1..=quantity).ok_or(structure)?;
    if !digits.iter().all(u8::is_ascii_digit) {
        return Err(structure);
    }
    into.push("quantity", digits);
    let (rest, at) = (&rest[quantity + 1..], at + quantity + 1);
    match rest.first() {
        Some(b'0'..=b'7') => date_then(rest, at, key, as_of, into),
        _ => identity(rest, at, key, into),
    }
}

/// A date form with its flag, then the lot or serial.
fn date_then(
    rest: &[u8],
    at: usize,
    key: &'static str,
    as_of: Date,
    into: &mut Hibc,
) -> Result<(), Flaw> {
    // With 0 and 1 the flag is itself the first digit of the month.
    let (flag, len) = match rest.first() {
        Some(b'0' | b'1') => (0, 4),
        Some(b'2' | b'3') => (1, 6),
        Some(b'4') => (1, 8),
        Some(b'5') => (1, 5),
        Some(b'6') => (1, 7),
        Some(b'7') => return required(&rest[1..], at + 1, key, into),
        _ => return Err((at, FaultCode::HibcStructure)),
    };
    let digits = rest.get(flag..flag + len).ok_or((at, FaultCode::HibcStructure))?;
    let date = match rest[0] {
        b'2' => ymd(&[digits[4], digits[5], digits[0], digits[1], digits[2], digits[3]], as_of),
        b'3' | b'4' => ymd(digits, as_of),
        b'5' | b'6' => julian(digits, as_of),
        _ => month(digits, as_of),
    };
    let hour_fits = match rest[0] {
        b'4' => two(digits, 6).is_some_and(|h| h < 24),
        b'6' => two(digits, 5).is_some_and(|h| h < 24),
        _ => true,
    };
    let date = date.map_err(|(_, code)| (at, code))?;
    if !hour_fits {
        return Err((at, FaultCode::HibcDate));
    }
    into.push_date("expiry", digits, date);
    identity(&rest[flag + len..], at + flag + len, key, into)
}

/// `S` serial, `16D` made, `14D` expiry, `Q` quantity.
pub(super) fn supplement(part: &[u8], into: &mut Hibc) -> Result<(), Flaw> {
    match part {
        [b'S', id @ ..] => required(id, 1, "serial", into),
        [b'1', b'6', b'D', date @ ..] => full(date).map(|d| into.push_date("made", date, d)),
        [b'1', b'4', b'D', date @ ..] => full(date).map(|d| into.push_date("expiry", date, d)),
        [b'Q', digits @ ..]
            if (1..=5).contains(&digits.len()) && digits.iter().all(u8::is_ascii_digit) =>
        {
            into.push("quantity", digits);
            Ok(())
        }
        _ => Err((0, FaultCode::HibcStructure)),
    }
}

fn required(id: &[u8], at: usize, key: &'static str, into: &mut Hibc) -> Result<(), Flaw> {
    if id.is_empty() {
        return Err((at, FaultCode::HibcStructure));
    }
    identity(id, at, key, into)
}

/// A lot or serial, which may be absent.
fn identity(id: &[u8], at: usize, key: &'static str, into: &mut Hibc) -> Result<(), Flaw> {
    let allowed =
        |b: &u8| b.is_ascii_uppercase() || b.is_ascii_digit() || matches!(b, b'-' | b'.' | b' ');
    if LONGEST < id.len() {
        return Err((at + LONGEST, FaultCode::HibcStructure));
    }
    if let Some(wrong) = id.iter().position(|b| !allowed(b)) {
        return Err((at + wrong, FaultCode::HibcCharacter));
    }
    if !id.is_empty() {
        into.push(key, id);
    }
    Ok(())
}

fn two(digits: &[u8], at: usize) -> Option<i16> {
    match digits.get(at..at + 2)? {
        [a, b] if a.is_ascii_digit() && b.is_ascii_digit() => {
            Some(i16::from(a - b'0') * 10 + i16::from(b - b'0'))
        }
        _ => None,
    }
}

const NO_DATE: Flaw = (0, FaultCode::HibcDate);

fn day(year: i16, month: i16, day: i16) -> Result<SymbolDate, Flaw> {
    let month = i8::try_from(month).map_err(|_| NO_DATE)?;
    let day = i8::try_from(day).map_err(|_| NO_DATE)?;
    let date = Date::new(year, month, day).map_err(|_| NO_DATE)?;
    Ok(SymbolDate { date, month_only: false })
}

fn ymd(digits: &[u8], as_of: Date) -> Result<SymbolDate, Flaw> {
    let parts = (two(digits, 0), two(digits, 2), two(digits, 4));
    let (Some(y), Some(m), Some(d)) = parts else { return Err(NO_DATE) };
    day(century(y, as_of), m, d)
}

/// Year and day of the year.
fn julian(digits: &[u8], as_of: Date) -> Result<SymbolDate, Flaw> {
    let hundreds = digits.get(2).filter(|b| b.is_ascii_digit()).ok_or(NO_DATE)?;
    let (Some(y), Some(rest)) = (two(digits, 0), two(digits, 3)) else { return Err(NO_DATE) };
    let of_year = i16::from(hundreds - b'0') * 100 + rest;
    let first = Date::new(century(y, as_of), 1, 1).map_err(|_| NO_DATE)?;
    if of_year < 1 || first.days_in_year() < of_year {
        return Err(NO_DATE);
    }
    let date = jiff::Span::new().try_days(of_year - 1).and_then(|days| first.checked_add(days));
    Ok(SymbolDate { date: date.map_err(|_| NO_DATE)?, month_only: false })
}

/// Month and year; the day is not told, so the month's last.
fn month(digits: &[u8], as_of: Date) -> Result<SymbolDate, Flaw> {
    let (Some(m), Some(y)) = (two(digits, 0), two(digits, 2)) else { return Err(NO_DATE) };
    let first = day(century(y, as_of), m, 1)?;
    Ok(SymbolDate { date: last_of_month(first.date), month_only: true })
}

/// Eight digits, year first.
fn full(digits: &[u8]) -> Result<SymbolDate, Flaw> {
    if digits.len() != 8 {
        return Err((3, FaultCode::HibcStructure));
    }
    let parts = (two(digits, 0), two(digits, 2), two(digits, 4), two(digits, 6));
    let (Some(c), Some(y), Some(m), Some(d)) = parts else { return Err(NO_DATE) };
    day(c * 100 + y, m, d)
}
