//! Whether the record speaks against the pack in use.

use etui_craft::drawer;
use etui_schema::treatments::OpenedPack;

use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots::{self, StoredLot};

/// The pack in use, where its record or its lot speaks against it: what hurts may be the needle itself.
///
/// # Errors
/// What the store met.
pub(super) async fn spoilt<'a>(
    snap: &mut Snap,
    pack: Option<&'a OpenedPack>,
) -> Result<Option<&'a OpenedPack>, Error> {
    let Some(pack) = pack else { return Ok(None) };
    if !pack.intact || pack.used_although.is_some() {
        return Ok(Some(pack));
    }
    let lot = readable(lots::load(snap, pack.lot_id).await)?;
    let is_out =
        |lot: &StoredLot| lot.recalled.is_some() || drawer::kept_out(&lot.known()).next().is_some();
    Ok(lot.is_some_and(|(lot, _)| is_out(&lot)).then_some(pack))
}
