//! A configuration that says enough to be computed with.

use etui_schema::vocabulary::{Configuration, Grouping, Taper};

/// Thinnest diameter the model computes with, in millimetres.
pub const DIAMETER_MIN_MM: f64 = 0.10;
/// Thickest diameter the model computes with, in millimetres.
pub const DIAMETER_MAX_MM: f64 = 0.60;
/// Highest number of needles the model computes with.
pub const COUNT_MAX: u8 = 49;

/// Diameter, count and grouping, all told; a taper where it was told.
///
/// ```
/// use etui_craft::configuration::Complete;
/// use etui_schema::vocabulary::{Configuration, Grouping};
/// let told = Configuration {
///     diameter_mm: Some(0.30),
///     count: Some(3),
///     grouping: Some(Grouping::RoundLiner),
///     taper: None,
/// };
/// assert_eq!(Complete::try_from(told)?.canonical(), "0.30 3RL");
/// let fault = Complete::try_from(Configuration { count: None, ..told }).unwrap_err();
/// assert!(fault.to_string().contains("count"));
/// # Ok::<(), etui_craft::configuration::Incomplete>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Complete {
    /// Diameter of one needle's shaft in millimetres, 0.10 to 0.60.
    pub diameter_mm: f64,
    /// Number of needles (for a hand blade: of pins), 1 to 49.
    pub count: u8,
    /// How the needles are bound together.
    pub grouping: Grouping,
    /// Length class of the ground point, if the label told it.
    pub taper: Option<Taper>,
}

/// Why a configuration cannot be computed with.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum Incomplete {
    /// A field is missing.
    #[error("the {field} is missing; nothing is assumed for it")]
    Missing {
        /// Which field, as it is spelt on the wire.
        field: &'static str,
    },
    /// The diameter is outside the range, or no number.
    #[error("diameter {found} mm is outside 0.10 to 0.60 mm")]
    Diameter {
        /// What was given.
        found: f64,
    },
    /// The count is outside the range.
    #[error("count {found} is outside 1 to 49")]
    Count {
        /// What was given.
        found: u8,
    },
}

impl Incomplete {
    /// The field at fault, as it is spelt on the wire.
    #[must_use]
    pub const fn field(&self) -> &'static str {
        match self {
            Self::Missing { field } => field,
            Self::Diameter { .. } => "diameter_mm",
            Self::Count { .. } => "count",
        }
    }
}

impl TryFrom<Configuration> for Complete {
    type Error = Incomplete;

    fn try_from(told: Configuration) -> Result<Self, Incomplete> {
        let Configuration { diameter_mm, count, grouping, taper } = told;
        let missing = |field| Incomplete::Missing { field };
        let diameter_mm = diameter_mm.ok_or(missing("diameter_mm"))?;
        let count = count.ok_or(missing("count"))?;
        let grouping = grouping.ok_or(missing("grouping"))?;
        if !(DIAMETER_MIN_MM..=DIAMETER_MAX_MM).contains(&diameter_mm) {
            return Err(Incomplete::Diameter { found: diameter_mm });
        }
        if !(1..=COUNT_MAX).contains(&count) {
            return Err(Incomplete::Count { found: count });
        }
        Ok(Self { diameter_mm, count, grouping, taper })
    }
}

impl From<Complete> for Configuration {
    fn from(complete: Complete) -> Self {
        let Complete { diameter_mm, count, grouping, taper } = complete;
        Self { diameter_mm: Some(diameter_mm), count: Some(count), grouping: Some(grouping), taper }
    }
}

impl Complete {
    /// The canonical text, such as `0.30 3RS LT`.
    #[must_use]
    pub fn canonical(&self) -> String {
        Configuration::from(*self).canonical()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_missing_or_out_of_range_is_named() {
        let told = Configuration {
            diameter_mm: Some(0.3),
            count: Some(3),
            grouping: Some(Grouping::Flat),
            taper: None,
        };
        for (given, field) in [
            (Configuration { diameter_mm: None, ..told }, "diameter_mm"),
            (Configuration { count: None, ..told }, "count"),
            (Configuration { grouping: None, ..told }, "grouping"),
            (Configuration { diameter_mm: Some(f64::NAN), ..told }, "diameter_mm"),
            (Configuration { diameter_mm: Some(0.7), ..told }, "diameter_mm"),
            (Configuration { count: Some(0), ..told }, "count"),
            (Configuration { count: Some(50), ..told }, "count"),
        ] {
            assert_eq!(Complete::try_from(given).unwrap_err().field(), field, "{given:?}");
        }
        assert_eq!(Configuration::from(Complete::try_from(told).unwrap()), told);
    }
}
