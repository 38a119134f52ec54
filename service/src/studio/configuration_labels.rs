//! Configurations as callers name them: by fields, or by canonical text.

use etui_craft::configuration::{Complete, Incomplete, Model};
use etui_schema::configuration_comparisons::LabelOrConfiguration;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Configuration, Grouping, Taper};

/// Reads one configuration; `pointer` is where it stands in the request.
///
/// # Errors
/// The [`Fault`] says what is missing, unreadable or told twice.
pub fn read(named: &LabelOrConfiguration, pointer: &str) -> Result<Complete, Fault> {
    let LabelOrConfiguration { label, diameter_mm, count, grouping, taper } = named;
    let told = Configuration {
        diameter_mm: *diameter_mm,
        count: *count,
        grouping: *grouping,
        taper: *taper,
    };
    let nothing = Configuration { diameter_mm: None, count: None, grouping: None, taper: None };
    match label {
        Some(_) if told != nothing => Err(Fault::new(
            pointer,
            FaultCode::Contradiction,
            "a label and fields together: give either",
        )),
        Some(label) => read_text(label, &format!("{pointer}/label")),
        None => Complete::try_from(told).map_err(|why| fault_of(&why, pointer)),
    }
}

/// Reads canonical text such as `0.30 3RS LT`; a comma may stand for the
/// point, and letters may be small.
///
/// # Errors
/// The [`Fault`] at `pointer` says what would be accepted.
pub fn read_text(text: &str, pointer: &str) -> Result<Complete, Fault> {
    let unreadable = || {
        let shown: String = text.chars().take(40).collect();
        Fault::new(
            pointer,
            FaultCode::WrongFormat,
            format!("`{shown}` is not read as a configuration; `0.30 3RL` or `0.25 5RS LT` is"),
        )
    };
    let told = canonical(text).ok_or_else(unreadable)?;
    Complete::try_from(told).map_err(|why| Fault::new(pointer, code_of(&why), why.to_string()))
}

/// Diameter, count with code, and perhaps a taper, between spaces.
fn canonical(text: &str) -> Option<Configuration> {
    let text = text.trim().to_ascii_uppercase();
    let mut words = text.split_whitespace();
    let diameter = words.next()?;
    let diameter_mm = match diameter {
        "?" => None,
        number => Some(read_diameter(number)?),
    };
    let group = words.next()?;
    let digits = group.bytes().take_while(u8::is_ascii_digit).count();
    let (count, code) = group.split_at(digits);
    let count = count.parse().ok()?;
    let grouping = Grouping::ALL.iter().copied().find(|g| g.code() == code)?;
    let taper = match words.next() {
        Some(code) => Some(Taper::ALL.iter().copied().find(|t| t.code() == code)?),
        None => None,
    };
    if words.next().is_some() {
        return None;
    }
    Some(Configuration { diameter_mm, count: Some(count), grouping: Some(grouping), taper })
}

/// A decimal number with a point or a comma, and nothing else.
fn read_diameter(number: &str) -> Option<f64> {
    let number = number.strip_suffix("MM").unwrap_or(number).replace(',', ".");
    let plain = number.bytes().all(|b| b.is_ascii_digit() || b == b'.');
    if plain && number.contains('.') { number.parse().ok() } else { None }
}

fn fault_of(why: &Incomplete, pointer: &str) -> Fault {
    Fault::new(format!("{pointer}/{}", why.field()), code_of(why), why.to_string())
}

const fn code_of(why: &Incomplete) -> FaultCode {
    match why {
        Incomplete::Missing { .. } => FaultCode::Missing,
        Incomplete::Diameter { .. } | Incomplete::Count { .. } => FaultCode::OutOfRange,
    }
}

/// The model, with the parameters that a request sets.
///
/// # Errors
/// A [`Fault`] for each parameter that is unknown or out of its range.
pub fn model_with<'a>(
    model: &'a Model,
    parameters: &std::collections::BTreeMap<String, f64>,
) -> Result<std::borrow::Cow<'a, Model>, Vec<Fault>> {
    if parameters.is_empty() {
        return Ok(std::borrow::Cow::Borrowed(model));
    }
    let mut trial = model.parameters().clone();
    let faults: Vec<Fault> = parameters
        .iter()
        .filter_map(|(name, value)| trial.set(name, *value).err().map(|why| (name, why)))
        .map(|(name, why)| {
            let escaped = name.replace('~', "~0").replace('/', "~1");
            let place = format!("#/parameters/{escaped}");
            Fault::new(place, parameter_code(&why), why.to_string())
        })
        .collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let changes = parameters.iter().map(|(name, value)| (name.as_str(), *value));
    model
        .with(changes)
        .map(std::borrow::Cow::Owned)
        .map_err(|why| vec![Fault::new("#/parameters", parameter_code(&why), why.to_string())])
}

const fn parameter_code(why: &etui_craft::configuration::ParameterError) -> FaultCode {
    use etui_craft::configuration::ParameterError;
    match why {
        ParameterError::Unknown { .. } => FaultCode::UnknownValue,
        ParameterError::Range { .. } | ParameterError::File { .. } => FaultCode::OutOfRange,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn canonical_text_reads_back_as_itself() {
        for text in [
            "0.30 3RS LT",
            "0.20 1RL",
            "0.375 7M1",
            "0.35 15RM XLT",
            "0.25 9HRL ST",
            "0.20 12BLADE",
        ] {
            assert_eq!(read_text(text, "#").unwrap().canonical(), text);
        }
        assert_eq!(read_text(" 0,30  3rl ", "#").unwrap().canonical(), "0.30 3RL");
    }

    #[test]
    fn what_is_no_configuration_is_refused_with_its_place() {
        for (text, code) in [
            ("", FaultCode::WrongFormat),
            ("3RL", FaultCode::WrongFormat),
            ("0.30 3XX", FaultCode::WrongFormat),
            ("0.30 3RL LT LT", FaultCode::WrongFormat),
            ("0.30 999RL", FaultCode::WrongFormat),
            ("inf 3RL", FaultCode::WrongFormat),
            ("? 3RL", FaultCode::Missing),
            ("0.90 3RL", FaultCode::OutOfRange),
            ("0.30 50RL", FaultCode::OutOfRange),
            ("0.30 0RL", FaultCode::OutOfRange),
        ] {
            let fault = read_text(text, "#/configurations/0/label").unwrap_err();
            assert_eq!(
                (fault.code, fault.pointer.as_str()),
                (code, "#/configurations/0/label"),
                "{text}"
            );
        }
    }
}
