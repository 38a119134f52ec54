//! The checks of one part of an element's value.
//!
//! Each check is named as in the GS1 Barcode Syntax Dictionary. Formulas:
//! check digit `(10 − Σ wᵢdᵢ mod 10) mod 10` with weights 3,1,3… from the
//! right; check pair `Σ pᵢcᵢ mod 1021` over primes from the right, split into
//! two of 32 characters; IBAN as ISO 13616, mod 97.

use super::table::{Part, Set};
use crate::label::code_lists::CodeLists;
use crate::label::faults::FaultCode;

/// A position in the value and what is wrong there.
pub(crate) type Flaw = (usize, FaultCode);

macro_rules! checks {
    ($($variant:ident = $name:literal),+ $(,)?) => {
        /// A named check.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Check { $($variant),+ }

        impl Check {
            /// The check of this name.
            pub(crate) fn named(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$variant),)+ _ => None }
            }
        }
    };
}

checks! {
    Csum = "csum", Key = "key", KeyOff1 = "keyoff1", CsumAlpha = "csumalpha", NonDigit = "hasnondigit",
    YyMmD0 = "yymmd0", YyMmDd = "yymmdd", YyyyMmDd = "yyyymmdd", HhMi = "hhmi", Hh = "hh", Mi = "mi",
    Ss = "ss", Iso3166 = "iso3166", Iso3166Or999 = "iso3166999", Iso3166Alpha2 = "iso3166alpha2",
    Iso4217 = "iso4217", Pcenc = "pcenc", Latitude = "latitude", Longitude = "longitude",
    YesNo = "yesno", Hyphen = "hyphen", ImporterIdx = "importeridx", PackageType = "packagetype",
    MediaType = "mediatype", Iso5218 = "iso5218", PosInSeqSlash = "posinseqslash",
    Nonzero = "nonzero", Winding = "winding", Zero = "zero", PieceOfTotal = "pieceoftotal",
    Iban = "iban", NoZeroPrefix = "nozeroprefix",
}

/// Membership of a byte: bit 0 set 82, bit 1 set 39, bit 2 set 64, bit 3 digit.
static CLASS: [u8; 256] = classes();

const fn classes() -> [u8; 256] {
    let mut table = [0; 256];
    let mut i = 0;
    while i < 128 {
        #[expect(clippy::cast_possible_truncation, reason = "i is below 128")]
        let b = i as u8;
        let alpha = b.is_ascii_alphanumeric();
        let mark = matches!(b, b'!' | b'"' | b'%'..=b'/' | b':'..=b'?' | b'_');
        if alpha || mark {
            table[i] |= 1;
        }
        if b.is_ascii_uppercase() || b.is_ascii_digit() || matches!(b, b'#' | b'-' | b'/') {
            table[i] |= 2;
        }
        if alpha || matches!(b, b'-' | b'_') {
            table[i] |= 4;
        }
        if b.is_ascii_digit() {
            table[i] |= 8;
        }
        i += 1;
    }
    table
}

/// Checks one part's characters, then its own checks.
#[inline]
pub(crate) fn part(part: &Part, value: &[u8], lists: &CodeLists) -> Result<(), Flaw> {
    let (mask, code) = match part.set {
        Set::Digits => (8, FaultCode::NonDigit),
        Set::Cset82 => (1, FaultCode::Cset82),
        Set::Cset39 => (2, FaultCode::Cset39),
        Set::Base64 => return cset64(value),
    };
    if let Some(at) = value.iter().position(|b| CLASS[usize::from(*b)] & mask == 0) {
        return Err((at, code));
    }
    part.checks.iter().try_for_each(|check| run(*check, value, lists))
}

fn run(check: Check, v: &[u8], lists: &CodeLists) -> Result<(), Flaw> {
    match check {
        Check::Csum => need(check_digit_fits(v), v.len().saturating_sub(1), FaultCode::CheckDigit),
        Check::Key => prefix(v, 0),
        Check::KeyOff1 => prefix(v, 1),
        Check::CsumAlpha => check_pair(v),
        Check::NonDigit => need(!v.iter().all(u8::is_ascii_digit), 0, FaultCode::NeedsNonDigit),
        Check::YyMmD0 => date(v, Day0::Allowed),
        Check::YyMmDd => date(v, Day0::Refused),
        Check::YyyyMmDd => full_date(v),
        Check::HhMi => {
            need(two(v, 0) < 24, 0, FaultCode::Hour)?;
            need(two(v, 2) < 60, 2, FaultCode::Minute)
        }
        Check::Hh => need(two(v, 0) < 24, 0, FaultCode::Hour),
        Check::Mi => need(two(v, 0) < 60, 0, FaultCode::Minute),
        Check::Ss => need(two(v, 0) < 60, 0, FaultCode::Second),
        Check::Iso3166 => need(lists.country(v), 0, FaultCode::Country),
        Check::Iso3166Or999 => need(v == b"999" || lists.country(v), 0, FaultCode::CountryOr999),
        Check::Iso3166Alpha2 => need(lists.country_alpha2(v), 0, FaultCode::CountryAlpha2),
        Check::Iso4217 => need(lists.currency(v), 0, FaultCode::Currency),
        Check::Pcenc => percent(v),
        Check::Latitude => need(number(v) <= 1_800_000_000, 0, FaultCode::Latitude),
        Check::Longitude => need(number(v) <= 3_600_000_000, 0, FaultCode::Longitude),
        Check::Iban => iban(v, lists),
        Check::YesNo => need(matches!(v, b"0" | b"1"), 0, FaultCode::NotZeroOrOne),
        Check::Hyphen => need(v.iter().all(|b| *b == b'-'), 0, FaultCode::NotHyphen),
        Check::ImporterIdx => need(v.iter().all(|b| is(*b, 4)), 0, FaultCode::ImporterIndex),
        Check::PackageType => {
            need(v.iter().all(|b| is(*b, 2) && *b != b'#'), 0, FaultCode::PackageType)
        }
        Check::MediaType => need(matches!(two(v, 0), 1..=10 | 80..=99), 0, FaultCode::MediaType),
        Check::Iso5218 => need(matches!(v, b"0" | b"1" | b"2" | b"9"), 0, FaultCode::Sex),
        Check::PosInSeqSlash => sequence(v),
        Check::Nonzero => need(v.iter().any(|b| *b != b'0'), 0, FaultCode::Zero),
        Check::Winding => need(matches!(v, b"0" | b"1" | b"9"), 0, FaultCode::Winding),
        Check::Zero => need(v.iter().all(|b| *b == b'0'), 0, FaultCode::NotZero),
        Check::PieceOfTotal => piece_of_total(v),
        Check::NoZeroPrefix => {
            need(v.len() == 1 || v.first() != Some(&b'0'), 0, FaultCode::ZeroPrefix)
        }
    }
}

fn is(byte: u8, mask: u8) -> bool {
    CLASS[usize::from(byte)] & mask != 0
}

fn piece_of_total(v: &[u8]) -> Result<(), Flaw> {
    let (piece, total) = (two(v, 0), two(v, 2));
    need(piece != 0, 0, FaultCode::PieceZero)?;
    need(total != 0, 2, FaultCode::PieceTotalZero)?;
    need(piece <= total, 0, FaultCode::PieceExceeds)
}

#[inline]
fn need(fits: bool, at: usize, code: FaultCode) -> Result<(), Flaw> {
    if fits { Ok(()) } else { Err((at, code)) }
}

/// Whether the last digit checks the others (GTIN, SSCC, GLN).
#[inline]
pub(crate) fn check_digit_fits(digits: &[u8]) -> bool {
    let mut sum = 0_u32;
    let mut weight = 1;
    for b in digits.iter().rev() {
        sum += weight * u32::from(b.wrapping_sub(b'0'));
        weight = 4 - weight;
    }
    2 <= digits.len() && sum.is_multiple_of(10)
}

fn prefix(v: &[u8], skip: usize) -> Result<(), Flaw> {
    let v = v.get(skip..).unwrap_or_default();
    need(4 <= v.len(), 0, FaultCode::KeyTooShort)?;
    match v[..4].iter().position(|b| !b.is_ascii_digit()) {
        Some(at) => Err((skip + at, FaultCode::KeyPrefix)),
        None => Ok(()),
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Day0 {
    Allowed,
    Refused,
}

#[inline]
fn two(v: &[u8], at: usize) -> u16 {
    match v.get(at..at + 2) {
        Some([a, b]) => u16::from(a.wrapping_sub(b'0')) * 10 + u16::from(b.wrapping_sub(b'0')),
        _ => u16::MAX,
    }
}

fn number(v: &[u8]) -> u64 {
    v.iter().fold(0, |n: u64, b| n.saturating_mul(10).saturating_add(u64::from(b - b'0')))
}

/// The days of a month; the two-digit years of the sliding century that end in
/// 00 are 2000, a leap year, until 2050.
fn days(year: u16, month: u16) -> u16 {
    match month {
        4 | 6 | 9 | 11 => 30,
        2 if year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400)) => {
            29
        }
        2 => 28,
        _ => 31,
    }
}

fn date(v: &[u8], day0: Day0) -> Result<(), Flaw> {
    let (year, month, day) = (2000 + two(v, 0), two(v, 2), two(v, 4));
    need((1..=12).contains(&month), 2, FaultCode::Month)?;
    let first = u16::from(day0 == Day0::Refused);
    need((first..=days(year, month)).contains(&day), 4, FaultCode::Day)
}

fn full_date(v: &[u8]) -> Result<(), Flaw> {
    let (year, month, day) = (two(v, 0) * 100 + two(v, 2), two(v, 4), two(v, 6));
    need((1..=12).contains(&month), 4, FaultCode::Month)?;
    need((1..=days(year, month)).contains(&day), 6, FaultCode::Day)
}

/// Whether six digits are a GS1 date; day 00 stands for the month's last.
pub(crate) fn is_date(v: &[u8]) -> bool {
    v.len() == 6 && v.iter().all(u8::is_ascii_digit) && date(v, Day0::Allowed).is_ok()
}

fn percent(v: &[u8]) -> Result<(), Flaw> {
    let mut at = 0;
    while at < v.len() {
        if v[at] == b'%' {
            let hex = v.get(at + 1..at + 3).is_some_and(|h| h.iter().all(u8::is_ascii_hexdigit));
            need(hex, at, FaultCode::Percent)?;
            at += 2;
        }
        at += 1;
    }
    Ok(())
}

fn sequence(v: &[u8]) -> Result<(), Flaw> {
    let [position, b'/', end] = v else { return Err((0, FaultCode::SequenceMalformed)) };
    need(position.is_ascii_digit() && end.is_ascii_digit(), 0, FaultCode::SequenceMalformed)?;
    need(*position != b'0', 0, FaultCode::ZeroPrefix)?;
    need(*end != b'0', 2, FaultCode::ZeroPrefix)?;
    need(position <= end, 0, FaultCode::SequenceExceeds)
}

/// Base64 for file names: up to two `=` at the end, then whole groups of three.
fn cset64(v: &[u8]) -> Result<(), Flaw> {
    let body = v.iter().rposition(|b| *b != b'=').map_or(0, |at| at + 1);
    if let Some(at) = v[..body].iter().position(|b| CLASS[usize::from(*b)] & 4 == 0) {
        return Err((at, FaultCode::Cset64));
    }
    let pads = v.len() - body;
    need(pads <= 2 && (pads == 0 || v.len().is_multiple_of(3)), body, FaultCode::Cset64Padding)
}

/// Weights of the check pair, from the right.
const PRIMES: [u32; 23] =
    [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83];
const CSET82: &[u8] =
    b"!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz";
const CSET32: &[u8; 32] = b"23456789ABCDEFGHJKLMNPQRSTUVWXYZ";

fn check_pair(v: &[u8]) -> Result<(), Flaw> {
    let split = v.len().checked_sub(2).filter(|at| 0 < *at);
    let Some(split) = split else { return Err((0, FaultCode::CheckPairShort)) };
    let (body, pair) = v.split_at(split);
    if let Some(at) = pair.iter().position(|b| !CSET32.contains(b)) {
        return Err((split + at, FaultCode::Cset32));
    }
    let sum: u32 = body
        .iter()
        .rev()
        .zip(PRIMES)
        .map(|(b, prime)| {
            let value = CSET82.iter().position(|c| c == b).unwrap_or(0);
            prime * u32::try_from(value).unwrap_or(0)
        })
        .sum();
    let sum = usize::try_from(sum % 1021).unwrap_or(0);
    let fits = pair == [CSET32[sum >> 5], CSET32[sum & 31]];
    need(fits, split, FaultCode::CheckPair)
}

fn iban(v: &[u8], lists: &CodeLists) -> Result<(), Flaw> {
    let wrong = |b: &u8| !(b.is_ascii_digit() || b.is_ascii_uppercase());
    if let Some(at) = v.iter().position(wrong) {
        return Err((at, FaultCode::IbanCharacter));
    }
    need(10 < v.len(), 0, FaultCode::IbanShort)?;
    need(lists.country_alpha2(&v[..2]), 0, FaultCode::IbanCountry)?;
    let rest = v[4..].iter().chain(&v[..4]).fold(0_u32, |rest, b| match b {
        b'0'..=b'9' => (rest * 10 + u32::from(b - b'0')) % 97,
        _ => (rest * 100 + u32::from(b - b'A') + 10) % 97,
    });
    need(rest == 1, 2, FaultCode::IbanChecksum)
}
