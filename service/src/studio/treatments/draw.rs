//! Taking packs out of the drawer.

use etui_schema::lots::LotState;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::treatments::{Flag, PackUse};
use jiff::civil::Date;
use uuid::Uuid;

use super::{BY_SERIAL, serial_key, used_before};
use crate::store::{Batch, Bytes, Read};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::lots::{self, StoredLot};

/// The lots that packs are drawn from, as they were.
pub(super) struct Drawn {
    lots: Vec<(StoredLot, Bytes, u32)>,
    day: Date,
}

/// Looks at every pack; names each that may not be used.
pub(super) async fn from_drawer(
    snap: &mut Snap,
    day: Date,
    packs: &[PackUse],
) -> Result<Drawn, Error> {
    let mut drawn = Drawn { lots: Vec::new(), day };
    let mut faults = Vec::new();
    for (at, pack) in packs.iter().enumerate() {
        match drawn.take(snap, pack.lot_id).await {
            Ok(()) => {}
            Err(Error::NotFound { .. }) => {
                faults.push(Fault::new(
                    format!("#/packs/{at}/lot_id"),
                    FaultCode::UnknownReference,
                    "there is no such lot in the drawer",
                ));
                continue;
            }
            Err(error) => return Err(error),
        }
        let Some(lot) = drawn.lot(pack.lot_id) else { continue };
        if pack.used_although.is_none() {
            faults.extend(objection(lot, day, at, pack));
        }
        if let Some(serial) = &pack.serial {
            let key = serial_key(lot.lot.as_deref(), serial);
            let twice =
                packs[..at].iter().any(|p| p.lot_id == pack.lot_id && p.serial == pack.serial);
            if twice || snap.get(BY_SERIAL, &key).await?.is_some() {
                faults.push(used_before(at));
            }
        }
    }
    if faults.is_empty() { drawn.enough().map(|()| drawn) } else { Err(Error::Refused(faults)) }
}

/// Why a pack of this lot may not be used on this day.
fn objection(lot: &StoredLot, day: Date, at: usize, pack: &PackUse) -> Option<Fault> {
    let refuse = |place: &str, why: String| {
        Some(Fault::new(
            format!("#/packs/{at}/{place}"),
            FaultCode::NotAllowed,
            format!("{why}; if it was used all the same, say why in `used_although`"),
        ))
    };
    match lot.state_on(day) {
        (LotState::Recalled, _) => refuse("lot_id", "the lot was recalled".to_owned()),
        (LotState::Expired, _) => {
            let last = lot.expires_on.map_or_else(String::new, |last| format!(" on {last}"));
            refuse("lot_id", format!("the lot expired{last}"))
        }
        (LotState::Held, why) => refuse("lot_id", format!("the lot is held: {}", why.join(", "))),
        (LotState::Empty | LotState::Usable, _) if !pack.intact => {
            refuse("intact", "a damaged or opened pack is waste".to_owned())
        }
        (LotState::Empty | LotState::Usable, _) => None,
    }
}

impl Drawn {
    async fn take(&mut self, snap: &mut Snap, id: Uuid) -> Result<(), Error> {
        if let Some((_, _, count)) = self.lots.iter_mut().find(|(lot, _, _)| lot.id == id) {
            *count += 1;
            return Ok(());
        }
        let (lot, bytes) = lots::load(snap, id).await?;
        self.lots.push((lot, bytes, 1));
        Ok(())
    }

    fn enough(&self) -> Result<(), Error> {
        match self.lots.iter().find(|(lot, _, count)| lot.packs < *count) {
            None => Ok(()),
            Some((lot, _, count)) => Err(Error::Conflict(format!(
                "the lot {} holds {} packs, {count} are wanted; draw from another lot or adjust the count",
                lot.id, lot.packs
            ))),
        }
    }

    /// A lot that packs are drawn from.
    pub(super) fn lot(&self, id: Uuid) -> Option<&StoredLot> {
        self.lots.iter().find(|(lot, _, _)| lot.id == id).map(|(lot, _, _)| lot)
    }

    /// Adds to a batch that the packs are gone.
    pub(super) fn leave(&self, mut batch: Batch) -> Result<Batch, Error> {
        for (lot, bytes, count) in &self.lots {
            let mut next = lot.clone();
            next.packs -= count;
            next.version += 1;
            batch = lots::replace(batch, Some((lot, bytes.clone())), &next)?;
        }
        Ok(batch)
    }

    /// What about the packs wants a second look.
    pub(super) fn flags(&self, packs: &[PackUse]) -> Vec<Flag> {
        let mut flags = Vec::new();
        for (at, pack) in packs.iter().enumerate() {
            let Some(lot) = self.lot(pack.lot_id) else { continue };
            if let Some(fault) = objection(lot, self.day, at, pack) {
                let code = lot.state_on(self.day).0.as_str();
                flags.push(Flag {
                    pointer: fault.pointer,
                    code: if pack.intact {
                        format!("used_although_{code}")
                    } else {
                        "used_although_damaged".to_owned()
                    },
                    message: format!(
                        "used although {}",
                        fault.message.split(';').next().unwrap_or_default()
                    ),
                });
            }
            if lot.lot.is_none() {
                flags.push(Flag {
                    pointer: format!("#/packs/{at}"),
                    code: "lot_code_unknown".to_owned(),
                    message:
                        "no lot code is known for this pack; a recall by code will not find it"
                            .to_owned(),
                });
            }
        }
        flags
    }
}
