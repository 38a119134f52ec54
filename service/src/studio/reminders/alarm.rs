//! Messages that wait while somebody has to look: a report is open, the skin was
//! found unhealed or worse, or a session was stopped for bleeding and nobody has
//! seen smooth skin since.

use etui_craft::visit;
use etui_craft::visit::record::{Looked, Parts};
use etui_schema::treatments::{Observation, TraumaSign, TreatmentRecord};
use jiff::Timestamp;
use uuid::Uuid;

use super::sessions::{Session, course, course_of};
use super::stored::{self, replace};
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::{entries, observations, reviews, symptom_reports};

/// What is being written beside what lies in the store.
#[derive(Clone, Copy)]
enum Now {
    Nothing,
    /// A report is settled.
    Settled(Uuid),
    /// Somebody looks at the work of this treatment.
    Looked(Looked),
}

/// Whether something of this treatment, or of another session of it, waits for
/// somebody to look.
pub(super) async fn is_alarmed(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<bool, Error> {
    stands(studio, snap, record, Now::Nothing).await
}

async fn stands(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    now: Now,
) -> Result<bool, Error> {
    let parts = Parts::of(studio.craft.reviews.zones(record.treatment), []);
    let settled = |one: Uuid| matches!(now, Now::Settled(settled) if settled == one);
    // It is the same skin, whichever of its sessions a look is kept with: one of them is not held
    // for ever by what was seen again on another. On one that was struck it may have been another's.
    let mut seen = Seen::default();
    for Session { id, is_struck, .. } in course_of(studio, snap, record).await? {
        let alarms = symptom_reports::open_alarms(studio, snap, id).await?;
        if alarms.iter().any(|report| !settled(report.id)) {
            return Ok(true);
        }
        let mut looks = reviews::session(studio, snap, (id, record.treatment)).await?;
        if let Now::Looked(look) = now
            && id == record.id
        {
            looks.reviews.push(look);
        }
        let all = readable(entries::all::<observations::Own>(studio, snap, id).await)?;
        let bled = all.into_iter().flatten().filter(stopped_for_bleeding).map(|one| one.at.0);
        let one = Seen { looks: vec![looks], bled: bled.collect() };
        if is_struck {
            if one.is_troubled(parts) {
                return Ok(true);
            }
        } else {
            seen.looks.extend(one.looks);
            seen.bled.extend(one.bled);
        }
    }
    Ok(seen.is_troubled(parts))
}

/// What was seen of the same skin.
#[derive(Default)]
struct Seen {
    looks: Vec<visit::record::Session>,
    /// When work stopped because blood would not.
    bled: Vec<Timestamp>,
}

impl Seen {
    fn is_troubled(&self, parts: Parts) -> bool {
        let all = visit::record::Session::joined(&self.looks);
        let mut bled = self.bled.iter();
        all.is_troubled() || bled.any(|at| !all.seen_smooth_after(*at, parts))
    }
}

/// Whether work stopped because blood would not.
pub fn stopped_for_bleeding(seen: &Observation) -> bool {
    seen.stop && seen.signs.contains(&TraumaSign::HeavyBleeding)
}

/// Adds that the friendly messages of a treatment, whatever its session, wait
/// until somebody has looked.
///
/// # Errors
/// What the store met.
pub async fn pause(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    record: &TreatmentRecord,
) -> Result<Batch, Error> {
    for id in course(studio, snap, record).await? {
        for (old, bytes) in stored::sendable_of(snap, id).await? {
            let mut next = old.clone();
            if next.is_friendly(studio, snap).await? && next.pause() {
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}

/// Adds that a report is settled: where nothing else is open the paused messages
/// of the treatment go on, and those whose time has passed are overtaken.
///
/// # Errors
/// What the store met.
pub async fn go_on(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    batch: Batch,
    (record, settled): (&TreatmentRecord, Uuid),
) -> Result<Batch, Error> {
    if stands(studio, snap, record, Now::Settled(settled)).await? {
        return Ok(batch);
    }
    resume(studio, snap, moment, batch, record).await
}

/// Adds what a look at the work comes to: messages wait while it is troubled, and
/// go on where nothing is open any more.
///
/// # Errors
/// What the store met.
pub async fn looked(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    batch: Batch,
    (record, look): (&TreatmentRecord, Looked),
) -> Result<Batch, Error> {
    if stands(studio, snap, record, Now::Looked(look)).await? {
        return pause(studio, snap, batch, record).await;
    }
    resume(studio, snap, moment, batch, record).await
}

async fn resume(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    record: &TreatmentRecord,
) -> Result<Batch, Error> {
    for id in course(studio, snap, record).await? {
        for (old, bytes) in stored::of(snap, id).await? {
            let mut next = old.clone();
            if next.go_on(moment.now) {
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}
