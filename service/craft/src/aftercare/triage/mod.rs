//! How urgent is what the client tells?
//!
//! A report is read against `rules/aftercare/triage.toml`. Every rule has needs,
//! each "at least" (a severity, a trend, a number of symptoms), and days; the
//! level of the report is the highest level any rule gives:
//!
//! ```text
//! emergency > same_day > doctor > artist > expected
//! ```
//!
//! So one sign of an emergency is enough, and a worse sign, a higher severity
//! or a worse trend can never lower a level. What no rule speaks of and no
//! ordinary day of healing covers goes to the artist: silence of the rules is
//! no reassurance. Trend beats severity: what gets worse after day 3 is raised
//! even while it is mild.
//!
//! What is not told never reassures. An empty report is asked and goes to the
//! artist; a normal temperature says nothing. A severity that is not told counts
//! as moderate, or as severe where a rule says so, and a trend as unchanged, for what
//! the findings say. But neither is known: so the level is no lower than what the worst
//! would give, until somebody says how it is, and the answer asks. Of the day on which it began, the
//! latest leaves the level at most one below. Without a zone the report may be
//! of one of two days, and the graver one counts.
//!
//! While a report that a doctor has to see is open, the next of the same area is no milder.
//!
//! What somebody takes or wears is no complaint by itself. Kept of her, it counts as
//! told. Where nobody told it, or measured a temperature, and the level would be graver
//! with it, the level stays and the answer asks: calm words stand beside the question.
//!
//! An eye is rinsed before anything else, also before a telephone call.
//!
//! The colour of the skin is no input. Redness is never required for anything:
//! every rule that it can set off, another sign can set off as well.
//!
//! It sorts by urgency. It is no diagnosis, and says so.

mod before;
mod findings;
mod judge;
mod now;
mod rules;

use std::sync::Arc;

use etui_schema::answers::Answers;
use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use etui_schema::vocabulary::{Address, Treatment};
use jiff::Timestamp;
use jiff::tz::TimeZone;

use super::country::Countries;
use super::say::Say;
use super::texts;
use crate::evidence::{Basis, Register};
use crate::rules::RuleFault;
use crate::text::Catalogue;
pub use before::{Earlier, Work};
use rules::QuestionRow;
pub(crate) use rules::Rules;

/// One symptom as told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Told {
    /// What it is.
    pub symptom: Symptom,
    /// How strong; moderate is taken if it is not told, and it is asked for.
    pub severity: Option<Severity>,
    /// Where it is going; unchanged is taken if it is not told, and it is asked for.
    pub trend: Option<Trend>,
    /// Day on which it began, counted from the treatment (day 0).
    pub began_on_day: Option<i32>,
}

impl Told {
    /// What somebody takes or wears, or of which nothing else is known.
    const fn bare(symptom: Symptom) -> Self {
        Self { symptom, severity: None, trend: None, began_on_day: None }
    }
}

/// The studio's own words for whom to call.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Contacts {
    /// In an emergency.
    pub emergency: Option<Arc<str>>,
    /// On the same day.
    pub same_day: Option<Arc<str>>,
    /// Within days.
    pub doctor: Option<Arc<str>>,
    /// The artist.
    pub artist: Option<Arc<str>>,
}

/// What a client tells.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session.
    pub performed_at: Timestamp,
    /// When it is told.
    pub reported_at: Timestamp,
    /// Zone in which days are counted; UTC if not told.
    pub zone: Option<TimeZone>,
    /// The symptoms.
    pub symptoms: Vec<Told>,
    /// What is kept of her that she takes or wears ([`Triage::kept`]); it counts as told.
    pub kept: Vec<Symptom>,
    /// Measured temperature in °C.
    pub temperature_c: Option<f64>,
    /// Country in two letters (ISO 3166-1), for the numbers to call.
    pub country: Option<Arc<str>>,
    /// The studio's own words, before those of the country.
    pub contacts: Contacts,
    /// Other reports of hers, whichever work they are of.
    pub earlier: Vec<Earlier>,
    /// Other sessions of hers.
    pub works: Vec<Work>,
    /// Of the symptoms those that were told long ago alone, and when: none of them calls an ambulance by
    /// itself. It is filled in where reports are heard together.
    pub old: Vec<(Symptom, Timestamp)>,
}

/// Why a report cannot be judged.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReportError {
    /// It is told before the treatment.
    #[error(
        "the report of {reported_at} lies before the treatment of {performed_at}; it must not be earlier"
    )]
    BeforeTreatment {
        /// When it is told.
        reported_at: Timestamp,
        /// When the treatment was.
        performed_at: Timestamp,
    },
    /// A temperature that no thermometer of a living person shows.
    #[error("this is not a body temperature in °C; {least} to {most} are accepted")]
    Temperature {
        /// What was told.
        found: f64,
        /// Least that is accepted.
        least: f64,
        /// Most that is accepted.
        most: f64,
    },
    /// A symptom began before the treatment or after the report.
    #[error("symptom {index} began on a day that cannot be; days 0 to {last} are accepted")]
    Began {
        /// Its place in the list.
        index: usize,
        /// The day told.
        day: i32,
        /// Day of the report.
        last: i32,
    },
    /// The same symptom twice.
    #[error("symptom {index} was told before; tell each symptom once, as it is now")]
    Twice {
        /// Place of the second one.
        index: usize,
        /// Which one.
        symptom: Symptom,
    },
}

impl ReportError {
    /// Pointer to the field of the report that is at fault.
    #[must_use]
    pub fn pointer(&self) -> String {
        match self {
            Self::BeforeTreatment { .. } => "/reported_at".to_owned(),
            Self::Temperature { .. } => "/temperature_c".to_owned(),
            Self::Began { index, .. } => format!("/symptoms/{index}/began_on_day"),
            Self::Twice { index, .. } => format!("/symptoms/{index}/kind"),
        }
    }
}

/// One reason for a level.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Key of the rule.
    pub rule: Arc<str>,
    /// The level it gives.
    pub level: Level,
    /// The symptoms it speaks of; empty if it is the temperature.
    pub symptoms: Vec<Symptom>,
    /// Why.
    pub because: Say,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// What to do about a report.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// Revision of the rules.
    pub revision: u32,
    /// How urgent it is.
    pub level: Level,
    /// Day of the report, counted from the treatment (day 0).
    pub day: i32,
    /// What to do now; the first is the most urgent.
    pub now: Vec<Say>,
    /// Whom to call, in the studio's or the country's words; absent if nobody.
    pub call: Option<Say>,
    /// When to report again.
    pub report_again: Say,
    /// The instant of it; absent where nothing needs to be reported.
    pub report_again_by: Option<Timestamp>,
    /// What is still to be asked: everything where no complaint was told, how strong
    /// it is where that was left out, and what would make the level graver.
    pub ask: Vec<Question>,
    /// Why, gravest first.
    pub findings: Vec<Finding>,
    /// What to bear in mind.
    pub cautions: Vec<Say>,
    /// What was not told: pointer and what was taken instead.
    pub assumed: Vec<(&'static str, Say)>,
}

/// A plain question and the symptoms it stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Stable key.
    pub key: Arc<str>,
    /// The question.
    pub say: Say,
    /// The symptoms a yes may mean.
    pub symptoms: Vec<Symptom>,
}

impl Question {
    fn of(row: &QuestionRow) -> Self {
        let QuestionRow { key, symptoms, treatments: _, from_day: _ } = row;
        Self { key: key.clone(), say: Say::plain(key), symptoms: symptoms.clone() }
    }
}

/// The rules of triage.
#[derive(Debug, Clone)]
pub struct Triage {
    rules: Rules,
    countries: Countries,
    texts: Catalogue,
}

impl Triage {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a rule contradicts itself, or has no known source or
    /// text.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let texts = texts::catalogue()?;
        let rules = Rules::builtin(register, &texts)?;
        let countries = Countries::builtin(register, &texts)?;
        Ok(Self { rules, countries, texts })
    }

    /// The same in a studio's form of address.
    #[must_use]
    pub fn speaking(mut self, address: Address) -> Self {
        self.texts.speak(address);
        self
    }

    /// The texts of aftercare.
    #[must_use]
    pub fn texts(&self) -> &Catalogue {
        &self.texts
    }

    /// What to ask on a day after a treatment, gravest first.
    #[must_use]
    pub fn questions(&self, treatment: Treatment, day: i32) -> Vec<Question> {
        self.rules
            .question
            .iter()
            .filter(|row| row.treatments.is_empty() || row.treatments.contains(&treatment))
            .filter(|row| row.from_day <= day)
            .map(Question::of)
            .collect()
    }

    /// What somebody takes or wears, as far as kept answers say: however old a yes is, it
    /// counts. A no is not told here; it is asked anew.
    #[must_use]
    pub fn kept(&self, answers: &Answers) -> Vec<Symptom> {
        let kept = self.rules.kept.iter().filter(|row| row.speaks(answers));
        kept.map(|row| row.symptom).collect()
    }

    /// Whether a symptom tells of what only a doctor's word ends: an allergy, lumps,
    /// a growing scar.
    #[must_use]
    pub fn lasts(&self, symptom: Symptom) -> bool {
        self.rules.is_lasting(symptom)
    }

    /// Judges a report.
    ///
    /// # Errors
    /// Every [`ReportError`] of the report at once.
    pub fn judge(&self, report: &Report) -> Result<Answer, Vec<ReportError>> {
        judge::judge(self, report)
    }
}
