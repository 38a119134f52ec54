//! A number as written, and what it may be a number of.

use super::lexicon::Thousandths;

/// A unit behind a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Unit {
    Millimetre,
    Micrometre,
    Gauge,
    Inch,
    /// A thousandth of an inch.
    Thousandth,
}

/// A number as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Num {
    /// The digits before the point as a number; at most eight count.
    pub(crate) value: u32,
    /// How many digits stand before the point.
    pub(crate) digits: u8,
    /// The digits behind the point as a number.
    pub(crate) fraction: u32,
    /// How many digits stand behind the point; none if there is no point.
    pub(crate) decimals: u8,
    pub(crate) hash: bool,
    pub(crate) diameter_sign: bool,
    pub(crate) unit: Option<Unit>,
}

impl Num {
    /// The value as written, in ten-thousandths of its unit; zeros at the end
    /// say nothing.
    fn ten_thousandths(self) -> Option<u32> {
        let (mut fraction, mut decimals) = (self.fraction, self.decimals);
        while 4 < decimals && fraction.is_multiple_of(10) {
            fraction /= 10;
            decimals -= 1;
        }
        let scale = [10_000, 1000, 100, 10, 1].get(usize::from(decimals))?;
        self.value.checked_mul(10_000)?.checked_add(fraction.checked_mul(*scale)?)
    }

    /// The value as written in millimetres, in thousandths.
    pub(crate) fn millimetres(self) -> Option<Thousandths> {
        let value = match self.unit {
            Some(Unit::Micrometre) if self.decimals == 0 => self.value,
            None | Some(Unit::Millimetre) => {
                let n = self.ten_thousandths()?;
                n.is_multiple_of(10).then_some(n / 10)?
            }
            Some(Unit::Micrometre | Unit::Gauge | Unit::Inch | Unit::Thousandth) => return None,
        };
        u16::try_from(value).ok()
    }

    /// The value as written in inches, in ten-thousandths.
    pub(crate) fn inches(self) -> Option<u32> {
        match self.unit {
            Some(Unit::Thousandth) => Some(self.ten_thousandths()? / 1000),
            None | Some(Unit::Inch) => self.ten_thousandths(),
            Some(Unit::Millimetre | Unit::Micrometre | Unit::Gauge) => None,
        }
    }

    /// Decimals that say something: without the zeros at the end.
    pub(crate) fn told_decimals(self) -> u8 {
        let (mut fraction, mut decimals) = (self.fraction, self.decimals);
        while 0 < decimals && fraction.is_multiple_of(10) {
            fraction /= 10;
            decimals -= 1;
        }
        decimals
    }

    /// Whether it is written as a diameter: decimals, unit or sign.
    pub(crate) fn is_literal(self) -> bool {
        let of_length = self.unit.is_some_and(|unit| unit != Unit::Gauge);
        0 < self.decimals || self.diameter_sign || of_length
    }

    /// Whether it is a length in millimetres that only a shaft can have.
    pub(crate) fn is_shaft(self, least: u32) -> bool {
        let long = self.ten_thousandths().is_none_or(|n| least <= n / 10);
        self.unit == Some(Unit::Millimetre) && !self.diameter_sign && long
    }

    /// Whether it can be nothing but a diameter.
    pub(crate) fn is_written(self) -> bool {
        self.is_literal() || self.hash || self.unit.is_some()
    }

    /// One or two plain digits.
    pub(crate) fn small(self) -> Option<u8> {
        let plain = self.digits <= 2 && !self.is_literal() && self.unit.is_none();
        plain.then(|| u8::try_from(self.value).ok()).flatten()
    }
}

pub(super) fn run(text: &[u8]) -> usize {
    text.iter().take_while(|b| b.is_ascii_digit()).count()
}

pub(super) fn value(digits: &[u8]) -> u32 {
    digits.iter().take(8).fold(0, |n, b| n * 10 + u32::from(b - b'0'))
}

/// How many decimals a row of digits has; so many that nothing fits if more
/// than eight of them say something.
pub(super) fn told(digits: &[u8]) -> usize {
    let zeros = digits.iter().rev().take_while(|b| **b == b'0').count();
    match (digits.len(), digits.len() - zeros) {
        (all, _) if all <= 8 => all,
        (_, told) if told <= 8 => 8,
        (all, _) => all,
    }
}
