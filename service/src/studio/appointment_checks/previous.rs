//! What the studio has on record of a client's area: sessions, what was reported
//! on them, and how they were seen to have healed.

use etui_craft::visit::record::Record;
use etui_schema::appointment_checks::PreviousSession;
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment, Zone};

use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{Studio, reviews, sealed};

/// Most sessions a check shows.
const SHOWN: usize = 10;
/// Most treatments of a client that are looked through, newest first.
const LOOKED_AT: usize = 200;

/// Those before the appointment, newest first.
pub(super) async fn sessions(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
    treatment: Treatment,
    (starts_at, zone): (Instant, &Zone),
) -> Result<Vec<PreviousSession>, Error> {
    let day = |at: Instant| zone.rules().to_datetime(at.0).date();
    let ids = treatments::latest_of_client(studio, snap, client_ref, LOOKED_AT).await?;
    let mut found = Vec::new();
    for record in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        let Some(record) = readable(record)? else { continue };
        let id = record.id;
        let trace = record.trace;
        if trace.treatment != treatment || starts_at.0 <= trace.performed_at.0 {
            continue;
        }
        let on = day(trace.performed_at);
        let days_before = day(starts_at).since(on).map_or(0, |span| span.get_days());
        found.push(PreviousSession { treatment_id: id, on: CivilDate(on), days_before });
        if found.len() == SHOWN {
            break;
        }
    }
    Ok(found)
}

/// What reports and reviews of these sessions say against another one. It is
/// the record of today: a report that comes later is seen by the next check.
///
/// # Errors
/// What the store met.
pub(super) async fn record(
    studio: &Studio,
    snap: &mut Snap,
    sessions: &[PreviousSession],
) -> Result<Record<'static>, Error> {
    let mut found = Vec::with_capacity(sessions.len());
    for session in sessions {
        found.push(reviews::session(studio, snap, session.treatment_id).await?);
    }
    Ok(Record::of(sessions.first().map(|last| last.on.0), &found))
}
