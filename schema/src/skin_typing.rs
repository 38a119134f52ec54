//! Skin typing: sun-reaction type and measured colour.

use crate::describe::JsonSchema;
use crate::kinds::{sent, sparing, told};
use garde::Validate;
use serde::{Deserialize, Serialize};

use crate::service::Basis;
use crate::vocabulary::{Lab, Phototype, Site};

/// Answers of the ten-question sun-reaction questionnaire, each 0 to 4.
#[sparing]
#[derive(
    Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate,
)]
#[serde(deny_unknown_fields)]
pub struct PhototypeRequest {
    /// Eye colour, from light blue (0) to brown-black (4).
    #[garde(range(max = 4))]
    pub eyes: Option<u8>,
    /// Natural hair, from red or light blond (0) to black (4).
    #[garde(range(max = 4))]
    pub hair: Option<u8>,
    /// Unexposed skin, from pink-white (0) to dark brown (4).
    #[garde(range(max = 4))]
    pub skin: Option<u8>,
    /// Freckles on unexposed skin, from many (0) to none (4).
    #[garde(range(max = 4))]
    pub freckles: Option<u8>,
    /// Long stay in the sun, from painful burn (0) to never burns (4).
    #[garde(range(max = 4))]
    pub long_sun: Option<u8>,
    /// Depth of tan, from hardly any (0) to very dark (4).
    #[garde(range(max = 4))]
    pub depth_of_tan: Option<u8>,
    /// Tans within hours, from never (0) to always (4).
    #[garde(range(max = 4))]
    pub tans_within_hours: Option<u8>,
    /// The face's reaction to sun, from very sensitive (0) to never a problem (4).
    #[garde(range(max = 4))]
    pub face_to_sun: Option<u8>,
    /// Last exposure, from over three months ago (0) to under two weeks (4).
    #[garde(range(max = 4))]
    pub last_exposure: Option<u8>,
    /// How often the area tans, from never (0) to always (4).
    #[garde(range(max = 4))]
    pub area_tans: Option<u8>,
}

/// A sun-reaction score. It is not a skin colour.
#[told]
pub struct PhototypeAnswer {
    /// `typed`, `incomplete` (answers are missing) or `eight_questions` (the
    /// version without habits, whose sums do not fit these bands).
    pub outcome: String,
    /// Points of the answers given.
    pub points: u8,
    /// Points if every missing answer were the highest.
    pub at_most: u8,
    /// The type; absent unless every question was answered.
    pub phototype: Option<Phototype>,
    /// The lowest and the highest type that are still plausible.
    pub plausible: Vec<Phototype>,
    /// Questions that were not answered.
    pub missing: Vec<String>,
    /// What the number is and is not.
    pub statement: String,
    /// Where it came from.
    pub basis: Vec<Basis>,
}

/// A measured skin colour.
#[sent(free)]
pub struct SkinColourRequest {
    /// The colour, D65.
    #[garde(dive)]
    pub lab: Lab,
    /// Where it was measured: the same person changes class between sites.
    pub site: Option<Site>,
    /// A second colour to compare with.
    #[garde(dive)]
    pub other: Option<Lab>,
}

/// What the colour says.
#[told]
pub struct SkinColour {
    /// Individual typology angle in degrees.
    pub ita_degrees: f64,
    /// Its class.
    pub class: String,
    /// Hue angle in degrees; no limit between warm and cool has been published.
    pub hue_degrees: f64,
    /// Where it was measured.
    pub site: Option<Site>,
    /// The difference to the second colour.
    pub difference: Option<ColourDifference>,
    /// What the number is and is not.
    pub statement: String,
    /// Where it came from.
    pub basis: Vec<Basis>,
}

/// The difference of two colours.
#[told]
pub struct ColourDifference {
    /// CIEDE2000.
    pub delta_e_2000: f64,
    /// Plain distance (CIE 1976).
    pub delta_e_1976: f64,
    /// `same`, `close`, `visible` or `different`.
    pub seen: String,
}
