//! Reading packets: print and symbol in, readings with their certainty out.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use garde::Validate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_with::skip_serializing_none;

use crate::service::Basis;
use crate::vocabulary::{CivilDate, Configuration, UnknownWord, words};

words! {
    /// The last usable day of "use by" and "use before" with a month only.
    /// EXP and the hourglass always mean the end of the month.
    MonthRule, "month rule" {
        /// Both readings are shown; the earlier counts.
        Earlier = "earlier",
        /// The end of the month named.
        EndOfMonth = "end_of_month",
        /// The end of the month before.
        EndOfMonthBefore = "end_of_month_before",
    }
}

words! {
    /// How far a label could be read.
    ReadingOutcome, "outcome" {
        /// One reading, complete, nothing to ask.
        Clear = "clear",
        /// Several readings, or one that a person should confirm.
        Ambiguous = "ambiguous",
        /// One reading that lacks something, or none and no contradiction.
        Incomplete = "incomplete",
        /// Not read; `refusal` or the symbol's faults say why.
        Refused = "refused",
    }
}

words! {
    /// Why a text was not read at all.
    RefusalCode, "refusal" {
        /// There is no text.
        Empty = "empty",
        /// Longer than 2,000 characters.
        TooLong = "too_long",
        /// Control characters.
        ControlCharacters = "control_characters",
        /// Marks that change the direction of text.
        DirectionMarks = "direction_marks",
        /// Invisible characters.
        InvisibleCharacters = "invisible_characters",
        /// Pictures.
        Pictures = "pictures",
        /// Two labels in one text.
        SeveralLabels = "several_labels",
        /// A number is no needle size that is sold.
        NoSuchSize = "no_such_size",
        /// Marked as acupuncture needles are.
        Filiform = "filiform",
        /// Nothing of a needle packet was found.
        NotALabel = "not_a_label",
        /// The reader itself failed: our fault, and not the label's.
        ReaderFailed = "reader_failed",
    }
}

words! {
    /// Whether a pack may be used on the day.
    FitnessState, "fitness state" {
        /// In date and sterile by what stands on it, and nothing is open.
        Fit = "fit",
        /// Something is open that a person must settle before the pack is
        /// used. What is not known is open.
        ToConfirm = "to_confirm",
        /// What stands on it forbids the use.
        Unfit = "unfit",
    }
}

words! {
    /// What speaks about the use of a pack on the day, and the best state that
    /// a pack can be in with it.
    FitnessReason, "fitness reason" {
        /// Past its expiry. Unfit.
        Expired = "expired",
        /// Print and symbol contradict each other. To confirm.
        LabelConflict = "label_conflict",
        /// A value of the symbol ends like a date that lost its separator. To confirm.
        SwallowedSeparator = "swallowed_separator",
        /// The expiry lies before the manufacture. To confirm.
        DatesContradict = "dates_contradict",
        /// A date that has passed stands without a word; it may be the expiry. To confirm.
        DateWithoutWord = "date_without_word",
        /// Not sterile, or to be sterilised first. Unfit.
        NotSterile = "not_sterile",
        /// Damaged or opened. Unfit.
        Damaged = "damaged",
        /// Marked for more than one use. Unfit.
        Reusable = "reusable",
        /// Nothing could be read that says what the pack is. To confirm.
        Unreadable = "unreadable",
        /// The expiry has several readings; the earliest counts. To confirm.
        AmbiguousExpiry = "ambiguous_expiry",
        /// No expiry was read, which does not mean that there is none. To confirm.
        ExpiryUnknown = "expiry_unknown",
        /// A date of expiry stands there and could not be read. To confirm.
        ExpiryUnreadable = "expiry_unreadable",
        /// The word in front of the expiry is known from no source. To confirm.
        ExpiryWordUnproven = "expiry_word_unproven",
        /// Nothing clear was read about sterility. To confirm.
        SterilityUnknown = "sterility_unknown",
        /// The symbol has faults; what is wrong in it was not used. To confirm.
        SymbolFaulty = "symbol_faulty",
        /// The pack says to look for damage before use. Fit.
        CheckPack = "check_pack",
    }
}

words! {
    /// Where a value was read.
    Origin, "origin" {
        /// In the printed text.
        Text = "text",
        /// In the symbol.
        Symbol = "symbol",
    }
}

words! {
    /// How much of a day was told.
    Precision, "precision" {
        /// The day.
        Day = "day",
        /// The month.
        Month = "month",
        /// The year.
        Year = "year",
    }
}

words! {
    /// How a pack was sterilised (ISO 15223-1, 5.2).
    Sterilisation, "sterilisation" {
        /// Ethylene oxide.
        EthyleneOxide = "ethylene_oxide",
        /// Irradiation.
        Irradiation = "irradiation",
        /// Aseptic processing.
        Aseptic = "aseptic",
        /// Steam or dry heat.
        Heat = "heat",
        /// Sterile; how is not told.
        NotTold = "not_told",
    }
}

words! {
    /// Whose data a symbol carries.
    SymbolStandard, "standard" {
        /// GS1 elements.
        Gs1 = "gs1",
        /// HIBC supplier data.
        Hibc = "hibc",
        /// A trade item number alone.
        Gtin = "gtin",
        /// Neither: free text.
        Text = "text",
    }
}

words! {
    /// What a part of the text was read as.
    SpanKind, "span" {
        /// Diameter of one needle.
        Diameter = "diameter",
        /// Number of needles.
        Count = "count",
        /// How the needles are bound.
        Grouping = "grouping",
        /// Length of the point.
        Taper = "taper",
        /// A word that changes what the rest means.
        Mark = "mark",
        /// Batch.
        Lot = "lot",
        /// Expiry.
        ExpiresOn = "expires_on",
        /// Manufacture.
        MadeOn = "made_on",
        /// Catalogue number.
        Reference = "reference",
        /// Trade item number.
        Gtin = "gtin",
        /// Serial number.
        Serial = "serial",
        /// Pieces in the pack.
        Quantity = "quantity",
        /// Sterile or not, and how.
        Sterility = "sterility",
        /// Used once or more often.
        SingleUse = "single_use",
        /// A notice to the user.
        Notice = "notice",
        /// A remark that the pack is damaged.
        Damage = "damage",
        /// The printed form of a symbol.
        Elements = "elements",
        /// A word without meaning for the configuration.
        PackWord = "pack_word",
    }
}

/// Labels to read.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
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
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LabelReading {
    /// How far it could be read.
    pub outcome: ReadingOutcome,
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
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LabelQuestion {
    /// The question, in the language asked for.
    pub text: String,
    /// Readings that may be chosen, best first; empty if what is asked for is
    /// not on the label at all.
    pub choices: Vec<LabelChoice>,
}

/// One answer to the question.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LabelChoice {
    /// The reading as canonical text, which can be sent back as a label.
    pub canonical: String,
    /// The same by its fields.
    pub configuration: Configuration,
}

/// Why a text was not read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LabelRefusal {
    /// As a word.
    pub code: RefusalCode,
    /// What to do.
    pub message: Cow<'static, str>,
}

/// One reading of the configuration.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SaidText {
    /// The value as written.
    pub value: String,
    /// Where it was read.
    pub from: Origin,
}

/// A date and where it was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SaidDate {
    /// The day that counts: for an expiry the last usable day, and the
    /// earliest of all readings.
    pub value: CivilDate,
    /// How much of the day was told.
    pub precision: Precision,
    /// The other readings.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub also: Vec<CivilDate>,
    /// Whether a person should confirm it.
    pub confirm: bool,
    /// Where it was read.
    pub from: Origin,
}

/// A quantity and where it was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SaidQuantity {
    /// Pieces in the pack.
    pub value: u32,
    /// Where it was read.
    pub from: Origin,
}

/// How the pack was sterilised and where that was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SaidSterilisation {
    /// How.
    pub value: Sterilisation,
    /// Where it was read.
    pub from: Origin,
}

/// Yes or no, and where it was read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SaidYesOrNo {
    /// Yes or no.
    pub value: bool,
    /// Where it was read.
    pub from: Origin,
}

/// The packet's own data; what was not read is absent.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
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
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SymbolData {
    /// Whose data it is; absent if that could not be told.
    pub standard: Option<SymbolStandard>,
    /// Its elements in their order.
    pub elements: Vec<SymbolElement>,
    /// What is wrong with it.
    pub faults: Vec<SymbolFault>,
}

/// One element of a symbol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SymbolElement {
    /// Application identifier, or the name of the HIBC part.
    pub key: String,
    /// The value as written.
    pub value: String,
    /// What it says.
    pub means: String,
}

/// One fault of a symbol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
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
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PackFitness {
    /// Whether it may be used: the worst state of all reasons.
    pub state: FitnessState,
    /// Whether the pack may be used on the day: true for `fit` alone. The pack
    /// itself must still be looked at.
    pub usable: bool,
    /// What forbids it, what is open, and what asks for care.
    pub reasons: Vec<FitnessReason>,
    /// What a person must answer before the pack is used: one question for
    /// each reason that is to be confirmed, in the language asked for.
    pub questions: Vec<FitnessQuestion>,
}

/// A question that settles why a pack is not fit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FitnessQuestion {
    /// The reason that it settles.
    pub reason: FitnessReason,
    /// The question, for the person who holds the pack.
    pub text: String,
}

/// What a part of the text was read as.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct TextSpan {
    /// The first character, counted from 0.
    pub start: usize,
    /// The character after the last.
    pub end: usize,
    /// What it was read as.
    pub kind: SpanKind,
}

/// A contradiction between print and symbol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct LabelConflict {
    /// The field of the packet.
    pub field: Cow<'static, str>,
    /// What the print says.
    pub text: String,
    /// What the symbol says.
    pub symbol: String,
}
