//! Symptom reports: what a client tells, and how urgent it is.

use crate::describe::JsonSchema;
use crate::kinds::{asked, sent, sparing, told};
use garde::Validate;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::aftercare_plans::Assumed;
use crate::open::Open;
use crate::service::Basis;
use crate::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use crate::vocabulary::{Instant, Skin, Treatment, Zone};
use crate::written::{COUNTRY, NAMED};

/// What a client tells.
#[sparing]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct SymptomReportRequest {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session.
    pub performed_at: Instant,
    /// When it is told; not before the session.
    pub reported_at: Instant,
    /// The client's zone, in which days are counted; UTC if absent.
    pub zone: Option<Zone>,
    /// What is told; each symptom once, as it is now.
    #[garde(length(max = 120), dive)]
    pub symptoms: Vec<ToldSymptom>,
    /// Measured temperature in °C, 30 to 45.
    #[garde(range(min = 30.0, max = 45.0))]
    pub temperature_c: Option<f64>,
    /// What is known of the skin. It is taken so that a stored profile can be
    /// sent along; the level never depends on it.
    #[garde(dive)]
    pub skin: Option<Skin>,
    /// Country in two letters (ISO 3166-1), for the numbers to call; the studio's
    /// if absent.
    #[garde(length(chars, min = 2, max = 2), pattern(COUNTRY))]
    pub country: Option<String>,
    /// The studio's own words for whom to call; they go before the country's, but
    /// for the number of an ambulance, which always stands.
    #[garde(dive)]
    pub contacts: Option<Contacts>,
}

/// What the client of a recorded treatment tells. Treatment, session and zone
/// are taken from the record.
#[sparing]
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema, Validate)]
#[serde(deny_unknown_fields)]
#[garde(allow_unvalidated)]
pub struct KeptSymptomReportRequest {
    /// When it was told; now if absent.
    pub reported_at: Option<Instant>,
    /// What is told; each symptom once, as it is now.
    #[garde(length(max = 120), dive)]
    pub symptoms: Vec<ToldSymptom>,
    /// Measured temperature in °C, 30 to 45.
    #[garde(range(min = 30.0, max = 45.0))]
    pub temperature_c: Option<f64>,
    /// Country in two letters (ISO 3166-1), for the numbers to call.
    #[garde(length(chars, min = 2, max = 2), pattern(COUNTRY))]
    pub country: Option<String>,
    /// The studio's own words for whom to call; they go before the country's, but
    /// for the number of an ambulance, which always stands.
    #[garde(dive)]
    pub contacts: Option<Contacts>,
}

/// A report that was kept with its treatment.
#[told]
pub struct KeptSymptomReport {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was told.
    pub reported_at: Instant,
    /// What was told.
    pub symptoms: Vec<ToldSymptom>,
    /// Measured temperature in °C.
    pub temperature_c: Option<f64>,
    /// How urgent it is, and what to do.
    pub judgement: SymptomReport,
    /// Who looked into it and closed it; absent while it is open. An open report
    /// of `artist` or more pauses the friendly messages of this treatment.
    pub settled: Option<Settlement>,
}

/// Closes a report: somebody has looked into it.
#[sent(Eq)]
pub struct SettlementRequest {
    /// The name of whoever looked into it.
    #[garde(length(chars, min = 1, max = 120), pattern(NAMED))]
    pub settled_by: String,
    /// What came of it, in words.
    #[garde(length(chars, min = 1, max = 1000))]
    pub note: Option<String>,
}

/// That somebody has looked into a report.
#[told(Eq)]
pub struct Settlement {
    /// Its id.
    pub id: Uuid,
    /// The treatment.
    pub treatment_id: Uuid,
    /// The report.
    pub report_id: Uuid,
    /// When it was closed.
    pub settled_at: Instant,
    /// The name of whoever looked into it.
    pub settled_by: String,
    /// What came of it, in words.
    pub note: Option<String>,
}

/// One symptom as told.
#[sent(Copy, Eq, free)]
pub struct ToldSymptom {
    /// What it is.
    pub kind: Symptom,
    /// How strong. If absent, `moderate` is taken (`severe` where pain or swelling
    /// at the eye is told), the level stays at most one below that of the gravest,
    /// and `ask` asks for it.
    pub severity: Option<Severity>,
    /// Where it is going since the day before. If absent, `same` is taken, the
    /// level stays at most one below that of `worse`, and `ask` asks for it.
    pub trend: Option<Trend>,
    /// Day on which it began, counted from the session (day 0).
    #[garde(range(min = 0, max = 40_000))]
    pub began_on_day: Option<i32>,
}

/// Words for whom to call, each at most 60 characters.
#[sent(Eq, Default)]
pub struct Contacts {
    /// In an emergency; they stand beside the country's number, never in its place.
    #[garde(length(chars, min = 1, max = 60))]
    pub emergency: Option<String>,
    /// On the same day.
    #[garde(length(chars, min = 1, max = 60))]
    pub same_day: Option<String>,
    /// Within days.
    #[garde(length(chars, min = 1, max = 60))]
    pub doctor: Option<String>,
    /// The artist or the studio.
    #[garde(length(chars, min = 1, max = 60))]
    pub artist: Option<String>,
}

/// How urgent a report is, and what to do.
#[told]
pub struct SymptomReport {
    /// How urgent.
    pub level: Open<Level>,
    /// Day of the report, counted from the session (day 0).
    pub day: i32,
    /// What to do now, most urgent first.
    pub do_now: Vec<String>,
    /// Whom to call; absent if nobody needs to be called.
    pub call: Option<String>,
    /// When to report again, in words.
    pub report_again: String,
    /// The instant of it; absent where nothing needs to be reported.
    pub report_again_by: Option<Instant>,
    /// What is still to be asked: everything where no complaint was told, else
    /// how strong it is, and what else would raise the level.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ask: Vec<SymptomQuestion>,
    /// Why, gravest first.
    pub findings: Vec<SymptomFinding>,
    /// What to bear in mind.
    pub cautions: Vec<String>,
    /// What was not told, and what was taken instead.
    pub assumed: Vec<Assumed>,
    /// Revision of the rules.
    pub revision: u32,
}

/// One reason for a level.
#[told]
pub struct SymptomFinding {
    /// Key of the rule.
    pub rule: String,
    /// The level it gives.
    pub level: Open<Level>,
    /// The symptoms it speaks of; empty if it is the temperature.
    pub symptoms: Vec<Symptom>,
    /// Why.
    pub because: String,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// What to ask, and when.
#[asked(Eq)]
pub struct SymptomQuestionsQuery {
    /// What was treated.
    pub treatment: Treatment,
    /// Day after the session (day 0); 0 if absent.
    #[schemars(range(min = 0, max = 40_000))]
    pub day: Option<u16>,
}

/// A plain question and the symptoms it stands for.
#[told(Eq)]
pub struct SymptomQuestion {
    /// Stable key.
    pub key: String,
    /// The question.
    pub text: String,
    /// The symptoms a yes may mean.
    pub symptoms: Vec<Symptom>,
}

/// What to ask, what cannot wait first.
#[told(Eq)]
pub struct SymptomQuestions {
    /// What was treated.
    pub treatment: Treatment,
    /// Day after the session.
    pub day: u16,
    /// The questions.
    pub questions: Vec<SymptomQuestion>,
}
