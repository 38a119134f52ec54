//! Where the trade is split.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use super::When;
use crate::evidence::Agreement;
use crate::selection::form::Form;

#[loaded]
pub(super) struct ViewFile {
    pub(super) view: Vec<View>,
}

/// One question on which the trade is split. What it says stands under keys.
#[loaded]
pub(in crate::selection) struct View {
    pub(in crate::selection) question: Arc<str>,
    pub(in crate::selection) when: When,
    pub(in crate::selection) school: Vec<School>,
}

/// One answer to it.
#[loaded]
pub(in crate::selection) struct School {
    pub(in crate::selection) view: Arc<str>,
    pub(in crate::selection) reason: Arc<str>,
    pub(in crate::selection) agreement: Agreement,
    /// What it chooses, where that is not a needle.
    pub(in crate::selection) choose: Option<Arc<str>>,
    /// The needles it would take in words, where it chooses needles.
    pub(in crate::selection) takes: Option<Arc<str>>,
    /// The needles it would take; all if empty.
    #[serde(default)]
    pub(in crate::selection) forms: Vec<Form>,
    /// Inclusive.
    pub(in crate::selection) count: Option<[u8; 2]>,
    /// Inclusive.
    pub(in crate::selection) diameter_mm: Option<[f64; 2]>,
}
