//! Dry runs: what would happen, and nothing done.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_with::skip_serializing_none;

/// Whether something is to be done, or only told.
#[skip_serializing_none]
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
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
