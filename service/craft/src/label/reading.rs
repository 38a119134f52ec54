//! What the reader answers.

use std::fmt;

use etui_schema::vocabulary::Configuration;
use jiff::civil::Date;

pub use super::because::Because;
pub use super::dates::Precision;
pub use super::faults::{Fault, FaultCode};
use super::lineage::Lineage;
pub use super::tables::Method;

/// How far a label could be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Outcome {
    /// One reading, complete, nothing to ask.
    Clear,
    /// Several readings, or one that a person should confirm.
    Ambiguous,
    /// One reading that lacks something, or none and no contradiction.
    Incomplete,
    /// Not read; [`Reading::refusal`] or the symbol's faults say why.
    Refused,
}

impl Outcome {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Ambiguous => "ambiguous",
            Self::Incomplete => "incomplete",
            Self::Refused => "refused",
        }
    }
}

/// Declares a closed list of reasons: spelling and sentence.
macro_rules! reasons {
    ($(#[$meta:meta])* $name:ident { $($variant:ident = $text:literal, $says:literal;)+ }) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub enum $name { $(#[doc = $says] $variant),+ }

        impl $name {
            /// Every reason, in the order of the list.
            pub const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The spelling used in answers.
            #[must_use]
            pub const fn as_str(self) -> &'static str {
                match self { $(Self::$variant => $text),+ }
            }

            /// What it means and what to do, for people.
            #[must_use]
            pub const fn says(self) -> &'static str {
                match self { $(Self::$variant => $says),+ }
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(self.as_str())
            }
        }
    };
}

reasons! {
    /// Why a text was not read at all.
    Refusal {
        Empty = "empty", "There is no text. Send what is printed on the packet.";
        TooLong = "too_long", "The text is longer than 2,000 characters. Send the text of one packet.";
        ControlCharacters = "control_characters", "The text holds control characters. Send plain text; what a scanner sends belongs into `symbol`.";
        DirectionMarks = "direction_marks", "The text holds marks that change its direction. Remove them and read the packet again.";
        InvisibleCharacters = "invisible_characters", "The text holds invisible characters. Remove them and read the packet again.";
        Pictures = "pictures", "The text holds pictures. Send the letters and digits of the packet.";
        SeveralLabels = "several_labels", "There are two labels in one text. Send each as a label of its own.";
        NoSuchSize = "no_such_size", "A number of the label is no needle size that is sold. Read the packet again.";
        Filiform = "filiform", "Diameter x length is how acupuncture needles are marked. They have no grouping and are not for a machine.";
        NotALabel = "not_a_label", "Nothing of a needle packet was found. Send what is printed on it, such as `1003RL` or `LOT 23A114`.";
    }
}

reasons! {
    /// What speaks about the use of the pack today. See [`FitnessReason::state`].
    FitnessReason {
        Expired = "expired", "The pack has expired. Do not use it.";
        LabelConflict = "label_conflict", "Print and symbol contradict each other. Hold the lot and ask the supplier.";
        SwallowedSeparator = "swallowed_separator", "A value of the symbol ends like a date that lost its separator. Hold the pack and compare with the print.";
        DatesContradict = "dates_contradict", "The expiry lies before the manufacture. Hold the pack.";
        DateWithoutWord = "date_without_word", "A date that has passed stands without a word; it may be the expiry. Hold the pack until you know.";
        NotSterile = "not_sterile", "The pack is not sterile. It may not penetrate skin unless you sterilised it yourself, with a record.";
        Damaged = "damaged", "The pack is damaged or was opened. Discard it.";
        Reusable = "reusable", "The pack is marked for more than one use. Cartridges are used once; ask the supplier.";
        Unreadable = "unreadable", "Nothing could be read that says what this pack is.";
        AmbiguousExpiry = "ambiguous_expiry", "The expiry can be read in more than one way; the earliest counts. Confirm it.";
        ExpiryUnknown = "expiry_unknown", "No expiry was read. That does not mean that there is none.";
        ExpiryUnreadable = "expiry_unreadable", "A date of expiry stands on the pack and could not be read. Hold the pack until somebody has read it.";
        ExpiryWordUnproven = "expiry_word_unproven", "The word in front of the expiry is known from no source. Confirm that it names the expiry.";
        SterilityUnknown = "sterility_unknown", "Nothing was read about sterility. Look for STERILE on the pack.";
        SymbolFaulty = "symbol_faulty", "The symbol has faults; what it says was not used where it is wrong.";
        CheckPack = "check_pack", "Look at the pack before opening: it may not be used if it is damaged.";
    }
}

impl FitnessReason {
    /// The best state that a pack with this reason can be in.
    #[must_use]
    pub const fn state(self) -> FitnessState {
        match self {
            Self::Expired | Self::NotSterile | Self::Damaged | Self::Reusable => {
                FitnessState::Unfit
            }
            Self::LabelConflict
            | Self::SwallowedSeparator
            | Self::DatesContradict
            | Self::DateWithoutWord
            | Self::Unreadable
            | Self::AmbiguousExpiry
            | Self::ExpiryUnknown
            | Self::ExpiryUnreadable
            | Self::ExpiryWordUnproven
            | Self::SterilityUnknown
            | Self::SymbolFaulty => FitnessState::ToConfirm,
            Self::CheckPack => FitnessState::Fit,
        }
    }

    /// Key of the question that settles it, in the texts of the
    /// [`Reader`](super::Reader); none if no answer makes the pack usable, or
    /// none is needed.
    #[must_use]
    pub const fn question(self) -> Option<&'static str> {
        match self.state() {
            FitnessState::ToConfirm => Some(self.as_str()),
            FitnessState::Fit | FitnessState::Unfit => None,
        }
    }
}

/// Whether a pack may be used; the better first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Default)]
pub enum FitnessState {
    /// In date and sterile by what stands on it, and nothing is open.
    #[default]
    Fit,
    /// Something is open that a person must settle before the pack is used.
    ToConfirm,
    /// What stands on it forbids the use.
    Unfit,
}

impl FitnessState {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Fit => "fit",
            Self::ToConfirm => "to_confirm",
            Self::Unfit => "unfit",
        }
    }
}

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

/// Where a value was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Origin {
    /// In the printed text.
    Text,
    /// In the symbol.
    Symbol,
}

impl Origin {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Text => "text",
            Self::Symbol => "symbol",
        }
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
    /// Where it was read.
    pub from: Origin,
}

/// What is known of the pack besides the configuration.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Packet {
    /// The maker's batch.
    pub lot: Option<Said<String>>,
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

/// Whose data a symbol carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Standard {
    /// GS1 elements.
    Gs1,
    /// HIBC supplier data.
    Hibc,
    /// A trade item number alone.
    Gtin,
    /// Neither: free text.
    Text,
}

impl Standard {
    /// The spelling used in answers.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            Self::Gs1 => "gs1",
            Self::Hibc => "hibc",
            Self::Gtin => "gtin",
            Self::Text => "text",
        }
    }
}

/// One element of a symbol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SymbolElement {
    /// Application identifier, or the name of the HIBC part.
    pub key: std::sync::Arc<str>,
    /// The value as written.
    pub value: String,
    /// What it says, for people.
    pub means: String,
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

/// What a part of the text was read as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Span {
    /// First character.
    pub start: usize,
    /// Character after the last.
    pub end: usize,
    /// What it was read as.
    pub kind: SpanKind,
}

reasons! {
    /// What a part of the text was read as.
    SpanKind {
        Diameter = "diameter", "Diameter of one needle.";
        Count = "count", "Number of needles.";
        Grouping = "grouping", "How the needles are bound.";
        Taper = "taper", "Length of the point.";
        Mark = "mark", "A word that changes what the rest means.";
        Lot = "lot", "Batch.";
        ExpiresOn = "expires_on", "Expiry.";
        MadeOn = "made_on", "Manufacture.";
        Reference = "reference", "Catalogue number.";
        Gtin = "gtin", "Trade item number.";
        Serial = "serial", "Serial number.";
        Quantity = "quantity", "Pieces in the pack.";
        Sterility = "sterility", "Sterile or not, and how.";
        SingleUse = "single_use", "Used once or more often.";
        Notice = "notice", "A notice to the user.";
        Damage = "damage", "A remark that the pack is damaged.";
        Elements = "elements", "The printed form of a symbol.";
        PackWord = "pack_word", "A word without meaning for the configuration.";
    }
}

/// Print and symbol contradict each other, or a symbol itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conflict {
    /// Which field of the packet.
    pub field: &'static str,
    /// What the text says.
    pub text: String,
    /// What the symbol says.
    pub symbol: String,
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
