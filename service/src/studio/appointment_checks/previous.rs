//! What the studio has on record of a client's area: sessions, what was reported
//! on them, and how they were seen to have healed.

use etui_craft::visit::record::Record;
use etui_schema::appointment_checks::PreviousSession;
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment, Zone};
use uuid::Uuid;

use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::treatments::{self, TreatmentTrace};
use crate::studio::{Studio, history, reviews, sealed};

/// Most sessions a check shows.
const SHOWN: usize = 10;
/// Most treatments of a client that are looked through, newest first.
const LOOKED_AT: usize = 200;

/// Sessions before an appointment.
#[derive(Default)]
pub(super) struct Earlier {
    /// In the area, newest first.
    pub(super) here: Vec<PreviousSession>,
    /// All of them in the area, also those past what is shown.
    of_area: Vec<(Uuid, Treatment)>,
    /// In other areas of the same person.
    elsewhere: Vec<(Uuid, Treatment)>,
}

/// Those before the appointment, `but` one.
pub(super) async fn sessions(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
    treatment: Treatment,
    (starts_at, zone, but): (Instant, &Zone, Option<Uuid>),
) -> Result<Earlier, Error> {
    let day = |at: Instant| zone.rules().to_datetime(at.0).date();
    let ids = treatments::latest_of_client(studio, snap, client_ref, LOOKED_AT).await?;
    let mut found = Earlier::default();
    for record in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        let Some(record) = readable(record)? else { continue };
        let (id, trace) = (record.id, &record.trace);
        if starts_at.0 <= trace.performed_at.0 || but == Some(id) {
            continue;
        }
        if trace.treatment != treatment {
            found.elsewhere.push((id, trace.treatment));
            continue;
        }
        found.of_area.push((id, treatment));
        // What was told and seen of one that was struck counts until it is settled; its day does not.
        if found.here.len() < SHOWN && !history::is_struck_by_trace(snap, &record).await? {
            let on = day(trace.performed_at);
            let days_before = day(starts_at).since(on).map_or(0, |span| span.get_days());
            let treatment_id = Some(id);
            found.here.push(PreviousSession { treatment_id, on: CivilDate(on), days_before });
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
    sessions: &Earlier,
) -> Result<Record<'static>, Error> {
    let Earlier { here, of_area, elsewhere } = sessions;
    let mut found = Vec::with_capacity(of_area.len());
    for one in of_area {
        found.push(reviews::session(studio, snap, *one).await?);
    }
    let mut others = Vec::with_capacity(elsewhere.len());
    for one in elsewhere {
        others.push(reviews::session(studio, snap, *one).await?);
    }
    Ok(Record::of(here.first().map(|last| last.on.0), &found).beside(&others))
}

/// Takes away which treatments they were, where the caller does not reach them; when they were
/// stays.
///
/// # Errors
/// What the store met.
pub(super) async fn veil(
    snap: &mut Snap,
    moment: &Moment,
    sessions: &mut [PreviousSession],
) -> Result<(), Error> {
    for session in sessions {
        let Some(id) = session.treatment_id else { continue };
        if !treatments::is_reached(snap, &moment.mandate, id).await? {
            session.treatment_id = None;
        }
    }
    Ok(())
}
