//! Steps that a studio's pack adds to every plan.
//!
//! A pack adds steps and their sentences. It changes no built-in step and takes
//! none away, so no plan gets shorter by it. The steps go through the same
//! checks as the built-in ones: days in order, registered sources, and
//! sentences that stop no medicine, name no dose and promise nothing. Every
//! fault is reported, each with its place.

use std::sync::Arc;

use etui_schema::packs::{PackStepSources, PackText};
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::StepKind;
use serde::Deserialize;

use super::plan::Plans;
use super::rows::{Anchor, StepRow, StepSources, Trait, fault_of, session};
use crate::evidence::{Register, UnknownSource};
use crate::guard::{Speaks, objection};
use crate::rules::{Origin, RuleFault, shape};
use crate::screening::wording::Objection;
use crate::text::places;

/// Longest sentence in characters: with its places filled it must still fit
/// into two short messages (320).
const LONGEST_TEXT: usize = 300;
/// Most steps of all packs together.
const MOST_STEPS: usize = 300;
/// Most messages of all packs together that one client can get on one day: our own
/// choice. What matters most is said by the built-in ones, and is not to drown.
const MOST_A_DAY: usize = 5;

/// One fault of a pack.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{pointer}: {problem}")]
pub struct PackFault {
    /// JSON pointer into the pack.
    pub pointer: String,
    /// What is wrong.
    pub problem: PackProblem,
}

/// What is wrong with a pack.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PackProblem {
    /// Not of the shape of a pack.
    #[error("{why}")]
    Unreadable {
        /// What the reader said.
        why: String,
    },
    /// A key of another shape.
    #[error("`{key}` must be 1 to 48 characters out of a-z 0-9 _ beginning with a letter")]
    Key {
        /// The key.
        key: String,
    },
    /// A step of this key is there.
    #[error("`{key}` is there already; a new key is wanted, what is built in cannot be replaced")]
    Twice {
        /// The key.
        key: String,
    },
    /// Days that contradict each other.
    #[error("{why}")]
    Days {
        /// How.
        why: &'static str,
    },
    /// Too long, too many.
    #[error("{what} is out of range; accepted: {accepted}")]
    Range {
        /// Which value.
        what: &'static str,
        /// What would be accepted.
        accepted: String,
    },
    /// A place in the sentence that nothing fills.
    #[error("nothing fills `{{{place}}}` here; accepted: {accepted}")]
    Place {
        /// Its name.
        place: String,
        /// What is filled.
        accepted: String,
    },
    /// A sentence that may not be said.
    #[error(transparent)]
    Wording(#[from] Objection),
    /// A source nobody registered.
    #[error(transparent)]
    Source(#[from] UnknownSource),
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPack {
    #[serde(default)]
    step: Vec<RawStep>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct RawStep {
    key: String,
    kind: StepKind,
    treatments: Option<Vec<Treatment>>,
    when: Option<Trait>,
    #[serde(default = "session")]
    anchor: Anchor,
    from_day: i32,
    to_day: Option<i32>,
    #[serde(default)]
    message: bool,
    send_day: Option<i32>,
    text: PackText,
    sources: PackStepSources,
}

impl Plans {
    /// These plans with the steps of a pack, a JSON object of the published
    /// shape.
    ///
    /// # Errors
    /// Every [`PackFault`].
    pub fn with_pack(
        &self,
        register: &Register,
        name: &str,
        pack: &serde_json::Value,
    ) -> Result<Self, Vec<PackFault>> {
        let raw: RawPack = shape(name, pack).map_err(|RuleFault { pointer, why, .. }| {
            vec![PackFault { pointer, problem: PackProblem::Unreadable { why } }]
        })?;
        let mut loader = Loader { plans: self.clone(), register, name, faults: Vec::new() };
        for (at, step) in raw.step.into_iter().enumerate() {
            loader.step(&format!("/step/{at}"), step);
        }
        if loader.faults.is_empty() { Ok(loader.plans) } else { Err(loader.faults) }
    }
}

struct Loader<'a> {
    plans: Plans,
    register: &'a Register,
    name: &'a str,
    faults: Vec<PackFault>,
}

impl Loader<'_> {
    fn fault(&mut self, pointer: String, problem: impl Into<PackProblem>) {
        self.faults.push(PackFault { pointer, problem: problem.into() });
    }

    fn step(&mut self, at: &str, raw: RawStep) {
        self.key(at, &raw.key);
        self.text(at, &raw);
        let text: Arc<str> = format!("pack.{}.{}", self.name, raw.key).into();
        let sources = StepSources {
            days: self.origin(at, "days", &raw.sources.days),
            text: self.origin(at, "text", &raw.sources.text),
        };
        let row = StepRow {
            key: raw.key.into(),
            kind: raw.kind,
            treatments: raw.treatments.unwrap_or_else(|| Treatment::ALL.to_vec()),
            when: raw.when,
            anchor: raw.anchor,
            from_day: raw.from_day,
            to_day: raw.to_day,
            to_day_least: None,
            spread_days: 0,
            tag: None,
            message: raw.message,
            send_day: raw.send_day,
            bundle: Vec::new(),
            calls: false,
            text: Some(text.clone()),
            private: None,
            sources,
            pack: Some(self.name.into()),
        };
        self.days(at, &row);
        self.crowd(at, &row);
        self.plans.texts.add(&text, &raw.text);
        self.plans.steps.push(row);
    }

    /// Where a part of a step comes from. What is not registered is a fault, and
    /// counts as a habit of the trade until the pack is refused for it.
    fn origin(&mut self, at: &str, part: &str, id: &str) -> Origin {
        self.register.origin(id).unwrap_or_else(|unknown| {
            self.fault(format!("{at}/sources/{part}"), unknown);
            Origin::common_practice()
        })
    }

    fn key(&mut self, at: &str, key: &str) {
        let shape = (1..=48).contains(&key.len())
            && key.starts_with(|c: char| c.is_ascii_lowercase())
            && key.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_');
        let short: String = key.chars().take(60).collect();
        if !shape {
            self.fault(format!("{at}/key"), PackProblem::Key { key: short });
        } else if self.plans.steps.iter().any(|row| *row.key == *key) {
            self.fault(format!("{at}/key"), PackProblem::Twice { key: short });
        }
        if MOST_STEPS < self.plans.steps.len() {
            let accepted = format!("at most {MOST_STEPS} steps in all");
            let what = "the number of steps";
            self.fault(at.to_owned(), PackProblem::Range { what, accepted });
        }
    }

    fn days(&mut self, at: &str, row: &StepRow) {
        if row.anchor == Anchor::Session && row.from_day < 0 {
            let why = "a step counted from the session begins on day 0 or later";
            self.fault(format!("{at}/from_day"), PackProblem::Days { why });
        }
        if row.send_day.is_some_and(|send| send < row.from_day) {
            let why = "`send_day` lies before its days";
            self.fault(format!("{at}/send_day"), PackProblem::Days { why });
        }
        if let Some(why) = fault_of(row) {
            self.fault(at.to_owned(), PackProblem::Days { why });
        }
    }

    /// Too many messages on the day of this one, for some treatment. That some are for
    /// some clients only does not count: there is one who gets them all.
    fn crowd(&mut self, at: &str, row: &StepRow) {
        let day = |row: &StepRow| row.send_day.unwrap_or(row.from_day);
        let same_day = |other: &&StepRow| {
            let of_pack = other.pack.is_some() && other.message;
            of_pack && other.anchor == row.anchor && day(other) == day(row)
        };
        let others: Vec<&StepRow> = self.plans.steps.iter().filter(same_day).collect();
        let crowded = |treatment: &Treatment| {
            MOST_A_DAY <= others.iter().filter(|row| row.treatments.contains(treatment)).count()
        };
        if row.message && row.treatments.iter().any(crowded) {
            let accepted = format!("at most {MOST_A_DAY} of all packs for one treatment");
            let what = "the number of messages on this day";
            self.fault(format!("{at}/message"), PackProblem::Range { what, accepted });
        }
    }

    fn text(&mut self, at: &str, raw: &RawStep) {
        let mut filled = Vec::new();
        filled.extend(raw.to_day.map(|_| "days"));
        filled.extend((raw.anchor != Anchor::Session).then_some("date"));
        for (language, sentence) in raw.text.said() {
            let pointer = format!("{at}/text/{language}");
            if sentence.trim().is_empty() || LONGEST_TEXT < sentence.chars().count() {
                let accepted = format!("1 to {LONGEST_TEXT} characters");
                self.fault(pointer, PackProblem::Range { what: "the text", accepted });
                continue;
            }
            if let Some(objection) = objection(sentence, Speaks::AfterVisit) {
                self.fault(pointer.clone(), objection);
            }
            for place in places(sentence).into_iter().filter(|place| !filled.contains(place)) {
                let accepted = if filled.is_empty() { "none".into() } else { filled.join(", ") };
                let place = place.to_owned();
                self.fault(pointer.clone(), PackProblem::Place { place, accepted });
            }
        }
    }
}
