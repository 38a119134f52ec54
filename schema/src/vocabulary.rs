//! The trade's words and the checked values that travel in bodies.
//!
//! Each closed list of words is one enum made by the `words!` macro: it knows
//! its wire spelling ([`Grouping::as_str`]), reads it back ([`std::str::FromStr`]) and
//! lists all its members in a fixed order ([`Grouping::ALL`]).

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use serde_with::skip_serializing_none;

/// A word that is not in the closed list it was looked up in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is not a {list}; accepted: {accepted}")]
pub struct UnknownWord {
    /// What was written.
    pub found: String,
    /// The list it was looked up in, for people.
    pub list: &'static str,
    /// Every accepted spelling, comma separated.
    pub accepted: String,
}

/// Declares a closed list of words: enum, wire spelling, reading, display.
macro_rules! words {
    ($(#[$meta:meta])* $name:ident, $list:literal { $($(#[$vmeta:meta])* $variant:ident = $text:literal),+ $(,)? }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
        pub enum $name {
            $($(#[$vmeta])* #[serde(rename = $text)] $variant),+
        }

        impl $name {
            /// Every word of the list, in its order.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The spelling used on the wire.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }

        impl FromStr for $name {
            type Err = UnknownWord;

            fn from_str(text: &str) -> Result<Self, UnknownWord> {
                match text {
                    $($text => Ok(Self::$variant),)+
                    _ => Err(UnknownWord {
                        found: text.to_owned(),
                        list: $list,
                        accepted: [$($text),+].join(", "),
                    }),
                }
            }
        }
    };
}

pub(crate) use words;

words! {
    /// How the needles of one configuration are bound together.
    Grouping, "grouping" {
        /// Round bundle, points together.
        RoundLiner = "round_liner",
        /// Round bundle, points further apart than a liner of the same count.
        RoundShader = "round_shader",
        /// Round; liner or shader is not told.
        Round = "round",
        /// A ring of needles with no needle in the middle.
        HollowLiner = "hollow_liner",
        /// One straight row.
        Flat = "flat",
        /// One row whose tips lie on a slanted line.
        SlopedFlat = "sloped_flat",
        /// Two rows, staggered and spread.
        WovenMagnum = "woven_magnum",
        /// Two rows, close together.
        StackedMagnum = "stacked_magnum",
        /// Two rows on an arc, so that the edges reach less deep.
        CurvedMagnum = "curved_magnum",
        /// Magnum; woven or stacked is not told.
        Magnum = "magnum",
        /// A hand-held row of pins; not for a machine.
        HandBlade = "hand_blade",
    }
}

impl Grouping {
    /// The trade code used in canonical text. Hand blades have no code of the
    /// machine trade, so the word itself stands there.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::RoundLiner => "RL",
            Self::RoundShader => "RS",
            Self::Round => "R",
            Self::HollowLiner => "HRL",
            Self::Flat => "F",
            Self::SlopedFlat => "SL",
            Self::WovenMagnum => "M1",
            Self::StackedMagnum => "M2",
            Self::CurvedMagnum => "RM",
            Self::Magnum => "M",
            Self::HandBlade => "BLADE",
        }
    }
}

words! {
    /// Length class of the ground point. Only the order is safe to assert:
    /// makers differ widely on the millimetres.
    Taper, "taper" {
        /// Short taper (ST).
        Short = "short",
        /// Medium taper (MT).
        Medium = "medium",
        /// Long taper (LT).
        Long = "long",
        /// Extra long taper (XLT).
        ExtraLong = "extra_long",
    }
}

impl Taper {
    /// The trade code used in canonical text.
    #[must_use]
    pub const fn code(self) -> &'static str {
        match self {
            Self::Short => "ST",
            Self::Medium => "MT",
            Self::Long => "LT",
            Self::ExtraLong => "XLT",
        }
    }
}

words! {
    /// What is treated.
    Treatment, "treatment" {
        /// Eyebrows.
        Brows = "brows",
        /// Lips.
        Lips = "lips",
        /// Lash line and eyeliner.
        Eyeliner = "eyeliner",
        /// Scalp.
        Scalp = "scalp",
        /// Areola.
        Areola = "areola",
    }
}

words! {
    /// What the healed result should look like.
    Effect, "effect" {
        /// Single drawn hairs.
        HairStrokes = "hair_strokes",
        /// Visible separate dots.
        Pixelated = "pixelated",
        /// An even, airy veil.
        SoftShading = "soft_shading",
        /// A solid, saturated field.
        DenseFill = "dense_fill",
        /// A thin line.
        FineLine = "fine_line",
        /// A strong line.
        BoldLine = "bold_line",
        /// Dots that stand for cut hair.
        ScalpDots = "scalp_dots",
        /// Areola tones and texture.
        AreolaShading = "areola_shading",
    }
}

words! {
    /// How firmly the artist works.
    Hand, "hand" {
        /// Light.
        Light = "light",
        /// Medium.
        Medium = "medium",
        /// Heavy.
        Heavy = "heavy",
    }
}

words! {
    /// How far the machine's drive yields when the needle meets resistance.
    Give, "give" {
        /// Yields early.
        Soft = "soft",
        /// In between.
        Medium = "medium",
        /// Hardly yields.
        Firm = "firm",
    }
}

words! {
    /// Where on the body the needle works.
    Site, "site" {
        /// Brow.
        Brow = "brow",
        /// Upper lid, away from the lash margin.
        UpperLid = "upper_lid",
        /// Lash margin.
        LashLine = "lash_line",
        /// Lip.
        Lip = "lip",
        /// Scalp.
        Scalp = "scalp",
        /// Areola.
        Areola = "areola",
    }
}

words! {
    /// Sun-reaction type of the skin (Fitzpatrick). It is not a skin colour.
    Phototype, "phototype" {
        /// Always burns, never tans.
        I = "I",
        /// Usually burns, tans little.
        II = "II",
        /// Sometimes burns, tans gradually.
        III = "III",
        /// Rarely burns, tans well.
        IV = "IV",
        /// Very rarely burns, tans deeply.
        V = "V",
        /// Never burns.
        VI = "VI",
    }
}

words! {
    /// Self-reported oiliness.
    Oiliness, "oiliness" {
        /// Dry.
        Dry = "dry",
        /// Normal.
        Normal = "normal",
        /// Oily in the middle of the face, not elsewhere.
        Combination = "combination",
        /// Oily.
        Oily = "oily",
    }
}

words! {
    /// How thick the skin is judged to be.
    Thickness, "thickness" {
        /// Fine.
        Fine = "fine",
        /// Normal.
        Normal = "normal",
        /// Thick.
        Thick = "thick",
    }
}

words! {
    /// How easily the skin reacts.
    Sensitivity, "sensitivity" {
        /// Hardly reacts.
        Low = "low",
        /// Ordinary.
        Normal = "normal",
        /// Reacts quickly.
        High = "high",
    }
}

words! {
    /// A sign seen on the skin.
    SkinSign, "skin sign" {
        /// Visible flakes.
        Flaking = "flaking",
        /// Cracks.
        Cracked = "cracked",
        /// Bruises from small knocks.
        BruisesEasily = "bruises_easily",
        /// Purple patches without a known knock.
        Purpura = "purpura",
        /// White star-shaped or linear marks without injury.
        Pseudoscars = "pseudoscars",
        /// Tears easily.
        TearsEasily = "tears_easily",
        /// Visible large pores.
        LargePores = "large_pores",
        /// A scar in the area.
        Scarred = "scarred",
        /// Fine broken vessels.
        BrokenVessels = "broken_vessels",
        /// Lax skin.
        Lax = "lax",
    }
}

words! {
    /// The outcome of a screening or a check.
    Verdict, "verdict" {
        /// Nothing stands against it.
        Proceed = "proceed",
        /// May go ahead if the conditions are met.
        ProceedWithConditions = "proceed_with_conditions",
        /// Not yet; a date or an event is named.
        Hold = "hold",
        /// Somebody licensed must look first.
        Refer = "refer",
        /// Not by this studio.
        Decline = "decline",
        /// Answers are missing; nothing is assumed.
        Incomplete = "incomplete",
    }
}

words! {
    /// What kind of thing stands behind a number, a rule or a sentence.
    EvidenceKind, "evidence kind" {
        /// Statute or statutory instrument.
        Law = "law",
        /// Official guideline, regulator, public-health body, standard.
        Guideline = "guideline",
        /// Study with numbers, or mathematics that was checked.
        Study = "study",
        /// Expert review or consensus.
        Expert = "expert",
        /// Habit of the trade; nothing published behind the number.
        CommonPractice = "common_practice",
        /// Our own modelling assumption: named, ranged, changeable.
        Model = "model",
        /// From memory, unverified; never shown to users as a source.
        Memory = "memory",
    }
}

words! {
    /// How sure we are that a value is right as stated.
    Confidence, "confidence" {
        /// High.
        High = "high",
        /// Medium.
        Medium = "medium",
        /// Low.
        Low = "low",
    }
}

words! {
    /// Language of the texts in an answer.
    Language, "language" {
        /// English.
        En = "en",
        /// German.
        De = "de",
    }
}

/// Why a text is not a date, instant, zone or reference.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is not {wanted}")]
pub struct Malformed {
    /// What was written, shortened to 80 characters.
    pub found: String,
    /// What would be accepted.
    pub wanted: &'static str,
}

impl Malformed {
    fn new(found: &str, wanted: &'static str) -> Self {
        Self { found: found.chars().take(80).collect(), wanted }
    }
}

/// Gives a newtype over a checked text its serde and schema parts.
macro_rules! textual {
    ($name:ident, $schema_name:literal, $schema:tt) => {
        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                let text = Cow::<'de, str>::deserialize(deserializer)?;
                text.parse().map_err(de::Error::custom)
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $schema_name.into()
            }

            fn inline_schema() -> bool {
                true
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!($schema)
            }
        }
    };
}

pub mod aftercare;
pub mod chair;

/// A calendar day, written `YYYY-MM-DD` and nothing else.
///
/// ```
/// use etui_schema::vocabulary::CivilDate;
/// let day: CivilDate = "2028-02-29".parse().unwrap();
/// assert_eq!(day.to_string(), "2028-02-29");
/// assert!("2027-02-29".parse::<CivilDate>().is_err());
/// assert!("2028-02-29T10:00".parse::<CivilDate>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CivilDate(pub jiff::civil::Date);

impl fmt::Display for CivilDate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for CivilDate {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str = "a calendar day written YYYY-MM-DD";
        let shape = text.len() == 10
            && text.bytes().enumerate().all(|(i, b)| match i {
                4 | 7 => b == b'-',
                _ => b.is_ascii_digit(),
            });
        if !shape {
            return Err(Malformed::new(text, WANTED));
        }
        text.parse().map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(CivilDate, "CivilDate", { "type": "string", "format": "date", "examples": ["2027-03-18"] });

/// A moment, written in RFC 3339 with an offset or `Z`; answered in `Z`.
///
/// ```
/// use etui_schema::vocabulary::Instant;
/// let at: Instant = "2027-03-18T14:00:00+01:00".parse().unwrap();
/// assert_eq!(at.to_string(), "2027-03-18T13:00:00Z");
/// assert!("2027-03-18 14:00".parse::<Instant>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Instant(pub jiff::Timestamp);

impl fmt::Display for Instant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

impl FromStr for Instant {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str =
            "an instant of RFC 3339 with `Z` or an offset, such as 2027-03-18T14:00:00+01:00";
        // RFC 3339 section 5.6: date, `T`, time with seconds, offset. jiff
        // reads more than that (spaces, brackets), so the shape is held here.
        let bytes = text.as_bytes();
        let shape = (20..=40).contains(&bytes.len())
            && matches!(bytes[10], b'T' | b't')
            && bytes[13] == b':'
            && bytes[16] == b':'
            && !text.contains('[');
        if !shape {
            return Err(Malformed::new(text, WANTED));
        }
        text.parse().map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(Instant, "Instant", { "type": "string", "format": "date-time", "examples": ["2027-03-18T14:00:00Z"] });

/// The name of an IANA time zone that this build knows.
///
/// ```
/// use etui_schema::vocabulary::Zone;
/// assert!("Europe/Berlin".parse::<Zone>().is_ok());
/// assert!("Europe/Atlantis".parse::<Zone>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Zone(jiff::tz::TimeZone);

impl Zone {
    /// The zone's rules.
    #[must_use]
    pub fn rules(&self) -> &jiff::tz::TimeZone {
        &self.0
    }

    /// The zone's IANA name.
    #[must_use]
    pub fn name(&self) -> &str {
        self.0.iana_name().unwrap_or("UTC")
    }
}

impl fmt::Display for Zone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Zone {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        const WANTED: &str = "an IANA time zone such as Europe/Berlin";
        if text.is_empty() || 64 < text.len() || !text.is_ascii() {
            return Err(Malformed::new(text, WANTED));
        }
        jiff::tz::TimeZone::get(text).map(Self).map_err(|_| Malformed::new(text, WANTED))
    }
}

textual!(Zone, "Zone", { "type": "string", "format": "iana-time-zone", "minLength": 1, "maxLength": 64, "examples": ["Europe/Berlin"] });

/// The caller's own name for a client, an artist, a machine or a booking.
///
/// 1 to 64 characters out of `A-Z a-z 0-9 . _ ~ -`, so that it can stand in a
/// path as it is. No name of a person is needed, and none should be used.
///
/// ```
/// use etui_schema::vocabulary::Reference;
/// assert!("client-0042".parse::<Reference>().is_ok());
/// assert!("a b".parse::<Reference>().is_err());
/// assert!("..".parse::<Reference>().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Reference(String);

impl Reference {
    /// The reference as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Reference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for Reference {
    type Err = Malformed;

    fn from_str(text: &str) -> Result<Self, Malformed> {
        let allowed = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'.' | b'_' | b'~' | b'-');
        if (1..=64).contains(&text.len())
            && text.bytes().all(allowed)
            && text.bytes().any(|b| b.is_ascii_alphanumeric())
        {
            return Ok(Self(text.to_owned()));
        }
        Err(Malformed::new(
            text,
            "a reference of 1 to 64 characters out of A-Z a-z 0-9 . _ ~ - with at least one letter or digit",
        ))
    }
}

textual!(Reference, "Reference", { "type": "string", "minLength": 1, "maxLength": 64, "pattern": "^[A-Za-z0-9._~-]*[A-Za-z0-9][A-Za-z0-9._~-]*$", "examples": ["client-0042"] });

/// A needle configuration: what the trade calls diameter, count, grouping and
/// taper. What a label did not say is absent; nothing is filled in.
#[skip_serializing_none]
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema, garde::Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct Configuration {
    /// Diameter of one needle's shaft in millimetres, 0.10 to 0.60.
    #[garde(range(min = 0.10, max = 0.60))]
    pub diameter_mm: Option<f64>,
    /// Number of needles (for a hand blade: of pins), 1 to 49.
    #[garde(range(min = 1, max = 49))]
    pub count: Option<u8>,
    /// How the needles are bound together.
    pub grouping: Option<Grouping>,
    /// Length class of the ground point.
    pub taper: Option<Taper>,
}

impl Configuration {
    /// The canonical text: diameter in mm with two decimals, space, count and
    /// trade code, optional taper code. What is missing prints `?`.
    ///
    /// A diameter that two decimals cannot hold (0.375) is printed with three.
    ///
    /// ```
    /// use etui_schema::vocabulary::{Configuration, Grouping, Taper};
    /// let c = Configuration {
    ///     diameter_mm: Some(0.3),
    ///     count: Some(3),
    ///     grouping: Some(Grouping::RoundShader),
    ///     taper: Some(Taper::Long),
    /// };
    /// assert_eq!(c.canonical(), "0.30 3RS LT");
    /// let unknown = Configuration { diameter_mm: None, taper: None, ..c };
    /// assert_eq!(unknown.canonical(), "? 3RS");
    /// ```
    #[must_use]
    pub fn canonical(&self) -> String {
        use fmt::Write;
        let mut text = String::with_capacity(16);
        // Writing to a String cannot fail; the results are dropped knowingly.
        match self.diameter_mm {
            Some(d) if ((d * 100.0) - (d * 100.0).round()).abs() < 1e-6 => {
                let _ = write!(text, "{d:.2} ");
            }
            Some(d) => {
                let _ = write!(text, "{d:.3} ");
            }
            None => text.push_str("? "),
        }
        match self.count {
            Some(n) => {
                let _ = write!(text, "{n}");
            }
            None => text.push('?'),
        }
        text.push_str(self.grouping.map_or("?", Grouping::code));
        if let Some(taper) = self.taper {
            text.push(' ');
            text.push_str(taper.code());
        }
        text
    }
}

/// A machine as the needle feels it.
#[skip_serializing_none]
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema, garde::Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct Machine {
    /// Full travel of the needle in millimetres, 0.5 to 6.0.
    #[garde(range(min = 0.5, max = 6.0))]
    pub stroke_mm: Option<f64>,
    /// Strokes per second, 10 to 300.
    #[garde(range(min = 10.0, max = 300.0))]
    pub rate_hz: Option<f64>,
    /// How far the drive yields.
    pub give: Option<Give>,
}

/// A colour in CIE L\*a\*b\* (D65), as a colorimeter reads it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema, garde::Validate)]
#[serde(deny_unknown_fields)]
pub struct Lab {
    /// Lightness, 0 to 100.
    #[garde(range(min = 0.0, max = 100.0))]
    pub l: f64,
    /// Green to red, −128 to 127.
    #[garde(range(min = -128.0, max = 127.0))]
    pub a: f64,
    /// Blue to yellow, −128 to 127.
    #[garde(range(min = -128.0, max = 127.0))]
    pub b: f64,
}

/// What is known of a skin. Everything is optional; what is assumed is said.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema, garde::Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct Skin {
    /// Age in whole years, 0 to 120.
    #[garde(range(max = 120))]
    pub age_years: Option<u8>,
    /// Sun-reaction type.
    pub phototype: Option<Phototype>,
    /// Measured colour of the skin in the area.
    #[garde(dive)]
    pub lab: Option<Lab>,
    /// Self-reported oiliness.
    pub oiliness: Option<Oiliness>,
    /// Judged thickness.
    pub thickness: Option<Thickness>,
    /// Judged sensitivity.
    pub sensitivity: Option<Sensitivity>,
    /// Signs seen; each at most once.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 10))]
    pub signs: Vec<SkinSign>,
}

/// The circumstances a configuration works in. Everything is optional; an
/// answer lists the pointers of what it had to assume.
#[skip_serializing_none]
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize, JsonSchema, garde::Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct Setting {
    /// How firmly the artist works.
    pub hand: Option<Hand>,
    /// The machine.
    #[garde(dive)]
    pub machine: Option<Machine>,
    /// The skin.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Where on the body.
    pub site: Option<Site>,
    /// Depth of the tips in the skin in millimetres, 0.05 to 3.0. It is not
    /// the needle's hang.
    #[garde(range(min = 0.05, max = 3.0))]
    pub depth_mm: Option<f64>,
    /// Speed of the hand along the skin in millimetres per second, 0.5 to 300.
    #[garde(range(min = 0.5, max = 300.0))]
    pub hand_speed_mm_s: Option<f64>,
    /// Number of passes over the same place, 1 to 50.
    #[garde(range(min = 1, max = 50))]
    pub passes: Option<u8>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_word_reads_back_and_serialises_as_it_is_spelt() {
        for word in Grouping::ALL {
            assert_eq!(word.as_str().parse::<Grouping>().unwrap(), *word);
            assert_eq!(serde_json::to_string(word).unwrap(), format!("\"{word}\""));
        }
        let fault = "roundliner".parse::<Grouping>().unwrap_err();
        assert!(fault.to_string().contains("accepted: round_liner, round_shader"), "{fault}");
    }

    #[test]
    fn dates_are_days_and_nothing_else() {
        for bad in ["", "2027-2-03", "2027-02-30", "27-02-03", "2027-02-03Z", "２０２７-02-03"]
        {
            assert!(bad.parse::<CivilDate>().is_err(), "{bad}");
        }
    }

    #[test]
    fn instants_need_an_offset() {
        for bad in ["2027-02-03", "2027-02-03T10:00:00", "2027-02-03T10:00:00+01:00[Europe/Berlin]"]
        {
            assert!(bad.parse::<Instant>().is_err(), "{bad}");
        }
        assert!("2027-02-03T10:00:00.5Z".parse::<Instant>().is_ok());
    }
}
