//! Calendars to subscribe to.
//!
//! The secret stands in the path, since calendar readers send no headers. It is
//! stored nowhere, only its hash is; closing the calendar makes the path lead nowhere.
//!
//! | space | key | value |
//! |---|---|---|
//! | `calendars` | hash of the secret | whose entries, how told |
//! | `calendars-by-id` | id | hash of the secret |

use base64::Engine;
use base64::prelude::BASE64_URL_SAFE_NO_PAD;
use etui_craft::aftercare::calendar::Event;
use etui_craft::aftercare::entries::Entries;
use etui_schema::calendars::{CalendarFeed, CalendarOf, CalendarRequest};
use etui_schema::endpoints;
use etui_schema::page::{Page, PageQuery};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{Instant, Language, Reference};
use jiff::{SignedDuration, Timestamp};
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Studio;
use super::engine::Snap;
use super::error::{Error, readable};
use super::moment::Moment;
use super::opener::{Opener, Verified};
use super::paging::{Walk, records};
use super::plan::{Planned, Precondition, Repeat, to_json};
use super::sealed::{StoredSealed, Trace};
use super::treatment_aftercare;
use super::treatments::{self, TreatmentTrace};
use super::vault::{self, Subject};
use crate::store::record::{Record, decode, encode};
use crate::store::rows::Rows;
use crate::store::seal::Sealed;
use crate::store::verify::{IndexEntries, Indexed};
use crate::store::{Batch, Bytes, Order, Read, Space};

/// The records.
const CALENDARS: Space = Space::new("calendars");
const BY_ID: Space = Space::new("calendars-by-id");
/// Most calendars of one studio.
const MOST: usize = 200;
/// How far back treatments are shown, by when they were recorded.
const SHOWN: SignedDuration = SignedDuration::from_hours(24 * 200);
/// Most treatments in one calendar, the latest first.
const MOST_TREATMENTS: usize = 400;

/// A calendar as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredCalendar {
    id: Uuid,
    of: CalendarOf,
    reference: Option<Reference>,
    detail: bool,
    language: Language,
    opened_at: Instant,
    /// In the copy for a repeat of a client's: sealed under her key, so that nothing is repeated
    /// once that is gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    hers: Option<Sealed>,
}

/// What is sealed in it: that there was such a calendar.
#[derive(Debug, Serialize, Deserialize)]
struct Hers;

impl Record for Hers {
    const KIND: &'static str = "calendar-of-client";
}

/// The field in which it is sealed.
const HERS: &str = "hers";

impl Record for StoredCalendar {
    const KIND: &'static str = "calendar";
}

impl Verified for StoredCalendar {
    const SPACE: Space = CALENDARS;
    const INDEXES: &'static [Indexed] = &[Indexed::Whole(BY_ID)];

    fn rows(&self, _: &[u8], _: &Opener<'_>) -> Result<IndexEntries, String> {
        Ok(vec![(BY_ID, self.id.as_bytes().to_vec())])
    }
}

impl StoredCalendar {
    fn answer(self, path: Option<String>) -> CalendarFeed {
        let Self { id, of, reference, detail, language, opened_at, hers: _ } = self;
        CalendarFeed { id, of, reference, detail, language, opened_at, path }
    }
}

/// The secret of a calendar: 256 bits of a keyed hash of its id, so that it is
/// stored nowhere and only the studio's key can make it.
fn secret_of(studio: &Studio, id: Uuid) -> String {
    BASE64_URL_SAFE_NO_PAD.encode(studio.index_key.hash("calendar-secret", &[id.as_bytes()]))
}

fn path_of(secret: &str) -> String {
    endpoints::get_calendar().at.filled(&[&secret])
}

fn key_of(studio: &Studio, secret: &str) -> Bytes {
    studio.index_key.hash("calendar", &[secret.as_bytes()]).to_vec()
}

/// Plans to open a calendar.
///
/// # Errors
/// [`Error::Refused`] for a reference that is missing or surplus;
/// [`Error::Conflict`] if there are too many.
pub async fn open(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    request: &CalendarRequest,
) -> Result<Planned, Error> {
    let CalendarRequest { of, reference, detail, language } = request.clone();
    match (of, &reference) {
        (CalendarOf::Studio, Some(_)) => {
            let why = "the studio's calendar takes no reference";
            return Err(Error::at("#/reference", FaultCode::Contradiction, why));
        }
        (CalendarOf::Artist | CalendarOf::Client, None) => {
            let why = format!("which {of}? send its reference");
            return Err(Error::at("#/reference", FaultCode::Missing, why));
        }
        (CalendarOf::Studio, None) | (CalendarOf::Artist | CalendarOf::Client, Some(_)) => {}
    }
    if MOST <= snap.scan(BY_ID, Bytes::new()..Bytes::new(), Order::Ascending, MOST).await?.len() {
        let why = format!("{MOST} calendars are open; close one first");
        return Err(Error::conflict(why));
    }
    let id = moment.id()?;
    let stored = StoredCalendar {
        id,
        of,
        reference,
        detail: detail.unwrap_or(false),
        language: language.unwrap_or(studio.language),
        opened_at: Instant(moment.now),
        hers: None,
    };
    let secret = secret_of(studio, id);
    let key = key_of(studio, &secret);
    let (copy, batch) = copied(studio, snap, moment, (&stored, &key)).await?;
    let batch = batch
        .expect(CALENDARS, key.clone(), None)
        .put(CALENDARS, key.clone(), encode(&stored)?)
        .put(BY_ID, id.as_bytes().to_vec(), key)
        .audit(moment.entry("calendar.open", &format!("calendars/{id}"), 1));
    Ok(Planned {
        created: true,
        answer: to_json(&stored.answer(Some(path_of(&secret))))?,
        location: Some(endpoints::get_calendar_feed().at.filled(&[&id])),
        batch,
        // The path is stored nowhere; a repeat makes it anew.
        repeat: Repeat::Copy(CALENDARS, copy),
    })
}

/// The copy from which a repeat is answered, and a batch that keeps the client's key with it.
async fn copied(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (stored, key): (&StoredCalendar, &Bytes),
) -> Result<(Bytes, Batch), Error> {
    let Some(client) = stored.client() else { return Ok((encode(stored)?, Batch::new())) };
    let access = vault::for_write(studio, snap, moment, &client).await?;
    let hers = access.seal(moment, (CALENDARS, key.as_slice(), HERS), &Hers)?;
    let copy = encode(&StoredCalendar { hers: Some(hers), ..stored.clone() })?;
    Ok((copy, access.guard(Batch::new())))
}

impl StoredCalendar {
    /// The client whose entries it shows.
    fn client(&self) -> Option<Subject> {
        let reference = self.reference.clone().filter(|_| self.of == CalendarOf::Client);
        reference.map(Subject::Client)
    }

    /// Whether a client's key that sealed this copy is still there. What a former build copied
    /// says nothing of her key, and is not repeated.
    async fn is_known(&self, studio: &Studio, snap: &mut Snap, key: &[u8]) -> Result<bool, Error> {
        let Some(client) = self.client() else { return Ok(true) };
        let Some(hers) = &self.hers else { return Ok(false) };
        let Some(access) = vault::for_read(studio, snap, &client).await? else { return Ok(false) };
        let open = access.open::<Hers>((CALENDARS, key, HERS), self.opened_at.0, hers)?;
        Ok(open.is_some())
    }
}

/// The answer of an earlier request; its path leads nowhere if the calendar was
/// closed since.
///
/// # Errors
/// [`Error::Erased`] if it was a client's who was erased since; [`Error::Unreadable`]; what the
/// store met.
pub async fn repeat(studio: &Studio, snap: &mut Snap, stored: &[u8]) -> Result<Vec<u8>, Error> {
    let stored: StoredCalendar = decode(stored)?;
    let secret = secret_of(studio, stored.id);
    if !stored.is_known(studio, snap, &key_of(studio, &secret)).await? {
        return Err(Error::Erased);
    }
    to_json(&stored.answer(Some(path_of(&secret))))
}

fn missing(id: &str) -> Error {
    Error::NotFound { what: "calendar", id: id.to_owned() }
}

/// One page of the open calendars, in the order in which they were opened.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &PageQuery,
) -> Result<Page<CalendarFeed>, Error> {
    let walk = Walk::over(studio, BY_ID, query)?;
    walk.page(snap, async |snap, rows| {
        let keys: Vec<Bytes> = rows.into_iter().map(|(_, key)| key).collect();
        let held = records::<StoredCalendar>(snap, CALENDARS, &keys).await?;
        Ok(held.into_iter().map(|one| one.map(|calendar| Some(calendar.answer(None)))).collect())
    })
    .await
}

/// One open calendar, without its path.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this id.
pub async fn get(snap: &mut Snap, id: Uuid) -> Result<CalendarFeed, Error> {
    Ok(held(snap, id).await?.2.answer(None))
}

/// A calendar with its key and the bytes it was read from.
async fn held(snap: &mut Snap, id: Uuid) -> Result<(Bytes, Bytes, StoredCalendar), Error> {
    let absent = || missing(&id.to_string());
    let key = snap.get(BY_ID, id.as_bytes()).await?.ok_or_else(absent)?;
    let bytes = snap.get(CALENDARS, &key).await?.ok_or_else(absent)?;
    let stored = decode(&bytes)?;
    Ok((key, bytes, stored))
}

/// Plans to close a calendar.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this id; a precondition that does not hold.
pub async fn close(
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let (key, bytes, stored) = held(snap, id).await?;
    let answer = stored.answer(None);
    precondition.check_if_sent(&to_json(&answer)?)?;
    Planned::changed(
        &answer,
        Batch::new()
            .expect(CALENDARS, key.clone(), Some(bytes))
            .del(CALENDARS, key)
            .del(BY_ID, id.as_bytes().to_vec())
            .audit(moment.entry("calendar.close", &format!("calendars/{id}"), 2)),
    )
}

/// Adds to a batch that every calendar of a client is closed.
///
/// # Errors
/// What the store met.
pub(super) async fn closed_of_client(
    snap: &mut Snap,
    mut batch: Batch,
    client: &Reference,
) -> Result<Batch, Error> {
    for (key, bytes, stored) in held_of_client(snap, client).await? {
        batch = batch
            .expect(CALENDARS, key.clone(), Some(bytes))
            .del(CALENDARS, key)
            .del(BY_ID, stored.id.as_bytes().to_vec());
    }
    Ok(batch)
}

/// The open calendars of a client, without their paths.
///
/// # Errors
/// What the store met.
pub(super) async fn of_client(
    snap: &mut Snap,
    client: &Reference,
) -> Result<Vec<CalendarFeed>, Error> {
    let held = held_of_client(snap, client).await?;
    Ok(held.into_iter().map(|(.., stored)| stored.answer(None)).collect())
}

async fn held_of_client(
    snap: &mut Snap,
    client: &Reference,
) -> Result<Vec<(Bytes, Bytes, StoredCalendar)>, Error> {
    let mut all = Vec::new();
    for (_, key) in snap.scan(BY_ID, Bytes::new()..Bytes::new(), Order::Ascending, MOST).await? {
        let Some(bytes) = snap.get(CALENDARS, &key).await? else { continue };
        let stored: StoredCalendar = decode(&bytes)?;
        if stored.of == CalendarOf::Client && stored.reference.as_ref() == Some(client) {
            all.push((key, bytes, stored));
        }
    }
    Ok(all)
}

/// The calendar behind a secret, as iCalendar.
///
/// # Errors
/// [`Error::NotFound`] if the secret opens none.
pub async fn feed(
    studio: &Studio,
    snap: &mut Snap,
    now: Timestamp,
    secret: &str,
) -> Result<String, Error> {
    let found = snap.get(CALENDARS, &key_of(studio, secret)).await?.ok_or_else(|| missing(""))?;
    let stored: StoredCalendar = decode(&found)?;
    let ids = match (stored.of, &stored.reference) {
        (CalendarOf::Client, Some(client)) => {
            treatments::latest_of_client(studio, snap, client, MOST_TREATMENTS).await?
        }
        (CalendarOf::Studio | CalendarOf::Artist, _) | (CalendarOf::Client, None) => {
            recorded(snap, now, stored.reference.as_ref()).await?
        }
    };
    let mut events: Vec<Event> = Vec::new();
    for id in ids {
        let made = treatment_aftercare::events(studio, snap, id, stored.language, stored.detail);
        // Of an erased client nothing is left to show.
        events.extend(readable(made.await)?.into_iter().flatten());
    }
    Ok(Entries::calendar(&studio.craft.plans, stored.language, stored.detail, events).write())
}

/// What was recorded of late, oldest first; an id begins with its time.
async fn recorded(
    snap: &mut Snap,
    now: Timestamp,
    artist: Option<&Reference>,
) -> Result<Vec<Uuid>, Error> {
    let since = now.checked_sub(SHOWN).unwrap_or(Timestamp::UNIX_EPOCH);
    let range = treatments::first_id(since).as_bytes().to_vec()..Bytes::new();
    let mut rows = Rows::of(TreatmentTrace::SPACE, range);
    let mut ids = Vec::new();
    while ids.len() < MOST_TREATMENTS
        && let Some((_, bytes)) = rows.next(snap).await?
    {
        let record = decode::<StoredSealed<TreatmentTrace>>(&bytes).map_err(Error::from);
        let Some(record) = readable(record)? else { continue };
        if artist.is_none_or(|wanted| *wanted == record.trace.artist_ref) {
            ids.push(record.id);
        }
    }
    Ok(ids)
}
