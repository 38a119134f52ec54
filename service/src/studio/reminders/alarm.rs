//! Messages that wait while a report is open.

use etui_schema::treatments::TreatmentRecord;
use uuid::Uuid;

use super::schedule::open;
use super::sessions::course;
use super::stored::{self, replace};
use crate::store::Batch;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::kept_reports;
use crate::studio::moment::Moment;

/// Whether a report of this treatment, or of another session of it, is open.
pub(super) async fn is_alarmed(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<bool, Error> {
    for id in course(studio, snap, record).await? {
        if !kept_reports::open_alarms(studio, snap, id).await?.is_empty() {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Adds that the friendly messages of a treatment, whatever its session, wait
/// until somebody has looked into a report.
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
        for (old, bytes) in stored::of(snap, id).await? {
            let mut next = old.clone();
            if open(&old) && next.is_friendly(studio, snap).await? && next.pause() {
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}

/// Adds that a report is settled: where no other is open the paused messages of
/// the treatment go on, and those whose time has passed are overtaken.
///
/// # Errors
/// What the store met.
pub async fn go_on(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    (record, settled): (&TreatmentRecord, Uuid),
) -> Result<Batch, Error> {
    let course = course(studio, snap, record).await?;
    for id in &course {
        let alarms = kept_reports::open_alarms(studio, snap, *id).await?;
        if alarms.iter().any(|report| report.id != settled) {
            return Ok(batch);
        }
    }
    for id in course {
        for (old, bytes) in stored::of(snap, id).await? {
            let mut next = old.clone();
            if next.go_on(moment.now) {
                batch = replace(batch, Some((&old, bytes)), &next)?;
            }
        }
    }
    Ok(batch)
}
