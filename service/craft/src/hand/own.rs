//! What an artist's own healed results say of one needle, for one kind of work.
//!
//! Like is held against like: only results of the same treatment and effect are
//! counted, so that no needle is judged by what it was used on. The share that
//! held with a needle is drawn towards that of all this work, and stands apart
//! from it only as far as its 95 % interval does: the nearer end counts, and where
//! the interval reaches over the mean, the mean. Few results hardly move anything.
//! A result on hurt skin did not hold, whatever it kept: nobody is led to press
//! deeper for colour that stays.
//!
//! Ignorance is never better than knowledge. What is not known never lifts a
//! needle: results of forgotten clients, with a needle or an effect that was not
//! told, not judged, or silent on hurt skin count as not held at the lower end.
//! At the upper end they are left out. So bad results that are forgotten may bring
//! a needle back to the mean, where one without any results stands, and never above.

use etui_schema::vocabulary::{Configuration, Effect, Treatment};

use super::{Hands, Healed, Interval, Rules, Share, Standing};
use crate::configuration::Complete;
use crate::evidence::Basis;
use crate::training::Training;

/// One healed result, with what was in the hand.
#[derive(Debug, Clone, PartialEq)]
pub struct OwnResult {
    /// The result.
    pub healed: Healed,
    /// What was used, as far as it was told; one that tells nothing where nothing was.
    pub used: Vec<Configuration>,
}

/// An artist's results, ready to be asked about a kind of work.
#[derive(Debug, Clone, Copy)]
pub struct Own<'a> {
    rules: &'a Rules,
    training: &'a Training,
    results: &'a [OwnResult],
    forgotten: u32,
}

/// Her results of one treatment and effect.
#[derive(Debug, Clone)]
pub struct OwnWork<'a> {
    own: Own<'a>,
    /// Those of the treatment that are of the effect, or may be.
    results: Vec<&'a OwnResult>,
    effect: Effect,
    all: Option<Share>,
}

/// What they say of one needle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnShare {
    /// How many there are.
    pub results: u32,
    /// How many cannot speak for the needle, for want of something that was not told;
    /// those of forgotten clients are not among them.
    pub silent: u32,
    /// The share that held, drawn towards all this work.
    pub share: f64,
    /// Its interval.
    pub interval: Interval,
    /// How it stands to all this work.
    pub standing: Standing,
    /// The share that counts.
    pub counts: f64,
}

impl Hands {
    /// An artist's results, with how many more were forgotten.
    #[must_use]
    pub fn own<'a>(
        &'a self,
        training: &'a Training,
        results: &'a [OwnResult],
        forgotten: u32,
    ) -> Own<'a> {
        Own { rules: &self.rules, training, results, forgotten }
    }
}

impl<'a> Own<'a> {
    /// What she has of one kind of work.
    #[must_use]
    pub fn work(self, treatment: Treatment, effect: Effect) -> OwnWork<'a> {
        let may_be = |one: &&OwnResult| {
            one.healed.treatment == treatment && one.healed.effect.is_none_or(|of| of == effect)
        };
        let results: Vec<&OwnResult> = self.results.iter().filter(may_be).collect();
        let known = results.iter().filter(|one| one.healed.effect.is_some());
        let all = Share::of(known.filter_map(|one| one.healed.bounds().1));
        OwnWork { own: self, results, effect, all }
    }

    /// How many results were forgotten.
    #[must_use]
    pub const fn forgotten(&self) -> u32 {
        self.forgotten
    }

    /// Below so many results of a kind of work they are not counted.
    #[must_use]
    pub const fn fewest(&self) -> u32 {
        self.rules.fewest.value
    }

    /// Where the numbers come from.
    #[must_use]
    pub fn basis(&self) -> Vec<Basis> {
        let [drawn, strength, near] = self.training.drawn_by();
        vec![
            drawn.basis("few results drawn towards all of the same work"),
            strength.basis("how strongly they are drawn"),
            near.basis("diameters that are practised as one"),
            self.rules.fewest.source.basis("the fewest results that are counted"),
            self.rules.sources.held.basis("that a part held: it kept three quarters"),
        ]
    }
}

impl OwnWork<'_> {
    /// The mean share that held of all this work; `None` if there are too few results.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        self.all.filter(|all| self.own.fewest() <= all.of).map(|all| all.mean)
    }

    /// How many results there are.
    #[must_use]
    pub fn results(&self) -> u32 {
        self.all.map_or(0, |all| all.of)
    }

    /// What they say of a needle; `None` if there are none with it, or too few in all.
    #[must_use]
    pub fn of(&self, needle: &Complete) -> Option<OwnShare> {
        let mean = self.mean()?;
        let needle = Configuration::from(*needle);
        let training = self.own.training;
        let (mut surely, mut told) = (Sum::default(), Sum::default());
        let mut silent = 0;
        for OwnResult { healed, used } in &self.results {
            let is_it = healed.effect == Some(self.effect)
                && used.iter().any(|one| training.alike(one, &needle));
            if is_it {
                let (least, most) = healed.bounds();
                surely.add(least);
                most.into_iter().for_each(|most| told.add(most));
                silent += u32::from(most.is_none_or(|most| least < most));
            } else if used.iter().any(|one| training.alike(&filled(one, &needle), &needle)) {
                surely.add(0.0);
                silent += 1;
            }
        }
        surely.of = surely.of.saturating_add(self.own.forgotten);
        (told.of != 0).then(|| OwnShare { silent, ..stand(training, mean, surely, told) })
    }
}

impl Healed {
    /// The share of its parts that held at least, and that did as far as was told; on hurt
    /// skin nothing held.
    fn bounds(&self) -> (f64, Option<f64>) {
        match (self.hurt, self.held()) {
            (Some(true), _) => (0.0, Some(0.0)),
            (Some(false), held) => (held.unwrap_or(0.0), held),
            (None, held) => (0.0, held),
        }
    }
}

/// What held of so many.
#[derive(Debug, Clone, Copy, Default)]
struct Sum {
    held: f64,
    of: u32,
}

impl Sum {
    fn add(&mut self, held: f64) {
        self.held += held;
        self.of = self.of.saturating_add(1);
    }

    fn share(self) -> f64 {
        self.held / f64::from(self.of.max(1))
    }
}

/// Holds what surely held, and what did as far as was told, against the mean.
fn stand(training: &Training, mean: f64, surely: Sum, told: Sum) -> OwnShare {
    let least = training.shrunk_share(mean, surely.share(), surely.of);
    let drawn = training.shrunk_share(mean, told.share(), told.of);
    let interval = Interval {
        low: least.interval.low.min(drawn.mean),
        high: drawn.interval.high.max(drawn.mean),
    };
    let (standing, counts) = if told.share() < mean && interval.high < mean {
        (Standing::Below, interval.high)
    } else if mean < surely.share() && mean < interval.low {
        (Standing::Above, interval.low)
    } else {
        (Standing::Alike, mean)
    };
    OwnShare { results: told.of, silent: 0, share: drawn.mean, interval, standing, counts }
}

/// What may have been used where not all of it was told.
fn filled(used: &Configuration, needle: &Configuration) -> Configuration {
    Configuration {
        diameter_mm: used.diameter_mm.or(needle.diameter_mm),
        count: used.count.or(needle.count),
        grouping: used.grouping.or(needle.grouping),
        taper: used.taper,
    }
}

#[cfg(test)]
mod tests;
