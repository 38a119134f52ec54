//! What a configuration is for the artist's choice: a single, a liner, a
//! shader, a flat, a magnum. One needle is a single, however it is labelled.

use etui_schema::vocabulary::Grouping;

use crate::words::words;

words! {
    /// The forms that the trade chooses between.
    Form {
        /// One needle.
        Single = "single",
        /// Several in a tight round group.
        Liner = "liner",
        /// Several in a loose round group.
        Shader = "shader",
        /// A ring without a middle.
        HollowLiner = "hollow_liner",
        /// One straight row.
        Flat = "flat",
        /// One row on a slant.
        SlopedFlat = "sloped_flat",
        /// Two rows, spread.
        WovenMagnum = "woven_magnum",
        /// Two rows, close.
        StackedMagnum = "stacked_magnum",
        /// Two rows on an arc.
        CurvedMagnum = "curved_magnum",
    }
}

impl Form {
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
}
