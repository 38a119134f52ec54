//! A lot code as somebody typed it, taken out of what was copied with it.

use etui_craft::drawer::{CodeFault, code_fault};
use etui_craft::label::{FitnessReason, Policy, Printed, Reading};
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
    let told = told.trim();
    let code = read(told, day)?.unwrap_or_else(|| told.to_owned());
    let fault = READER.as_ref().and_then(|reader| code_fault(reader, &code));
    fault.map_or(Ok(code), Err)
}

/// The code that a label would have on which this is all that stands, if it is one. One of several, or
/// one that is read in part, is not what was meant.
fn read(told: &str, day: Date) -> Result<Option<String>, CodeFault> {
    // A code that is written in one is not taken apart.
    let is_plain = told.chars().all(|c| c.is_ascii_alphanumeric());
    let Some(reader) = READER.as_ref().filter(|_| !is_plain) else { return Ok(None) };
    let reading = |text, symbol| reader.read(&Printed { text, symbol }, day, Policy::default());
    let code = |reading: Reading| match reading.packet.lot {
        Some(_) if !reading.packet.other_lots.is_empty() => Err(CodeFault::Several),
        Some(_) if reading.fitness.reasons().any(|why| why == FitnessReason::LotUnreadable) => {
            Err(CodeFault::Unknown)
        }
        lot => Ok(lot.map(|said| said.value)),
    };
    if told.starts_with([']', '('])
        && let Some(found) = code(reading(None, Some(told)))?
    {
        return Ok(Some(found));
    }
    if let Some(found) = code(reading(Some(told), None))? {
        return Ok(Some(found));
    }
    // Without a word before it a code is one only where the rest is read as something else.
    let with_word = format!("LOT {told}");
    let with_word = reading(Some(&with_word), None);
    if with_word.packet.expires_on.is_some() { code(with_word) } else { Ok(None) }
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
