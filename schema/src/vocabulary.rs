//! The trade's words and the checked values that travel in bodies.
//!
//! Each closed list of words is one enum made by the `words!` macro: it knows
//! its wire spelling ([`Grouping::as_str`]), reads it back ([`std::str::FromStr`]) and
//! lists all its members in a fixed order ([`Grouping::ALL`]).

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

        #[cfg(feature = "describe")]
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
pub mod label;
mod setting;
mod symptom;
mod trade;
mod training;
mod values;

pub use setting::{Configuration, Lab, Machine, Setting, Skin, two_decimals};
pub use trade::{
    Address, Confidence, Effect, EvidenceKind, Give, Grouping, Hand, Language, Oiliness, Phototype,
    Sensitivity, Site, SkinSign, Taper, Thickness, Treatment, Verdict,
};
pub use training::{
    ArtistStanding, DrillKey, DrillLevel, Paper, PracticeState, Quantity, QuantityFault, Rung,
    SheetFault, SheetState, TrainerMark, Travel,
};
pub use values::{CivilDate, Instant, Reference, Zone};

pub(crate) use crate::words::words;
pub(crate) use trade::each_language;

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
    pub(super) fn new(found: &str, wanted: &'static str) -> Self {
        Self { found: found.chars().take(80).collect(), wanted }
    }
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
