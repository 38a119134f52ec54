//! What a plan is made from, and what is wrong with it.

use std::sync::Arc;

use etui_schema::vocabulary::aftercare::{Condition, DayOfWeek};
use etui_schema::vocabulary::{Skin, Treatment};
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use jiff::tz::TimeZone;

use super::dating::{ClosedDay, DatingError, OpenDays, QuietHours};
use super::parameters::Parameters;
use super::triage::Contacts;

/// Longest words for whom to call, in characters: a message has no room for more.
pub const LONGEST_CALL: usize = 25;
/// First and last local year in which a session can lie.
const YEARS: std::ops::RangeInclusive<i16> = 1970..=9000;

/// What a plan is made from.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session. After a touch-up: of that touch-up.
    pub performed_at: Timestamp,
    /// The client's time zone.
    pub zone: TimeZone,
    /// What is known of the skin.
    pub skin: Skin,
    /// Country in two letters (ISO 3166-1), for numbers to call and rules of
    /// blood services; general words if absent, never a guess.
    pub country: Option<Arc<str>>,
    /// What the client has told.
    pub conditions: Vec<Condition>,
    /// Local time of messages; the usual one if absent.
    pub message_time: Option<Time>,
    /// Local times between which no message is sent; they may wrap midnight. The
    /// usual night if absent, unless messages are wanted at a time within it.
    pub quiet_hours: Option<(Time, Time)>,
    /// Days on which the studio sees nobody.
    pub closed_days: Vec<ClosedDay>,
    /// When the studio opens and closes.
    pub opening_hours: Option<(Time, Time)>,
    /// When it opens on days of the week that have a time of their own.
    pub opens_on: Vec<(DayOfWeek, Time)>,
    /// The studio's own words for whom to call, each at most [`LONGEST_CALL`] characters.
    pub contacts: Contacts,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// The session lies outside the calendar.
    #[error("the session lies in the local year {year}; 1970 to 9000 are accepted")]
    PerformedAt {
        /// Its local year.
        year: i16,
    },
    /// Quiet hours leave no time.
    #[error(
        "quiet hours from {at} until {at} are 24 hours; leave some time in which a message may be sent"
    )]
    QuietAllDay {
        /// Both their ends.
        at: Time,
    },
    /// Every day of the week is closed.
    #[error("the studio is closed on all seven days of the week; leave at least one open")]
    ClosedEveryDay,
    /// Opening hours run backwards.
    #[error("opening hours from {from} until {until} are empty; `until` must be later than `from`")]
    OpeningHours {
        /// When it opens.
        from: Time,
        /// When it closes.
        until: Time,
    },
    /// A day of the plan lies outside the calendar.
    #[error(transparent)]
    Dating(#[from] DatingError),
}

impl PlanError {
    /// Pointer to the field of the request that is at fault.
    #[must_use]
    pub const fn pointer(&self) -> &'static str {
        match self {
            Self::PerformedAt { .. } | Self::Dating(_) => "/performed_at",
            Self::QuietAllDay { .. } => "/quiet_hours",
            Self::ClosedEveryDay => "/closed_days",
            Self::OpeningHours { .. } => "/opening_hours",
        }
    }
}

/// The hours a plan keeps to.
pub(crate) struct Hours<'a> {
    pub(crate) message_time: Time,
    pub(crate) quiet: Option<QuietHours>,
    pub(crate) open: OpenDays<'a>,
}

impl<'a> Hours<'a> {
    /// The hours of a request, and every fault in it.
    pub(crate) fn of(
        request: &'a Request,
        session: Date,
        parameters: &Parameters,
    ) -> (Self, Vec<PlanError>) {
        let mut faults = Vec::new();
        if !YEARS.contains(&session.year()) {
            faults.push(PlanError::PerformedAt { year: session.year() });
        }
        let message_time = request.message_time.unwrap_or(parameters.message_time.value);
        let quiet = match request.quiet_hours {
            Some((from, until)) => {
                let quiet = QuietHours::new(from, until);
                if quiet.is_none() {
                    faults.push(PlanError::QuietAllDay { at: from });
                }
                quiet
            }
            None => parameters.night(message_time),
        };
        if let Some((from, until)) = request.opening_hours.filter(|(from, until)| until <= from) {
            faults.push(PlanError::OpeningHours { from, until });
        }
        let opens = request.opening_hours.map_or(parameters.opens.value, |(from, _)| from);
        let open = OpenDays { closed: &request.closed_days, opens, opens_on: &request.opens_on };
        if !open.ever() {
            faults.push(PlanError::ClosedEveryDay);
        }
        (Self { message_time, quiet, open }, faults)
    }
}
