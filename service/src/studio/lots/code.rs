//! A lot code as somebody typed it, taken out of what was copied with it.

use etui_craft::drawer::{CodeFault, code_fault};
use etui_craft::label::{Packet, Policy, Printed};
use etui_craft::refusal::Refusal;
use etui_schema::problem::{Fault, FaultCode};
use jiff::civil::Date;

use super::stored::READER;

/// The code in what was typed: `Los B7`, `(10)B7` and `B7 EXP 2028-01` say B7. What reads as no label
/// is the code itself.
///
/// # Errors
/// What is no code, where nothing here has it.
pub fn typed(told: &str, day: Date) -> Result<String, CodeFault> {
    let code = read(told.trim(), day);
    code_fault(&code).map_or(Ok(code), Err)
}

/// The code that a label would have on which this is all that stands.
fn read(told: &str, day: Date) -> String {
    // A code that is written in one is not taken apart.
    if told.chars().all(|c| c.is_ascii_alphanumeric()) {
        return told.to_owned();
    }
    let Some(reader) = READER.as_ref() else { return told.to_owned() };
    let packet = |printed: &Printed<'_>| reader.read(printed, day, Policy::default()).packet;
    let print = |text: &str| packet(&Printed { text: Some(text), symbol: None });
    let code =
        |packet: Packet| packet.lot.filter(|_| packet.other_lots.is_empty()).map(|said| said.value);
    let is_symbol = told.starts_with([']', '(']);
    let symbol = is_symbol.then(|| packet(&Printed { text: None, symbol: Some(told) }));
    // Without a word before it a code is one only where the rest is read as something else.
    let beside = || {
        let packet = print(&format!("LOT {told}"));
        packet.expires_on.is_some().then(|| code(packet)).flatten()
    };
    symbol
        .and_then(code)
        .or_else(|| code(print(told)))
        .or_else(beside)
        .unwrap_or_else(|| told.to_owned())
}

/// The fault at a place.
pub fn refused(fault: CodeFault, pointer: String) -> Fault {
    match fault {
        CodeFault::Several => {
            let why = "these are several codes; one is accepted, so send each by itself";
            Fault::new(pointer, FaultCode::WrongFormat, why).means(Refusal::RecallOneCode)
        }
        CodeFault::Unknown => {
            let why = "this is no whole lot code; what stands on the packs is accepted";
            Fault::new(pointer, FaultCode::WrongFormat, why).means(Refusal::LotNoCode)
        }
    }
}
