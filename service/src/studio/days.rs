//! Days of the studio's calendar as instants.

use std::ops::Range;

use etui_schema::problem::FaultCode;
use etui_schema::vocabulary::CivilDate;
use jiff::Timestamp;
use jiff::civil::Date;

use super::Studio;
use super::error::Error;

/// The first instant of a day where the studio is.
#[must_use]
pub fn start_of(studio: &Studio, day: Date) -> Timestamp {
    studio.zone.rules().to_timestamp(day.at(0, 0, 0, 0)).unwrap_or(Timestamp::MIN)
}

/// From the beginning of one day to the end of another; without a day there is no bound.
///
/// # Errors
/// [`Error::Refused`] if the one comes after the other.
pub fn between(
    studio: &Studio,
    from: Option<CivilDate>,
    to: Option<CivilDate>,
) -> Result<Range<Timestamp>, Error> {
    if from.is_some_and(|from| to.is_some_and(|to| to.0 < from.0)) {
        let why = "this day comes before that of `from`";
        return Err(Error::at("query:to", FaultCode::Contradiction, why));
    }
    let start = from.map_or(Timestamp::MIN, |day| start_of(studio, day.0));
    let end = to.and_then(|day| day.0.tomorrow().ok());
    Ok(start..end.map_or(Timestamp::MAX, |day| start_of(studio, day)))
}
