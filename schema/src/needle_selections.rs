//! Which needle, and why: candidates ranked for treatment, effect, hand,
//! machine and skin.

#[cfg(feature = "describe")]
use crate::describe::{JsonSchema, Schema, SchemaGenerator, json_schema};
use crate::kinds::{sent, told};
use std::fmt;
use std::sync::Arc;

use garde::Validate;
use serde::de::value::SeqAccessDeserializer;
use serde::de::{self, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use uuid::Uuid;

use crate::configuration_comparisons::LabelOrConfiguration;
use crate::hand_profiles::{OwnNeedleResults, OwnResults, OwnResultsAsked};
use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::chair::LotState;
use crate::vocabulary::{CivilDate, Configuration, Effect, Reference, Setting, Treatment};

mod views;
pub use views::{DifferingView, NeedleChange, School};

/// What is to be chosen, for what, and out of what.
#[sent(free)]
pub struct NeedleSelectionRequest {
    /// What is treated.
    pub treatment: Treatment,
    /// What the healed result should look like. Not every effect makes sense
    /// for every treatment; a refusal names those that do.
    pub effect: Effect,
    /// Hand, machine, skin, site, depth, speed, passes. What is absent is not
    /// held against any needle; skin colour never is.
    #[garde(dive)]
    pub setting: Option<Setting>,
    /// `usual` (the trade's usual range, the default), `drawer` (the usable
    /// lots of the studio; needs the scope `drawer:read` too), or a list of 1
    /// to 250 configurations.
    #[serde(default, skip_serializing_if = "Candidates::is_usual")]
    #[garde(dive)]
    pub candidates: Candidates,
    /// The branch whose drawer is meant: of the others the packs are told, and not offered. All of
    /// the chain's if absent.
    pub branch_ref: Option<Reference>,
    /// How many of `ranked` and of `set_aside` are told at most, 1 to 250. If absent: 12, and
    /// the best of every further kind of group; of a drawer or a list, all that is set aside.
    #[garde(range(min = 1, max = 250))]
    pub limit: Option<u16>,
    /// Asks one question more: how an artist's own healed results held with each needle. Off
    /// if absent; needs the scope `treatments:read` too.
    #[garde(dive)]
    pub own_results: Option<OwnResultsAsked>,
}

/// What may be chosen from.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Candidates {
    /// The usual range of the trade.
    #[default]
    Usual,
    /// The usable lots of the studio's drawer.
    Drawer,
    /// These.
    List(Vec<LabelOrConfiguration>),
}

/// Longest list of candidates.
const MOST_LISTED: usize = 250;

impl Candidates {
    /// Whether it is the default.
    #[must_use]
    pub const fn is_usual(&self) -> bool {
        matches!(self, Self::Usual)
    }
}

impl Serialize for Candidates {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Usual => serializer.serialize_str("usual"),
            Self::Drawer => serializer.serialize_str("drawer"),
            Self::List(list) => list.serialize(serializer),
        }
    }
}

impl<'de> Deserialize<'de> for Candidates {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct WordOrList;

        impl<'de> Visitor<'de> for WordOrList {
            type Value = Candidates;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("`usual`, `drawer` or a list of configurations")
            }

            fn visit_str<E: de::Error>(self, word: &str) -> Result<Candidates, E> {
                match word {
                    "usual" => Ok(Candidates::Usual),
                    "drawer" => Ok(Candidates::Drawer),
                    other => Err(E::unknown_variant(other, &["usual", "drawer"])),
                }
            }

            fn visit_seq<A: SeqAccess<'de>>(self, list: A) -> Result<Candidates, A::Error> {
                Vec::deserialize(SeqAccessDeserializer::new(list)).map(Candidates::List)
            }
        }

        deserializer.deserialize_any(WordOrList)
    }
}

#[cfg(feature = "describe")]
impl JsonSchema for Candidates {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Candidates".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<LabelOrConfiguration>();
        json_schema!({
            "description": "What may be chosen from: `usual`, `drawer`, or a list.",
            "anyOf": [
                { "type": "string", "enum": ["usual", "drawer"] },
                { "type": "array", "items": one, "minItems": 1, "maxItems": MOST_LISTED },
            ],
        })
    }
}

impl Validate for Candidates {
    type Context = ();

    fn validate_into(
        &self,
        context: &(),
        parent: &mut dyn FnMut() -> garde::Path,
        report: &mut garde::Report,
    ) {
        let Self::List(list) = self else { return };
        if !(1..=MOST_LISTED).contains(&list.len()) {
            let why = format!("a list holds 1 to {MOST_LISTED} configurations");
            report.append(parent(), garde::Error::new(why));
        }
        for (i, one) in list.iter().enumerate() {
            one.validate_into(context, &mut || parent().join(i), report);
        }
    }
}

/// The choice.
#[told]
pub struct NeedleSelection {
    /// Best first; beyond the limit only the best of each further kind of
    /// group.
    pub ranked: Vec<RankedNeedle>,
    /// What can hurt or spoil the work with each of those: it is said here once,
    /// and not again at each of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<NeedleNote>,
    /// How many suitable candidates are not described.
    pub not_shown: u32,
    /// Candidates that fail one need outright.
    pub set_aside: Vec<NeedleSetAside>,
    /// How many more fail one and are not told.
    #[serde(default)]
    pub set_aside_not_shown: u32,
    /// Those by what they fail in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub set_aside_reasons: Vec<SetAsideReason>,
    /// Lots that would suit and may not be used today, with the reason; only
    /// where one chooses from the drawer, and at most twelve.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub passed_over: Vec<PassedOverLot>,
    /// How many more.
    pub passed_over_not_shown: Option<u32>,
    /// What to do where the drawer holds nothing to choose from.
    pub drawer: Option<String>,
    /// What to change to when the skin shows trauma under the first, in this
    /// order.
    pub step_up: Vec<GentlerStep>,
    /// Single changes that would put another candidate first.
    pub would_change: Vec<NeedleChange>,
    /// Where the trade is split on this question: every school.
    pub differing_views: Vec<DifferingView>,
    /// Working hints: pace, passes, taper, stroke, depth.
    pub hints: Vec<NeedleNote>,
    /// JSON pointers, below the setting, of what was not told but assumed.
    pub assumed: Vec<String>,
    /// What is to be said of the artist's own results as a whole; absent unless asked.
    pub own_results: Option<OwnResults>,
    /// How to take the answer.
    pub statement: String,
    /// Where it came from.
    pub basis: Vec<Basis>,
}

/// A lot that would suit and may not be used on the day asked about.
#[told(Eq)]
pub struct PassedOverLot {
    /// Its id under `/v1/lots`.
    pub id: Uuid,
    /// The canonical text of what it holds.
    pub canonical: String,
    /// The maker's batch code.
    pub lot: Option<String>,
    /// Why it may not be used.
    pub state: Open<LotState>,
    /// The same in codes, as the lot has them.
    pub reasons: Vec<String>,
    /// The same in a sentence, in the language of `Accept-Language`.
    pub message: String,
    /// The branch where it lies, if that is why.
    pub branch_ref: Option<Reference>,
}

/// One suitable candidate.
#[told]
pub struct RankedNeedle {
    /// The canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: Configuration,
    /// Weighted geometric mean of the five answers, and of `own_results` where they count;
    /// above 0, up to 1.
    pub desirability: f64,
    /// The five answers.
    pub answers: FiveAnswers,
    /// What the artist's own results say; absent unless asked, and with too few in all.
    pub own_results: Option<OwnNeedleResults>,
    /// What can hurt or spoil the work with this one, beside what holds for all.
    pub cautions: Vec<NeedleNote>,
    /// Good to know.
    pub remarks: Vec<NeedleNote>,
    /// Lots in the drawer, first expired first, at most fifty; empty unless the candidates
    /// are the drawer.
    pub lots: Vec<NeedleLot>,
    /// Canonical texts of needles that differ in the diameter alone, serve about
    /// as well and have nothing more to mind, best first. They are not ranked again;
    /// of a drawer or a list each is.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alike: Vec<String>,
}

/// The answers to the five questions of the artist.
#[told]
pub struct FiveAnswers {
    /// Does it suit what is treated?
    pub treatment: NeedleAnswer,
    /// Does it give the wanted effect?
    pub effect: NeedleAnswer,
    /// Does it suit the hand?
    pub hand: NeedleAnswer,
    /// Does it suit the machine?
    pub machine: NeedleAnswer,
    /// Does it suit this skin?
    pub skin: NeedleAnswer,
}

/// The answer to one question.
#[told]
pub struct NeedleAnswer {
    /// How well the candidate does here, above 0, up to 1.
    pub desirability: f64,
    /// Why.
    pub because: String,
    /// How many independent pages of the trade agree, where that was counted.
    pub agreement: Option<String>,
}

/// A caution, a remark or a hint.
#[told(Eq)]
pub struct NeedleNote {
    /// The code to branch on.
    pub code: Arc<str>,
    /// The sentence.
    pub message: Arc<str>,
    /// Where it came from.
    pub basis: Basis,
    /// How far the trade agrees, where that was counted.
    pub agreement: Option<Arc<str>>,
}

/// A lot that a candidate lies in.
#[told(Eq)]
pub struct NeedleLot {
    /// Its id under `/v1/lots`.
    pub id: Uuid,
    /// The maker's batch code.
    pub lot: Option<String>,
    /// Last day of use.
    pub expires_on: Option<CivilDate>,
    /// Packs left.
    pub packs: u32,
}

/// A candidate that fails one need outright.
#[told]
pub struct NeedleSetAside {
    /// The canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: Configuration,
    /// The question it fails: `treatment`, `effect`, `hand`, `machine` or
    /// `skin`.
    pub question: String,
    /// What it fails in: `form` (the kind of group), `count`, `diameter`, `width`
    /// (of the track), `place`, `hand`, `machine`, `skin` or `hand_blade`.
    pub reason: String,
    /// Why.
    pub because: String,
    /// Lots in the drawer, first expired first, at most fifty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<NeedleLot>,
}

/// How many candidates that are not told fail in one thing.
#[told(Eq)]
pub struct SetAsideReason {
    /// The question they fail.
    pub question: String,
    /// What they fail in.
    pub reason: String,
    /// How many.
    pub count: u32,
}

/// One thing to do when the skin shows trauma.
#[told]
pub struct GentlerStep {
    /// `leave_spot`, `ask`, `lighter_hand`, `lower_rate`, `shorter_stroke`,
    /// `configuration`, `care`, `touch_up` or `stop`.
    pub kind: String,
    /// What to do.
    pub change: String,
    /// The configuration to change to, for the rest of the area and never for
    /// the spot itself.
    pub configuration: Option<Configuration>,
    /// Why.
    pub because: String,
    /// How far the trade agrees.
    pub agreement: String,
    /// Where it came from.
    pub basis: Basis,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn candidates_are_a_word_or_a_list() {
        for text in [r#""usual""#, r#""drawer""#, r#"[{"label":"0.20 1RL"}]"#] {
            let read: Candidates = serde_json::from_str(text).unwrap();
            assert_eq!(serde_json::to_string(&read).unwrap(), text);
            assert!(read.validate().is_ok());
        }
        for text in [r#""cupboard""#, "7", "null", "{}", r#"[{"labl":"0.20 1RL"}]"#] {
            assert!(serde_json::from_str::<Candidates>(text).is_err(), "{text}");
        }
        assert!(Candidates::List(Vec::new()).validate().is_err());
    }

    #[test]
    fn what_is_absent_is_the_usual_range() {
        let read: NeedleSelectionRequest =
            serde_json::from_str(r#"{"treatment":"brows","effect":"hair_strokes"}"#).unwrap();
        assert_eq!(read.candidates, Candidates::Usual);
    }
}
