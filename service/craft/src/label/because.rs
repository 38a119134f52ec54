//! Why a label is read as it is: small values, put into words on demand.

use std::borrow::Cow;
use std::fmt;

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
    /// Points pinched closer.
    Tight,
    /// Tight, or textured.
    TightOrTextured,
    /// L alone.
    LinerAlone,
    /// S alone.
    ShaderAlone,
    /// R alone.
    RoundAlone,
    /// M alone.
    MagnumAlone,
    /// FS.
    ShaderOrSlope,
    /// FM.
    StraightMagnum,
    /// RLH.
    HollowOrHard,
    /// RM.
    RoundMagnum,
    /// Not for a machine.
    HandTool,
    /// "stacked".
    StackedAlone,
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
    /// "slope" without flat or magnum.
    SlopeAlone,
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
    /// Two codes, or two counts.
    Contradiction,
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

/// Thousandths as millimetres: two decimals, or three if needed.
struct Mm(u16);

impl fmt::Display for Mm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, thousandths) = (self.0 / 1000, self.0 % 1000);
        if thousandths.is_multiple_of(10) {
            write!(f, "{whole}.{:02} mm", thousandths / 10)
        } else {
            write!(f, "{whole}.{thousandths:03} mm")
        }
    }
}

impl Because {
    /// The reason in words: a sentence without a full stop.
    #[must_use]
    pub fn says(self) -> Cow<'static, str> {
        match self.fixed() {
            Some(text) => Cow::Borrowed(text),
            None => Cow::Owned(self.filled()),
        }
    }

    const fn fixed(self) -> Option<&'static str> {
        Some(match self {
            Self::Canonical => "written exactly as etui writes it",
            Self::Literal => "the diameter is written in millimetres or micrometres",
            Self::AssumedMicrometres => "three digits without a unit, taken for micrometres",
            Self::TwoAndTwo => "four digits are diameter, then count",
            Self::ThreeDigits => "three digits are not a usual form; confirm diameter and count",
            Self::AssumedInches => "too thin for millimetres, so taken for inches",
            Self::TAlone => "T alone is textured, tight, or a piece of a taper",
            Self::SlopeAlone => "slope alone is a sloped flat or a sloped magnum",
            Self::OtherAlphabet => "a letter of another alphabet was read as the one it looks like",
            Self::SaidTwice => "printed twice, with one meaning",
            Self::BareNumber => "a number alone may be a size or a count",
            Self::MayBeLot => "digits alone may be a date, a lot or an item number",
            Self::EitherOrder => "which number is the diameter is not told",
            Self::CountFirst => "written with the count first",
            Self::Tight => "tight: a round liner with its points pinched closer",
            Self::TightOrTextured => "RLT is tight or textured, depending on the maker",
            Self::LinerAlone => "L or liner alone is taken for round liner",
            Self::ShaderAlone => "S or shader alone is taken for round shader",
            Self::RoundAlone => "round; liner or shader is not told",
            Self::MagnumAlone => "magnum; woven or stacked is not told",
            Self::ShaderOrSlope => "FS is flat shader or sloped flat",
            Self::StraightMagnum => "FM is a straight magnum, or flat with medium taper",
            Self::HollowOrHard => "the H is hollow, or a maker's mark",
            Self::RoundMagnum => "round magnum; a few read RM as regular magnum",
            Self::HandTool => "a hand tool; not for a machine",
            Self::StackedAlone => "stacked is a magnum, or two rows of a flat",
            Self::Single => "one needle",
            Self::Nano => "nano is a word of style: one thin needle",
            Self::BugpinAgrees => "bugpin agrees with the diameter",
            Self::Bugpin => "bugpin is #8 in the strict sense, #10 or finer in the loose one",
            Self::BugpinContradicts => "bugpin does not fit a needle this thick",
            Self::Standard => "standard is #12 for tattooing, #10 for permanent makeup, or a taper",
            Self::CutOtherwise => "the letters can be cut in another way",
            Self::MagnumDigit => "the digit behind M may belong to the code or to the number",
            Self::Beside => "something beside it could not be read",
            Self::Contradiction => "the label contradicts itself",
            Self::Closed => "a blank inside a word or number was closed",
            Self::Opened => "a missing separator was assumed",
            Self::FromReference => "read from the catalogue number; confirm",
            Self::SymbolAgrees => "print and symbol agree",
            Self::FromPack(_) => "read with a spelling of one of the studio's packs",
            Self::Size(..)
            | Self::SizeRange(..)
            | Self::SizeRare(_)
            | Self::Hundredths(_)
            | Self::MayBeCount(_)
            | Self::CountTouches(_)
            | Self::TooManyToBeCount(_)
            | Self::UnusualCount(_)
            | Self::EvenMagnum(_)
            | Self::MayBePack(_)
            | Self::Pack(_)
            | Self::Pins(_)
            | Self::Gauge(_)
            | Self::Inches(..)
            | Self::Zeros(_)
            | Self::NeedleBar(_)
            | Self::Repaired(..) => return None,
        })
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the reasons without a value have a fixed sentence"
    )]
    fn filled(self) -> String {
        match self {
            Self::Size(n, mm) => format!("#{n} is {}", Mm(mm)),
            Self::SizeRange(n, least, most) if least == most => {
                format!("#{n}: one source only, {}", Mm(least))
            }
            Self::SizeRange(n, least, most) => {
                format!("#{n}: sources differ, {} to {}", Mm(least), Mm(most))
            }
            Self::SizeRare(n) => format!("#{n} is rare, and also a usual count; confirm"),
            Self::Hundredths(n) => format!("{n} is hundredths of a millimetre"),
            Self::MayBeCount(n) => format!("{n} may also be a count"),
            Self::CountTouches(n) => format!("{n} stands at the code, so it is the count"),
            Self::TooManyToBeCount(n) => format!("no grouping has {n} needles: two numbers"),
            Self::UnusualCount(n) => format!("{n} is not a usual count for it; confirm"),
            Self::EvenMagnum(n) => format!("magnums have odd counts, not {n}; confirm"),
            Self::MayBePack(n) => format!("{n} at the end may be the quantity in the pack"),
            Self::Pack(n) => format!("{n} is taken for the quantity in the pack"),
            Self::Pins(n) => format!("on hand tools the number counts pins: {n}"),
            Self::Gauge(n) => format!("{n}G is a hypodermic gauge; such a needle is hollow"),
            Self::Inches(n, mm) if n.is_multiple_of(10) => {
                format!("0.{:03} inch is {}", n / 10, Mm(mm))
            }
            Self::Inches(n, mm) => format!("0.{n:04} inch is {}", Mm(mm)),
            Self::Zeros(mm) => format!("zeros alone are slang; taken for {}", Mm(mm)),
            Self::NeedleBar(mm) => format!("{} is a needle bar of older machines", Mm(mm)),
            Self::Repaired(from, to) => {
                format!("`{}` was read as {}", char::from(from), char::from(to))
            }
            other => other.fixed().unwrap_or_default().to_owned(),
        }
    }
}

impl fmt::Display for Because {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.says())
    }
}
