//! Sign-offs: a trainer answers for what another artist may do.
//!
//! Who signs is told by the token and by nothing else: the artist that an `admin`
//! bound it to, or the owner. Nobody signs for herself, a student for nobody, and
//! whoever is not named trainer by an `admin` for no more than she works alone with
//! herself. A sign-off is never changed; it is taken back, and stays on record.
//!
//! | space | key | value |
//! |---|---|---|
//! | `sign-offs` | id | the record, what was written beside it sealed under the artist's key |
//! | `sign-offs-told` | id; `looked-at` | told that it ends; on which day all were looked at |
//! | `sign-offs-by-artist` | keyed hash of the artist's reference, id | – |

mod forget;
mod lapsing;
mod law;
mod read;
mod stored;

pub use forget::forget;
pub use lapsing::tell_lapsing;
pub use law::long_enough;
pub(super) use read::kept_of;
pub use read::{get, list, of_artist, repeat};
pub use stored::{StoredSignOff, StoredWithdrawal, Words};

use etui_craft::refusal::Refusal;
use etui_craft::training::{Confirmed, SignedOff};
use etui_schema::endpoints;
use etui_schema::events::EventType;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::sign_offs::{SignOffRequest, WithdrawalRequest};
use etui_schema::vocabulary::{Instant, Reference};
use uuid::Uuid;

use self::stored::Given;
use super::Studio;
use super::artists::StoredArtist;
use super::documents;
use super::engine::Snap;
use super::error::Error;
use super::moment::{Moment, OWNER};
use super::outbox::{self, Happened};
use super::plan::{Planned, Repeat, to_json};
use super::vault::{self, Subject};
use crate::store::index::Index;
use crate::store::record::{HashKey, decode, encode};
use crate::store::{Batch, Bytes, Read, Space};

/// The records.
pub const SIGN_OFFS: Space = Space::new("sign-offs");
/// Ids by artist, in the order in which they were given.
pub const BY_ARTIST: Index<([u8; 32], Uuid)> = Index::new("sign-offs-by-artist");

fn artist_hash(secret: &HashKey, artist: &Reference) -> [u8; 32] {
    secret.reference("sign-off", artist.as_str())
}

/// Plans to give a sign-off; `confirmed` are the treatments of whom it is for, as
/// `countersignatures` counts them.
///
/// # Errors
/// [`Error::Refused`] for whoever may not sign it, an artist that is not kept, or a
/// last day out of range.
pub async fn give(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &SignOffRequest,
    confirmed: Confirmed,
) -> Result<Planned, Error> {
    let (batch, signed_by) = signer(studio, snap, moment, request).await?;
    let batch = check(studio, snap, moment, (request, confirmed), batch).await?;
    let SignOffRequest { artist_ref, covers, rung, valid_until, note } = request.clone();
    let id = moment.id()?;
    let access =
        vault::for_write(studio, snap, moment, &Subject::Artist(artist_ref.clone())).await?;
    let words = Words { note, reason: None };
    let sealed = words.sealed(&access, moment, id)?;
    let (signed_at, artist) = (Instant(moment.now), artist_ref.clone());
    let given = Given { id, artist_ref, covers, rung, signed_by, signed_at, valid_until };
    let stored = given.with(sealed);
    let key = id.as_bytes().to_vec();
    // What was written beside it stays sealed in the copy that a repeat is answered from.
    let record = encode(&stored)?;
    let (space, row) = BY_ARTIST.row(&(artist_hash(&studio.index_key, &artist), id));
    let batch = batch.expect(SIGN_OFFS, key.clone(), None).put(SIGN_OFFS, key, record.clone()).put(
        space,
        row,
        Vec::new(),
    );
    let happened = Happened::sign_off(EventType::SignOffGiven, id, artist);
    Ok(Planned {
        created: true,
        answer: to_json(&stored.answer(words))?,
        location: Some(endpoints::get_sign_off().at.filled(&[&id])),
        batch: outbox::add(access.guard(batch), moment, happened)?.audit(moment.entry(
            "sign-off.give",
            &format!("sign-offs/{id}"),
            1,
        )),
        repeat: Repeat::Copy(SIGN_OFFS, record),
    })
}

/// Who signs, if she may; and that what allows it is still so when it is written: who
/// was made a student, or lost what she signs by, in between signs nothing.
async fn signer(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &SignOffRequest,
) -> Result<(Batch, Reference), Error> {
    let batch = Batch::new();
    let Some(signer) = moment.signer() else {
        let why = "this token acts for no artist; a sign-off is given with one that an `admin` bound to a trainer";
        return Err(not_allowed("#", why));
    };
    if signer == request.artist_ref {
        return Err(
            not_allowed("#/artist_ref", "nobody signs off herself").means(Refusal::SignsHerself)
        );
    }
    // The owner binds tokens and names trainers: what she signs, she answers for.
    if moment.mandate.acts_for.is_none() {
        return Ok((batch, signer));
    }
    let (batch, artist) =
        documents::expected::<StoredArtist, _>(studio, snap, batch, &signer).await?;
    let Some(artist) = artist else {
        let why = format!("this token acts for `{signer}`, and no such artist is kept");
        return Err(not_allowed("#", why));
    };
    if artist.is_student() {
        return Err(not_allowed("#", format!("`{signer}` is a student, and signs for nobody")));
    }
    if artist.is_trainer() {
        return Ok((batch, signer));
    }
    if let Some(batch) =
        by_word_of_a_trainer(studio, snap, moment, (request, &signer), batch).await?
    {
        return Ok((batch, signer));
    }
    let why = format!(
        "`{signer}` is not named trainer by an `admin`, and not signed off to work alone with all of this herself"
    );
    Err(not_allowed("#/covers", why))
}

/// Whether the word by which an artist signs goes back to somebody who needs none: the owner, or
/// whoever is named trainer now. Two who signed each other have nobody's. What it goes by stays as
/// it is until it is written.
async fn by_word_of_a_trainer(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (request, signer): (&SignOffRequest, &Reference),
    mut batch: Batch,
) -> Result<Option<Batch>, Error> {
    let (mut asked, mut at) = (vec![signer.clone()], 0);
    while let Some(artist) = asked.get(at).cloned() {
        at += 1;
        batch = unchanged(studio, snap, batch, &artist).await?;
        let kept = kept_of(studio, snap, &artist).await?;
        let words: Vec<SignedOff> =
            kept.iter().map(|stored| stored.weighed(studio.zone.rules())).collect();
        for (stored, word) in kept.iter().zip(&words) {
            let by = &stored.signed_by;
            let training = &studio.craft.training;
            if asked.contains(by) || !training.may_sign(word, &words, &request.covers, moment.today)
            {
                continue;
            }
            let (next, kept) =
                documents::expected::<StoredArtist, _>(studio, snap, batch, by).await?;
            batch = next;
            match kept {
                None if by.as_str() == OWNER => return Ok(Some(batch)),
                Some(kept) if kept.is_student() => {}
                Some(kept) if kept.is_trainer() => return Ok(Some(batch)),
                Some(_) => asked.push(by.clone()),
                None => {}
            }
        }
    }
    Ok(None)
}

/// Adds to a batch that every sign-off of an artist is as it is now.
async fn unchanged(
    studio: &Studio,
    snap: &mut Snap,
    mut batch: Batch,
    artist: &Reference,
) -> Result<Batch, Error> {
    let under = BY_ARTIST.under(&(artist_hash(&studio.index_key, artist),));
    for (_, id) in under.every(snap).await? {
        let key = id.as_bytes().to_vec();
        let held = snap.get(SIGN_OFFS, &key).await?;
        batch = batch.expect(SIGN_OFFS, key, held);
    }
    Ok(batch)
}

/// Whether the caller may answer for what an artist does not hold: the owner, or
/// somebody else who is named trainer.
///
/// # Errors
/// What the store met.
pub async fn answers_for(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    artist: &Reference,
) -> Result<bool, Error> {
    let Some(signer) = moment.signer().filter(|signer| signer != artist) else { return Ok(false) };
    if moment.mandate.acts_for.is_none() {
        return Ok(true);
    }
    let found = documents::find::<StoredArtist, _>(studio, snap, &signer).await?;
    Ok(found.is_some_and(|signer| signer.is_trainer() && !signer.is_student()))
}

fn not_allowed(pointer: &str, why: impl Into<String>) -> Error {
    Error::at(pointer, FaultCode::NotAllowed, why).means(Refusal::NeedsTrainer)
}

async fn check(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (request, confirmed): (&SignOffRequest, Confirmed),
    batch: Batch,
) -> Result<Batch, Error> {
    let SignOffRequest { artist_ref, covers, valid_until, .. } = request;
    let mut faults = Vec::new();
    let (from, to) = (covers.diameter_mm.from, covers.diameter_mm.to);
    if to < from {
        let why = format!("{to} mm is finer than `from`, {from} mm");
        faults.push(Fault::new("#/covers/diameter_mm/to", FaultCode::Contradiction, why));
    }
    let selector = &studio.craft.selector;
    let treatment = selector.treatment_on(covers.site);
    if !treatment.is_some_and(|it| selector.effects(it).any(|effect| effect == covers.effect)) {
        let why = format!("`{}` is not done on this site: {}", covers.effect, covers.site);
        faults.push(Fault::new("#/covers/effect", FaultCode::Contradiction, why));
    }
    let last = studio.craft.training.latest_end(moment.today);
    if !(moment.today..=last).contains(&valid_until.0) {
        let why = format!("a day from {} to {last} is accepted", moment.today);
        let fault = Fault::new("#/valid_until", FaultCode::OutOfRange, why);
        faults.push(fault.means(Refusal::SignOffUntil.of_day(last)));
    }
    let (batch, kept) =
        documents::expected::<StoredArtist, _>(studio, snap, batch, artist_ref).await?;
    match kept {
        None => {
            let why = format!("no artist is kept under `{artist_ref}`; put it first");
            let fault = Fault::new("#/artist_ref", FaultCode::UnknownReference, why);
            faults.push(fault.means(Refusal::ArtistUnknown));
        }
        Some(artist) if artist.is_student() => {
            faults.extend(law::stands_against(studio, snap, moment, (request, confirmed)).await?);
        }
        Some(_) => {}
    }
    if faults.is_empty() { Ok(batch) } else { Err(Error::Refused(faults)) }
}

/// Plans to take a sign-off back.
///
/// # Errors
/// [`Error::NotFound`]; [`Error::Refused`] for whoever may not; [`Error::Conflict`]
/// if it was taken back before.
pub async fn withdraw(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    request: &WithdrawalRequest,
) -> Result<Planned, Error> {
    let (stored, bytes) = load(snap, id).await?;
    let by = moment.signer().filter(|by| *by != stored.artist_ref).ok_or_else(|| {
        let why = "a sign-off is taken back with a token that acts for an artist, and not for the one who was signed off";
        not_allowed("#", why)
    })?;
    if let Some(acting) = &moment.mandate.acts_for {
        let artist = documents::find::<StoredArtist, _>(studio, snap, acting).await?;
        if artist.is_none_or(|artist| artist.is_student()) {
            let why = format!("`{acting}` is a student or not kept, and takes nothing back");
            return Err(not_allowed("#", why));
        }
    }
    if let Some(before) = &stored.withdrawn {
        return Err(Error::conflict(format!("it was taken back on {} before", before.at))
            .means(Refusal::SignOffWithdrawn));
    }
    let WithdrawalRequest { reason } = request.clone();
    let before = stored.words(studio, snap).await?.unwrap_or_default();
    let words = Words { reason: Some(reason), ..before };
    let access = vault::for_write(studio, snap, moment, &stored.subject()).await?;
    let sealed = words.sealed(&access, moment, id)?;
    let next = stored.taken_back(Instant(moment.now), by, sealed);
    let key = id.as_bytes().to_vec();
    let artist_ref = next.artist_ref.clone();
    let record = encode(&next)?;
    let batch = Batch::new().expect(SIGN_OFFS, key.clone(), Some(bytes)).put(
        SIGN_OFFS,
        key,
        record.clone(),
    );
    let happened = Happened::sign_off(EventType::SignOffWithdrawn, id, artist_ref);
    let entry = moment.entry("sign-off.withdraw", &format!("sign-offs/{id}"), next.version);
    Ok(Planned {
        created: true,
        answer: to_json(&next.answer(words))?,
        location: None,
        batch: outbox::add(access.guard(batch), moment, happened)?.audit(entry),
        repeat: Repeat::Copy(SIGN_OFFS, record),
    })
}

/// Whom a sign-off is for.
///
/// # Errors
/// [`Error::NotFound`].
pub async fn whose(snap: &mut Snap, id: Uuid) -> Result<Reference, Error> {
    Ok(load(snap, id).await?.0.artist_ref)
}

async fn load(snap: &mut Snap, id: Uuid) -> Result<(StoredSignOff, Bytes), Error> {
    let missing = || Error::NotFound { what: "sign-off", id: id.to_string() };
    let bytes = snap.get(SIGN_OFFS, id.as_bytes()).await?.ok_or_else(missing)?;
    Ok((decode(&bytes)?, bytes))
}
