//! What the scanner sent: which carrier, whose data, which fields.
//!
//! The symbology identifier (ISO/IEC 15424: `]`, a letter, a modifier) says
//! how the data is to be read. Without one the data itself must prove what it
//! is: a leading separator, a bracket, an address, a plus, a GTIN alone, or an
//! element string that begins with a GTIN whose check digit fits.

use jiff::civil::Date;

use super::elements::{SwallowedDate, day_of, fields_of_elements, swallowed};
use super::faults::{Fault, FaultCode};
use super::gs1::{self, GS, Gs1, Parsed};
use super::hibc::{self, Hibc};
use super::reading::{
    DateSaid, Origin, Packet, Precision, Said, Standard, SymbolElement, SymbolReading,
};
use super::tables::Swallowed;

/// Longest data of one symbol, in bytes: a full Data Matrix holds 2,335.
const LONGEST: usize = 4_096;
/// Longest HIBC data: three linear symbols.
const LONGEST_HIBC: usize = 160;

/// A symbol's data, and what it says of the packet.
#[derive(Debug, Clone)]
pub(crate) struct SymbolData {
    pub(crate) reading: SymbolReading,
    pub(crate) packet: Packet,
    /// A lot or serial that ends like a date whose separator was lost.
    pub(crate) swallowed: Option<SwallowedDate>,
}

/// How the data of a carrier is to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Carrier {
    Elements,
    Gtin(usize),
    Open,
    Stripped,
}

/// Carriers by symbology identifier (GS1 General Specifications, section 5;
/// plain ones as scanner manuals list them).
const CARRIERS: &[(&[u8; 3], Carrier)] = &[
    (b"]C1", Carrier::Elements),
    (b"]e0", Carrier::Elements),
    (b"]d2", Carrier::Elements),
    (b"]Q3", Carrier::Elements),
    (b"]J1", Carrier::Elements),
    (b"]E0", Carrier::Gtin(13)),
    (b"]E4", Carrier::Gtin(8)),
    (b"]d0", Carrier::Open),
    (b"]d1", Carrier::Open),
    (b"]Q0", Carrier::Open),
    (b"]Q1", Carrier::Open),
    (b"]J0", Carrier::Open),
    (b"]C0", Carrier::Open),
    (b"]A0", Carrier::Open),
    (b"]A1", Carrier::Open),
    (b"]A3", Carrier::Stripped),
    (b"]z0", Carrier::Open),
];

/// What kind of data it turned out to be.
enum Data<'a> {
    Gs1(Parsed<'a>),
    Hibc(Hibc),
    Gtin(Vec<u8>, Option<Parsed<'a>>),
    Text(&'a [u8]),
    Fault(Fault),
}

/// Reads what a scanner sent.
pub(crate) fn read(text: &str, gs1: &Gs1, rule: &Swallowed, as_of: Date) -> SymbolData {
    let bytes = text.as_bytes();
    let data = if LONGEST < bytes.len() {
        Data::Fault(Fault::new(0, FaultCode::TooLong))
    } else {
        dispatch(bytes, gs1, as_of)
    };
    let mut read = match data {
        Data::Gs1(parsed) => elements(gs1, &parsed, rule, as_of),
        Data::Hibc(hibc) => hibc_data(hibc),
        Data::Gtin(digits, composite) => gtin_data(gs1, &digits, composite.as_ref(), rule, as_of),
        Data::Text(text) => {
            let value = String::from_utf8_lossy(text).into_owned();
            let element = part("text", value, None);
            plain(Some(Standard::Text), (!text.is_empty()).then_some(element), Vec::new())
        }
        Data::Fault(fault) => plain(None, None, vec![fault]),
    };
    if !text.is_ascii() {
        for fault in &mut read.reading.faults {
            fault.at = text.char_indices().take_while(|(i, _)| *i < fault.at).count();
        }
    }
    read
}

/// Element strings alone, for measuring: elements and faults.
pub(crate) fn count_elements(text: &str, gs1: &Gs1) -> (usize, usize) {
    match text.as_bytes() {
        [b']', b'C' | b'e' | b'd' | b'Q' | b'J', b'0'..=b'3', data @ ..] => {
            let parsed = gs1.elements(data, 3);
            (parsed.elements.len(), parsed.faults.len())
        }
        data => {
            let parsed = gs1.elements(data, 0);
            (parsed.elements.len(), parsed.faults.len())
        }
    }
}

fn dispatch<'a>(bytes: &'a [u8], gs1: &Gs1, as_of: Date) -> Data<'a> {
    if bytes.first() != Some(&b']') {
        return unidentified(bytes, gs1, as_of);
    }
    let carrier = CARRIERS.iter().find(|(id, _)| bytes.starts_with(*id)).map(|(_, c)| *c);
    let data = bytes.get(3..).unwrap_or_default();
    match carrier {
        None => Data::Fault(Fault::new(0, FaultCode::UnknownIdentifier)),
        Some(Carrier::Elements) => several(data, gs1),
        Some(Carrier::Gtin(len)) => gtin(data, len, gs1),
        Some(Carrier::Open) => open(data, 3, gs1, as_of),
        Some(Carrier::Stripped) if data.first() == Some(&b'+') => {
            Data::Fault(Fault::new(3, FaultCode::HibcCheckStripped))
        }
        Some(Carrier::Stripped) => plain_text(data),
    }
}

/// Element strings of one symbol, or of several scanned one after another.
fn several<'a>(data: &'a [u8], gs1: &Gs1) -> Data<'a> {
    if !data.iter().any(|b| matches!(b, b'\n' | b'\r' | b'|')) {
        return Data::Gs1(gs1.elements(data, 3));
    }
    let mut parts = Vec::new();
    let mut at = 3;
    for part in data.split(|b| matches!(b, b'\n' | b'\r' | b'|')) {
        let skip = if part.starts_with(b"]") { 3.min(part.len()) } else { 0 };
        if !part.is_empty() {
            parts.push((at + skip, &part[skip..]));
        }
        at += part.len() + 1;
    }
    Data::Gs1(gs1.joined(&parts))
}

/// A GTIN alone, perhaps with a composite part of elements.
fn gtin<'a>(data: &'a [u8], len: usize, gs1: &Gs1) -> Data<'a> {
    let (digits, rest) = match data.iter().position(|b| *b == b'|') {
        Some(at) => (&data[..at], Some((at + 1, &data[at + 1..]))),
        None => (data, None),
    };
    let fits = digits.len() == len && digits.iter().all(u8::is_ascii_digit);
    if !fits {
        return Data::Fault(Fault::with(3, FaultCode::BadGtin, len.to_string()));
    }
    if !gs1::check_digit_fits(digits) {
        return Data::Fault(Fault::new(2 + len, FaultCode::CheckDigit));
    }
    let composite = match rest {
        None => None,
        Some((at, rest)) => match rest.strip_prefix(b"]e0") {
            Some(elements) => Some(gs1.elements(elements, at + 6)),
            None => return Data::Fault(Fault::new(at + 3, FaultCode::CompositePart)),
        },
    };
    Data::Gtin(digits.to_vec(), composite)
}

/// Carriers that hold anything.
fn open<'a>(data: &'a [u8], base: usize, gs1: &Gs1, as_of: Date) -> Data<'a> {
    match data.first() {
        Some(b'+') => hibc_or_fault(data, base, as_of),
        Some(b'*') if data.starts_with(b"*+") => hibc_or_fault(data, base, as_of),
        _ if gs1::is_address(data) => Data::Gs1(gs1.link(data, base)),
        _ => plain_text(data),
    }
}

/// A code without a standard of its own; sentences are none, and what they say is not read.
fn plain_text(data: &[u8]) -> Data<'_> {
    const SAYS: [&[u8]; 3] = [b"EXP", b"STERIL", b"USE BY"];
    let up = data.to_ascii_uppercase();
    let code = |b: &u8| !b.is_ascii_whitespace() && !b"{}\"".contains(b);
    let says = SAYS.iter().any(|word| up.windows(word.len()).any(|part| part == *word));
    match data.iter().position(|b| !code(b)) {
        Some(at) => Data::Fault(Fault::new(3 + at, FaultCode::UnknownSymbol)),
        None if says => Data::Fault(Fault::new(3, FaultCode::UnknownSymbol)),
        None => Data::Text(data),
    }
}

fn hibc_or_fault<'a>(data: &[u8], base: usize, as_of: Date) -> Data<'a> {
    if LONGEST_HIBC < data.len() {
        return Data::Fault(Fault::new(base + LONGEST_HIBC, FaultCode::TooLong));
    }
    Data::Hibc(hibc::read(data, base, as_of))
}

/// Data without an identifier must prove what it is.
fn unidentified<'a>(bytes: &'a [u8], gs1: &Gs1, as_of: Date) -> Data<'a> {
    match bytes {
        [] => Data::Fault(Fault::new(0, FaultCode::Empty)),
        [GS, rest @ ..] => Data::Gs1(gs1.elements(rest, 1)),
        // A caret stands for the separator where a scanner is set up so.
        [b'^', rest @ ..] => caret(rest, gs1),
        [b'(', ..] => Data::Gs1(gs1.brackets(bytes, 0)),
        [b'+', ..] | [b'*', b'+', ..] => hibc_or_fault(bytes, 0, as_of),
        _ if gs1::is_address(bytes) => Data::Gs1(gs1.link(bytes, 0)),
        _ => proven(bytes, gs1),
    }
}

fn caret<'a>(rest: &[u8], gs1: &Gs1) -> Data<'a> {
    let data: Vec<u8> = rest.iter().map(|b| if *b == b'^' { GS } else { *b }).collect();
    let Parsed { data: _, elements, faults } = gs1.elements(&data, 1);
    Data::Gs1(Parsed { data: std::borrow::Cow::Owned(data), elements, faults })
}

fn proven<'a>(bytes: &'a [u8], gs1: &Gs1) -> Data<'a> {
    let digits = bytes.iter().take_while(|b| b.is_ascii_digit()).count();
    let whole = digits == bytes.len();
    if whole && matches!(digits, 8 | 12 | 13 | 14) && gs1::check_digit_fits(bytes) {
        return Data::Gtin(bytes.to_vec(), None);
    }
    let item = matches!(bytes.get(..2), Some(b"01" | b"02")) && 16 <= digits;
    let case = bytes.starts_with(b"00") && 20 <= digits;
    let fits = (item && gs1::check_digit_fits(&bytes[2..16]))
        || (case && gs1::check_digit_fits(&bytes[2..20]));
    if fits {
        Data::Gs1(gs1.elements(bytes, 0))
    } else {
        Data::Fault(Fault::new(0, FaultCode::UnknownSymbol))
    }
}

fn plain(
    standard: Option<Standard>,
    element: Option<SymbolElement>,
    faults: Vec<Fault>,
) -> SymbolData {
    let elements = element.into_iter().collect();
    let reading = SymbolReading { standard, elements, faults };
    SymbolData { reading, packet: Packet::default(), swallowed: None }
}

fn elements(gs1: &Gs1, parsed: &Parsed<'_>, rule: &Swallowed, as_of: Date) -> SymbolData {
    let elements = parsed
        .elements
        .iter()
        .map(|element| {
            let ai = gs1.table.get(element.ai);
            let value = String::from_utf8_lossy(parsed.value(element)).into_owned();
            let day = day_of(ai.role, parsed.value(element), element.sound, as_of);
            SymbolElement { key: ai.key.clone(), value, title: ai.title.clone(), day }
        })
        .collect();
    SymbolData {
        reading: SymbolReading {
            standard: Some(Standard::Gs1),
            elements,
            faults: parsed.faults.clone(),
        },
        packet: fields_of_elements(gs1, parsed, as_of, Origin::Symbol),
        swallowed: swallowed(gs1, parsed, rule, as_of),
    }
}

fn gtin_data(
    gs1: &Gs1,
    digits: &[u8],
    composite: Option<&Parsed<'_>>,
    rule: &Swallowed,
    as_of: Date,
) -> SymbolData {
    let padded = format!("{:0>14}", String::from_utf8_lossy(digits));
    let mut read = composite.map_or_else(
        || plain(Some(Standard::Gtin), None, Vec::new()),
        |parsed| elements(gs1, parsed, rule, as_of),
    );
    // The linear part is the item that the composite's elements need.
    read.reading.faults.retain(|f| f.code != FaultCode::MissingCompanion);
    read.reading.standard = Some(Standard::Gtin);
    let value = String::from_utf8_lossy(digits).into_owned();
    read.reading.elements.insert(0, part("gtin", value, None));
    read.packet.gtin = Some(Said { value: padded, from: Origin::Symbol });
    read
}

fn hibc_data(hibc: Hibc) -> SymbolData {
    let mut packet = Packet::default();
    if hibc.faults.is_empty() {
        let text = |key: &str| {
            let value = hibc.get(key)?.0.to_owned();
            Some(Said { value, from: Origin::Symbol })
        };
        let date = |key: &str| {
            let found = hibc.get(key)?.1?;
            let precision = if found.month_only { Precision::Month } else { Precision::Day };
            let (date, from) = (found.date, Origin::Symbol);
            Some(DateSaid::sure(date, precision, from))
        };
        packet.lot = text("lot");
        packet.serial = text("serial");
        packet.reference = text("pcn");
        packet.expires_on = date("expiry");
        packet.made_on = date("made");
        packet.quantity = text("quantity")
            .and_then(|q| Some(Said { value: q.value.parse().ok()?, from: Origin::Symbol }));
    }
    let elements = hibc
        .parts
        .iter()
        .map(|(key, value, date)| {
            let precision = |d: hibc::SymbolDate| {
                if d.month_only { Precision::Month } else { Precision::Day }
            };
            part(key, value.clone(), date.map(|d| (d.date, precision(d))))
        })
        .collect();
    let reading = SymbolReading { standard: Some(Standard::Hibc), elements, faults: hibc.faults };
    SymbolData { reading, packet, swallowed: None }
}

/// What every part that has no application identifier is called.
pub(super) const PARTS: &[&str] = &[
    "text", "gtin", "lic", "pcn", "um", "lot", "serial", "expiry", "made", "quantity", "link",
    "check",
];

fn part(key: &str, value: String, day: Option<(Date, Precision)>) -> SymbolElement {
    SymbolElement { key: key.into(), value, title: format!("element.{key}").into(), day }
}
