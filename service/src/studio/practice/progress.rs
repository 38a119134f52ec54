//! How far practice is: results propose, and what was signed is watched.

use std::collections::{BTreeMap, BTreeSet};

use etui_craft::configuration::Complete;
use etui_craft::training::{
    Attempt, Held, Kept, Practice, Progress, Sheet, SignedOff, WayStep, Work,
};
use etui_schema::practice_sheets::{
    PracticeOf, PracticeProgress, PracticeSheet, PracticeWay, PracticeWayStep, ProgressQuery,
    SheetMarked,
};
use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::{
    CivilDate, Configuration, DrillLevel, Effect, Instant, Language, PracticeState, Reference,
    Rung, Site,
};
use jiff::civil::Date;
use uuid::Uuid;

use super::every;
use crate::studio::Studio;
use crate::studio::artists;
use crate::studio::craft::Craft;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::sign_offs::{self, StoredSignOff};

/// How many of an artist's practices are where.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct States {
    pub(super) ready: usize,
    pub(super) in_doubt: usize,
}

/// Practice with one configuration, effect and site.
struct Group {
    configuration: Configuration,
    sheets: Vec<Sheet>,
    anew_from: Vec<u32>,
    not_marked: Vec<u32>,
    not_counted: u32,
}

type Groups = BTreeMap<(String, Effect, Site), Group>;

/// How far an artist's practice is today.
///
/// # Errors
/// [`Error::NotFound`] for an artist that the caller may not see.
pub async fn progress(
    studio: &Studio,
    snap: &mut Snap,
    moment: &Moment,
    language: Language,
    (artist, query): (&Reference, ProgressQuery),
) -> Result<PracticeProgress, Error> {
    let asked = match (query.effect, query.site) {
        (None, None) => None,
        (Some(effect), Some(site)) => Some((effect, site)),
        (effect, _) => {
            let place = if effect.is_some() { "query:site" } else { "query:effect" };
            let why = "a way is for an effect on a site: both are told, or neither";
            return Err(Error::at(place, FaultCode::Missing, why));
        }
    };
    let standing = artists::may_see(studio, snap, moment, artist).await?.standing();
    let (sheets, unreadable) = every(studio, snap, artist, moment.today).await?;
    let signed = sign_offs::kept_of(studio, snap, artist).await?;
    let groups = grouped(studio, &sheets, moment.today);
    let signed = doubted(studio, &groups, &sheets, signed, moment.today);
    let told = groups
        .iter()
        .map(|(key, group)| told(studio, key, group, &signed, (moment.today, language)));
    let told: Vec<PracticeOf> = told.collect();
    let words: Vec<SignedOff> = signed.iter().map(|(one, _)| one.clone()).collect();
    let ways = ways(studio, (asked, &told), &words, (moment.today, language));
    let mut basis = studio.craft.training.progress_basis();
    basis.sort();
    basis.dedup();
    Ok(PracticeProgress {
        artist_ref: artist.clone(),
        standing,
        as_of: CivilDate(moment.today),
        practice: told,
        ways,
        unreadable,
        cautions: studio.craft.training.progress_cautions(language),
        basis,
    })
}

/// The way through each effect and site that she practises or that was asked for, with where
/// she stands on it.
fn ways(
    studio: &Studio,
    (asked, practice): (Option<(Effect, Site)>, &[PracticeOf]),
    signed: &[SignedOff],
    (today, language): (Date, Language),
) -> Vec<PracticeWay> {
    let Craft { training, model, selector, .. } = &*studio.craft;
    let practised: BTreeSet<(Effect, Site)> =
        practice.iter().map(|of| (of.effect, of.site)).chain(asked).collect();
    let way = |(effect, site): (Effect, Site)| {
        let mut is_next = true;
        let step = |step: WayStep| {
            let canonical = step.configuration.canonical();
            let configuration = Configuration::from(step.configuration);
            let held =
                training.held(signed, &Work { configuration, effect, sites: vec![site] }, today);
            let own = practice
                .iter()
                .find(|of| (of.effect, of.site, &of.canonical) == (effect, site, &canonical));
            let alone = held.rung == Some(Rung::Alone);
            let next = !alone && std::mem::take(&mut is_next);
            let state = own.map_or_else(|| held.state.into(), |of| of.state.clone());
            let rung = held.rung;
            PracticeWayStep { configuration, canonical, because: step.because, state, rung, next }
        };
        let steps = training.way((model, selector), (effect, site), language);
        PracticeWay { effect, site, steps: steps.into_iter().map(step).collect() }
    };
    practised.into_iter().map(way).collect()
}

/// Every word that was given for an artist, with what her practice since says of it.
///
/// # Errors
/// What the store met.
pub async fn signed_of(
    studio: &Studio,
    snap: &mut Snap,
    artist: &Reference,
    today: Date,
) -> Result<Vec<SignedOff>, Error> {
    let signed = sign_offs::kept_of(studio, snap, artist).await?;
    if signed.is_empty() {
        return Ok(Vec::new());
    }
    let (sheets, _) = every(studio, snap, artist, today).await?;
    let groups = grouped(studio, &sheets, today);
    Ok(doubted(studio, &groups, &sheets, signed, today).into_iter().map(|one| one.0).collect())
}

/// Where all of her practice stands, as if a sheet had been marked already.
///
/// # Errors
/// What the store met.
pub(super) async fn states(
    studio: &Studio,
    snap: &mut Snap,
    today: Date,
    artist: &Reference,
    with: Option<(Uuid, &SheetMarked)>,
) -> Result<States, Error> {
    let (mut sheets, _) = every(studio, snap, artist, today).await?;
    if let Some((id, marked)) = with {
        let of = sheets.iter_mut().filter(|sheet| sheet.id == id);
        of.for_each(|sheet| sheet.marked = Some(marked.clone()));
    }
    let signed = sign_offs::kept_of(studio, snap, artist).await?;
    let groups = grouped(studio, &sheets, today);
    let ready = groups
        .values()
        .filter(|group| reckoned(studio, group, today).state == PracticeState::ReadyToSign);
    let ready = ready.count();
    let signed = doubted(studio, &groups, &sheets, signed, today);
    Ok(States { ready, in_doubt: signed.iter().filter(|(one, _)| one.is_in_doubt).count() })
}

/// Sheets by what they practise; those to begin with count for nothing.
fn grouped(studio: &Studio, sheets: &[PracticeSheet], today: Date) -> Groups {
    let mut groups = Groups::new();
    for sheet in sheets {
        let Some(effect) = sheet.request.effect else { continue };
        let key = (sheet.drills.canonical.clone(), effect, sheet.request.site);
        let group = groups.entry(key).or_insert_with(|| Group {
            configuration: sheet.request.configuration,
            sheets: Vec::new(),
            anew_from: Vec::new(),
            not_marked: Vec::new(),
            not_counted: 0,
        });
        if sheet.request.level == DrillLevel::First {
            group.not_counted += 1;
            continue;
        }
        if sheet.anew {
            group.anew_from.push(sheet.number);
        }
        if sheet.handed_in.is_some() && sheet.marked.is_none() {
            group.not_marked.push(sheet.number);
        }
        group.sheets.push(weighed(studio, sheet, today));
    }
    groups
}

/// A sheet as the craft weighs it. One that was handed in and not marked is waited for
/// until its day; after that nothing on it is met, until somebody marks it.
fn weighed(studio: &Studio, sheet: &PracticeSheet, today: Date) -> Sheet {
    let due = sheet.hand_in_until.0.min(studio.craft.training.hand_in_by(sheet.made_on.0));
    let attempts = |marked: &SheetMarked| {
        let of = |grade: &etui_schema::drills::DrillGrade| Attempt {
            panel: grade.panel,
            is_adequate: grade.adequate,
        };
        marked.panels.iter().map(of).collect()
    };
    let handed_in = match (&sheet.handed_in, &sheet.marked) {
        (_, Some(marked)) => Some(attempts(marked)),
        (Some(_), None) if due < today => Some(Vec::new()),
        (Some(_) | None, None) => None,
    };
    Sheet {
        number: sheet.number,
        made_on: sheet.made_on.0,
        hand_in_by: sheet.hand_in_until.0,
        drills: sheet.drills.panels.iter().map(|panel| panel.drill).collect(),
        handed_in,
    }
}

fn practice(group: &Group, today: Date) -> Practice<'_> {
    Practice { sheets: &group.sheets, anew_from: &group.anew_from, today }
}

fn reckoned(studio: &Studio, group: &Group, today: Date) -> Progress {
    studio.craft.training.progress(practice(group, today))
}

/// What was signed, with what was got since: the sum of the watch over the sheets made
/// after it.
fn doubted(
    studio: &Studio,
    groups: &Groups,
    sheets: &[PracticeSheet],
    signed: Vec<StoredSignOff>,
    today: Date,
) -> Vec<(SignedOff, Option<Kept>)> {
    let training = &studio.craft.training;
    let watched = |(signed_at, mut one): (Instant, SignedOff)| {
        let before = sheets.iter().filter(|sheet| sheet.made_at.0 <= signed_at.0);
        let after = before.map(|sheet| sheet.number).max().unwrap_or(0);
        let mut most: Option<Kept> = None;
        for ((_, effect, site), group) in groups {
            let work = work(group, *effect, *site);
            if training.is_covered(&one.covers, &work) {
                let kept = training.kept_up(practice(group, today), after);
                one.is_in_doubt |= kept.is_in_doubt;
                most = Some(most.map_or(kept, |most| nearer(most, kept)));
            }
        }
        (one, most)
    };
    let zone = studio.zone.rules();
    signed.iter().map(|one| watched((one.signed_at, one.weighed(zone)))).collect()
}

/// The watch that is nearer to doubt.
fn nearer(one: Kept, other: Kept) -> Kept {
    let results = one.results.max(other.results);
    Kept { results, ..if one.value < other.value { other } else { one } }
}

fn work(group: &Group, effect: Effect, site: Site) -> Work {
    // What was not told is taken as the drills took it.
    let configuration =
        Complete::try_from(group.configuration).map_or(group.configuration, Configuration::from);
    Work { configuration, effect, sites: vec![site] }
}

fn told(
    studio: &Studio,
    (canonical, effect, site): &(String, Effect, Site),
    group: &Group,
    signed: &[(SignedOff, Option<Kept>)],
    (today, language): (Date, Language),
) -> PracticeOf {
    let training = &studio.craft.training;
    let work = work(group, *effect, *site);
    let words: Vec<SignedOff> = signed.iter().map(|(one, _)| one.clone()).collect();
    let held: Held = training.held(&words, &work, today);
    let covering = signed.iter().filter(|(one, _)| training.is_covered(&one.covers, &work));
    let doubt = covering.clone().any(|(one, _)| one.is_in_doubt && !one.is_withdrawn);
    let watched = covering.filter_map(|(_, watched)| *watched).reduce(nearer);
    let found = reckoned(studio, group, today);
    let text = training.progress_text(&found, held, (doubt, watched), language);
    let state = match held.state {
        PracticeState::Practising | PracticeState::ReadyToSign => found.state,
        signed @ (PracticeState::Signed
        | PracticeState::InDoubt
        | PracticeState::Lapsed
        | PracticeState::Withdrawn) => signed,
    };
    let Progress {
        state: _,
        value,
        limit,
        counted,
        days,
        straight,
        days_wanted,
        waits_for,
        not_handed_in,
        is_over,
        rounds_left,
    } = found;
    PracticeOf {
        canonical: canonical.clone(),
        effect: *effect,
        site: *site,
        state: state.into(),
        rung: held.rung,
        counted,
        days,
        value,
        limit,
        straight,
        days_wanted,
        waits_for,
        not_handed_in,
        not_marked: group.not_marked.clone(),
        not_counted: group.not_counted,
        is_over,
        rounds_left,
        watched: watched.map(|kept| kept.value),
        text,
    }
}
