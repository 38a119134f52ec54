//! `rules/aftercare/triage.toml` and its loading.

use etui_schema::kinds::loaded;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use etui_schema::answers::{Answer, Answers};
use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use serde::Deserialize;

use super::super::parameters::Parameters;
use super::super::texts::load;
use crate::evidence::Register;
use crate::rules::{Origin, Parameter, RuleFault, RuleFile, Span, rule_file};
use crate::text::Catalogue;

const FILE: RuleFile = rule_file!("aftercare/triage.toml");

/// The whole file.
#[loaded]
pub(crate) struct Rules {
    pub(super) revision: u32,
    pub(super) fever_celsius: Parameter<f64>,
    pub(super) plausible_celsius: Span<f64>,
    /// From here down a temperature cannot wait either.
    pub(super) cold_celsius: Parameter<f64>,
    /// Last day on which what belongs to healing may still be growing.
    pub(super) growing_to_day: Parameter<i32>,
    /// For how many hours what came to nothing stands beside what is told later.
    pub(super) stands_hours: Parameter<i32>,
    /// For how many hours an emergency that nobody has closed makes one of what is told later.
    pub(super) emergency_holds_hours: Parameter<i32>,
    /// Within how many hours a complaint that is stronger than before has grown.
    pub(super) grew_hours: Parameter<i32>,
    pub(super) again_hours: AgainHours,
    /// Symptoms that rules ask for together. Those of `circumstance` are no
    /// complaints by themselves.
    set: BTreeMap<Arc<str>, Vec<Symptom>>,
    pub(super) rule: Vec<Rule>,
    pub(super) expected: Vec<Expected>,
    pub(super) act: Vec<Act>,
    pub(super) kept: Vec<Kept>,
    pub(super) question: Vec<QuestionRow>,
    /// First day on which colour is judged, from the shared parameters.
    #[serde(skip)]
    pub(super) floor_days: i32,
}

/// Hours to the next report, by level.
#[loaded]
pub(super) struct AgainHours {
    pub(super) emergency: i32,
    pub(super) same_day: i32,
    pub(super) doctor: i32,
    pub(super) artist: i32,
    pub(super) source: Origin,
}

/// What a rule advises beyond its level.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Advice {
    /// An emergency of the eye alone.
    EyeNow,
    /// Rinse before anything else.
    Rinse,
    /// Press on what bleeds before anything else.
    Press,
    /// The adrenaline pen, for who was given one.
    Pen,
    Eye,
    /// Watch for the other signs of an allergy.
    Allergy,
    Prescriber,
    Breast,
    Soon,
    LeaveOff,
    Wait,
    Review,
}

/// One rule: each of its needs is met. All conditions are "at least".
#[loaded]
pub(super) struct Rule {
    pub(super) key: Arc<str>,
    pub(super) level: Level,
    pub(super) needs: Vec<Need>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(super) from_day: i32,
    pub(super) to_day: Option<i32>,
    /// Only so many hours after the session, this one included.
    pub(super) to_hours: Option<i32>,
    /// What a severity that was not told counts as.
    #[serde(default = "moderate")]
    pub(super) unsaid: Severity,
    pub(super) advice: Option<Advice>,
    pub(super) because: Arc<str>,
    pub(super) sources: RuleSources,
}

/// Some of several symptoms.
#[loaded]
pub(super) struct Need {
    /// Symptoms, or sets of them behind an `@`.
    any: Vec<Arc<str>>,
    #[serde(skip)]
    pub(super) symptoms: Vec<Symptom>,
    /// The same as a set: most rules have nothing to say to a report, and a report is judged for each
    /// answer that may change it.
    #[serde(skip)]
    set: u128,
    /// How many of them.
    #[serde(default = "one")]
    pub(super) count: usize,
    pub(super) severity: Option<Severity>,
    pub(super) trend: Option<Trend>,
    /// Whether severity or trend is enough.
    #[serde(default)]
    pub(super) either: bool,
    pub(super) onset_from_day: Option<i32>,
}

const fn moderate() -> Severity {
    Severity::Moderate
}

const fn one() -> usize {
    1
}

impl Need {
    /// Looks the names up.
    fn resolve(&mut self, sets: &BTreeMap<Arc<str>, Vec<Symptom>>) -> Result<(), &'static str> {
        for name in &self.any {
            match name.strip_prefix('@') {
                Some(set) => {
                    let set = sets.get(set).ok_or("names a set that is not there")?;
                    self.symptoms.extend(set);
                }
                None => {
                    let symptom = name.parse().map_err(|_| "names a symptom that is not there")?;
                    self.symptoms.push(symptom);
                }
            }
        }
        self.set = set_of(self.symptoms.iter().copied());
        Ok(())
    }
}

impl Rule {
    /// Whether something is told of each of its needs, by [`set_of`] what was told; else it does not speak.
    pub(super) fn may_speak(&self, told: u128) -> bool {
        self.needs.iter().all(|need| need.set & told != 0)
    }
}

/// Symptoms as a set.
pub(super) fn set_of(symptoms: impl Iterator<Item = Symptom>) -> u128 {
    const { assert!(Symptom::ALL.len() <= 128, "a bit for each") }
    symptoms.fold(0, |set, one| set | 1 << one as u32)
}

/// What belongs to ordinary healing.
#[loaded]
pub(super) struct Expected {
    pub(super) key: Arc<str>,
    pub(super) symptoms: Vec<Symptom>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    pub(super) from_day: i32,
    pub(super) to_day: Option<i32>,
    pub(super) severity_at_most: Option<Severity>,
    /// Key of its words where the usual ones do not do.
    pub(super) because: Option<Arc<str>>,
    pub(super) sources: RuleSources,
}

/// Where a rule comes from.
#[loaded]
pub(super) struct RuleSources {
    pub(super) signs: Origin,
    pub(super) days: Origin,
}

/// What a sentence for what cannot wait tells a person to do.
#[loaded]
pub(super) struct Act {
    pub(super) text: Arc<str>,
    pub(super) what: Arc<str>,
    pub(super) source: Origin,
}

/// What the sentences for what cannot wait begin with; each of them has an act.
const URGENT: [&str; 5] = ["do_emergency", "do_pen", "do_press", "do_rinse", "do_same_day"];

/// A circumstance that kept answers tell of.
#[loaded]
pub(super) struct Kept {
    pub(super) symptom: Symptom,
    /// What is said where it counts and was not told.
    pub(super) text: Arc<str>,
    /// The answers that tell of it: a yes, or one of these choices.
    pub(super) answers: BTreeMap<Arc<str>, Vec<Arc<str>>>,
    #[serde(rename = "source")]
    _source: Origin,
}

impl Kept {
    pub(super) fn speaks(&self, answers: &Answers) -> bool {
        self.answers.iter().any(|(question, choices)| {
            let is_one = |told: &str| choices.iter().any(|choice| **choice == *told);
            match answers.get(&**question) {
                Some(Answer::YesNo(yes)) => *yes,
                Some(Answer::Choices(all)) => all.iter().any(|told| is_one(told)),
                Some(Answer::Text(told)) => is_one(told),
                Some(Answer::Number(_)) | None => false,
            }
        })
    }
}

/// A question and the symptoms it stands for.
#[loaded]
pub(super) struct QuestionRow {
    pub(super) key: Arc<str>,
    pub(super) symptoms: Vec<Symptom>,
    #[serde(default)]
    pub(super) treatments: Vec<Treatment>,
    #[serde(default)]
    pub(super) from_day: i32,
}

impl Rules {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if the file is unreadable, a key comes twice, a rule can
    /// never speak, a symptom has no question, or a source or text is unknown.
    pub(super) fn builtin(register: &Register, texts: &Catalogue) -> Result<Self, RuleFault> {
        let mut rules: Self = load(register, texts, FILE)?;
        for (at, row) in rules.rule.iter_mut().enumerate() {
            for need in &mut row.needs {
                let fault = |why| RuleFault::new(FILE.name, format!("/rule/{at}/needs"), why);
                need.resolve(&rules.set).map_err(fault)?;
            }
        }
        rules.floor_days = Parameters::builtin(register)?.floor_days.value;
        rules.check(texts)?;
        Ok(rules)
    }

    fn check(&self, texts: &Catalogue) -> Result<(), RuleFault> {
        let mut keys = BTreeSet::new();
        let named = self.rule.iter().map(|row| &row.key);
        for key in named.chain(self.expected.iter().map(|row| &row.key)) {
            RuleFault::unless(keys.insert(key), FILE.name, "", format!("`{key}` comes twice"))?;
        }
        for (at, row) in self.rule.iter().enumerate() {
            let never = |need: &Need| need.symptoms.len() < need.count || need.count == 0;
            let speaks = !row.needs.is_empty() && !row.needs.iter().any(never);
            for (holds, why) in [
                (row.level != Level::Expected, "belongs into `expected`"),
                (speaks, "can never speak"),
            ] {
                RuleFault::unless(holds, FILE.name, format!("/rule/{at}"), why)?;
            }
        }
        for (at, row) in self.kept.iter().enumerate() {
            let why = "is no circumstance";
            let pointer = format!("/kept/{at}/symptom");
            RuleFault::unless(self.is_circumstance(row.symptom), FILE.name, pointer, why)?;
        }
        texts.require(FILE.name, self.question.iter().map(|row| &row.key))?;
        texts.require(FILE.name, self.act.iter().map(|act| &act.text))?;
        let urgent = texts.keys().filter(|key| URGENT.iter().any(|word| key.starts_with(word)));
        for key in urgent {
            let has_act = self.act.iter().any(|act| &*act.text == key);
            let why = format!("`{key}` tells what to do and has no source");
            RuleFault::unless(has_act, FILE.name, "/act", why)?;
        }
        match Symptom::ALL.iter().find(|s| !self.question.iter().any(|q| q.symptoms.contains(s))) {
            Some(symptom) => {
                let why = format!("`{symptom}` is asked by no question");
                Err(RuleFault::new(FILE.name, "/question", why))
            }
            None => Ok(()),
        }
    }

    /// Whether it is something beside the complaints, such as a lens that was worn.
    pub(super) fn is_circumstance(&self, symptom: Symptom) -> bool {
        self.circumstances().contains(&symptom)
    }

    /// What somebody takes or wears.
    pub(super) fn circumstances(&self) -> &[Symptom] {
        self.set.get("circumstance").map_or(&[], Vec::as_slice)
    }

    /// Whether what was told under any work is heard of this one: what is of the whole body, and of
    /// the eyes where they are near.
    pub(super) fn reaches(&self, symptom: Symptom, treatment: Treatment) -> bool {
        let is_in = |set: &str| self.set.get(set).is_some_and(|set| set.contains(&symptom));
        let near_eyes = matches!(treatment, Treatment::Brows | Treatment::Eyeliner);
        is_in("body") || near_eyes && is_in("eyes")
    }

    /// Whether only a doctor's word ends it.
    pub(super) fn is_lasting(&self, symptom: Symptom) -> bool {
        self.set.get("lasting").is_some_and(|set| set.contains(&symptom))
    }
}
