//! Counting an artist's healed results.
//!
//! Of each treatment the last review counts, if it could be judged. What is recorded twice of one
//! session is one result, and a record whose packs were all struck is none. Results of
//! clients who were forgotten are gone; how many that are is said.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use etui_craft::hand::{Count, Group, Healed, OwnResult, Profile, Row};
use etui_craft::refusal::Refusal;
use etui_craft::training::{Done, Shrunk, Training};
use etui_craft::trauma::SESSION;
use etui_schema::hand_profiles as wire;
use etui_schema::problem::FaultCode;
use etui_schema::reviews::{Review, ReviewOutcome};
use etui_schema::treatments::TreatmentRecord;
use etui_schema::vocabulary::{Configuration, Instant, Language, Reference, Treatment};
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::artists::StoredArtist;
use super::engine::Snap;
use super::entries::Entry;
use super::error::{Error, readable};
use super::needle_selections::OwnFound;
use super::reviews;
use super::{Studio, documents, history, sealed};

/// Most reviews that are looked at, the newest first; bounds one answer.
const MOST: usize = 5_000;

/// One result: whose it is, when and with what it was made.
pub(super) struct Made {
    pub(super) artist_ref: Reference,
    pub(super) treatment_id: Uuid,
    pub(super) at: Timestamp,
    pub(super) on: Date,
    pub(super) done: Vec<Done>,
    pub(super) healed: Healed,
}

/// What was found of an artist's work.
#[derive(Default)]
struct Found {
    results: Vec<Made>,
    at: Vec<Instant>,
    forgotten: u32,
    cut_short: bool,
    /// When each artist worked on each client's areas.
    sessions: BTreeMap<(Reference, Reference, Treatment), Vec<Timestamp>>,
}

impl Found {
    /// Whether what was done at a moment is the first that is found of its session.
    fn is_first(&mut self, record: &TreatmentRecord) -> bool {
        let key = (record.artist_ref.clone(), record.client_ref.clone(), record.treatment);
        let (at, times) = (record.performed_at.0, self.sessions.entry(key).or_default());
        let is_first = times.iter().all(|other| SESSION <= other.duration_since(at).abs());
        times.push(at);
        is_first
    }

    fn healed(&self) -> Vec<Healed> {
        self.results.iter().map(|made| made.healed.clone()).collect()
    }
}

/// The newest results of an artist, or of all, that could be judged.
///
/// # Errors
/// What the store met.
pub(super) async fn results(
    studio: &Studio,
    snap: &mut Snap,
    artist_ref: Option<&Reference>,
    most: usize,
) -> Result<(Vec<Made>, u32), Error> {
    let found = find(studio, snap, artist_ref, most).await?;
    Ok((found.results, found.forgotten))
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
    let found = find(studio, snap, Some(artist_ref), MOST).await?;
    if found.results.is_empty() && found.forgotten == 0 {
        documents::get::<StoredArtist, _>(studio, snap, artist_ref).await?;
    }
    let hands = &studio.craft.hands;
    let Profile { rows, fewest, cautions, basis } = hands.profile(&found.healed());
    let texts = hands.texts();
    let of_all = studio_share(studio, snap, artist_ref).await?;
    let group = |row: Row| {
        let text = hands.say(language, &row);
        let drawn_share = of_all.map(|all| drawn(&studio.craft.training, all, &row));
        wire::HandGroup { drawn_share, ..group(row, text) }
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

/// What an artist's own results have to say in a choice.
///
/// # Errors
/// [`Error::Refused`] at `at` if there is no such artist and no review of her work;
/// what the store met.
pub async fn own(
    studio: &Studio,
    snap: &mut Snap,
    (artist_ref, at): (&Reference, &str),
) -> Result<OwnFound, Error> {
    let Found { results, forgotten, .. } = find(studio, snap, Some(artist_ref), MOST).await?;
    let nothing = results.is_empty() && forgotten == 0;
    if nothing && documents::find::<StoredArtist, _>(studio, snap, artist_ref).await?.is_none() {
        let why = format!("`{artist_ref}` is no artist on record and has no results");
        return Err(Error::at(at, FaultCode::UnknownReference, why).means(Refusal::ArtistUnknown));
    }
    let used = |done: Vec<Done>| done.into_iter().map(|done| done.configuration).collect();
    let one = |made: Made| OwnResult { healed: made.healed, used: used(made.done) };
    Ok(OwnFound { results: results.into_iter().map(one).collect(), forgotten })
}

/// The share that held of the whole studio's work, towards which a student's few results are
/// drawn; `None` for others, and where there is too little of it.
async fn studio_share(
    studio: &Studio,
    snap: &mut Snap,
    artist_ref: &Reference,
) -> Result<Option<f64>, Error> {
    let artist = documents::find::<StoredArtist, _>(studio, snap, artist_ref).await?;
    if !artist.is_some_and(|artist| artist.is_student()) {
        return Ok(None);
    }
    let all = find(studio, snap, None, MOST).await?;
    let rows = studio.craft.hands.profile(&all.healed()).rows;
    let whole = rows.into_iter().find(|row| row.group == Group::All);
    Ok(whole.filter(|row| row.interval.is_some()).and_then(|row| Some(row.share?.mean)))
}

fn drawn(training: &Training, of_all: f64, row: &Row) -> wire::Share {
    let Count { hits, of } = row.held;
    let told = f64::from(hits) / f64::from(of.max(1));
    let share = row.share.as_ref().map_or(told, |share| share.mean);
    let Shrunk { mean, interval } = training.shrunk_share(of_all, share, row.results);
    wire::Share { share: mean, low: interval.low, high: interval.high }
}

/// How many reviews of one treatment are passed over, on the average, before the look ends.
const REVIEWS_EACH: usize = 8;

/// Looks at the work of an artist, or of all: the newest treatments that were judged. What was looked
/// at again pushes no other out.
async fn find(
    studio: &Studio,
    snap: &mut Snap,
    artist_ref: Option<&Reference>,
    most: usize,
) -> Result<Found, Error> {
    let mut rows = reviews::of_artist(&studio.keyring, artist_ref).backwards();
    let (mut found, mut seen, mut looked_at) = (Found::default(), BTreeSet::new(), 0);
    while let Some(((.., id), _)) = rows.next(snap).await? {
        take(studio, snap, artist_ref, id, &mut found, &mut seen).await?;
        looked_at += 1;
        if seen.len() == most || looked_at == most * REVIEWS_EACH {
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
    artist_ref: Option<&Reference>,
    id: Uuid,
    found: &mut Found,
    seen: &mut BTreeSet<Uuid>,
) -> Result<(), Error> {
    let Some(stored) = readable(sealed::load::<Entry<reviews::Own>>(snap, id).await)? else {
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
    if !is_judged(studio, &review) {
        return Ok(());
    }
    seen.insert(treatment_id);
    let Some(record) = readable(history::record(studio, snap, treatment_id).await)? else {
        found.forgotten += 1;
        return Ok(());
    };
    // The record may have been put right since: it was another's work.
    let is_hers = artist_ref.is_none_or(|artist| record.artist_ref == *artist);
    if is_hers && !history::is_struck(&record) && found.is_first(&record) {
        found.at.push(review.reviewed_at);
        found.results.push(made(studio, &record, &review));
    }
    Ok(())
}

/// Whether a review came late enough to say how the work healed.
pub(super) fn is_judged(studio: &Studio, review: &Review) -> bool {
    let early = review.day < studio.craft.reviews.floor_days();
    !early
        && !matches!(
            review.outcome.known(),
            None | Some(ReviewOutcome::TooEarly | ReviewOutcome::Wait)
        )
}

/// The result that a review tells of.
pub(super) fn made(studio: &Studio, record: &TreatmentRecord, review: &Review) -> Made {
    let nothing = Configuration { diameter_mm: None, count: None, grouping: None, taper: None };
    let sites = |site| studio.craft.selector.sites(record.treatment, site);
    let of = |configuration, sites| Done { configuration, effect: record.effect, sites };
    let opened = record.packs.iter().filter(|pack| pack.struck_in.is_none());
    let mut done: Vec<Done> =
        opened.map(|pack| of(pack.configuration.unwrap_or(nothing), sites(pack.site))).collect();
    if done.is_empty() {
        done.push(of(nothing, sites(None)));
    }
    Made {
        artist_ref: record.artist_ref.clone(),
        treatment_id: record.id,
        at: record.performed_at.0,
        on: record.zone.rules().to_datetime(record.performed_at.0).date(),
        done,
        healed: healed(record, review),
    }
}

fn healed(record: &TreatmentRecord, review: &Review) -> Healed {
    let opened = record.packs.iter().filter(|pack| pack.struck_in.is_none());
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
        drawn_share: None,
        against_rest: apart.map(|(standing, interval)| wire::AgainstRest {
            standing: standing.into(),
            low: interval.low,
            high: interval.high,
        }),
        too_few: interval.is_none(),
        text,
    }
}
