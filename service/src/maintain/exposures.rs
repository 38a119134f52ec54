//! Whether the rows that a recall reads agree with the treatments they stand for.

use etui_schema::recalls::Exposure;

use crate::store::record::{decode, hex};
use crate::store::rows::Rows;
use crate::store::verify::Finding;
use crate::store::{Read, StoreError};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{BY_LOT, TreatmentTrace};

/// What is wrong with the exposure rows of a view.
///
/// # Errors
/// What the store met.
pub(super) async fn look<R: Read>(snap: &mut R) -> Result<Vec<Finding>, StoreError> {
    let (mut found, mut rows) = (Vec::new(), Rows::all(BY_LOT.space()));
    while let Some((key, value)) = rows.next(snap).await? {
        if !agrees(snap, &key, &value).await? {
            found.push(Finding {
                space: BY_LOT.space().name().to_owned(),
                key: hex(&key[..key.len().min(16)]),
                what: "an exposure differs from its treatment".to_owned(),
            });
        }
    }
    Ok(found)
}

async fn agrees<R: Read>(snap: &mut R, key: &[u8], value: &[u8]) -> Result<bool, StoreError> {
    let (Ok(row), Ok((lot_id, at, treatment_id))) =
        (serde_json::from_slice::<Exposure>(value), BY_LOT.read(key))
    else {
        return Ok(false);
    };
    let Some(stored) = snap.get(TreatmentTrace::SPACE, treatment_id.as_bytes()).await? else {
        return Ok(false);
    };
    let Ok(record) = decode::<StoredSealed<TreatmentTrace>>(&stored) else { return Ok(false) };
    // A former build let an exposure follow an amendment, and not the trace.
    if record.parts().iter().any(|(_, sealed)| sealed.is_former()) {
        return Ok(true);
    }
    let trace = record.trace;
    Ok((row.lot_id, row.treatment_id, row.performed_at.0) == (lot_id, treatment_id, at)
        && (row.client_ref, row.artist_ref) == (trace.client_ref, trace.artist_ref)
        && trace.performed_at.0 == at)
}
