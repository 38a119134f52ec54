//! What is added to a treatment after it was recorded: amendments,
//! observations, symptom reports with their settlements, reviews.
//!
//! The record itself is never written again. An entry is a record of its own,
//! sealed like it, with one index row under its treatment; what a caller reads
//! as *the treatment* is put together from all of them.
//!
//! | space | key | value |
//! |---|---|---|
//! | `amendments`, `observations`, `symptom-reports`, `settlements`, `reviews` | id | trace, sealed input, sealed answer |
//! | `<one of them>-by-treatment` | treatment id, place in its order | id |

use etui_schema::amendments::{AmendedValues, Amendment};
use etui_schema::treatments::TreatmentRecord;
use uuid::Uuid;

use super::Studio;
use super::amendments::AmendmentTrace;
use super::engine::Snap;
use super::error::Error;
use super::kept_reports;
use super::moment::Moment;
use super::observations::ObservationTrace;
use super::paging::broken;
use super::plan::{Planned, Repeat};
use super::reviews::ReviewTrace;
use super::sealed::{self, Trace};
use super::treatments::TreatmentTrace;
use super::vault::Access;
use crate::store::key::{KeyWriter, after};
use crate::store::keyring::Keyring;
use crate::store::{Batch, Bytes, Order, Read, Space};

/// Index rows fetched at a time.
const STRIDE: usize = 128;

/// One kind of entry.
pub trait Entry: Trace {
    /// Where its index rows lie.
    const BY_TREATMENT: Space;
    /// The treatment it belongs to.
    fn treatment_id(&self) -> Uuid;
    /// Its index row; begins with the treatment's id.
    fn row(&self, id: Uuid) -> Bytes;
}

/// Plans to add an entry. `what` is its name in the audit trail, with the
/// version that the treatment has by it.
///
/// # Errors
/// [`Error::Internal`] if something cannot be sealed or written down.
pub fn add<E: Entry>(
    batch: Batch,
    (keyring, access): (&Keyring, Access),
    moment: &Moment,
    (id, trace): (Uuid, E),
    (input, answer): (&E::Input, Vec<u8>),
    (what, version): (&str, u64),
) -> Result<Planned, Error> {
    let (row, about) = (trace.row(id), format!("treatments/{}", trace.treatment_id()));
    let batch = sealed::add(batch, (keyring, &access), moment, (id, trace), input, &answer)?
        .expect(E::BY_TREATMENT, row.clone(), None)
        .put(E::BY_TREATMENT, row, id.as_bytes().to_vec())
        .audit(moment.entry(what, &about, version));
    Ok(Planned {
        created: true,
        answer,
        location: None,
        batch: access.guard(batch),
        repeat: Repeat::Record(E::SPACE, id.as_bytes().to_vec()),
    })
}

/// Ids of the entries of one kind, in their order.
///
/// # Errors
/// What the store met.
pub async fn ids<E: Entry>(snap: &mut Snap, treatment_id: Uuid) -> Result<Vec<Uuid>, Error> {
    let mut range = KeyWriter::new().uuid(treatment_id).prefix_range();
    let mut ids = Vec::new();
    loop {
        let rows = snap.scan(E::BY_TREATMENT, range.clone(), Order::Ascending, STRIDE).await?;
        let more = rows.len() == STRIDE;
        for (key, value) in rows {
            ids.push(Uuid::from_slice(&value).map_err(|_| broken(E::BY_TREATMENT))?);
            range.start = after(&key);
        }
        if !more {
            return Ok(ids);
        }
    }
}

/// The entries of one kind, in their order.
///
/// # Errors
/// [`Error::NotFound`] if the client was erased; what the store met.
pub async fn all<E: Entry>(
    studio: &Studio,
    snap: &mut Snap,
    treatment_id: Uuid,
) -> Result<Vec<E::Answer>, Error> {
    let mut entries = Vec::new();
    for id in ids::<E>(snap, treatment_id).await? {
        entries.push(sealed::load::<E>(snap, id).await?.said(studio, snap).await?);
    }
    Ok(entries)
}

/// A treatment as it stands, with what was put right since.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if its client was erased.
pub async fn record(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<TreatmentRecord, Error> {
    let stored = sealed::load::<TreatmentTrace>(snap, id).await?;
    let mut record = stored.said(studio, snap).await?;
    for amendment in all::<AmendmentTrace>(studio, snap, id).await? {
        apply(&mut record, amendment);
    }
    Ok(record)
}

/// A treatment as it stands, with everything that belongs to it.
///
/// # Errors
/// As for [`record`].
pub async fn whole(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<TreatmentRecord, Error> {
    let mut record = record(studio, snap, id).await?;
    record.observations = all::<ObservationTrace>(studio, snap, id).await?;
    record.symptom_reports = kept_reports::all(studio, snap, id).await?;
    record.reviews = all::<ReviewTrace>(studio, snap, id).await?;
    Ok(record)
}

/// Puts right what an amendment says.
pub(super) fn apply(record: &mut TreatmentRecord, amendment: Amendment) {
    let AmendedValues { performed_at, artist_ref, machine_ref, effect, pigments, worked } =
        amendment.now.clone();
    record.performed_at = performed_at.unwrap_or(record.performed_at);
    if let Some(artist_ref) = artist_ref {
        record.artist_ref = artist_ref;
    }
    record.machine_ref = machine_ref.or(record.machine_ref.take());
    record.effect = effect.or(record.effect);
    record.worked = worked.or(record.worked.take());
    if let Some(pigments) = pigments {
        record.pigments = pigments;
        record.flags.retain(|flag| !flag.pointer.starts_with("#/pigments"));
    }
    record.flags.extend(amendment.flags.iter().cloned());
    record.packs.extend(amendment.added.iter().cloned());
    for place in &amendment.struck {
        if let Some(pack) = record.packs.get_mut(usize::from(*place)) {
            pack.struck_by = Some(amendment.number);
        }
    }
    record.amendments.push(amendment);
}
