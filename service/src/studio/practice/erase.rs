//! Everything that is held on an artist's practice, and forgetting it.

use etui_schema::practice_sheets::{PracticeDossier, PracticeErasure};
use etui_schema::problem::FaultCode;
use etui_schema::sign_offs::SignOffQuery;
use etui_schema::vocabulary::{Instant, Reference};

use super::{every, signed_of};
use crate::store::{Batch, Store};
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::vault::Subject;
use crate::studio::{Studio, artists, forgetting, sign_offs};

/// Puts everything together.
///
/// # Errors
/// What the store met.
pub async fn dossier(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    artist: &Reference,
) -> Result<PracticeDossier, Error> {
    let (sheets, mut unreadable) = every(studio, snap, artist, moment.today).await?;
    let mut signed = Vec::new();
    let mut cursor = None;
    loop {
        let query = SignOffQuery { artist_ref: Some(artist.clone()), limit: None, cursor };
        let page = sign_offs::list(studio, snap, moment, &query).await?;
        signed.extend(page.items);
        unreadable += page.unreadable.unwrap_or(0);
        cursor = page.next_cursor;
        if cursor.is_none() {
            break;
        }
    }
    if sheets.is_empty() && signed.is_empty() && unreadable == 0 {
        return Err(Error::NotFound { what: "practice", id: artist.to_string() });
    }
    Ok(PracticeDossier {
        artist_ref: artist.clone(),
        made_at: Instant(moment.now),
        sheets,
        sign_offs: signed,
        unreadable,
    })
}

/// Refuses to a student's token to forget practice, hers too: what she missed would be gone with
/// it, and nothing would be held against her. Others forget what they may see.
async fn may_forget(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    artist: &Reference,
) -> Result<(), Error> {
    let Some(acting) = &moment.mandate.acts_for else { return Ok(()) };
    if artists::may_be_student(studio, snap, acting).await? {
        let why = format!(
            "this token acts for `{acting}`, a student; her practice is forgotten at her word by the studio"
        );
        return Err(Error::at("#", FaultCode::NotAllowed, why));
    }
    artists::hide(studio, snap, moment, artist).await
}

/// Forgets her practice: destroys the key of everything that was sealed. Who signed what
/// when stays, since checks and treatments point to it. A dry run only tells so.
///
/// # Errors
/// [`Error::Refused`] for a token that acts for a student; [`Error::NotFound`] if nothing is kept;
/// what the store met.
pub async fn erase(
    studio: &Studio,
    moment: &Moment,
    artist: &Reference,
    dry_run: bool,
) -> Result<PracticeErasure, Error> {
    let subject = Subject::Artist(artist.clone());
    let mut snap = studio.engine.snapshot().await?;
    may_forget(studio, &mut snap, moment, artist).await?;
    let entry = moment.entry("practice.erase", &format!("artists/{artist}"), 0);
    let batch = Batch::new().audit(entry);
    let given = signed_of(studio, &mut snap, artist, moment.today).await?;
    let (batch, any) =
        sign_offs::forget(studio, &mut snap, moment, batch, (artist, &given)).await?;
    if !any && !studio.keyring.has_key(&mut snap, &subject.id(studio)).await? {
        return Err(Error::NotFound { what: "practice", id: artist.to_string() });
    }
    drop(snap);
    let erasure = forgetting::erasure_of(studio, moment, &subject, batch)?;
    let receipt =
        if dry_run { None } else { Some(forgetting::destroy_one(studio, moment, erasure).await?) };
    let (receipt_id, backups, not_reached) = receipt
        .map(|receipt| (Some(receipt.id), receipt.backups, receipt.unreached))
        .unwrap_or_default();
    Ok(PracticeErasure {
        receipt_id,
        artist_ref: artist.clone(),
        erased_at: Instant(moment.now),
        dry_run,
        unreadable: "what was practised, handed in, graded and marked, and what was written beside it".to_owned(),
        kept: "numbers and days of the sheets, who marked them, and the sign-offs: checks and treatments \
               point to who signed what when"
            .to_owned(),
        backups,
        not_reached,
    })
}
