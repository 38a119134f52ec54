//! What the studio has on record of a client's area: sessions, what was reported
//! on them, and how they were seen to have healed.

use etui_craft::visit::record::{Looked, Record, Reported, Session};
use etui_schema::appointment_checks::PreviousSession;
use etui_schema::reviews::ReviewOutcome;
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment, Zone};

use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::reviews::Reviewed;
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{Studio, entries, kept_reports, sealed};

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
        // Of a session from before an erasure nothing is known but its day.
        let id = session.treatment_id;
        let reports = readable(kept_reports::all(studio, snap, id).await)?.unwrap_or_default();
        let reviews = readable(entries::all::<Reviewed>(studio, snap, id).await)?;
        let reviews = reviews.unwrap_or_default();
        found.push(Session {
            // What a person has settled holds nothing any more.
            reports: reports
                .iter()
                .filter(|report| report.settled.is_none())
                .map(|report| Reported { at: report.reported_at.0, level: report.judgement.level })
                .collect(),
            reviews: reviews
                .iter()
                .map(|review| Looked {
                    at: review.reviewed_at.0,
                    is_judged: is_judged(review.outcome),
                    surface: review.surface,
                })
                .collect(),
        });
    }
    Ok(Record::of(sessions.first().map(|last| last.on.0), &found))
}

/// Whether the skin was past its healing when it was looked at.
fn is_judged(outcome: ReviewOutcome) -> bool {
    match outcome {
        ReviewOutcome::Nothing | ReviewOutcome::TouchUp => true,
        ReviewOutcome::TooEarly | ReviewOutcome::Refer | ReviewOutcome::Wait => false,
    }
}
