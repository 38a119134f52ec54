//! Countersignatures: a trainer confirms that she was in the room. What was done is
//! recorded, permitted or not; who was there is said by her own token and by no body.

use etui_craft::training::Work;
use etui_schema::countersignatures::{Countersignature, CountersignatureRequest};
use etui_schema::problem::FaultCode;
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Configuration, Instant, Reference, Rung};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::artists::StoredArtist;
use super::engine::Snap;
use super::entries::{Entry, EntryKind};
use super::error::Error;
use super::moment::Moment;
use super::plan::Planned;
use super::{Studio, documents, history, sign_offs};
use crate::store::verify::Indexed;
use crate::store::{Batch, Space};

/// What stays: who confirmed it.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Countersigned {
    signed_by: Reference,
}

impl EntryKind for Countersigned {
    const SPACE: Space = Space::new("countersignatures");
    const INDEXES: &'static [Indexed] =
        &[Indexed::Whole(Space::new("countersignatures-by-treatment"))];
    const WHAT: &'static str = "countersignature";
    type Input = CountersignatureRequest;
    type Answer = Countersignature;
}

/// Plans to keep one.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for whoever is no trainer, and for the artist
/// who did it.
pub async fn create(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    treatment_id: Uuid,
    request: &CountersignatureRequest,
) -> Result<Planned, Error> {
    let record = history::record(studio, snap, treatment_id).await?;
    let refused = |why: &str| Error::at("#", FaultCode::NotAllowed, why);
    let signed_by = moment.signer().filter(|signer| *signer != record.artist_ref).ok_or_else(|| {
        refused("that a trainer was there says a token that acts for her, and not for the artist who worked")
    })?;
    if !sign_offs::answers_for(studio, snap, moment, &record.artist_ref).await? {
        return Err(refused(
            "only whoever is named trainer by an `admin` confirms that she was there",
        ));
    }
    // Who is trainer no longer when it is written has confirmed nothing.
    let (batch, _) =
        documents::expected::<StoredArtist, _>(studio, snap, Batch::new(), &signed_by).await?;
    let id = moment.id()?;
    let at = Instant(moment.now);
    let note = request.note.clone();
    let answer = Countersignature { id, treatment_id, at, signed_by: signed_by.clone(), note };
    let entry = Entry::of(&record, at, Countersigned { signed_by });
    let access = entry.access(studio, snap, moment).await?;
    let with = (studio, moment, access);
    entry.add(batch, with, id, (request, &answer), ("treatment.countersign", 1))
}

/// Whether the artist of a treatment is a student who did not work alone with all that
/// was opened on its day, and nobody confirmed that she was there.
///
/// # Errors
/// What the store met.
pub async fn wanting(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<bool, Error> {
    if !record.countersignatures.is_empty() {
        return Ok(false);
    }
    let artist = documents::find::<StoredArtist, _>(studio, snap, &record.artist_ref).await?;
    if !artist.is_some_and(|artist| artist.is_student()) {
        return Ok(false);
    }
    let signed = sign_offs::of_artist(studio, snap, &record.artist_ref).await?;
    let on = record.zone.rules().to_datetime(record.performed_at.0).date();
    let Some(effect) = record.effect else { return Ok(true) };
    let nothing = Configuration { diameter_mm: None, count: None, grouping: None, taper: None };
    let mut opened = record.packs.iter().filter(|pack| pack.struck_by.is_none()).peekable();
    if opened.peek().is_none() {
        return Ok(true);
    }
    Ok(opened.any(|pack| {
        let sites = studio.craft.selector.sites(record.treatment, pack.site);
        let configuration = pack.configuration.unwrap_or(nothing);
        let held = studio.craft.training.held(&signed, &Work { configuration, effect, sites }, on);
        held.rung != Some(Rung::Alone)
    }))
}
