//! Sign-offs as they are read: by id, in pages, and as the craft weighs them.

use etui_craft::training::SignedOff;
use etui_schema::page::Page;
use etui_schema::sign_offs::{SignOff, SignOffQuery};
use etui_schema::vocabulary::Reference;
use uuid::Uuid;

use super::{BY_ARTIST, SIGN_OFFS, StoredSignOff, artist_hash, load};
use crate::store::Bytes;
use crate::store::index::Key;
use crate::store::record::decode;
use crate::studio::Studio;
use crate::studio::artists;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::moment::Moment;
use crate::studio::paging::{Walk, records};
use crate::studio::plan::to_json;

/// Reads a sign-off; without what was written beside it, if her practice was forgotten, or to
/// whoever may not see it.
///
/// # Errors
/// [`Error::NotFound`].
pub async fn get(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    id: Uuid,
) -> Result<SignOff, Error> {
    let (stored, _) = load(snap, id).await?;
    shown(studio, snap, moment, &stored).await
}

async fn shown(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    stored: &StoredSignOff,
) -> Result<SignOff, Error> {
    let words = if artists::is_seen(studio, snap, moment, &stored.artist_ref).await? {
        stored.words(studio, snap).await?
    } else {
        None
    };
    Ok(stored.answer(words.unwrap_or_default()))
}

/// The answer of an earlier request, from the sign-off as it was written then.
///
/// # Errors
/// [`Error::NotFound`] if what was written beside it was forgotten; [`Error::Unreadable`].
pub async fn repeat(studio: &Studio, snap: &mut Snap, stored: &[u8]) -> Result<Vec<u8>, Error> {
    let stored: StoredSignOff = decode(stored)?;
    let words = stored.words(studio, snap).await?;
    let gone = || Error::NotFound { what: "sign-off", id: stored.id.to_string() };
    to_json(&stored.answer(words.ok_or_else(gone)?))
}

/// One page of sign-offs, of one artist or of all, in the order in which they were
/// given; what was written beside them only to whoever may see it.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    query: &SignOffQuery,
) -> Result<Page<SignOff>, Error> {
    let SignOffQuery { artist_ref, limit, cursor } = query;
    let (space, range) = match artist_ref {
        Some(artist) => {
            let artist = artist_hash(&studio.index_key, artist);
            (BY_ARTIST.space(), (artist,).write().prefix_range())
        }
        None => (SIGN_OFFS, Bytes::new()..Bytes::new()),
    };
    let name = format!("sign-offs artist={artist_ref:?}");
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let key = |row: &[u8]| match artist_ref {
            Some(_) => BY_ARTIST.read(row).map(|(_, id)| id.as_bytes().to_vec()),
            None => Ok(row.to_vec()),
        };
        let keys: Vec<Bytes> = rows.iter().map(|(row, _)| key(row)).collect::<Result<_, _>>()?;
        let found = records::<StoredSignOff>(snap, SIGN_OFFS, &keys).await?;
        let mut page = Vec::with_capacity(found.len());
        for one in found {
            page.push(match one {
                Ok(stored) if !moment.mandate.reaches(Some(&stored.artist_ref)) => Ok(None),
                Ok(stored) => shown(studio, snap, moment, &stored).await.map(Some),
                Err(error) => Err(error),
            });
        }
        Ok(page)
    })
    .await
}

/// An artist's sign-offs that can be read, in the order in which they were given.
pub(in crate::studio) async fn kept_of(
    studio: &Studio,
    snap: &mut Snap,
    artist: &Reference,
) -> Result<Vec<StoredSignOff>, Error> {
    let under = BY_ARTIST.under(&(artist_hash(&studio.index_key, artist),));
    let keys: Vec<Bytes> =
        under.every(snap).await?.into_iter().map(|(_, id)| id.as_bytes().to_vec()).collect();
    let mut all = Vec::with_capacity(keys.len());
    for one in records::<StoredSignOff>(snap, SIGN_OFFS, &keys).await? {
        all.extend(readable(one)?);
    }
    Ok(all)
}

/// Every word that was given for an artist, as the craft weighs it. One that cannot
/// be read is not there: it covers nothing.
///
/// # Errors
/// What the store met.
pub async fn of_artist(
    studio: &Studio,
    snap: &mut Snap,
    artist: &Reference,
) -> Result<Vec<SignedOff>, Error> {
    let all = kept_of(studio, snap, artist).await?;
    Ok(all.into_iter().map(|stored| stored.weighed(studio.zone.rules())).collect())
}
