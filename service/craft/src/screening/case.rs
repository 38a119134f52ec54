//! Which visit is assessed.

use etui_schema::vocabulary::Treatment;
use jiff::civil::Date;

use super::country::Country;

/// Which treatment, for whom, on which day, seen from which day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Visit {
    /// What is treated.
    pub treatment: Treatment,
    /// The day of the treatment, in the zone of the request.
    pub on: Date,
    /// The same instant's day in the studio's own calendar; `on` if there is
    /// no instant. Nobody comes of age by a zone: the earlier day counts.
    pub on_in_studio: Date,
    /// The studio's local date at which this is assessed.
    pub as_of: Date,
    /// The client's day of birth.
    pub born_on: Date,
    /// Where the studio works; `None` if it was not told.
    pub country: Option<Country>,
}

impl Visit {
    /// The day from which things are seen: the day of assessment, or the day
    /// of the treatment if that is past.
    #[must_use]
    pub fn today(&self) -> Date {
        self.as_of.min(self.on)
    }

    /// The first day on which somebody of age may begin: age is judged on the
    /// earlier of both calendars.
    pub(super) fn age_day(&self) -> Date {
        self.on.min(self.on_in_studio)
    }
}
