//! Dry runs: what would happen, and nothing done.

use crate::kinds::asked;

/// Whether something is to be done, or only told.
#[asked(Default, Eq)]
pub struct DryRunQuery {
    /// `true`: answer what would happen, with every refusal there would be, and write nothing. An
    /// `Idempotency-Key` is not used up by it.
    pub dry_run: Option<bool>,
}

impl DryRunQuery {
    /// Whether nothing is to be written.
    #[must_use]
    pub fn is_dry(&self) -> bool {
        self.dry_run == Some(true)
    }
}
