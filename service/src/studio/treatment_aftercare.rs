//! The aftercare of a recorded treatment, as a plan and as a calendar.

use etui_craft::aftercare::Plan;
use etui_craft::aftercare::calendar::Event;
use etui_craft::aftercare::entries::Entries;
use etui_schema::aftercare_plans::AftercarePlan;
use etui_schema::clients::ClientRecord;
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::Language;
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::{Studio, aftercare_plans, clients, history, reminders};

/// A treatment with what is known of its client, and its plan.
struct Course {
    record: TreatmentRecord,
    client: Option<ClientRecord>,
    plan: Plan,
}

async fn course(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<Course, Error> {
    let record = history::record(studio, snap, id).await?;
    let client = clients::find(studio, snap, &record.client_ref).await?;
    let client = reminders::known_of(studio, snap, &record, client.as_ref()).await?;
    let mut plan = reminders::plan_of(studio, snap, &record, client.as_ref()).await?;
    // Messages were written down with the treatment; a pack of today adds none to it.
    if plan.steps.iter().any(|step| step.message && step.pack.is_some()) {
        let said = reminders::said_today(studio, snap, id).await?;
        for step in plan.steps.iter_mut().filter(|step| step.pack.is_some()) {
            step.message &= said.contains(&*step.key);
        }
    }
    Ok(Course { record, client, plan })
}

/// The plan, from what is known of the client today.
///
/// # Errors
/// [`Error::NotFound`] if there is no such treatment or its client was erased.
pub async fn plan(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    language: Language,
) -> Result<AftercarePlan, Error> {
    let Course { record, client, plan } = course(studio, snap, id).await?;
    let zone = client.and_then(|client| client.zone).unwrap_or(record.zone);
    let session = (record.treatment, record.performed_at, zone);
    Ok(aftercare_plans::answer(&studio.craft.plans, plan, session, language))
}

/// The same as iCalendar.
///
/// # Errors
/// As for [`plan`].
pub async fn calendar(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    language: Language,
    detail: bool,
) -> Result<String, Error> {
    let events = events(studio, snap, id, language, detail).await?;
    Ok(Entries::calendar(&studio.craft.plans, language, detail, events).write())
}

/// Its entries. Those that lie after a later session of the same treatment are
/// cancelled. Their UIDs are made of the ids that reminders have.
///
/// # Errors
/// As for [`plan`].
pub async fn events(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    language: Language,
    detail: bool,
) -> Result<Vec<Event>, Error> {
    let Course { record, client: _, plan } = course(studio, snap, id).await?;
    let replaced = reminders::replaced_at(studio, snap, &record).await?;
    let (moves, moved_at) = reminders::moves(studio, snap, &record).await?;
    let stamp = moved_at.map_or(record.recorded_at, |at| at.max(record.recorded_at));
    let entries =
        Entries { stamp: stamp.0, moves, replaced_at: replaced.map(|at| at.0), language, detail };
    let uid = |key: &str| format!("{}@etui", reminders::id_of(studio, record.id, key));
    Ok(entries.events(&studio.craft.plans, &plan, uid))
}
