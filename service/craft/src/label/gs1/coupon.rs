//! The two North American coupon codes, AI (8110) and (8112).
//!
//! They stand on no needle packet; they are here because the table of
//! application identifiers is whole. Fields are read from the left, each with
//! its length in front (GS1 US, "North American Coupon Application Guideline
//! Using GS1 DataBar Expanded Symbols"; "GS1 AI (8112) Coupon Data").

use super::lint::{Flaw, is_day};
use crate::label::faults::FaultCode::{self, *};

/// What is left of the digits.
struct Rest<'a> {
    all: &'a [u8],
    at: usize,
}

impl<'a> Rest<'a> {
    fn new(all: &'a [u8]) -> Result<Self, Flaw> {
        match all.iter().position(|b| !b.is_ascii_digit()) {
            Some(at) => Err((at, NonDigit)),
            None => Ok(Self { all, at: 0 }),
        }
    }

    fn done(&self) -> bool {
        self.all.len() <= self.at
    }

    /// One digit out of a set.
    fn one(&mut self, of: &[u8], missing: FaultCode, invalid: FaultCode) -> Result<u8, Flaw> {
        let digit = *self.all.get(self.at).ok_or((self.at, missing))?;
        if !of.contains(&digit) {
            return Err((self.at, invalid));
        }
        self.at += 1;
        Ok(digit - b'0')
    }

    fn take(&mut self, count: usize, cut: FaultCode) -> Result<&'a [u8], Flaw> {
        let taken = self.all.get(self.at..self.at + count).ok_or((self.at, cut))?;
        self.at += count;
        Ok(taken)
    }

    /// A field whose length stands before it, in digits more than `base`.
    fn sized(&mut self, of: &[u8], base: usize, codes: [FaultCode; 3]) -> Result<(), Flaw> {
        let length = self.one(of, codes[0], codes[1])?;
        // 9 says that the field is absent.
        if length == 9 && of.len() != 10 {
            return Ok(());
        }
        self.take(usize::from(length) + base, codes[2]).map(|_| ())
    }

    /// Requirement, its code, its family.
    fn purchase(&mut self, codes: [FaultCode; 6]) -> Result<(), Flaw> {
        self.sized(b"12345", 0, [codes[0], codes[1], codes[2]])?;
        self.one(b"012349", codes[3], codes[4])?;
        self.take(3, codes[5]).map(|_| ())
    }

    fn date(&mut self, short: FaultCode, invalid: FaultCode) -> Result<&'a [u8], Flaw> {
        let at = self.at;
        let date = self.take(6, short)?;
        if is_day(date) { Ok(date) } else { Err((at, invalid)) }
    }
}

/// AI (8112), positive offer file.
pub(super) fn positive_offer(v: &[u8]) -> Result<(), Flaw> {
    let mut rest = Rest::new(v)?;
    rest.one(b"01", CouponFormatMissing, CouponFormat)?;
    rest.sized(b"0123456", 6, [CouponFunderVliMissing, CouponFunderLength, CouponFunderCut])?;
    rest.take(6, CouponOfferCut)?;
    rest.sized(b"0123456789", 6, [CouponSerialVliMissing, NonDigit, CouponSerialCut])?;
    if rest.done() { Ok(()) } else { Err((rest.at, CouponExcess)) }
}

/// AI (8110).
pub(super) fn code(v: &[u8]) -> Result<(), Flaw> {
    let mut rest = Rest::new(v)?;
    rest.sized(b"0123456", 6, [CouponGcpVliMissing, CouponGcpLength, CouponGcpCut])?;
    rest.take(6, CouponOfferCut)?;
    rest.sized(b"12345", 0, [CouponSaveVliMissing, CouponSaveLength, CouponSaveCut])?;
    rest.purchase([
        CouponReq1VliMissing,
        CouponReq1Length,
        CouponReq1Cut,
        CouponReq1CodeMissing,
        CouponReq1Code,
        CouponFamily1Cut,
    ])?;
    let mut expiry = None;
    let mut last = 0;
    while let Some(field) = rest.all.get(rest.at).copied() {
        // The optional fields come in rising order, each at most once.
        if field <= last {
            return Err((rest.at, CouponExcess));
        }
        last = field;
        optional(&mut rest, field, &mut expiry)?;
    }
    Ok(())
}

fn optional<'a>(rest: &mut Rest<'a>, field: u8, expiry: &mut Option<&'a [u8]>) -> Result<(), Flaw> {
    let start = rest.at;
    rest.at += 1;
    match field {
        b'1' => second(rest),
        b'2' => third(rest),
        b'3' => {
            *expiry = Some(rest.date(CouponExpiryShort, CouponExpiry)?);
            Ok(())
        }
        b'4' => {
            let begins = rest.date(CouponStartShort, CouponStart)?;
            match expiry {
                Some(ends) if *ends < begins => Err((start + 1, CouponOrder)),
                _ => Ok(()),
            }
        }
        b'5' => rest.sized(b"0123456789", 6, [CouponSerialVliMissing, NonDigit, CouponSerialCut]),
        b'6' => rest.sized(
            b"1234567",
            6,
            [CouponRetailerVliMissing, CouponRetailerLength, CouponRetailerCut],
        ),
        b'9' => flags(rest),
        _ => Err((start, CouponExcess)),
    }
}

fn second(rest: &mut Rest<'_>) -> Result<(), Flaw> {
    rest.one(b"0123", CouponRulesMissing, CouponRules)?;
    rest.purchase([
        CouponReq2VliMissing,
        CouponReq2Length,
        CouponReq2Cut,
        CouponReq2CodeMissing,
        CouponReq2Code,
        CouponFamily2Cut,
    ])?;
    rest.sized(b"01234569", 6, [CouponGcp2VliMissing, CouponGcp2Length, CouponGcp2Cut])
}

fn third(rest: &mut Rest<'_>) -> Result<(), Flaw> {
    rest.purchase([
        CouponReq3VliMissing,
        CouponReq3Length,
        CouponReq3Cut,
        CouponReq3CodeMissing,
        CouponReq3Code,
        CouponFamily3Cut,
    ])?;
    rest.sized(b"01234569", 6, [CouponGcp3VliMissing, CouponGcp3Length, CouponGcp3Cut])
}

fn flags(rest: &mut Rest<'_>) -> Result<(), Flaw> {
    rest.one(b"01256", CouponSaveCodeMissing, CouponSaveCode)?;
    rest.one(b"012", CouponItemMissing, CouponItem)?;
    rest.one(b"0123456789", CouponStoreMissing, NonDigit)?;
    rest.one(b"01", CouponMultiplyMissing, CouponMultiply).map(|_| ())
}
