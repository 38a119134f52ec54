//! Subjects of basis entries, which are made often and so made cheaply.

use std::sync::Arc;

use crate::rules::Origin;

/// The subjects that repeat, and the origin of what we assume ourselves.
#[derive(Debug, Clone)]
pub(super) struct Sources {
    pub(super) about_caution: Arc<str>,
    pub(super) about_remark: Arc<str>,
    pub(super) about_hint: Arc<str>,
    pub(super) model: Origin,
}

impl Sources {
    pub(super) fn new() -> Self {
        Self {
            about_caution: "caution".into(),
            about_remark: "remark".into(),
            about_hint: "working hint".into(),
            model: Origin::model(),
        }
    }
}
