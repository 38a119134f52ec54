//! The pre-appointment check: the main job in one call.

use std::fmt;
use std::str::FromStr;

use garde::Validate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::aftercare_plans::AftercarePlan;
use crate::answers::{Answers, MOST_ANSWERS};
use crate::check_materials::{PatchTestCheck, PatchTestTold, PigmentCheck, PigmentTold};
use crate::service::Basis;
use crate::skin_assessments::{Finding, Override, RulebookUsed, Score};
use crate::vocabulary::{
    CivilDate, Confidence, Effect, Instant, Reference, Setting, Skin, Treatment, UnknownWord,
    Verdict, Zone, words,
};

words! {
    /// Who has to do something.
    Who, "doer" {
        /// The client.
        Client = "client",
        /// The artist.
        Artist = "artist",
        /// The studio.
        Studio = "studio",
        /// The client's own doctor, specialist or prescriber.
        Doctor = "doctor",
    }
}

/// May this client have this treatment on this day, with which needle, and
/// what must happen first?
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
pub struct AppointmentCheckRequest {
    /// The booking, by the caller's own reference.
    #[garde(skip)]
    pub booking_ref: Reference,
    /// The client; what is kept of them counts where this request is silent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    #[garde(skip)]
    pub treatment: Treatment,
    /// What the result should look like.
    #[garde(skip)]
    pub effect: Effect,
    /// When the appointment starts.
    #[garde(skip)]
    pub starts_at: Instant,
    /// The zone whose calendar counts; the studio's if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub zone: Option<Zone>,
    /// The artist; gives the hand and the practice.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub artist_ref: Option<Reference>,
    /// The machine; gives stroke, rate and give.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub machine_ref: Option<Reference>,
    /// Date of birth; needed here or with the client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub born_on: Option<CivilDate>,
    /// Answers to the screening questions, by question id.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    #[garde(length(max = MOST_ANSWERS))]
    #[schemars(extend("maxProperties" = MOST_ANSWERS))]
    pub answers: Answers,
    /// The skin; counts before what is kept of the client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// The circumstances; counts before artist and machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// The studio's skin test. Without one the list says by when it can be made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(dive)]
    pub patch_test: Option<PatchTestTold>,
    /// The bottles of pigment that will be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 20), dive)]
    pub pigments: Vec<PigmentTold>,
    /// Needles to choose from: `drawer` (if absent), `usual`, or label texts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(skip)]
    pub candidates: Option<NeedleSource>,
    /// Findings that somebody answers for. The law cannot be overridden.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 50), dive)]
    pub overrides: Vec<Override>,
}

/// The check's answer. It is kept as given.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct AppointmentCheck {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: Instant,
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// What the result should look like.
    pub effect: Effect,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// The zone whose calendar counts.
    pub zone: Zone,
    /// The appointment's local date.
    pub on: CivilDate,
    /// The outcome.
    pub verdict: Verdict,
    /// The outcome in one or two sentences, to be read aloud.
    pub summary: String,
    /// If it is `hold`, or somebody else must look first: not before this day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold_until: Option<CivilDate>,
    /// Every rule that spoke.
    pub findings: Vec<Finding>,
    /// Questions that still want an answer, by id.
    pub unanswered: Vec<String>,
    /// The caution score.
    pub score: Score,
    /// Which rules were applied.
    pub rulebook: RulebookUsed,
    /// Which needle, and why.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub needles: Option<CheckNeedles>,
    /// Whether the skin test counts; absent in checks of before there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub patch_test: Option<PatchTestCheck>,
    /// Whether the bottles may be used, in the order of the request.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pigments: Vec<PigmentCheck>,
    /// Sessions of this client in this area that the studio has on record,
    /// newest first; at most ten. They count also where the answers differ.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub previous_sessions: Vec<PreviousSession>,
    /// Whether artist, machine, drawer and skin are ready.
    pub readiness: Vec<Readiness>,
    /// What must happen, by whom and by when, soonest first.
    pub todo: Vec<TodoItem>,
    /// What would follow if it goes ahead.
    pub aftercare: AftercarePlan,
    /// The usual cautions.
    pub cautions: Vec<String>,
    /// What differs from the booking's check before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub changes: Option<Changes>,
}

/// Where the needles to choose from come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NeedleSource {
    /// Lots of the drawer that may be used on the day.
    Drawer,
    /// The usual range of the trade.
    Usual,
    /// What these labels say.
    Labels(Vec<String>),
}

/// Most labels one check takes.
const MOST_LABELS: usize = 250;

impl Serialize for NeedleSource {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Drawer => serializer.serialize_str("drawer"),
            Self::Usual => serializer.serialize_str("usual"),
            Self::Labels(all) => all.serialize(serializer),
        }
    }
}

struct SourceVisitor;

impl<'de> serde::de::Visitor<'de> for SourceVisitor {
    type Value = NeedleSource;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("`drawer`, `usual` or a list of 1 to 250 label texts")
    }

    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<NeedleSource, E> {
        match text {
            "drawer" => Ok(NeedleSource::Drawer),
            "usual" => Ok(NeedleSource::Usual),
            _ => Err(E::invalid_value(serde::de::Unexpected::Str(text), &self)),
        }
    }

    fn visit_seq<A: serde::de::SeqAccess<'de>>(
        self,
        mut items: A,
    ) -> Result<NeedleSource, A::Error> {
        let mut all = Vec::new();
        while let Some(item) = items.next_element::<String>()? {
            if MOST_LABELS <= all.len() || !(1..=500).contains(&item.chars().count()) {
                return Err(serde::de::Error::custom(
                    "1 to 250 labels of 1 to 500 characters are wanted",
                ));
            }
            all.push(item);
        }
        if all.is_empty() {
            return Err(serde::de::Error::custom("at least one label is wanted"));
        }
        Ok(NeedleSource::Labels(all))
    }
}

impl<'de> Deserialize<'de> for NeedleSource {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(SourceVisitor)
    }
}

impl JsonSchema for NeedleSource {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "NeedleSource".into()
    }

    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({
            "description": "`drawer`, `usual`, or what these labels say.",
            "anyOf": [
                { "type": "string", "enum": ["drawer", "usual"] },
                {
                    "type": "array",
                    "minItems": 1,
                    "maxItems": MOST_LABELS,
                    "items": { "type": "string", "minLength": 1, "maxLength": 500 }
                }
            ]
        })
    }
}

/// Which needle, and why.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckNeedles {
    /// The best first; at most five.
    pub ranked: Vec<OfferedNeedle>,
    /// What was set aside, and why; at most twenty.
    pub set_aside: Vec<SetAsideNeedle>,
    /// What to do when the skin shows trauma, in order.
    pub step_up: Vec<String>,
    /// Which single change would put another needle first.
    pub would_change: Vec<String>,
    /// Where the trade is split: each school and what it would choose.
    pub differing_views: Vec<SplitView>,
    /// Working hints.
    pub hints: Vec<String>,
    /// What had to be assumed, as pointers below `setting`.
    pub assumed: Vec<String>,
    /// Where the values came from.
    pub basis: Vec<Basis>,
}

/// One needle that suits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct OfferedNeedle {
    /// The configuration in canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: crate::vocabulary::Configuration,
    /// How well it suits, 0 to 1 (an order, not a probability).
    pub desirability: f64,
    /// The five answers: treatment, effect, hand, machine, skin.
    pub answers: Vec<NeedleReason>,
    /// What to mind.
    pub cautions: Vec<String>,
    /// What else to know.
    pub remarks: Vec<String>,
    /// Lots of the drawer with it, first expired first.
    pub lots: Vec<OfferedLot>,
}

/// One of the five answers.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct NeedleReason {
    /// `treatment`, `effect`, `hand`, `machine` or `skin`.
    pub question: String,
    /// How well it suits, 0 to 1.
    pub desirability: f64,
    /// Why.
    pub because: String,
}

/// A lot that is offered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OfferedLot {
    /// The lot's id.
    pub lot_id: Uuid,
    /// Its last day of use.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub expires_on: Option<CivilDate>,
}

/// A needle that was set aside.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SetAsideNeedle {
    /// The configuration in canonical text, or the label.
    pub canonical: String,
    /// Which of the five questions.
    pub question: String,
    /// Why.
    pub because: String,
}

/// Where the trade is split.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SplitView {
    /// What about.
    pub question: String,
    /// Each school: its view, its reason, what it would choose.
    pub schools: Vec<String>,
}

/// A session that the studio has on record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PreviousSession {
    /// The treatment.
    pub treatment_id: Uuid,
    /// Its local date.
    pub on: CivilDate,
    /// Days from it to the appointment.
    pub days_before: i32,
}

/// One thing that has to happen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TodoItem {
    /// A stable key, for messages of the caller's own.
    pub key: String,
    /// What, in words.
    pub text: String,
    /// Who.
    pub who: Who,
    /// The latest day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<CivilDate>,
    /// Whether that day is past already.
    pub late: bool,
    /// The rule or the part of the check it comes from.
    pub from: String,
}

/// Whether something is ready for the appointment.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Readiness {
    /// `drawer`, `practice`, `machine` or `healing`.
    pub about: String,
    /// Whether it is.
    pub ready: bool,
    /// Why, in words.
    pub because: String,
    /// How sure that is.
    pub confidence: Confidence,
}

/// What differs between two checks of one booking.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Changes {
    /// The check it is compared with.
    pub since: Uuid,
    /// What differs; empty if nothing that matters does.
    pub differences: Vec<Difference>,
}

/// One difference.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Difference {
    /// Which part: `verdict`, `hold_until`, `findings`, `first_needle`, `score`,
    /// `rulebook`, `unanswered`, `patch_test`, `pigments`, `readiness`.
    pub part: String,
    /// What it was.
    pub before: String,
    /// What it is now.
    pub now: String,
    /// Why, as far as it can be told.
    pub because: String,
}

/// A stored check, computed again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Replay {
    /// The check.
    pub check_id: Uuid,
    /// When it was computed again.
    pub replayed_at: Instant,
    /// Whether nothing that matters differs.
    pub same: bool,
    /// What differs, and why.
    pub differences: Vec<Difference>,
    /// What the verdict would be today.
    pub verdict: Verdict,
}

/// Which checks to list.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CheckQuery {
    /// Only checks of this booking.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub booking_ref: Option<Reference>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// A check in a list: what is not health data. Read the check for the rest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CheckRow {
    /// Its id.
    pub id: Uuid,
    /// When it was made.
    pub made_at: Instant,
    /// The booking.
    pub booking_ref: Reference,
    /// The client.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub client_ref: Option<Reference>,
    /// What is to be treated.
    pub treatment: Treatment,
    /// When the appointment starts.
    pub starts_at: Instant,
}
