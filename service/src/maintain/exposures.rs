//! Whether the rows that a recall reads agree with the treatments they stand for.

use etui_schema::recalls::Exposure;

use crate::store::key::{KeyReader, after};
use crate::store::record::decode;
use crate::store::verify::Finding;
use crate::store::{Bytes, Order, Read, StoreError, record::hex};
use crate::studio::sealed::{StoredSealed, Trace};
use crate::studio::treatments::{BY_LOT, TreatmentTrace};

/// Rows fetched at a time.
const STRIDE: usize = 500;

/// What is wrong with the exposure rows of a view.
///
/// # Errors
/// What the store met.
pub(super) async fn look<R: Read>(snap: &mut R) -> Result<Vec<Finding>, StoreError> {
    let (mut found, mut start) = (Vec::new(), Bytes::new());
    loop {
        let rows = snap.scan(BY_LOT, start..Bytes::new(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        start = rows.last().map(|(key, _)| after(key)).unwrap_or_default();
        for (key, value) in rows {
            if !agrees(snap, &key, &value).await? {
                found.push(Finding {
                    space: BY_LOT.name().to_owned(),
                    key: hex(&key[..key.len().min(16)]),
                    what: "an exposure differs from its treatment".to_owned(),
                });
            }
        }
        if !more {
            return Ok(found);
        }
    }
}

async fn agrees<R: Read>(snap: &mut R, key: &[u8], value: &[u8]) -> Result<bool, StoreError> {
    let mut reader = KeyReader::new(key);
    let place = (reader.uuid(), reader.instant(), reader.uuid());
    let (Ok(row), (Some(lot_id), Some(at), Some(treatment_id))) =
        (serde_json::from_slice::<Exposure>(value), place)
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
