//! At which branch a treatment was done, and what wants a second look about that.
//!
//! Where nobody names it, what points to one branch alone decides, and is told: the check, else the lots
//! of all packs, else the artist. Else it is of none, and that is told too.

use etui_craft::drawer::FlagCode;
use etui_schema::branches::{BranchFrom, UNASSIGNED};
use etui_schema::treatments::{Flag, TreatmentRequest};
use etui_schema::vocabulary::Reference;
use uuid::Uuid;

use super::flags::flag;
use crate::studio::Studio;
use crate::studio::appointment_checks::CheckTrace;
use crate::studio::artists::StoredArtist;
use crate::studio::branches::{is_chain, named};
use crate::studio::documents::{self, Document};
use crate::studio::engine::Snap;
use crate::studio::error::{Error, readable};
use crate::studio::lots;
use crate::studio::sealed;

/// A branch and what says it.
#[derive(Debug, Clone, Default)]
pub(super) struct Place {
    pub(super) branch: Option<Reference>,
    pub(super) from: Option<BranchFrom>,
    /// The branch of the check.
    checked: Option<Reference>,
}

/// Where a treatment was done.
pub(super) async fn of(
    studio: &Studio,
    snap: &mut Snap,
    request: &TreatmentRequest,
) -> Result<Place, Error> {
    if request.branch_ref.is_none() && !is_chain(snap).await? {
        return Ok(Place::default());
    }
    let checked = of_check(snap, request.check_id).await?;
    let (branch, from) = match &request.branch_ref {
        Some(branch) => (Some(branch.clone()), named(Some(branch)).map(|_| BranchFrom::Request)),
        None => found(studio, snap, request, checked.as_ref()).await?,
    };
    Ok(Place { branch, from, checked })
}

async fn found(
    studio: &Studio,
    snap: &mut Snap,
    request: &TreatmentRequest,
    checked: Option<&Reference>,
) -> Result<(Option<Reference>, Option<BranchFrom>), Error> {
    if let Some(branch) = checked {
        return Ok((Some(branch.clone()), Some(BranchFrom::Check)));
    }
    if let Some(branch) = of_packs(snap, request).await? {
        return Ok((Some(branch), Some(BranchFrom::Packs)));
    }
    let artist = documents::find::<StoredArtist, _>(studio, snap, &request.artist_ref).await?;
    let hers = artist.and_then(|artist| named(artist.branch()).cloned());
    Ok(match hers {
        Some(branch) => (Some(branch), Some(BranchFrom::Artist)),
        None => (UNASSIGNED.parse().ok(), None),
    })
}

async fn of_check(snap: &mut Snap, id: Option<Uuid>) -> Result<Option<Reference>, Error> {
    let Some(id) = id else { return Ok(None) };
    let record = readable(sealed::load::<CheckTrace>(snap, id).await)?;
    Ok(record.and_then(|record| named(record.trace.branch_ref.as_ref()).cloned()))
}

/// The branch where the lots of all packs lie.
async fn of_packs(snap: &mut Snap, request: &TreatmentRequest) -> Result<Option<Reference>, Error> {
    let mut all: Option<Reference> = None;
    for pack in &request.packs {
        let lot = readable(lots::load(snap, pack.lot_id).await)?;
        let branch = lot.and_then(|(lot, _)| named(lot.branch_ref.as_ref()).cloned());
        if branch.is_none() || all.is_some() && all != branch {
            return Ok(None);
        }
        all = branch;
    }
    Ok(all)
}

impl Place {
    /// That nothing says where, or that the check was for elsewhere.
    pub(super) fn flags(&self) -> Vec<Flag> {
        let Some(branch) = &self.branch else { return Vec::new() };
        if named(Some(branch)).is_none() {
            return vec![flag("#/branch_ref", FlagCode::BranchUnassigned)];
        }
        let other = self.checked.as_ref().filter(|checked| *checked != branch);
        other.map(|_| flag("#/check_id", FlagCode::CheckOfAnotherBranch)).into_iter().collect()
    }
}
