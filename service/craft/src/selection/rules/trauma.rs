//! What to do when the skin shows trauma.

use std::sync::Arc;

use serde::Deserialize;

use crate::selection::answer::StepKind;

/// `trauma.toml`.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::selection) struct TraumaRules {
    pub(in crate::selection) leave: Advice,
    pub(in crate::selection) ask: Advice,
    pub(in crate::selection) change: Vec<Change>,
    pub(in crate::selection) stop: Advice,
    pub(in crate::selection) needle: NeedleRule,
}

/// One piece of advice.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::selection) struct Advice {
    pub(in crate::selection) source: Arc<str>,
    pub(in crate::selection) agreement: Arc<str>,
    pub(in crate::selection) change: Arc<str>,
    pub(in crate::selection) because: Arc<str>,
}

/// One change of hand or machine.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::selection) struct Change {
    pub(in crate::selection) kind: StepKind,
    source: Arc<str>,
    agreement: Arc<str>,
    change: Arc<str>,
    because: Arc<str>,
    /// Said only where the stroke is longer than this, or not told.
    pub(in crate::selection) above_stroke_mm: Option<f64>,
}

impl Change {
    /// The advice in it.
    pub(in crate::selection) fn advice(&self) -> Advice {
        let Self { kind: _, source, agreement, change, because, above_stroke_mm: _ } = self;
        Advice {
            source: Arc::clone(source),
            agreement: Arc::clone(agreement),
            change: Arc::clone(change),
            because: Arc::clone(because),
        }
    }
}

/// Which needle may follow.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(in crate::selection) struct NeedleRule {
    pub(in crate::selection) source: Arc<str>,
    pub(in crate::selection) agreement: Arc<str>,
    pub(in crate::selection) because: String,
    pub(in crate::selection) same: String,
    /// At most so many are named.
    pub(in crate::selection) most: usize,
    /// The group grows to at most so many times its count.
    pub(in crate::selection) count_factor: u8,
}

impl TraumaRules {
    pub(super) fn sources(&self) -> impl Iterator<Item = &Arc<str>> {
        [&self.leave.source, &self.ask.source, &self.stop.source, &self.needle.source]
            .into_iter()
            .chain(self.change.iter().map(|change| &change.source))
    }
}
