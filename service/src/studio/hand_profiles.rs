//! Counting an artist's healed results.
//!
//! Of each treatment the last review counts, if it could be judged. Results of
//! clients who were forgotten are gone; how many that are is said.

use std::collections::BTreeSet;
use std::sync::Arc;

use etui_craft::hand::{Count, Group, Healed, Profile, Row};
use etui_schema::hand_profiles as wire;
use etui_schema::reviews::{Review, ReviewOutcome};
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Instant, Language, Reference};
use uuid::Uuid;

use super::artists::StoredArtist;
use super::engine::Snap;
use super::entries::Entry;
use super::error::{Error, readable};
use super::reviews::{self, Reviewed};
use super::{Studio, documents, history, sealed};

/// Most reviews that are looked at, the newest first; bounds one answer.
const MOST: usize = 5_000;

/// What was found of an artist's work.
#[derive(Default)]
struct Found {
    results: Vec<Healed>,
    at: Vec<Instant>,
    forgotten: u32,
    cut_short: bool,
}

/// What the healed results of an artist say.
///
/// # Errors
/// [`Error::NotFound`] if there is no such artist and no review of her work;
/// what the store met.
pub async fn get(
    studio: &Studio,
    snap: &mut Snap,
    language: Language,
    artist_ref: &Reference,
) -> Result<wire::HandProfile, Error> {
    let found = find(studio, snap, artist_ref).await?;
    if found.results.is_empty() && found.forgotten == 0 {
        documents::get::<StoredArtist, _>(studio, snap, artist_ref).await?;
    }
    let hands = &studio.craft.hands;
    let Profile { rows, fewest, cautions, basis } = hands.profile(&found.results);
    let texts = hands.texts();
    let group = |row: Row| {
        let text = hands.say(language, &row);
        group(row, text)
    };
    Ok(wire::HandProfile {
        artist_ref: artist_ref.clone(),
        results: u32::try_from(found.results.len()).unwrap_or(u32::MAX),
        forgotten: found.forgotten,
        from: found.at.iter().min().copied(),
        until: found.at.iter().max().copied(),
        cut_short: found.cut_short,
        fewest,
        groups: rows.into_iter().map(group).collect(),
        cautions: cautions.iter().map(|key| texts.get(language, key).to_owned()).collect(),
        basis,
    })
}

async fn find(studio: &Studio, snap: &mut Snap, artist_ref: &Reference) -> Result<Found, Error> {
    let mut rows = reviews::of_artist(&studio.keyring, artist_ref).backwards();
    let (mut found, mut seen, mut looked_at) = (Found::default(), BTreeSet::new(), 0);
    while let Some(((.., id), _)) = rows.next(snap).await? {
        take(studio, snap, artist_ref, id, &mut found, &mut seen).await?;
        looked_at += 1;
        if looked_at == MOST {
            found.cut_short = true;
            break;
        }
    }
    Ok(found)
}

/// Counts one review, the newest first; older ones of the same treatment are
/// passed over.
async fn take(
    studio: &Studio,
    snap: &mut Snap,
    artist_ref: &Reference,
    id: Uuid,
    found: &mut Found,
    seen: &mut BTreeSet<Uuid>,
) -> Result<(), Error> {
    let Some(stored) = readable(sealed::load::<Entry<Reviewed>>(snap, id).await)? else {
        return Ok(());
    };
    let treatment_id = stored.trace.treatment_id;
    if seen.contains(&treatment_id) {
        return Ok(());
    }
    let Some(review) = readable(stored.said(studio, snap).await)? else {
        seen.insert(treatment_id);
        found.forgotten += 1;
        return Ok(());
    };
    // What could not be judged yet leaves an earlier review no say either.
    let early = review.day < studio.craft.reviews.floor_days();
    if early || matches!(review.outcome, ReviewOutcome::TooEarly | ReviewOutcome::Wait) {
        return Ok(());
    }
    seen.insert(treatment_id);
    let Some(record) = readable(history::record(studio, snap, treatment_id).await)? else {
        found.forgotten += 1;
        return Ok(());
    };
    // The record may have been put right since: it was another's work.
    if record.artist_ref == *artist_ref {
        found.at.push(review.reviewed_at);
        found.results.push(healed(&record, &review));
    }
    Ok(())
}

fn healed(record: &TreatmentRecord, review: &Review) -> Healed {
    let opened = record.packs.iter().filter(|pack| pack.struck_by.is_none());
    let used: BTreeSet<Arc<str>> =
        opened.filter_map(|pack| pack.canonical.as_deref().map(Into::into)).collect();
    Healed {
        treatment: record.treatment,
        effect: record.effect,
        configurations: used.into_iter().collect(),
        kept: review.zones.iter().map(|part| part.kept).collect(),
        hurt: review.trauma_seen,
    }
}

fn group(row: Row, text: String) -> wire::HandGroup {
    let Row { group, held, results, share: mean, hurt, interval, apart, says: _ } = row;
    let (treatment, effect, configuration) = match group {
        Group::All => (None, None, None),
        Group::Effect(treatment, effect) => (Some(treatment), effect, None),
        Group::Configuration(name) => (None, None, Some(name.to_string())),
    };
    let tally = |Count { hits, of }: Count| wire::Tally { count: hits, of };
    let share = mean.zip(interval).map(|(of, at)| wire::Share {
        share: of.mean,
        low: at.low,
        high: at.high,
    });
    wire::HandGroup {
        treatment,
        effect,
        configuration,
        results,
        held: tally(held),
        held_share: share,
        hurt: tally(hurt),
        against_rest: apart.map(|(standing, interval)| wire::AgainstRest {
            standing,
            low: interval.low,
            high: interval.high,
        }),
        too_few: interval.is_none(),
        text,
    }
}
