//! Which needle a check offers, and why.

#[cfg(feature = "describe")]
use crate::describe::JsonSchema;
use crate::kinds::told;
use std::fmt;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::needle_selections::PassedOverLot;
use crate::service::Basis;
use crate::vocabulary::CivilDate;

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

#[cfg(feature = "describe")]
impl JsonSchema for NeedleSource {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "NeedleSource".into()
    }

    fn json_schema(_: &mut crate::describe::SchemaGenerator) -> crate::describe::Schema {
        crate::describe::json_schema!({
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
#[told]
pub struct CheckNeedles {
    /// The best first; five, or as many as the request's `limit` says.
    pub ranked: Vec<OfferedNeedle>,
    /// How many more suit; absent in checks of before they were counted.
    pub not_shown: Option<u32>,
    /// What to mind with each of them: said here once, and not again at each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cautions: Vec<String>,
    /// What was set aside, and why; twenty, or as many as the request's `limit` says.
    pub set_aside: Vec<SetAsideNeedle>,
    /// How many more were set aside; absent in checks of before they were counted.
    pub set_aside_not_shown: Option<u32>,
    /// Lots that would suit and may not be used on the day, with the reason;
    /// only where one chooses from the drawer, and at most twelve.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub passed_over: Vec<PassedOverLot>,
    /// How many more.
    pub passed_over_not_shown: Option<u32>,
    /// What to do where the drawer holds nothing to choose from.
    pub drawer: Option<String>,
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
#[told]
pub struct OfferedNeedle {
    /// The configuration in canonical text.
    pub canonical: String,
    /// The configuration.
    pub configuration: crate::vocabulary::Configuration,
    /// How well it suits, 0 to 1 (an order, not a probability).
    pub desirability: f64,
    /// The five answers: treatment, effect, hand, machine, skin.
    pub answers: Vec<NeedleReason>,
    /// What to mind with this one, beside what holds for all.
    pub cautions: Vec<String>,
    /// What else to know.
    pub remarks: Vec<String>,
    /// Lots of the drawer with it, first expired first, at most fifty.
    pub lots: Vec<OfferedLot>,
}

/// One of the five answers.
#[told]
pub struct NeedleReason {
    /// `treatment`, `effect`, `hand`, `machine` or `skin`.
    pub question: String,
    /// How well it suits, 0 to 1.
    pub desirability: f64,
    /// Why.
    pub because: String,
}

/// A lot that is offered.
#[told(Eq)]
pub struct OfferedLot {
    /// The lot's id.
    pub lot_id: Uuid,
    /// Its last day of use.
    pub expires_on: Option<CivilDate>,
}

/// A needle that was set aside.
#[told(Eq)]
pub struct SetAsideNeedle {
    /// The configuration in canonical text, or the label.
    pub canonical: String,
    /// Which of the five questions.
    pub question: String,
    /// Why.
    pub because: String,
}

/// Where the trade is split.
#[told(Eq)]
pub struct SplitView {
    /// What about.
    pub question: String,
    /// Each school: its view, its reason, what it would choose.
    pub schools: Vec<String>,
}
