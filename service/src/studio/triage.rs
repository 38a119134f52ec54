//! Judging what a client tells, and what to ask.

use etui_craft::aftercare::say::Say;
use etui_craft::aftercare::triage::{
    Answer, Contacts, Earlier, Finding, Question, Report, ReportError, Told, Triage, Work,
};
use etui_schema::aftercare_plans::Assumed;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::symptom_reports as wire;
use etui_schema::vocabulary::aftercare::Symptom;
use etui_schema::vocabulary::{Instant, Language, Zone};

use super::error::Error;

/// What is known of her beside a report.
#[derive(Default)]
pub struct Known {
    /// What she takes or wears; it counts as told.
    pub kept: Vec<Symptom>,
    /// Her other reports.
    pub earlier: Vec<Earlier>,
    /// Her other sessions.
    pub works: Vec<Work>,
}

/// Judges a report.
///
/// # Errors
/// [`Error::Refused`] with every fault of the report.
pub fn judge(
    triage: &Triage,
    request: &wire::SymptomReportRequest,
    known: Known,
    language: Language,
) -> Result<wire::SymptomReport, Error> {
    let answer = triage.judge(&of_wire(request, known)).map_err(|faults| refused(&faults))?;
    let text = |say: &Say| say.in_language(triage.texts(), language);
    let Answer {
        revision,
        level,
        day,
        now,
        call,
        report_again,
        report_again_by,
        ask,
        findings,
        cautions,
        assumed,
    } = answer;
    let finding = |finding: Finding| {
        let Finding { rule, level, symptoms, because, basis } = finding;
        wire::SymptomFinding {
            rule: rule.to_string(),
            level: level.into(),
            symptoms,
            because: text(&because),
            basis,
        }
    };
    let taken =
        |(pointer, say): (&str, Say)| Assumed { pointer: format!("#{pointer}"), text: text(&say) };
    Ok(wire::SymptomReport {
        level: level.into(),
        day,
        do_now: now.iter().map(text).collect(),
        call: call.as_ref().map(text),
        report_again: text(&report_again),
        report_again_by: report_again_by.map(Instant),
        ask: ask.into_iter().map(|question| asked(triage, question, language)).collect(),
        findings: findings.into_iter().map(finding).collect(),
        cautions: cautions.iter().map(text).collect(),
        assumed: assumed.into_iter().map(taken).collect(),
        revision,
    })
}

/// What to ask on a day.
#[must_use]
pub fn questions(
    triage: &Triage,
    query: &wire::SymptomQuestionsQuery,
    language: Language,
) -> wire::SymptomQuestions {
    let wire::SymptomQuestionsQuery { treatment, day } = query;
    let day = day.unwrap_or(0);
    let question = |question| asked(triage, question, language);
    wire::SymptomQuestions {
        treatment: *treatment,
        day,
        questions: triage.questions(*treatment, day.into()).into_iter().map(question).collect(),
    }
}

fn asked(triage: &Triage, question: Question, language: Language) -> wire::SymptomQuestion {
    let Question { key, say, symptoms } = question;
    let text = say.in_language(triage.texts(), language);
    wire::SymptomQuestion { key: key.to_string(), text, symptoms }
}

/// Complaints as they were told.
pub fn told(symptoms: &[wire::ToldSymptom]) -> Vec<Told> {
    let told = |told: &wire::ToldSymptom| {
        let wire::ToldSymptom { kind, severity, trend, began_on_day } = *told;
        Told { symptom: kind, severity, trend, began_on_day }
    };
    symptoms.iter().map(told).collect()
}

fn of_wire(request: &wire::SymptomReportRequest, known: Known) -> Report {
    let Known { kept, earlier, works } = known;
    let wire::SymptomReportRequest {
        treatment,
        performed_at,
        reported_at,
        zone,
        symptoms,
        temperature_c,
        skin: _, // the level never depends on it
        country,
        contacts,
    } = request;
    let contacts = contacts.clone().unwrap_or_default();
    let wire::Contacts { emergency, same_day, doctor, artist } = contacts;
    Report {
        treatment: *treatment,
        performed_at: performed_at.0,
        reported_at: reported_at.0,
        zone: zone.as_ref().map(Zone::rules).cloned(),
        symptoms: told(symptoms),
        kept,
        temperature_c: *temperature_c,
        country: country.as_deref().map(Into::into),
        contacts: Contacts {
            emergency: emergency.map(Into::into),
            same_day: same_day.map(Into::into),
            doctor: doctor.map(Into::into),
            artist: artist.map(Into::into),
        },
        earlier,
        works,
        old: Vec::new(),
    }
}

fn refused(faults: &[ReportError]) -> Error {
    let fault = |error: &ReportError| {
        let code = match error {
            ReportError::BeforeTreatment { .. }
            | ReportError::Temperature { .. }
            | ReportError::Began { .. } => FaultCode::OutOfRange,
            ReportError::Twice { .. } => FaultCode::Duplicate,
        };
        Fault::new(format!("#{}", error.pointer()), code, error.to_string())
    };
    Error::Refused(faults.iter().map(fault).collect())
}
