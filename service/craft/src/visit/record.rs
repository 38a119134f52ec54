//! What the studio's own record says against a visit in the same area.
//!
//! A report that a doctor had to see stays open until somebody has seen healed,
//! smooth skin after it. How the surface healed is told by the last review that
//! looked at it; a review that says nothing of the surface settles nothing.

use etui_schema::vocabulary::aftercare::{HealedSurface, Level};
use jiff::Timestamp;
use jiff::civil::Date;

/// The questions that the record answers.
pub const UNSETTLED: &str = "unsettled_reaction";
/// How the surface of earlier work looked when it was last seen.
pub const RESULT: &str = "earlier_result";

/// A symptom report on earlier work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reported {
    /// When it was told.
    pub at: Timestamp,
    /// How urgent it was.
    pub level: Level,
}

/// A review of earlier work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Looked {
    /// When it was looked at.
    pub at: Timestamp,
    /// Whether the skin was found to be past its healing.
    pub is_judged: bool,
    /// What the surface showed, if anybody said.
    pub surface: Option<HealedSurface>,
}

/// One earlier session in the area.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Session {
    /// What was reported on it.
    pub reports: Vec<Reported>,
    /// How it was seen to have healed.
    pub reviews: Vec<Looked>,
}

/// What the record answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Record<'a> {
    /// The day of the last session in the area.
    pub last_session: Option<Date>,
    /// Whether a report that a doctor had to see has not settled.
    pub is_unsettled: bool,
    /// How the surface looked, as an option of [`RESULT`].
    pub result: Option<&'a str>,
}

impl Record<'static> {
    /// What earlier sessions come to.
    #[must_use]
    pub fn of(last_session: Option<Date>, sessions: &[Session]) -> Self {
        let looked = || sessions.iter().flat_map(|session| &session.reviews);
        let last = looked().filter(|review| review.surface.is_some()).max_by_key(|r| r.at);
        Self {
            last_session,
            is_unsettled: sessions.iter().any(Session::is_unsettled),
            result: last.and_then(|review| review.surface).map(result),
        }
    }
}

impl Session {
    fn is_unsettled(&self) -> bool {
        let settled_after = |at: Timestamp| {
            self.reviews.iter().any(|review| {
                at <= review.at && review.is_judged && review.surface == Some(HealedSurface::Smooth)
            })
        };
        let grave = self.reports.iter().filter(|report| asks_for_a_doctor(report.level));
        grave.into_iter().any(|report| !settled_after(report.at))
    }
}

const fn asks_for_a_doctor(level: Level) -> bool {
    match level {
        Level::Emergency | Level::SameDay | Level::Doctor => true,
        Level::Artist | Level::Expected => false,
    }
}

const fn result(surface: HealedSurface) -> &'static str {
    match surface {
        HealedSurface::Smooth | HealedSurface::Textured => "smooth",
        HealedSurface::Raised => "raised",
        HealedSurface::GrowingScar | HealedSurface::Lumps => "growing_or_lumps",
        HealedSurface::Unhealed => "not_healed",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(1_800_000_000 + day * 86_400).unwrap()
    }

    #[test]
    fn a_report_is_open_until_smooth_skin_was_seen() {
        let report = |day, level| Reported { at: at(day), level };
        let review = |day, is_judged, surface| Looked { at: at(day), is_judged, surface };
        let smooth = Some(HealedSurface::Smooth);
        for (reports, reviews, unsettled) in [
            (vec![], vec![], false),
            (vec![report(3, Level::Artist)], vec![], false),
            (vec![report(3, Level::Doctor)], vec![], true),
            (vec![report(3, Level::Emergency), report(9, Level::Expected)], vec![], true),
            (vec![report(3, Level::Doctor)], vec![review(30, true, smooth)], false),
            (vec![report(3, Level::Doctor)], vec![review(30, true, None)], true),
            (vec![report(3, Level::Doctor)], vec![review(9, false, smooth)], true),
            (vec![report(31, Level::SameDay)], vec![review(30, true, smooth)], true),
        ] {
            let session = Session { reports, reviews };
            let found = Record::of(None, std::slice::from_ref(&session)).is_unsettled;
            assert_eq!(found, unsettled, "{session:?}");
        }
    }

    #[test]
    fn the_last_look_at_the_surface_counts() {
        let looked = |day, surface| Looked { at: at(day), is_judged: true, surface };
        for (reviews, result) in [
            (vec![], None),
            (vec![looked(30, None)], None),
            (vec![looked(30, Some(HealedSurface::Raised)), looked(60, None)], Some("raised")),
            (
                vec![
                    looked(60, Some(HealedSurface::Smooth)),
                    looked(30, Some(HealedSurface::Raised)),
                ],
                Some("smooth"),
            ),
            (vec![looked(30, Some(HealedSurface::Unhealed))], Some("not_healed")),
            (vec![looked(30, Some(HealedSurface::Lumps))], Some("growing_or_lumps")),
        ] {
            let session = Session { reports: Vec::new(), reviews };
            assert_eq!(Record::of(None, std::slice::from_ref(&session)).result, result);
        }
    }
}
