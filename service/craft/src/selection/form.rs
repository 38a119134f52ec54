//! What a configuration is for the artist's choice: a single, a liner, a
//! shader, a flat, a magnum. One needle is a single, however it is labelled.

use std::fmt;

use etui_schema::vocabulary::Grouping;
use serde::Deserialize;

/// The forms that the trade chooses between.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Form {
    /// One needle.
    Single,
    /// Several in a tight round group.
    Liner,
    /// Several in a loose round group.
    Shader,
    /// A ring without a middle.
    HollowLiner,
    /// One straight row.
    Flat,
    /// One row on a slant.
    SlopedFlat,
    /// Two rows, spread.
    WovenMagnum,
    /// Two rows, close.
    StackedMagnum,
    /// Two rows on an arc.
    CurvedMagnum,
}

impl Form {
    /// Every form in a fixed order.
    pub const ALL: &'static [Self] = &[
        Self::Single,
        Self::Liner,
        Self::Shader,
        Self::HollowLiner,
        Self::Flat,
        Self::SlopedFlat,
        Self::WovenMagnum,
        Self::StackedMagnum,
        Self::CurvedMagnum,
    ];

    /// The form of a grouping and count, and a second one where the packet
    /// does not tell which of two it is. None for a hand blade, which no
    /// machine drives.
    ///
    /// ```
    /// use etui_craft::selection::Form;
    /// use etui_schema::vocabulary::Grouping;
    /// assert_eq!(Form::of(Grouping::RoundLiner, 1), Some((Form::Single, None)));
    /// assert_eq!(Form::of(Grouping::Round, 3), Some((Form::Liner, Some(Form::Shader))));
    /// assert_eq!(Form::of(Grouping::HandBlade, 12), None);
    /// ```
    #[must_use]
    pub const fn of(grouping: Grouping, count: u8) -> Option<(Self, Option<Self>)> {
        if count < 2 && !matches!(grouping, Grouping::HandBlade) {
            return Some((Self::Single, None));
        }
        Some(match grouping {
            Grouping::RoundLiner => (Self::Liner, None),
            Grouping::RoundShader => (Self::Shader, None),
            Grouping::Round => (Self::Liner, Some(Self::Shader)),
            Grouping::HollowLiner => (Self::HollowLiner, None),
            Grouping::Flat => (Self::Flat, None),
            Grouping::SlopedFlat => (Self::SlopedFlat, None),
            Grouping::WovenMagnum => (Self::WovenMagnum, None),
            Grouping::StackedMagnum => (Self::StackedMagnum, None),
            Grouping::CurvedMagnum => (Self::CurvedMagnum, None),
            Grouping::Magnum => (Self::WovenMagnum, Some(Self::StackedMagnum)),
            Grouping::HandBlade => return None,
        })
    }

    /// The form in words, without an article.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Single => "single needle",
            Self::Liner => "round liner",
            Self::Shader => "round shader",
            Self::HollowLiner => "hollow liner",
            Self::Flat => "flat",
            Self::SlopedFlat => "sloped flat",
            Self::WovenMagnum => "woven magnum",
            Self::StackedMagnum => "stacked magnum",
            Self::CurvedMagnum => "curved magnum",
        }
    }
}

impl fmt::Display for Form {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.words())
    }
}
