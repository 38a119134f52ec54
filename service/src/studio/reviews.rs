//! How a treatment healed, and what to change next time.
//!
//! The judgement is `craft::aftercare`'s. Whether the skin was hurt is taken
//! from what was seen while working; nobody has to remember it after weeks.

use etui_craft::aftercare::review::{Advice, Healed, Judgement, ReviewError};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::reviews::{Review, ReviewAdvice, ReviewRequest};
use etui_schema::treatments::{Observation, TraumaSign};
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::engine::Snap;
use super::error::Error;
use super::history::{self, Entry};
use super::moment::Moment;
use super::observations::ObservationTrace;
use super::plan::{Planned, to_json};
use super::sealed::{self, Trace};
use super::vault::{self, Subject};
use super::{Studio, clients, reminders};
use crate::store::key::KeyWriter;
use crate::store::keyring::Keyring;
use crate::store::{Batch, Bytes, Space};

/// Ids by artist, in the order the work was looked at.
pub const BY_ARTIST: Space = Space::new("reviews-by-artist");

/// What stays of a review.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct ReviewTrace {
    /// The client's reference.
    pub client_ref: Reference,
    /// The artist whose work was looked at.
    pub artist_ref: Reference,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was looked at.
    pub at: Instant,
}

impl Trace for ReviewTrace {
    const SPACE: Space = Space::new("reviews");
    const WHAT: &'static str = "review";
    type Input = ReviewRequest;
    type Answer = Review;

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }
}

impl Entry for ReviewTrace {
    const BY_TREATMENT: Space = Space::new("reviews-by-treatment");

    fn treatment_id(&self) -> Uuid {
        self.treatment_id
    }

    fn row(&self, id: Uuid) -> Bytes {
        KeyWriter::new().uuid(self.treatment_id).instant(self.at.0).uuid(id).finish()
    }
}

/// The beginning of the index rows of an artist.
pub(super) fn artist_prefix(keyring: &Keyring, artist_ref: &Reference) -> KeyWriter {
    KeyWriter::new().fixed(&keyring.index_key().reference("artist", artist_ref.as_str()))
}

/// The index row of a review under its artist.
#[must_use]
pub fn artist_row(keyring: &Keyring, id: Uuid, trace: &ReviewTrace) -> Bytes {
    artist_prefix(keyring, &trace.artist_ref).instant(trace.at.0).uuid(id).finish()
}

/// Plans to keep a review, with what it asks for.
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
) -> Result<Planned, Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let seen = history::all::<ObservationTrace>(studio, snap, treatment_id).await?;
    let client = clients::find(studio, snap, &record.client_ref).await?;
    let zone = client.as_ref().and_then(|client| client.zone.clone());
    let zone = zone.unwrap_or_else(|| record.zone.clone());
    let reviewed_at = request.reviewed_at.unwrap_or(Instant(moment.now));
    let trauma_seen = trauma(request, &seen)?;
    if moment.now < reviewed_at.0 {
        let why = "the review lies in the future";
        return Err(Error::at("#/reviewed_at", FaultCode::OutOfRange, why));
    }
    let day = zone.rules().to_datetime(reviewed_at.0).date();
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
    let trace = ReviewTrace {
        client_ref: record.client_ref,
        artist_ref: record.artist_ref,
        treatment_id,
        at: reviewed_at,
    };
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let row = artist_row(&studio.keyring, id, &trace);
    let batch = Batch::new().put(BY_ARTIST, row, id.as_bytes().to_vec());
    let made = (request, to_json(&review)?);
    history::add(batch, (&studio.keyring, access), moment, (id, trace), made, ("review.record", 1))
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
    for id in history::ids::<ReviewTrace>(snap, treatment_id).await? {
        let before = sealed::load::<ReviewTrace>(snap, id).await?.trace;
        let after = ReviewTrace { artist_ref: artist_ref.clone(), ..before.clone() };
        let change = |trace: &mut ReviewTrace| trace.artist_ref = artist_ref.clone();
        batch = sealed::retrace(&studio.keyring, snap, batch, id, change)
            .await?
            .del(BY_ARTIST, artist_row(&studio.keyring, id, &before))
            .put(BY_ARTIST, artist_row(&studio.keyring, id, &after), id.as_bytes().to_vec());
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
        return Err(Error::at("#/trauma_seen", FaultCode::Contradiction, why));
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
    let ReviewRequest { reviewed_at: _, zones, colour, surface, trauma_seen: _, note } =
        request.clone();
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
        trauma_seen,
        note,
        outcome,
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
