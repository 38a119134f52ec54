//! Short views: what a person reads of a long answer, by `short=true`.
//!
//! A short view has some members of the whole answer, as they stand there; none of them is put
//! more kindly, and no caution is left out. Of a check it is its summary ([`crate::sheets`]).

use crate::kinds::{asked, told};
use serde::{Deserialize, Deserializer};
use uuid::Uuid;

use crate::configuration_comparisons::ConfigurationOrder;
use crate::needle_selections::NeedleLot;
use crate::symptom_reports::SymptomQuestion;
use crate::vocabulary::aftercare::{Level, StepKind};
use crate::vocabulary::chair::StopScope;
use crate::vocabulary::{CivilDate, Instant, Treatment, Verdict};

/// The media type of short views.
pub const MEDIA_TYPE: &str = "application/vnd.etui.short+json";

/// Whether the short view is wanted.
#[asked(Copy, Default, Eq)]
pub struct ShortQuery {
    /// `true`: the short view alone.
    pub short: Option<bool>,
}

/// An assessment in short.
#[told]
pub struct ShortAssessment {
    /// The outcome.
    pub verdict: Verdict,
    /// The outcome in words.
    pub says: String,
    /// The day it holds for.
    pub as_of: CivilDate,
    /// As in the whole.
    pub hold_until: Option<CivilDate>,
    /// As in the whole.
    pub not_before: Option<CivilDate>,
    /// Whether it waits for something that has no day.
    pub waits_for_event: bool,
    /// Why, the gravest first.
    pub findings: Vec<ShortFinding>,
    /// Questions that are still open.
    pub unanswered: Vec<String>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
}

/// One reason in short.
#[told]
pub struct ShortFinding {
    /// Its verdict.
    pub verdict: Verdict,
    /// Why, in words.
    pub because: String,
    /// Under which condition, in words.
    pub condition: Option<String>,
}

/// A choice of needles in short.
#[told]
pub struct ShortSelection {
    /// The first three.
    #[serde(deserialize_with = "three")]
    #[schemars(length(max = 3))]
    pub ranked: Vec<ShortNeedle>,
    /// What to mind with each of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<ShortNote>,
    /// What is the matter with the drawer, if nothing of it is left.
    pub drawer: Option<String>,
    /// What kind of statement this is.
    pub statement: String,
}

/// One needle in short.
#[told]
pub struct ShortNeedle {
    /// In canonical text.
    pub canonical: String,
    /// Of the five answers that of the effect.
    pub answers: EffectAnswer,
    /// What to mind.
    pub cautions: Vec<ShortNote>,
    /// Lots of the drawer.
    pub lots: Vec<NeedleLot>,
}

/// A caution in short.
#[told(Eq)]
pub struct ShortNote {
    /// The code to branch on.
    pub code: String,
    /// The sentence.
    pub message: String,
}

/// How a needle makes the effect.
#[told]
pub struct EffectAnswer {
    /// The effect.
    pub effect: Because,
}

/// A reason.
#[told]
pub struct Because {
    /// In words.
    pub because: String,
}

/// A comparison in short.
#[told]
pub struct ShortComparison {
    /// Each with its line.
    pub compared: Vec<ShortCompared>,
    /// The three orders.
    pub order: ConfigurationOrder,
    /// What to mind with all of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<ShortNote>,
    /// What kind of statement this is.
    pub statement: String,
}

/// One configuration in short.
#[told]
pub struct ShortCompared {
    /// In canonical text.
    pub canonical: String,
    /// How it differs from the first.
    pub because: String,
    /// What to mind.
    pub cautions: Vec<ShortNote>,
}

/// A plan in short.
#[told]
pub struct ShortPlan {
    /// What was treated.
    pub treatment: Treatment,
    /// The day of the session.
    pub performed_on: CivilDate,
    /// What she does, leaves and sees, in order.
    pub steps: Vec<ShortStep>,
    /// What to mind.
    pub cautions: Vec<ShortText>,
}

/// One step in short.
#[told]
pub struct ShortStep {
    /// As in the whole.
    pub key: String,
    /// What the step is.
    pub kind: StepKind,
    /// From which day on, the session's being 0.
    pub from_day: i32,
    /// Until which day.
    pub to_day: Option<i32>,
    /// In her own zone.
    #[schemars(extend("format" = "date-time"))]
    pub local: String,
    /// What it says.
    pub text: String,
}

/// A sentence.
#[told]
pub struct ShortText {
    /// What it says.
    pub text: String,
}

/// How urgent it is, in short.
#[told]
pub struct ShortReport {
    /// How urgent it is.
    pub level: Level,
    /// What to do now.
    pub do_now: Vec<String>,
    /// Whom to call.
    pub call: Option<String>,
    /// When to tell again, in words.
    pub report_again: String,
    /// By when to tell again.
    pub report_again_by: Option<Instant>,
    /// What to ask first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ask: Vec<SymptomQuestion>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
}

/// A kept report in short.
#[told]
pub struct ShortKeptReport {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was told.
    pub reported_at: Instant,
    /// How urgent it is.
    pub judgement: ShortReport,
}

/// An observation in short.
#[told]
pub struct ShortObservation {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// Whether to stop for today.
    pub stop: bool,
    /// How far work stops.
    pub stop_scope: Option<StopScope>,
    /// What to do, in order.
    pub steps: Vec<ShortGentler>,
    /// The usual cautions.
    pub cautions: Vec<String>,
}

/// One step to less in short.
#[told]
pub struct ShortGentler {
    /// What to change, in words.
    pub change: String,
}

/// The first three of a list.
fn three<'de, D: Deserializer<'de>, T: Deserialize<'de>>(from: D) -> Result<Vec<T>, D::Error> {
    let mut all = Vec::<T>::deserialize(from)?;
    all.truncate(3);
    Ok(all)
}
