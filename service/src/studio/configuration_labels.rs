//! Configurations as callers name them: by fields, by canonical text, or by
//! what is printed on a packet where that leaves nothing open.

use etui_craft::configuration::{Complete, Incomplete, Model};
use etui_craft::label::{
    Candidate, Fitness, FitnessReason, FitnessState, Outcome, Policy, Printed, Reader, Reading,
};
use etui_schema::configuration_comparisons::LabelOrConfiguration;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Configuration, Grouping, Language, Taper};
use jiff::civil::Date;

/// Reads one configuration; `pointer` is where it stands in the request, `on` the day on which
/// packs of it are to be used, if they are.
///
/// # Errors
/// The [`Fault`] says what is missing, unreadable or told twice.
pub fn read(
    reader: &Reader,
    named: &LabelOrConfiguration,
    pointer: &str,
    on: Option<Date>,
) -> Result<Complete, Fault> {
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
        Some(label) => read_text(reader, label, &format!("{pointer}/label"), on),
        None => Complete::try_from(told).map_err(|why| fault_of(&why, pointer)),
    }
}

/// Reads canonical text such as `0.30 3RS LT`, or else a label as the reader of
/// packets reads it. A label that can be read in several ways is refused with
/// the ways: nothing is guessed here. So is one of packs to be used `on` a day that says of them
/// what keeps them out of use.
///
/// # Errors
/// The [`Fault`] at `pointer` says what would be accepted.
pub fn read_text(
    reader: &Reader,
    text: &str,
    pointer: &str,
    on: Option<Date>,
) -> Result<Complete, Fault> {
    let (told, fitness) = match canonical(text) {
        Some(told) => (told, Fitness::default()),
        None => printed(reader, text, on)
            .map_err(|message| Fault::new(pointer, FaultCode::WrongFormat, message))?,
    };
    // One of several labels: the message says which.
    let of_label = |why| Fault::new(pointer, code_of(&why), format!("`{}`: {why}", shown(text)));
    let complete = Complete::try_from(told).map_err(of_label)?;
    match on.map(|day| (day, against(fitness))) {
        Some((day, against)) if !against.is_empty() => Err(Fault::new(
            pointer,
            FaultCode::NotAllowed,
            format!(
                "`{}` is the label of packs that may not be used on {day} without more ({}); to choose from is a \
                 configuration, such as `0.30 3RL`",
                shown(text),
                against.join(", ")
            ),
        )),
        _ => Ok(complete),
    }
}

/// What a label says against the use of its packs. What a configuration leaves unsaid a label may
/// leave unsaid too.
fn against(fitness: Fitness) -> Vec<&'static str> {
    let unsaid = [FitnessReason::ExpiryUnknown, FitnessReason::SterilityUnknown];
    let told = fitness.reasons().filter(|reason| !unsaid.contains(reason));
    told.filter(|reason| reason.state() != FitnessState::Fit).map(FitnessReason::as_str).collect()
}

/// The beginning of a label, for a message.
fn shown(text: &str) -> String {
    text.chars().take(40).collect()
}

/// The one reading of a label and what it makes of its packs on a day, or why there is not one.
fn printed(
    reader: &Reader,
    text: &str,
    on: Option<Date>,
) -> Result<(Configuration, Fitness), String> {
    // Where only the configuration is looked at, the day does not matter.
    let day = on.unwrap_or(Date::constant(2000, 1, 1));
    let label = Printed { text: Some(text), symbol: None };
    let reading: Reading = reader.read(&label, day, Policy::default());
    let shown = shown(text);
    let best = reading.candidates.first();
    match (reading.outcome, best) {
        (Outcome::Clear | Outcome::Incomplete, Some(best)) => {
            Ok((best.configuration, reading.fitness))
        }
        (Outcome::Ambiguous, Some(best)) => Err(open(reader, &shown, best, &reading.candidates)),
        _ => Err(format!("`{shown}` is not read as a configuration; `0.30 3RL` or `1003RL` is")),
    }
}

/// Why a label that has a reading is still not taken.
fn open(reader: &Reader, shown: &str, best: &Candidate, all: &[Candidate]) -> String {
    let missing: Vec<&str> = best.missing().collect();
    let ways: Vec<String> = all.iter().take(3).map(|c| format!("`{}`", c.canonical())).collect();
    match ways.as_slice() {
        _ if 1 < missing.len() => {
            format!("`{shown}` does not tell {}; `0.30 3RL` tells all", missing.join(" and "))
        }
        [way] => {
            let doubt = best.because().last().map(|why| why.says(reader.voice(Language::En)));
            let doubt = doubt.unwrap_or_default();
            format!("`{shown}` may be {way} ({doubt}): send {way} itself if that is meant")
        }
        _ => format!("`{shown}` is read as {}: send the one that is meant", ways.join(" or ")),
    }
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
        ParameterError::Range { .. } => FaultCode::OutOfRange,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_here(text: &str) -> Result<Complete, Fault> {
        read_text(&Reader::builtin().unwrap(), text, "#/configurations/0/label", None)
    }

    /// A label that says that its packs are out of use is no needle to choose, and still one to compare.
    #[test]
    fn packs_that_may_not_be_used_are_not_chosen() {
        let reader = Reader::builtin().unwrap();
        let day = Date::constant(2027, 4, 6);
        for (text, against) in [
            ("0.30 5RS", None),
            ("1003RL", None),
            ("0.30 5RS EXP 2027-04 STERILE EO LOT T1", None),
            ("0.30 5RS NOT STERILE", Some("not_sterile")),
            ("0.30 5RS non-sterile", Some("not_sterile")),
            ("0.30 5RS EXP 2020-01-01", Some("expired")),
            ("0.30 5RS EXP 2027-04-05 STERILE EO", Some("expired")),
            ("0.30 5RS damaged", Some("damaged")),
            ("0.30 5RS opened", Some("damaged")),
            ("0.30 5RS do not use", Some("not_for_use")),
        ] {
            let read = read_text(&reader, text, "#/candidates/0", Some(day));
            let said = read.as_ref().err().map(|fault| fault.message.as_str());
            match against {
                None => assert!(read.is_ok(), "{text}: {said:?}"),
                Some(code) => {
                    assert!(said.is_some_and(|said| said.contains(code)), "{text}: {said:?}");
                    let compared = read_text(&reader, text, "#/configurations/0/label", None);
                    assert_eq!(compared.unwrap().canonical(), "0.30 5RS", "{text}");
                }
            }
        }
    }

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
            assert_eq!(read_here(text).unwrap().canonical(), text);
        }
        assert_eq!(read_here(" 0,30  3rl ").unwrap().canonical(), "0.30 3RL");
    }

    /// Common practice, no source: #10 is 0.30 mm, #12 is 0.35 mm.
    #[test]
    fn a_label_that_leaves_nothing_open_is_read() {
        for (text, want) in [
            ("1003RL", "0.30 3RL"),
            ("1207M1", "0.35 7M1"),
            ("0.25 1RL LT", "0.25 1RL LT"),
            ("1203RLST", "0.35 3RL ST"),
        ] {
            assert_eq!(read_here(text).unwrap().canonical(), want, "{text}");
        }
        let fault = read_here("103RL").unwrap_err();
        assert!(fault.message.contains("`0.30 3RL`"), "{}", fault.message);
    }

    /// One reading is no choice, question marks are no reading, and of several labels the message
    /// says which.
    #[test]
    fn a_refusal_says_what_is_open_and_of_which_label() {
        for (text, says, never) in [
            ("0.20 12U", "`0.20 12U` may be `0.20 12BLADE`", "the one that is meant"),
            ("30G 4mm", "`30G 4mm` does not tell count and grouping", "?"),
            ("103RL", "`103RL` may be `0.30 3RL` (", "the one that is meant"),
            ("7 slope 0.30", "`7 slope 0.30` is read as `0.30 7SL` or `0.30 7M`", "?"),
            ("3RL", "`3RL`: the diameter_mm is missing", "?"),
            ("? 5RS", "`? 5RS`: the diameter_mm is missing", "read as"),
            ("0.30 3XX", "`0.30 3XX`", "??"),
        ] {
            let fault = read_here(text).unwrap_err();
            assert!(fault.message.contains(says), "{text}: {}", fault.message);
            assert!(!fault.message.contains(never), "{text}: {}", fault.message);
        }
    }

    #[test]
    fn what_is_no_configuration_is_refused_with_its_place() {
        for (text, code) in [
            ("", FaultCode::WrongFormat),
            ("3RL", FaultCode::Missing),
            ("1207", FaultCode::WrongFormat),
            ("103RL", FaultCode::WrongFormat),
            ("0.30 3XX", FaultCode::WrongFormat),
            ("0.30 3RL 0.25 5RS", FaultCode::WrongFormat),
            ("0.30 999RL", FaultCode::WrongFormat),
            ("inf 3RL", FaultCode::WrongFormat),
            ("? 3RL", FaultCode::Missing),
            ("0.90 3RL", FaultCode::OutOfRange),
            ("0.30 50RL", FaultCode::OutOfRange),
            ("0.30 0RL", FaultCode::OutOfRange),
        ] {
            let fault = read_here(text).unwrap_err();
            assert_eq!(
                (fault.code.known(), fault.pointer.as_str()),
                (Some(code), "#/configurations/0/label"),
                "{text}"
            );
        }
    }
}
