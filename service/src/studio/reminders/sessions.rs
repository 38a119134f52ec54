//! The sessions of a treatment: of all of them only the last has reminders ahead.

use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Instant, Treatment};
use uuid::Uuid;

use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::entries::{self, Entry};
use crate::studio::error::{Error, readable};
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{amendments, sealed};

/// Most treatments of one client that are looked at.
pub(super) const MOST_TREATMENTS: usize = 256;

/// The client's other sessions, of whatever treatment, the latest first, as far as they were not
/// erased.
///
/// # Errors
/// What the store met.
pub async fn sessions(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<(Treatment, Instant, Uuid)>, Error> {
    let client_ref = &record.client_ref;
    let ids = treatments::latest_of_client(studio, snap, client_ref, MOST_TREATMENTS).await?;
    let mut sessions = Vec::new();
    for stored in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        let Some(stored) = readable(stored)?.filter(|stored| stored.id != record.id) else {
            continue;
        };
        // One that was erased has no aftercare any more, whoever came back under the reference.
        if readable(stored.said(studio, snap).await)?.is_some() {
            sessions.push((stored.trace.treatment, stored.trace.performed_at, stored.id));
        }
    }
    Ok(sessions)
}

/// Of these those of the same treatment.
pub(super) async fn of_same(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<(Instant, Uuid)>, Error> {
    let all = sessions(studio, snap, record).await?.into_iter();
    let same = all.filter(|(treatment, ..)| *treatment == record.treatment);
    Ok(same.map(|(_, at, id)| (at, id)).collect())
}

/// All sessions of a treatment, this one the last.
///
/// # Errors
/// What the store met.
pub async fn course(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<Uuid>, Error> {
    let others = of_same(studio, snap, record).await?.into_iter().map(|(_, id)| id);
    Ok(others.chain([record.id]).collect())
}

/// How often the dates of a client's sessions of one treatment were put right,
/// and when last: calendars count their entries' changes by it.
///
/// # Errors
/// What the store met.
pub async fn moves(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<(u32, Option<Instant>), Error> {
    let mut all = (0, None);
    for id in course(studio, snap, record).await? {
        let ids = entries::ids::<amendments::Own>(snap, id).await?;
        for stored in sealed::load_many::<Entry<amendments::Own>>(snap, &ids).await? {
            let trace = readable(stored)?.map(|stored| stored.trace);
            if let Some(trace) = trace.filter(|trace| trace.own.moved) {
                all = (all.0 + 1, all.1.max(Some(trace.at)));
            }
        }
    }
    Ok(all)
}

/// When a later session of the same treatment took the place of this one.
///
/// # Errors
/// What the store met.
pub async fn replaced_at(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Option<Instant>, Error> {
    let sessions = of_same(studio, snap, record).await?;
    Ok(sessions.into_iter().map(|(at, _)| at).filter(|at| record.performed_at < *at).min())
}
