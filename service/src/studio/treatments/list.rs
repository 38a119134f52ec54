//! Treatments of one client, oldest first.

use etui_schema::page::Page;
use etui_schema::treatments::{TreatmentQuery, TreatmentRow};
use etui_schema::vocabulary::Reference;
use jiff::Timestamp;
use uuid::Uuid;

use super::{BY_CLIENT, TreatmentTrace};
use crate::store::index::{Key, Keys};
use crate::store::seal::ClientId;
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::paging::Walk;
use crate::studio::sealed::{self, StoredSealed};

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
    let range = (client,).write().prefix_range();
    let name = format!("treatments client={}", client.hex());
    let space = BY_CLIENT.space();
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    walk.page(snap, async |snap, rows| {
        let ids = rows.iter().map(|(key, _)| Ok(BY_CLIENT.read(key)?.2));
        let ids: Vec<Uuid> = ids.collect::<Result<_, Error>>()?;
        let found = sealed::load_many::<TreatmentTrace>(snap, &ids).await?;
        Ok(found.into_iter().map(|one| one.map(|record| Some(row(record)))).collect())
    })
    .await
}

fn row(record: StoredSealed<TreatmentTrace>) -> TreatmentRow {
    let TreatmentTrace {
        client_ref,
        artist_ref,
        treatment,
        performed_at,
        packs,
        pigment_batches: _,
    } = record.trace;
    TreatmentRow {
        id: record.id,
        client_ref,
        artist_ref,
        treatment,
        performed_at,
        lots: packs.into_iter().filter_map(|pack| pack.lot).collect(),
    }
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
    let newest = of(studio, client_ref).backwards().first(snap).await?;
    Ok(newest.map(|(_, performed_at, _)| performed_at))
}

/// Ids of a client's treatments, at most so many, the latest first.
///
/// # Errors
/// What the store met.
pub async fn latest_of_client(
    studio: &Studio,
    snap: &mut Snap,
    client_ref: &Reference,
    most: usize,
) -> Result<Vec<Uuid>, Error> {
    let keys = of(studio, client_ref).backwards().most(snap, most).await?;
    Ok(keys.into_iter().map(|(.., id)| id).collect())
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
    let keys = of(studio, client_ref).every(snap).await?;
    Ok(keys.into_iter().map(|(.., id)| id).collect())
}

/// The rows of a client.
fn of(studio: &Studio, client_ref: &Reference) -> Keys<(ClientId, Timestamp, Uuid)> {
    BY_CLIENT.under(&(studio.keyring.client_id(client_ref.as_str()),))
}
