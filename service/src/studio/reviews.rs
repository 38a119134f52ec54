//! How a treatment healed, and what to change next time.
//!
//! The judgement is `craft::aftercare`'s. Whether the skin was hurt is taken
//! from what was seen while working; nobody has to remember it after weeks.

use etui_craft::aftercare::review::{Advice, Before, Healed, Judgement, ReviewError};
use etui_craft::refusal::Refusal;
use etui_craft::visit::record::{Looked, Parts, Reported, Session};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::reviews::{Review, ReviewAdvice, ReviewOutcome, ReviewRequest, ZoneKept};
use etui_schema::symptom_reports::KeptSymptomReport;
use etui_schema::treatments::{Observation, TraumaSign, TreatmentRecord};
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference, Treatment};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::entries::{self, Entry, EntryKind};
use super::error::{Error, readable};
use super::moment::Moment;
use super::plan::Planned;
use super::{Studio, clients, history, observations, reminders, sealed, symptom_reports};
use crate::store::index::{Index, Keys};
use crate::store::keyring::Keyring;
use crate::store::rows::Rows;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Space};

/// Ids by artist, in the order the work was looked at.
const BY_ARTIST: Index<([u8; 32], Timestamp, Uuid)> = Index::new("reviews-by-artist");

/// What stays of a review beside that there was one.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Own {
    /// The artist whose work was looked at.
    pub artist_ref: Reference,
}

impl EntryKind for Own {
    const SPACE: Space = Space::new("reviews");
    const INDEXES: &'static [Indexed] =
        &[Indexed::Whole(Space::new("reviews-by-treatment")), Indexed::Whole(BY_ARTIST.space())];
    const WHAT: &'static str = "review";
    type Input = ReviewRequest;
    type Answer = Review;

    fn more_rows(entry: &Entry<Self>, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)> {
        let artist = artist_hash(keyring, &entry.own.artist_ref);
        vec![BY_ARTIST.row(&(artist, entry.at.0, id))]
    }
}

/// What stands for an artist in keys.
fn artist_hash(keyring: &Keyring, artist_ref: &Reference) -> [u8; 32] {
    keyring.index_key().reference("artist", artist_ref.as_str())
}

/// The rows of an artist, in the order the work was looked at; or of all.
pub(super) fn of_artist(
    keyring: &Keyring,
    artist_ref: Option<&Reference>,
) -> Keys<([u8; 32], Timestamp, Uuid)> {
    match artist_ref {
        Some(artist_ref) => BY_ARTIST.under(&(artist_hash(keyring, artist_ref),)),
        None => BY_ARTIST.keys(Rows::all(BY_ARTIST.space())),
    }
}

/// Plans to keep a review, with what it asks for; with the treatment and what is answered.
///
/// # Errors
/// [`Error::Refused`] names every value that was refused: a part that the
/// treatment does not have, a moment before the session or in the future.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    treatment_id: Uuid,
    request: &ReviewRequest,
) -> Result<(Planned, TreatmentRecord, Review), Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let seen = entries::all::<observations::Own>(studio, snap, treatment_id).await?;
    let client = clients::find(studio, snap, &record.client_ref).await?;
    let zone = client.as_ref().and_then(|client| client.zone.clone());
    let zone = zone.unwrap_or_else(|| record.zone.clone());
    let reviewed_at = request.reviewed_at.unwrap_or(Instant(moment.now));
    let trauma_seen = trauma(request, &seen)?;
    if moment.now < reviewed_at.0 {
        let why = "the review lies in the future";
        return Err(Error::at("#/reviewed_at", FaultCode::OutOfRange, why).means(Refusal::InFuture));
    }
    let day = zone.rules().to_datetime(reviewed_at.0).date();
    let look = Looked {
        at: reviewed_at.0,
        // What is found now is not yet judged; it settles nothing.
        is_judged: false,
        surface: request.surface,
        doctor_agrees: request.doctor_agrees == Some(true),
        parts: parts(studio, record.treatment, &request.zones),
    };
    let before = before(studio, snap, &record, look).await?;
    let healed = Healed {
        treatment: record.treatment,
        performed_at: record.performed_at.0,
        reviewed_at: reviewed_at.0,
        zone: zone.rules().clone(),
        age_years: client.and_then(|client| reminders::skin_on(&client, day).age_years),
        kept: request.zones.iter().map(|part| (part.zone, part.kept)).collect(),
        colour: request.colour,
        surface: request.surface,
        trauma_seen,
        before,
    };
    let judgement = studio.craft.reviews.judge(&healed).map_err(|faults| refused(&faults))?;
    let id = moment.id()?;
    let review = answer(
        studio,
        language,
        (id, treatment_id),
        (reviewed_at, trauma_seen),
        request,
        judgement,
    );
    let own = Own { artist_ref: record.artist_ref.clone() };
    let entry = Entry::of(&record, reviewed_at, own);
    let access = entry.access(studio, snap, moment).await?;
    let rows = Own::more_rows(&entry, &studio.keyring, id).into_iter();
    let batch = rows.fold(Batch::new(), |batch, row| batch.with(row, id.as_bytes().to_vec()));
    let batch = reminders::looked(studio, snap, moment, batch, (&record, look)).await?;
    let (with, made) = ((studio, moment, access), (request, &review));
    let planned = entry.add(batch, with, id, made, ("review.record", 1))?;
    Ok((planned, record, review))
}

/// What was told of her sessions and found on them, this look with its doctor's word included:
/// what a doctor has to see is hers and not the area's, as for a check.
async fn before(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
    look: Looked,
) -> Result<Before, Error> {
    let mut sessions = Vec::new();
    let others = reminders::sessions(studio, snap, record).await?;
    let others = others.into_iter().map(|other| (other.id, other.treatment));
    for at in others.chain([(record.id, record.treatment)]) {
        let mut session = session(studio, snap, at).await?;
        if at.0 == record.id {
            session.reviews.push(look);
        }
        sessions.push(session);
    }
    Ok(Before {
        is_report_open: sessions.iter().any(Session::has_open_report),
        needs_doctor: Session::need_doctor(&sessions),
    })
}

/// What was looked at of the work.
fn parts(studio: &Studio, treatment: Treatment, named: &[ZoneKept]) -> Parts {
    Parts::of(studio.craft.reviews.zones(treatment), named.iter().map(|one| one.zone))
}

/// What was reported of a session, and how it was seen to have healed. Of one from
/// before an erasure nothing is known.
///
/// # Errors
/// What the store met.
pub(super) async fn session(
    studio: &Studio,
    snap: &mut Snap,
    (treatment_id, treatment): (Uuid, Treatment),
) -> Result<Session, Error> {
    let reports = readable(entries::all::<symptom_reports::Own>(studio, snap, treatment_id).await)?;
    let reviews = readable(entries::all::<Own>(studio, snap, treatment_id).await)?;
    Ok(Session {
        reports: reports.iter().flatten().map(|one| reported(studio, treatment, one)).collect(),
        reviews: reviews.iter().flatten().map(|one| looked(studio, treatment, one)).collect(),
    })
}

fn reported(studio: &Studio, treatment: Treatment, report: &KeptSymptomReport) -> Reported {
    Reported {
        at: report.reported_at.0,
        level: symptom_reports::level_of(report),
        is_settled: report.settled.is_some(),
        lasts: report.symptoms.iter().any(|told| studio.craft.triage.lasts(told.kind)),
        parts: parts(studio, treatment, &[]),
    }
}

fn looked(studio: &Studio, treatment: Treatment, review: &Review) -> Looked {
    Looked {
        at: review.reviewed_at.0,
        // Whether the skin was past its healing.
        is_judged: review.outcome.known().is_some_and(|outcome| match outcome {
            ReviewOutcome::Nothing | ReviewOutcome::TouchUp => true,
            ReviewOutcome::TooEarly
            | ReviewOutcome::Refer
            | ReviewOutcome::Ask
            | ReviewOutcome::Wait => false,
        }),
        surface: review.surface,
        doctor_agrees: review.doctor_agrees == Some(true),
        parts: parts(studio, treatment, &review.zones),
    }
}

/// Adds to a batch that the work that was looked at is another artist's: the
/// results count for her from then on.
///
/// # Errors
/// What the store met.
pub(super) async fn follow(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    treatment_id: Uuid,
    artist_ref: &Reference,
) -> Result<Batch, Error> {
    for id in entries::ids::<Own>(snap, treatment_id).await? {
        let before = sealed::load::<Entry<Own>>(snap, id).await?.trace;
        let mut after = before.clone();
        after.own.artist_ref.clone_from(artist_ref);
        let row = |entry| Own::more_rows(entry, &studio.keyring, id).into_iter();
        batch = row(&before).fold(batch, Batch::without);
        batch = row(&after).fold(batch, |batch, row| batch.with(row, id.as_bytes().to_vec()));
        let change = |trace: &mut Entry<Own>| *trace = after;
        batch = sealed::retrace(&studio.keyring, snap, batch, id, change).await?;
    }
    Ok(batch)
}

/// Whether the skin was hurt: as recorded while working, else as told now.
fn trauma(request: &ReviewRequest, seen: &[Observation]) -> Result<Option<bool>, Error> {
    let mut signs = seen.iter().flat_map(|observation| &observation.signs);
    // That the skin takes no pigment is a reason to stop, not an injury.
    if !signs.any(|sign| *sign != TraumaSign::PoorUptake) {
        return Ok(request.trauma_seen);
    }
    if request.trauma_seen == Some(false) {
        let why = "signs of trauma were recorded during this session";
        return Err(Error::at("#/trauma_seen", FaultCode::Contradiction, why)
            .means(Refusal::TraumaRecorded));
    }
    Ok(Some(true))
}

fn answer(
    studio: &Studio,
    language: Language,
    (id, treatment_id): (Uuid, Uuid),
    (reviewed_at, trauma_seen): (Instant, Option<bool>),
    request: &ReviewRequest,
    judgement: Judgement,
) -> Review {
    let ReviewRequest {
        reviewed_at: _,
        zones,
        colour,
        surface,
        doctor_agrees,
        trauma_seen: _,
        note,
    } = request.clone();
    let Judgement { day, outcome, not_before, advice } = judgement;
    let texts = studio.craft.plans.texts();
    let said = |advice: Advice| {
        let Advice { key, zones, say, basis } = advice;
        ReviewAdvice { key: key.to_string(), zones, text: say.in_language(texts, language), basis }
    };
    Review {
        id,
        treatment_id,
        reviewed_at,
        day,
        zones,
        colour,
        surface,
        doctor_agrees,
        trauma_seen,
        note,
        outcome: outcome.into(),
        not_before: not_before.map(CivilDate),
        advice: advice.into_iter().map(said).collect(),
    }
}

fn refused(faults: &[ReviewError]) -> Error {
    let fault = |error: &ReviewError| {
        let code = match error {
            ReviewError::BeforeTreatment { .. } | ReviewError::OutOfCalendar => {
                FaultCode::OutOfRange
            }
            ReviewError::NothingKept => FaultCode::Missing,
            ReviewError::Zone { .. } => FaultCode::NotAllowed,
            ReviewError::Twice { .. } => FaultCode::Duplicate,
        };
        Fault::new(format!("#{}", error.pointer()), code, error.to_string())
    };
    Error::Refused(faults.iter().map(fault).collect())
}
