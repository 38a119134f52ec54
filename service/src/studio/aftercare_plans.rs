//! Dating the aftercare of one session.

use etui_craft::aftercare::dating::Placed;
use etui_craft::aftercare::healing::Phase;
use etui_craft::aftercare::milestones::{Day, Milestones, Window};
use etui_craft::aftercare::plan::{Assumed, Caution};
use etui_craft::aftercare::say::Say;
use etui_craft::aftercare::triage::Contacts;
use etui_craft::aftercare::{Plan, PlanError, Plans, Request, Step};
use etui_schema::aftercare_plans as wire;
use etui_schema::problem::{Fault, FaultCode};
use etui_schema::vocabulary::{CivilDate, Instant, Language, Treatment, Zone};

use super::error::Error;

/// Dates a plan.
///
/// # Errors
/// [`Error::Refused`] with every fault of the request.
pub fn make(
    plans: &Plans,
    request: &wire::AftercarePlanRequest,
    language: Language,
) -> Result<wire::AftercarePlan, Error> {
    made(plans, (request, of_wire(request)), language)
}

/// The same where more is told of the studio than a caller can.
///
/// # Errors
/// As for [`make`].
pub fn made(
    plans: &Plans,
    (request, told): (&wire::AftercarePlanRequest, Request),
    language: Language,
) -> Result<wire::AftercarePlan, Error> {
    let plan = plans.plan(&told).map_err(|faults| refused(&faults))?;
    let session = (request.treatment, request.performed_at, request.zone.clone());
    Ok(answer(plans, plan, session, language))
}

/// A dated plan in the words of the wire.
#[must_use]
pub fn answer(
    plans: &Plans,
    plan: Plan,
    (treatment, performed_at, zone): (Treatment, Instant, Zone),
    language: Language,
) -> wire::AftercarePlan {
    let said = Said { plans, language };
    let Plan { revision, performed_on, steps, milestones, healing, cautions, assumed } = plan;
    wire::AftercarePlan {
        treatment,
        performed_at,
        performed_on: CivilDate(performed_on),
        zone,
        revision,
        steps: steps.into_iter().map(|step| said.step(step)).collect(),
        milestones: of_milestones(milestones),
        healing: healing.into_iter().map(of_phase).collect(),
        cautions: cautions.into_iter().map(|caution| said.caution(caution)).collect(),
        assumed: assumed.into_iter().map(|assumed| said.assumed(assumed)).collect(),
    }
}

/// The craft's request out of the wire's.
#[must_use]
pub fn of_wire(request: &wire::AftercarePlanRequest) -> Request {
    let wire::AftercarePlanRequest {
        treatment,
        performed_at,
        zone,
        country,
        skin,
        conditions,
        message_time,
        quiet_hours,
        closed_days,
        opening_hours,
    } = request;
    let hours = |wire::Hours { from, until }: wire::Hours| (from.0, until.0);
    Request {
        treatment: *treatment,
        performed_at: performed_at.0,
        zone: zone.rules().clone(),
        skin: skin.clone().unwrap_or_default(),
        country: country.as_deref().map(Into::into),
        conditions: conditions.clone(),
        message_time: message_time.map(|time| time.0),
        quiet_hours: quiet_hours.map(hours),
        closed_days: closed_days.clone(),
        opening_hours: opening_hours.map(hours),
        opens_on: Vec::new(),
        contacts: Contacts::default(),
    }
}

/// Every fault of a plan's request, at its place.
#[must_use]
pub fn refused(faults: &[PlanError]) -> Error {
    let fault = |error: &PlanError| {
        let code = match error {
            PlanError::PerformedAt { .. } | PlanError::Dating(_) => FaultCode::OutOfRange,
            PlanError::QuietAllDay { .. } | PlanError::ClosedEveryDay => FaultCode::NotAllowed,
            PlanError::OpeningHours { .. } => FaultCode::Contradiction,
        };
        Fault::new(format!("#{}", error.pointer()), code, error.to_string())
    };
    Error::Refused(faults.iter().map(fault).collect())
}

/// Says what the craft says, in one language.
struct Said<'a> {
    plans: &'a Plans,
    language: Language,
}

impl Said<'_> {
    fn text(&self, say: &Say) -> String {
        say.in_language(self.plans.texts(), self.language)
    }

    fn step(&self, step: Step) -> wire::AftercareStep {
        let Step {
            key,
            kind,
            from_day,
            to_day,
            to_day_least,
            spread_days,
            message,
            at,
            latest,
            say,
            basis,
            pack,
        } = step;
        wire::AftercareStep {
            key: key.to_string(),
            kind,
            from_day,
            to_day,
            to_day_least,
            spread_days,
            message,
            at: Instant(at.at),
            local: local(&at),
            shifts: at.shifts.into_iter().map(Into::into).collect(),
            latest: Instant(latest),
            text: self.text(&say),
            basis,
            pack: pack.as_deref().map(str::to_owned),
        }
    }

    fn caution(&self, Caution { key, say, basis }: Caution) -> wire::AftercareCaution {
        wire::AftercareCaution { key: key.to_string(), text: self.text(&say), basis }
    }

    fn assumed(&self, Assumed { pointer, say }: Assumed) -> wire::Assumed {
        wire::Assumed { pointer: format!("#{pointer}"), text: self.text(&say) }
    }
}

/// The local time of an instant with its offset, as RFC 3339 writes it.
#[must_use]
pub fn local(placed: &Placed) -> String {
    placed.at.display_with_offset(placed.local.offset()).to_string()
}

fn of_milestones(milestones: Milestones) -> wire::Milestones {
    let Milestones {
        healed,
        next_session,
        review,
        touch_up,
        touch_up_usual,
        colour_refresh,
        donation: Day { on, basis },
        donation_dated,
    } = milestones;
    wire::Milestones {
        healed: of_window(healed),
        next_session: next_session.map(of_window),
        review_window: of_window(review),
        touch_up_earliest: CivilDate(touch_up.from),
        touch_up_window: of_window(touch_up),
        touch_up_usual: of_window(touch_up_usual),
        colour_refresh: of_window(colour_refresh),
        donation_date: CivilDate(on),
        donation_dated,
        donation_basis: basis,
    }
}

fn of_window(window: Window) -> wire::Window {
    let Window { from, until, suggested, basis } = window;
    wire::Window {
        from: CivilDate(from),
        until: CivilDate(until),
        suggested: suggested.map(|placed| wire::SuggestedAppointment {
            at: Instant(placed.at),
            local: local(&placed),
            shifts: placed.shifts.into_iter().map(Into::into).collect(),
        }),
        basis,
    }
}

fn of_phase(phase: Phase) -> wire::Phase {
    let Phase { phase, from_day, to_day, basis } = phase;
    wire::Phase { phase: phase.into(), from_day, to_day, basis }
}
