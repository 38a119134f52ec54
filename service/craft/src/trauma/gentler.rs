//! Which needles are gentler than the one in the hand.

use etui_schema::vocabulary::Grouping;

use super::rules::NeedleRule;
use crate::configuration::{Circumstances, Complete, Model};

/// A needle that is gentler, and by how much.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offer {
    /// The needle.
    pub configuration: Complete,
    /// Pressure on each point, as a share of the present one.
    pub pressure: f64,
    /// Trauma index, as a share of the present one.
    pub trauma: f64,
}

/// What is gentler than what, under the present circumstances.
#[derive(Clone, Copy)]
pub struct Gentler<'a> {
    pub(crate) rule: &'a NeedleRule,
    pub(crate) model: &'a Model,
    pub(crate) circumstances: &'a Circumstances,
    /// Whether the machine drives a larger group, as far as it was told and at
    /// the worst of what was not.
    pub(crate) drives_more: bool,
}

impl Gentler<'_> {
    /// What is gentler than `current` and suits nearly as well: what is of its own grouping first,
    /// then as they suit. The candidates suit treatment, effect and setting, each with the logarithm
    /// of its desirability, and come in the order in which they do.
    #[must_use]
    pub fn offers(&self, current: &Complete, in_order: &[(Complete, f64)]) -> Vec<Offer> {
        // What is in the hand may not suit: then the best that does is what others are held against.
        let own = in_order.iter().find(|(one, _)| one == current).or_else(|| in_order.first());
        let least = own.map_or(0.0, |(_, fit)| fit + self.rule.least_fit.ln());
        let gentler: Vec<Offer> = in_order
            .iter()
            .filter(|(_, fit)| least <= *fit)
            .filter_map(|(next, _)| self.offer(current, next))
            .collect();
        let is_own = |offer: &&Offer| offer.configuration.grouping == current.grouping;
        let (own, others): (Vec<&Offer>, Vec<&Offer>) = gentler.iter().partition(is_own);
        let mut kept: Vec<Offer> = Vec::new();
        for offer in own.into_iter().chain(others) {
            let beaten = gentler.iter().any(|other| dominates(other, offer));
            let of_kind = |other: &Offer| kind(&other.configuration) == kind(&offer.configuration);
            if !beaten && !kept.iter().any(of_kind) && kept.len() < self.rule.most {
                kept.push(*offer);
            }
        }
        kept
    }

    /// How `next` compares, if it is gentler and worth taking.
    fn offer(&self, current: &Complete, next: &Complete) -> Option<Offer> {
        let most_needles = if self.drives_more {
            current.count.saturating_mul(self.rule.count_factor)
        } else {
            current.count
        };
        let harder = next == current
            || current.diameter_mm < next.diameter_mm
            || most_needles < next.count
            || self.may_be_blunter(current, next);
        if harder {
            return None;
        }
        let now = self.model.measure(current, self.circumstances);
        let then = self.model.measure(next, self.circumstances);
        let offer = Offer {
            configuration: *next,
            pressure: then.pressure_index / now.pressure_index,
            trauma: then.trauma_index / now.trauma_index,
        };
        let worth = offer.pressure <= 1.0 - self.rule.least_relief && offer.trauma < 1.0 - 1e-9;
        worth.then_some(offer)
    }

    /// A shorter taper opens wider. One that is not told may be shorter than
    /// one that is.
    fn may_be_blunter(&self, current: &Complete, next: &Complete) -> bool {
        match (current.taper, next.taper) {
            (Some(_), Some(_)) => self.model.taper_mm(next) < self.model.taper_mm(current),
            (Some(_), None) => true,
            (None, Some(_) | None) => false,
        }
    }
}

/// Whether one offer makes another of its grouping pointless: better on one measure and no worse on
/// the other, or the same group with thicker needles that press less. (Both are no thicker than what
/// is in the hand, and fine points cut.) What is of another grouping may suit the effect otherwise.
fn dominates(one: &Offer, other: &Offer) -> bool {
    let (a, b) = (&one.configuration, &other.configuration);
    let no_worse = one.pressure <= other.pressure && one.trauma <= other.trauma;
    let better = one.pressure < other.pressure || one.trauma < other.trauma;
    let same_group = a.count == b.count && a.taper == b.taper;
    let finer = same_group && b.diameter_mm < a.diameter_mm && one.pressure < other.pressure;
    a.grouping == b.grouping && (finer || no_worse && better)
}

/// The kind of group; one needle is a single, however it is labelled.
const fn kind(configuration: &Complete) -> Option<Grouping> {
    if configuration.count < 2 { None } else { Some(configuration.grouping) }
}
