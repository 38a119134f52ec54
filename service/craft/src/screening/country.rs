//! Countries, where the rules of a place differ.

use std::fmt;
use std::str::FromStr;

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
