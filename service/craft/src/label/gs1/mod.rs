//! GS1 data: element strings, the bracketed form, Digital Link addresses.
//!
//! ```text
//! elements  = *( FNC1 ) element *( [ FNC1 ] element ) [ FNC1 ]
//! element   = ai value                ; FNC1 must follow unless `fixed` or last
//! brackets  = 1*( "(" ai ")" *SP value )          ; "\(" is a bracket in a value
//! link      = ( "http" / "https" ) "://" host *( "/" stem ) "/" key "/" value
//!             *( "/" qualifier "/" value ) [ "?" attribute *( "&" attribute ) ]
//! ```
//!
//! All three become one list of [`Element`]s, which is then held against the
//! formats, the companions and the repeats of the table. One superfluous
//! separator after any element is accepted, two in a row are not.

mod brackets;
mod companions;
mod link;
mod lint;
mod table;

pub(crate) use link::is_address;
pub(crate) use lint::{check_digit_fits, is_date};
#[cfg(test)]
pub(crate) use table::File as TableFile;
pub(crate) use table::{Role, Table};

use std::borrow::Cow;

use crate::label::code_lists::CodeLists;
use crate::label::faults::{Fault, FaultCode};
use table::Ai;

/// The separator as a scanner sends it (ASCII group separator).
pub(crate) const GS: u8 = 0x1d;

/// One element: which identifier, where its value lies.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Element {
    /// Index into the table.
    pub(crate) ai: u16,
    /// First byte of the value in [`Parsed::data`].
    pub(crate) start: u32,
    /// Bytes of the value.
    pub(crate) len: u32,
    /// Where the element begins in the data as sent, in bytes.
    pub(crate) at: u32,
    /// Whether the value itself is without fault.
    pub(crate) sound: bool,
}

/// What was read.
#[derive(Debug, Clone)]
pub(crate) struct Parsed<'a> {
    /// The bytes the values lie in.
    pub(crate) data: Cow<'a, [u8]>,
    /// The elements in their order.
    pub(crate) elements: Vec<Element>,
    /// What is wrong; positions in bytes of the data as sent.
    pub(crate) faults: Vec<Fault>,
}

impl<'a> Parsed<'a> {
    fn new(data: Cow<'a, [u8]>) -> Self {
        Self { data, elements: Vec::with_capacity(6), faults: Vec::new() }
    }

    /// The value of an element.
    pub(crate) fn value(&self, element: &Element) -> &[u8] {
        let start = element.start as usize;
        self.data.get(start..start + element.len as usize).unwrap_or_default()
    }

    fn fault(&mut self, at: usize, code: FaultCode) {
        self.faults.push(Fault::new(at, code));
    }
}

/// The parser: table and code lists.
#[derive(Debug, Clone)]
pub(crate) struct Gs1 {
    pub(crate) table: Table,
    pub(crate) lists: CodeLists,
}

impl Gs1 {
    /// Element strings, as transmitted after the symbology identifier; `base`
    /// is where they begin in the data as sent.
    pub(crate) fn elements<'a>(&self, data: &'a [u8], base: usize) -> Parsed<'a> {
        let mut parsed = Parsed::new(Cow::Borrowed(data));
        self.read_elements(&mut parsed, data, base);
        self.companions(&mut parsed);
        parsed
    }

    /// Several element strings of one pack, one after the other: a composite,
    /// or two linear symbols. Companions are sought in all of them together.
    pub(crate) fn joined(&self, parts: &[(usize, &[u8])]) -> Parsed<'static> {
        let mut whole = Parsed::new(Cow::Owned(Vec::new()));
        for (base, part) in parts {
            let mut one = Parsed::new(Cow::Borrowed(*part));
            self.read_elements(&mut one, part, *base);
            let shift = u32::try_from(whole.data.len()).unwrap_or(u32::MAX);
            whole.data.to_mut().extend_from_slice(part);
            whole.faults.append(&mut one.faults);
            let moved = one.elements.iter().map(|e| Element { start: e.start + shift, ..*e });
            whole.elements.extend(moved);
        }
        self.companions(&mut whole);
        whole
    }

    fn read_elements(&self, parsed: &mut Parsed<'_>, data: &[u8], base: usize) {
        let mut at = 0;
        if data.is_empty() {
            parsed.fault(base, FaultCode::Empty);
        }
        while at < data.len() {
            let Some((index, ai)) = self.table.at(&data[at..]) else {
                let shown = shown(&data[at..]);
                let code = match data[at] {
                    GS => FaultCode::DoubledSeparator,
                    _ => FaultCode::UnknownAi,
                };
                parsed.faults.push(Fault::with(base + at, code, format!("`{shown}`")));
                return;
            };
            let start = at + ai.key.len();
            let rest = &data[start..];
            let fixed = if ai.fixed { ai.max.min(rest.len()) } else { rest.len() };
            let len = rest[..fixed].iter().position(|b| *b == GS).unwrap_or(fixed);
            self.element(parsed, index, ai, (base + at, start), &rest[..len]);
            at = start + len;
            // One separator too many is tolerated after any element.
            if data.get(at) == Some(&GS) {
                at += 1;
            }
        }
    }

    /// Adds one element whose value lies at `place.1` of the parsed data and
    /// whose identifier stands at `place.0` of the data as sent.
    fn element(
        &self,
        parsed: &mut Parsed<'_>,
        index: u16,
        ai: &Ai,
        place: (usize, usize),
        value: &[u8],
    ) {
        let flaw = self.check(ai, value);
        if let Err((offset, code)) = flaw {
            let at = place.0 + ai.key.len() + offset;
            parsed.faults.push(Fault::of(&ai.key, at, code));
        }
        let short = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        parsed.elements.push(Element {
            ai: index,
            start: short(place.1),
            len: short(value.len()),
            at: short(place.0),
            sound: flaw.is_ok(),
        });
    }

    /// Holds a value against the format of its identifier.
    fn check(&self, ai: &Ai, value: &[u8]) -> Result<(), lint::Flaw> {
        if value.is_empty() {
            return Err((0, FaultCode::EmptyValue));
        }
        let mut at = 0;
        for part in &ai.parts {
            let left = value.len() - at;
            if left == 0 && part.optional {
                break;
            }
            if left < part.min {
                return Err((at, FaultCode::ValueTooShort));
            }
            let len = part.max.min(left);
            lint::part(part, &value[at..at + len], &self.lists).map_err(|(o, c)| (at + o, c))?;
            at += len;
        }
        if at < value.len() { Err((at, FaultCode::ValueTooLong)) } else { Ok(()) }
    }
}

/// The first characters of what could not be read, for a message.
fn shown(data: &[u8]) -> String {
    String::from_utf8_lossy(&data[..data.len().min(4)]).escape_debug().collect()
}
