//! A treatment as it stands: the record, which is never written again, with what
//! was added to it since (`entries`).

use etui_schema::amendments::{AmendedValues, Amendment};
use etui_schema::branches::BranchFrom;
use etui_schema::page::{Page, PageQuery};
use etui_schema::treatments::{Flag, TreatmentRecord};
use uuid::Uuid;

use super::engine::Snap;
use super::entries::{self, Entry, EntryKind, all};
use super::error::{Error, readable};
use super::sealed::StoredSealed;
use super::treatments::TreatmentTrace;
use super::{Studio, amendments, countersignatures, sealed};

/// A treatment as it stands, with what was put right since.
///
/// # Errors
/// [`Error::NotFound`] if there is none, or if its client was erased.
pub async fn record(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<TreatmentRecord, Error> {
    let stored = sealed::load::<TreatmentTrace>(snap, id).await?;
    let mut record = stored.said(studio, snap).await?;
    for amendment in all::<amendments::Own>(studio, snap, id).await? {
        apply(&mut record, amendment);
    }
    Ok(record)
}

/// The entries of each kind into the record, but those that stand in it already.
macro_rules! stand_in {
    ([$record:ident $studio:ident $snap:ident] $($(#[$doc:meta])* $member:ident $name:ident $types:tt
        $calls:tt $more:tt)*) => {$(
        if $record.$member.is_empty() {
            $record.$member = all::<super::$member::Own>($studio, $snap, $record.id).await?;
        }
    )*};
}

/// A treatment as it stands, with everything that belongs to it.
///
/// # Errors
/// As for [`record`].
pub async fn whole(studio: &Studio, snap: &mut Snap, id: Uuid) -> Result<TreatmentRecord, Error> {
    let mut record = record(studio, snap, id).await?;
    etui_schema::entries!(stand_in record studio snap);
    record.unsupervised = countersignatures::wanting(studio, snap, &record).await?.then_some(true);
    Ok(record)
}

/// One page of the entries of a treatment of one kind, in their order.
///
/// # Errors
/// [`Error::NotFound`] if there is no such treatment, or if its client was erased;
/// [`Error::Refused`] for a limit or a cursor that is not one.
pub async fn page<K: EntryKind>(
    studio: &Studio,
    snap: &mut Snap,
    id: Uuid,
    query: &PageQuery,
) -> Result<Page<K::Answer>, Error> {
    let stored = sealed::load::<TreatmentTrace>(snap, id).await?;
    let access = stored.access(studio, snap).await?;
    entries::page::<K>(studio, snap, (id, &access), query).await
}

/// Where it is flagged that no pack is left on a record.
pub(super) const PACKS: &str = "#/packs";

/// Whether every pack of a record was struck: what was done stands on another, or nowhere.
pub(super) fn is_struck(record: &TreatmentRecord) -> bool {
    !record.packs.is_empty() && record.packs.iter().all(|pack| pack.struck_in.is_some())
}

/// The same of a record that is not opened; one whose amendments cannot be read stands.
///
/// # Errors
/// What the store met.
pub(super) async fn is_struck_by_trace(
    snap: &mut Snap,
    record: &StoredSealed<TreatmentTrace>,
) -> Result<bool, Error> {
    let mut packs = Packs::of(record);
    let ids = entries::ids::<amendments::Own>(snap, record.id).await?;
    for amendment in sealed::load_many::<Entry<amendments::Own>>(snap, &ids).await? {
        let Some(amendment) = readable(amendment)? else { return Ok(false) };
        packs.amend(&amendment.trace.own);
    }
    Ok(packs.are_struck())
}

/// How many packs a record names, and how many of them were struck.
#[derive(Clone, Copy)]
pub(super) struct Packs {
    opened: usize,
    struck: usize,
}

impl Packs {
    /// Those that it was recorded with.
    pub(super) fn of(record: &StoredSealed<TreatmentTrace>) -> Self {
        Self { opened: record.trace.packs.len(), struck: 0 }
    }

    /// Takes an amendment; whether the record stands since and did not before, or the other way round.
    pub(super) fn amend(&mut self, amendment: &amendments::Own) -> bool {
        let before = self.are_struck();
        self.opened += amendment.added.len();
        self.struck += amendment.struck.len();
        before != self.are_struck()
    }

    /// Whether none was opened, as far as is known.
    pub(super) const fn none_is_left(self) -> bool {
        self.opened <= self.struck
    }

    const fn are_struck(self) -> bool {
        0 < self.opened && self.none_is_left()
    }
}

/// Puts right what an amendment says.
pub(super) fn apply(record: &mut TreatmentRecord, amendment: Amendment) {
    let AmendedValues {
        performed_at,
        artist_ref,
        machine_ref,
        effect,
        pigments,
        worked,
        branch_ref,
    } = amendment.now.clone();
    if let Some(branch_ref) = branch_ref {
        record.branch_ref = Some(branch_ref);
        record.branch_from = Some(BranchFrom::Request.into());
        record.flags.retain(|flag| flag.pointer != "#/branch_ref");
    }
    record.zone = amendment.zone.clone().unwrap_or_else(|| record.zone.clone());
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
    if !amendment.added.is_empty() {
        record.flags.retain(|flag| flag.pointer != PACKS);
    }
    let is_gone = |flag: &Flag| {
        let same = |it: &Flag| (&it.pointer, &it.code) == (&flag.pointer, &flag.code);
        amendment.no_longer.iter().any(same)
    };
    record.flags.retain(|flag| !is_gone(flag));
    record.flags.extend(amendment.flags.iter().cloned());
    record.packs.extend(amendment.added.iter().cloned());
    for place in &amendment.struck {
        if let Some(pack) = record.packs.get_mut(usize::from(*place)) {
            pack.struck_in = Some(amendment.number);
        }
    }
    record.amendments.push(amendment);
}
