//! Treatments of one client, oldest first.

use etui_schema::page::Page;
use etui_schema::treatments::{TreatmentQuery, TreatmentRow};

use super::{BY_CLIENT, TreatmentTrace};
use crate::store::key::{KeyReader, KeyWriter};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::{self, Walk};
use crate::studio::sealed;

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
        let mut reader = KeyReader::new(&key);
        let id = reader.fixed::<32>().and_then(|_| reader.instant()).and_then(|_| reader.uuid());
        let id = id.ok_or_else(|| paging::broken(BY_CLIENT))?;
        let record = sealed::load::<TreatmentTrace>(snap, id).await?;
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
