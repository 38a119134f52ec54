//! Which lots belong together: those of a code however it is spelled, those whose code nobody told,
//! and the parts of a delivery. Rows find them, so that one lot more costs the same whatever was
//! received before.
//!
//! | space | key | value |
//! |---|---|---|
//! | `lots-alike` | what lots have in common, id | – |
//!
//! What a lot has in common with others follows from the lot and from the [`RULE`] of this build. By
//! which rule its rows were made stands beside it, under its row by expiry; former builds leave that
//! empty, whenever they write. A start makes what is not of this rule anew before anything is
//! answered, so no answer depends on rows that are not there.

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use etui_craft::drawer;
use uuid::Uuid;

use super::{BY_CODE, BY_EXPIRY, LOTS, StoredLot};
use crate::store::index::{Index, Key};
use crate::store::record::decode;
use crate::store::rows::Rows;
use crate::store::{Batch, Bytes, Op, Read, Space, Store, StoreError};
use crate::studio::engine::{Engine, Snap};
use crate::studio::error::{Error, Found, or_unreadable};

/// Ids by what their lots have in common.
pub const ALIKE: Index<(String, Uuid)> = Index::new("lots-alike");
/// By which rule rows are made: another once [`drawer::code_as_meant`] or [`Alike`] say something else.
pub(super) const RULE: &[u8] = b"2";
/// Of a longer code the rows say so much.
const CODE_CHARS: usize = 200;
/// Rows of one batch at a start.
const MADE: usize = 1_000;

/// What lots have in common.
enum Alike<'a> {
    /// A code that stands on them.
    Code(&'a str),
    /// That nobody told their code.
    NoCode,
    /// That their packs were moved away from those of one delivery.
    PartOf(Uuid),
}

impl Alike<'_> {
    fn key(&self) -> String {
        match self {
            Self::Code(code) => short(code),
            // Codes are trimmed: none begins with a blank.
            Self::NoCode => " ".to_owned(),
            Self::PartOf(delivery) => format!(" {delivery}"),
        }
    }

    async fn ids(&self, snap: &mut Snap) -> Result<BTreeSet<Uuid>, Error> {
        let keys = ALIKE.under(&(self.key(),)).every(snap).await?;
        Ok(keys.into_iter().map(|(_, id)| id).collect())
    }
}

/// A code as it is meant, cut where a key ends.
pub(super) fn short(code: &str) -> String {
    drawer::code_as_meant(code).chars().take(CODE_CHARS).collect()
}

/// Under what the lots of a code take turns, or those without one.
pub(super) fn turn(code: Option<&str>) -> String {
    code.map_or(Alike::NoCode, Alike::Code).key()
}

/// The rows of a lot.
pub(super) fn rows(lot: &StoredLot) -> Vec<(Space, Bytes)> {
    let codes = lot.codes().map(|code| Alike::Code(code));
    let others = [lot.lot.is_none().then_some(Alike::NoCode), lot.part_of.map(Alike::PartOf)];
    let keys: BTreeSet<String> =
        codes.chain(others.into_iter().flatten()).map(|alike| alike.key()).collect();
    keys.into_iter().map(|key| ALIKE.row(&(key, lot.id))).collect()
}

/// Lots that have something in common.
#[derive(Default)]
pub struct Together {
    /// Each with its bytes, oldest first.
    pub read: Vec<(StoredLot, Bytes)>,
    /// Those that are there and cannot be read.
    pub unreadable: Vec<Uuid>,
}

/// Every delivery of a lot code, whoever made it, in capitals or not.
///
/// # Errors
/// What the store met.
pub async fn with_code(snap: &mut Snap, code: &str) -> Result<Together, Error> {
    let spellings = [code.to_owned(), code.to_uppercase(), code.to_lowercase()];
    let mut ids = BTreeSet::new();
    for spelling in BTreeSet::from(spellings) {
        let keys = BY_CODE.under(&(spelling,)).every(snap).await?;
        ids.extend(keys.into_iter().map(|(_, id)| id));
    }
    all(snap, ids).await
}

/// The deliveries that a lot code may mean, whoever made them and however the code is spelled: who
/// types it off a box does not look to capitals, blanks or the alphabet of a letter.
///
/// # Errors
/// What the store met.
pub async fn meant_by(snap: &mut Snap, code: &str) -> Result<Together, Error> {
    let ids = Alike::Code(code).ids(snap).await?;
    let mut found = all(snap, ids).await?;
    found.read.retain(|(lot, _)| lot.is_known_by(code));
    Ok(found)
}

/// The lots whose code may be this one but for a serial number behind one of them. One that cannot be
/// read is told where lots are listed.
///
/// # Errors
/// What the store met.
pub async fn but_for_serial(snap: &mut Snap, code: &str) -> Result<Vec<(StoredLot, Bytes)>, Error> {
    let begun = short(code);
    let behind = format!("{begun}{}", char::MAX);
    let range = (begun,).write().finish()..(behind,).write().finish();
    let rows = ALIKE.keys(Rows::of(ALIKE.space(), range)).every(snap).await?;
    let mut ids: BTreeSet<Uuid> = rows.into_iter().map(|(_, id)| id).collect();
    let heads: BTreeSet<String> =
        drawer::before_serial(code).map(|head| Alike::Code(head).key()).collect();
    for head in heads {
        let keys = ALIKE.under(&(head,)).every(snap).await?;
        ids.extend(keys.into_iter().map(|(_, id)| id));
    }
    let mut found = all(snap, ids).await?.read;
    found.retain(|(lot, _)| {
        !lot.is_known_by(code) && lot.codes().any(|own| drawer::is_but_for_serial(own, code))
    });
    Ok(found)
}

/// The lots whose code nobody told. One that cannot be read is told where lots are listed.
///
/// # Errors
/// What the store met.
pub async fn without_code(snap: &mut Snap) -> Result<Vec<(StoredLot, Bytes)>, Error> {
    let ids = Alike::NoCode.ids(snap).await?;
    Ok(all(snap, ids).await?.read)
}

/// The other lots of the same deliveries, whose packs were moved apart.
///
/// # Errors
/// What the store met.
pub async fn parts_of(
    snap: &mut Snap,
    lots: &[(StoredLot, Bytes)],
) -> Result<Vec<(StoredLot, Bytes)>, Error> {
    let mut others: BTreeSet<Uuid> = lots.iter().map(|(lot, _)| lot.delivery()).collect();
    for delivery in others.clone() {
        others.extend(Alike::PartOf(delivery).ids(snap).await?);
    }
    for (lot, _) in lots {
        others.remove(&lot.id);
    }
    Ok(all(snap, others).await?.read)
}

async fn all(snap: &mut Snap, ids: BTreeSet<Uuid>) -> Result<Together, Error> {
    let keys: Vec<Bytes> = ids.iter().map(|id| id.as_bytes().to_vec()).collect();
    let mut found = Together::default();
    for (id, bytes) in ids.into_iter().zip(snap.get_many(LOTS, &keys).await?) {
        let read = bytes.map(|bytes| Ok((decode(&bytes)?, bytes))).transpose();
        match or_unreadable(read)? {
            Found::Read(Some(lot)) => found.read.push(lot),
            Found::Read(None) | Found::Unreadable => found.unreadable.push(id),
        }
    }
    Ok(found)
}

/// The rows by expiry of lots whose other rows are not of this build's rule.
///
/// # Errors
/// What the store met.
pub async fn former<R: Read>(snap: &mut R) -> Result<Vec<Bytes>, StoreError> {
    let (mut rows, mut found) = (Rows::all(BY_EXPIRY.space()), Vec::new());
    while let Some((key, rule)) = rows.next(snap).await? {
        if rule != RULE {
            found.push(key);
        }
    }
    Ok(found)
}

/// Makes the rows of lots as this build's rule has them, if some are not; of how many they were not.
/// A start that is cut short does it again.
///
/// # Errors
/// What the store met.
pub async fn bring_up_to_date(engine: &Engine) -> Result<usize, Error> {
    let mut snap = engine.snapshot().await?;
    let former = former(&mut snap).await?;
    if former.is_empty() {
        return Ok(0);
    }
    let mut ops = made_anew(&mut snap).await?;
    let count = former.len();
    ops.extend(former.into_iter().map(|key| Op::Put(BY_EXPIRY.space(), key, RULE.to_vec())));
    for ops in ops.chunks(MADE) {
        engine.commit(Batch { ops: ops.to_vec(), ..Batch::default() }).await?;
    }
    Ok(count)
}

/// What is to be written so that each lot has the rows of this rule and no other.
async fn made_anew(snap: &mut Snap) -> Result<Vec<Op>, Error> {
    let (mut wanted, mut unread) = (BTreeSet::new(), BTreeSet::new());
    // By its rows one that cannot be read is found under its codes all the same.
    for (code, id) in BY_CODE.keys(Rows::all(BY_CODE.space())).every(snap).await? {
        wanted.insert(ALIKE.row(&(Alike::Code(&code).key(), id)).1);
    }
    let mut records = Rows::all(LOTS);
    while let Some((key, bytes)) = records.next(snap).await? {
        match decode::<StoredLot>(&bytes) {
            Ok(lot) => wanted.extend(rows(&lot).into_iter().map(|(_, row)| row)),
            Err(_) => drop(unread.insert(key)),
        }
    }
    let (mut ops, mut there) = (Vec::new(), Rows::all(ALIKE.space()));
    while let Some((row, _)) = there.next(snap).await? {
        let is_of_unread =
            ALIKE.read(&row).is_ok_and(|(_, id)| unread.contains(&id.as_bytes()[..]));
        if !wanted.remove(&row) && !is_of_unread {
            ops.push(Op::Del(ALIKE.space(), row));
        }
    }
    ops.extend(wanted.into_iter().map(|row| Op::Put(ALIKE.space(), row, Bytes::new())));
    Ok(ops)
}
