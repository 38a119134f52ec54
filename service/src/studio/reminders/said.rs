//! What a reminder says, which is sealed.

use etui_schema::vocabulary::aftercare::StepKind;
use etui_schema::vocabulary::{Language, Zone};
use jiff::Timestamp;
use jiff::fmt::temporal::Pieces;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};

use crate::store::record::Record;
use crate::studio::{Studio, branches};

/// What a reminder says: the step may tell of the client's health.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Said {
    pub(super) key: String,
    pub(super) kind: StepKind,
    pub(super) text: String,
    pub(super) local: String,
    /// The zone of that; absent in what former builds wrote.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) zone: Option<Zone>,
    /// The sentence of the pack that it was made from, before its places were
    /// filled; absent if its step is built in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) wording: Option<Wording>,
    /// The sentence with whom to call left open, if it says that: the numbers of a branch change, and
    /// nobody is to be told a former one. Absent in what former builds wrote.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) open: Option<Wording>,
}

/// A sentence whose places are not filled, or not all of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Wording {
    pub(super) language: Language,
    pub(super) sentence: String,
}

impl Said {
    /// The same with whom to call as it stands today at its branch.
    pub(super) fn calling(mut self, here: &Studio) -> Self {
        if let Some(Wording { language, sentence }) = &self.open {
            self.text = branches::calling(here, sentence, *language);
        }
        self
    }

    /// Where she was to read it; of former builds the offset of then alone is known.
    pub(super) fn zone(&self) -> Option<TimeZone> {
        let of_then = || Pieces::parse(&self.local).ok()?.to_numeric_offset().map(TimeZone::fixed);
        self.zone.as_ref().map(|zone| zone.rules().clone()).or_else(of_then)
    }

    /// The local time at which it is due, to the second: as it was written, unless it is due at another
    /// time by now.
    pub(super) fn local_at(&self, due: Timestamp) -> String {
        let written: Option<Timestamp> = self.local.parse().ok();
        if written.is_some_and(|at| at.as_second() == due.as_second()) {
            return self.local.clone();
        }
        let Some(zone) = self.zone() else { return self.local.clone() };
        let offset = zone.to_offset(due);
        Timestamp::from_second(due.as_second())
            .unwrap_or(due)
            .display_with_offset(offset)
            .to_string()
    }

    /// Whether the pack that says this has been taken away, switched off or changed
    /// since: then nobody says it any more.
    pub(super) fn is_withdrawn(&self, studio: &Studio) -> bool {
        let plans = &studio.craft.plans;
        match &self.wording {
            Some(Wording { language, sentence }) => {
                plans.pack_sentence(&self.key, *language) != Some(sentence)
            }
            // Kept by a build that did not note the pack.
            None => !plans.has_step(&self.key),
        }
    }
}

impl Record for Said {
    const KIND: &'static str = "reminder_said";
}

#[cfg(test)]
mod tests {
    use etui_schema::vocabulary::aftercare::StepKind;
    use jiff::Timestamp;

    use super::Said;

    /// What is said at a local time in a zone.
    fn said(local: &str, zone: Option<&str>) -> Said {
        Said {
            key: String::new(),
            kind: StepKind::Do,
            text: String::new(),
            local: local.to_owned(),
            zone: zone.map(|zone| zone.parse().unwrap()),
            wording: None,
            open: None,
        }
    }

    /// A message that is tried again says when; in summer by the time of summer.
    #[test]
    fn the_local_time_goes_with_the_message() {
        let written = "2027-03-27T09:00:00+01:00";
        for (local, zone, due, told) in [
            (written, Some("Europe/Berlin"), "2027-03-27T08:00:00.412Z", written),
            (written, Some("Europe/Berlin"), "2027-03-27T08:10:00Z", "2027-03-27T09:10:00+01:00"),
            (written, Some("Europe/Berlin"), "2027-03-28T08:10:00.5Z", "2027-03-28T10:10:00+02:00"),
            (written, None, "2027-03-28T08:10:00Z", "2027-03-28T09:10:00+01:00"),
            ("some day", None, "2027-03-28T08:10:00Z", "some day"),
        ] {
            assert_eq!(said(local, zone).local_at(due.parse().unwrap()), told, "{local} {due}");
        }
    }

    /// The zone has summer and winter; what a former build wrote has the offset of its day; what cannot
    /// be read has neither.
    #[test]
    fn a_message_knows_where_it_is_read() {
        let summer: Timestamp = "2027-07-01T12:00:00Z".parse().unwrap();
        for (local, zone, hour) in [
            ("2027-03-17T09:00:00+01:00", Some("Europe/Berlin"), Some(14)),
            ("2027-03-17T09:00:00+01:00", None, Some(13)),
            ("2027-03-17T09:00:00-03:30", None, Some(8)),
            ("some day", None, None),
        ] {
            let read = said(local, zone).zone().map(|zone| summer.to_zoned_datetime(zone).hour());
            assert_eq!(read, hour, "{local} {zone:?}");
        }
    }
}
