//! Recalls as they are kept: what a notice named, who acted on it, which lots it took.
//!
//! | space | key | value |
//! |---|---|---|
//! | `recalls` | id | the recall |
//!
//! An id begins with its time, so they are listed in the order in which they came.

use etui_schema::page::{Page, PageQuery};
use etui_schema::recalls::Recall;
use etui_schema::vocabulary::Instant;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use crate::store::record::{Record, decode, encode};
use crate::store::{Batch, Read, Space};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots;
use crate::studio::moment::Mandate;
use crate::studio::opener::Verified;
use crate::studio::paging::Walk;

const RECALLS: Space = Space::new("recalls");

/// A recall as stored.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct StoredRecall {
    /// Its id.
    pub id: Uuid,
    /// When the studio acted on it.
    pub at: Instant,
    /// What the notice said.
    pub reason: String,
    /// Who acted on it.
    pub by: String,
    /// The code that was called back.
    pub lot: Option<String>,
    /// The maker that was named.
    pub maker: Option<String>,
    /// The catalogue number that was named.
    pub reference: Option<String>,
    /// The lots that it took.
    pub lot_ids: Vec<Uuid>,
}

impl Record for StoredRecall {
    const KIND: &'static str = "recall";
}

impl Verified for StoredRecall {
    const SPACE: Space = RECALLS;
}

impl StoredRecall {
    /// Adds to a batch that it is kept.
    ///
    /// # Errors
    /// [`Error::Internal`] if it cannot be written down.
    pub fn add_to(&self, batch: Batch) -> Result<Batch, Error> {
        let key = self.id.as_bytes().to_vec();
        Ok(batch.expect(RECALLS, key.clone(), None).put(RECALLS, key, encode(self)?))
    }

    fn answer(self) -> Recall {
        let Self { id, at, reason, by, lot, maker, reference, lot_ids } = self;
        Recall { id, at, reason, by, lot, maker, reference, lot_ids }
    }
}

/// One page of the recalls, oldest first.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    query: &PageQuery,
) -> Result<Page<Recall>, Error> {
    let walk = Walk::over(studio, RECALLS, query)?;
    walk.page(snap, async |snap, rows| {
        let mut told = Vec::with_capacity(rows.len());
        for (_, bytes) in rows {
            told.push(match decode::<StoredRecall>(&bytes) {
                Ok(one) => seen(snap, mandate, one.answer()).await,
                Err(error) => Err(error.into()),
            });
        }
        Ok(told)
    })
    .await
}

/// What of a recall a caller reaches: the lots of its branches, if it took any.
async fn seen(
    snap: &mut Snap,
    mandate: &Mandate,
    mut recall: Recall,
) -> Result<Option<Recall>, Error> {
    if mandate.branches.is_none() {
        return Ok(Some(recall));
    }
    let mut own = Vec::new();
    for id in std::mem::take(&mut recall.lot_ids) {
        let lot = readable(lots::load(snap, id).await)?;
        own.extend(
            lot.filter(|(lot, _)| mandate.reaches_branch(lot.branch_ref.as_ref())).map(|_| id),
        );
    }
    recall.lot_ids = own;
    Ok(Some(recall).filter(|recall| !recall.lot_ids.is_empty()))
}

/// One recall.
///
/// # Errors
/// [`Error::NotFound`] if there is none of this id.
pub async fn get(snap: &mut Snap, mandate: &Mandate, id: Uuid) -> Result<Recall, Error> {
    let missing = || Error::NotFound { what: "recall", id: id.to_string() };
    let stored = snap.get(RECALLS, id.as_bytes()).await?.ok_or_else(missing)?;
    seen(snap, mandate, decode::<StoredRecall>(&stored)?.answer()).await?.ok_or_else(missing)
}
