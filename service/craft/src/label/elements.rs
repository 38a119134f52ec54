//! What the elements of a symbol say of the packet.

use jiff::civil::Date;

use super::dates::century;
use super::gs1::{self, Gs1, Parsed, Role};
use super::reading::{DateSaid, Origin, Packet, Precision, Said};
use super::tables::Swallowed;

/// What a value seems to have swallowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct SwallowedDate {
    pub(crate) field: &'static str,
    /// The value as it stands.
    pub(crate) whole: String,
    /// The value without what it swallowed.
    pub(crate) own: String,
    /// The expiry inside it.
    pub(crate) date: Date,
}

/// The day that a sound date stands for.
#[expect(clippy::wildcard_enum_match_arm, reason = "only sound dates say a day")]
pub(super) fn day_of(
    role: Role,
    value: &[u8],
    sound: bool,
    as_of: Date,
) -> Option<(Date, Precision)> {
    match role {
        Role::Expires | Role::BestBefore | Role::Made | Role::Packed if sound => {
            element_date(value, as_of)
        }
        _ => None,
    }
}

/// YYMMDD; day 00 is the month's last.
fn element_date(value: &[u8], as_of: Date) -> Option<(Date, Precision)> {
    let six = value.get(..6).filter(|v| gs1::is_date(v))?;
    let two = |at: usize| i16::from(six[at] - b'0') * 10 + i16::from(six[at + 1] - b'0');
    let (year, month, day) = (century(two(0), as_of), i8::try_from(two(2)).ok()?, two(4));
    if day == 0 {
        return Some((Date::new(year, month, 1).ok()?.last_of_month(), Precision::Month));
    }
    Some((Date::new(year, month, i8::try_from(day).ok()?).ok()?, Precision::Day))
}

/// The packet's fields out of sound elements.
pub(crate) fn fields_of_elements(
    gs1: &Gs1,
    parsed: &Parsed<'_>,
    as_of: Date,
    from: Origin,
) -> Packet {
    let mut packet = Packet::default();
    for element in parsed.elements.iter().filter(|e| e.sound) {
        let value = parsed.value(element);
        let text = || Said { value: String::from_utf8_lossy(value).into_owned(), from };
        let date = || {
            let (date, precision) = element_date(value, as_of)?;
            Some(DateSaid::sure(date, precision, from))
        };
        match gs1.table.get(element.ai).role {
            Role::Gtin => packet.gtin = packet.gtin.or_else(|| Some(text())),
            Role::Lot => packet.lot = packet.lot.or_else(|| Some(text())),
            Role::Serial => packet.serial = packet.serial.or_else(|| Some(text())),
            Role::Reference => packet.reference = packet.reference.or_else(|| Some(text())),
            Role::Expires | Role::ExpiresTime | Role::BestBefore => {
                packet.expires_on = earlier(packet.expires_on, date());
            }
            Role::Made | Role::MadeTime => {
                let first = |mut made: DateSaid| {
                    if made.precision == Precision::Month {
                        made.date = made.date.first_of_month();
                    }
                    made
                };
                packet.made_on = packet.made_on.or_else(|| date().map(first));
            }
            Role::Quantity => {
                let number = std::str::from_utf8(value).ok().and_then(|t| t.parse().ok());
                packet.quantity = packet.quantity.or(number.map(|value| Said { value, from }));
            }
            Role::None
            | Role::ContentGtin
            | Role::Packed
            | Role::ContentCount
            | Role::CustomerPart => {}
        }
    }
    packet
}

fn earlier(a: Option<DateSaid>, b: Option<DateSaid>) -> Option<DateSaid> {
    match (a, b) {
        (Some(a), Some(b)) => Some(if b.date < a.date { b } else { a }),
        (a, b) => a.or(b),
    }
}

/// A lot or serial that ends in `17` and a near date, while no other (17)
/// says something else: the separator before it was probably lost.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "three of many roles are free text that can swallow a date"
)]
pub(super) fn swallowed(
    gs1: &Gs1,
    parsed: &Parsed<'_>,
    rule: &Swallowed,
    as_of: Date,
) -> Option<SwallowedDate> {
    parsed.elements.iter().find_map(|element| {
        let field = match gs1.table.get(element.ai).role {
            Role::Lot => "lot",
            Role::Serial => "serial",
            Role::Reference => "reference",
            _ => return None,
        };
        let value = parsed.value(element);
        let split = value.len().checked_sub(8).filter(|at| 0 < *at)?;
        let (own, tail) = value.split_at(split);
        let digits = tail.strip_prefix(b"17")?;
        let (date, _) = element_date(digits, as_of)?;
        let near = (as_of.year() - rule.years_back..=as_of.year() + rule.years_ahead)
            .contains(&date.year());
        let other = parsed
            .elements
            .iter()
            .any(|e| gs1.table.get(e.ai).role == Role::Expires && parsed.value(e) != digits);
        let text = |v: &[u8]| String::from_utf8_lossy(v).into_owned();
        (near && !other).then(|| SwallowedDate { field, whole: text(value), own: text(own), date })
    })
}
