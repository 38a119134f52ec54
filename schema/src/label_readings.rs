//! Reading packets: print and symbol in, readings with their certainty out.

use crate::kinds::{sent, told};
use std::borrow::Cow;
use std::sync::Arc;

use crate::open::Open;
use crate::service::Basis;
pub use crate::vocabulary::label::{
    FitnessReason, FitnessState, MonthRule, Origin, Precision, ReadingOutcome, RefusalCode,
    SpanKind, Sterilisation, SymbolStandard,
};
use crate::vocabulary::{CivilDate, Configuration};

/// Labels to read.
#[sent(Eq, free)]
pub struct LabelReadingsRequest {
    /// One label a packet, 1 to 1,000. Each has an outcome of its own.
    #[garde(length(min = 1, max = 1000), dive)]
    pub labels: Vec<LabelInput>,
    /// The day to read them on: fitness, and the century of two-digit years.
    /// Today in the studio's zone if absent.
    pub as_of: Option<CivilDate>,
    /// What "use by" with a month only means; `earlier` if absent.
    pub use_by_month: Option<MonthRule>,
}

/// One label: give `text`, `symbol`, or both.
#[sent(Eq, Default)]
pub struct LabelInput {
    /// What is printed, typed or read by OCR. More than 2,000 characters are
    /// refused in the answer.
    #[garde(length(chars, max = 200_000))]
    pub text: Option<String>,
    /// What the scanner sent, not trimmed: a space may be a check character.
    #[garde(length(chars, max = 200_000))]
    pub symbol: Option<String>,
    /// The maker or supplier as the studio calls it, if it is known. Packs of spellings
    /// that are a maker's own are used with it alone.
    #[garde(length(chars, min = 1, max = 80))]
    pub maker: Option<String>,
    /// The catalogue number, if it is known from elsewhere. If another one stands on the
    /// label, neither is believed where a pack of spellings asks for it.
    #[garde(length(chars, min = 1, max = 40))]
    pub reference: Option<String>,
}

/// What the labels say.
#[told]
pub struct LabelReadings {
    /// The day they were read on.
    pub as_of: CivilDate,
    /// One reading a label, in the order of the request.
    pub readings: Vec<LabelReading>,
    /// Where sizes, words, certainties and elements come from that these
    /// readings used.
    #[serde(default)]
    pub basis: Vec<Basis>,
}

/// What one label says.
#[told]
pub struct LabelReading {
    /// How far it could be read.
    pub outcome: Open<ReadingOutcome>,
    /// Why the text was not read, if it was not.
    pub refusal: Option<LabelRefusal>,
    /// Readings of the configuration, best first.
    pub candidates: Vec<LabelCandidate>,
    /// The packet's own data.
    pub packet: PacketData,
    /// What the symbol says, if one was sent.
    pub symbol: Option<SymbolData>,
    /// Whether the pack may be used on the day.
    pub fitness: PackFitness,
    /// What the parts of the text were read as, in the order of the text.
    pub spans: Vec<TextSpan>,
    /// Parts of the text that mean nothing to the reader.
    pub unread: Vec<String>,
    /// Contradictions between print and symbol.
    pub conflicts: Vec<LabelConflict>,
    /// What a person must say so that the configuration is settled; absent if
    /// it is clear, or if nothing was read of it.
    pub question: Option<LabelQuestion>,
}

/// The question that settles a configuration.
#[told]
pub struct LabelQuestion {
    /// The question, in the language asked for.
    pub text: String,
    /// Readings that may be chosen, best first; empty if what is asked for is
    /// not on the label at all.
    pub choices: Vec<LabelChoice>,
}

/// One answer to the question.
#[told]
pub struct LabelChoice {
    /// The reading as canonical text, which can be sent back as a label.
    pub canonical: String,
    /// The same by its fields.
    pub configuration: Configuration,
}

/// Why a text was not read.
#[told(Eq)]
pub struct LabelRefusal {
    /// As a word.
    pub code: Open<RefusalCode>,
    /// What to do.
    pub message: Cow<'static, str>,
}

/// One reading of the configuration.
#[told]
pub struct LabelCandidate {
    /// What was read; what was not told is absent.
    pub configuration: Configuration,
    /// The configuration as canonical text.
    pub canonical: String,
    /// How sure the reader is, 0 to 1: a model assumption that orders the
    /// readings, not a probability.
    #[schemars(range(min = 0.0, max = 1.0))]
    pub certainty: f64,
    /// Fields of the configuration that the label did not tell.
    pub missing: Vec<Cow<'static, str>>,
    /// Why it is read so; `basis` of the answer says where that comes from.
    pub because: Vec<Cow<'static, str>>,
    /// Label-spellings packs whose spellings were used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub packs: Vec<String>,
}

/// A text and where it was read.
#[told(Eq)]
pub struct SaidText {
    /// The value as written.
    pub value: String,
    /// Where it was read.
    pub from: Open<Origin>,
}

/// A date and where it was read.
#[told(Eq)]
pub struct SaidDate {
    /// The day that counts: for an expiry the last usable day, and the
    /// earliest of all readings.
    pub value: CivilDate,
    /// How much of the day was told.
    pub precision: Open<Precision>,
    /// The other readings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<CivilDate>,
    /// Whether a person should confirm it.
    pub confirm: bool,
    /// Where it was read.
    pub from: Open<Origin>,
}

/// A quantity and where it was read.
#[told(Eq)]
pub struct SaidQuantity {
    /// Pieces in the pack.
    pub value: u32,
    /// Where it was read.
    pub from: Open<Origin>,
}

/// How the pack was sterilised and where that was read.
#[told(Eq)]
pub struct SaidSterilisation {
    /// How.
    pub value: Open<Sterilisation>,
    /// Where it was read.
    pub from: Open<Origin>,
}

/// Yes or no, and where it was read.
#[told(Eq)]
pub struct SaidYesOrNo {
    /// Yes or no.
    pub value: bool,
    /// Where it was read.
    pub from: Open<Origin>,
}

/// The packet's own data; what was not read is absent.
#[told(Eq, Default)]
pub struct PacketData {
    /// The maker's batch.
    pub lot: Option<SaidText>,
    /// Last usable day.
    pub expires_on: Option<SaidDate>,
    /// Day of manufacture.
    pub made_on: Option<SaidDate>,
    /// Catalogue number.
    pub reference: Option<SaidText>,
    /// Trade item number in its 14-digit form.
    pub gtin: Option<SaidText>,
    /// Serial number.
    pub serial: Option<SaidText>,
    /// Pieces in the pack.
    pub quantity: Option<SaidQuantity>,
    /// How it was sterilised.
    pub sterilised_by: Option<SaidSterilisation>,
    /// Whether it may be used once only.
    pub single_use: Option<SaidYesOrNo>,
}

/// What a symbol says.
#[told(Eq)]
pub struct SymbolData {
    /// Whose data it is; absent if that could not be told.
    pub standard: Option<Open<SymbolStandard>>,
    /// Its elements in their order.
    pub elements: Vec<SymbolElement>,
    /// What is wrong with it.
    pub faults: Vec<SymbolFault>,
}

/// One element of a symbol.
#[told(Eq)]
pub struct SymbolElement {
    /// Application identifier, or the name of the HIBC part.
    pub key: Arc<str>,
    /// The value as written.
    pub value: String,
    /// What it says.
    pub means: String,
}

/// One fault of a symbol.
#[told(Eq)]
pub struct SymbolFault {
    /// Where: the number of characters before it in the symbol as sent.
    pub at: usize,
    /// What, as a word of a closed list: for the data of GS1 elements the
    /// words of the GS1 Barcode Syntax Tests in lower case, otherwise ours.
    pub code: Cow<'static, str>,
    /// What, in a sentence.
    pub message: String,
}

/// Whether a pack may be used on the day.
#[told(Eq)]
pub struct PackFitness {
    /// Whether it may be used: the worst state of all reasons.
    pub state: Open<FitnessState>,
    /// Whether the pack may be used on the day: true for `fit` alone. The pack
    /// itself must still be looked at.
    pub usable: bool,
    /// What forbids it, what is open, and what asks for care.
    pub reasons: Vec<Open<FitnessReason>>,
    /// What a person must answer before the pack is used: one question for
    /// each reason that is to be confirmed, in the language asked for.
    pub questions: Vec<FitnessQuestion>,
}

/// A question that settles why a pack is not fit.
#[told(Eq)]
pub struct FitnessQuestion {
    /// The reason that it settles.
    pub reason: Open<FitnessReason>,
    /// The question, for the person who holds the pack.
    pub text: String,
}

/// What a part of the text was read as.
#[told(Eq)]
pub struct TextSpan {
    /// The first character, counted from 0.
    pub start: usize,
    /// The character after the last.
    pub end: usize,
    /// What it was read as.
    pub kind: Open<SpanKind>,
}

/// A contradiction between print and symbol.
#[told(Eq)]
pub struct LabelConflict {
    /// The field of the packet.
    pub field: Cow<'static, str>,
    /// What the print says.
    pub text: String,
    /// What the symbol says.
    pub symbol: String,
}
