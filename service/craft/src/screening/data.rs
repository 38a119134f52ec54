//! The shape of rule files, as written: built in (TOML) and in a studio's
//! pack (TOML or JSON). Nothing here is checked beyond its shape; the loader
//! in `load` does that.
//!
//! ```toml
//! [[question]]
//! id = "isotretinoin"
//! kind = "choice"
//! options = [{ id = "never" }, { id = "stopped" }, { id = "now" }]
//! clear = "never"
//!
//! [[question]]
//! id = "isotretinoin_stopped_on"
//! kind = "date"
//! ask_if = { question = "isotretinoin", any_of = ["stopped"] }
//!
//! [[rule]]
//! id = "isotretinoin_recent"
//! when = [{ chosen = "isotretinoin", any_of = ["stopped"] }]
//! verdict = "hold"
//! time = { after = "isotretinoin_stopped_on", period = "P6M", range = ["P6M", "P12M"] }
//! until = "isotretinoin"
//! points = 2
//! group = "healing"
//! basis.condition = { sources = ["waldman-2017"], evidence = "guideline", confidence = "high" }
//! basis.wait = { sources = ["blakely-2022"], evidence = "expert", confidence = "medium" }
//! ```

use etui_schema::kinds::loaded;
use std::collections::BTreeMap;

pub(super) use etui_schema::packs::{
    PackAskIf as RawAskIf, PackBasis as RawBasis, PackGrounds as RawGrounds,
    PackOption as RawOption, PackQuestionKind as RawKind, PackText as RawText,
    PackTimeMode as RawMode,
};
pub use etui_schema::packs::{PackWho as Who, QuestionLatest as Latest};
use etui_schema::vocabulary::{Phototype, SkinSign, Treatment, Verdict};
use serde::Deserialize;

use super::country::Country;
use super::period::Period;
use super::score::{Band, Group};
use crate::evidence::Source;

/// When a question is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Default)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// From the booking on.
    #[default]
    Booking,
    /// On the day of the treatment only; before that it cannot be answered.
    Day,
    /// Never: the studio's own record answers it.
    Record,
}

#[loaded]
pub(super) struct RawQuestion {
    pub(super) id: String,
    pub(super) kind: RawKind,
    pub(super) treatments: Option<Vec<Treatment>>,
    pub(super) ask_if: Option<RawAskIf>,
    #[serde(default)]
    pub(super) options: Vec<RawOption>,
    /// The option of a choice under which no rule speaks.
    pub(super) clear: Option<String>,
    #[serde(default)]
    pub(super) optional: bool,
    #[serde(default)]
    pub(super) wanted_on_the_day: bool,
    #[serde(default)]
    pub(super) stage: Stage,
    #[serde(default = "client")]
    pub(super) asked_of: Who,
    #[serde(default = "by_the_treatment")]
    pub(super) latest: Latest,
    pub(super) min: Option<f64>,
    pub(super) max: Option<f64>,
    pub(super) unit: Option<String>,
}

const fn client() -> Who {
    Who::Client
}

const fn by_the_treatment() -> Latest {
    Latest::Treatment
}

const fn until() -> RawMode {
    RawMode::Until
}

/// One way for a rule to speak; exactly one form is filled.
#[derive(Debug, Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(super) struct RawClause {
    pub(super) yes: Option<String>,
    pub(super) chosen: Option<String>,
    pub(super) any_of: Vec<String>,
    pub(super) number: Option<String>,
    pub(super) at_least: Option<f64>,
    pub(super) above: Option<f64>,
    pub(super) younger_than_years: Option<u8>,
    pub(super) skin_signs: Vec<SkinSign>,
    pub(super) phototypes: Vec<Phototype>,
    pub(super) ita_at_most: Option<f64>,
    /// A question that was answered without any of `any_of`; for a yes/no, no.
    pub(super) denied: Option<String>,
    /// The country in which the studio works.
    pub(super) country: Option<Country>,
    pub(super) always: bool,
}

#[loaded]
pub(super) struct RawTime {
    /// A date question, or `treatment`.
    pub(super) after: String,
    pub(super) period: Period,
    /// Shortest and longest in use.
    pub(super) range: Option<(Period, Period)>,
    #[serde(default = "until")]
    pub(super) mode: RawMode,
    /// The client can keep it away by herself, so that the period can still
    /// pass before the treatment. Never set for anything prescribed.
    #[serde(default)]
    pub(super) avoidable: bool,
    /// It is worked skin that rests: never shorter than the one rule of healing
    /// (`aftercare::healing`) says for this client.
    #[serde(default)]
    pub(super) rests: bool,
}

#[loaded]
pub(super) struct RawTodo {
    pub(super) who: Who,
    pub(super) lead: Option<Period>,
    #[serde(default)]
    pub(super) stays: bool,
}

#[loaded]
pub(super) struct RawRule {
    pub(super) id: String,
    pub(super) treatments: Option<Vec<Treatment>>,
    #[serde(default)]
    pub(super) law: bool,
    /// Whether nothing overrides it although it is no law.
    #[serde(default)]
    pub(super) firm: bool,
    /// Any of these makes it speak,
    pub(super) when: Vec<RawClause>,
    /// if there is any of these too,
    #[serde(default)]
    pub(super) also: Vec<RawClause>,
    /// and none of these for certain.
    #[serde(default)]
    pub(super) unless: Vec<RawClause>,
    /// The answer that says that the event has come, or the person agreed.
    pub(super) release: Option<RawClause>,
    pub(super) verdict: Verdict,
    pub(super) time: Option<RawTime>,
    pub(super) until: Option<String>,
    pub(super) refer_to: Option<String>,
    #[serde(default)]
    pub(super) values: BTreeMap<String, f64>,
    #[serde(default)]
    pub(super) points: u8,
    pub(super) group: Option<String>,
    pub(super) todo: Option<RawTodo>,
    pub(super) basis: RawBasis,
}

/// A built-in rule made stricter by a pack.
#[loaded]
pub(super) struct RawTighten {
    pub(super) rule: String,
    pub(super) verdict: Option<Verdict>,
    pub(super) period: Option<Period>,
    pub(super) points: Option<u8>,
    pub(super) refer_to: Option<String>,
}

/// One file of questions and rules, or a pack.
#[derive(Debug, Clone, Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
pub(crate) struct Chapter {
    pub(super) question: Vec<RawQuestion>,
    pub(super) rule: Vec<RawRule>,
    pub(super) tighten: Vec<RawTighten>,
    pub(super) source: Vec<Source>,
    pub(super) texts: BTreeMap<String, RawText>,
}

/// The head of the rulebook.
#[loaded]
pub(crate) struct Head {
    pub(super) name: String,
    pub(super) revision: u32,
    /// How long before the treatment a written view should be there.
    pub(super) refer_lead: Period,
    /// The oldest age believed.
    pub(super) oldest_years: u8,
    pub(super) points_basis: RawGrounds,
    pub(super) refer_lead_basis: RawGrounds,
    pub(super) group: Vec<Group>,
    pub(super) band: Vec<Band>,
}
