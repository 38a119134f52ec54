//! What the reader answers.

use std::sync::Arc;

pub use etui_schema::label_readings::{LabelConflict as Conflict, TextSpan as Span};
use etui_schema::vocabulary::Configuration;
pub use etui_schema::vocabulary::label::{
    FitnessReason, FitnessState, Origin, Precision, ReadingOutcome as Outcome,
    RefusalCode as Refusal, SpanKind, Sterilisation as Method, SymbolStandard as Standard,
};
use jiff::civil::Date;

pub use super::because::Because;
pub use super::faults::{Fault, FaultCode};
use super::lineage::Lineage;
use crate::text::{Voice, day};

/// Whether the pack may be used on the day asked about, and why not.
///
/// What is not known holds a pack as much as what is doubtful does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Fitness {
    bits: u32,
}

impl Fitness {
    /// The fitness of a pack with one reason.
    #[must_use]
    pub fn of(reason: FitnessReason) -> Self {
        let mut fitness = Self::default();
        fitness.add(reason);
        fitness
    }

    pub(crate) fn add(&mut self, reason: FitnessReason) {
        self.bits |= 1 << reason as u16;
    }

    /// The worst state of all reasons.
    #[must_use]
    pub fn state(self) -> FitnessState {
        self.reasons().map(FitnessReason::state).max().unwrap_or_default()
    }

    /// Whether the pack is fit: nothing forbids the use and nothing is open.
    #[must_use]
    pub fn usable(self) -> bool {
        self.state() == FitnessState::Fit
    }

    /// The reasons, in the order of the list.
    pub fn reasons(self) -> impl Iterator<Item = FitnessReason> {
        let bits = self.bits;
        FitnessReason::ALL.iter().copied().filter(move |r| bits >> *r as u16 & 1 == 1)
    }
}

/// A value and where it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said<T> {
    /// The value.
    pub value: T,
    /// Where it was read.
    pub from: Origin,
}

/// A date, every reading of it, and where it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DateSaid {
    /// The day that counts: the last usable one, the earliest of all readings.
    pub date: Date,
    /// How much of the day was told.
    pub precision: Precision,
    /// Other readings, later ones after it.
    pub also: Vec<Date>,
    /// Whether a person should confirm it.
    pub doubtful: bool,
    /// Whether letters were read as digits: then the year alone is sure.
    pub repaired: bool,
    /// Where it was read.
    pub from: Origin,
}

impl DateSaid {
    /// A date that leaves nothing open.
    pub(crate) fn sure(date: Date, precision: Precision, from: Origin) -> Self {
        Self { date, precision, also: Vec::new(), doubtful: false, repaired: false, from }
    }

    /// The latest day that it can mean.
    #[must_use]
    pub fn latest(&self) -> Date {
        let last = self.also.iter().copied().fold(self.date, Date::max);
        if self.repaired { last.last_of_year() } else { last }
    }
}

/// What is known of the pack besides the configuration.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Packet {
    /// The maker's batch.
    pub lot: Option<Said<String>>,
    /// Further batches that print or symbol name: a recall of any of them is meant for it.
    pub other_lots: Vec<String>,
    /// Last usable day.
    pub expires_on: Option<DateSaid>,
    /// Day of manufacture; the month's first if only a month is told.
    pub made_on: Option<DateSaid>,
    /// Catalogue number.
    pub reference: Option<Said<String>>,
    /// GTIN in its 14-digit form.
    pub gtin: Option<Said<String>>,
    /// Serial number.
    pub serial: Option<Said<String>>,
    /// Pieces in the pack.
    pub quantity: Option<Said<u32>>,
    /// How it was sterilised.
    pub sterilised_by: Option<Said<Method>>,
    /// Whether it may be used once only.
    pub single_use: Option<Said<bool>>,
}

impl Packet {
    /// Whose it is by what stands on it.
    #[must_use]
    pub(crate) fn lineage(&self) -> Lineage<'_> {
        fn text(said: Option<&Said<String>>) -> Option<&str> {
            said.map(|said| &*said.value)
        }
        Lineage {
            maker: None,
            gtin: text(self.gtin.as_ref()),
            reference: text(self.reference.as_ref()),
        }
    }
}

/// One element of a symbol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SymbolElement {
    /// Application identifier, or the name of the HIBC part.
    pub key: Arc<str>,
    /// The value as written.
    pub value: String,
    /// The key of what it is called.
    pub(crate) title: Arc<str>,
    /// The day that it stands for.
    pub(crate) day: Option<(Date, Precision)>,
}

impl SymbolElement {
    /// What it is, and for a date the day it stands for.
    #[must_use]
    pub fn means(&self, voice: Voice<'_>) -> String {
        let title = voice.fill(&self.title, &[("digits", &self.value.len().to_string())]);
        let Some((date, precision)) = self.day else { return title };
        let key = match precision {
            Precision::Day => "element.day",
            Precision::Month | Precision::Year => "element.month",
        };
        voice.fill(key, &[("title", &title), ("day", &day(voice.language(), date))])
    }
}

/// What a symbol said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SymbolReading {
    /// Whose data it is; none if that could not be told.
    pub standard: Option<Standard>,
    /// Elements in their order.
    pub elements: Vec<SymbolElement>,
    /// What is wrong with it.
    pub faults: Vec<Fault>,
}

/// One reading of the configuration.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// What was read; what was not told is absent.
    pub configuration: Configuration,
    /// How sure the reader is, 0 to 1: `etui-model`, an order and not a
    /// probability.
    pub certainty: f64,
    /// Whether the points are said to be pinched closer than usual.
    pub tight: bool,
    pub(crate) because: Reasons,
}

impl Candidate {
    /// The canonical text of the configuration.
    #[must_use]
    pub fn canonical(&self) -> String {
        self.configuration.canonical()
    }

    /// What the label did not tell, by its field name. A taper that is not
    /// told is not missing: most labels have none.
    pub fn missing(&self) -> impl Iterator<Item = &'static str> + use<> {
        let c = &self.configuration;
        [
            c.diameter_mm.is_none().then_some("diameter_mm"),
            c.count.is_none().then_some("count"),
            c.grouping.is_none().then_some("grouping"),
        ]
        .into_iter()
        .flatten()
    }

    /// Why it is read so.
    #[must_use]
    pub fn because(&self) -> &[Because] {
        self.because.as_slice()
    }
}

/// Up to eight reasons, in place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reasons {
    all: [Because; 8],
    len: u8,
}

impl Reasons {
    pub(crate) const NONE: Self = Self { all: [Because::Canonical; 8], len: 0 };

    pub(crate) fn push(&mut self, reason: Because) {
        let len = usize::from(self.len);
        if len < self.all.len() && !self.as_slice().contains(&reason) {
            self.all[len] = reason;
            self.len += 1;
        }
    }

    pub(crate) fn as_slice(&self) -> &[Because] {
        &self.all[..usize::from(self.len)]
    }
}

/// Everything about one label.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// How far it could be read.
    pub outcome: Outcome,
    /// Why the text was not read, if it was not.
    pub refusal: Option<Refusal>,
    /// Readings of the configuration, best first.
    pub candidates: Vec<Candidate>,
    /// The packet's own data.
    pub packet: Packet,
    /// The latest last day of use that print and symbol allow, whatever was read of it with doubt
    /// or not at all; none if they say nothing of it.
    pub expires_until: Option<Date>,
    /// The symbol, if one was sent.
    pub symbol: Option<SymbolReading>,
    /// Whether the pack may be used on the day asked about.
    pub fitness: Fitness,
    /// What the parts of the text were read as, in the order of the text.
    pub spans: Vec<Span>,
    /// Parts of the text that mean nothing to the reader.
    pub unread: Vec<String>,
    /// Contradictions.
    pub conflicts: Vec<Conflict>,
}
