//! The reader's data, loaded once: words, sizes, codes, field names, lists.
//!
//! Built-in data lies in `rules/label/*.toml`. A label-spellings pack brings rows of
//! the same shape ([`Spellings`](super::spellings::Spellings)).

use etui_schema::kinds::loaded;
pub use etui_schema::packs::{PackSize as Size, PackTaper as TaperWord};
use std::collections::HashSet;

use etui_schema::vocabulary::{Grouping, Taper};
use serde::Deserialize;

pub(crate) use self::configuration::ConfigurationFile;
use super::basis::Origins;
use super::code_lists::{CodeListFile, CodeLists};
pub(crate) use super::date_words::{Damage, DateWords};
use super::reading::Method;
use super::spellings::closed_up;
use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, rule_file};
use crate::words::words;

mod configuration;

/// A word for a grouping.
#[loaded(PartialEq)]
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

words! {
    /// What a grouping code alone does not tell.
    Note {
        /// A round liner with its points pinched closer.
        Tight = "tight",
        /// Tight, or a round liner with textured needles.
        TightOrTextured = "tight_or_textured",
        /// Liner; round is assumed.
        LinerAlone = "liner_alone",
        /// Shader; round is assumed.
        ShaderAlone = "shader_alone",
        /// Round; liner or shader is not told.
        RoundAlone = "round_alone",
        /// Magnum; woven or stacked is not told.
        MagnumAlone = "magnum_alone",
        /// Flat shader or flat with a slope.
        ShaderOrSlope = "shader_or_slope",
        /// Straight magnum, or flat with medium taper.
        StraightMagnum = "straight_magnum",
        /// Hollow, or a maker's mark for hard.
        HollowOrHard = "hollow_or_hard",
        /// Curved; a few read it as regular.
        RoundMagnum = "round_magnum",
        /// A tool for the hand, not for a machine.
        HandTool = "hand_tool",
        /// Stacked magnum, or two rows of a flat.
        StackedAlone = "stacked_alone",
        /// A flat that slopes, or a magnum that does.
        SlopeAlone = "slope_alone",
    }
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

#[loaded]
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
    /// Until the date that stands before the word.
    ExpiryBehind,
    Made,
    /// Sterilised, packed, imported, revised: a date that is not the expiry.
    Aside,
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
    /// Wet, open, bent, used before: asked about.
    Doubtful,
    /// Recalled, rejected, used, for practice: not to be used, whoever wrote it.
    NotForUse,
}

#[loaded]
pub(crate) struct FieldWords {
    pub(crate) field: Field,
    pub(crate) words: Vec<String>,
    /// The language of the words; English and signs of all if absent.
    pub(crate) language: Option<String>,
    pub(crate) source: Option<Origin>,
}

#[loaded]
pub(crate) struct MethodWords {
    pub(crate) method: Method,
    pub(crate) words: Vec<String>,
}

/// What stands around the stem of a sterile word and changes its meaning.
#[loaded(PartialEq)]
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
    /// The same, where what it was done with must follow.
    pub(crate) by: Vec<String>,
    /// How a pack is kept or spoilt: whole, closed, wet.
    pub(crate) intact: Vec<String>,
    /// What is not the whole of a needle.
    pub(crate) parts: Vec<String>,
    /// What makes a claim less than one of the whole pack: only, pending.
    pub(crate) partial: Vec<String>,
    /// What packs are said to be free of: a negation before it is of that.
    pub(crate) free_of: Vec<String>,
    /// If, unless: what follows is a condition.
    pub(crate) conditions: Vec<String>,
    /// Words of print and of the trade that deny nothing where they stand beside a claim.
    pub(crate) trade: Vec<String>,
    source: Origin,
}

/// `months.toml`.
#[loaded(PartialEq)]
pub(crate) struct MonthFile {
    source: Origin,
    pub(crate) language: Vec<MonthNames>,
}

/// The names of the twelve months in one language.
#[loaded(PartialEq)]
pub(crate) struct MonthNames {
    pub(crate) code: String,
    /// Whether they are those of the Persian year.
    #[serde(default)]
    pub(crate) persian: bool,
    pub(crate) months: Vec<Vec<String>>,
}

/// Sentences on all packs.
#[loaded(PartialEq)]
pub(crate) struct GeneralWords {
    /// Many needles or packs, behind the word of damage.
    pub(crate) many: Vec<String>,
    /// The same before it.
    pub(crate) many_first: Vec<String>,
    /// Must, shall, should.
    pub(crate) duty: Vec<String>,
    /// Be.
    pub(crate) helper: Vec<String>,
    /// All, the.
    pub(crate) article: Vec<String>,
    source: Origin,
}

/// Sentences under a condition, in one language.
#[loaded(PartialEq)]
pub(crate) struct ConditionalWords {
    /// If, in case of.
    pub(crate) ifs: Vec<String>,
    /// When, at: as often of another thing.
    #[serde(default)]
    pub(crate) whens: Vec<String>,
    /// Unless, behind a claim of sterility.
    #[serde(default)]
    pub(crate) unless: Vec<String>,
    /// The pack and its verb, before the word of damage.
    pub(crate) middle: Vec<String>,
    /// Do not use, discard.
    pub(crate) forbids: Vec<String>,
    source: Origin,
}

/// What a packet says of its maker.
#[loaded(PartialEq)]
pub(crate) struct MakerWords {
    /// Stand before the number of a house or a document.
    pub(crate) numbers: Vec<String>,
    /// Stand before that of a telephone.
    pub(crate) calls: Vec<String>,
    /// Marks of conformity, before that of a notified body.
    pub(crate) bodies: Vec<String>,
    /// Streets and countries.
    pub(crate) places: Vec<String>,
    /// Forms of companies, the web, and where it is made.
    pub(crate) firms: Vec<String>,
    source: Origin,
}

#[loaded(PartialEq)]
pub(crate) struct Words {
    pub(crate) words: Vec<String>,
    source: Origin,
}

#[loaded(PartialEq)]
pub(crate) struct ShelfLife {
    pub(crate) longest_years: i16,
    pub(crate) source: Origin,
}

#[loaded(PartialEq)]
pub(crate) struct Swallowed {
    pub(crate) years_back: i16,
    pub(crate) years_ahead: i16,
    source: Origin,
}

/// `fields.toml`.
#[loaded]
pub(crate) struct FieldFile {
    source: Origin,
    pub(crate) field: Vec<FieldWords>,
    pub(crate) method: Vec<MethodWords>,
    pub(crate) pieces: Words,
    /// What codes of lots are numbered with besides digits.
    pub(crate) lot_parts: Words,
    /// What stands behind the word of a lot and is no code.
    pub(crate) no_lot: Words,
    /// What else is typed where no code is known.
    pub(crate) no_code: Words,
    /// What names of streets end in.
    pub(crate) streets: Words,
    pub(crate) maker: MakerWords,
    pub(crate) general: GeneralWords,
    pub(crate) conditional: Vec<ConditionalWords>,
    pub(crate) sterility: SterilityWords,
    pub(crate) date: DateWords,
    pub(crate) damage: Damage,
    pub(crate) shelf_life: ShelfLife,
    pub(crate) swallowed: Swallowed,
    pub(crate) sources: OtherSources,
}

/// Where what stands in no row comes from.
#[loaded]
pub(crate) struct OtherSources {
    pub(crate) misread: Origin,
    pub(crate) element_dates: Origin,
    pub(crate) links: Origin,
    pub(crate) hibc: Origin,
}

impl FieldFile {
    /// Every word that says something of a date, a lot or sterility, closed up and in
    /// capitals.
    pub(crate) fn words(&self) -> HashSet<String> {
        let SterilityWords {
            stems,
            negations,
            doubts,
            first,
            again,
            joining: _,
            by: _,
            intact: _,
            parts: _,
            partial: _,
            free_of: _,
            conditions,
            trade: _,
            source: _,
        } = &self.sterility;
        let words = self.field.iter().flat_map(|row| &row.words);
        let words = words.chain(self.method.iter().flat_map(|row| &row.words));
        let around = [stems, negations, doubts, first, again, conditions];
        let words = words.chain(around.into_iter().flatten());
        words.map(|known| closed_up(known).to_uppercase()).collect()
    }

    /// The source of what names no other.
    pub(crate) fn source(&self) -> &Origin {
        &self.source
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
}

impl Files {
    /// The files compiled into this build.
    pub(crate) fn builtin() -> Result<Self, RuleFault> {
        let register = Register::builtin()?;
        let file = rule_file!("label/configuration.toml");
        let configuration: ConfigurationFile = rules::load(&register, file)?;
        configuration.check(file.name)?;
        let fields: FieldFile = rules::load(&register, rule_file!("label/fields.toml"))?;
        let months = rules::load(&register, rule_file!("label/months.toml"))?;
        let lists: CodeListFile = rules::load(&register, rule_file!("label/code_lists.toml"))?;
        let (ais, of_ais) = super::gs1::Table::builtin(&register)?;
        let origins = Origins::new(&configuration, &fields, &of_ais);
        let lists = CodeLists::new(&lists);
        Ok(Self { configuration, fields, months, lists, ais, origins })
    }
}
