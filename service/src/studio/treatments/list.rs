//! Treatments of one client, oldest first.

use etui_schema::page::Page;
use etui_schema::treatments::{TreatmentQuery, TreatmentRow};
use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use uuid::Uuid;

use super::{BY_CLIENT, TreatmentTrace};
use crate::store::key::{KeyReader, KeyWriter, after};
use crate::store::{Order, Read};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::paging::{self, Walk};
use crate::studio::sealed;

/// Index rows fetched at a time.
const STRIDE: usize = 256;

/// One page of a client's treatments.
///
/// # Errors
/// [`Error::Refused`] for a limit or a cursor that is not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    query: &TreatmentQuery,
) -> Result<Page<TreatmentRow>, Error> {
    let TreatmentQuery { client_ref, limit, cursor } = query;
    let client = studio.keyring.client_id(client_ref.as_str());
    let range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let name = format!("treatments client={}", client.hex());
    let mut walk = Walk::begin(studio, name, BY_CLIENT, range, *limit, cursor.as_deref())?;
    let mut items = Vec::new();
    while let Some(key) = walk.next(snap).await? {
        let id = id_in(&key)?;
        let Some(record) = readable(sealed::load::<TreatmentTrace>(snap, id).await)? else {
            walk.skip();
            continue;
        };
        let TreatmentTrace {
            client_ref,
            artist_ref,
            treatment,
            performed_at,
            packs,
            pigment_batches: _,
        } = record.trace;
        items.push(TreatmentRow {
            id,
            client_ref,
            artist_ref,
            treatment,
            performed_at,
            lots: packs.into_iter().filter_map(|pack| pack.lot).collect(),
        });
    }
    Ok(Page { items, next_cursor: walk.cursor() })
}

fn id_in(key: &[u8]) -> Result<Uuid, Error> {
    let mut reader = KeyReader::new(key);
    let id = reader.fixed::<32>().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
    id.ok_or_else(|| paging::broken(BY_CLIENT))
}

/// When a client was treated last.
///
/// # Errors
/// What the store met.
pub async fn newest_of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Option<Timestamp>, Error> {
    let client = studio.keyring.client_id(client_ref.as_str());
    let range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let rows = snap.scan(BY_CLIENT, range, Order::Descending, 1).await?;
    Ok(rows.first().and_then(|(key, _)| {
        let mut reader = KeyReader::new(key);
        reader.fixed::<32>().and_then(|_| reader.instant())
    }))
}

/// Ids of a client's treatments, oldest first.
///
/// # Errors
/// What the store met.
pub async fn of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
) -> Result<Vec<Uuid>, Error> {
    let client = studio.keyring.client_id(client_ref.as_str());
    let mut range = KeyWriter::new().fixed(client.bytes()).prefix_range();
    let mut ids = Vec::new();
    loop {
        let rows = snap.scan(BY_CLIENT, range.clone(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        for (key, _) in rows {
            ids.push(id_in(&key)?);
            range.start = after(&key);
        }
        if !more {
            return Ok(ids);
        }
    }
}
