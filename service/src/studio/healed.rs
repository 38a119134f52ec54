//! A review, and what it says of the sign-offs of whoever did the work.
//!
//! Whether results speak against a sign-off is reckoned when one is told, and kept with the
//! sign-off: that a client's records are erased later clears nobody. The sum that they came
//! to is kept with it as well, a number without client or day.

use etui_schema::events::EventType;
use etui_schema::reviews::{Review, ReviewRequest};
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Language, Reference};
use uuid::Uuid;

use super::engine::Snap;
use super::entries::Added;
use super::error::Error;
use super::hand_profiles::{self, Made};
use super::moment::Moment;
use super::outbox::{self, Happened};
use super::plan::Planned;
use super::sign_offs::{SIGN_OFFS, StoredSignOff, kept_of};
use super::{Studio, artists, reviews};
use crate::store::record::encode;
use crate::store::{Batch, Read};

/// The newest results of the studio that say what is usual; bounds one request.
const MOST: usize = 500;

impl Added for reviews::Own {
    /// Plans to keep a review, with what it asks for.
    ///
    /// # Errors
    /// As [`reviews::create`].
    async fn create(
        studio: &Studio,
        snap: &mut Snap,
        moment: &Moment,
        language: Language,
        treatment_id: Uuid,
        request: &ReviewRequest,
    ) -> Result<Planned, Error> {
        let (planned, record, review) =
            reviews::create(studio, snap, moment, language, treatment_id, request).await?;
        let batch = doubt(studio, snap, moment, planned.batch, (&record, &review)).await?;
        Ok(Planned { batch, ..planned })
    }
}

/// Adds to the batch of a review what it says of the sign-offs of the student whose work was
/// looked at: those that are in doubt by it are kept so, and an event tells of it.
///
/// # Errors
/// What the store met.
async fn doubt(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    mut batch: Batch,
    (record, review): (&TreatmentRecord, &Review),
) -> Result<Batch, Error> {
    let artist = &record.artist_ref;
    if !hand_profiles::is_judged(studio, review)
        || !artists::may_be_student(studio, snap, artist).await?
    {
        return Ok(batch);
    }
    let watched: Vec<_> = kept_of(studio, snap, artist).await?;
    let watched: Vec<_> = watched.into_iter().filter(|one| !one.is_doubted).collect();
    if watched.is_empty() {
        return Ok(batch);
    }
    let (mut own, forgotten) = hand_profiles::results(studio, snap, Some(artist), MOST).await?;
    let before = own.iter().position(|made| made.treatment_id == record.id);
    let before = before.map(|at| own.remove(at));
    let made = hand_profiles::made(studio, record, review);
    // One that was judged before has its place in the sum that was kept; a loss that it had not is new.
    let held = |made: &Made| studio.craft.hands.did_hold(&made.healed);
    let is_worse = |before: &Made| held(&made) == Some(false) && held(before) != Some(false);
    let new = before.as_ref().is_none_or(is_worse).then_some(record.id);
    own.push(made);
    own.sort_by_key(|made| (made.at, made.treatment_id));
    let usual = usual(studio, snap, artist).await?;
    let mut any = false;
    for stored in watched {
        let (watched, is_doubted) = reckoned(studio, &stored, &own, (usual, forgotten), new);
        if !is_doubted && watched.total_cmp(&stored.watched).is_eq() {
            continue;
        }
        any |= is_doubted;
        let key = stored.id.as_bytes().to_vec();
        let held = snap.get(SIGN_OFFS, &key).await?;
        let mut next = stored;
        (next.is_doubted, next.watched) = (is_doubted, watched);
        batch = batch.expect(SIGN_OFFS, key.clone(), held).put(SIGN_OFFS, key, encode(&next)?);
    }
    if !any {
        return Ok(batch);
    }
    outbox::add(batch, moment, Happened::practice(EventType::PracticeInDoubt, artist.clone()))
}

/// The sum of the watch over what is known of the results that a sign-off covers, and whether
/// they raise doubt. What forgotten clients' results came to is in the sum that was kept, and
/// nowhere else: where there are such, the new result is added to it too.
fn reckoned(
    studio: &Studio,
    stored: &StoredSignOff,
    own: &[Made],
    (usual, forgotten): ((u32, u32), u32),
    new: Option<Uuid>,
) -> (f64, bool) {
    let (training, hands) = (&studio.craft.training, &studio.craft.hands);
    let signed = stored.weighed(studio.zone.rules());
    let covered = |made: &&Made| {
        signed.from <= made.on
            && made.done.iter().any(|done| training.may_cover(&signed.covers, done))
    };
    let of = |made: &Made| hands.did_hold(&made.healed);
    let results = own.iter().filter(covered);
    let seen = training.kept_healed(usual, 0.0, results.clone().filter_map(of));
    if forgotten == 0 {
        return (seen.value, seen.is_in_doubt);
    }
    let added = results.filter(|made| Some(made.treatment_id) == new).filter_map(of);
    let kept = training.kept_healed(usual, stored.watched, added);
    (seen.value.max(kept.value), seen.is_in_doubt || kept.is_in_doubt)
}

/// How many results of everybody else did not hold, of how many.
async fn usual(studio: &Studio, snap: &mut Snap, artist: &Reference) -> Result<(u32, u32), Error> {
    let (all, _) = hand_profiles::results(studio, snap, None, MOST).await?;
    let others = all.iter().filter(|made| made.artist_ref != *artist);
    let held = others.filter_map(|made| studio.craft.hands.did_hold(&made.healed));
    Ok(held.fold((0, 0), |(lost, of), held| (lost + u32::from(!held), of + 1)))
}
