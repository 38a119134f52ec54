//! `rules/aftercare/triage.toml` and its loading.

use std::collections::BTreeSet;
use std::sync::Arc;

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use serde::Deserialize;

use super::super::data::{LoadError, Origin, Parameter, Sourced, Span, read, require_text, settle};
use super::super::parameters::Parameters;
use crate::evidence::Register;
use crate::text::Catalogue;

const FILE: &str = "triage.toml";

/// The whole file.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rules {
    pub(super) revision: u32,
    pub(super) fever_celsius: Parameter<f64>,
    pub(super) plausible_celsius: Span<f64>,
    pub(super) again_hours: AgainHours,
    pub(super) country: Vec<Country>,
    pub(super) rule: Vec<Rule>,
    pub(super) expected: Vec<Expected>,
    pub(super) question: Vec<QuestionRow>,
    /// First day on which colour is judged, from the shared parameters.
    #[serde(skip)]
    pub(super) floor_days: i32,
}

/// Hours to the next report, by level.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct AgainHours {
    pub(super) emergency: i32,
    pub(super) same_day: i32,
    pub(super) doctor: i32,
    pub(super) artist: i32,
    pub(super) source: Origin,
}

/// Whom to call in one country: keys of texts.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Country {
    pub(super) code: Arc<str>,
    pub(super) emergency: Arc<str>,
    pub(super) same_day: Arc<str>,
    pub(super) doctor: Arc<str>,
    pub(super) sources: CountrySources,
}

/// Where the numbers of a country come from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct CountrySources {
    pub(super) emergency: Origin,
    pub(super) same_day: Origin,
}

/// What a rule advises beyond its level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Advice {
    Eye,
    Prescriber,
    Wait,
    Review,
}

/// One rule. All its conditions are "at least".
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rule {
    pub(super) key: Arc<str>,
    pub(super) level: Level,
    pub(super) symptoms: Vec<Symptom>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(super) from_day: i32,
    #[serde(default)]
    pub(super) to_day: Option<i32>,
    #[serde(default)]
    pub(super) severity: Option<Severity>,
    #[serde(default)]
    pub(super) trend: Option<Trend>,
    #[serde(default)]
    pub(super) onset_from_day: Option<i32>,
    #[serde(default)]
    pub(super) count: Option<usize>,
    #[serde(default)]
    pub(super) one_of: Vec<Symptom>,
    #[serde(default)]
    pub(super) advice: Option<Advice>,
    pub(super) because: Arc<str>,
    pub(super) sources: RuleSources,
}

/// What belongs to ordinary healing.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Expected {
    pub(super) key: Arc<str>,
    pub(super) symptoms: Vec<Symptom>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    pub(super) from_day: i32,
    pub(super) to_day: i32,
    #[serde(default)]
    pub(super) severity_at_most: Option<Severity>,
    pub(super) sources: RuleSources,
}

/// Where a rule comes from.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RuleSources {
    pub(super) signs: Origin,
    pub(super) days: Origin,
}

/// A question and the symptoms it stands for.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct QuestionRow {
    pub(super) key: Arc<str>,
    pub(super) symptoms: Vec<Symptom>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(super) from_day: i32,
}

impl Sourced for Rules {
    fn origins(&mut self) -> Vec<&mut Origin> {
        let mut origins = vec![
            &mut self.fever_celsius.source,
            &mut self.plausible_celsius.source,
            &mut self.again_hours.source,
        ];
        for row in &mut self.country {
            origins.push(&mut row.sources.emergency);
            origins.push(&mut row.sources.same_day);
        }
        let rules = self.rule.iter_mut().map(|row| &mut row.sources);
        let expected = self.expected.iter_mut().map(|row| &mut row.sources);
        for sources in rules.chain(expected) {
            origins.push(&mut sources.signs);
            origins.push(&mut sources.days);
        }
        origins
    }
}

impl Rules {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`LoadError`] if the file is unreadable, a key comes twice, a rule can
    /// never speak, a symptom has no question, or a source or text is unknown.
    pub(super) fn builtin(register: &Register, texts: &Catalogue) -> Result<Self, LoadError> {
        let mut rules: Self = read(FILE, include_str!("../../../rules/aftercare/triage.toml"))?;
        settle([&mut rules], register)?;
        rules.floor_days = Parameters::builtin(register)?.floor_days.value;
        rules.check(texts)?;
        Ok(rules)
    }

    fn check(&self, texts: &Catalogue) -> Result<(), LoadError> {
        let mut keys = BTreeSet::new();
        let named = self.rule.iter().map(|row| &row.key);
        for key in named.chain(self.expected.iter().map(|row| &row.key)) {
            if !keys.insert(key) {
                return Err(fault(key, "comes twice"));
            }
        }
        for row in &self.rule {
            require_text(texts, &row.because)?;
            if row.level == Level::Expected {
                return Err(fault(&row.key, "belongs into `expected`"));
            }
            if row.symptoms.len() < row.count.unwrap_or(1)
                || row.one_of.iter().any(|one| !row.symptoms.contains(one))
            {
                return Err(fault(&row.key, "can never speak"));
            }
        }
        for row in &self.question {
            require_text(texts, &row.key)?;
        }
        for row in &self.country {
            for key in [&row.emergency, &row.same_day, &row.doctor] {
                require_text(texts, key)?;
            }
        }
        if !self.fever_celsius.in_range() {
            return Err(fault("fever_celsius", "its value lies outside `least` to `most`"));
        }
        match Symptom::ALL.iter().find(|s| !self.question.iter().any(|q| q.symptoms.contains(s))) {
            Some(symptom) => Err(fault(symptom.as_str(), "is asked by no question")),
            None => Ok(()),
        }
    }
}

fn fault(key: &str, fault: &'static str) -> LoadError {
    LoadError::Row { file: FILE, key: key.to_owned(), fault }
}
