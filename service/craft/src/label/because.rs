//! Why a label is read as it is: small values, put into words on demand. The
//! words stand in `rules/texts/label.*.toml`.

use std::borrow::Cow;

use super::faults::{FaultCode, fault_key};
use super::reading::{FitnessReason, Refusal};
use super::symbol::PARTS;
use super::tables::Note;
use crate::rules::RuleFault;
use crate::text::{Catalogue, Voice, texts};

/// One reason of a reading. Diameters are in thousandths of a millimetre.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Because {
    /// Written exactly as the canonical text is.
    Canonical,
    /// A size number and its diameter.
    Size(u8, u16),
    /// A size number on whose diameter sources differ: least, most.
    SizeRange(u8, u16, u16),
    /// A size number that is rare or disputed.
    SizeRare(u8),
    /// Two digits that mean hundredths.
    Hundredths(u8),
    /// A diameter written with its decimals or its unit.
    Literal,
    /// Three digits without a unit, taken for micrometres.
    AssumedMicrometres,
    /// Two digits before a count that may themselves be a count.
    MayBeCount(u8),
    /// The number that touches the code is the count.
    CountTouches(u8),
    /// Four digits split into diameter and count.
    TwoAndTwo,
    /// Three digits split into diameter and count.
    ThreeDigits,
    /// More needles than any grouping has, so two numbers.
    TooManyToBeCount(u8),
    /// A count that is not usual for the grouping.
    UnusualCount(u8),
    /// A magnum with an even count.
    EvenMagnum(u8),
    /// The last number may be the quantity in the pack.
    MayBePack(u8),
    /// A number taken for the quantity in the pack.
    Pack(u8),
    /// A number alone.
    BareNumber,
    /// Four digits alone.
    MayBeLot,
    /// Which of two numbers is which is not told.
    EitherOrder,
    /// Count before diameter.
    CountFirst,
    /// What the grouping code alone does not tell.
    Noted(Note),
    /// On hand tools the number counts pins.
    Pins(u8),
    /// One needle: liner or shader makes no difference.
    Single,
    /// A word of style.
    Nano,
    /// "bugpin" agrees with the diameter.
    BugpinAgrees,
    /// "bugpin" in its strict or loose sense.
    Bugpin,
    /// "bugpin" beside a thicker needle.
    BugpinContradicts,
    /// "standard" as a diameter.
    Standard,
    /// Hypodermic gauge.
    Gauge(u8),
    /// Ten-thousandths of an inch, and the diameter they are.
    Inches(u16, u16),
    /// Thousandths of an inch without a unit.
    AssumedInches,
    /// Zeros alone as a diameter.
    Zeros(u16),
    /// T alone.
    TAlone,
    /// Letters of another alphabet that look like ours.
    OtherAlphabet,
    /// The label stands there twice, with one meaning.
    SaidTwice,
    /// A needle-bar diameter of older machines.
    NeedleBar(u16),
    /// Letters of a run can be cut in two ways.
    CutOtherwise,
    /// The digit behind M may belong to the code or to the number.
    MagnumDigit,
    /// Something beside it could not be read.
    Beside,
    /// A character was read for another.
    Repaired(u8, u8),
    /// A blank inside a word or number was closed.
    Closed,
    /// A missing separator was assumed.
    Opened,
    /// Read from the catalogue number.
    FromReference,
    /// The symbol agrees with the print.
    SymbolAgrees,
    /// A spelling of a pack was used; which, counted from 0.
    FromPack(u8),
}

impl Because {
    /// The reason in words: a sentence without a full stop.
    #[must_use]
    pub fn says(self, voice: Voice<'_>) -> String {
        let values = self.values(voice);
        let values: Vec<(&str, &str)> =
            values.iter().map(|(place, value)| (*place, &**value)).collect();
        voice.fill(&self.key(), &values)
    }

    /// The key of its words.
    fn key(self) -> Cow<'static, str> {
        let key = match self {
            Self::Canonical => "because.canonical",
            Self::Size(..) => "because.size",
            Self::SizeRange(_, least, most) if least == most => "because.size_one",
            Self::SizeRange(..) => "because.size_range",
            Self::SizeRare(_) => "because.size_rare",
            Self::Hundredths(_) => "because.hundredths",
            Self::Literal => "because.literal",
            Self::AssumedMicrometres => "because.assumed_micrometres",
            Self::MayBeCount(_) => "because.may_be_count",
            Self::CountTouches(_) => "because.count_touches",
            Self::TwoAndTwo => "because.two_and_two",
            Self::ThreeDigits => "because.three_digits",
            Self::TooManyToBeCount(_) => "because.too_many_to_be_count",
            Self::UnusualCount(_) => "because.unusual_count",
            Self::EvenMagnum(_) => "because.even_magnum",
            Self::MayBePack(_) => "because.may_be_pack",
            Self::Pack(_) => "because.pack",
            Self::BareNumber => "because.bare_number",
            Self::MayBeLot => "because.may_be_lot",
            Self::EitherOrder => "because.either_order",
            Self::CountFirst => "because.count_first",
            Self::Noted(note) => return format!("because.{note}").into(),
            Self::Pins(_) => "because.pins",
            Self::Single => "because.single",
            Self::Nano => "because.nano",
            Self::BugpinAgrees => "because.bugpin_agrees",
            Self::Bugpin => "because.bugpin",
            Self::BugpinContradicts => "because.bugpin_contradicts",
            Self::Standard => "because.standard",
            Self::Gauge(_) => "because.gauge",
            Self::Inches(..) => "because.inches",
            Self::AssumedInches => "because.assumed_inches",
            Self::Zeros(_) => "because.zeros",
            Self::TAlone => "because.t_alone",
            Self::OtherAlphabet => "because.other_alphabet",
            Self::SaidTwice => "because.said_twice",
            Self::NeedleBar(_) => "because.needle_bar",
            Self::CutOtherwise => "because.cut_otherwise",
            Self::MagnumDigit => "because.magnum_digit",
            Self::Beside => "because.beside",
            Self::Repaired(..) => "because.repaired",
            Self::Closed => "because.closed",
            Self::Opened => "because.opened",
            Self::FromReference => "because.from_reference",
            Self::SymbolAgrees => "because.symbol_agrees",
            Self::FromPack(_) => "because.from_pack",
        };
        key.into()
    }

    /// What its words are filled with.
    #[expect(clippy::wildcard_enum_match_arm, reason = "most reasons have no value")]
    fn values(self, voice: Voice<'_>) -> Vec<(&'static str, String)> {
        let mm = |thousandths| ("mm", voice.number(&millimetres(thousandths)));
        match self {
            Self::Size(n, thick) => vec![("size", n.to_string()), mm(thick)],
            Self::SizeRange(n, least, most) => vec![
                ("size", n.to_string()),
                mm(least),
                ("least", voice.number(&millimetres(least))),
                ("most", voice.number(&millimetres(most))),
            ],
            Self::SizeRare(n) => vec![("size", n.to_string())],
            Self::Hundredths(n)
            | Self::MayBeCount(n)
            | Self::CountTouches(n)
            | Self::TooManyToBeCount(n)
            | Self::UnusualCount(n)
            | Self::EvenMagnum(n)
            | Self::MayBePack(n)
            | Self::Pack(n)
            | Self::Pins(n)
            | Self::Gauge(n) => vec![("number", n.to_string())],
            Self::Inches(n, thick) => {
                let written = if n.is_multiple_of(10) {
                    format!("0.{:03}", n / 10)
                } else {
                    format!("0.{n:04}")
                };
                vec![("inches", voice.number(&written)), mm(thick)]
            }
            Self::Zeros(thick) | Self::NeedleBar(thick) => vec![mm(thick)],
            Self::Repaired(from, to) => {
                vec![("from", char::from(from).to_string()), ("to", char::from(to).to_string())]
            }
            _ => Vec::new(),
        }
    }
}

/// Thousandths as millimetres: two decimals, or three if needed.
fn millimetres(thousandths: u16) -> String {
    let (whole, rest) = (thousandths / 1000, thousandths % 1000);
    if rest.is_multiple_of(10) {
        format!("{whole}.{:02}", rest / 10)
    } else {
        format!("{whole}.{rest:03}")
    }
}

/// The key of why nothing is read.
pub(crate) fn refusal_key(code: Refusal) -> String {
    format!("refusal.{code}")
}

/// The questions, one for every reason that a person can settle, and those about
/// the configuration; why a label is read so, and why it is not read; what the
/// elements of a symbol are called (`titles`), and what can be wrong with them.
pub(crate) fn texts<'a>(titles: impl IntoIterator<Item = &'a str>) -> Result<Catalogue, RuleFault> {
    let of_fitness = FitnessReason::ALL.iter().filter_map(|reason| reason.question());
    let said = of_fitness.chain(super::question::KEYS.iter().copied());
    let refusals = Refusal::ALL.iter().map(|code| refusal_key(*code));
    let noted = Note::ALL.iter().map(|note| format!("because.{note}"));
    let faults = FaultCode::ALL.iter().map(|code| fault_key(*code));
    let parts = PARTS.iter().map(|part| format!("element.{part}"));
    let symbols = titles.into_iter().chain(["element.day", "element.month"]).map(str::to_owned);
    let said = said.map(str::to_owned).chain(refusals).chain(noted);
    texts!("label", said.chain(faults).chain(parts).chain(symbols))
}
