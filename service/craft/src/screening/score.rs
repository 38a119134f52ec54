//! The caution score: points that change conditions, session plan and
//! follow-up, and nothing else. It never turns a rule on or off.
//!
//! Every rule that spoke adds its points to its group; a group gives no more
//! than its cap, so that one cause does not count twice. Answers that are
//! missing make the score a range: from what is certain to what is possible.
//! Bands are half-open and leave no gap; a band is given only if both ends of
//! the range lie in it. Points, caps and bands are expert judgement: they are
//! not calibrated on outcomes, and the score is no probability.

use etui_schema::kinds::loaded;
use std::sync::Arc;

use etui_schema::vocabulary::EvidenceKind;

use super::data::Head;
use super::faults::{BookFault, BookFaults, BookProblem};
use super::rule::Rule;
use super::rulebook::Rulebook;

/// Factors that share a cause.
#[loaded(PartialEq, Eq)]
pub struct Group {
    /// Its id.
    pub id: Arc<str>,
    /// The most points it may give.
    pub cap: u16,
}

/// A band of the score.
#[loaded(PartialEq, Eq)]
pub struct Band {
    /// Its id.
    pub id: Arc<str>,
    /// Where it begins, inclusive; it ends before the next one begins.
    pub from: u16,
}

/// What one rule gave.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contribution<'b> {
    /// The rule.
    pub rule: &'b Rule,
    /// Its points.
    pub points: u16,
    /// How many of them counted under the cap of its group.
    pub counted: u16,
}

/// The caution score of one assessment.
#[derive(Debug, Clone, PartialEq)]
pub struct Score<'b> {
    /// Points that are certain.
    pub points: u16,
    /// Points if every open answer were the worst.
    pub at_most: u16,
    /// The band, if the whole range lies in one.
    pub band: Option<&'b Band>,
    /// What gave points, in the order of the book.
    pub contributions: Vec<Contribution<'b>>,
    /// Certain points by the evidence behind them, in the order of the kinds;
    /// kinds without points are left out. They add up to `points`.
    pub evidence_share: Vec<(EvidenceKind, u16)>,
}

impl<'b> Score<'b> {
    /// A score in the making.
    pub(super) fn begin(book: &'b Rulebook) -> Tally<'b> {
        Tally { sums: vec![(0, 0); book.groups.len()], caps: &book.groups, given: Vec::new() }
    }
}

/// The sums while rules speak.
pub(super) struct Tally<'b> {
    /// For each group: certain points under the cap, possible points.
    sums: Vec<(u16, u16)>,
    caps: &'b [Group],
    given: Vec<Contribution<'b>>,
}

impl<'b> Tally<'b> {
    /// The rule spoke.
    pub(super) fn counts(&mut self, rule: &'b Rule) {
        let Some(group) = rule.group else { return };
        let points = u16::from(rule.points);
        let (certain, possible) = &mut self.sums[group];
        let counted = points.min(self.caps[group].cap.saturating_sub(*certain));
        *certain += counted;
        *possible = possible.saturating_add(points);
        self.given.push(Contribution { rule, points, counted });
    }

    /// The rule might speak if more were known.
    pub(super) fn maybe(&mut self, rule: &Rule) {
        if let Some(group) = rule.group {
            let possible = &mut self.sums[group].1;
            *possible = possible.saturating_add(u16::from(rule.points));
        }
    }

    pub(super) fn finish(self, book: &'b Rulebook) -> Score<'b> {
        let points = self.sums.iter().map(|(certain, _)| certain).sum();
        let at_most = self
            .sums
            .iter()
            .zip(self.caps)
            .map(|((_, possible), group)| group.cap.min(*possible))
            .sum();
        let band = band(&book.bands, points).filter(|low| band(&book.bands, at_most) == Some(low));
        let share = EvidenceKind::ALL.iter().map(|kind| {
            let of_kind = self.given.iter().filter(|given| given.rule.evidence() == *kind);
            (*kind, of_kind.map(|given| given.counted).sum())
        });
        Score {
            points,
            at_most,
            band,
            evidence_share: share.filter(|(_, points)| 0 < *points).collect(),
            contributions: self.given,
        }
    }
}

/// The band a score lies in.
#[must_use]
pub fn band(bands: &[Band], points: u16) -> Option<&Band> {
    bands.iter().rev().find(|band| band.from <= points)
}

/// Checks groups and bands.
pub(super) fn check_tables(head: &Head) -> Result<(), BookFaults> {
    let mut faults = Vec::new();
    let mut fault = |pointer: &str, why: &str| {
        faults.push(BookFault {
            file: "book.toml".to_owned(),
            pointer: pointer.to_owned(),
            problem: BookProblem::Contradiction { why: why.to_owned() },
        });
    };
    for (at, group) in head.group.iter().enumerate() {
        if group.cap == 0 || head.group[..at].iter().any(|other| other.id == group.id) {
            fault(&format!("/group/{at}"), "a group has an id of its own and a cap above 0");
        }
    }
    if head.band.first().is_none_or(|band| band.from != 0) {
        fault("/band/0", "the first band begins at 0, else some scores have none");
    }
    if head.band.windows(2).any(|pair| pair[1].from <= pair[0].from) {
        fault("/band", "each band begins above the one before");
    }
    if faults.is_empty() { Ok(()) } else { Err(BookFaults(faults)) }
}
