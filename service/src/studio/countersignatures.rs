//! Countersignatures: a trainer confirms that she was in the room. What was done is
//! recorded, permitted or not; who was there is said by her own token and by no body.

use std::collections::BTreeMap;

use etui_craft::refusal::Refusal;
use etui_craft::training::{Confirmed, Counted, Work};
use etui_schema::countersignatures::{Countersignature, CountersignatureRequest};
use etui_schema::events::EventType;
use etui_schema::problem::FaultCode;
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Configuration, Instant, Language, Reference, Rung, Site, Treatment};
use jiff::civil::Date;
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::artists::{self, StoredArtist};
use super::engine::Snap;
use super::entries::{self, Added, Entry, EntryKind};
use super::error::{Error, readable};
use super::moment::Moment;
use super::outbox::{Happened, add_noticed};
use super::plan::Planned;
use super::sealed::StoredSealed;
use super::treatments::TreatmentTrace;
use super::{Studio, amendments, documents, history, sealed, sign_offs};
use crate::store::index::{Index, behind};
use crate::store::keyring::Keyring;
use crate::store::rows::Rows;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Space};

/// Ids by the artist who was seen at work, then by treatment.
const BY_ARTIST: Index<([u8; 32], Uuid, Uuid)> = Index::new("countersignatures-by-artist");
/// Treatments of which is asked whether a trainer was there, by when.
const TO_ASK: Index<(Timestamp, Uuid)> = Index::new("countersignatures-to-ask");
/// How long after it was recorded (model parameter).
const WAITED_FOR: SignedDuration = SignedDuration::from_hours(24);
/// Rows that one batch takes.
const ROWS: usize = 50;

/// What stays: who confirmed it.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Own {
    signed_by: Reference,
    /// Whose work it was; absent in what former builds kept, which counts for nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    artist_ref: Option<Reference>,
    /// After how many amendments it was given; absent in what former builds kept, where its moment
    /// tells.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    after: Option<u32>,
}

impl EntryKind for Own {
    const SPACE: Space = Space::new("countersignatures");
    const INDEXES: &'static [Indexed] = &[
        Indexed::Whole(Space::new("countersignatures-by-treatment")),
        Indexed::Whole(BY_ARTIST.space()),
    ];
    const WHAT: &'static str = "countersignature";
    type Input = CountersignatureRequest;
    type Answer = Countersignature;

    fn more_rows(entry: &Entry<Self>, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)> {
        let artist = entry.own.artist_ref.as_ref();
        let row = |artist| BY_ARTIST.row(&(artist_hash(keyring, artist), entry.treatment_id, id));
        artist.map(row).into_iter().collect()
    }
}

fn artist_hash(keyring: &Keyring, artist: &Reference) -> [u8; 32] {
    keyring.index_key().reference("countersigned", artist.as_str())
}

impl Added for Own {
    /// Plans to keep one.
    ///
    /// # Errors
    /// [`Error::NotFound`]; [`Error::Refused`] for whoever is no trainer, and for the artist
    /// who did it.
    async fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        _: Language,
        treatment_id: Uuid,
        request: &CountersignatureRequest,
    ) -> Result<Planned, Error> {
        let record = history::record(studio, snap, treatment_id).await?;
        if history::is_struck(&record) {
            let why = "every pack of the record was struck: there is no work to confirm";
            return Err(Error::at("#", FaultCode::NotAllowed, why).means(Refusal::NoPackLeft));
        }
        let refused =
            |why: &str| Error::at("#", FaultCode::NotAllowed, why).means(Refusal::NeedsTrainer);
        let signed_by = moment.signer().filter(|signer| *signer != record.artist_ref).ok_or_else(|| {
            refused("that a trainer was there says a token that acts for her, and not for the artist who worked")
        })?;
        let trainer = documents::find::<StoredArtist, _>(studio, snap, &signed_by).await?;
        // By her years when she was there.
        sign_offs::long_enough(studio, trainer.as_ref(), day_of(studio, record.performed_at))?;
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
        let artist_ref = Some(record.artist_ref.clone());
        let after = Some(u32::try_from(record.amendments.len()).unwrap_or(u32::MAX));
        let entry = Entry::of(&record, at, Own { signed_by, artist_ref, after });
        let batch = Own::more_rows(&entry, &studio.keyring, id)
            .into_iter()
            .fold(batch, |batch, row| batch.with(row, Vec::new()));
        let access = entry.access(studio, snap, moment).await?;
        let with = (studio, moment, access);
        entry.add(batch, with, id, (request, &answer), ("treatment.countersign", 1))
    }
}

/// Adds to the batch of a treatment that its countersignature is to be asked for after a day,
/// if a student did it.
///
/// # Errors
/// What the store met.
pub async fn to_ask(
    studio: &Studio,
    snap: &mut Snap,
    batch: Batch,
    record: &TreatmentRecord,
    now: Timestamp,
) -> Result<Batch, Error> {
    if !artists::may_be_student(studio, snap, &record.artist_ref).await? {
        return Ok(batch);
    }
    let due_at = now.checked_add(WAITED_FOR).unwrap_or(now);
    Ok(batch.with(TO_ASK.row(&(due_at, record.id)), Vec::new()))
}

/// The same where what was confirmed is told otherwise since, or where there is work again after
/// nothing was wanting for want of it.
///
/// # Errors
/// What the store met.
pub async fn to_ask_again(
    studio: &Studio,
    snap: &mut Snap,
    batch: Batch,
    (before, record): (&TreatmentRecord, &TreatmentRecord),
    now: Timestamp,
) -> Result<Batch, Error> {
    let is_looked_at = WAITED_FOR <= now.duration_since(before.recorded_at.0);
    let is_back = is_looked_at && history::is_struck(before) && !history::is_struck(record);
    if !is_back && entries::ids::<Own>(snap, record.id).await?.is_empty() {
        return Ok(batch);
    }
    to_ask(studio, snap, batch, record, now).await
}

/// The studio's day of a moment.
fn day_of(studio: &Studio, at: Instant) -> Date {
    studio.zone.rules().to_datetime(at.0).date()
}

/// Whether one of these confirmations of a treatment stands: a pack is left of it, it was given after
/// whatever told otherwise what was done, and by a trainer who had the years that a law asks for.
async fn stands(
    studio: &Studio,
    snap: &mut Snap,
    treatment: &StoredSealed<TreatmentTrace>,
    given: &[Uuid],
) -> Result<bool, Error> {
    if given.is_empty() {
        return Ok(false);
    }
    let ids = entries::ids::<amendments::Own>(snap, treatment.id).await?;
    let mut last = None;
    let mut packs = history::Packs::of(treatment);
    for amendment in sealed::load_many::<Entry<amendments::Own>>(snap, &ids).await? {
        // One that cannot be read may have changed anything.
        let Some(amendment) = readable(amendment)? else { return Ok(false) };
        packs.amend(&amendment.trace.own);
        if amendment.trace.own.is_other_work() {
            last = Some((amendment.trace.own.number, amendment.trace.at.0));
        }
    }
    if packs.none_is_left() {
        return Ok(false);
    }
    let on = day_of(studio, treatment.trace.performed_at);
    for one in sealed::load_many::<Entry<Own>>(snap, given).await? {
        let Some(one) = readable(one)? else { continue };
        if !had_her_years(studio, snap, &one.trace.own.signed_by, on).await? {
            continue;
        }
        let (after, at) = (one.trace.own.after, one.trace.at.0);
        let since = |(number, changed): (u32, Timestamp)| {
            after.map_or(changed < at, |after| number <= after)
        };
        if last.is_none_or(since) {
            return Ok(true);
        }
    }
    Ok(false)
}

/// Whether a trainer had on a day the years that the law of the place asks for, if one does.
async fn had_her_years(
    studio: &Studio,
    snap: &mut Snap,
    trainer: &Reference,
    on: Date,
) -> Result<bool, Error> {
    let training = &studio.craft.training;
    if training.too_young(None, on).is_none() {
        return Ok(true);
    }
    let trainer = readable(documents::find::<StoredArtist, _>(studio, snap, trainer).await)?;
    let since = trainer.flatten().as_ref().and_then(StoredArtist::licensed_on);
    Ok(training.too_young(since, on).is_none())
}

/// A batch that tells of treatments whose countersignature is wanting a day after they were
/// recorded; `None` if there is none left to look at.
///
/// # Errors
/// What the store met.
pub async fn tell_due(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
) -> Result<Option<Batch>, Error> {
    let rows = Rows::of(TO_ASK.space(), Bytes::new()..behind(&(now,)));
    let due = TO_ASK.keys(rows).most(snap, ROWS).await?;
    let mut batch = Batch::new();
    for key @ (_, id) in &due {
        let (space, row) = TO_ASK.row(key);
        batch = batch.expect(space, row.clone(), Some(Bytes::new())).del(space, row.clone());
        // The client may have been forgotten.
        let Some(record) = readable(history::whole(studio, snap, *id).await)? else { continue };
        if record.unsupervised == Some(true) {
            let client_ref = record.client_ref;
            let happened = Happened::treatment(EventType::CountersignatureDue, *id, client_ref);
            batch = add_noticed(studio, batch, now, &[b"countersignature.due", &row], happened)?;
        }
    }
    Ok(if due.is_empty() { None } else { Some(batch) })
}

/// Treatments of an artist at which a trainer has confirmed that she was there, before a
/// moment; what is recorded twice is one.
///
/// # Errors
/// What the store met.
pub async fn confirmed(
    studio: &Studio,
    snap: &mut Snap,
    artist: &Reference,
    (treatment, before): (Treatment, Timestamp),
) -> Result<Confirmed, Error> {
    let rows = BY_ARTIST.under(&(artist_hash(&studio.keyring, artist),)).every(snap).await?;
    let mut given: BTreeMap<Uuid, Vec<Uuid>> = BTreeMap::new();
    for (_, treatment, id) in rows {
        given.entry(treatment).or_default().push(id);
    }
    let ids: Vec<Uuid> = given.keys().copied().collect();
    let mut counted = Vec::new();
    for stored in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        // The record may have been put right since: it was another's work.
        let Some(stored) = readable(stored)? else { continue };
        let trace = &stored.trace;
        let is_hers = trace.artist_ref == *artist && trace.performed_at.0 < before;
        let given = given.get(&stored.id).map_or(&[][..], Vec::as_slice);
        if is_hers && stands(studio, snap, &stored, given).await? {
            counted.push(Counted {
                client: trace.client_ref.as_str().to_owned(),
                treatment: trace.treatment,
                at: trace.performed_at.0,
            });
        }
    }
    Ok(Confirmed::of(&counted, treatment))
}

/// What a sign-off for a site rests on: the confirmed treatments of an artist until now.
///
/// # Errors
/// What the store met.
pub async fn confirmed_for(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
    (artist, site): (&Reference, Site),
) -> Result<Confirmed, Error> {
    if !studio.craft.training.has_places() {
        return Ok(Confirmed::default());
    }
    match studio.craft.selector.treatment_on(site) {
        Some(treatment) => confirmed(studio, snap, artist, (treatment, now)).await,
        None => Ok(Confirmed::default()),
    }
}

/// Whether the artist of a treatment is, or may be, a student who did not work alone with all that
/// was opened on its day, and nobody confirmed that she was there.
///
/// # Errors
/// What the store met.
pub async fn wanting(
    studio: &Studio,
    snap: &mut Snap,
    record: &TreatmentRecord,
) -> Result<bool, Error> {
    // There is no work to confirm: a confirmation would be refused.
    if history::is_struck(record) {
        return Ok(false);
    }
    // The record may have been put right since: a confirmation of other work is none.
    let confirmed_of = (artist_hash(&studio.keyring, &record.artist_ref), record.id);
    let given = BY_ARTIST.under(&confirmed_of).every(snap).await?;
    let given: Vec<Uuid> = given.into_iter().map(|(.., id)| id).collect();
    let kept = sealed::load::<TreatmentTrace>(snap, record.id).await?;
    if stands(studio, snap, &kept, &given).await? {
        return Ok(false);
    }
    if !artists::may_be_student(studio, snap, &record.artist_ref).await? {
        return Ok(false);
    }
    let training = &studio.craft.training;
    if training.has_places() {
        let at = (record.treatment, record.performed_at.0);
        let confirmed = confirmed(studio, snap, &record.artist_ref, at).await?;
        if training.wanting(confirmed).next().is_some() {
            return Ok(true);
        }
    }
    let signed = sign_offs::of_artist(studio, snap, &record.artist_ref).await?;
    let Some(effect) = record.effect else { return Ok(true) };
    let nothing = Configuration { diameter_mm: None, count: None, grouping: None, taper: None };
    let mut opened = record.packs.iter().filter(|pack| pack.struck_in.is_none());
    // What was put right since may have been put right by the student: what was told before
    // must have been allowed as well.
    let told = record.amendments.iter().map(|amendment| &amendment.was);
    let effects = told.clone().filter_map(|was| was.effect).chain([effect]);
    let moments = told.filter_map(|was| was.performed_at).chain([record.performed_at]);
    let days: Vec<Date> = moments.map(|at| record.zone.rules().to_datetime(at.0).date()).collect();
    Ok(opened.any(|pack| {
        let sites = studio.craft.selector.sites(record.treatment, pack.site);
        let configuration = pack.configuration.unwrap_or(nothing);
        effects.clone().any(|effect| {
            let work = Work { configuration, effect, sites: sites.clone() };
            days.iter().any(|on| training.held(&signed, &work, *on).rung != Some(Rung::Alone))
        })
    }))
}
