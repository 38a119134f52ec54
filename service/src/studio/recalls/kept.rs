//! Recalls as they are read: what a notice named, who acted on it, which lots it took.

use etui_schema::page::{Page, PageQuery};
use etui_schema::recalls::Recall;
use uuid::Uuid;

use crate::store::Read;
use crate::store::record::decode;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots::{self, RECALLS, StoredRecall};
use crate::studio::moment::Mandate;
use crate::studio::paging::Walk;

/// A recall as it is told.
fn answer(kept: StoredRecall) -> Recall {
    let StoredRecall { id, at, reason, by, lot, maker, reference, lot_ids } = kept;
    Recall { id, at, reason, by, lot, maker, reference, lot_ids }
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
                Ok(one) => seen(snap, mandate, answer(one)).await,
                Err(error) => Err(error.into()),
            });
        }
        Ok(told)
    })
    .await
}

/// What of a recall a caller reaches: the lots of its branches. What took lots of others alone is not
/// told; what took none is, since packs that come later are called back by it.
async fn seen(
    snap: &mut Snap,
    mandate: &Mandate,
    mut recall: Recall,
) -> Result<Option<Recall>, Error> {
    if mandate.branches.is_none() || recall.lot_ids.is_empty() {
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
    seen(snap, mandate, answer(decode(&stored)?)).await?.ok_or_else(missing)
}
