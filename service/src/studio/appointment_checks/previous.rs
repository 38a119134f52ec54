//! Sessions of a client in the same area that the studio has on record.

use etui_schema::answers::{Answer, Answers};
use etui_schema::appointment_checks::PreviousSession;
use etui_schema::vocabulary::{CivilDate, Instant, Reference, Treatment, Zone};

use crate::store::key::{KeyReader, KeyWriter};
use crate::store::{Order, Read};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::treatments::{BY_CLIENT, TreatmentTrace};
use crate::studio::{Studio, paging, sealed};

/// Most sessions a check shows.
const SHOWN: usize = 10;
/// Most treatments of a client that are looked through, newest first.
const LOOKED_AT: usize = 200;
/// The questions that ask for earlier work, and for its day.
const ASKED: (&str, &str) = ("previous_pmu_in_area", "previous_pmu_on");

/// Those before the appointment, newest first.
pub(super) async fn sessions(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
    treatment: Treatment,
    (starts_at, zone): (Instant, &Zone),
) -> Result<Vec<PreviousSession>, Error> {
    let day = |at: Instant| zone.rules().to_datetime(at.0).date();
    let client = studio.keyring.client_id(client_ref.as_str());
    let range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let rows = snap.scan(BY_CLIENT, range, Order::Descending, LOOKED_AT).await?;
    let mut found = Vec::new();
    for (key, _) in rows {
        let mut reader = KeyReader::new(&key);
        let id = reader.fixed::<32>().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
        let id = id.ok_or_else(|| paging::broken(BY_CLIENT))?;
        let trace = sealed::load::<TreatmentTrace>(snap, id).await?.trace;
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

/// Lets the record stand where the answers know of no session, or of an
/// earlier one only. Whether something was changed.
pub(super) fn correct(answers: &mut Answers, sessions: &[PreviousSession]) -> bool {
    let Some(last) = sessions.first() else { return false };
    let told = match answers.get(ASKED.1) {
        Some(Answer::Text(day)) => day.parse::<CivilDate>().ok(),
        _ => None,
    };
    let yes = answers.get(ASKED.0) == Some(&Answer::YesNo(true));
    if yes && told.is_some_and(|day| last.on.0 <= day.0) {
        return false;
    }
    answers.insert(ASKED.0.to_owned(), Answer::YesNo(true));
    answers.insert(ASKED.1.to_owned(), Answer::Text(last.on.to_string()));
    true
}
