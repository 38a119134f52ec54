//! Which needle: from the drawer, the usual range, or given labels.

use etui_craft::configuration::Complete;
use etui_craft::selection::{Candidate, Lot, Ranked, Request, Selection, SelectionError};
use etui_schema::appointment_checks::{
    AppointmentCheckRequest, CheckNeedles, NeedleReason, NeedleSource, OfferedLot, OfferedNeedle,
    SetAsideNeedle, SplitView,
};
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Effect, Language, Treatment};
use jiff::civil::Date;
use uuid::Uuid;

use super::gather::{Gathered, Making};
use super::training;
use crate::studio::branches::{Days, StoredBranch};
use crate::studio::configuration_labels::read_text;
use crate::studio::configurations::said_of_all;
use crate::studio::engine::Snap;
use crate::studio::error::Error;
use crate::studio::moment::Moment;
use crate::studio::needle_selections::{Drawer, from_drawer, passed_over};
use crate::studio::{Studio, lots};

/// How many suiting needles a check shows if nothing is said.
const SHOWN: usize = 5;
/// How many of those set aside, likewise.
const ASIDE: usize = 20;

/// Chooses. Where one chooses from the drawer, what would suit and may not be
/// used on the day is named too, and so is a drawer that holds nothing.
///
/// # Errors
/// [`Error::Refused`] for labels that say no complete configuration, and for
/// an effect that the treatment does not have.
pub(super) async fn choose(
    studio: &Studio,
    snap: &mut Snap,
    gathered: &Gathered,
    making: Making<'_>,
    (moment, language): (&Moment, Language),
) -> Result<CheckNeedles, Error> {
    let source = gathered.request.candidates.as_ref().unwrap_or(&NeedleSource::Drawer);
    let drawer = match (making, source) {
        (Making::Now | Making::Again, NeedleSource::Drawer) => {
            let (at, zones) = (gathered.request.starts_at.0, [&gathered.zone, &studio.zone]);
            let days = Days::judging(studio, snap, at, zones).await?;
            let mut lying = lots::lying_on(snap, days.least()).await?;
            lying.retain(|lot| moment.mandate.reaches_branch(lot.branch_ref.as_ref()));
            let here = studio.here.as_deref().map(StoredBranch::reference);
            Some(Drawer::on(days, lying, here))
        }
        (Making::Retold(_), _) | (_, NeedleSource::Usual | NeedleSource::Labels(_)) => None,
    };
    let candidates = match (making, source) {
        (Making::Retold(kept), _) => offered(kept),
        (_, NeedleSource::Usual) => studio.craft.selector.usual().to_vec(),
        (_, NeedleSource::Labels(labels)) => match of_labels(studio, labels, gathered.day()) {
            (candidates, faults) if faults.is_empty() || making != Making::Now => candidates,
            (_, faults) => return Err(Error::Refused(faults)),
        },
        (_, NeedleSource::Drawer) => {
            from_drawer(drawer.as_ref().map(Drawer::usable_lots).unwrap_or_default())
        }
    };
    check_pair(studio, gathered.request.treatment, gathered.request.effect)?;
    let limit = gathered.request.limit.map(usize::from);
    // Which is the first must not depend on how many are told.
    let looked_at = gathered.trained.as_ref().map_or(SHOWN, |trained| trained.looks_at(SHOWN));
    let request = Request {
        treatment: gathered.request.treatment,
        effect: gathered.request.effect,
        setting: &gathered.setting,
        candidates: &candidates,
        limit: looked_at.max(limit.unwrap_or(0)),
        folds: false,
        language,
    };
    let craft = &studio.craft;
    let mut selection =
        craft.selector.select(&craft.model, &request).map_err(|error| refused(&error))?;
    training::signed_first(craft, gathered, &mut selection.ranked);
    let mut needles = shown(selection, limit);
    training::signed_less(craft, gathered, &mut needles, language);
    if let Some(drawer) = drawer {
        (needles.passed_over, needles.passed_over_not_shown) =
            passed_over(craft, &request, &drawer, moment.today)?;
        needles.drawer = drawer.nothing(craft, needles.ranked.is_empty(), language);
    }
    Ok(needles)
}

/// The labels of a request must be readable, and of packs that may be used on the day, also when
/// nothing is chosen.
///
/// # Errors
/// [`Error::Refused`] with a fault for each that is not.
pub(super) fn check_labels(
    studio: &Studio,
    request: &AppointmentCheckRequest,
) -> Result<(), Error> {
    let Some(NeedleSource::Labels(labels)) = &request.candidates else { return Ok(()) };
    let zone = request.zone.as_ref().unwrap_or(&studio.zone);
    let day = zone.rules().to_datetime(request.starts_at.0).date();
    let (_, faults) = of_labels(studio, labels, day);
    if faults.is_empty() { Ok(()) } else { Err(Error::Refused(faults)) }
}

/// The effect must be one of the treatment's, also when there is no needle.
///
/// # Errors
/// [`Error::Refused`] at `#/effect`, with what is accepted.
pub(in crate::studio) fn check_pair(
    studio: &Studio,
    treatment: Treatment,
    effect: Effect,
) -> Result<(), Error> {
    check_pair_at("#/effect", studio, treatment, effect)
}

/// The same for an effect at another place.
///
/// # Errors
/// [`Error::Refused`] there, with what is accepted.
pub(in crate::studio) fn check_pair_at(
    pointer: &str,
    studio: &Studio,
    treatment: Treatment,
    effect: Effect,
) -> Result<(), Error> {
    let mut effects = studio.craft.selector.effects(treatment).peekable();
    let accepted: Vec<String> = effects.by_ref().map(|effect| effect.to_string()).collect();
    if accepted.iter().any(|one| one == effect.as_str()) {
        return Ok(());
    }
    let list = accepted.join(", ");
    Err(Error::at(
        pointer,
        FaultCode::NotAllowed,
        format!("`{effect}` is no effect of `{treatment}`; accepted: {list}"),
    ))
}

fn refused(error: &SelectionError) -> Error {
    let pointer = match error {
        SelectionError::Pair { .. } => "#/effect",
        SelectionError::TooMany { .. } => "#/candidates",
    };
    Error::at(pointer, FaultCode::NotAllowed, error.to_string())
}

/// Labels as the reader of packets reads them, and what stands against those of which no pack is
/// to be used on the day, or that can be read in several ways.
fn of_labels(studio: &Studio, labels: &[String], on: Date) -> (Vec<Candidate>, Vec<Fault>) {
    let mut candidates = Vec::new();
    let mut faults = Vec::new();
    for (at, label) in labels.iter().enumerate() {
        match read_text(&studio.craft.reader, label, &format!("#/candidates/{at}"), Some(on)) {
            Ok(complete) => candidates.push(Candidate::from(complete)),
            Err(fault) => faults.push(fault),
        }
    }
    (candidates, faults)
}

/// What a kept check offered, with its lots of then.
fn offered(kept: &CheckNeedles) -> Vec<Candidate> {
    let lot = |lot: &OfferedLot| Lot {
        id: lot.lot_id.to_string().into(),
        expires_on: lot.expires_on.map(|day| day.0),
    };
    let candidate = |needle: &OfferedNeedle| {
        let configuration = Complete::try_from(needle.configuration).ok()?;
        Some(Candidate { configuration, lots: needle.lots.iter().map(lot).collect() })
    };
    kept.ranked.iter().filter_map(candidate).collect()
}

fn shown(selection: Selection, limit: Option<usize>) -> CheckNeedles {
    let Selection {
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
    let (offered, aside) = (limit.unwrap_or(SHOWN), limit.unwrap_or(ASIDE));
    let more = |told: usize, limit| u32::try_from(told.saturating_sub(limit)).unwrap_or(u32::MAX);
    let not_shown =
        u32::try_from(not_shown).unwrap_or(u32::MAX).saturating_add(more(ranked.len(), offered));
    let set_aside_not_shown = more(set_aside.len(), aside);
    let mut ranked: Vec<OfferedNeedle> =
        ranked.into_iter().take(offered).map(ranked_needle).collect();
    let cautions = said_of_all(&mut ranked, |one| &mut one.cautions);
    CheckNeedles {
        ranked,
        not_shown: Some(not_shown),
        cautions,
        set_aside_not_shown: Some(set_aside_not_shown),
        set_aside: set_aside
            .into_iter()
            .take(aside)
            .map(|aside| SetAsideNeedle {
                canonical: aside.configuration.canonical(),
                question: aside.question.as_str().to_owned(),
                because: aside.because,
            })
            .collect(),
        passed_over: Vec::new(),
        passed_over_not_shown: None,
        drawer: None,
        step_up: step_up.iter().map(|step| step.change.to_string()).collect(),
        would_change: would_change.into_iter().map(|change| change.because).collect(),
        differing_views: differing_views
            .into_iter()
            .map(|view| SplitView {
                question: view.question.to_string(),
                schools: view
                    .schools
                    .iter()
                    .map(|school| {
                        format!("{}. {} {}", school.view, school.reason, school.would_choose)
                    })
                    .collect(),
            })
            .collect(),
        hints: hints.iter().map(|hint| hint.message.to_string()).collect(),
        assumed: assumed.into_iter().map(str::to_owned).collect(),
        basis,
    }
}

fn ranked_needle(ranked: Ranked) -> OfferedNeedle {
    let Ranked { configuration, desirability, answers, cautions, remarks, lots, .. } = ranked;
    OfferedNeedle {
        canonical: configuration.canonical(),
        configuration: configuration.into(),
        desirability,
        answers: answers
            .into_iter()
            .map(|answer| NeedleReason {
                question: answer.question.as_str().to_owned(),
                desirability: answer.desirability,
                because: answer.because,
            })
            .collect(),
        cautions: cautions.iter().map(|said| said.message.to_string()).collect(),
        remarks: remarks.iter().map(|said| said.message.to_string()).collect(),
        lots: lots
            .iter()
            .filter_map(|lot| {
                let lot_id = Uuid::try_parse(&lot.id).ok()?;
                Some(OfferedLot { lot_id, expires_on: lot.expires_on.map(CivilDate) })
            })
            .collect(),
    }
}
