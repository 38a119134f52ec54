//! Listing treatments: of one client, of an artist, of a period.

use std::collections::BTreeSet;

use etui_craft::drawer::code_as_meant;
use etui_schema::page::Page;
use etui_schema::treatments::{TreatmentQuery, TreatmentRow};
use etui_schema::vocabulary::{Reference, Treatment};
use jiff::Timestamp;
use uuid::Uuid;

use super::{BY_CLIENT, TreatmentTrace};
use crate::store::Bytes;
use crate::store::index::{Key, Keys};
use crate::store::record::decode;
use crate::store::seal::ClientId;
use crate::studio::Studio;
use crate::studio::branches;
use crate::studio::days;
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots::Wanted;
use crate::studio::moment::Mandate;
use crate::studio::paging::{self, Walk};
use crate::studio::sealed::{self, StoredSealed, Trace};

/// One page of treatments: of a client in the order of their dates, or all in the
/// order in which they were recorded.
///
/// # Errors
/// [`Error::Refused`] for days in the wrong order, for a limit or a cursor that is
/// not one; what the store met.
pub async fn list(
    studio: &Studio,
    snap: &mut Snap,
    mandate: &Mandate,
    query: &TreatmentQuery,
) -> Result<Page<TreatmentRow>, Error> {
    let TreatmentQuery {
        client_ref,
        artist_ref,
        branch_ref,
        from,
        to,
        configuration,
        maker,
        pigment_batch,
        limit,
        cursor,
    } = query;
    let here = branches::at(studio, snap, branch_ref.as_ref()).await?;
    let asked = Wanted::of(studio, configuration.as_deref(), maker.as_deref())?;
    let batch = pigment_batch.as_deref().map(code_as_meant);
    let time = days::between(&here, *from, *to)?;
    let client = client_ref.as_ref().map(|client| studio.keyring.client_id(client.as_str()));
    let (space, range) = match client {
        Some(client) => {
            let bound = |at: Timestamp| (client, at).write().finish();
            (BY_CLIENT.space(), bound(time.start)..bound(time.end))
        }
        // Nothing is recorded before it was done, and an id begins with the time of recording.
        None => (TreatmentTrace::SPACE, first_id(time.start).as_bytes().to_vec()..Bytes::new()),
    };
    let name = paging::named("treatments", query)?;
    let walk = Walk::begin(studio, name, space, range, *limit, cursor.as_deref())?;
    let wanted = |record: &StoredSealed<TreatmentTrace>| {
        artist_ref.as_ref().is_none_or(|artist| *artist == record.trace.artist_ref)
            && branches::is_of(branch_ref.as_ref(), record.trace.branch_ref.as_ref())
            && mandate
                .reaches_work(Some(&record.trace.artist_ref), record.trace.branch_ref.as_ref())
            && time.contains(&record.trace.performed_at.0)
            && batch.as_ref().is_none_or(|batch| {
                record.trace.pigment_batches.iter().any(|used| code_as_meant(used) == *batch)
            })
    };
    walk.page(snap, async |snap, rows| {
        let found = match client {
            Some(_) => {
                let ids = rows.iter().map(|(key, _)| Ok(BY_CLIENT.read(key)?.2));
                let ids: Vec<Uuid> = ids.collect::<Result<_, Error>>()?;
                sealed::load_many::<TreatmentTrace>(snap, &ids).await?
            }
            None => rows.iter().map(|(_, stored)| Ok(decode(stored)?)).collect(),
        };
        let found: Vec<Result<StoredSealed<TreatmentTrace>, Error>> = found;
        let named = found.iter().flatten().flat_map(|record| used_in(&record.trace));
        let fitting = asked.among(snap, named).await?;
        let fits = |record: &StoredSealed<TreatmentTrace>| {
            let uses =
                |fitting: &BTreeSet<Uuid>| used_in(&record.trace).any(|id| fitting.contains(&id));
            fitting.as_ref().is_none_or(uses)
        };
        let shown = |record| Some(record).filter(wanted).filter(fits).map(row);
        Ok(found.into_iter().map(|one| one.map(shown)).collect())
    })
    .await
}

/// The lots whose packs were used.
fn used_in(trace: &TreatmentTrace) -> impl Iterator<Item = Uuid> {
    trace.packs.iter().map(|pack| pack.lot_id)
}

/// The least id of an instant; ids begin with their time.
pub fn first_id(at: Timestamp) -> Uuid {
    let millis = u64::try_from(at.as_millisecond()).unwrap_or(0);
    uuid::Builder::from_unix_timestamp_millis(millis, &[0; 10]).into_uuid()
}

fn row(record: StoredSealed<TreatmentTrace>) -> TreatmentRow {
    let TreatmentTrace {
        client_ref,
        artist_ref,
        treatment,
        performed_at,
        packs,
        pigment_batches: _,
        branch_ref,
    } = record.trace;
    TreatmentRow {
        id: record.id,
        client_ref,
        artist_ref,
        treatment,
        performed_at,
        lots: packs.into_iter().filter_map(|pack| pack.lot).collect(),
        branch_ref,
    }
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

/// Ids of a client's treatments of an area, oldest first, with their moments.
///
/// # Errors
/// What the store met.
pub async fn of_area(
    studio: &Studio,
    snap: &mut Snap,
    (client_ref, treatment): (&Reference, Treatment),
) -> Result<Vec<(Uuid, Timestamp)>, Error> {
    let ids = of_client(studio, snap, client_ref).await?;
    let mut all = Vec::with_capacity(ids.len());
    for stored in sealed::load_many::<TreatmentTrace>(snap, &ids).await? {
        let stored = readable(stored)?.filter(|one| one.trace.treatment == treatment);
        all.extend(stored.map(|one| (one.id, one.trace.performed_at.0)));
    }
    Ok(all)
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
