//! Local civil time on the calendar, and back to instants.
//!
//! A message is planned in the client's civil time, so that nine o'clock stays
//! nine o'clock across a change of the clocks. Two local times are special,
//! and both are read as RFC 5545 section 3.3.5 reads them:
//!
//! * one that does not exist (clocks went forward) is read with the offset
//!   before the gap: 02:30 in a gap of one hour is 03:30 after it, and a whole
//!   skipped day is the same time on the next day;
//! * one that comes twice (clocks went back) is the first of the two.
//!
//! Quiet hours are half open, `from <= t < until`, in local time, and may wrap
//! midnight. What falls into them moves later, to their end. Closed days and
//! opening hours move appointments, never messages.

pub use etui_schema::vocabulary::aftercare::ClosedDay;
use etui_schema::vocabulary::aftercare::{DayOfWeek, Shift};
use jiff::civil::{Date, DateTime, Time, Weekday};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Timestamp, ZonedDateTime};

/// Why a day or an instant cannot be placed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum DatingError {
    /// The calendar ends before it.
    #[error("{local} lies outside the calendar; years 1970 to 9998 are accepted")]
    OutOfCalendar {
        /// The local time that was asked for.
        local: String,
    },
}

/// An instant with its local time and what moved it.
#[derive(Debug, Clone, PartialEq)]
pub struct Placed {
    /// The instant.
    pub at: Timestamp,
    /// The same in the zone it was planned in.
    pub local: ZonedDateTime,
    /// What moved it, in the order in which it happened.
    pub shifts: Vec<Shift>,
}

impl Placed {
    /// An instant that nothing moved.
    pub(crate) fn at(instant: Timestamp, zone: &TimeZone) -> Self {
        Self { at: instant, local: instant.to_zoned_datetime(zone.clone()), shifts: Vec::new() }
    }
}

/// Puts a local time on the time line.
///
/// # Errors
/// [`DatingError::OutOfCalendar`] if the instant cannot be represented.
///
/// ```
/// use etui_craft::aftercare::dating::place;
/// let berlin = jiff::tz::TimeZone::get("Europe/Berlin").unwrap();
/// let gap = place("2027-03-28T02:30".parse().unwrap(), &berlin).unwrap();
/// assert_eq!(gap.local.datetime().to_string(), "2027-03-28T03:30:00");
/// ```
pub fn place(local: DateTime, zone: &TimeZone) -> Result<Placed, DatingError> {
    let ambiguous = zone.to_ambiguous_timestamp(local);
    let shifts = match ambiguous.offset() {
        AmbiguousOffset::Unambiguous { .. } => Vec::new(),
        AmbiguousOffset::Gap { .. } => vec![Shift::Gap],
        AmbiguousOffset::Fold { .. } => vec![Shift::Doubled],
    };
    let at = ambiguous
        .compatible()
        .map_err(|_| DatingError::OutOfCalendar { local: local.to_string() })?;
    Ok(Placed { at, local: at.to_zoned_datetime(zone.clone()), shifts })
}

/// The same, not before an instant: of a doubled hour the second is taken where
/// the first is over.
fn place_from(
    local: DateTime,
    zone: &TimeZone,
    not_before: Timestamp,
) -> Result<Placed, DatingError> {
    let first = place(local, zone)?;
    if not_before <= first.at {
        return Ok(first);
    }
    let at = zone
        .to_ambiguous_timestamp(local)
        .later()
        .map_err(|_| DatingError::OutOfCalendar { local: local.to_string() })?
        .max(not_before);
    Ok(Placed { at, local: at.to_zoned_datetime(zone.clone()), shifts: first.shifts })
}

/// Hours in which no message is sent: `from <= t < until`, wrapping midnight
/// where `until` is earlier than `from`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuietHours {
    from: Time,
    until: Time,
}

impl QuietHours {
    /// Quiet hours, unless they are the whole day (both ends equal): then
    /// nothing could ever be sent.
    #[must_use]
    pub fn new(from: Time, until: Time) -> Option<Self> {
        (from != until).then_some(Self { from, until })
    }

    /// Whether a local time lies in them.
    #[must_use]
    pub fn cover(&self, time: Time) -> bool {
        if self.from < self.until {
            self.from <= time && time < self.until
        } else {
            self.from <= time || time < self.until
        }
    }

    /// Moves what falls into the quiet hours to their end.
    ///
    /// # Errors
    /// [`DatingError::OutOfCalendar`] at the end of the calendar.
    pub fn respect(&self, placed: Placed, zone: &TimeZone) -> Result<Placed, DatingError> {
        let mut placed = placed;
        // The end of the quiet hours may itself fall into a gap and come out in
        // the next stretch of them; a skipped day makes that two at most.
        for _ in 0..3 {
            let local = placed.local.datetime();
            if !self.cover(local.time()) {
                return Ok(placed);
            }
            let date =
                if local.time() < self.until { local.date() } else { tomorrow(local.date())? };
            let end = place_from(date.to_datetime(self.until), zone, placed.at)?;
            let mut shifts = placed.shifts;
            shifts.push(Shift::QuietHours);
            shifts.extend(end.shifts);
            placed = Placed { at: end.at, local: end.local, shifts };
        }
        Ok(placed)
    }
}

/// The next day of the calendar.
fn tomorrow(date: Date) -> Result<Date, DatingError> {
    date.tomorrow().map_err(|_| DatingError::OutOfCalendar { local: date.to_string() })
}

/// A day some days after (or before) another.
///
/// # Errors
/// [`DatingError::OutOfCalendar`] beyond the calendar.
pub fn days_after(date: Date, days: i32) -> Result<Date, DatingError> {
    date.checked_add(jiff::Span::new().days(days))
        .map_err(|_| DatingError::OutOfCalendar { local: format!("{date} and {days} days") })
}

/// A day some calendar months after another. A day that the month does not
/// have becomes its last one: four months after 31 October is the end of
/// February.
///
/// # Errors
/// [`DatingError::OutOfCalendar`] beyond the calendar.
pub fn months_after(date: Date, months: i32) -> Result<Date, DatingError> {
    date.checked_add(jiff::Span::new().months(months))
        .map_err(|_| DatingError::OutOfCalendar { local: format!("{date} and {months} months") })
}

/// Whole days between two days; negative if `to` is the earlier one.
#[must_use]
pub fn days_between(from: Date, to: Date) -> i32 {
    // Two dates of the calendar are at most 7.3 million days apart.
    from.until(to).map_or(0, |span| span.get_days())
}

fn covers(closed: ClosedDay, date: Date) -> bool {
    match closed {
        ClosedDay::Weekly(day) => weekday(day) == date.weekday(),
        ClosedDay::On(day) => day.0 == date,
    }
}

/// When the studio receives clients.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenDays<'a> {
    /// Days on which it does not.
    pub closed: &'a [ClosedDay],
    /// Start of an appointment.
    pub opens: Time,
    /// The same on days of the week that have a time of their own.
    pub opens_on: &'a [(DayOfWeek, Time)],
}

impl OpenDays<'_> {
    /// Whether some day of the week is open.
    #[must_use]
    pub fn ever(&self) -> bool {
        DayOfWeek::ALL.iter().any(|day| !self.closed.contains(&ClosedDay::Weekly(*day)))
    }

    /// When it opens on a day: the earliest time of its own, else the usual one.
    fn opens_at(&self, date: Date) -> Time {
        let own = self.opens_on.iter().filter(|(day, _)| weekday(*day) == date.weekday());
        own.map(|(_, time)| *time).min().unwrap_or(self.opens)
    }

    /// The first appointment on a day or after it, looking a year ahead.
    ///
    /// # Errors
    /// [`DatingError::OutOfCalendar`] at the end of the calendar.
    pub fn first_from(&self, date: Date, zone: &TimeZone) -> Result<Option<Placed>, DatingError> {
        let mut day = date;
        for _ in 0..366 {
            if !self.closed.iter().any(|closed| covers(*closed, day)) {
                let mut placed = place(day.to_datetime(self.opens_at(day)), zone)?;
                if day != date {
                    placed.shifts.insert(0, Shift::ClosedDay);
                }
                return Ok(Some(placed));
            }
            day = tomorrow(day)?;
        }
        Ok(None)
    }
}

const fn weekday(day: DayOfWeek) -> Weekday {
    match day {
        DayOfWeek::Monday => Weekday::Monday,
        DayOfWeek::Tuesday => Weekday::Tuesday,
        DayOfWeek::Wednesday => Weekday::Wednesday,
        DayOfWeek::Thursday => Weekday::Thursday,
        DayOfWeek::Friday => Weekday::Friday,
        DayOfWeek::Saturday => Weekday::Saturday,
        DayOfWeek::Sunday => Weekday::Sunday,
    }
}
