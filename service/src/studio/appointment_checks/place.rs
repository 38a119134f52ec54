//! At which branch a check is for, and what of it a token of some branches is told.

use etui_schema::appointment_checks::AppointmentCheckRequest;
use etui_schema::branches::BranchFrom;
use etui_schema::vocabulary::Reference;
use serde_json::Value;

use crate::studio::artists::StoredArtist;
use crate::studio::documents::{self, Document};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Mandate;
use crate::studio::needle_selections::ELSEWHERE;
use crate::studio::plan::to_json;
use crate::studio::{Studio, branches};

/// A kept check as a token of some branches is told it: without the lots that lie in others.
///
/// # Errors
/// [`Error::Internal`] if it is no JSON.
pub fn of_branches(mandate: &Mandate, kept: Vec<u8>) -> Result<Vec<u8>, Error> {
    if mandate.branches.is_none() {
        return Ok(kept);
    }
    let read: Result<Value, _> = serde_json::from_slice(&kept);
    let mut check = read.map_err(|error| Error::Internal(error.to_string()))?;
    if let Some(lots) = check.pointer_mut("/needles/passed_over").and_then(Value::as_array_mut) {
        let said = |lot: &Value| {
            lot["reasons"].as_array().is_some_and(|all| all.iter().any(|one| one == ELSEWHERE))
        };
        lots.retain(|lot| !said(lot));
    }
    // How many more there are counts those of others.
    if let Some(needles) = check.pointer_mut("/needles").and_then(Value::as_object_mut) {
        needles.remove("passed_over_not_shown");
    }
    to_json(&check)
}

/// Where a check is for: at the branch that is named, else at the artist's; and what says it.
pub(super) async fn place(
    studio: &Studio,
    snap: &mut Snap,
    request: &AppointmentCheckRequest,
) -> Result<(Option<Reference>, Option<BranchFrom>), Error> {
    if let Some(branch) = &request.branch_ref {
        let is_named = branches::named(Some(branch)).is_some();
        return Ok((Some(branch.clone()), is_named.then_some(BranchFrom::Request)));
    }
    if !branches::is_chain(snap).await? {
        return Ok((None, None));
    }
    let artist = match &request.artist_ref {
        Some(artist) => documents::find::<StoredArtist, _>(studio, snap, artist).await?,
        None => None,
    };
    let hers = artist.and_then(|artist| branches::named(artist.branch()).cloned());
    let from = hers.as_ref().map(|_| BranchFrom::Artist);
    Ok((branches::said(snap, hers).await?, from))
}
