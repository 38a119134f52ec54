//! A rules pack: questions and rules a studio adds, and built-in rules it
//! makes stricter.

use crate::describe::JsonSchema;
#[cfg(feature = "describe")]
use crate::describe::{Schema, SchemaGenerator, json_schema};
use crate::kinds::sent;
use std::collections::BTreeMap;

use garde::Validate;
use serde::{Deserialize, Serialize};

use super::questions::{PackQuestion, PackWho};
use super::{PackText, PackTraining};
use crate::vocabulary::{
    Confidence, EvidenceKind, Phototype, Reference, SkinSign, Treatment, Verdict, words,
};
use crate::written::PERIOD;

words! {
    /// How much of a source was read.
    SourceRead, "extent" {
        /// The whole text.
        Whole = "whole",
        /// A page or the opening of one.
        Page = "page",
        /// The abstract.
        Abstract = "abstract",
        /// A table or a data set, recomputed.
        Data = "data",
        /// Only through another page that quotes it.
        SecondHand = "second_hand",
        /// Only that it exists.
        Title = "title",
        /// Not a document: practice or assumption.
        None = "none",
    }
}

words! {
    /// How time bears on a rule.
    PackTimeMode, "mode" {
        /// The rule speaks until the period has passed, and while no day is known.
        Until = "until",
        /// The rule speaks once the period has passed.
        Once = "once",
        /// The rule speaks if less than the period lies between the treatment
        /// and the day ahead.
        Ahead = "ahead",
        /// The rule speaks anyway; the day on which the period has passed is told.
        Tell = "tell",
    }
}

/// Questions and rules a studio adds, and built-in rules it makes stricter. A
/// pack never loosens a rule and never replaces one.
#[sent(free)]
pub struct RulesPack {
    /// The author's own version.
    #[garde(length(chars, min = 1, max = 40))]
    pub version: Option<String>,
    /// What the pack is for, for people.
    #[garde(length(chars, min = 1, max = 500))]
    pub about: Option<String>,
    /// Who has read its sentences and stands for them, by the studio's reference; wanted where one
    /// has a word that is not known to be plain.
    pub read_by: Option<Reference>,
    /// Whether to apply it. A pack that is not applied is checked all the same.
    #[serde(default = "super::yes")]
    pub enabled: bool,
    /// Sources its rules point to, beside the registered ones.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 100), dive)]
    pub source: Vec<PackSource>,
    /// Sentences by key: `question.<id>.ask`, `question.<id>.why`,
    /// `option.<question>.<option>`, `rule.<id>.because`, `rule.<id>.say`,
    /// `rule.<id>.by`, `until.<id>`, `whom.<id>`.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    #[garde(length(max = 1000), dive)]
    #[schemars(extend("maxProperties" = 1000))]
    pub texts: BTreeMap<String, PackText>,
    /// Questions it adds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 100), dive)]
    pub question: Vec<PackQuestion>,
    /// Rules it adds.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 200), dive)]
    pub rule: Vec<PackRule>,
    /// Rules it makes stricter.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 200), dive)]
    pub tighten: Vec<PackTightening>,
    /// What the law of a place asks of students and of those who train them. It is not
    /// screened, so a dry run says nothing of it.
    #[garde(dive)]
    pub training: Option<PackTraining>,
}

impl Default for RulesPack {
    /// A pack that is applied and adds nothing yet.
    fn default() -> Self {
        Self {
            version: None,
            about: None,
            read_by: None,
            enabled: true,
            source: Vec::new(),
            texts: BTreeMap::new(),
            question: Vec::new(),
            rule: Vec::new(),
            tighten: Vec::new(),
            training: None,
        }
    }
}

/// A source that a pack brings along.
#[sent(Eq, free)]
pub struct PackSource {
    /// Short stable id, lower case with hyphens.
    #[garde(length(chars, min = 1, max = 80))]
    pub id: String,
    /// The citation.
    #[garde(length(chars, min = 1, max = 500))]
    pub cite: String,
    /// What kind of thing it is.
    pub kind: EvidenceKind,
    /// How much of it was read.
    pub read: SourceRead,
}

/// A rule that a pack adds.
#[sent(free)]
pub struct PackRule {
    /// Its id, new among all rules: 1 to 48 of a-z 0-9 _, a letter first.
    #[garde(length(chars, min = 1, max = 60))]
    pub id: String,
    /// For which treatments; wherever it can speak if absent.
    #[garde(length(min = 1, max = 5))]
    pub treatments: Option<Vec<Treatment>>,
    /// Whether it is law, which nothing overrides.
    #[serde(default)]
    pub law: bool,
    /// The rule speaks if one of these holds.
    #[garde(length(min = 1, max = 30), dive)]
    pub when: Vec<PackClause>,
    /// What it asks for; `proceed` is a note.
    pub verdict: Verdict,
    /// How time bears on it.
    #[garde(dive)]
    pub time: Option<PackTime>,
    /// For a hold: the event it waits for, by the id of an `until` sentence.
    #[garde(length(chars, min = 1, max = 60))]
    pub until: Option<String>,
    /// For a referral: whom to ask, by the id of a `whom` sentence.
    #[garde(length(chars, min = 1, max = 60))]
    pub refer_to: Option<String>,
    /// Numbers that stand in its sentence, by the name of their place.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    #[garde(length(max = 10))]
    #[schemars(extend("maxProperties" = 10))]
    pub values: BTreeMap<String, f64>,
    /// Points of the caution score.
    #[serde(default)]
    #[garde(range(max = 4))]
    pub points: u8,
    /// The group under whose cap the points fall.
    #[garde(length(chars, min = 1, max = 60))]
    pub group: Option<String>,
    /// Who does it, and how long before the treatment.
    #[garde(dive)]
    pub todo: Option<PackTodo>,
    /// What each of its fields stands on.
    #[garde(dive)]
    pub basis: PackBasis,
}

/// One way for a rule to speak; exactly one form is filled.
#[sent(Default, free)]
pub struct PackClause {
    /// A yes/no question that was answered yes.
    #[garde(length(chars, min = 1, max = 60))]
    pub yes: Option<String>,
    /// A choice, of which one of `any_of` was taken.
    #[garde(length(chars, min = 1, max = 60))]
    pub chosen: Option<String>,
    /// Options of `chosen`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 30))]
    pub any_of: Vec<String>,
    /// A number question, with one of the two limits.
    #[garde(length(chars, min = 1, max = 60))]
    pub number: Option<String>,
    /// From this number on, inclusive.
    pub at_least: Option<f64>,
    /// Above this number, exclusive.
    pub above: Option<f64>,
    /// A client who is younger on the day.
    pub younger_than_years: Option<u8>,
    /// One of these signs of the skin.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 30))]
    pub skin_signs: Vec<SkinSign>,
    /// One of these sun-reaction types.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[garde(length(max = 6))]
    pub phototypes: Vec<Phototype>,
    /// A measured colour of at most this angle.
    pub ita_at_most: Option<f64>,
    /// Always.
    #[serde(default)]
    pub always: bool,
}

/// How time bears on a rule.
#[sent(Eq, free)]
pub struct PackTime {
    /// A date question, or `treatment`.
    #[garde(length(chars, min = 1, max = 60))]
    pub after: String,
    /// A calendar period such as `P6M`, `P2W`, `P10D`.
    #[garde(dive)]
    pub period: PackPeriod,
    /// Shortest and longest in use.
    #[garde(dive)]
    pub range: Option<[PackPeriod; 2]>,
    /// How; `until` if absent.
    pub mode: Option<PackTimeMode>,
    /// The client can keep it away by herself. Never for anything prescribed.
    #[serde(default)]
    pub avoidable: bool,
}

/// A calendar period as ISO 8601 writes one, such as `P6M`, `P2W`, `P10D`; at
/// most 100 years.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, Validate)]
#[serde(transparent)]
#[garde(transparent)]
pub struct PackPeriod(#[garde(pattern(PERIOD), length(min = 3))] pub String);

#[cfg(feature = "describe")]
impl JsonSchema for PackPeriod {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "PackPeriod".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A calendar period as ISO 8601 writes one; at most 100 years.",
            "type": "string",
            "minLength": 3,
            "pattern": "^P([0-9]{1,2}Y)?([0-9]{1,3}M)?([0-9]{1,4}W)?([0-9]{1,5}D)?$",
            "examples": ["P6M", "P2W", "P10D"]
        })
    }
}

/// What somebody has to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
pub struct PackTodo {
    /// Who.
    #[garde(skip)]
    pub who: PackWho,
    /// How long before the treatment; on its day if absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[garde(dive)]
    pub lead: Option<PackPeriod>,
}

/// What the fields of a rule stand on.
#[sent(Eq)]
pub struct PackBasis {
    /// That the condition matters.
    #[garde(dive)]
    pub condition: PackGrounds,
    /// The period.
    #[garde(dive)]
    pub wait: Option<PackGrounds>,
    /// The numbers.
    #[garde(dive)]
    pub values: Option<PackGrounds>,
    /// How long before the treatment.
    #[garde(dive)]
    pub lead: Option<PackGrounds>,
}

/// What one field stands on.
#[sent(Eq, free)]
pub struct PackGrounds {
    /// Ids of sources, registered or of the pack; `common-practice` stands for
    /// a habit without a source.
    #[garde(length(min = 1, max = 20), inner(length(chars, min = 1, max = 80)))]
    pub sources: Vec<String>,
    /// Kind of the best evidence.
    pub evidence: EvidenceKind,
    /// How sure the value is as stated.
    pub confidence: Confidence,
}

/// A rule made stricter.
#[sent(Eq)]
pub struct PackTightening {
    /// The rule.
    #[garde(length(chars, min = 1, max = 60))]
    pub rule: String,
    /// A harder verdict.
    #[garde(skip)]
    pub verdict: Option<Verdict>,
    /// A longer period.
    #[garde(dive)]
    pub period: Option<PackPeriod>,
    /// More points.
    #[garde(range(max = 4))]
    pub points: Option<u8>,
    /// Whom to ask, where the verdict becomes a referral.
    #[garde(length(chars, min = 1, max = 60))]
    pub refer_to: Option<String>,
}
