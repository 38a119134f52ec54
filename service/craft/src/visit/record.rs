//! What the studio's own record says against a visit in the same area.
//!
//! A report that a doctor had to see stays open until a person has settled it, or a
//! doctor has agreed after it; smooth skin alone says nothing of a fever. What may
//! have been an allergy, and a growing scar or lumps, nobody of the studio ends: only
//! a doctor's word after it. Else the last review that looked at the surface tells how it healed;
//! a later one that says nothing of the surface settles nothing, and asks for a look.

use etui_schema::vocabulary::aftercare::{HealedSurface, Level};
use jiff::Timestamp;
use jiff::civil::Date;

/// The questions that the record answers.
pub const UNSETTLED: &str = "unsettled_reaction";
/// How the surface of earlier work looked when it was last seen.
pub const RESULT: &str = "earlier_result";

/// Whether the skin reacted in a skin test of the studio: told with a check, then kept with the
/// client until somebody answers it with a no there.
pub const SKIN_TEST: &str = "skin_test_reacted";

/// Whether work of the studio has left a raised or growing scar anywhere on her, flat again or not:
/// how her skin scars is hers, and no doctor's word on one place ends it.
pub const SCARRED: &str = "scarred_before";

/// A symptom report on earlier work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reported {
    /// When it was told.
    pub at: Timestamp,
    /// How urgent it was.
    pub level: Level,
    /// Whether a person has looked into it and closed it.
    pub is_settled: bool,
    /// Whether it tells of what only a doctor's word ends.
    pub lasts: bool,
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
    /// Whether a doctor has seen the skin and agrees to further work.
    pub doctor_agrees: bool,
}

impl Looked {
    const fn is_grave(&self) -> bool {
        matches!(self.surface, Some(HealedSurface::GrowingScar | HealedSurface::Lumps))
    }

    const fn is_scar(&self) -> bool {
        matches!(self.surface, Some(HealedSurface::GrowingScar | HealedSurface::Raised))
    }

    /// Whether it carries a doctor's word on what was found before an instant.
    fn clears(&self, at: Timestamp) -> bool {
        at < self.at && self.doctor_agrees && !self.is_grave()
    }
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
    /// Whether a raised or growing scar was found after any work.
    pub has_scarred: bool,
    /// Whether a skin test that is told now shows a reaction.
    pub has_reacted: bool,
}

impl Record<'static> {
    /// What earlier sessions come to.
    #[must_use]
    pub fn of(last_session: Option<Date>, sessions: &[Session]) -> Self {
        let looked = sessions.iter().flat_map(|session| &session.reviews);
        // Of two looks at the same instant the graver counts.
        let seen = looked.clone().filter_map(|review| Some((review.at, rank(review.surface?))));
        let last = seen.max().map(|(_, ranked)| ranked);
        let newest = looked.max_by_key(|review| (review.at, review.surface.is_some()));
        let untold = newest.is_some_and(|review| review.surface.is_none()).then_some(UNTOLD);
        let last = last.max(untold).map(|(_, result)| result);
        let grave = sessions.iter().any(Session::is_grave).then_some(GRAVE);
        Self {
            last_session,
            is_unsettled: sessions.iter().any(Session::is_unsettled),
            result: grave.or(last),
            has_scarred: sessions.iter().any(Session::has_scarred),
            has_reacted: false,
        }
    }

    /// With what was found in other areas of the same person: what a doctor has to see, and skin
    /// that scars, are hers and not the area's.
    #[must_use]
    pub fn beside(self, elsewhere: &[Session]) -> Self {
        let open = |session: &Session| session.has_open_report() || session.needs_doctor();
        let grave = elsewhere.iter().any(Session::is_grave).then_some(GRAVE);
        Self {
            is_unsettled: self.is_unsettled || elsewhere.iter().any(open),
            result: grave.or(self.result),
            has_scarred: self.has_scarred || elsewhere.iter().any(Session::has_scarred),
            ..self
        }
    }
}

impl Session {
    /// Whether a growing scar or lumps were found and no doctor has agreed since.
    fn is_grave(&self) -> bool {
        let mut grave = self.reviews.iter().filter(|review| review.is_grave());
        grave.any(|found| !self.is_cleared(found.at))
    }

    fn has_scarred(&self) -> bool {
        self.reviews.iter().any(Looked::is_scar)
    }

    fn is_cleared(&self, at: Timestamp) -> bool {
        self.reviews.iter().any(|review| review.clears(at))
    }

    /// Whether something of it waits for a doctor's word: a growing scar, lumps,
    /// or a report of what may have been an allergy, settled or not.
    #[must_use]
    pub fn needs_doctor(&self) -> bool {
        let mut lasting = self.reports.iter().filter(|report| report.lasts);
        self.is_grave()
            || lasting.any(|told| asks_for_a_doctor(told.level) && !self.is_cleared(told.at))
    }

    /// Whether a report that a doctor should see is open.
    #[must_use]
    pub fn has_open_report(&self) -> bool {
        let mut open = self.reports.iter().filter(|report| !report.is_settled);
        open.any(|report| asks_for_a_doctor(report.level) && !self.is_cleared(report.at))
    }

    /// Whether the skin was seen and found neither healed nor smooth when it was
    /// last looked at, or a growing scar or lumps wait for a doctor.
    #[must_use]
    pub fn is_troubled(&self) -> bool {
        let result = Record::of(None, std::slice::from_ref(self)).result;
        result.is_some_and(|result| ![SMOOTH, TEXTURED, UNTOLD.1].contains(&result))
    }

    /// Whether somebody has seen smooth skin after an instant.
    #[must_use]
    pub fn seen_smooth_after(&self, at: Timestamp) -> bool {
        let smooth = |one: &Looked| {
            matches!(one.surface, Some(HealedSurface::Smooth | HealedSurface::Textured))
        };
        self.reviews.iter().any(|review| at < review.at && smooth(review))
    }

    fn is_unsettled(&self) -> bool {
        let mut grave = self.reports.iter().filter(|report| asks_for_a_doctor(report.level));
        grave.any(|report| !self.is_cleared(report.at) && (report.lasts || !report.is_settled))
    }
}

const fn asks_for_a_doctor(level: Level) -> bool {
    match level {
        Level::Emergency | Level::SameDay | Level::Doctor => true,
        Level::Artist | Level::Expected => false,
    }
}

const GRAVE: &str = "growing_or_lumps";
const SMOOTH: &str = "smooth";
const TEXTURED: &str = "textured";
/// Worse than texture, since it may be raised skin; what was found before it stays.
const UNTOLD: (u8, &str) = (2, "not_told");

/// How grave a surface is, and its option of [`RESULT`].
const fn rank(surface: HealedSurface) -> (u8, &'static str) {
    match surface {
        HealedSurface::Smooth => (0, SMOOTH),
        HealedSurface::Textured => (1, TEXTURED),
        HealedSurface::Unhealed => (3, "not_healed"),
        HealedSurface::Raised => (4, "raised"),
        // Cleared by a doctor, else it counts whatever was seen after it.
        HealedSurface::GrowingScar | HealedSurface::Lumps => (5, GRAVE),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An emergency after the brows is no smaller one before the lips.
    #[test]
    fn what_a_doctor_has_to_see_counts_in_every_area() {
        let grave = Looked {
            at: at(30),
            is_judged: true,
            surface: Some(HealedSurface::GrowingScar),
            doctor_agrees: false,
        };
        let raised = Looked { surface: Some(HealedSurface::Raised), ..grave };
        let told = |level| Reported { at: at(2), level, is_settled: false, lasts: false };
        let lumps = Looked { surface: Some(HealedSurface::Lumps), ..grave };
        let smooth = Looked { surface: Some(HealedSurface::Smooth), ..grave };
        let agreed = Looked { at: at(40), doctor_agrees: true, ..smooth };
        let seen = |reviews| Session { reports: vec![], reviews };
        for (session, found) in [
            (Session::default(), (false, None, false)),
            (
                Session { reports: vec![told(Level::Emergency)], reviews: vec![] },
                (true, None, false),
            ),
            (Session { reports: vec![told(Level::Artist)], reviews: vec![] }, (false, None, false)),
            (seen(vec![grave]), (true, Some(GRAVE), true)),
            (seen(vec![lumps]), (true, Some(GRAVE), false)),
            (seen(vec![smooth]), (false, None, false)),
            // How her skin scars is not only of the place, and outlasts it.
            (seen(vec![raised]), (false, None, true)),
            (seen(vec![raised, Looked { at: at(40), ..smooth }]), (false, None, true)),
            (seen(vec![grave, agreed]), (false, None, true)),
        ] {
            let Record { last_session, is_unsettled, result, has_scarred, has_reacted: _ } =
                Record::default().beside(std::slice::from_ref(&session));
            assert_eq!((is_unsettled, result, has_scarred), found, "{session:?}");
            assert_eq!(last_session, None);
        }
    }

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(1_800_000_000 + day * 86_400).unwrap()
    }

    #[test]
    fn a_report_is_open_until_somebody_has_settled_it() {
        let report = |day, level| Reported { at: at(day), level, is_settled: false, lasts: false };
        let settled = |report| Reported { is_settled: true, ..report };
        let lasting = |report| Reported { lasts: true, ..report };
        let review = |day, is_judged, surface| Looked {
            at: at(day),
            is_judged,
            surface,
            doctor_agrees: false,
        };
        let agreed = |review| Looked { doctor_agrees: true, ..review };
        let smooth = Some(HealedSurface::Smooth);
        for (reports, reviews, unsettled) in [
            (vec![], vec![], false),
            (vec![report(3, Level::Artist)], vec![], false),
            (vec![report(3, Level::Doctor)], vec![], true),
            (vec![report(3, Level::Emergency), report(9, Level::Expected)], vec![], true),
            // Smooth skin is no word of whoever looks into what was told.
            (vec![report(3, Level::Doctor)], vec![review(30, true, smooth)], true),
            (vec![report(3, Level::Doctor)], vec![agreed(review(30, true, smooth))], false),
            (vec![settled(report(3, Level::Doctor))], vec![review(30, true, smooth)], false),
            (vec![report(3, Level::Doctor)], vec![review(30, true, None)], true),
            (vec![report(3, Level::Doctor)], vec![review(9, false, smooth)], true),
            (vec![report(31, Level::SameDay)], vec![review(30, true, smooth)], true),
            (vec![settled(report(3, Level::SameDay))], vec![], false),
            // Settling ends the pause of the messages, not the allergy.
            (vec![settled(lasting(report(3, Level::Emergency)))], vec![], true),
            (
                vec![settled(lasting(report(3, Level::Doctor)))],
                vec![review(30, true, smooth)],
                true,
            ),
            (
                vec![settled(lasting(report(3, Level::Emergency)))],
                vec![agreed(review(30, true, smooth))],
                false,
            ),
            (
                vec![lasting(report(31, Level::Doctor))],
                vec![agreed(review(30, true, smooth))],
                true,
            ),
            (vec![lasting(report(3, Level::Artist))], vec![], false),
        ] {
            let session = Session { reports, reviews };
            let found = Record::of(None, std::slice::from_ref(&session)).is_unsettled;
            assert_eq!(found, unsettled, "{session:?}");
        }
    }

    #[test]
    fn the_last_look_at_the_surface_counts_and_a_grave_one_stays() {
        let looked =
            |day, surface| Looked { at: at(day), is_judged: true, surface, doctor_agrees: false };
        let agreed = |day, surface| Looked { doctor_agrees: true, ..looked(day, surface) };
        let (scar, raised) = (Some(HealedSurface::GrowingScar), Some(HealedSurface::Raised));
        let smooth = Some(HealedSurface::Smooth);
        for (reviews, result) in [
            (vec![], None),
            (vec![looked(30, None)], Some("not_told")),
            (vec![looked(30, smooth), looked(60, None)], Some("not_told")),
            (vec![looked(30, None), looked(60, smooth)], Some("smooth")),
            (vec![looked(30, None), looked(30, smooth)], Some("smooth")),
            (vec![looked(30, Some(HealedSurface::Textured))], Some("textured")),
            (vec![looked(30, scar), agreed(60, None)], Some("growing_or_lumps")),
            (vec![looked(30, scar), looked(40, smooth), agreed(60, None)], Some("not_told")),
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
            // A milder look does not take the doctor away; a doctor's word does.
            (vec![looked(30, scar), looked(40, raised)], Some("growing_or_lumps")),
            (vec![looked(40, smooth), looked(30, scar)], Some("growing_or_lumps")),
            (vec![looked(30, scar), agreed(40, smooth)], Some("smooth")),
            (vec![looked(30, scar), agreed(40, raised)], Some("raised")),
            (vec![agreed(30, smooth), looked(30, scar)], Some("growing_or_lumps")),
            (vec![agreed(29, smooth), looked(30, scar)], Some("growing_or_lumps")),
            (vec![looked(30, scar), agreed(40, scar)], Some("growing_or_lumps")),
            (vec![looked(30, raised), looked(30, smooth)], Some("raised")),
        ] {
            let session = Session { reports: Vec::new(), reviews };
            assert_eq!(Record::of(None, std::slice::from_ref(&session)).result, result);
        }
    }
}
