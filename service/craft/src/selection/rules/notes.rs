//! Cautions, remarks and working hints.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::vocabulary::{Effect, Grouping, Taper, Treatment};
use serde::Deserialize;

use super::Signal;
use crate::evidence::Agreement;
use crate::rules::Origin;
use crate::selection::form::Form;

#[loaded]
pub(crate) struct NoteFile {
    pub(super) note: Vec<Note>,
}

/// How loudly a note is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::selection) enum NoteKind {
    /// It can hurt or spoil the work.
    Caution,
    /// Good to know.
    Remark,
}

/// One caution or remark.
#[loaded]
pub(in crate::selection) struct Note {
    /// What callers branch on.
    pub(in crate::selection) code: Arc<str>,
    pub(in crate::selection) kind: NoteKind,
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) agreement: Agreement,
    /// The key of a sentence that may hold `{diameter}`, `{count}`, `{stroke}`, `{rate}`, `{speed}`,
    /// `{spacing}`, `{low}`, `{high}`, `{passes}`, `{most}`.
    pub(in crate::selection) text: Arc<str>,
    pub(in crate::selection) when: When,
}

/// When a note or a view speaks. Empty lists ask for nothing.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(in crate::selection) struct When {
    pub(in crate::selection) treatments: Vec<Treatment>,
    pub(in crate::selection) effects: Vec<Effect>,
    /// All of these.
    pub(in crate::selection) signals: Vec<Signal>,
    /// None of these.
    pub(in crate::selection) unless: Vec<Signal>,
    /// At least one of these.
    pub(in crate::selection) signals_any: Vec<Signal>,
    /// At least one of these fields of the setting was told.
    pub(in crate::selection) given: Vec<Told>,
    /// Only if a candidate stands for the first school.
    pub(in crate::selection) only_if_available: bool,
    pub(in crate::selection) forms: Vec<Form>,
    pub(in crate::selection) groupings: Vec<Grouping>,
    /// Inclusive.
    pub(in crate::selection) count: Option<[u8; 2]>,
    /// Inclusive.
    pub(in crate::selection) diameter_mm: Option<[f64; 2]>,
    pub(in crate::selection) tapers: Vec<Taper>,
}

/// A field of the setting that a rule may ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::selection) enum Told {
    /// The machine's rate.
    RateHz,
    /// The hand's speed.
    HandSpeedMmS,
    /// The depth.
    DepthMm,
}

/// `hints.toml`: each member is the key of a sentence.
#[loaded]
pub(crate) struct Hints {
    pub(in crate::selection) pace: Pace,
    pub(in crate::selection) passes: Sentence,
    pub(in crate::selection) taper: TaperHints,
    pub(in crate::selection) depth: DepthHints,
    pub(in crate::selection) stroke: StrokeHints,
    pub(in crate::selection) stretch: StretchHints,
}

/// A sentence with its source.
#[loaded]
pub(in crate::selection) struct Sentence {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) text: String,
}

/// How fast the hand should move.
#[loaded]
pub(in crate::selection) struct Pace {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) text: String,
    pub(in crate::selection) text_assumed: String,
    /// For effects whose dots are set one by one.
    pub(in crate::selection) dots: String,
    pub(in crate::selection) dots_source: Origin,
}

/// Which taper the effect likes.
#[loaded]
pub(in crate::selection) struct TaperHints {
    pub(in crate::selection) source: Origin,
    short: String,
    medium: String,
    long: String,
    extra_long: String,
}

impl TaperHints {
    pub(in crate::selection) fn of(&self, taper: Taper) -> &str {
        match taper {
            Taper::Short => &self.short,
            Taper::Medium => &self.medium,
            Taper::Long => &self.long,
            Taper::ExtraLong => &self.extra_long,
        }
    }
}

/// What to say of depth.
#[loaded]
pub(in crate::selection) struct DepthHints {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) text: String,
    pub(in crate::selection) lid: String,
}

/// Which stroke suits, narrowest advice first.
#[loaded]
pub(in crate::selection) struct StrokeHints {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) lid: StrokeHint,
    pub(in crate::selection) fragile_skin: StrokeHint,
    pub(in crate::selection) heavy_hand: StrokeHint,
    pub(in crate::selection) light_hand: StrokeHint,
    /// Treatments that no light hand is encouraged to a long stroke on.
    pub(in crate::selection) short_only: Vec<Treatment>,
}

/// One piece of advice on the stroke.
#[loaded]
pub(in crate::selection) struct StrokeHint {
    pub(in crate::selection) text: String,
    /// The longest stroke that it advises, in mm.
    pub(in crate::selection) to_mm: f64,
}

/// What to say of stretch.
#[loaded]
pub(in crate::selection) struct StretchHints {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) lips: String,
}
