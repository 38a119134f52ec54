//! Sign-offs after an artist's practice was forgotten.

use etui_craft::training::SignedOff;
use etui_schema::vocabulary::Reference;

use super::{SIGN_OFFS, kept_of};
use crate::store::record::encode;
use crate::store::{Batch, Read};
use crate::studio::Studio;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;

/// Adds to a batch that of an artist's practice nothing is known any more: what former
/// builds wrote beside her sign-offs under the studio's key is gone, and what is in doubt
/// by results that go stays so. `given` are her sign-offs as [`super::of_artist`] has them.
/// Answers as well whether anything was written so.
///
/// # Errors
/// What the store met.
pub async fn forget(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    (artist, given): (&Reference, &[SignedOff]),
) -> Result<(Batch, bool), Error> {
    let seal = studio.keyring.studio_seal();
    let mut any = false;
    for (stored, given) in kept_of(studio, snap, artist).await?.into_iter().zip(given) {
        let key = stored.id.as_bytes().to_vec();
        let bare = stored.without_words(&seal, moment)?;
        any |= bare.is_some();
        let doubted = given.is_in_doubt && !stored.is_doubted;
        if bare.is_none() && !doubted {
            continue;
        }
        let held = snap.get(SIGN_OFFS, &key).await?;
        let mut next = bare.unwrap_or(stored);
        next.is_doubted = given.is_in_doubt;
        batch = batch.expect(SIGN_OFFS, key.clone(), held).put(SIGN_OFFS, key, encode(&next)?);
    }
    Ok((batch, any))
}
