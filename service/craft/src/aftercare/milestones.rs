//! The dates a plan works towards.

use etui_schema::vocabulary::Treatment;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::country::Donation;
use super::dating::{DatingError, OpenDays, Placed, days_after, months_after};
use super::healing::{Next, after};
use super::parameters::Parameters;
use super::rows::{Anchor, ModifierRow};
use crate::evidence::Basis;
use crate::rules::Parameter;

/// Some days, both ends included.
#[derive(Debug, Clone, PartialEq)]
pub struct Window {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// First appointment in it that the studio's days allow; absent where no
    /// appointment is meant, or none is left within a year.
    pub suggested: Option<Placed>,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// One day.
#[derive(Debug, Clone, PartialEq)]
pub struct Day {
    /// The day.
    pub on: Date,
    /// Where it comes from.
    pub basis: Vec<Basis>,
}

/// The dates a plan works towards, in local days of the client's zone.
#[derive(Debug, Clone, PartialEq)]
pub struct Milestones {
    /// Skin fully healed.
    pub healed: Window,
    /// The next session of a series (scalp).
    pub next_session: Option<Window>,
    /// The healed result can be judged.
    pub review: Window,
    /// From the earliest touch-up, by age, to the end of its time.
    pub touch_up: Window,
    /// The weeks in which a touch-up is usually done.
    pub touch_up_usual: Window,
    /// The colour may want a refresh.
    pub colour_refresh: Window,
    /// Blood may be given again, where the country says when; else the cautious
    /// day, before which not even to ask makes sense.
    pub donation: Day,
    /// Whether the country says when.
    pub donation_dated: bool,
}

impl Milestones {
    /// The day a step's days are counted from, if the plan has that milestone.
    pub(crate) fn anchor(&self, anchor: Anchor, session: Date) -> Option<Date> {
        match anchor {
            Anchor::Session => Some(session),
            Anchor::NextSession => self.next_session.as_ref().map(|window| window.from),
            Anchor::Review => Some(self.review.from),
            Anchor::TouchUp => Some(self.touch_up.from),
            Anchor::TouchUpCloses => Some(self.touch_up.until),
            Anchor::Refresh => Some(self.colour_refresh.from),
            Anchor::Donation => Some(self.donation.on),
        }
    }
}

/// What milestones are computed from.
pub(crate) struct Course<'a> {
    pub(crate) treatment: Treatment,
    pub(crate) session: Date,
    pub(crate) zone: &'a TimeZone,
    pub(crate) age_years: Option<u8>,
    pub(crate) modifiers: &'a [&'a ModifierRow],
    pub(crate) open: &'a OpenDays<'a>,
    pub(crate) donation: Option<&'a Donation>,
    pub(crate) donation_months: &'a Parameter<i32>,
}

/// Computes the milestones of a course.
///
/// # Errors
/// [`DatingError::OutOfCalendar`] beyond the calendar.
pub(crate) fn milestones(
    parameters: &Parameters,
    course: &Course<'_>,
) -> Result<Milestones, DatingError> {
    let session = course.session;
    let (months, source) = course
        .donation
        .map_or((course.donation_months.value, &course.donation_months.source), |donation| {
            (donation.months, &donation.source)
        });
    Ok(Milestones {
        healed: healed(parameters, course)?,
        next_session: next_session(parameters, course)?,
        review: review(parameters, course)?,
        touch_up: touch_up(parameters, course)?,
        touch_up_usual: touch_up_usual(parameters, course)?,
        colour_refresh: colour_refresh(parameters, course)?,
        donation: Day {
            on: months_after(session, months)?,
            basis: vec![source.basis("calendar months before giving blood")],
        },
        donation_dated: course.donation.is_some(),
    })
}

fn healed(parameters: &Parameters, course: &Course<'_>) -> Result<Window, DatingError> {
    let scabs_off = parameters.scabs_off_day.value;
    let after = &parameters.healed_after_scabs_days;
    let mut basis = vec![
        parameters.scabs_off_day.source.basis("day the scabs are gone"),
        after.source.basis("days from there to full healing"),
    ];
    let mut later = 0;
    for row in course.modifiers {
        if let Some(end) = &row.later_end_days {
            later = later.max(end.most);
            basis.push(end.source.basis("days this skin takes longer"));
        }
    }
    Ok(Window {
        from: days_after(course.session, scabs_off + after.least)?,
        until: days_after(course.session, scabs_off + after.most + later)?,
        suggested: None,
        basis,
    })
}

fn next_session(
    parameters: &Parameters,
    course: &Course<'_>,
) -> Result<Option<Window>, DatingError> {
    let row = parameters.of(course.treatment).and_then(|row| row.next_session_days.as_ref());
    let Some(days) = row else { return Ok(None) };
    let rested = after(parameters, course.treatment, Next::Pass, course.age_years);
    let until = rested.days + (days.most - days.least);
    window(course, rested.days, until, rested.basis).map(Some)
}

fn review(parameters: &Parameters, course: &Course<'_>) -> Result<Window, DatingError> {
    let floor = &parameters.floor_days;
    let mut basis = vec![floor.source.basis("first day on which a result is judged")];
    let (mut from, mut until) = (floor.value, floor.value);
    if let Some(row) = parameters.of(course.treatment) {
        from = from.max(row.review_days.least);
        until = from.max(row.review_days.most);
        basis.push(row.review_days.source.basis("days in which a result is judged"));
    }
    window(course, from, until, basis)
}

fn touch_up(parameters: &Parameters, course: &Course<'_>) -> Result<Window, DatingError> {
    let rested = after(parameters, course.treatment, Next::TouchUp, course.age_years);
    let closes = &parameters.touch_up_closes_days;
    let mut basis = rested.basis;
    basis.push(closes.source.basis("day the time for a touch-up ends"));
    window(course, rested.days, rested.days.max(closes.value), basis)
}

fn touch_up_usual(parameters: &Parameters, course: &Course<'_>) -> Result<Window, DatingError> {
    let rested = after(parameters, course.treatment, Next::TouchUp, course.age_years);
    let usual = &parameters.touch_up_usual_days;
    let from = rested.days.max(usual.least);
    Ok(Window {
        from: days_after(course.session, from)?,
        until: days_after(course.session, from.max(usual.most))?,
        suggested: None,
        basis: vec![usual.source.basis("days in which a touch-up is usually done")],
    })
}

fn colour_refresh(parameters: &Parameters, course: &Course<'_>) -> Result<Window, DatingError> {
    let changed = course.modifiers.iter().find_map(|row| row.refresh_months.as_ref());
    let usual = parameters.of(course.treatment).map(|row| &row.refresh_months);
    let (least, most, basis) = match changed.or(usual) {
        Some(span) => {
            (span.least, span.most, vec![span.source.basis("calendar months to a colour refresh")])
        }
        None => (12, 12, Vec::new()),
    };
    Ok(Window {
        from: months_after(course.session, least)?,
        until: months_after(course.session, most)?,
        suggested: None,
        basis,
    })
}

fn window(
    course: &Course<'_>,
    from_day: i32,
    until_day: i32,
    basis: Vec<Basis>,
) -> Result<Window, DatingError> {
    let from = days_after(course.session, from_day)?;
    Ok(Window {
        from,
        until: days_after(course.session, until_day)?,
        suggested: course.open.first_from(from, course.zone)?,
        basis,
    })
}
