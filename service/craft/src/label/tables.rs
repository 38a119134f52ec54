//! The reader's data, loaded once: words, sizes, codes, field names, lists.
//!
//! Built-in data lies in `rules/label/*.toml`. A label-spellings pack brings rows of
//! the same shape ([`Spellings`](super::spellings::Spellings)).

use etui_schema::vocabulary::{Grouping, Taper};
use serde::Deserialize;

use super::basis::Origins;
use super::grammar::{Certainty, Counts, Inch, Shaft, Slang, Zeros};
use super::reading::FitnessReason;
use super::spellings::closed_up;
use crate::evidence::{EvidenceError, Register};
use crate::text::{Catalogue, TextError};

/// Why the reader's data was refused.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TableError {
    /// The data is not readable.
    #[error("label data `{file}`: {why}")]
    Unreadable {
        /// Which file.
        file: &'static str,
        /// What the reader said.
        why: String,
    },
    /// A row means nothing.
    #[error("label data `{file}`, row `{row}`: {why}")]
    Row {
        /// Which file.
        file: &'static str,
        /// Which row.
        row: String,
        /// What is wrong with it.
        why: String,
    },
    /// A row points to no source.
    #[error("label data: {0}")]
    Source(#[from] EvidenceError),
    /// A text is missing or unreadable.
    #[error("label data: {0}")]
    Text(#[from] TextError),
}

/// The questions, one for every reason that a person can settle, and those about
/// the configuration.
pub(crate) fn texts() -> Result<Catalogue, TableError> {
    let texts = Catalogue::read(
        include_str!("../../rules/texts/label.en.toml"),
        include_str!("../../rules/texts/label.de.toml"),
    )?;
    let of_fitness = FitnessReason::ALL.iter().filter_map(|reason| reason.question());
    let mut keys = of_fitness.chain(super::question::KEYS.iter().copied());
    match keys.find(|key| !texts.has(key)) {
        Some(key) => Err(TextError::Unknown { key: key.to_owned() }.into()),
        None => Ok(texts),
    }
}

/// A "#" size.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Size {
    /// The number behind the "#", 1 to 99.
    pub number: u8,
    /// Diameter in millimetres.
    pub mm: f64,
    /// Least diameter that sources give, in millimetres.
    pub least_mm: Option<f64>,
    /// Greatest diameter that sources give, in millimetres.
    pub most_mm: Option<f64>,
    /// Diameters to show as further readings, in millimetres.
    #[serde(default)]
    pub also_mm: Vec<f64>,
    /// Whether a label with this size should be confirmed by a person.
    #[serde(default)]
    pub confirm: bool,
}

/// A word for a grouping.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Code {
    /// The text, upper case; a blank stands for any of blank `. - _ /` or nothing.
    pub text: String,
    /// What it means first.
    pub grouping: Grouping,
    /// What else it may mean.
    #[serde(default)]
    pub also: Vec<Grouping>,
    /// A taper that the further reading brings.
    pub also_taper: Option<Taper>,
    /// What to say about it.
    pub note: Option<Note>,
    /// Whether a label with this code should be confirmed by a person.
    #[serde(default)]
    pub confirm: bool,
    /// Whether the number beside it is a count of pins.
    #[serde(default)]
    pub pins: bool,
}

/// What a grouping code alone does not tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Note {
    /// A round liner with its points pinched closer.
    Tight,
    /// Tight, or a round liner with textured needles.
    TightOrTextured,
    /// Liner; round is assumed.
    LinerAlone,
    /// Shader; round is assumed.
    ShaderAlone,
    /// Round; liner or shader is not told.
    RoundAlone,
    /// Magnum; woven or stacked is not told.
    MagnumAlone,
    /// Flat shader or flat with a slope.
    ShaderOrSlope,
    /// Straight magnum, or flat with medium taper.
    StraightMagnum,
    /// Hollow, or a maker's mark for hard.
    HollowOrHard,
    /// Curved; a few read it as regular.
    RoundMagnum,
    /// A tool for the hand, not for a machine.
    HandTool,
    /// Stacked magnum, or two rows of a flat.
    StackedAlone,
    /// A flat that slopes, or a magnum that does.
    SlopeAlone,
}

/// A word for a taper.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TaperWord {
    /// The text, upper case.
    pub text: String,
    /// What it means.
    pub taper: Taper,
    /// Whether it is rarely written.
    #[serde(default)]
    pub weak: bool,
}

/// A word that changes what the rest means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Mark {
    /// Roughened needles.
    Textured,
    /// Polished needles.
    Polished,
    /// Slang for fine needles.
    Bugpin,
    /// Slang for #12, or the maker's usual taper.
    Standard,
    /// One thin needle; a word of style.
    Nano,
    /// Needles of an old machine type.
    Prong,
    /// One needle.
    Single,
    /// Between two numbers.
    Times,
    /// Unit.
    Millimetre,
    /// Unit.
    Micrometre,
    /// Hypodermic gauge.
    Gauge,
    /// Unit.
    Inch,
    /// Unit: a thousandth of an inch.
    Thousandth,
    /// Says that a size number follows.
    Number,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MarkWord {
    pub(crate) text: String,
    pub(crate) mark: Mark,
    #[serde(default)]
    pub(crate) weak: bool,
}

/// What is printed besides the configuration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Field {
    Lot,
    Reference,
    Serial,
    Gtin,
    Quantity,
    ExpirySymbol,
    ExpiryWords,
    ExpiryBefore,
    ExpiryFrom,
    Made,
    NotSterile,
    Sterile,
    Sterilise,
    NotAgain,
    Known,
    SingleUse,
    SamePatient,
    Reusable,
    Notice,
    Damaged,
}

/// How a pack was sterilised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Ethylene oxide (ISO 15223-1, 5.2.3).
    EthyleneOxide,
    /// Irradiation (5.2.4).
    Irradiation,
    /// Aseptic processing (5.2.2).
    Aseptic,
    /// Steam or dry heat (5.2.5).
    Heat,
    /// Sterile, and the method is not told (5.2.1).
    NotTold,
}

impl Method {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::EthyleneOxide => "ethylene_oxide",
            Self::Irradiation => "irradiation",
            Self::Aseptic => "aseptic",
            Self::Heat => "heat",
            Self::NotTold => "not_told",
        }
    }
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FieldWords {
    pub(crate) field: Field,
    pub(crate) words: Vec<String>,
    /// The language of the words; English and signs of all if absent.
    pub(crate) language: Option<String>,
    pub(crate) source: Option<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MethodWords {
    pub(crate) method: Method,
    pub(crate) words: Vec<String>,
}

/// What stands around the stem of a sterile word and changes its meaning.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SterilityWords {
    /// Beginnings by which every word about sterility is noticed.
    pub(crate) stems: Vec<String>,
    /// Not, non, un- and their like, as words.
    pub(crate) negations: Vec<String>,
    /// Words that may be a negation or a place: a claim beside them is asked about.
    pub(crate) doubts: Vec<String>,
    /// Work that is still to be done.
    pub(crate) first: Vec<String>,
    /// Again: such a word is about sterilising a second time.
    pub(crate) again: Vec<String>,
    /// Words between a sterile word and its method.
    pub(crate) joining: Vec<String>,
    /// If, unless: what follows is a condition.
    pub(crate) conditions: Vec<String>,
    source: String,
}

/// Words and signs inside dates.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct DateWords {
    pub(crate) year: Vec<String>,
    pub(crate) month: Vec<String>,
    pub(crate) day: Vec<String>,
    pub(crate) years: Vec<String>,
    pub(crate) months: Vec<String>,
    pub(crate) filler: Vec<String>,
    pub(crate) era: Vec<Era>,
    source: String,
}

/// An era: its words, and what to add to its years.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Era {
    pub(crate) words: Vec<String>,
    pub(crate) add: i16,
}

/// `months.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MonthFile {
    source: String,
    pub(crate) language: Vec<MonthNames>,
}

/// The names of the twelve months in one language.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct MonthNames {
    pub(crate) code: String,
    pub(crate) months: Vec<Vec<String>>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Words {
    pub(crate) words: Vec<String>,
    source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ShelfLife {
    pub(crate) longest_years: i16,
    source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Swallowed {
    pub(crate) years_back: i16,
    pub(crate) years_ahead: i16,
    source: String,
}

/// `fields.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct FieldFile {
    source: String,
    pub(crate) field: Vec<FieldWords>,
    pub(crate) method: Vec<MethodWords>,
    pub(crate) pieces: Words,
    pub(crate) sterility: SterilityWords,
    pub(crate) date: DateWords,
    pub(crate) shelf_life: ShelfLife,
    pub(crate) swallowed: Swallowed,
}

impl FieldFile {
    /// Whether a word says something of a date, a lot or sterility, as it is written.
    pub(crate) fn knows(&self, word: &str) -> bool {
        let word = closed_up(word);
        let SterilityWords {
            stems,
            negations,
            doubts,
            first,
            again,
            joining: _,
            conditions,
            source: _,
        } = &self.sterility;
        let words = self.field.iter().flat_map(|row| &row.words);
        let words = words.chain(self.method.iter().flat_map(|row| &row.words));
        let around = [stems, negations, doubts, first, again, conditions];
        let words = words.chain(around.into_iter().flatten());
        words.into_iter().any(|known| closed_up(known).to_uppercase() == word)
    }

    /// Id of the source of what names no other.
    pub(crate) fn source(&self) -> &str {
        &self.source
    }
}

impl ConfigurationFile {
    /// Id of the source of what names no other.
    pub(crate) fn source(&self) -> &str {
        &self.source
    }
}

/// `configuration.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct ConfigurationFile {
    source: String,
    pub(crate) range: Range,
    pub(crate) size: Vec<Size>,
    pub(crate) zeros: Vec<Zeros>,
    pub(crate) slang: Vec<Slang>,
    pub(crate) inch: Inch,
    pub(crate) shaft: Shaft,
    /// From here on a length alone makes it an acupuncture needle.
    pub(crate) filiform: Shaft,
    pub(crate) counts: Counts,
    pub(crate) certainty: Certainty,
    pub(crate) hundredths: Numbers,
    pub(crate) pack: Quantities,
    pub(crate) needle_bar: Millimetres,
    pub(crate) gauge: Vec<Gauge>,
    pub(crate) code: Vec<Code>,
    pub(crate) taper: Vec<TaperWord>,
    pub(crate) mark: Vec<MarkWord>,
    pub(crate) usual: Vec<Usual>,
    pub(crate) noise: Words,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Range {
    pub(crate) least_mm: f64,
    pub(crate) most_mm: f64,
    pub(crate) source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Numbers {
    pub(crate) values: Vec<u8>,
    pub(crate) source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Quantities {
    pub(crate) quantities: Vec<u8>,
    pub(crate) source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Millimetres {
    pub(crate) values_mm: Vec<f64>,
    pub(crate) source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Gauge {
    pub(crate) number: u8,
    pub(crate) mm: f64,
    pub(crate) source: String,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Usual {
    pub(crate) grouping: Grouping,
    pub(crate) counts: Vec<u8>,
}

/// Code lists of other standards that GS1 elements point into.
#[derive(Debug, Clone)]
pub(crate) struct CodeLists {
    countries: [u64; 16],
    currencies: [u64; 16],
    alpha2: [u32; 26],
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CodeListFile {
    source: String,
    countries_alpha2: String,
    countries_numeric: String,
    currencies_numeric: String,
}

impl CodeLists {
    fn country_index(code: &[u8]) -> Option<usize> {
        match code {
            [a, b, c] if code.iter().all(u8::is_ascii_digit) => Some(
                usize::from(a - b'0') * 100 + usize::from(b - b'0') * 10 + usize::from(c - b'0'),
            ),
            _ => None,
        }
    }

    fn holds(set: &[u64; 16], code: &[u8]) -> bool {
        Self::country_index(code).is_some_and(|n| set[n / 64] >> (n % 64) & 1 == 1)
    }

    /// ISO 3166-1, three digits.
    pub(crate) fn country(&self, code: &[u8]) -> bool {
        Self::holds(&self.countries, code)
    }

    /// ISO 4217, three digits.
    pub(crate) fn currency(&self, code: &[u8]) -> bool {
        Self::holds(&self.currencies, code)
    }

    /// ISO 3166-1, two letters.
    pub(crate) fn country_alpha2(&self, code: &[u8]) -> bool {
        match code {
            [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] => {
                self.alpha2[usize::from(a - b'A')] >> (b - b'A') & 1 == 1
            }
            _ => false,
        }
    }

    fn read(text: &str) -> Result<(Self, String), TableError> {
        let file = "code_lists";
        let parsed: CodeListFile = toml::from_str(text)
            .map_err(|e| TableError::Unreadable { file, why: e.to_string() })?;
        let mut lists = Self { countries: [0; 16], currencies: [0; 16], alpha2: [0; 26] };
        for (text, set) in [
            (&parsed.countries_numeric, &mut lists.countries),
            (&parsed.currencies_numeric, &mut lists.currencies),
        ] {
            for n in text.split_whitespace().filter_map(|c| Self::country_index(c.as_bytes())) {
                set[n / 64] |= 1 << (n % 64);
            }
        }
        for code in parsed.countries_alpha2.split_whitespace() {
            if let [a @ b'A'..=b'Z', b @ b'A'..=b'Z'] = code.as_bytes() {
                lists.alpha2[usize::from(a - b'A')] |= 1 << (b - b'A');
            }
        }
        Ok((lists, parsed.source))
    }
}

/// The four files, read and held against the register of sources.
pub(crate) struct Files {
    pub(crate) configuration: ConfigurationFile,
    pub(crate) fields: FieldFile,
    pub(crate) months: MonthFile,
    pub(crate) lists: CodeLists,
    pub(crate) ais: super::gs1::Table,
    pub(crate) origins: Origins,
    pub(crate) register: Register,
}

impl Files {
    /// The files compiled into this build.
    pub(crate) fn builtin() -> Result<Self, TableError> {
        let read = |file: &'static str, e: toml::de::Error| TableError::Unreadable {
            file,
            why: e.to_string(),
        };
        let configuration: ConfigurationFile =
            toml::from_str(include_str!("../../rules/label/configuration.toml"))
                .map_err(|e| read("configuration", e))?;
        let fields: FieldFile = toml::from_str(include_str!("../../rules/label/fields.toml"))
            .map_err(|e| read("fields", e))?;
        let months: MonthFile = toml::from_str(include_str!("../../rules/label/months.toml"))
            .map_err(|e| read("months", e))?;
        let (lists, lists_source) =
            CodeLists::read(include_str!("../../rules/label/code_lists.toml"))?;
        let (ais, ais_source) = super::gs1::Table::read(include_str!(
            "../../rules/label/application_identifiers.toml"
        ))?;
        let register = Register::builtin()?;
        let origins = Origins::new(&configuration, &fields, &ais_source, &register)?;
        let files = Self { configuration, fields, months, lists, ais, origins, register };
        for source in files.sources().chain([lists_source.as_str(), ais_source.as_str()]) {
            files.register.get(source)?;
        }
        Ok(files)
    }

    fn sources(&self) -> impl Iterator<Item = &str> {
        let c = &self.configuration;
        let f = &self.fields;
        let own = [
            &c.source,
            &c.range.source,
            &c.hundredths.source,
            &c.pack.source,
            &c.needle_bar.source,
            &c.noise.source,
            &c.inch.source,
            &c.shaft.source,
            &c.filiform.source,
            &c.counts.source,
            &c.certainty.source,
            &f.source,
            &f.pieces.source,
            &f.shelf_life.source,
            &f.swallowed.source,
            &f.sterility.source,
            &f.date.source,
            &self.months.source,
        ];
        own.into_iter()
            .chain(c.gauge.iter().map(|g| &g.source))
            .chain(c.zeros.iter().map(|z| &z.source))
            .chain(c.slang.iter().map(|s| &s.source))
            .chain(f.field.iter().filter_map(|w| w.source.as_ref()))
            .map(String::as_str)
    }
}
