//! Checked values: days, instants, zones, references.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};
use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::Malformed;

/// A calendar day, written `YYYY-MM-DD` and nothing else.
///
/// ```
/// use etui_schema::vocabulary::CivilDate;
/// let day: CivilDate = "2028-02-29".parse().unwrap();
/// assert_eq!(day.to_string(), "2028-02-29");
/// assert!("2027-02-29".parse::<CivilDate>().is_err());
/// assert!("2028-02-29T10:00".parse::<CivilDate>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CivilDate(pub jiff::civil::Date);

impl fmt::Display for CivilDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for CivilDate {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str = "a calendar day written YYYY-MM-DD";
        let shape = text.len() == 10
            && text.bytes().enumerate().all(|(i, b)| match i {
                4 | 7 => b == b'-',
                _ => b.is_ascii_digit(),
            });
        if !shape {
            return Err(Malformed::new(text, WANTED));
        }
        text.parse().map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(CivilDate, "CivilDate", { "type": "string", "format": "date", "examples": ["2027-03-18"] });

/// A moment, written in RFC 3339 with an offset or `Z`; answered in `Z` and to the
/// millisecond.
///
/// ```
/// use etui_schema::vocabulary::Instant;
/// let at: Instant = "2027-03-18T14:00:00+01:00".parse().unwrap();
/// assert_eq!(at.to_string(), "2027-03-18T13:00:00.000Z");
/// assert!("2027-03-18 14:00".parse::<Instant>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Instant(pub jiff::Timestamp);

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // Always three digits: then the order of the texts is the order in time, and nobody's
        // clock has to hold more.
        write!(f, "{:.3}", self.0)
    }
}

impl FromStr for Instant {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str =
            "an instant of RFC 3339 with `Z` or an offset, such as 2027-03-18T14:00:00+01:00";
        // RFC 3339 section 5.6: date, `T`, time with seconds, offset. jiff
        // reads more than that (spaces, brackets), so the shape is held here.
        let bytes = text.as_bytes();
        let shape = (20..=40).contains(&bytes.len())
            && matches!(bytes[10], b'T' | b't')
            && bytes[13] == b':'
            && bytes[16] == b':'
            && !text.contains('[');
        if !shape {
            return Err(Malformed::new(text, WANTED));
        }
        text.parse().map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(Instant, "Instant", { "type": "string", "format": "date-time", "examples": ["2027-03-18T14:00:00Z"] });

/// The name of an IANA time zone that this build knows.
///
/// ```
/// use etui_schema::vocabulary::Zone;
/// assert!("Europe/Berlin".parse::<Zone>().is_ok());
/// assert!("Europe/Atlantis".parse::<Zone>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Zone(jiff::tz::TimeZone);

impl Zone {
    /// The zone's rules.
    #[must_use]
    pub fn rules(&self) -> &jiff::tz::TimeZone {
        &self.0
    }

    /// The zone's IANA name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.0.iana_name().unwrap_or("UTC")
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Zone {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str = "an IANA time zone such as Europe/Berlin";
        if text.is_empty() || 64 < text.len() || !text.is_ascii() {
            return Err(Malformed::new(text, WANTED));
        }
        jiff::tz::TimeZone::get(text).map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(Zone, "Zone", { "type": "string", "format": "iana-time-zone", "minLength": 1, "maxLength": 64, "examples": ["Europe/Berlin"] });

/// The caller's own name for a client, an artist, a machine or a booking.
///
/// 1 to 64 characters out of `A-Z a-z 0-9 . _ ~ -`, so that it can stand in a
/// path as it is. No name of a person is needed, and none should be used.
///
/// ```
/// use etui_schema::vocabulary::Reference;
/// assert!("client-0042".parse::<Reference>().is_ok());
/// assert!("a b".parse::<Reference>().is_err());
/// assert!("..".parse::<Reference>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Reference(String);

impl Reference {
    /// The reference as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Reference {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        let allowed = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_' | b'~' | b'-');
        if (1..=64).contains(&text.len())
            && text.bytes().all(allowed)
            && text.bytes().any(|b| b.is_ascii_alphanumeric())
        {
            return Ok(Self(text.to_owned()));
        }
        Err(Malformed::new(
            text,
            "a reference of 1 to 64 characters out of A-Z a-z 0-9 . _ ~ - with at least one letter or digit",
        ))
    }
}

textual!(Reference, "Reference", { "type": "string", "minLength": 1, "maxLength": 64, "pattern": "^[A-Za-z0-9._~-]*[A-Za-z0-9][A-Za-z0-9._~-]*$", "examples": ["client-0042"] });
