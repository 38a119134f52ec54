//! Reading packets.

use std::borrow::Cow;

use etui_craft::label::{self, Lineage, Policy, Printed, Reader, Reading, Topics};
use etui_schema::label_readings as wire;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Language};
use jiff::civil::Date;

use super::batch;
use super::error::Error;
use super::said::basis;

/// Reads labels as of the day asked for, or of `today`; questions are in
/// `language`.
///
/// # Errors
/// [`Error::Refused`] with a fault for each label that has neither print nor
/// symbol.
pub fn read(
    reader: &Reader,
    request: &wire::LabelReadingsRequest,
    today: Date,
    language: Language,
) -> Result<wire::LabelReadings, Error> {
    let wire::LabelReadingsRequest { labels, as_of, use_by_month } = request;
    let empty: Vec<Fault> = labels
        .iter()
        .enumerate()
        .filter(|(_, label)| label.text.is_none() && label.symbol.is_none())
        .map(|(at, _)| {
            let pointer = format!("#/labels/{at}");
            Fault::new(pointer, FaultCode::Missing, "a label needs `text`, `symbol`, or both")
        })
        .collect();
    if !empty.is_empty() {
        return Err(Error::Refused(empty));
    }
    let as_of = as_of.map_or(today, |day| day.0);
    let policy = Policy { words_month: month_rule(*use_by_month) };
    let one = |wire::LabelInput { text, symbol, maker, reference }: &wire::LabelInput| {
        let printed = Printed { text: text.as_deref(), symbol: symbol.as_deref() };
        let told = Lineage { maker: maker.as_deref(), gtin: None, reference: reference.as_deref() };
        let read = reader.read_from(&told, &printed, as_of, policy);
        (Topics::of(&read), reading(reader, language, read))
    };
    let read = batch::each(labels, one, |_| (Topics::default(), lost(reader, language)));
    let (topics, readings): (Vec<Topics>, Vec<_>) = read.into_iter().unzip();
    let topics = topics.into_iter().fold(Topics::default(), Topics::and);
    let basis = basis(&reader.basis(topics));
    Ok(wire::LabelReadings { as_of: CivilDate(as_of), readings, basis })
}

fn month_rule(asked: Option<wire::MonthRule>) -> label::MonthRule {
    match asked {
        None | Some(wire::MonthRule::Earlier) => label::MonthRule::Earlier,
        Some(wire::MonthRule::EndOfMonth) => label::MonthRule::EndOfMonth,
        Some(wire::MonthRule::EndOfMonthBefore) => label::MonthRule::EndOfMonthBefore,
    }
}

/// What stands in place of a reading that the reader did not come to the end
/// of: refused, and the pack not to be used. The fault is ours.
fn lost(reader: &Reader, language: Language) -> wire::LabelReading {
    const SAYS: &str = "The reader failed on this label; the others are not touched. Type in what \
                        is printed, or look at the packet.";
    wire::LabelReading {
        outcome: wire::ReadingOutcome::Refused,
        refusal: Some(wire::LabelRefusal {
            code: wire::RefusalCode::ReaderFailed,
            message: Cow::Borrowed(SAYS),
        }),
        candidates: Vec::new(),
        packet: wire::PacketData::default(),
        symbol: None,
        fitness: pack_fitness(
            reader,
            language,
            label::Fitness::of(label::FitnessReason::Unreadable),
        ),
        spans: Vec::new(),
        unread: Vec::new(),
        conflicts: Vec::new(),
        question: None,
    }
}

/// One reading in the words of the wire.
#[must_use]
pub fn reading(reader: &Reader, language: Language, read: Reading) -> wire::LabelReading {
    let question = question(reader, language, &read);
    let Reading { outcome, refusal, candidates, packet, symbol, fitness, spans, unread, conflicts } =
        read;
    wire::LabelReading {
        outcome: match outcome {
            label::Outcome::Clear => wire::ReadingOutcome::Clear,
            label::Outcome::Ambiguous => wire::ReadingOutcome::Ambiguous,
            label::Outcome::Incomplete => wire::ReadingOutcome::Incomplete,
            label::Outcome::Refused => wire::ReadingOutcome::Refused,
        },
        refusal: refusal.map(|code| wire::LabelRefusal {
            code: refusal_code(code),
            message: Cow::Borrowed(code.says()),
        }),
        candidates: candidates.iter().map(|read| candidate(reader, read)).collect(),
        packet: packet_data(packet),
        symbol: symbol.map(symbol_data),
        fitness: pack_fitness(reader, language, fitness),
        spans: spans
            .into_iter()
            .map(|label::Span { start, end, kind }| wire::TextSpan {
                start,
                end,
                kind: span_kind(kind),
            })
            .collect(),
        unread,
        conflicts: conflicts
            .into_iter()
            .map(|label::Conflict { field, text, symbol }| wire::LabelConflict {
                field: Cow::Borrowed(field),
                text,
                symbol,
            })
            .collect(),
        question,
    }
}

/// The question that settles the configuration, with its choices.
fn question(reader: &Reader, language: Language, read: &Reading) -> Option<wire::LabelQuestion> {
    let label::Question { key, choices } = read.question()?;
    let shown = choices.first().map(label::Candidate::canonical).unwrap_or_default();
    let text = reader.texts().fill(language, key, &[("reading", &shown)]);
    let choice = |read: &label::Candidate| wire::LabelChoice {
        canonical: read.canonical(),
        configuration: read.configuration,
    };
    Some(wire::LabelQuestion { text, choices: choices.iter().map(choice).collect() })
}

fn pack_fitness(reader: &Reader, language: Language, fitness: label::Fitness) -> wire::PackFitness {
    let question = |reason: label::FitnessReason| {
        let key = reason.question()?;
        let text = reader.texts().get(language, key).to_owned();
        Some(wire::FitnessQuestion { reason: fitness_reason(reason), text })
    };
    wire::PackFitness {
        state: match fitness.state() {
            label::FitnessState::Fit => wire::FitnessState::Fit,
            label::FitnessState::ToConfirm => wire::FitnessState::ToConfirm,
            label::FitnessState::Unfit => wire::FitnessState::Unfit,
        },
        usable: fitness.usable(),
        reasons: fitness.reasons().map(fitness_reason).collect(),
        questions: fitness.reasons().filter_map(question).collect(),
    }
}

fn candidate(reader: &Reader, read: &label::Candidate) -> wire::LabelCandidate {
    wire::LabelCandidate {
        configuration: read.configuration,
        canonical: read.canonical(),
        // Three decimals order the readings; more would claim more.
        certainty: (read.certainty * 1000.0).round() / 1000.0,
        missing: read.missing().map(Cow::Borrowed).collect(),
        because: read.because().iter().map(|reason| reason.says()).collect(),
        packs: reader.packs_of(read).map(str::to_owned).collect(),
    }
}

fn packet_data(packet: label::Packet) -> wire::PacketData {
    let label::Packet {
        lot,
        expires_on,
        made_on,
        reference,
        gtin,
        serial,
        quantity,
        sterilised_by,
        single_use,
    } = packet;
    let text = |said: label::Said<String>| {
        let label::Said { value, from } = said;
        wire::SaidText { value, from: origin(from) }
    };
    wire::PacketData {
        lot: lot.map(text),
        expires_on: expires_on.map(date),
        made_on: made_on.map(date),
        reference: reference.map(text),
        gtin: gtin.map(text),
        serial: serial.map(text),
        quantity: quantity
            .map(|label::Said { value, from }| wire::SaidQuantity { value, from: origin(from) }),
        sterilised_by: sterilised_by.map(|label::Said { value, from }| wire::SaidSterilisation {
            value: sterilisation(value),
            from: origin(from),
        }),
        single_use: single_use
            .map(|label::Said { value, from }| wire::SaidYesOrNo { value, from: origin(from) }),
    }
}

fn date(said: label::DateSaid) -> wire::SaidDate {
    let label::DateSaid { date, precision, also, doubtful, from } = said;
    wire::SaidDate {
        value: CivilDate(date),
        precision: match precision {
            label::Precision::Day => wire::Precision::Day,
            label::Precision::Month => wire::Precision::Month,
            label::Precision::Year => wire::Precision::Year,
        },
        confirm: doubtful || !also.is_empty(),
        also: also.into_iter().map(CivilDate).collect(),
        from: origin(from),
    }
}

fn symbol_data(symbol: label::SymbolReading) -> wire::SymbolData {
    let label::SymbolReading { standard, elements, faults } = symbol;
    wire::SymbolData {
        standard: standard.map(|standard| match standard {
            label::Standard::Gs1 => wire::SymbolStandard::Gs1,
            label::Standard::Hibc => wire::SymbolStandard::Hibc,
            label::Standard::Gtin => wire::SymbolStandard::Gtin,
            label::Standard::Text => wire::SymbolStandard::Text,
        }),
        elements: elements
            .into_iter()
            .map(|label::SymbolElement { key, value, means }| wire::SymbolElement {
                key: key.to_string(),
                value,
                means,
            })
            .collect(),
        faults: faults
            .into_iter()
            .map(|label::Fault { at, code, message }| wire::SymbolFault {
                at,
                code: Cow::Borrowed(code.as_str()),
                message,
            })
            .collect(),
    }
}

const fn origin(from: label::Origin) -> wire::Origin {
    match from {
        label::Origin::Text => wire::Origin::Text,
        label::Origin::Symbol => wire::Origin::Symbol,
    }
}

const fn sterilisation(method: label::Method) -> wire::Sterilisation {
    match method {
        label::Method::EthyleneOxide => wire::Sterilisation::EthyleneOxide,
        label::Method::Irradiation => wire::Sterilisation::Irradiation,
        label::Method::Aseptic => wire::Sterilisation::Aseptic,
        label::Method::Heat => wire::Sterilisation::Heat,
        label::Method::NotTold => wire::Sterilisation::NotTold,
    }
}

/// Declares how one closed list becomes the other, word by word.
macro_rules! same_words {
    ($name:ident, $from:ty, $to:ty, [$($word:ident),+ $(,)?]) => {
        const fn $name(word: $from) -> $to {
            match word { $(<$from>::$word => <$to>::$word),+ }
        }
    };
}

same_words!(
    refusal_code,
    label::Refusal,
    wire::RefusalCode,
    [
        Empty,
        TooLong,
        ControlCharacters,
        DirectionMarks,
        InvisibleCharacters,
        Pictures,
        SeveralLabels,
        NoSuchSize,
        Filiform,
        NotALabel,
    ]
);

same_words!(
    fitness_reason,
    label::FitnessReason,
    wire::FitnessReason,
    [
        Expired,
        LabelConflict,
        SwallowedSeparator,
        DatesContradict,
        DateWithoutWord,
        NotSterile,
        Damaged,
        Reusable,
        Unreadable,
        AmbiguousExpiry,
        ExpiryUnknown,
        ExpiryUnreadable,
        ExpiryWordUnproven,
        SterilityUnknown,
        SymbolFaulty,
        CheckPack,
    ]
);

same_words!(
    span_kind,
    label::SpanKind,
    wire::SpanKind,
    [
        Diameter, Count, Grouping, Taper, Mark, Lot, ExpiresOn, MadeOn, Reference, Gtin, Serial,
        Quantity, Sterility, SingleUse, Notice, Damage, Elements, PackWord,
    ]
);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_of_the_craft_is_spelt_the_same_on_the_wire() {
        for word in label::Refusal::ALL {
            assert_eq!(refusal_code(*word).as_str(), word.as_str());
        }
        for word in label::FitnessReason::ALL {
            assert_eq!(fitness_reason(*word).as_str(), word.as_str());
        }
        for word in label::SpanKind::ALL {
            assert_eq!(span_kind(*word).as_str(), word.as_str());
        }
    }
}
