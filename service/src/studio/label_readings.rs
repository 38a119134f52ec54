//! Reading packets.

use std::borrow::Cow;

use etui_craft::label::{self, Lineage, Policy, Printed, Reader, Reading, Topics};
use etui_craft::text::Voice;
use etui_schema::label_readings as wire;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Language};
use jiff::civil::Date;

use super::batch;
use super::error::Error;

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
    let policy = Policy { words_month: use_by_month.unwrap_or_default() };
    let one = |wire::LabelInput { text, symbol, maker, reference }: &wire::LabelInput| {
        let printed = Printed { text: text.as_deref(), symbol: symbol.as_deref() };
        let told = Lineage { maker: maker.as_deref(), gtin: None, reference: reference.as_deref() };
        let read = reader.read_from(&told, &printed, as_of, policy);
        (Topics::of(&read), reading(reader, language, read))
    };
    let read = batch::each(labels, one, |_| (Topics::default(), lost(reader, language)));
    let (topics, readings): (Vec<Topics>, Vec<_>) = read.into_iter().unzip();
    let topics = topics.into_iter().fold(Topics::default(), Topics::and);
    let basis = reader.basis(topics);
    Ok(wire::LabelReadings { as_of: CivilDate(as_of), readings, basis })
}

/// What stands in place of a reading that the reader did not come to the end
/// of: refused, and the pack not to be used. The fault is ours.
fn lost(reader: &Reader, language: Language) -> wire::LabelReading {
    wire::LabelReading {
        outcome: wire::ReadingOutcome::Refused.into(),
        refusal: Some(wire::LabelRefusal {
            code: wire::RefusalCode::ReaderFailed.into(),
            message: reader.refusal(language, wire::RefusalCode::ReaderFailed).into(),
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
    let Reading {
        outcome,
        refusal,
        candidates,
        packet,
        expires_until: _,
        symbol,
        fitness,
        spans,
        unread,
        conflicts,
    } = read;
    wire::LabelReading {
        outcome: outcome.into(),
        refusal: refusal.map(|code| wire::LabelRefusal {
            code: code.into(),
            message: reader.refusal(language, code).into(),
        }),
        candidates: candidates.iter().map(|read| candidate(reader, language, read)).collect(),
        packet: packet_data(packet),
        symbol: symbol.map(|symbol| symbol_data(reader.voice(language), symbol)),
        fitness: pack_fitness(reader, language, fitness),
        spans,
        unread,
        conflicts,
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
        Some(wire::FitnessQuestion { reason: reason.into(), text })
    };
    wire::PackFitness {
        state: fitness.state().into(),
        usable: fitness.usable(),
        reasons: fitness.reasons().map(Into::into).collect(),
        questions: fitness.reasons().filter_map(question).collect(),
    }
}

fn candidate(reader: &Reader, language: Language, read: &label::Candidate) -> wire::LabelCandidate {
    wire::LabelCandidate {
        configuration: read.configuration,
        canonical: read.canonical(),
        // Three decimals order the readings; more would claim more.
        certainty: (read.certainty * 1000.0).round() / 1000.0,
        missing: read.missing().map(Cow::Borrowed).collect(),
        because: read.because().iter().map(|why| why.says(reader.voice(language)).into()).collect(),
        packs: reader.packs_of(read).map(str::to_owned).collect(),
    }
}

fn packet_data(packet: label::Packet) -> wire::PacketData {
    let label::Packet {
        lot,
        other_lots: _,
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
        wire::SaidText { value, from: from.into() }
    };
    wire::PacketData {
        lot: lot.map(text),
        expires_on: expires_on.map(date),
        made_on: made_on.map(date),
        reference: reference.map(text),
        gtin: gtin.map(text),
        serial: serial.map(text),
        quantity: quantity
            .map(|label::Said { value, from }| wire::SaidQuantity { value, from: from.into() }),
        sterilised_by: sterilised_by.map(|label::Said { value, from }| wire::SaidSterilisation {
            value: value.into(),
            from: from.into(),
        }),
        single_use: single_use
            .map(|label::Said { value, from }| wire::SaidYesOrNo { value, from: from.into() }),
    }
}

fn date(said: label::DateSaid) -> wire::SaidDate {
    let label::DateSaid { date, precision, also, doubtful, repaired: _, from } = said;
    wire::SaidDate {
        value: CivilDate(date),
        precision: precision.into(),
        confirm: doubtful || !also.is_empty(),
        also: also.into_iter().map(CivilDate).collect(),
        from: from.into(),
    }
}

fn symbol_data(voice: Voice<'_>, symbol: label::SymbolReading) -> wire::SymbolData {
    let label::SymbolReading { standard, elements, faults } = symbol;
    wire::SymbolData {
        standard: standard.map(Into::into),
        elements: elements
            .into_iter()
            .map(|element| wire::SymbolElement {
                means: element.means(voice),
                key: element.key,
                value: element.value,
            })
            .collect(),
        faults: faults
            .iter()
            .map(|fault| wire::SymbolFault {
                at: fault.at,
                code: Cow::Borrowed(fault.code.as_str()),
                message: fault.says(voice),
            })
            .collect(),
    }
}
