//! Basis entries, made often and so made cheaply.

use std::sync::Arc;

use etui_schema::vocabulary::EvidenceKind;

use crate::evidence::{Basis, Register};

/// The register, and the subjects that repeat.
#[derive(Debug, Clone)]
pub(super) struct Sources {
    register: Register,
    pub(super) about_caution: Arc<str>,
    pub(super) about_remark: Arc<str>,
    pub(super) about_hint: Arc<str>,
}

impl Sources {
    pub(super) fn new(register: &Register) -> Self {
        Self {
            register: register.clone(),
            about_caution: "caution".into(),
            about_remark: "remark".into(),
            about_hint: "working hint".into(),
        }
    }

    /// The basis of a sentence. Loading has checked that the source exists;
    /// the fallback claims the least.
    pub(super) fn basis(&self, about: &Arc<str>, source: &Arc<str>) -> Basis {
        let kind = self.register.get(source).map_or(EvidenceKind::Memory, |s| s.kind);
        Basis { about: Arc::clone(about), source: Arc::clone(source), kind }
    }
}
