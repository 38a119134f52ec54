//! Whether the record speaks against the pack in use.

use etui_craft::drawer;
use etui_schema::treatments::OpenedPack;

use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots::{self, StoredLot};

/// Whether the pack in use should not have been used, by its record or its lot: what hurts may be the
/// needle itself. Then the lots of its code are left out of those that lie ready.
///
/// # Errors
/// What the store met.
pub(super) async fn leave_out(
    snap: &mut Snap,
    pack: Option<&OpenedPack>,
    ready: &mut Vec<StoredLot>,
) -> Result<bool, Error> {
    let Some(pack) = pack else { return Ok(false) };
    let lot = readable(lots::load(snap, pack.lot_id).await)?;
    let is_spoilt = !pack.intact
        || pack.used_although.is_some()
        || lot.is_some_and(|(lot, _)| drawer::speaks_against(&lot.known()));
    if is_spoilt {
        let is_known_by = |lot: &StoredLot| pack.lot.as_ref().is_some_and(|it| lot.is_known_by(it));
        ready.retain(|lot| lot.id != pack.lot_id && !is_known_by(lot));
    }
    Ok(is_spoilt)
}
