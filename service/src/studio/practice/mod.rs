//! Practice of an artist: her sheets, what was handed in, what a trainer marked, and how
//! far that is.
//!
//! A sheet gets its number when it is made and is handed in once, by its day. A trainer
//! marks it once, with her own token. So nobody chooses afterwards what counts. Who acts
//! for an artist sees and makes her own alone; a trainer sees every student's.
//!
//! | space | key | value |
//! |---|---|---|
//! | `practice-sheets` | id | trace, sealed request and sheet |
//! | `practice-sheets-by-artist` | artist's pseudonym, number | id |
//! | `practice-hand-ins` | id | trace, sealed values and grades |
//! | `practice-hand-ins-by-sheet` | sheet | id of the one that counts |
//! | `practice-hand-ins-again` | sheet, number | ids of those after it |
//! | `practice-marks` | id | trace, sealed marks and grades |
//! | `practice-marks-by-sheet` | sheet | id |

mod erase;
mod hand_in;
mod pictures;
mod progress;
mod stored;

pub use erase::{dossier, erase};
pub use hand_in::{hand_in, mark};
pub use pictures::{Measured, awaited, hand_in_picture, measured};
pub use progress::{progress, signed_of};
pub use stored::{HandInTrace, MarksTrace, SheetTrace};

use etui_craft::refusal::Refusal;
use etui_craft::training::Numbered;
use etui_schema::endpoints;
use etui_schema::page::Page;
use etui_schema::practice_sheets::{
    HandedIn, PracticeSheet, PracticeSheetQuery, PracticeSheetRequest, SheetMarked,
};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{CivilDate, Instant, Language, Paper, Reference, SheetState};
use jiff::civil::Date;
use uuid::Uuid;

use self::stored::{BY_ARTIST, HANDED_IN, MARKED, number_key};
use super::artists::{StoredArtist, may_see};
use super::engine::Snap;
use super::error::{Error, readable};
use super::moment::Moment;
use super::paging::{Walk, broken};
use super::plan::{Planned, Repeat, to_json};
use super::sealed::{self, Trace};
use super::vault::{self, artist_id};
use super::{Studio, documents, drills};
use crate::store::index::{Index, Key};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Read};

/// Refuses whoever would make or hand in a sheet for somebody else.
fn own_alone(moment: &Moment, artist: &Reference, place: &str) -> Result<(), Error> {
    match &moment.mandate.acts_for {
        Some(acting) if acting != artist => {
            let why = format!("this token acts for `{acting}`, who practises for herself alone");
            Err(Error::at(place, FaultCode::NotAllowed, why).means(Refusal::OnlyOwn))
        }
        Some(_) | None => Ok(()),
    }
}

/// Plans to make a sheet.
///
/// # Errors
/// [`Error::Refused`] for an artist that is not kept or not the caller's own, and for
/// drills that cannot be made or do not fit.
pub async fn make(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    request: &PracticeSheetRequest,
) -> Result<Planned, Error> {
    let PracticeSheetRequest { artist_ref, drills: asked, anew } = request.clone();
    own_alone(moment, &artist_ref, "#/artist_ref")?;
    if documents::find::<StoredArtist, _>(studio, snap, &artist_ref).await?.is_none() {
        let why = format!("no artist is kept under `{artist_ref}`; put it first");
        return Err(Error::at("#/artist_ref", FaultCode::UnknownReference, why)
            .means(Refusal::ArtistUnknown));
    }
    if asked.effect.is_none() {
        let why = "a sheet that counts is for one effect";
        return Err(Error::at("#/drills/effect", FaultCode::Missing, why));
    }
    let made = drills::make_at(studio.craft.as_ref(), &asked, "#/drills", language)?;
    let id = moment.id()?;
    let number = next_number(studio, snap, &artist_ref).await?;
    let hand_in_until = CivilDate(studio.craft.training.hand_in_by(moment.today));
    let made_on = CivilDate(moment.today);
    let sheet = PracticeSheet {
        id,
        artist_ref: artist_ref.clone(),
        number,
        made_at: Instant(moment.now),
        made_on,
        hand_in_until,
        anew,
        request: asked,
        drills: made,
        state: SheetState::Open.into(),
        handed_in: None,
        again: Vec::new(),
        marked: None,
    };
    let trace = SheetTrace { artist_ref: artist_ref.clone(), number, made_on, hand_in_until };
    let row = BY_ARTIST.row(&(artist_id(&studio.keyring, &artist_ref), number_key(number)));
    let parts = (id, trace, row);
    let about = format!("practice-sheets/{id}");
    let planned =
        add(studio, snap, moment, parts, (request, &sheet), ("practice-sheet.make", &about))
            .await?;
    Ok(planned.at(endpoints::get_practice_sheet().at.filled(&[&id])))
}

/// A record that is made once, with its one index row.
async fn add<T: Trace>(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (id, trace, (space, row)): (Uuid, T, (crate::store::Space, Bytes)),
    (input, answer): (&T::Input, &T::Answer),
    (what, about): (&str, &str),
) -> Result<Planned, Error>
where
    T::Answer: serde::Serialize,
{
    let access = vault::for_write(studio, snap, moment, &trace.subject()).await?;
    let answer = to_json(answer)?;
    let keys = (&*studio.keyring, &access);
    let batch = sealed::add(Batch::new(), keys, moment, (id, trace), input, &answer)?
        .expect(space, row.clone(), None)
        .put(space, row, id.as_bytes().to_vec())
        .audit(moment.entry(what, about, 1));
    Ok(Planned {
        created: true,
        answer,
        location: None,
        batch: access.guard(batch),
        repeat: Repeat::Record(T::SPACE, id.as_bytes().to_vec()),
    })
}

/// One more than the last of hers.
async fn next_number(studio: &Studio, snap: &mut Snap, artist: &Reference) -> Result<u32, Error> {
    let under = (artist_id(&studio.keyring, artist),).write().prefix_range();
    let last = Rows::of(BY_ARTIST.space(), under).backwards().by(1).next(snap).await?;
    let Some((key, _)) = last else { return Ok(1) };
    let (_, number) = BY_ARTIST.read(&key)?;
    let number: u32 = number.parse().map_err(|_| broken(BY_ARTIST.space()))?;
    number.checked_add(1).ok_or_else(|| Error::conflict("no number is left for a sheet".to_owned()))
}

/// The sheet as it stands on a day.
///
/// # Errors
/// [`Error::NotFound`] if there is none, it is not the caller's to see, or was erased.
pub async fn get(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
) -> Result<PracticeSheet, Error> {
    let hidden = || Error::NotFound { what: SheetTrace::WHAT, id: id.to_string() };
    let stored = sealed::load::<SheetTrace>(snap, id).await?;
    match may_see(studio, snap, moment, &stored.trace.artist_ref).await {
        Err(Error::NotFound { .. }) => return Err(hidden()),
        seen => seen?,
    };
    let sheet = stored.said(studio, snap).await?;
    with_results(studio, snap, sheet, moment.today).await
}

/// The sheet to be printed.
///
/// # Errors
/// As [`get`]; for a paper on which it does not fit.
pub async fn drawn(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    id: Uuid,
) -> Result<String, Error> {
    let sheet = get(studio, snap, moment, id).await?;
    let paper = sheet.request.paper.unwrap_or(Paper::A4);
    let numbered = Numbered {
        number: sheet.number,
        artist: sheet.artist_ref.as_str(),
        hand_in_until: sheet.hand_in_until.0,
        code: pictures::code_of(id),
    };
    studio
        .craft
        .training
        .sheet(&sheet.drills, paper, Some(numbered), language)
        .map_err(|error| Error::conflict(error.to_string()))
}

/// Her sheets, first made first.
///
/// # Errors
/// As [`may_see`]; for a limit or a cursor that is not one.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    query: &PracticeSheetQuery,
) -> Result<Page<PracticeSheet>, Error> {
    let PracticeSheetQuery { artist_ref, limit, cursor } = query;
    may_see(studio, snap, moment, artist_ref).await?;
    let range = (artist_id(&studio.keyring, artist_ref),).write().prefix_range();
    let name = format!("practice-sheets artist={artist_ref}");
    let walk = Walk::begin(studio, name, BY_ARTIST.space(), range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let mut found = Vec::with_capacity(rows.len());
        for (_, id) in &rows {
            found.push(one(studio, snap, id, moment.today).await.map(Some));
        }
        Ok(found)
    })
    .await
}

async fn one(
    studio: &Studio,
    snap: &mut Snap,
    id: &[u8],
    today: Date,
) -> Result<PracticeSheet, Error> {
    let id = Uuid::from_slice(id).map_err(|_| broken(BY_ARTIST.space()))?;
    let sheet = sealed::load::<SheetTrace>(snap, id).await?.said(studio, snap).await?;
    with_results(studio, snap, sheet, today).await
}

/// A sheet with what became of it.
async fn with_results(
    studio: &Studio,
    snap: &mut Snap,
    mut sheet: PracticeSheet,
    today: Date,
) -> Result<PracticeSheet, Error> {
    sheet.handed_in = handed_in(studio, snap, sheet.id).await?;
    sheet.again = pictures::again(studio, snap, sheet.id).await?;
    sheet.marked = marked(studio, snap, sheet.id).await?;
    sheet.state = match (&sheet.handed_in, &sheet.marked) {
        (Some(_), Some(_)) => SheetState::Marked.into(),
        (Some(_), None) => SheetState::HandedIn.into(),
        (None, _) if today <= sheet.hand_in_until.0 => SheetState::Open.into(),
        (None, _) => SheetState::Missed.into(),
    };
    Ok(sheet)
}

async fn handed_in(
    studio: &Studio,
    snap: &mut Snap,
    sheet: Uuid,
) -> Result<Option<HandedIn>, Error> {
    let Some(id) = under(snap, HANDED_IN, sheet).await? else { return Ok(None) };
    let Some(stored) = readable(sealed::load::<HandInTrace>(snap, id).await)? else {
        return Ok(None);
    };
    readable(stored.said(studio, snap).await)
}

async fn marked(
    studio: &Studio,
    snap: &mut Snap,
    sheet: Uuid,
) -> Result<Option<SheetMarked>, Error> {
    let Some(id) = under(snap, MARKED, sheet).await? else { return Ok(None) };
    let Some(stored) = readable(sealed::load::<MarksTrace>(snap, id).await)? else {
        return Ok(None);
    };
    readable(stored.said(studio, snap).await)
}

async fn under(snap: &mut Snap, index: Index<(Uuid,)>, sheet: Uuid) -> Result<Option<Uuid>, Error> {
    let (space, row) = index.row(&(sheet,));
    let Some(id) = snap.get(space, &row).await? else { return Ok(None) };
    Uuid::from_slice(&id).map(Some).map_err(|_| broken(space))
}

/// Every sheet of an artist that can be read, in their order, and how many cannot.
async fn every(
    studio: &Studio,
    snap: &mut Snap,
    artist: &Reference,
    today: Date,
) -> Result<(Vec<PracticeSheet>, u32), Error> {
    let range = (artist_id(&studio.keyring, artist),).write().prefix_range();
    let mut rows = Rows::of(BY_ARTIST.space(), range);
    let (mut all, mut unreadable) = (Vec::new(), 0);
    while let Some((_, id)) = rows.next(snap).await? {
        match super::error::or_unreadable(one(studio, snap, &id, today).await.map(Some))? {
            super::error::Found::Read(sheet) => all.extend(sheet),
            super::error::Found::Unreadable => unreadable += 1,
        }
    }
    Ok((all, unreadable))
}
