//! Choosing a needle: out of the usual range, the drawer or a list.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use etui_craft::configuration::Complete;
use etui_craft::drawer::CODE_HELD;
use etui_craft::hand::OwnResult;
use etui_craft::label::Reader;
use etui_craft::selection as craft;
use etui_craft::trauma;
use etui_schema::hand_profiles::{OwnNeedleResults, OwnResults, Share};
use etui_schema::lots::LotState;
use etui_schema::needle_selections::{
    Candidates, FiveAnswers, GentlerStep, NeedleAnswer, NeedleLot, NeedleSelection,
    NeedleSelectionRequest, NeedleSetAside, PassedOverLot, RankedNeedle, SetAsideReason,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{Configuration, Language, Reference};
use jiff::civil::Date;

use super::branches::named;
use super::configuration_labels::read;
use super::configurations::{rounded, said_of_all};
use super::craft::Craft;
use super::error::Error;
use super::lots::StoredLot;

mod drawer;

pub use drawer::{Drawer, ELSEWHERE, at_branch};

/// An artist's own results, as they were found for a choice.
pub struct OwnFound {
    pub(super) results: Vec<OwnResult>,
    pub(super) forgotten: u32,
}

/// How many ranked candidates are described if the request does not say.
const USUAL_LIMIT: u16 = 12;

/// How many lots that are passed over are named.
const MOST_PASSED_OVER: usize = 12;

/// Chooses. The drawer is read only if the request chooses from it, and an artist's
/// own results only if it asks for them; what is said is in `language`, and labels are judged by `today`.
///
/// # Errors
/// [`Error::Refused`] for an effect that makes no sense for the treatment, and
/// with a fault for each configuration that is not read.
pub fn select(
    craft: &Craft,
    request: &NeedleSelectionRequest,
    drawer: Option<&Drawer>,
    own: Option<&OwnFound>,
    (today, language): (Date, Language),
) -> Result<NeedleSelection, Error> {
    let usable = drawer.map(Drawer::usable_lots).unwrap_or_default();
    let NeedleSelectionRequest {
        treatment,
        effect,
        setting,
        candidates,
        branch_ref: _,
        limit,
        own_results,
    } = request;
    let listed = match candidates {
        Candidates::Usual => Vec::new(),
        Candidates::Drawer => from_drawer(usable),
        Candidates::List(list) => from_list(&craft.reader, list, today)?,
    };
    let candidates = match candidates {
        Candidates::Usual => craft.selector.usual(),
        Candidates::Drawer | Candidates::List(_) => &listed,
    };
    let setting = setting.clone().unwrap_or_default();
    let asked = craft::Request {
        treatment: *treatment,
        effect: *effect,
        setting: &setting,
        candidates,
        limit: usize::from(limit.unwrap_or(USUAL_LIMIT)),
        folds: request.candidates.is_usual(),
        language,
    };
    let weight = own_results.as_ref().and_then(|asked| asked.weight);
    let selection = match own {
        Some(OwnFound { results, forgotten }) => {
            let own = craft.hands.own(&craft.training, results, *forgotten);
            craft.selector.select_knowing(&craft.model, &asked, own, weight)
        }
        None => craft.selector.select(&craft.model, &asked),
    };
    let mut selection = selection.map_err(refused)?;
    if let Some(limit) = limit {
        cut_ranked(&mut selection, usize::from(*limit));
    }
    let said = own_results.as_ref().zip(selection.own.take());
    let statement = craft.selector.statement(language).to_owned();
    let mut answer = answer(selection, usable, statement);
    answer.own_results = said.map(|(asked, said)| own_question(asked.artist_ref.clone(), said));
    // What was named one by one is answered one by one.
    let usual = request.candidates.is_usual().then_some(USUAL_LIMIT);
    if let Some(limit) = limit.or(usual) {
        cut_aside(&mut answer, usize::from(limit));
    }
    if let Some(drawer) = drawer {
        (answer.passed_over, answer.passed_over_not_shown) =
            passed_over(craft, &asked, drawer, drawer.day())?;
        answer.drawer = drawer.nothing(craft, answer.ranked.is_empty(), language);
    }
    Ok(answer)
}

/// Leaves the first `limit`, where a caller named one, and counts the others.
fn cut_ranked(selection: &mut craft::Selection, limit: usize) {
    let cut = selection.ranked.len().min(limit);
    let left_out = selection.ranked.drain(cut..).map(|one| 1 + one.alike.len());
    selection.not_shown += left_out.sum::<usize>();
}

/// Leaves `limit` of what was set aside, of every reason one first, and counts
/// the others by their reasons.
fn cut_aside(answer: &mut NeedleSelection, limit: usize) {
    let mut seen = BTreeSet::new();
    answer.set_aside.sort_by_cached_key(|one| !seen.insert(one.reason.clone()));
    let cut = answer.set_aside.len().min(limit);
    let mut reasons: BTreeMap<(String, String), u32> = BTreeMap::new();
    for NeedleSetAside { question, reason, .. } in answer.set_aside.drain(cut..) {
        *reasons.entry((question, reason)).or_default() += 1;
    }
    answer.set_aside_not_shown = reasons.values().sum();
    let counted = reasons.into_iter();
    answer.set_aside_reasons = counted
        .map(|((question, reason), count)| SetAsideReason { question, reason, count })
        .collect();
}

/// What lies in the drawer, would suit and may not be used on its day, and how much more than is told.
///
/// # Errors
/// [`Error::Refused`] for an effect that makes no sense for the treatment.
pub fn passed_over(
    craft: &Craft,
    asked: &craft::Request<'_>,
    drawer: &Drawer,
    today: Date,
) -> Result<(Vec<PassedOverLot>, Option<u32>), Error> {
    let others = drawer.halves().1;
    let candidates = from_drawer(others);
    let asked = craft::Request { candidates: &candidates, ..asked.clone() };
    let suiting = craft.selector.suiting(&craft.model, &asked).map_err(refused)?;
    let would_suit = |lot: &StoredLot| {
        let told = lot.configuration.and_then(|told| Complete::try_from(told).ok());
        told.is_some_and(|told| suiting.contains(&told))
    };
    let is_out = |lot: &StoredLot| {
        drawer.standing(lot).state != LotState::Usable || drawer.elsewhere(lot).is_some()
    };
    // An empty box is told of as such, not as packs to be thrown away.
    let is_there = |lot: &StoredLot| 0 < lot.packs || drawer.standing(lot).state == LotState::Empty;
    let mut all = others.iter().filter(|lot| would_suit(lot) && is_out(lot) && is_there(lot));
    let told = all.by_ref().take(MOST_PASSED_OVER);
    let told = told.filter_map(|lot| passed(craft, drawer, lot, (today, asked.language))).collect();
    let more = u32::try_from(all.count()).unwrap_or(u32::MAX);
    Ok((told, Some(more).filter(|more| 0 < *more)))
}

/// Why a lot is passed over; nothing of one that may be used where one chooses.
fn passed(
    craft: &Craft,
    drawer: &Drawer,
    lot: &StoredLot,
    (today, language): (Date, Language),
) -> Option<PassedOverLot> {
    let (canonical, standing) = (lot.configuration?.canonical(), drawer.standing(lot));
    let (mut reasons, there) = (standing.reasons.clone(), named(lot.branch_ref.as_ref()));
    let elsewhere = drawer.elsewhere(lot);
    reasons.extend(elsewhere.map(str::to_owned));
    let other = || {
        elsewhere?;
        let there = there.map(Reference::as_str);
        Some(craft.drawer.elsewhere(language, &canonical, there))
    };
    let is_asked = standing.reasons.iter().any(|reason| reason == CODE_HELD);
    let beside = is_asked.then(|| drawer.kept_out_beside(lot)).flatten();
    let beside = beside.as_ref().map(|(why, since)| (why.as_str(), *since));
    let days = (lot.expires_on.map(|day| day.0), today);
    let says = craft.drawer.passed(language, &canonical, (&standing, beside), days);
    Some(PassedOverLot {
        id: lot.id,
        message: says.or_else(other)?,
        canonical,
        lot: lot.lot.clone(),
        state: standing.state.into(),
        reasons,
        branch_ref: elsewhere.and(there).cloned(),
    })
}

/// Usable lots as candidates; the craft merges those of one configuration.
#[must_use]
pub fn from_drawer(drawer: &[StoredLot]) -> Vec<craft::Candidate> {
    drawer
        .iter()
        .filter_map(|lot| {
            let configuration = Complete::try_from(lot.configuration?).ok()?;
            let id: Arc<str> = lot.id.to_string().into();
            let expires_on = lot.expires_on.map(|day| day.0);
            Some(craft::Candidate { configuration, lots: vec![craft::Lot { id, expires_on }] })
        })
        .collect()
}

fn from_list(
    reader: &Reader,
    list: &[etui_schema::configuration_comparisons::LabelOrConfiguration],
    today: Date,
) -> Result<Vec<craft::Candidate>, Error> {
    let mut faults: Vec<Fault> = Vec::new();
    let mut candidates = Vec::with_capacity(list.len());
    for (i, named) in list.iter().enumerate() {
        match read(reader, named, &format!("#/candidates/{i}"), Some(today)) {
            Ok(configuration) => candidates.push(craft::Candidate::from(configuration)),
            Err(fault) => faults.push(fault),
        }
    }
    if faults.is_empty() { Ok(candidates) } else { Err(Error::Refused(faults)) }
}

/// What the craft refuses, at its place.
#[must_use]
pub fn refused(error: craft::SelectionError) -> Error {
    let (pointer, code) = match &error {
        craft::SelectionError::Pair { .. } => ("#/effect", FaultCode::Contradiction),
        craft::SelectionError::TooMany { .. } => ("#/candidates", FaultCode::WrongLength),
    };
    Error::at(pointer, code, error.to_string())
}

/// The choice as it is told. `drawer` lends the lots their codes and counts.
#[must_use]
pub fn answer(
    selection: craft::Selection,
    drawer: &[StoredLot],
    statement: String,
) -> NeedleSelection {
    let craft::Selection {
        ranked,
        not_shown,
        set_aside,
        step_up,
        would_change,
        differing_views,
        hints,
        assumed,
        own: _,
        basis,
    } = selection;
    let lots = Lots::of(drawer);
    let mut ranked: Vec<RankedNeedle> =
        ranked.into_iter().map(|one| ranked_needle(one, &lots)).collect();
    let cautions = said_of_all(&mut ranked, |one| &mut one.cautions);
    NeedleSelection {
        ranked,
        cautions,
        not_shown: u32::try_from(not_shown).unwrap_or(u32::MAX),
        set_aside: set_aside.into_iter().map(|one| aside(one, &lots)).collect(),
        set_aside_not_shown: 0,
        set_aside_reasons: Vec::new(),
        passed_over: Vec::new(),
        passed_over_not_shown: None,
        drawer: None,
        step_up: step_up.into_iter().map(step).collect(),
        would_change,
        differing_views,
        hints,
        assumed: assumed.into_iter().map(str::to_owned).collect(),
        own_results: None,
        statement,
        basis,
    }
}

/// The lots of the drawer by the id they were handed to the craft under.
struct Lots<'a>(HashMap<String, &'a StoredLot>);

impl<'a> Lots<'a> {
    fn of(drawer: &'a [StoredLot]) -> Self {
        Self(drawer.iter().map(|lot| (lot.id.to_string(), lot)).collect())
    }

    fn told(&self, lots: &[craft::Lot]) -> Vec<NeedleLot> {
        lots.iter()
            .filter_map(|lot| self.0.get(&*lot.id))
            .map(|lot| NeedleLot {
                id: lot.id,
                lot: lot.lot.clone(),
                expires_on: lot.expires_on,
                packs: lot.packs,
            })
            .collect()
    }
}

fn ranked_needle(one: craft::Ranked, lots: &Lots<'_>) -> RankedNeedle {
    let craft::Ranked {
        configuration,
        desirability,
        answers,
        own,
        cautions,
        remarks,
        lots: held,
        alike,
    } = one;
    let [treatment, effect, hand, machine, skin] = answers.map(|answer| {
        let craft::Answer { question: _, desirability, because, agreement } = answer;
        NeedleAnswer {
            desirability: rounded(desirability),
            because,
            agreement: agreement.map(|pages| pages.to_string()),
        }
    });
    RankedNeedle {
        canonical: configuration.canonical(),
        configuration: Configuration::from(configuration),
        desirability: rounded(desirability),
        answers: FiveAnswers { treatment, effect, hand, machine, skin },
        own_results: own.map(own_answer),
        cautions,
        remarks,
        lots: lots.told(&held),
        alike: alike.iter().map(Complete::canonical).collect(),
    }
}

fn own_answer(one: craft::OwnAnswer) -> OwnNeedleResults {
    let craft::OwnAnswer { share, desirability, because } = one;
    OwnNeedleResults {
        desirability: rounded(desirability),
        results: share.map_or(0, |share| share.results),
        silent: share.map_or(0, |share| share.silent),
        held_share: share.map(|share| Share {
            share: rounded(share.share),
            low: rounded(share.interval.low),
            high: rounded(share.interval.high),
        }),
        standing: share.map(|share| share.standing).map(Into::into),
        because,
    }
}

fn own_question(artist_ref: Reference, said: craft::OwnQuestion) -> OwnResults {
    let craft::OwnQuestion { weight, results, forgotten, mean, because, basis } = said;
    let share = mean.map(rounded);
    OwnResults { artist_ref, weight, results, forgotten, share, because, basis }
}

fn aside(one: craft::SetAside, lots: &Lots<'_>) -> NeedleSetAside {
    let craft::SetAside { configuration, question, reason, because, lots: held } = one;
    NeedleSetAside {
        canonical: configuration.canonical(),
        configuration: Configuration::from(configuration),
        question: question.as_str().to_owned(),
        reason: reason.to_owned(),
        because,
        lots: lots.told(&held),
    }
}

/// One step on trauma, as it is told.
#[must_use]
pub fn step(step: trauma::Step) -> GentlerStep {
    let trauma::Step { kind, change, configuration, because, basis, agreement } = step;
    GentlerStep {
        kind: kind.as_str().to_owned(),
        change: change.to_string(),
        configuration: configuration.map(Configuration::from),
        because: because.to_string(),
        agreement: agreement.to_string(),
        basis,
    }
}
