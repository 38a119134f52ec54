//! What the law of a place asks of training: a part of a rules pack.

use crate::kinds::sent;
use crate::vocabulary::words;

words! {
    /// Which confirmed treatments count.
    PackCounted, "way of counting" {
        /// Those of the treatment in question: brows for brows.
        Treatment = "treatment",
        /// All.
        All = "all",
    }
}

/// What the law of a place asks of students and of those who train them. It only adds:
/// where several packs ask, each has to be met, and nobody answers for what is wanting.
#[sent(Eq)]
pub struct PackTraining {
    /// Id of the law: a source of the pack, or a registered one, of the kind `law`.
    #[garde(length(chars, min = 1, max = 80))]
    pub source: String,
    /// The section that says so.
    #[garde(length(chars, min = 1, max = 120))]
    pub section: String,
    /// So many first treatments under a trainer's eye.
    #[garde(range(min = 1, max = 1000))]
    pub first_treatments_under_eye: Option<u16>,
    /// So many treatments, each confirmed by a trainer, before she works alone.
    #[garde(range(min = 1, max = 1000))]
    pub least_treatments: Option<u16>,
    /// Which of them count; those of the treatment in question if absent.
    #[serde(default = "of_treatment")]
    #[garde(skip)]
    pub counted: PackCounted,
    /// So many years a trainer has held her own licence (`licensed_on` of an artist).
    #[garde(range(min = 1, max = 20))]
    pub trainer_years: Option<u8>,
    /// So many students has a trainer at a time. It is told with the condition; who is in
    /// which room is not known here.
    #[garde(range(min = 1, max = 50))]
    pub students_per_trainer: Option<u8>,
}

const fn of_treatment() -> PackCounted {
    PackCounted::Treatment
}
