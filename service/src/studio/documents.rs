//! Records that the caller names: one value under one reference.
//!
//! Artists and machines are such documents. A reference is not stored in a
//! key: keys stay in the log after a deletion, so a keyed hash stands there.

use etui_schema::page::{Page, PageQuery};
use etui_schema::vocabulary::{Instant, Reference};
use jiff::Timestamp;
use serde::Serialize;
use serde_json::Value;

use super::Studio;
use super::engine::Snap;
use super::error::Error;
use super::merge::read_merged;
use super::moment::{Mandate, Moment};
use super::paging::Walk;
use super::plan::{Planned, Precondition, Repeat, to_json};
use super::sent_back::SentBack;
use super::whose::is_of;
use crate::store::record::{Record, decode, encode};
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Read, Space};

/// How a request came: what it lacks was left out of a body, or taken away by a patch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sent {
    /// A body; some members that it leaves out stay.
    Body,
    /// What is held with a patch laid over it: it lacks what the patch took away.
    Patched,
}

/// One kind of document.
pub trait Document: Record {
    /// Where it lies.
    const SPACE: Space;
    /// What it is called in messages.
    const WHAT: &'static str;
    /// The name of its reference in paths.
    const REFERENCE: &'static str;
    /// Where it is noted that one was taken away, if that matters to whoever comes next.
    const REMOVED: Option<Space> = None;
    /// What a caller puts.
    type Request;
    /// What a caller gets.
    type Answer: Serialize;

    /// Refuses what cannot be kept, beyond what its type refuses.
    ///
    /// # Errors
    /// [`Error::Refused`].
    fn check(_: &Self::Request) -> Result<(), Error> {
        Ok(())
    }
    /// What the caller sends back of what the service sets itself.
    fn sent_back(request: &Self::Request) -> SentBack<'_>;
    /// The document that a request makes, as the given version.
    fn of(reference: &Reference, request: &Self::Request, version: u64, at: Timestamp) -> Self;
    /// It, put in the place of what is there: what may not be changed by this caller
    /// is refused, what was left out stays.
    ///
    /// # Errors
    /// [`Error::Refused`].
    fn over(self, _: Option<&Self>, _: &Moment, _: Sent) -> Result<Self, Error> {
        Ok(self)
    }
    /// Refuses a caller who may not write here, and a new document that its neighbours stand
    /// against. `new` is there if nothing is kept yet under the reference.
    ///
    /// # Errors
    /// [`Error::Refused`], or what the store met.
    fn may_write<R: Read>(
        _: &Studio,
        _: &mut R,
        _: &Moment,
        _: &Reference,
        _new: Option<&Self>,
    ) -> impl Future<Output = Result<(), Error>> + Send {
        async { Ok(()) }
    }
    /// Whether this caller may take it away.
    ///
    /// # Errors
    /// [`Error::Refused`].
    fn may_go(&self, _: &Moment) -> Result<(), Error> {
        Ok(())
    }
    /// Whether nothing is of it any more, so that it may be taken away: a batch that expects that
    /// this is still so when it is written.
    ///
    /// # Errors
    /// [`Error::Conflict`], or what the store met.
    fn is_empty<R: Read>(
        _: &Studio,
        _: &mut R,
        _: &Reference,
    ) -> impl Future<Output = Result<Batch, Error>> + Send {
        async { Ok(Batch::new()) }
    }
    /// Adds to a batch that what it names is still there when the batch is written.
    ///
    /// # Errors
    /// [`Error::Refused`] for what is not, or what the store met.
    fn stands<R: Read>(
        &self,
        _: &Studio,
        _: &mut R,
        batch: Batch,
    ) -> impl Future<Output = Result<Batch, Error>> + Send {
        async { Ok(batch) }
    }
    /// The branch that it says.
    fn branch(&self) -> Option<&Reference> {
        None
    }
    /// Whether it is within a caller's reach.
    fn is_reached(&self, _: &Mandate) -> bool {
        true
    }
    /// Its version, from 1, and when it was made.
    fn stamp(&self) -> (u64, Instant);
    /// What a caller gets.
    fn answer(&self) -> Self::Answer;
}

/// Whether a document was once taken away under a reference.
///
/// # Errors
/// What the store met.
pub async fn was_removed<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    reference: &Reference,
) -> Result<bool, Error> {
    let Some(space) = D::REMOVED else { return Ok(false) };
    Ok(snap.get(space, &key_of::<D>(studio, reference)).await?.is_some())
}

/// The key of a document.
pub(super) fn key_of<D: Document>(studio: &Studio, reference: &Reference) -> Bytes {
    studio.index_key.reference(D::WHAT, reference.as_str()).to_vec()
}

/// Another document whose reference, read `of` it, is the same but for case and marks: whoever
/// reads it takes one for the other.
///
/// # Errors
/// What the store met.
pub async fn look_alike<D: Document, R: Read>(
    snap: &mut R,
    reference: &Reference,
    of: fn(&D) -> &Reference,
) -> Result<Option<Reference>, Error> {
    let (new, mut rows) = (bare(reference.as_str()), Rows::all(D::SPACE));
    while let Some((_, bytes)) = rows.next(snap).await? {
        let Ok(document) = decode::<D>(&bytes) else { continue };
        if bare(of(&document).as_str()) == new {
            return Ok(Some(of(&document).clone()));
        }
    }
    Ok(None)
}

/// A reference without case and marks.
pub(super) fn bare(reference: &str) -> String {
    let letters = reference.chars().filter(|one| one.is_alphanumeric());
    letters.flat_map(char::to_lowercase).collect()
}

/// Reads a document.
///
/// # Errors
/// [`Error::NotFound`], or what the store met.
pub async fn get<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    reference: &Reference,
) -> Result<D, Error> {
    find(studio, snap, reference)
        .await?
        .ok_or_else(|| Error::NotFound { what: D::WHAT, id: reference.to_string() })
}

/// Looks a document up.
///
/// # Errors
/// What the store met.
pub async fn find<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    reference: &Reference,
) -> Result<Option<D>, Error> {
    let found = snap.get(D::SPACE, &key_of::<D>(studio, reference)).await?;
    Ok(found.map(|bytes| decode(&bytes)).transpose()?)
}

/// Looks a document up, and adds to a batch that it is still this one when the batch is
/// written.
///
/// # Errors
/// What the store met.
pub async fn expected<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    batch: Batch,
    reference: &Reference,
) -> Result<(Batch, Option<D>), Error> {
    let key = key_of::<D>(studio, reference);
    let found = snap.get(D::SPACE, &key).await?;
    let document = found.as_deref().map(decode::<D>).transpose()?;
    Ok((batch.expect(D::SPACE, key, found), document))
}

/// Plans to put a document.
///
/// # Errors
/// A precondition that does not hold, or what the store met.
pub async fn put<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    reference: &Reference,
    request: &D::Request,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    written::<D, R>(studio, snap, moment, (reference, precondition), (request, Sent::Body)).await
}

async fn written<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    (reference, precondition): (&Reference, &Precondition),
    (request, sent): (&D::Request, Sent),
) -> Result<Planned, Error> {
    let key = key_of::<D>(studio, reference);
    let held = snap.get(D::SPACE, &key).await?;
    let current = held.as_deref().map(decode::<D>).transpose()?;
    let shown = current.as_ref().map(|document| to_json(&document.answer())).transpose()?;
    precondition.check(shown.as_deref())?;
    let stamp = current.as_ref().map(|document| document.stamp());
    D::sent_back(request).check((D::REFERENCE, reference), stamp)?;
    let version = stamp.map_or(1, |(version, _)| version + 1);
    let next =
        D::of(reference, request, version, moment.now).over(current.as_ref(), moment, sent)?;
    let new = current.is_none().then_some(&next);
    D::may_write(studio, snap, moment, reference, new).await?;
    let batch = next.stands(studio, snap, Batch::new()).await?;
    Ok(Planned {
        created: held.is_none(),
        answer: to_json(&next.answer())?,
        location: None,
        batch: batch.expect(D::SPACE, key.clone(), held).put(D::SPACE, key, encode(&next)?).audit(
            moment.entry(
                &format!("{}.put", D::WHAT),
                &format!("{}/{reference}", D::SPACE),
                version,
            ),
        ),
        repeat: Repeat::Answer,
    })
}

/// Plans to lay a merge patch over a document as it is read; `read` makes a request of
/// the whole.
///
/// # Errors
/// [`Error::NotFound`], what `read` refuses, a precondition that does not hold, or what
/// the store met.
pub async fn patch<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    reference: &Reference,
    (patch, read): (&Value, impl Fn(&Value) -> Result<D::Request, Error>),
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let held = get::<D, R>(studio, snap, reference).await?.answer();
    precondition.check(Some(&to_json(&held)?))?;
    let held = serde_json::to_value(&held).map_err(|error| Error::Internal(error.to_string()))?;
    let request = read_merged(held, patch, read)?;
    D::check(&request)?;
    let whole = (&request, Sent::Patched);
    written::<D, R>(studio, snap, moment, (reference, precondition), whole).await
}

/// One page of all documents of a kind, or of those of a branch, in no order that says anything.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one.
pub async fn list<D: Document>(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    branch: Option<&Reference>,
    query: &PageQuery,
) -> Result<Page<D::Answer>, Error> {
    let wanted = |it: &D| it.is_reached(mandate) && is_of(branch, it.branch());
    let shown = |document: D| Some(document).filter(wanted).map(|document| document.answer());
    let walk = match branch {
        None => Walk::over(studio, D::SPACE, query)?,
        Some(branch) => {
            let (name, all) = (format!("{} of={branch}", D::SPACE), Bytes::new()..Bytes::new());
            Walk::begin(studio, name, D::SPACE, all, query.limit, query.cursor.as_deref())?
        }
    };
    walk.of_records(snap, shown).await
}

/// Plans to take a document away.
///
/// # Errors
/// [`Error::NotFound`], a precondition that does not hold, or what the store met.
pub async fn remove<D: Document, R: Read>(
    studio: &Studio,
    snap: &mut R,
    moment: &Moment,
    reference: &Reference,
    precondition: &Precondition,
) -> Result<Planned, Error> {
    let key = key_of::<D>(studio, reference);
    let held = snap.get(D::SPACE, &key).await?;
    let current = held.as_deref().map(decode::<D>).transpose()?;
    let current =
        current.ok_or_else(|| Error::NotFound { what: D::WHAT, id: reference.to_string() })?;
    let answer = to_json(&current.answer())?;
    precondition.check(Some(&answer))?;
    current.may_go(moment)?;
    let empty = D::is_empty(studio, snap, reference).await?;
    D::may_write(studio, snap, moment, reference, None).await?;
    let entry = moment.entry(
        &format!("{}.remove", D::WHAT),
        &format!("{}/{reference}", D::SPACE),
        current.stamp().0,
    );
    let batch = match D::REMOVED {
        Some(space) => empty.put(space, key.clone(), Vec::new()),
        None => empty,
    };
    Ok(Planned {
        created: false,
        answer,
        location: None,
        batch: batch.expect(D::SPACE, key.clone(), held).del(D::SPACE, key).audit(entry),
        repeat: Repeat::Answer,
    })
}
