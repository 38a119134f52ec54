//! Symptom reports that are kept with the treatment they are about.
//!
//! They are judged like those that are not kept; treatment, session and zone
//! come from the record, so nobody can tell them wrongly.
//!
//! A report of level `doctor` or above is an alarm: it stands open, and the
//! friendly messages of the treatment wait, until a person has settled it.

use etui_schema::problem::FaultCode;
use etui_schema::symptom_reports::{
    KeptSymptomReport, KeptSymptomReportRequest, Settlement, SettlementRequest,
    SymptomReportRequest,
};
use etui_schema::vocabulary::aftercare::Level;
use etui_schema::vocabulary::{Instant, Language, Reference};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::error::{Error, readable};
use super::history::{self, Entry};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Planned, to_json};
use super::sealed::Trace;
use super::vault::{self, Subject};
use super::{Studio, clients, reminders, symptom_reports};
use crate::store::key::KeyWriter;
use crate::store::{Batch, Bytes, Space};

/// What stays of a report.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct ReportTrace {
    /// The client's reference.
    pub client_ref: Reference,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was told.
    pub at: Instant,
}

impl Trace for ReportTrace {
    const SPACE: Space = Space::new("symptom-reports");
    const WHAT: &'static str = "symptom report";
    type Input = KeptSymptomReportRequest;
    type Answer = KeptSymptomReport;

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }
}

impl Entry for ReportTrace {
    const BY_TREATMENT: Space = Space::new("symptom-reports-by-treatment");

    fn treatment_id(&self) -> Uuid {
        self.treatment_id
    }

    fn row(&self, id: Uuid) -> Bytes {
        KeyWriter::new().uuid(self.treatment_id).instant(self.at.0).uuid(id).finish()
    }
}

/// Plans to keep a report, with how urgent it is.
///
/// # Errors
/// [`Error::Refused`] names every value that was refused: a symptom told
/// twice, a moment before the session or in the future.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    treatment_id: Uuid,
    request: &KeptSymptomReportRequest,
) -> Result<Planned, Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let client = clients::find(studio, snap, &record.client_ref).await?;
    let KeptSymptomReportRequest { reported_at, symptoms, temperature_c, country, contacts } =
        request.clone();
    let reported_at = reported_at.unwrap_or(Instant(moment.now));
    if moment.now < reported_at.0 {
        let why = "the report lies in the future";
        return Err(Error::at("#/reported_at", FaultCode::OutOfRange, why));
    }
    let told = SymptomReportRequest {
        treatment: record.treatment,
        performed_at: record.performed_at,
        reported_at,
        zone: Some(client.and_then(|client| client.zone).unwrap_or_else(|| record.zone.clone())),
        symptoms: symptoms.clone(),
        temperature_c,
        skin: None, // the level never depends on it
        country: country.or_else(|| studio.country.map(|country| country.to_string())),
        contacts,
    };
    let judgement = symptom_reports::judge(&studio.craft.triage, &told, language)?;
    let escalates = cannot_wait(judgement.level);
    let id = moment.id()?;
    let settled = None;
    let kept = KeptSymptomReport {
        id,
        treatment_id,
        reported_at,
        symptoms,
        temperature_c,
        judgement,
        settled,
    };
    let client_ref = record.client_ref.clone();
    let trace = ReportTrace { client_ref, treatment_id, at: reported_at };
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let made = (request, to_json(&kept)?);
    let batch = if escalates {
        reminders::pause(studio, snap, escalated(moment, &trace)?, &record).await?
    } else {
        Batch::new()
    };
    let keys = (&*studio.keyring, access);
    history::add(batch, keys, moment, (id, trace), made, ("symptom_report.keep", 1))
}

/// What stays of a report's being settled.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SettlementTrace {
    /// The client's reference.
    pub client_ref: Reference,
    /// The treatment.
    pub treatment_id: Uuid,
    /// The report.
    pub report_id: Uuid,
    /// When it was settled.
    pub at: Instant,
}

impl Trace for SettlementTrace {
    const SPACE: Space = Space::new("settlements");
    const WHAT: &'static str = "settlement";
    type Input = SettlementRequest;
    type Answer = Settlement;

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }
}

impl Entry for SettlementTrace {
    const BY_TREATMENT: Space = Space::new("settlements-by-treatment");

    fn treatment_id(&self) -> Uuid {
        self.treatment_id
    }

    fn row(&self, _: Uuid) -> Bytes {
        // Of one report there is one settlement.
        KeyWriter::new().uuid(self.treatment_id).uuid(self.report_id).finish()
    }
}

/// Plans to settle a report: a person has looked into it, and the messages that
/// were paused for it go on.
///
/// # Errors
/// [`Error::NotFound`] if the treatment has no such report, [`Error::Conflict`]
/// if it is settled already.
pub async fn settle(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (treatment_id, report_id): (Uuid, Uuid),
    request: &SettlementRequest,
) -> Result<Planned, Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let reports = all(studio, snap, treatment_id).await?;
    let what = ReportTrace::WHAT;
    let report = reports
        .into_iter()
        .find(|report| report.id == report_id)
        .ok_or_else(|| Error::NotFound { what, id: report_id.to_string() })?;
    if report.settled.is_some() {
        return Err(Error::Conflict("the report is settled already".to_owned()));
    }
    let SettlementRequest { settled_by, note } = request.clone();
    let (id, settled_at) = (moment.id()?, Instant(moment.now));
    let settled = Settlement { id, treatment_id, report_id, settled_at, settled_by, note };
    let client_ref = record.client_ref.clone();
    let trace = SettlementTrace { client_ref, treatment_id, report_id, at: settled_at };
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let going = (&record, report_id);
    let batch = reminders::go_on(studio, snap, moment, Batch::new(), going).await?;
    let made = (request, to_json(&settled)?);
    let keys = (&*studio.keyring, access);
    history::add(batch, keys, moment, (id, trace), made, ("symptom_report.settle", 1))
}

/// The reports of a treatment, each with its settlement.
///
/// # Errors
/// [`Error::NotFound`] if the client was erased; what the store met.
pub async fn all(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<KeptSymptomReport>, Error> {
    let mut reports = history::all::<ReportTrace>(studio, snap, treatment_id).await?;
    if reports.is_empty() {
        return Ok(reports);
    }
    let settled = history::all::<SettlementTrace>(studio, snap, treatment_id).await?;
    for report in &mut reports {
        report.settled = settled.iter().find(|one| one.report_id == report.id).cloned();
    }
    Ok(reports)
}

/// The reports of a treatment that say to see a doctor, or more, and that nobody
/// has settled.
///
/// # Errors
/// What the store met.
pub async fn open_alarms(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<KeptSymptomReport>, Error> {
    // Of an erased client nothing is known, and nobody is written to.
    let mut reports = readable(all(studio, snap, treatment_id).await)?.unwrap_or_default();
    reports.retain(|report| report.settled.is_none() && cannot_wait(report.judgement.level));
    Ok(reports)
}

/// Whether somebody beyond the studio has to look.
fn cannot_wait(level: Level) -> bool {
    match level {
        Level::Emergency | Level::SameDay | Level::Doctor => true,
        Level::Artist | Level::Expected => false,
    }
}

/// Others are told that there is such a report, and neither what it says nor
/// how urgent it is.
fn escalated(moment: &Moment, trace: &ReportTrace) -> Result<Batch, Error> {
    let ReportTrace { client_ref, treatment_id, at: _ } = trace.clone();
    outbox::add(Batch::new(), moment, Happened::SymptomEscalated { treatment_id, client_ref })
}
