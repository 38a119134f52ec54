//! Clients: a pseudonymous reference; everything else about them is sealed.
//!
//! Each answer is kept with the day on which it was given, the treatment it was
//! asked for and who asked; how long it counts is `craft::visit`'s. An answer
//! that comes again unchanged keeps its day, so writing a record back makes
//! nothing fresh. In records of before there were days an answer counts as of
//! the last change of the record, and for no treatment.
//!
//! | space | key | value |
//! |---|---|---|
//! | `clients` | keyed hash of the reference | reference, version, sealed record |

mod check;
mod keep;
mod list;
mod others;
mod patch;

pub(super) use check::age_told_on;
use check::check_answers;
pub use check::check_birth;
pub(super) use keep::{AGE, SKIN, ToldOf, note};
use keep::{keep, told};
pub use list::list;
pub(super) use others::{every_answer, heard};
pub use patch::patch;

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::answers::{Answer, Answers};
use etui_schema::clients::{AnswerGiven, Client, ClientRecord, OtherAnswer};
use etui_schema::vocabulary::{CivilDate, Instant, Language, Reference, Skin, Zone};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use super::Studio;
use super::documents::Sent;
use super::engine::Snap;
use super::error::{Error, readable};
use super::moment::Moment;
use super::opener::{Opener, Verified};
use super::plan::{Planned, Precondition, Repeat, to_json};
use super::sent_back::SentBack;
use super::vault::{self, Subject};
use crate::store::record::{Record, decode};
use crate::store::rows::Rows;
use crate::store::seal::{ClientId, Sealed};
use crate::store::verify::IndexEntries;
use crate::store::{Batch, Bytes, Read, Space};

/// The records.
pub const CLIENTS: Space = Space::new("clients");
const FIELD: &str = "record";

/// A client as stored.
#[derive(Debug, Serialize, Deserialize)]
pub struct StoredClient {
    client_ref: Reference,
    version: u64,
    updated_at: Instant,
    sealed: Sealed,
}

impl Record for StoredClient {
    const KIND: &'static str = "client";
}

impl Verified for StoredClient {
    const SPACE: Space = CLIENTS;

    fn rows(&self, key: &[u8], opener: &Opener<'_>) -> Result<IndexEntries, String> {
        let id = key.try_into().map_err(|_| "its key is not a hash".to_owned())?;
        let place = (CLIENTS, key, FIELD);
        opener.look(&ClientId::new(id), place, self.updated_at.0, &self.sealed)?;
        Ok(Vec::new())
    }
}

/// What is sealed of a client.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct SealedClient {
    /// Date of birth.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub born_on: Option<CivilDate>,
    /// The skin.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub skin: Option<Skin>,
    /// Answers by question id.
    #[serde(default, skip_serializing_if = "Answers::is_empty")]
    pub answers: Answers,
    /// Where each of them comes from.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub answered: BTreeMap<String, AnswerGiven>,
    /// Answers to questions that have another one for another treatment.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherAnswer>,
    /// The questions whose answers checks have noted.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub noted: BTreeSet<String>,
    /// Whether a check told the date of birth.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub is_birth_noted: bool,
    /// Whether a check began this record and nobody has put the client since.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub is_begun_by_check: bool,
    /// Language of messages.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub language: Option<Language>,
    /// The client's zone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zone: Option<Zone>,
}

impl SealedClient {
    /// Where an answer comes from; what was kept without a day is of `before`.
    fn given(&self, question: &str, before: CivilDate) -> AnswerGiven {
        let given = self.answered.get(question).cloned().unwrap_or_default();
        AnswerGiven { on: given.on.or(Some(before)), ..given }
    }

    /// What was sent, each answer with where it comes from.
    fn of(record: &ClientRecord, known: Option<&Known>, studio: &Studio, moment: &Moment) -> Self {
        let ClientRecord {
            born_on,
            skin,
            answers,
            given,
            answered,
            other_answers: _,
            language,
            zone,
            client_ref: _,
            alike: _,
            version: _,
            updated_at: _,
        } = record.clone();
        let sent_by = moment.holder.parse().ok();
        let before = known.map(|known| known.dated(studio));
        let origin = |question: &str| {
            let told = answered.get(question).or(given.as_ref()).cloned().unwrap_or_default();
            let is_same = |answer: Option<&Answer>| answer == answers.get(question);
            let same = |before: &Self| match question {
                SKIN => before.skin == skin,
                _ => is_same(before.answers.get(question)),
            };
            let of_place = |before: &Self| {
                let (answer, given) = before.of_place(studio, question, told.treatment)?;
                (told.treatment.is_some() && is_same(Some(answer))).then_some(given)
            };
            let kept = before.as_ref().and_then(|before| {
                let first = || before.answered.get(question).filter(|_| same(before)).cloned();
                of_place(before).or_else(first)
            });
            let today = CivilDate(moment.today);
            let AnswerGiven { on, treatment, asked_by } = kept.unwrap_or(AnswerGiven {
                on: Some(today),
                treatment: None,
                asked_by: sent_by.clone(),
            });
            // Another treatment makes it no younger: whoever asked anew says when.
            AnswerGiven {
                on: told.on.or(on),
                treatment: told.treatment.or(treatment),
                asked_by: told.asked_by.or(asked_by),
            }
        };
        let all = told(&answers, skin.as_ref());
        let mut answered: BTreeMap<String, AnswerGiven> =
            all.map(|id| (id.to_owned(), origin(id))).collect();
        let of_age = record.answered.get(AGE).or_else(|| {
            let before = before.as_ref().filter(|before| before.skin == skin)?;
            before.answered.get(AGE)
        });
        answered.extend(of_age.map(|given| (AGE.to_owned(), given.clone())));
        let mut sealed =
            Self { born_on, skin, answers, answered, language, zone, ..Self::default() };
        if let Some(before) = &before {
            sealed.carry_over(before, studio);
            sealed.set_apart(before, record, studio);
        }
        sealed
    }

    fn record(self) -> ClientRecord {
        let Self { born_on, skin, answers, answered, others, language, zone, .. } = self;
        ClientRecord {
            born_on,
            skin,
            answers,
            given: None,
            answered,
            other_answers: Some(others),
            language,
            zone,
            client_ref: None,
            alike: None,
            version: None,
            updated_at: None,
        }
    }
}

/// A client as read.
pub(super) struct Known {
    stored: StoredClient,
    record: SealedClient,
    alike: Option<Reference>,
}

impl Known {
    /// The studio's day of the last change.
    fn day(&self, studio: &Studio) -> CivilDate {
        CivilDate(studio.zone.rules().to_datetime(self.stored.updated_at.0).date())
    }

    /// The record in which every answer has its day.
    fn dated(&self, studio: &Studio) -> SealedClient {
        let before = self.day(studio);
        let dated = |id: &str| (id.to_owned(), self.record.given(id, before));
        let all = told(&self.record.answers, self.record.skin.as_ref());
        let of_age = self.record.answered.get_key_value(AGE);
        let of_age = of_age.map(|(id, given)| (id.clone(), given.clone()));
        let answered = all.map(dated).chain(of_age).collect();
        SealedClient { answered, ..self.record.clone() }
    }

    /// The client as callers see it.
    pub(super) fn shown(&self, studio: &Studio) -> Client {
        answer(&self.stored, self.dated(studio), self.alike.clone())
    }
}

pub(super) fn key_of(studio: &Studio, client_ref: &Reference) -> Bytes {
    studio.keyring.client_id(client_ref.as_str()).bytes().to_vec()
}

/// Looks a client up, with what it was read from.
pub(super) async fn read(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<Known>, Error> {
    let key = key_of(studio, client_ref);
    let Some(bytes) = snap.get(CLIENTS, &key).await? else { return Ok(None) };
    let stored: StoredClient = decode(&bytes)?;
    let subject = Subject::Client(client_ref.clone());
    let Some(access) = vault::for_read(studio, snap, &subject).await? else { return Ok(None) };
    let record = access.open((CLIENTS, &key, FIELD), stored.updated_at.0, &stored.sealed)?;
    let Some(record) = record else { return Ok(None) };
    let alike = alike(studio, snap, client_ref).await?;
    Ok(Some(Known { stored, record, alike }))
}

/// Who is kept under a reference in other capitals, and may be the same: nothing that is kept of
/// either is known of the other.
async fn alike(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<Reference>, Error> {
    let (upper, lower) = (client_ref.as_str().to_uppercase(), client_ref.as_str().to_lowercase());
    let first = lower.chars().take(1).flat_map(char::to_uppercase);
    let capital = first.chain(lower.chars().skip(1)).collect();
    for spelled in [upper, lower, capital] {
        let Ok(other) = spelled.parse::<Reference>() else { continue };
        if other != *client_ref && held(studio, snap, &other).await?.is_some() {
            return Ok(Some(other));
        }
    }
    Ok(None)
}

/// What lies under a client, be it readable or not: what a write replaces.
pub(super) async fn held(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<Bytes>, Error> {
    Ok(snap.get(CLIENTS, &key_of(studio, client_ref)).await?)
}

/// Looks a client up.
///
/// # Errors
/// What the store met.
pub async fn find(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<ClientRecord>, Error> {
    Ok(read(studio, snap, client_ref).await?.map(|known| known.dated(studio).record()))
}

/// Reads a client.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if it was erased.
pub async fn get(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Client, Error> {
    let known = read(studio, snap, client_ref).await?.ok_or_else(|| missing(client_ref))?;
    Ok(known.shown(studio))
}

/// What a client is called where there is none.
pub const CLIENT: &str = "client";

pub(super) fn missing(client_ref: &Reference) -> Error {
    Error::NotFound { what: CLIENT, id: client_ref.to_string() }
}

fn answer(stored: &StoredClient, record: SealedClient, alike: Option<Reference>) -> Client {
    let SealedClient { born_on, skin, answers, answered, others, language, zone, .. } = record;
    Client {
        client_ref: stored.client_ref.clone(),
        alike,
        born_on,
        skin,
        answers,
        answered,
        other_answers: others,
        language,
        zone,
        version: stored.version,
        updated_at: stored.updated_at,
    }
}

/// Plans to put a client.
///
/// # Errors
/// [`Error::Refused`] for a birth date that cannot be and for every answer that
/// fits no question, a precondition that does not hold, or what the store met.
pub async fn put(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    client_ref: &Reference,
    record: &ClientRecord,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    write(studio, snap, moment, (client_ref, Sent::Body), record, precondition).await
}

/// As [`put`], of a body or of a patch that was laid over what is kept.
async fn write(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (client_ref, sent): (&Reference, Sent),
    record: &ClientRecord,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    check_birth(record.born_on.map(|date| date.0), moment.today)?;
    let known = read(studio, snap, client_ref).await?;
    let dated = known.as_ref().map(|known| known.dated(studio));
    let record = &others::without_followers(studio, record, dated.as_ref());
    check_answers(studio, moment.today, (record, sent), dated.as_ref())?;
    let shown = known.as_ref().map(|known| to_json(&known.shown(studio))).transpose()?;
    precondition.check(shown.as_deref())?;
    let stamp = known.as_ref().map(|known| (known.stored.version, known.stored.updated_at));
    let ClientRecord { client_ref: named, version, updated_at, .. } = record;
    SentBack { reference: named.as_ref(), version: *version, updated_at: *updated_at }
        .check(("client_ref", client_ref), stamp)?;
    let key = key_of(studio, client_ref);
    let version = stamp.map_or(1, |(version, _)| version + 1);
    let access =
        vault::for_write(studio, snap, moment, &Subject::Client(client_ref.clone())).await?;
    let record = SealedClient::of(record, known.as_ref(), studio, moment);
    let (created, alike) = (known.is_none(), alike(studio, snap, client_ref).await?);
    let kept = (client_ref, &access);
    let (stored, batch) =
        keep(studio, snap, moment, kept, (version, &record), Batch::new()).await?;
    let batch = batch.audit(moment.entry("client.put", &format!("clients/{client_ref}"), version));
    Ok(Planned {
        created,
        answer: to_json(&answer(&stored, record, alike))?,
        location: None,
        batch: access.guard(batch),
        repeat: Repeat::Record(CLIENTS, key),
    })
}

/// Whether a stored client answers one of these questions.
///
/// # Errors
/// [`Error::NotFound`] if the client was erased; [`Error::Unreadable`]; what the
/// store met.
pub async fn answers_any(
    studio: &Studio,
    snap: &mut Snap,
    stored: &[u8],
    questions: &BTreeSet<String>,
) -> Result<bool, Error> {
    let StoredClient { client_ref, .. } = decode(stored)?;
    let known = read(studio, snap, &client_ref).await?.ok_or_else(|| missing(&client_ref))?;
    let SealedClient { answers, others, .. } = &known.record;
    let mut asked = answers.keys().chain(others.iter().map(|one| &one.question));
    Ok(asked.any(|id| questions.contains(id)))
}

/// The clients that were last put before an instant.
///
/// # Errors
/// What the store met.
pub async fn put_before(snap: &mut Snap, before: Timestamp) -> Result<Vec<Reference>, Error> {
    let (mut rows, mut found) = (Rows::all(CLIENTS), Vec::new());
    while let Some((_, bytes)) = rows.next(snap).await? {
        let client = decode::<StoredClient>(&bytes).map_err(Error::from);
        let Some(client) = readable(client)? else { continue };
        if client.updated_at.0 < before {
            found.push(client.client_ref);
        }
    }
    Ok(found)
}

/// Whether each of these clients has a record that was put since an instant, or one
/// that cannot be read and so may have been.
///
/// # Errors
/// What the store met.
pub async fn are_put_since(
    snap: &mut Snap,
    clients: &[ClientId],
    since: Timestamp,
) -> Result<Vec<bool>, Error> {
    let keys: Vec<Bytes> = clients.iter().map(|client| client.bytes().to_vec()).collect();
    let is_younger = |stored: Option<Bytes>| {
        stored.is_some_and(|stored| {
            decode::<StoredClient>(&stored).map_or(true, |client| since <= client.updated_at.0)
        })
    };
    Ok(snap.get_many(CLIENTS, &keys).await?.into_iter().map(is_younger).collect())
}
