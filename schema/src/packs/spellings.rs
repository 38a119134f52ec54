//! A label-spellings pack: how suppliers write what is on a packet.

use crate::kinds::sent;
use crate::vocabulary::{Grouping, Taper, words};

words! {
    /// What a grouping code alone does not tell.
    PackCodeNote, "note" {
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
    }
}

/// How a supplier writes sizes, grouping codes and tapers. A reading names the pack it
/// used.
///
/// A pack that names whose labels it reads (`maker`, `gtin_prefix`,
/// `reference_prefix`) is used for those alone: for a label or a lot of which all
/// that is named was told or stands on it. One that names nobody is used for every
/// label and adds only what is not read without it. Either way a label that is read
/// without a pack is never clear as something else.
#[sent(free)]
pub struct LabelSpellingsPack {
    /// The author's own version.
    #[garde(length(chars, min = 1, max = 40))]
    pub version: Option<String>,
    /// What the pack is for, for people.
    #[garde(length(chars, min = 1, max = 500))]
    pub about: Option<String>,
    /// Whether to apply it. A pack that is not applied is checked all the same.
    #[serde(default = "super::yes")]
    pub enabled: bool,
    /// Only for labels of this maker or supplier, as lots name it.
    #[garde(length(chars, min = 1, max = 80))]
    pub maker: Option<String>,
    /// Only for labels whose article number, in the 14-digit form, begins so: 4 to 14
    /// digits.
    #[garde(length(chars, min = 4, max = 14))]
    pub gtin_prefix: Option<String>,
    /// Only for labels whose catalogue number begins so.
    #[garde(length(chars, min = 2, max = 40))]
    pub reference_prefix: Option<String>,
    /// Four digits are count, then diameter. Only with whose labels they are.
    #[serde(default)]
    pub count_first: bool,
    /// Sizes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 99), dive)]
    pub size: Vec<PackSize>,
    /// Grouping codes.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 200), dive)]
    pub code: Vec<PackCode>,
    /// Taper words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 100), dive)]
    pub taper: Vec<PackTaper>,
    /// Words that say nothing about the configuration.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 500), inner(length(chars, min = 1, max = 40)))]
    pub noise: Vec<String>,
}

impl Default for LabelSpellingsPack {
    /// A pack that is applied and adds nothing yet.
    fn default() -> Self {
        Self {
            version: None,
            about: None,
            enabled: true,
            maker: None,
            gtin_prefix: None,
            reference_prefix: None,
            count_first: false,
            size: Vec::new(),
            code: Vec::new(),
            taper: Vec::new(),
            noise: Vec::new(),
        }
    }
}

/// A "#" size.
#[sent]
pub struct PackSize {
    /// The number behind the "#".
    #[garde(range(min = 1, max = 99))]
    pub number: u8,
    /// Diameter in millimetres.
    #[garde(range(min = 0.1, max = 0.6))]
    pub mm: f64,
    /// Least diameter the supplier gives, in millimetres.
    #[garde(range(min = 0.1, max = 0.6))]
    pub least_mm: Option<f64>,
    /// Greatest diameter the supplier gives, in millimetres.
    #[garde(range(min = 0.1, max = 0.6))]
    pub most_mm: Option<f64>,
    /// Diameters to show as further readings, in millimetres.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 1), inner(range(min = 0.1, max = 0.6)))]
    pub also_mm: Vec<f64>,
    /// Whether a person should confirm a label with this size.
    #[serde(default)]
    #[garde(skip)]
    pub confirm: bool,
}

/// A word for a grouping.
#[sent(free)]
pub struct PackCode {
    /// The text: A-Z, 0-9 and blanks, a letter first. A blank stands for any of
    /// blank `. - _ /` or nothing.
    #[garde(length(chars, min = 1, max = 40))]
    pub text: String,
    /// What it means first.
    pub grouping: Grouping,
    /// What else it may mean.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 5))]
    pub also: Vec<Grouping>,
    /// A taper that the further reading brings.
    pub also_taper: Option<Taper>,
    /// What to say about it.
    pub note: Option<PackCodeNote>,
    /// Whether a person should confirm a label with this code.
    #[serde(default)]
    pub confirm: bool,
    /// Whether the number beside it counts pins.
    #[serde(default)]
    pub pins: bool,
}

/// A word for a taper.
#[sent(Eq, free)]
pub struct PackTaper {
    /// The text: A-Z, 0-9 and blanks, a letter first.
    #[garde(length(chars, min = 1, max = 40))]
    pub text: String,
    /// What it means.
    pub taper: Taper,
    /// Whether it is rarely written.
    #[serde(default)]
    pub weak: bool,
}
