//! Packs: what a studio or a plug-in adds to the built-in data, over HTTP.
//!
//! Each kind has a schema of its own, [`RulesPack`], [`LabelSpellingsPack`] and
//! [`AftercarePack`]; what a schema cannot say, the loader that reads the
//! built-in data checks.

mod aftercare;
mod questions;
mod rules;
mod spellings;
mod training;

use crate::describe::JsonSchema;
#[cfg(feature = "describe")]
use crate::describe::{Schema, SchemaGenerator, json_schema};
use crate::kinds::{asked, sent, told};
use std::marker::PhantomData;

use garde::Validate;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

pub use aftercare::{AftercarePack, PackStep, PackStepSources, StepAnchor, StepWhen};
pub use questions::{
    PackAskIf, PackOption, PackQuestion, PackQuestionKind, PackWho, QuestionLatest, QuestionStage,
};
pub use rules::{
    PackBasis, PackClause, PackGrounds, PackPeriod, PackRule, PackSource, PackTightening, PackTime,
    PackTimeMode, PackTodo, RulesPack, SourceRead,
};
pub use spellings::{LabelSpellingsPack, PackCode, PackCodeNote, PackSize, PackTaper};
pub use training::{PackCounted, PackTraining};

use crate::open::Open;
use crate::problem::Fault;
use crate::vocabulary::{
    CivilDate, Instant, Language, Reference, Treatment, Verdict, each_language, words,
};

words! {
    /// What a pack adds to.
    PackKind, "kind of pack" {
        /// Rules and questions of the screening.
        Rules = "rules",
        /// How suppliers write what is on a packet.
        LabelSpellings = "label-spellings",
        /// Steps of the aftercare.
        Aftercare = "aftercare",
    }
}

pub(crate) const fn yes() -> bool {
    true
}

macro_rules! pack_text {
    (() En $english:literal en, $($name:ident $word:literal $tag:ident,)*) => {
        /// A sentence of a pack.
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema, Validate)]
        #[serde(deny_unknown_fields)]
        pub struct PackText {
            /// In English.
            #[garde(length(chars, min = 1, max = 500))]
            pub en: String,
            $(
                /// In this language; without it, it speaks English.
                #[serde(default, skip_serializing_if = "Option::is_none")]
                #[garde(length(chars, min = 1, max = 500))]
                pub $tag: Option<String>,
            )*
        }

        impl PackText {
            /// The sentence in each language that it is said in.
            pub fn said(&self) -> impl Iterator<Item = (Language, &str)> {
                let others = [$((Language::$name, self.$tag.as_deref())),*];
                let others = others.into_iter().filter_map(|(language, text)| Some((language, text?)));
                std::iter::once((Language::En, &*self.en)).chain(others)
            }
        }
    };
}
each_language!([pack_text]);

/// How much of what is kept rests on a pack, as it was and as it is to be. Nothing of
/// it is rewritten by a change of the pack: stored checks stay as they were made,
/// an answer to a question that is no more is left out where it would be used, and
/// a message that no pack says any more is not sent.
#[told(Eq)]
pub struct PackAffects {
    /// Clients in whose record a question of the pack is answered.
    pub clients: u32,
    /// Stored checks in which a question of the pack was answered, one of its rules
    /// speaks (those that it adds and those that it tightens), or one of its steps
    /// stands in the aftercare.
    pub checks: u32,
    /// Messages with a step of the pack that are still open: scheduled, leased,
    /// paused or held.
    pub reminders: u32,
    /// Whether everything was looked at. If not, the numbers are the least that it
    /// is: more records of a kind are kept than are read for this (the checks with the
    /// latest appointments and the messages that are due first are), or one could
    /// not be read.
    pub complete: bool,
}

/// A pack as it is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Kept{T}")]
pub struct KeptPack<T> {
    /// What it adds to.
    pub kind: Open<PackKind>,
    /// The studio's name for it; findings, readings and steps carry it.
    pub name: Reference,
    /// Whether it is to be applied.
    pub enabled: bool,
    /// Whether it is applied: enabled, and sound beside what else is there.
    pub applied: bool,
    /// Counts the changes, from 1.
    pub revision: u64,
    /// SHA-256 over its content without `enabled`, hexadecimal.
    pub digest: String,
    /// When it was last changed.
    pub updated_at: Instant,
    /// Who changed it last: `owner` or the name of a plug-in.
    pub updated_by: String,
    /// What is wrong with it, if a later build or another pack made it unsound.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<Fault>,
    /// How much of what is kept rests on it; in answers to a change. Absent for label
    /// spellings: what was read with them is not kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub affects: Option<PackAffects>,
    /// The pack as it was put. Change it and put it back, by itself or with all of this.
    pub pack: T,
}

/// A pack as it is put: by itself, or within what GET gave of it.
#[derive(Debug, Clone, Copy)]
pub struct SentPack<T>(PhantomData<T>);

#[cfg(feature = "describe")]
impl<T: JsonSchema> JsonSchema for SentPack<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        format!("Sent{}", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let pack = generator.subschema_for::<T>();
        json_schema!({
            "description": "A pack by itself, or what GET gave of it: what stands beside `pack` is what is stored.",
            "anyOf": [
                pack,
                { "type": "object", "properties": { "pack": pack }, "required": ["pack"] }
            ]
        })
    }
}

/// A pack in a list.
#[told]
pub struct PackRow {
    /// What it adds to.
    pub kind: Open<PackKind>,
    /// The studio's name for it.
    pub name: Reference,
    /// Its author's own version.
    pub version: Option<String>,
    /// What it is for.
    pub about: Option<String>,
    /// Whether it is to be applied.
    pub enabled: bool,
    /// Whether it is applied.
    pub applied: bool,
    /// Counts the changes, from 1; 0 if the stored pack cannot be read.
    pub revision: u64,
    /// SHA-256 over its content, hexadecimal; empty if it cannot be read.
    pub digest: String,
    /// When it was last changed; absent if the stored pack cannot be read.
    pub updated_at: Option<Instant>,
    /// How many faults keep it from being applied.
    pub faults: usize,
}

/// Which packs to list.
#[asked(Default, Eq)]
pub struct PackQuery {
    /// Only packs of this kind.
    pub kind: Option<PackKind>,
    /// Rows a page, 1 to 200; 50 if absent.
    #[schemars(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[schemars(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// What a rules pack would change.
#[sent(Default)]
pub struct PackDryRunRequest {
    /// The pack; the one kept under the name if absent. Its `enabled` does not
    /// matter here.
    #[garde(dive)]
    pub pack: Option<RulesPack>,
    /// How many stored checks to look at, 1 to 200; 50 if absent.
    #[garde(range(min = 1, max = 200))]
    pub limit: Option<u16>,
    /// The `next_cursor` of the page before.
    #[garde(length(min = 1, max = 600))]
    pub cursor: Option<String>,
}

/// What a rules pack would change on one page of the stored checks, in the
/// order of their appointments. Nothing was written.
#[told]
pub struct PackDryRun {
    /// The pack.
    pub name: Reference,
    /// Digest of the rulebook as it is.
    pub digest_before: String,
    /// Digest of the rulebook as it would be.
    pub digest_after: String,
    /// How many checks this page looked at.
    pub checks: usize,
    /// How many of them could not be screened again: the client was erased, or
    /// an answer belongs to a question that is no more.
    pub not_screened: usize,
    /// How many get the same verdict and day, but other findings or points.
    pub same_verdict_other_findings: usize,
    /// The checks that would get another verdict or another day.
    pub changes: Vec<CheckChange>,
    /// How much of what is kept, on whichever page, rests on the pack as it is kept
    /// and as it would be.
    pub affects: Option<PackAffects>,
    /// Ask for the next page with this; absent on the last one.
    pub next_cursor: Option<String>,
}

/// A check that a pack would change.
#[told]
pub struct CheckChange {
    /// The check.
    pub check_id: Uuid,
    /// Its booking.
    pub booking_ref: Reference,
    /// What is to be treated.
    pub treatment: Treatment,
    /// When the appointment starts.
    pub starts_at: Instant,
    /// The outcome under the rules as they are.
    pub from: Open<Verdict>,
    /// The outcome with the pack.
    pub to: Open<Verdict>,
    /// Not before this day, under the rules as they are.
    pub hold_until_from: Option<CivilDate>,
    /// Not before this day, with the pack.
    pub hold_until_to: Option<CivilDate>,
    /// Rules that speak otherwise, or speak at all, with the pack.
    pub rules: Vec<String>,
    /// Questions of the pack that the check did not answer.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unanswered: Vec<String>,
}
