//! What of a recall concerns which branch, and what of it a token of some branches is told.

use std::collections::{BTreeMap, BTreeSet};

use etui_schema::branches::UNASSIGNED;
use etui_schema::recalls::{ExposedBranch, Exposure, Exposures};
use etui_schema::vocabulary::Reference;

use crate::studio::branches::{is_chain, named};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots::{self, StoredLot};
use crate::studio::moment::Mandate;

/// Lots and treatments by branch; nothing for a studio without branches.
pub(super) struct Groups {
    by: BTreeMap<Reference, ExposedBranch>,
    unassigned: Option<Reference>,
}

impl Groups {
    pub(super) async fn of(snap: &mut Snap) -> Result<Self, Error> {
        let unassigned = if is_chain(snap).await? { UNASSIGNED.parse().ok() } else { None };
        Ok(Self { by: BTreeMap::new(), unassigned })
    }

    fn group(&mut self, branch: Option<&Reference>) -> Option<&mut ExposedBranch> {
        let branch_ref = named(branch).or(self.unassigned.as_ref())?.clone();
        self.unassigned.as_ref()?;
        let empty = ExposedBranch {
            branch_ref: branch_ref.clone(),
            lot_ids: Vec::new(),
            packs: 0,
            treatment_ids: Vec::new(),
        };
        Some(self.by.entry(branch_ref).or_insert(empty))
    }

    pub(super) fn lot(&mut self, lot: Option<&StoredLot>) {
        let Some(lot) = lot else { return };
        if let Some(group) = self.group(lot.branch_ref.as_ref()) {
            group.lot_ids.push(lot.id);
            group.packs += lot.packs;
        }
    }

    /// Takes up treatments; each of them says its branch, or that none is named.
    pub(super) fn treatments(&mut self, rows: &mut [Exposure]) {
        for row in rows {
            let Some(group) = self.group(row.branch_ref.as_ref()) else { continue };
            if !group.treatment_ids.contains(&row.treatment_id) {
                group.treatment_ids.push(row.treatment_id);
            }
            row.branch_ref = Some(group.branch_ref.clone());
        }
    }

    pub(super) fn told(self) -> Vec<ExposedBranch> {
        self.by.into_values().collect()
    }
}

/// What of exposures a caller reaches.
///
/// # Errors
/// What the store met.
pub async fn seen(
    snap: &mut Snap,
    mandate: &Mandate,
    mut whole: Exposures,
) -> Result<Exposures, Error> {
    if mandate.branches.is_none() {
        return Ok(whole);
    }
    let reached = |branch: Option<&Reference>| mandate.reaches_branch(branch);
    whole.treatments.retain(|row| reached(row.branch_ref.as_ref()));
    whole.upcoming_checks.retain(|row| reached(row.branch_ref.as_ref()));
    whole.branches.retain(|row| reached(Some(&row.branch_ref)));
    let mut own: BTreeSet<_> = whole.branches.iter().flat_map(|row| row.lot_ids.clone()).collect();
    own.extend(whole.treatments.iter().map(|row| row.lot_id));
    whole.lot_ids.retain(|id| own.contains(id));
    let mut similar = Vec::new();
    for id in std::mem::take(&mut whole.similar_lot_ids) {
        let lot = readable(lots::load(snap, id).await)?;
        similar.extend(lot.filter(|(lot, _)| reached(lot.branch_ref.as_ref())).map(|_| id));
    }
    whole.similar_lot_ids = similar;
    let clients: BTreeSet<_> = whole.treatments.iter().map(|row| row.client_ref.clone()).collect();
    whole.clients = clients.into_iter().collect();
    Ok(whole)
}
