//! Symptom reports that are kept with the treatment they are about.
//!
//! They are judged like those that are not kept; treatment, session and zone
//! come from the record, so nobody can tell them wrongly. What she takes or wears is
//! kept with the client, or was told for the check, and counts as told.
//!
//! Her reports are heard together: what was told an hour ago is not gone because the next
//! report does not say it again, nor because it was told of other work of hers.
//!
//! A report of level `doctor` or above is an alarm: others are told that there is
//! one. While it, or one that the artist has to see, stands open, the friendly
//! messages of the treatment wait, until a person has settled it.

use etui_craft::aftercare::triage::{Earlier, Work};
use etui_craft::refusal::Refusal;
use etui_schema::events::EventType;
use etui_schema::open::Open;
use etui_schema::problem::FaultCode;
use etui_schema::symptom_reports::{
    KeptSymptomReport, KeptSymptomReportRequest, Settlement, SettlementRequest,
    SymptomReportRequest,
};
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::aftercare::Level;
use etui_schema::vocabulary::{Instant, Language};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::entries::{self, Added, Entry, EntryKind};
use super::error::{Error, readable};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::paging::broken;
use super::plan::Planned;
use super::triage::Known;
use super::{Studio, branches, clients, history, reminders, triage};
use crate::store::key::KeyWriter;
use crate::store::verify::Indexed;
use crate::store::{Batch, Read, Space};

/// Most other treatments of one client that are looked at.
const MOST_TREATMENTS: usize = 32;

/// Of a report nothing stays but that there was one.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Own {}

impl EntryKind for Own {
    const SPACE: Space = Space::new("symptom-reports");
    const INDEXES: &'static [Indexed] =
        &[Indexed::Whole(Space::new("symptom-reports-by-treatment"))];
    const WHAT: &'static str = "symptom report";
    type Input = KeptSymptomReportRequest;
    type Answer = KeptSymptomReport;

    /// Each with its settlement.
    async fn joined(
        studio: &Studio,
        snap: &mut Snap,
        report: KeptSymptomReport,
    ) -> Result<KeptSymptomReport, Error> {
        let settled = settlement(studio, snap, (report.treatment_id, report.id)).await?;
        Ok(KeptSymptomReport { settled, ..report })
    }
}

impl Added for Own {
    /// Plans to keep a report, with how urgent it is.
    ///
    /// # Errors
    /// [`Error::Refused`] names every value that was refused: a symptom told
    /// twice, a moment before the session or in the future.
    async fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        language: Language,
        treatment_id: Uuid,
        request: &KeptSymptomReportRequest,
    ) -> Result<Planned, Error> {
        let record = history::record(studio, snap, treatment_id).await?;
        let here = branches::at(studio, snap, record.branch_ref.as_ref()).await?;
        let studio = &*here;
        let client = clients::find(studio, snap, &record.client_ref).await?;
        let KeptSymptomReportRequest { reported_at, symptoms, temperature_c, country, contacts } =
            request.clone();
        let reported_at = reported_at.unwrap_or(Instant(moment.now));
        if moment.now < reported_at.0 {
            let why = "the report lies in the future";
            return Err(
                Error::at("#/reported_at", FaultCode::OutOfRange, why).means(Refusal::InFuture)
            );
        }
        let told = SymptomReportRequest {
            treatment: record.treatment,
            performed_at: record.performed_at,
            reported_at,
            zone: Some(
                client
                    .as_ref()
                    .and_then(|client| client.zone.clone())
                    .unwrap_or_else(|| record.zone.clone()),
            ),
            symptoms: symptoms.clone(),
            temperature_c,
            skin: None, // the level never depends on it
            country: country.or_else(|| studio.country.map(|country| country.to_string())),
            contacts: match &studio.here {
                Some(branch) => branch.contacts(contacts),
                None => contacts,
            },
        };
        let rules = &studio.craft.triage;
        // Of the check before it as well: what she takes is seldom told twice.
        let known = reminders::known_of(studio, snap, &record, client.as_ref()).await?;
        let kept = known.map(|known| rules.kept(&known.answers)).unwrap_or_default();
        let known = Known { kept, ..of_her(studio, snap, &record).await? };
        let judgement = triage::judge(rules, &told, known, language)?;
        let judged = judgement.level.clone();
        let escalates = cannot_wait(&judged);
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
        let entry = Entry::of(&record, reported_at, Own {});
        let access = entry.access(studio, snap, moment).await?;
        let mut batch = Batch::new();
        if escalates {
            // Others are told that there is such a report, and neither what it says nor how urgent it is.
            let client_ref = record.client_ref.clone();
            let happened =
                Happened::treatment(EventType::SymptomEscalated, treatment_id, client_ref);
            batch = outbox::add(batch, moment, happened)?;
        }
        if is_unusual(&judged) {
            batch = reminders::pause(studio, snap, batch, &record).await?;
        }
        let (with, made) = ((studio, moment, access), (request, &kept));
        entry.add(batch, with, id, made, ("symptom_report.keep", 1))
    }
}

/// Her other sessions, the latest, and all that was told of them and of this one. What counts beside
/// a report, `craft::aftercare::triage` says.
async fn of_her(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Known, Error> {
    let mut all = reminders::sessions(studio, snap, record).await?;
    all.truncate(MOST_TREATMENTS);
    let (treatment, at, id) = (record.treatment, record.performed_at, record.id);
    all.push(reminders::Session { treatment, at, id, is_struck: false });
    let mut known = Known::default();
    for reminders::Session { treatment, at, id, is_struck } in all {
        let of = Work { treatment, performed_at: at.0 };
        // Days are counted from no session that was not; what was told under it is heard.
        known.works.extend((!is_struck).then_some(of));
        // Who reports now is heard, whatever of before cannot be opened any more.
        let told = readable(entries::all::<Own>(studio, snap, id).await)?.unwrap_or_default();
        known.earlier.extend(told.iter().map(|before| Earlier {
            at: before.reported_at.0,
            of,
            level: level_of(before),
            is_own: is_own(before),
            is_settled: before.settled.is_some(),
            symptoms: triage::told(&before.symptoms),
            temperature_c: before.temperature_c,
        }));
    }
    Ok(known)
}

/// How urgent a report was: nothing is graver than what is not known.
pub(super) fn level_of(report: &KeptSymptomReport) -> Level {
    report.judgement.level.known().unwrap_or(Level::Emergency)
}

/// Whether how urgent a report was came of what it told: one that is not known may have.
fn is_own(report: &KeptSymptomReport) -> bool {
    let Some(level) = report.judgement.level.known() else { return true };
    let is_told = |symptom| report.symptoms.iter().any(|told| told.kind == symptom);
    let mut gravest = report.judgement.findings.iter().filter(|one| one.level == level);
    gravest.any(|one| one.symptoms.iter().any(|told| is_told(*told)))
}

/// What stays of a report's being settled.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Settled {
    /// The report.
    pub report_id: Uuid,
}

impl EntryKind for Settled {
    const SPACE: Space = Space::new("settlements");
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(Space::new("settlements-by-treatment"))];
    const WHAT: &'static str = "settlement";
    type Input = SettlementRequest;
    type Answer = Settlement;
    // It stands in its report.
    const IS_READ_ALONE: bool = false;

    fn place(entry: &Entry<Self>, _: Uuid, treatment: KeyWriter) -> KeyWriter {
        // Of one report there is one settlement.
        treatment.uuid(entry.own.report_id)
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
    let reports = entries::all::<Own>(studio, snap, treatment_id).await?;
    let what = Own::WHAT;
    let report = reports
        .into_iter()
        .find(|report| report.id == report_id)
        .ok_or_else(|| Error::NotFound { what, id: report_id.to_string() })?;
    if report.settled.is_some() {
        return Err(Error::conflict("the report is settled already").means(Refusal::ReportSettled));
    }
    let SettlementRequest { settled_by, note } = request.clone();
    let (id, settled_at) = (moment.id()?, Instant(moment.now));
    let settled = Settlement { id, treatment_id, report_id, settled_at, settled_by, note };
    let entry = Entry::of(&record, settled_at, Settled { report_id });
    let access = entry.access(studio, snap, moment).await?;
    let going = (&record, report_id);
    let batch = reminders::go_on(studio, snap, moment, Batch::new(), going).await?;
    let (with, made) = ((studio, moment, access), (request, &settled));
    entry.add(batch, with, id, made, ("symptom_report.settle", 1))
}

/// The settlement of one report alone: what became of another's changes nothing here.
async fn settlement(
    studio: &Studio,
    snap: &mut Snap,
    (treatment_id, report_id): (Uuid, Uuid),
) -> Result<Option<Settlement>, Error> {
    let at = KeyWriter::new().uuid(treatment_id).uuid(report_id).finish();
    let Some(held) = snap.get(Settled::INDEXES[0].space(), &at).await? else { return Ok(None) };
    let held = Uuid::from_slice(&held).map_err(|_| broken(Settled::INDEXES[0].space()))?;
    entries::one::<Settled>(studio, snap, (treatment_id, held)).await.map(Some)
}

/// The reports of a treatment that somebody has to look into, the artist or a
/// doctor, and that nobody has settled.
///
/// # Errors
/// What the store met.
pub async fn open_alarms(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<KeptSymptomReport>, Error> {
    // Of an erased client nothing is known, and nobody is written to.
    let mut reports =
        readable(entries::all::<Own>(studio, snap, treatment_id).await)?.unwrap_or_default();
    reports.retain(|report| report.settled.is_none() && is_unusual(&report.judgement.level));
    Ok(reports)
}

/// Whether somebody has to look: no message says that all is as it should be.
fn is_unusual(level: &Open<Level>) -> bool {
    *level != Level::Expected
}

/// Whether somebody beyond the studio has to look.
fn cannot_wait(level: &Open<Level>) -> bool {
    level.known().is_none_or(|level| match level {
        Level::Emergency | Level::SameDay | Level::Doctor => true,
        Level::Artist | Level::Expected => false,
    })
}
