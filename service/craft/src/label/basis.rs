//! Where the values of readings come from.
//!
//! One list for an answer: what its labels used, each once. Words, sizes and
//! parameters carry their source in the rule data; whose standard a symbol
//! follows stands here.

use super::reading::{Because, FitnessReason, Reading, Refusal, Standard};
use super::tables::{ConfigurationFile, FieldFile};
use crate::evidence::Basis;
use crate::rules::Origin;

/// What a reading may rest on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Topic {
    Certainty,
    Words,
    Sizes,
    Range,
    Gauges,
    Inches,
    Slang,
    Zeros,
    Counts,
    Packs,
    NeedleBars,
    Filiform,
    Fields,
    Misread,
    ShelfLife,
    Elements,
    ElementDates,
    Links,
    Hibc,
}

/// What readings rest on, as a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Topics(u32);

impl Topics {
    /// What one reading rests on.
    #[must_use]
    pub fn of(reading: &Reading) -> Self {
        let mut topics = Self::default();
        used(reading, &mut topics);
        topics
    }

    /// What both rest on.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    fn extend(&mut self, topics: impl IntoIterator<Item = Topic>) {
        topics.into_iter().for_each(|topic| self.0 |= 1 << topic as u32);
    }

    const fn contains(self, topic: Topic) -> bool {
        self.0 >> topic as u32 & 1 == 1
    }
}

/// The sources of every topic, looked up once.
#[derive(Debug, Clone, Default)]
pub(crate) struct Origins {
    all: Vec<(Topic, Basis)>,
}

impl Origins {
    pub(crate) fn new(
        configuration: &ConfigurationFile,
        fields: &FieldFile,
        elements: &Origin,
    ) -> Self {
        let other = &fields.sources;
        let c = configuration;
        let mut rows: Vec<(Topic, &str, &Origin)> = vec![
            (Topic::Certainty, "certainty of readings", &c.certainty.source),
            (Topic::Words, "codes and words of needles", c.source()),
            (Topic::Sizes, "size numbers", c.source()),
            (Topic::Sizes, "hundredths of a millimetre", &c.hundredths.source),
            (Topic::Range, "diameters that are sold", &c.range.source),
            (Topic::Inches, "inches", &c.inch.source),
            (Topic::Counts, "usual counts", &c.counts.source),
            (Topic::Packs, "usual quantities of packs", &c.pack.source),
            (Topic::NeedleBars, "needle bars", &c.needle_bar.source),
            (Topic::Filiform, "marking of acupuncture needles", &c.filiform.source),
            (Topic::Fields, "words of packets and their dates", fields.source()),
            (Topic::Misread, "dates that are misread", &other.misread),
            (Topic::ShelfLife, "longest shelf life", &fields.shelf_life.source),
            (Topic::Elements, "elements of symbols", elements),
            (Topic::ElementDates, "dates in symbols", &other.element_dates),
            (Topic::Links, "addresses in symbols", &other.links),
            (Topic::Hibc, "HIBC symbols", &other.hibc),
        ];
        rows.extend(c.gauge.iter().map(|g| (Topic::Gauges, "hypodermic gauges", &g.source)));
        rows.extend(c.slang.iter().map(|s| (Topic::Slang, "slang of sizes", &s.source)));
        rows.extend(c.zeros.iter().map(|z| (Topic::Zeros, "zeros as sizes", &z.source)));
        let basis = |(topic, about, origin): (Topic, &str, &Origin)| (topic, origin.basis(about));
        Self { all: rows.into_iter().map(basis).collect() }
    }

    /// The sources of what readings rest on, each once.
    pub(crate) fn of(&self, topics: Topics) -> Vec<Basis> {
        let rows = self.all.iter().filter(|(topic, _)| topics.contains(*topic));
        let mut found: Vec<Basis> = rows.map(|(_, basis)| basis.clone()).collect();
        found.sort();
        found.dedup();
        found
    }
}

fn used(reading: &Reading, topics: &mut Topics) {
    if !reading.candidates.is_empty() {
        topics.extend([Topic::Certainty, Topic::Words]);
    }
    let reasons = reading.candidates.iter().flat_map(|c| c.because());
    topics.extend(reasons.filter_map(|reason| topic(*reason)));
    match reading.refusal {
        Some(Refusal::Filiform) => topics.extend([Topic::Filiform]),
        Some(Refusal::NoSuchSize) => topics.extend([Topic::Sizes, Topic::Range]),
        Some(
            Refusal::Empty
            | Refusal::TooLong
            | Refusal::ControlCharacters
            | Refusal::DirectionMarks
            | Refusal::InvisibleCharacters
            | Refusal::Pictures
            | Refusal::SeveralLabels
            | Refusal::NotALabel
            | Refusal::ReaderFailed,
        )
        | None => {}
    }
    let packet = &reading.packet;
    let dates = [&packet.expires_on, &packet.made_on];
    if dates.iter().any(|date| date.is_some()) || packet.lot.is_some() {
        topics.extend([Topic::Fields]);
    }
    if dates.iter().copied().flatten().any(|date| date.doubtful || !date.also.is_empty()) {
        topics.extend([Topic::Misread]);
    }
    let lasts = |reason| {
        matches!(reason, FitnessReason::ManufactureImprobable | FitnessReason::ExpiryImprobable)
    };
    if reading.fitness.reasons().any(lasts) {
        topics.extend([Topic::ShelfLife]);
    }
    let Some(symbol) = &reading.symbol else { return };
    match symbol.standard {
        Some(Standard::Gs1) => {
            topics.extend([Topic::Elements, Topic::ElementDates, Topic::Links]);
        }
        Some(Standard::Gtin) => topics.extend([Topic::Elements]),
        Some(Standard::Hibc) => topics.extend([Topic::Hibc]),
        Some(Standard::Text) | None => {}
    }
}

#[expect(clippy::wildcard_enum_match_arm, reason = "the other reasons are of words")]
const fn topic(reason: Because) -> Option<Topic> {
    Some(match reason {
        Because::Size(..)
        | Because::SizeRange(..)
        | Because::SizeRare(_)
        | Because::Hundredths(_) => Topic::Sizes,
        Because::Gauge(_) => Topic::Gauges,
        Because::Inches(..) | Because::AssumedInches => Topic::Inches,
        Because::Bugpin
        | Because::BugpinAgrees
        | Because::BugpinContradicts
        | Because::Standard => Topic::Slang,
        Because::Zeros(_) => Topic::Zeros,
        Because::UnusualCount(_) | Because::EvenMagnum(_) | Because::TooManyToBeCount(_) => {
            Topic::Counts
        }
        Because::Pack(_) | Because::MayBePack(_) => Topic::Packs,
        Because::NeedleBar(_) => Topic::NeedleBars,
        _ => return None,
    })
}
