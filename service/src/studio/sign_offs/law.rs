//! What the law of the place asks of a sign-off, where a pack tells it.

use etui_craft::refusal::Refusal;
use etui_craft::training::{Confirmed, Wanting};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::sign_offs::SignOffRequest;
use etui_schema::vocabulary::Rung;
use jiff::civil::Date;

use super::not_allowed;
use crate::studio::artists::StoredArtist;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::{Studio, documents};

/// What stands against signing a student off by the law of the place.
pub(super) async fn stands_against(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    (request, confirmed): (&SignOffRequest, Confirmed),
) -> Result<Vec<Fault>, Error> {
    let training = &studio.craft.training;
    if !training.has_places() {
        return Ok(Vec::new());
    }
    if let Some(signer) = moment.signer() {
        let signer = documents::find::<StoredArtist, _>(studio, snap, &signer).await?;
        long_enough(studio, signer.as_ref(), moment.today)?;
    }
    if request.rung != Rung::Alone {
        return Ok(Vec::new());
    }
    let fault = |wanting: Wanting<'_>| {
        Fault::new("#/rung", FaultCode::NotAllowed, wanting.to_string())
            .means(Refusal::LawWantsMore)
    };
    Ok(training.wanting(confirmed).map(fault).collect())
}

/// Refuses a trainer who has not held her own licence for as long as the law of the place
/// asks; one of whom that is not known has not.
///
/// # Errors
/// [`Error::Refused`].
pub fn long_enough(
    studio: &Studio,
    trainer: Option<&StoredArtist>,
    today: Date,
) -> Result<(), Error> {
    let since = trainer.and_then(StoredArtist::licensed_on);
    match studio.craft.training.too_young(since, today) {
        None => Ok(()),
        Some((years, law)) => Err(not_allowed(
            "#",
            format!(
                "by {law} whoever trains has held her own licence for {years} years: use a token that acts for an \
                 artist whose `licensed_on` says so"
            ),
        )
        .means(Refusal::TrainerTooNew)),
    }
}
