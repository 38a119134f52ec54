//! What a reminder says, which is sealed.

use etui_schema::vocabulary::aftercare::StepKind;
use etui_schema::vocabulary::{Language, Zone};
use jiff::fmt::temporal::Pieces;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use crate::store::record::Record;
use crate::studio::{Studio, branches};

/// What a reminder says: the step may tell of the client's health.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Said {
    pub(super) key: String,
    pub(super) kind: StepKind,
    pub(super) text: String,
    pub(super) local: String,
    /// The zone of that; absent in what former builds wrote.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) zone: Option<Zone>,
    /// The sentence of the pack that it was made from, before its places were
    /// filled; absent if its step is built in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) wording: Option<Wording>,
    /// The sentence with whom to call left open, if it says that: the numbers of a branch change, and
    /// nobody is to be told a former one. Absent in what former builds wrote.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) open: Option<Wording>,
}

/// A sentence whose places are not filled, or not all of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Wording {
    pub(super) language: Language,
    pub(super) sentence: String,
}

impl Said {
    /// The same with whom to call as it stands today at its branch.
    pub(super) fn calling(mut self, here: &Studio) -> Self {
        if let Some(Wording { language, sentence }) = &self.open {
            self.text = branches::calling(here, sentence, *language);
        }
        self
    }

    /// Where she was to read it; of former builds the offset of then alone is known.
    pub(super) fn zone(&self, studio: &Studio) -> TimeZone {
        let offset = || Pieces::parse(&self.local).ok()?.to_numeric_offset();
        let of_then = || offset().map(TimeZone::fixed);
        let zone = self.zone.as_ref().map(|zone| zone.rules().clone());
        zone.or_else(of_then).unwrap_or_else(|| studio.zone.rules().clone())
    }

    /// Whether the pack that says this has been taken away, switched off or changed
    /// since: then nobody says it any more.
    pub(super) fn is_withdrawn(&self, studio: &Studio) -> bool {
        let plans = &studio.craft.plans;
        match &self.wording {
            Some(Wording { language, sentence }) => {
                plans.pack_sentence(&self.key, *language) != Some(sentence)
            }
            // Kept by a build that did not note the pack.
            None => !plans.has_step(&self.key),
        }
    }
}

impl Record for Said {
    const KIND: &'static str = "reminder_said";
}
