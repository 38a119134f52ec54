//! The sessions of a treatment: of all of them only the last has reminders ahead.

use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Instant, Treatment};
use jiff::Timestamp;
use uuid::Uuid;

use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::entries::{self, Entry};
use crate::studio::error::{Error, readable};
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{amendments, history, sealed};

/// Most treatments of one client that are looked at.
pub(super) const MOST_TREATMENTS: usize = 256;

/// A session of a client.
#[derive(Debug, Clone, Copy)]
pub struct Session {
    /// What was treated.
    pub treatment: Treatment,
    /// When it ended.
    pub at: Instant,
    /// Its id.
    pub id: Uuid,
    /// Whether its record was struck: what was done was done on nobody, or stands on another.
    pub is_struck: bool,
}

/// The client's other sessions, of whatever treatment, the latest first, as far as they were not
/// erased.
///
/// # Errors
/// What the store met.
pub async fn sessions(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<Session>, Error> {
    let client_ref = &record.client_ref;
    let ids = treatments::latest_of_client(studio, snap, client_ref, MOST_TREATMENTS).await?;
    let mut sessions = Vec::new();
    for stored in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        let Some(stored) = readable(stored)?.filter(|stored| stored.id != record.id) else {
            continue;
        };
        // One that was erased has no aftercare any more, whoever came back under the reference.
        if readable(stored.said(studio, snap).await)?.is_some() {
            let TreatmentTrace { treatment, performed_at: at, .. } = stored.trace;
            let is_struck = history::is_struck_by_trace(snap, &stored).await?;
            sessions.push(Session { treatment, at, id: stored.id, is_struck });
        }
    }
    Ok(sessions)
}

/// Of these those of the same treatment.
fn of_same<'s>(
    sessions: &'s [Session],
    record: &TreatmentRecord,
) -> impl Iterator<Item = &'s Session> {
    let treatment = record.treatment;
    sessions.iter().filter(move |session| session.treatment == treatment)
}

/// The moments of those of the same treatment that stand.
pub(super) async fn standing(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<(Instant, Uuid)>, Error> {
    let all = sessions(studio, snap, record).await?;
    let stand = of_same(&all, record).filter(|session| !session.is_struck);
    Ok(stand.map(|session| (session.at, session.id)).collect())
}

/// All sessions of a treatment, this one the last. What was told and seen on one that was struck is hers
/// until somebody has settled it.
pub(super) async fn course_of(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<Session>, Error> {
    let all = sessions(studio, snap, record).await?;
    let (treatment, at, id) = (record.treatment, record.performed_at, record.id);
    let own = Session { treatment, at, id, is_struck: history::is_struck(record) };
    Ok(of_same(&all, record).copied().chain([own]).collect())
}

/// Their ids.
///
/// # Errors
/// What the store met.
pub async fn course(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Vec<Uuid>, Error> {
    let all = course_of(studio, snap, record).await?;
    Ok(all.into_iter().map(|session| session.id).collect())
}

/// How often the dates of a client's sessions of one treatment were put right, or a record was struck
/// or stood again, and when last: calendars count their entries' changes by it.
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
        let Some(treatment) = readable(sealed::load(snap, id).await)? else { continue };
        let mut packs = history::Packs::of(&treatment);
        let ids = entries::ids::<amendments::Own>(snap, id).await?;
        for stored in sealed::load_many::<Entry<amendments::Own>>(snap, &ids).await? {
            let Some(Entry { at, own, .. }) = readable(stored)?.map(|stored| stored.trace) else {
                continue;
            };
            if packs.amend(&own) || own.moved {
                all = (all.0 + 1, all.1.max(Some(at)));
            }
        }
    }
    Ok(all)
}

/// When a later session of the same treatment took the place of this one; one that was struck has none
/// from the beginning.
///
/// # Errors
/// What the store met.
pub async fn replaced_at(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<Option<Instant>, Error> {
    if history::is_struck(record) {
        return Ok(Some(Instant(Timestamp::MIN)));
    }
    let sessions = standing(studio, snap, record).await?;
    Ok(sessions.into_iter().map(|(at, _)| at).filter(|at| record.performed_at < *at).min())
}
