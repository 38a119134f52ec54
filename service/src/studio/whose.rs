//! Whose a record is, and of which branch.

use etui_schema::branches::UNASSIGNED;
use etui_schema::vocabulary::Reference;

use super::moment::Mandate;

/// Whose a record is.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Whose {
    /// The artist.
    pub artist: Option<Reference>,
    /// The branch.
    pub branch: Option<Reference>,
}

impl Whose {
    /// Whether it is within a caller's reach.
    #[must_use]
    pub fn is_reached(&self, mandate: &Mandate) -> bool {
        mandate.reaches_work(self.artist.as_ref(), self.branch.as_ref())
    }
}

/// A branch that is named; none where it is said that there is none.
#[must_use]
pub fn named(branch: Option<&Reference>) -> Option<&Reference> {
    branch.filter(|branch| branch.as_str() != UNASSIGNED)
}

/// Whether what names a branch, or none, is of the one that is asked for.
#[must_use]
pub fn is_of(asked: Option<&Reference>, found: Option<&Reference>) -> bool {
    asked.is_none_or(|asked| named(Some(asked)) == named(found))
}
