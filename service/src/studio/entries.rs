//! Entries: what is added to a treatment after it was recorded.
//!
//! An entry is a record of its own, sealed like the treatment, with one index row
//! under it. Whose it is, of which treatment and when is said here for all of
//! them; a kind of entry says what it has beside that ([`EntryKind`]), how one is
//! made ([`Added`]), and has a row in [`etui_schema::entries`](mod@etui_schema::entries), by which all that
//! goes over every kind finds it.
//!
//! | space | key | value |
//! |---|---|---|
//! | `amendments`, `observations`, `symptom-reports`, `settlements`, `reviews` | id | trace, sealed input, sealed answer |
//! | `<one of them>-by-treatment` | treatment id, place in its order | id |

use std::future::ready;

use etui_schema::page::{Page, PageQuery};
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Instant, Language, Reference};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::moment::Moment;
use super::paging::{Walk, broken};
use super::plan::{Planned, Repeat, to_json};
use super::sealed::{self, Trace};
use super::vault::{self, Access, Subject};
use crate::store::key::KeyWriter;
use crate::store::keyring::Keyring;
use crate::store::record::{Came, Record};
use crate::store::rows::Rows;
use crate::store::verify::Indexed;
use crate::store::{Batch, Bytes, Space};

/// One kind of entry: what is its own in the trace.
pub trait EntryKind: Clone + Serialize + DeserializeOwned + Send + Sync + 'static {
    /// Where such entries lie.
    const SPACE: Space;
    /// Where its index rows lie, then those that it has beside them.
    const INDEXES: &'static [Indexed];
    /// What they are called.
    const WHAT: &'static str;
    /// What one is made from.
    type Input: Record;
    /// What one is answered with.
    type Answer: Record + Send;
    /// What came since to the documents that it is made from, and to those that it is answered with.
    const CAME: [&'static [Came]; 2] = [&[]; 2];
    /// Whether it is read by its id below its treatment, at the name of its space.
    const IS_READ_ALONE: bool = true;

    /// Its place among those of its treatment: in the order of time.
    fn place(entry: &Entry<Self>, id: Uuid, treatment: KeyWriter) -> KeyWriter {
        treatment.instant(entry.at.0).uuid(id)
    }

    /// Its index rows beside the one under its treatment.
    fn more_rows(_: &Entry<Self>, _: &Keyring, _: Uuid) -> Vec<(Space, Bytes)> {
        Vec::new()
    }

    /// One as it is read: with what became of it since.
    ///
    /// # Errors
    /// What the store met.
    fn joined(
        _: &Studio,
        _: &mut Snap,
        answer: Self::Answer,
    ) -> impl Future<Output = Result<Self::Answer, Error>> + Send {
        ready(Ok(answer))
    }
}

/// A kind of entry that is made below its treatment.
pub trait Added: EntryKind {
    /// Plans to add one.
    ///
    /// # Errors
    /// [`Error::NotFound`] if there is no such treatment; [`Error::Refused`] names every value
    /// that was refused.
    fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        language: Language,
        treatment_id: Uuid,
        request: &Self::Input,
    ) -> impl Future<Output = Result<Planned, Error>>;
}

/// What stays of an entry.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(bound = "K: Serialize + DeserializeOwned")]
pub struct Entry<K> {
    /// The client's reference.
    pub client_ref: Reference,
    /// The treatment.
    pub treatment_id: Uuid,
    /// When it was.
    pub at: Instant,
    /// What is its kind's own.
    #[serde(flatten)]
    pub own: K,
}

impl<K: EntryKind> Entry<K> {
    /// An entry of a treatment.
    pub(super) fn of(record: &TreatmentRecord, at: Instant, own: K) -> Self {
        Self { client_ref: record.client_ref.clone(), treatment_id: record.id, at, own }
    }

    /// Plans to add it; `what` is its name in the audit trail, with the version
    /// that the treatment has by it.
    ///
    /// # Errors
    /// [`Error::Internal`] if something cannot be sealed or written down.
    pub(super) fn add(
        self,
        batch: Batch,
        (studio, moment, access): (&Studio, &Moment, Access),
        id: Uuid,
        (input, answer): (&K::Input, &K::Answer),
        (what, version): (&str, u64),
    ) -> Result<Planned, Error> {
        let (space, row) = (under::<K>(), self.row(id));
        let about = format!("treatments/{}", self.treatment_id);
        let keys = (&*studio.keyring, &access);
        let answer = to_json(answer)?;
        let location = K::IS_READ_ALONE.then(|| format!("/v1/{about}/{}/{id}", K::SPACE.name()));
        let batch = sealed::add(batch, keys, moment, (id, self), input, &answer)?
            .expect(space, row.clone(), None)
            .put(space, row, id.as_bytes().to_vec())
            .audit(moment.entry(what, &about, version));
        Ok(Planned {
            created: true,
            answer,
            location,
            batch: access.guard(batch),
            repeat: Repeat::Record(K::SPACE, id.as_bytes().to_vec()),
        })
    }

    /// The key of its client, for adding it.
    ///
    /// # Errors
    /// As for [`vault::for_write`].
    pub(super) async fn access(
        &self,
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
    ) -> Result<Access, Error> {
        vault::for_write(studio, snap, moment, &self.subject()).await
    }

    fn row(&self, id: Uuid) -> Bytes {
        K::place(self, id, KeyWriter::new().uuid(self.treatment_id)).finish()
    }
}

impl<K: EntryKind> Trace for Entry<K> {
    const SPACE: Space = K::SPACE;
    const INDEXES: &'static [Indexed] = K::INDEXES;
    const WHAT: &'static str = K::WHAT;
    type Input = K::Input;
    type Answer = K::Answer;

    fn subject(&self) -> Subject {
        Subject::Client(self.client_ref.clone())
    }

    fn rows(&self, keyring: &Keyring, id: Uuid) -> Vec<(Space, Bytes)> {
        let mut rows = K::more_rows(self, keyring, id);
        rows.push((under::<K>(), self.row(id)));
        rows
    }
}

/// Where the index rows under the treatment lie.
const fn under<K: EntryKind>() -> Space {
    K::INDEXES[0].space()
}

/// Ids of the entries of one kind, in their order.
///
/// # Errors
/// What the store met.
pub async fn ids<K: EntryKind>(snap: &mut Snap, treatment_id: Uuid) -> Result<Vec<Uuid>, Error> {
    let mut rows = Rows::of(under::<K>(), KeyWriter::new().uuid(treatment_id).prefix_range());
    let mut ids = Vec::new();
    while let Some((_, value)) = rows.next(snap).await? {
        ids.push(Uuid::from_slice(&value).map_err(|_| broken(under::<K>()))?);
    }
    Ok(ids)
}

/// The entries of one kind, in their order.
///
/// # Errors
/// [`Error::NotFound`] if the client was erased; what the store met.
pub async fn all<K: EntryKind>(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<K::Answer>, Error> {
    let ids = ids::<K>(snap, treatment_id).await?;
    let stored = sealed::load_many::<Entry<K>>(snap, &ids).await?;
    let stored = stored.into_iter().collect::<Result<Vec<_>, Error>>()?;
    // All of them are of one client.
    let Some(first) = stored.first() else { return Ok(Vec::new()) };
    let access = first.access(studio, snap).await?;
    let mut all = Vec::with_capacity(stored.len());
    for entry in &stored {
        all.push(K::joined(studio, snap, entry.said_by(&access)?).await?);
    }
    Ok(all)
}

/// One entry of a treatment.
///
/// # Errors
/// [`Error::NotFound`] if the treatment has none of this id, or if the client was erased.
pub async fn one<K: EntryKind>(
    studio: &Studio,
    snap: &mut Snap,
    (treatment_id, id): (Uuid, Uuid),
) -> Result<K::Answer, Error> {
    let stored = sealed::load::<Entry<K>>(snap, id).await?;
    if stored.trace.treatment_id != treatment_id {
        return Err(Error::NotFound { what: K::WHAT, id: id.to_string() });
    }
    let answer = stored.said(studio, snap).await?;
    K::joined(studio, snap, answer).await
}

/// One page of the entries of one kind, in their order; `access` is the key of their client.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn page<K: EntryKind>(
    studio: &Studio,
    snap: &mut Snap,
    (treatment_id, access): (Uuid, &Access),
    query: &PageQuery,
) -> Result<Page<K::Answer>, Error> {
    let PageQuery { limit, cursor } = query;
    let name = format!("{} of={treatment_id}", K::SPACE.name());
    let range = KeyWriter::new().uuid(treatment_id).prefix_range();
    let walk = Walk::begin(studio, name, under::<K>(), range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let id = |(_, id): &(Bytes, Bytes)| Uuid::from_slice(id).map_err(|_| broken(under::<K>()));
        let ids = rows.iter().map(id).collect::<Result<Vec<_>, Error>>()?;
        let stored = sealed::load_many::<Entry<K>>(snap, &ids).await?;
        let mut all = Vec::with_capacity(stored.len());
        for one in stored {
            all.push(match one.and_then(|one| one.said_by(access)) {
                Ok(answer) => K::joined(studio, snap, answer).await.map(Some),
                Err(error) => Err(error),
            });
        }
        Ok(all)
    })
    .await
}
