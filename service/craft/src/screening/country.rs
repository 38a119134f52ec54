//! Countries, where the rules of a place differ.
//!
//! `rules/screening/countries.toml` holds what the law of a country says of
//! tattooing minors, and only where its own text was read with certainty. In
//! every other country, and where none is told, the studio's own rule stands
//! alone and is said as such: a country makes that rule law, it never loosens
//! it. Rules on numbing products name their country themselves.

use std::collections::BTreeMap;
use std::fmt;
use std::str::FromStr;

use etui_schema::vocabulary::{Confidence, EvidenceKind};

use super::rule::{Field, Grounds};
use crate::evidence::Register;
use crate::rules::{self, Origin, RuleFault, RuleFile, rule_file};

/// A country by its code of two letters (ISO 3166-1), upper case.
///
/// ```
/// use etui_craft::screening::country::Country;
/// let austria: Country = "at".parse().unwrap();
/// assert_eq!(austria.to_string(), "AT");
/// assert!("Austria".parse::<Country>().is_err());
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Country([u8; 2]);

/// A text that is no code of a country.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("`{found}` is no country; a code of two letters such as GB or AT is wanted")]
pub struct CountryError {
    /// What was written, shortened to 40 characters.
    pub found: String,
}

impl FromStr for Country {
    type Err = CountryError;

    fn from_str(text: &str) -> Result<Self, CountryError> {
        match text.as_bytes() {
            [a, b] if a.is_ascii_alphabetic() && b.is_ascii_alphabetic() => {
                Ok(Self([a.to_ascii_uppercase(), b.to_ascii_uppercase()]))
            }
            _ => Err(CountryError { found: text.chars().take(40).collect() }),
        }
    }
}

impl fmt::Display for Country {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|letter| write!(f, "{}", char::from(*letter)))
    }
}

impl<'de> serde::Deserialize<'de> for Country {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = std::borrow::Cow::<'de, str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// What the law of a country says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountryLaw {
    /// Below this age nobody is tattooed, whoever consents.
    pub never_under_years: u8,
    /// What that stands on.
    pub grounds: Grounds,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct RawCountries {
    country: Vec<RawCountry>,
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCountry {
    code: Country,
    never_under_years: u8,
    sources: Vec<Origin>,
}

/// The table, and the text it was read from.
pub(super) const FILE: RuleFile = rule_file!("screening/countries.toml");

/// Reads the table.
///
/// # Errors
/// [`RuleFault`] for a source that is not registered, or is no law.
pub(super) fn read(register: &Register) -> Result<BTreeMap<Country, CountryLaw>, RuleFault> {
    let raw: RawCountries = rules::load(register, FILE)?;
    let mut laws = BTreeMap::new();
    for (at, RawCountry { code, never_under_years, sources }) in raw.country.into_iter().enumerate()
    {
        let law = sources.iter().all(|source| source.kind() == EvidenceKind::Law);
        RuleFault::unless(law, FILE.name, format!("/country/{at}/sources"), "law is wanted")?;
        let grounds = Grounds {
            field: Field::Condition,
            sources: sources.iter().map(|source| source.id().clone()).collect(),
            evidence: EvidenceKind::Law,
            confidence: Confidence::High,
        };
        laws.insert(code, CountryLaw { never_under_years, grounds });
    }
    Ok(laws)
}
