//! Symptom reports that are kept with the treatment they are about.
//!
//! They are judged like those that are not kept; treatment, session and zone
//! come from the record, so nobody can tell them wrongly.

use etui_schema::problem::FaultCode;
use etui_schema::symptom_reports::{
    KeptSymptomReport, KeptSymptomReportRequest, SymptomReportRequest,
};
use etui_schema::vocabulary::aftercare::Level;
use etui_schema::vocabulary::{Instant, Language, Reference};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::history::{self, Entry};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::{Planned, to_json};
use super::sealed::Trace;
use super::vault::{self, Subject};
use super::{Studio, clients, symptom_reports};
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

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }
}

impl Entry for ReportTrace {
    const BY_TREATMENT: Space = Space::new("symptom-reports-by-treatment");
    type Answer = KeptSymptomReport;

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
        zone: Some(client.and_then(|client| client.zone).unwrap_or(record.zone)),
        symptoms: symptoms.clone(),
        temperature_c,
        skin: None, // the level never depends on it
        country,
        contacts,
    };
    let judgement = symptom_reports::judge(&studio.craft.triage, &told, language)?;
    let escalates = cannot_wait(judgement.level);
    let id = moment.id()?;
    let kept =
        KeptSymptomReport { id, treatment_id, reported_at, symptoms, temperature_c, judgement };
    let trace = ReportTrace { client_ref: record.client_ref, treatment_id, at: reported_at };
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let made = (request, to_json(&kept)?);
    let batch = if escalates { escalated(moment, &trace)? } else { Batch::new() };
    history::add(batch, access, moment, (id, trace), made, ("symptom_report.keep", 1))
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
