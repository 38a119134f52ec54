//! What the studio's own record says against a visit in the same area.
//!
//! A report that a doctor had to see stays open until a person has settled it, or a
//! doctor has agreed after it; smooth skin alone says nothing of a fever. What may
//! have been an allergy, and a growing scar or lumps, nobody of the studio ends: only
//! a doctor's word after it. Else the last review that looked at the surface tells how it healed;
//! a later one that says nothing of the surface settles nothing, and asks for a look.
//!
//! A look is of the parts that it names ([`Parts`]): each part is as it was seen last, the worst of
//! them counts, and a word on one releases no other. Whichever session of the area a look is kept
//! with, it is of the same skin; what was told of a session is answered with that session alone.

use etui_schema::vocabulary::aftercare::{HealedSurface, Level, ReviewZone};
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

/// Parts of the work, of whatever area.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Parts(u32);

impl Parts {
    /// Of the parts that an area has those that are named: all of them for `whole`, for none,
    /// and where none of them is one of the area's.
    #[must_use]
    pub fn of(area: &[ReviewZone], named: impl IntoIterator<Item = ReviewZone>) -> Self {
        let all = area.iter().fold(Self(0), |all, part| all.and(Self::one(*part)));
        let (mut told, mut is_whole) = (Self(0), false);
        for part in named {
            is_whole |= part == ReviewZone::Whole;
            told = told.and(Self::one(part));
        }
        let told = Self(told.0 & all.0);
        if is_whole || told.0 == 0 { all } else { told }
    }

    fn one(part: ReviewZone) -> Self {
        let parts = ReviewZone::ALL.iter().filter(|one| **one != ReviewZone::Whole);
        let mut bits = parts.enumerate().filter(|(_, one)| **one == part);
        Self(bits.next().map_or(0, |(bit, _)| 1 << bit))
    }

    const fn and(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Whether every one of these is among others.
    const fn is_within(self, others: Self) -> bool {
        self.0 & !others.0 == 0
    }

    /// Each of them.
    fn each(self) -> impl Iterator<Item = Self> {
        (0..u32::BITS).map(|bit| Self(1 << bit)).filter(move |part| part.is_within(self))
    }
}

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
    /// Where it may be: nobody says of which part a report is.
    pub parts: Parts,
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
    /// What was looked at.
    pub parts: Parts,
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
        let all = Session::joined(sessions);
        let grave = all.is_grave().then_some(GRAVE);
        Self {
            last_session,
            is_unsettled: sessions.iter().any(Session::is_unsettled),
            result: grave.or(all.last_seen().map(|(_, result)| result)),
            has_scarred: all.has_scarred(),
            has_reacted: false,
        }
    }

    /// With what was found in other areas of the same person: what a doctor has to see, and skin
    /// that scars, are hers and not the area's.
    #[must_use]
    pub fn beside(self, elsewhere: &[Session]) -> Self {
        let there = Session::joined(elsewhere);
        let is_open = elsewhere.iter().any(Session::has_open_report);
        let is_open = is_open || Session::need_doctor(elsewhere);
        Self {
            is_unsettled: self.is_unsettled || is_open,
            result: there.is_grave().then_some(GRAVE).or(self.result),
            has_scarred: self.has_scarred || there.has_scarred(),
            ..self
        }
    }
}

impl Session {
    /// Several as one: what was seen of the same skin, whichever session it is kept with.
    #[must_use]
    pub fn joined(sessions: &[Self]) -> Self {
        sessions.iter().fold(Self::default(), |mut all, one| {
            all.reports.extend(&one.reports);
            all.reviews.extend(&one.reviews);
            all
        })
    }

    /// The worst of how its parts were seen last.
    fn last_seen(&self) -> Option<(u8, &'static str)> {
        let looked_at = union(self.reviews.iter());
        looked_at.each().filter_map(|part| self.last_seen_of(part)).max()
    }

    fn last_seen_of(&self, part: Parts) -> Option<(u8, &'static str)> {
        let looked = self.reviews.iter().filter(|review| part.is_within(review.parts));
        // Of two looks at the same instant the graver counts.
        let seen = looked.clone().filter_map(|review| Some((review.at, rank(review.surface?))));
        let last = seen.max().map(|(_, ranked)| ranked);
        let newest = looked.max_by_key(|review| (review.at, review.surface.is_some()));
        let untold = newest.is_some_and(|review| review.surface.is_none()).then_some(UNTOLD);
        last.max(untold)
    }

    /// Whether a growing scar or lumps were found and no doctor has agreed since.
    fn is_grave(&self) -> bool {
        let mut grave = self.reviews.iter().filter(|review| review.is_grave());
        grave.any(|found| !self.is_cleared(found.at, found.parts))
    }

    fn has_scarred(&self) -> bool {
        self.reviews.iter().any(Looked::is_scar)
    }

    /// Whether a doctor's word since covers all of these parts.
    fn is_cleared(&self, at: Timestamp, parts: Parts) -> bool {
        let mut clear = self.reviews.iter().filter(|review| review.clears(at)).peekable();
        clear.peek().is_some() && parts.is_within(union(clear))
    }

    /// Whether something of sessions waits for a doctor's word: a growing scar, lumps,
    /// or a report of what may have been an allergy, settled or not.
    #[must_use]
    pub fn need_doctor(sessions: &[Self]) -> bool {
        let lasting = |session: &Self| {
            let mut lasting = session.reports.iter().filter(|report| report.lasts);
            lasting.any(|told| {
                asks_for_a_doctor(told.level) && !session.is_cleared(told.at, told.parts)
            })
        };
        Self::joined(sessions).is_grave() || sessions.iter().any(lasting)
    }

    /// Whether a report that a doctor should see is open.
    #[must_use]
    pub fn has_open_report(&self) -> bool {
        let mut open = self.reports.iter().filter(|report| !report.is_settled);
        open.any(|told| asks_for_a_doctor(told.level) && !self.is_cleared(told.at, told.parts))
    }

    /// Whether the skin was seen and found neither healed nor smooth when it was
    /// last looked at, or a growing scar or lumps wait for a doctor.
    #[must_use]
    pub fn is_troubled(&self) -> bool {
        self.is_grave() || self.last_seen().is_some_and(|(rank, _)| UNTOLD.0 < rank)
    }

    /// Whether somebody has seen smooth skin after an instant, on all of these parts.
    #[must_use]
    pub fn seen_smooth_after(&self, at: Timestamp, parts: Parts) -> bool {
        let smooth = |one: &&Looked| {
            at < one.at
                && matches!(one.surface, Some(HealedSurface::Smooth | HealedSurface::Textured))
        };
        let mut smooth = self.reviews.iter().filter(smooth).peekable();
        smooth.peek().is_some() && parts.is_within(union(smooth))
    }

    fn is_unsettled(&self) -> bool {
        let mut grave = self.reports.iter().filter(|report| asks_for_a_doctor(report.level));
        grave.any(|report| {
            !self.is_cleared(report.at, report.parts) && (report.lasts || !report.is_settled)
        })
    }
}

/// All that was looked at.
fn union<'l>(looks: impl Iterator<Item = &'l Looked>) -> Parts {
    looks.fold(Parts::default(), |all, look| all.and(look.parts))
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
            parts: areola(&[]),
        };
        let raised = Looked { surface: Some(HealedSurface::Raised), ..grave };
        let told = |level| Reported {
            at: at(2),
            level,
            is_settled: false,
            lasts: false,
            parts: areola(&[]),
        };
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

    const LEFT: ReviewZone = ReviewZone::LeftAreola;
    const RIGHT: ReviewZone = ReviewZone::RightAreola;

    fn areola(named: &[ReviewZone]) -> Parts {
        Parts::of(&[ReviewZone::Whole, LEFT, RIGHT], named.iter().copied())
    }

    fn look(day: i64, surface: Option<HealedSurface>, parts: &[ReviewZone]) -> Looked {
        let parts = areola(parts);
        Looked { at: at(day), is_judged: true, surface, doctor_agrees: false, parts }
    }

    /// What is found on one part, and what is said later of another, is of no other part.
    #[test]
    fn a_look_at_one_part_releases_no_other() {
        use HealedSurface::{GrowingScar, Lumps, Raised, Smooth, Textured, Unhealed};
        let agreed = |look| Looked { doctor_agrees: true, ..look };
        let (left, right, both): (&[_], &[_], &[_]) = (&[LEFT], &[RIGHT], &[LEFT, RIGHT]);
        let whole: &[_] = &[ReviewZone::Whole];
        let looked = |day, surface, parts| look(day, Some(surface), parts);
        for (looks, result) in [
            (vec![looked(70, Unhealed, left), looked(99, Smooth, right)], "not_healed"),
            (vec![looked(70, Raised, left), looked(99, Textured, right)], "raised"),
            (vec![looked(70, Unhealed, whole), looked(99, Smooth, right)], "not_healed"),
            (vec![looked(70, Unhealed, &[]), looked(99, Smooth, right)], "not_healed"),
            (vec![looked(70, Unhealed, left), looked(99, Smooth, whole)], "smooth"),
            (vec![looked(70, Unhealed, left), looked(99, Smooth, both)], "smooth"),
            (vec![looked(70, Unhealed, left), looked(99, Smooth, &[])], "smooth"),
            (
                vec![
                    looked(70, Unhealed, whole),
                    looked(99, Smooth, right),
                    looked(98, Textured, left),
                ],
                "textured",
            ),
            (vec![looked(70, Smooth, left), look(99, None, right)], "not_told"),
            (vec![looked(70, Lumps, left), agreed(looked(99, Smooth, right))], GRAVE),
            (vec![looked(70, GrowingScar, both), agreed(looked(99, Smooth, right))], GRAVE),
            (vec![looked(70, Lumps, left), agreed(looked(99, Smooth, left))], "smooth"),
            (vec![looked(70, Lumps, left), agreed(looked(99, Smooth, whole))], "smooth"),
            (
                vec![
                    looked(70, Lumps, &[]),
                    agreed(looked(98, Smooth, left)),
                    agreed(looked(99, Smooth, right)),
                ],
                "smooth",
            ),
        ] {
            let session = Session { reports: Vec::new(), reviews: looks };
            let found = Record::of(None, std::slice::from_ref(&session)).result;
            assert_eq!(found, Some(result), "{session:?}");
            assert_eq!(
                session.is_troubled(),
                !["smooth", "textured", "not_told"].contains(&result)
            );
            // The same looks, kept with another session of the area.
            let apart = session
                .reviews
                .iter()
                .map(|one| Session { reports: Vec::new(), reviews: vec![*one] });
            let apart: Vec<Session> = apart.collect();
            assert_eq!(Record::of(None, &apart).result, Some(result), "{apart:?}");
        }
    }

    /// Nobody says of which part a report is, or where it bled.
    #[test]
    fn a_word_on_one_part_is_none_on_a_report() {
        let agreed =
            |parts| Looked { doctor_agrees: true, ..look(30, Some(HealedSurface::Smooth), parts) };
        for (parts, is_open) in
            [(&[LEFT][..], true), (&[LEFT, RIGHT], false), (&[ReviewZone::Whole], false)]
        {
            let (level, parts) = (Level::Doctor, agreed(parts));
            let told =
                Reported { at: at(3), level, is_settled: false, lasts: true, parts: areola(&[]) };
            let session = Session { reports: vec![told], reviews: vec![parts] };
            let found = Record::of(None, std::slice::from_ref(&session)).is_unsettled;
            let bled = !session.seen_smooth_after(at(3), areola(&[]));
            let needs = Session::need_doctor(std::slice::from_ref(&session));
            let all = [found, session.has_open_report(), needs, bled];
            assert_eq!(all, [is_open; 4], "{session:?}");
            // A doctor who agreed after another session knew nothing of what was told of this one.
            let apart = [
                Session { reviews: Vec::new(), ..session.clone() },
                Session { reports: Vec::new(), ..session },
            ];
            assert!(Record::of(None, &apart).is_unsettled && Session::need_doctor(&apart));
        }
    }

    fn at(day: i64) -> Timestamp {
        Timestamp::from_second(1_800_000_000 + day * 86_400).unwrap()
    }

    #[test]
    fn a_report_is_open_until_somebody_has_settled_it() {
        let report = |day, level| Reported {
            at: at(day),
            level,
            is_settled: false,
            lasts: false,
            parts: areola(&[]),
        };
        let settled = |report| Reported { is_settled: true, ..report };
        let lasting = |report| Reported { lasts: true, ..report };
        let review = |day, is_judged, surface| Looked {
            at: at(day),
            is_judged,
            surface,
            doctor_agrees: false,
            parts: areola(&[]),
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
        let looked = |day, surface| look(day, surface, &[]);
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
