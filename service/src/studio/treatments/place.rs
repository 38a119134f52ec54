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
    /// The branch of the artist, where the packs were asked before her.
    hers: Option<Reference>,
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
    if let Some(branch) = request.branch_ref.clone() {
        let from = named(Some(&branch)).map(|_| BranchFrom::Request);
        return Ok(Place { branch: Some(branch), from, checked, hers: None });
    }
    if let Some(branch) = checked.clone() {
        return Ok(Place {
            branch: Some(branch),
            from: Some(BranchFrom::Check),
            checked,
            hers: None,
        });
    }
    found(studio, snap, request).await
}

/// Where its packs and its artist say that it was.
async fn found(
    studio: &Studio,
    snap: &mut Snap,
    request: &TreatmentRequest,
) -> Result<Place, Error> {
    let artist = documents::find::<StoredArtist, _>(studio, snap, &request.artist_ref).await?;
    let hers = artist.and_then(|artist| named(artist.branch()).cloned());
    let (branch, from) = match (of_packs(snap, request).await?, &hers) {
        (Some(branch), _) => (Some(branch), Some(BranchFrom::Packs)),
        (None, Some(branch)) => (Some(branch.clone()), Some(BranchFrom::Artist)),
        (None, None) => (UNASSIGNED.parse().ok(), None),
    };
    Ok(Place { branch, from, checked: None, hers })
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
    /// That nothing says where, that the check was for elsewhere, or that the artist is of elsewhere.
    pub(super) fn flags(&self) -> Vec<Flag> {
        let Some(branch) = &self.branch else { return Vec::new() };
        if named(Some(branch)).is_none() {
            return vec![flag("#/branch_ref", FlagCode::BranchUnassigned)];
        }
        let others = [
            (&self.checked, "#/check_id", FlagCode::CheckOfAnotherBranch),
            (&self.hers, "#/artist_ref", FlagCode::ArtistOfAnotherBranch),
        ];
        let is_other = |said: &Option<Reference>| said.as_ref().is_some_and(|said| said != branch);
        others
            .into_iter()
            .filter(|(said, ..)| is_other(said))
            .map(|(_, at, code)| flag(at, code))
            .collect()
    }
}
