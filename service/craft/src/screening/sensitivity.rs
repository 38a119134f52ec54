//! How much the bands of the score hang on any one number.
//!
//! Points and cut-points are judgement. This module changes each of them by
//! one, one at a time, and counts how many vignettes then fall into another
//! band. A share under 10 % for a change is the aim; the figures are measured,
//! not chosen.

use std::sync::Arc;

use etui_schema::vocabulary::Treatment;

use super::load_rule::MOST_POINTS;
use super::rulebook::Rulebook;
use super::score;

/// What a vignette scores: the rules that spoke, by id.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Vignette {
    /// Its treatment.
    pub treatment: Treatment,
    /// The rules that spoke.
    pub spoke: Vec<Arc<str>>,
}

/// The share of vignettes that one change moves into another band.
#[derive(Debug, Clone, PartialEq)]
pub struct Share {
    /// What was changed: `rule_id +1`, `moderate -1`.
    pub change: String,
    /// How many vignettes changed their band.
    pub moved: usize,
    /// Out of how many.
    pub of: usize,
}

impl Share {
    /// The share, 0 to 1; 0 without vignettes.
    #[must_use]
    pub fn fraction(&self) -> f64 {
        let count = |n: usize| f64::from(u32::try_from(n).unwrap_or(u32::MAX));
        if self.of == 0 { 0.0 } else { count(self.moved) / count(self.of) }
    }
}

/// Changes every factor and every cut-point by one up and one down.
///
/// A change that the limits of points forbid, or that would make two bands
/// begin at the same score, is left out.
#[must_use]
pub fn one_at_a_time(book: &Rulebook, vignettes: &[Vignette]) -> Vec<Share> {
    let base: Vec<Option<&str>> =
        vignettes.iter().map(|vignette| band(book, vignette, None, None)).collect();
    let share = |change: String, points: Option<(&str, u16)>, cut: Option<(usize, u16)>| {
        let moved = vignettes
            .iter()
            .zip(&base)
            .filter(|(vignette, before)| band(book, vignette, points, cut) != **before)
            .count();
        Share { change, moved, of: vignettes.len() }
    };
    let mut shares = Vec::new();
    for rule in book.all_rules().iter().filter(|rule| rule.group.is_some()) {
        let points = rule.points;
        if points < MOST_POINTS {
            let changed = (&*rule.id, u16::from(points) + 1);
            shares.push(share(format!("{} +1", rule.id), Some(changed), None));
        }
        if 0 < points {
            let changed = (&*rule.id, u16::from(points) - 1);
            shares.push(share(format!("{} -1", rule.id), Some(changed), None));
        }
    }
    let bands = book.bands();
    for (at, limit) in bands.iter().enumerate().skip(1) {
        if bands.get(at + 1).is_none_or(|next| limit.from + 1 < next.from) {
            shares.push(share(format!("{} +1", limit.id), None, Some((at, limit.from + 1))));
        }
        if bands[at - 1].from + 1 < limit.from {
            shares.push(share(format!("{} -1", limit.id), None, Some((at, limit.from - 1))));
        }
    }
    shares
}

/// The band of a vignette, with one factor or one cut-point changed.
fn band<'b>(
    book: &'b Rulebook,
    vignette: &Vignette,
    points: Option<(&str, u16)>,
    cut: Option<(usize, u16)>,
) -> Option<&'b str> {
    let mut sums = vec![0_u16; book.groups().len()];
    for rule in vignette.spoke.iter().filter_map(|id| book.rule(id)) {
        let Some(group) = rule.group else { continue };
        let given = match points {
            Some((id, changed)) if *id == *rule.id => changed,
            _ => u16::from(rule.points),
        };
        sums[group] += given;
    }
    let total = sums.iter().zip(book.groups()).map(|(sum, group)| group.cap.min(*sum)).sum();
    let mut bands = book.bands().to_vec();
    if let Some((at, from)) = cut {
        bands[at].from = from;
    }
    let id = score::band(&bands, total).map(|band| band.id.clone())?;
    book.bands().iter().find(|band| band.id == id).map(|band| &*band.id)
}
