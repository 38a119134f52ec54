//! What an artist's own healed results say about her hand.
//!
//! A part *held* if it kept three quarters of its colour. A result counts by the
//! share of its judged parts that held, so that who judges four parts and who
//! judges the whole are counted alike. The shares are averaged over all work, by
//! treatment and effect, and by configuration; each mean comes with its interval,
//! and each group is held against the rest of the same artist's work, never
//! against another artist. Several groups are compared at once, so each
//! comparison is made at the level that all of them together have (Bonferroni);
//! groups of the same results are compared once. Below a named number of results
//! nothing is said of a share. Beside it stands how often the skin was hurt.
//!
//! The only advice is where to look first; it is never more depth.

mod interval;
mod own;
pub use interval::{Count, Interval, Share};
pub use own::{Own, OwnResult, OwnShare, OwnWork};

use etui_schema::kinds::loaded;
use std::collections::BTreeSet;
use std::sync::Arc;

pub use etui_schema::hand_profiles::Standing;
use etui_schema::vocabulary::aftercare::Retention;
use etui_schema::vocabulary::{Effect, Language, Treatment};

use crate::evidence::{Basis, Register};
use crate::rules::{self, Origin, Parameter, RuleFault, rule_file};
use crate::text::{Catalogue, texts};

/// One healed result.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Healed {
    /// What was treated.
    pub treatment: Treatment,
    /// What it should look like.
    pub effect: Option<Effect>,
    /// Canonical texts of what was used.
    pub configurations: Vec<Arc<str>>,
    /// What each judged part kept.
    pub kept: Vec<Retention>,
    /// Whether the skin was hurt, if anybody said.
    pub hurt: Option<bool>,
}

impl Healed {
    fn parts(&self) -> impl Iterator<Item = bool> {
        self.kept.iter().map(|kept| *kept == Retention::From75)
    }

    /// Its share of judged parts that held; `None` if none was judged.
    fn held(&self) -> Option<f64> {
        Count::of(self.parts()).share().map(|share| share.mean)
    }
}

/// What the members of a group have in common.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// All work.
    All,
    /// A treatment and, if it was said, its effect.
    Effect(Treatment, Option<Effect>),
    /// A configuration, by its canonical text.
    Configuration(Arc<str>),
}

impl Group {
    fn has(&self, healed: &Healed) -> bool {
        match self {
            Self::All => true,
            Self::Effect(treatment, effect) => {
                healed.treatment == *treatment && healed.effect == *effect
            }
            Self::Configuration(name) => healed.configurations.contains(name),
        }
    }
}

/// One group.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Which one.
    pub group: Group,
    /// Judged parts that held.
    pub held: Count,
    /// How many results there are.
    pub results: u32,
    /// The mean share of a result that held; `None` without results.
    pub share: Option<Share>,
    /// Results on skin that was hurt, of those where it was said.
    pub hurt: Count,
    /// The interval of that share; `None` if there are too few results.
    pub interval: Option<Interval>,
    /// That share less the rest's, with its interval; `None` if there are too
    /// few here or in the rest.
    pub apart: Option<(Standing, Interval)>,
    /// Key of what is said of it.
    pub says: &'static str,
}

/// What the results say.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// All work, then treatments with effects, then configurations.
    pub rows: Vec<Row>,
    /// Below so many results nothing is said of a share.
    pub fewest: u32,
    /// Keys of what to bear in mind.
    pub cautions: &'static [&'static str],
    /// Where the numbers come from.
    pub basis: Vec<Basis>,
}

#[loaded]
pub(crate) struct Rules {
    z: Parameter<f64>,
    fewest: Parameter<u32>,
    most_lost: Parameter<f64>,
    sources: Sources,
}

#[loaded]
struct Sources {
    share: Origin,
    difference: Origin,
    held: Origin,
    at_once: Origin,
}

/// What is said beside every profile.
const CAUTIONS: &[&str] = &["hand_caution_chance", "hand_caution_choice", "hand_caution_mixed"];

/// The rules of the hand profile.
#[derive(Debug, Clone)]
pub struct Hands {
    rules: Rules,
    texts: Catalogue,
}

impl Hands {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a value lies outside its range, or a source or text is
    /// unknown.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let rules = rules::load(register, rule_file!("hand.toml"))?;
        let texts = texts!("hand", CAUTIONS)?;
        Ok(Self { rules, texts })
    }

    /// The texts that the keys lead to.
    #[must_use]
    pub fn texts(&self) -> &Catalogue {
        &self.texts
    }

    /// Whether a result as a whole held: enough of its parts did, and the skin was not hurt.
    /// `None` where nothing speaks either way.
    #[must_use]
    pub fn did_hold(&self, healed: &Healed) -> Option<bool> {
        if healed.hurt == Some(true) {
            return Some(false);
        }
        healed.held().map(|share| 1.0 - share <= self.rules.most_lost.value)
    }

    /// Counts healed results. The order of the results does not matter.
    #[must_use]
    pub fn profile(&self, results: &[Healed]) -> Profile {
        let mut groups = BTreeSet::from([Group::All]);
        for healed in results {
            groups.insert(Group::Effect(healed.treatment, healed.effect));
            groups.extend(healed.configurations.iter().cloned().map(Group::Configuration));
        }
        let mut members: BTreeSet<Vec<usize>> = BTreeSet::new();
        let mut rows: Vec<(Row, Option<Share>)> = Vec::with_capacity(groups.len());
        for group in groups {
            let mine: Vec<usize> =
                (0..results.len()).filter(|at| group.has(&results[*at])).collect();
            let is_new = members.insert(mine);
            rows.push(self.row(group, results, is_new));
        }
        let compared = rows.iter().filter(|(_, rest)| rest.is_some()).count();
        let z =
            interval::shared_out(self.rules.z.value, u32::try_from(compared).unwrap_or(u32::MAX));
        let rows = rows.into_iter().map(|(row, rest)| compare(row, rest, z)).collect();
        let Sources { share, difference, held, at_once } = &self.rules.sources;
        Profile {
            rows,
            fewest: self.rules.fewest.value,
            cautions: CAUTIONS,
            basis: vec![
                share.basis("the interval of a share"),
                difference.basis("the interval of a difference"),
                at_once.basis("that several comparisons share one chance of error"),
                self.rules.z.source.basis("95 % on both sides"),
                self.rules.fewest.source.basis("the fewest results of which a share is given"),
                held.basis("that a part held: it kept three quarters"),
            ],
        }
    }

    /// What is said of a row: its share in round numbers, how it stands, how often
    /// the skin was hurt.
    #[must_use]
    pub fn say(&self, language: Language, row: &Row) -> String {
        let results = row.results.to_string();
        let fewest = self.rules.fewest.value.to_string();
        let of_100 = |share: f64| format!("{:.0}", share * 100.0);
        let mut values = vec![("results", results), ("fewest", fewest)];
        let mut keys = Vec::with_capacity(3);
        if let (Some(share), Some(at)) = (row.share, row.interval) {
            keys.push("hand_share");
            values.push(("share", of_100(share.mean)));
            values.extend([("low", of_100(at.low)), ("high", of_100(at.high))]);
        }
        keys.push(row.says);
        if row.hurt.hits != 0 {
            keys.push("hand_hurt");
            values.push(("hurt", row.hurt.hits.to_string()));
            values.push(("told", row.hurt.of.to_string()));
        }
        let values: Vec<(&str, &str)> = values.iter().map(|(k, v)| (*k, v.as_str())).collect();
        let said: Vec<String> =
            keys.iter().map(|key| self.texts.fill(language, key, &values)).collect();
        said.join(" ")
    }

    /// A row without its comparison, and the share of the rest if the two may be
    /// compared.
    fn row(&self, group: Group, results: &[Healed], is_new: bool) -> (Row, Option<Share>) {
        let (z, fewest) = (self.rules.z.value, self.rules.fewest.value);
        let (mine, rest): (Vec<&Healed>, Vec<&Healed>) =
            results.iter().partition(|healed| group.has(healed));
        let share = |all: &[&Healed]| Share::of(all.iter().filter_map(|healed| healed.held()));
        let enough = |share: &Share| fewest <= share.of;
        let (own, others) = (share(&mine), share(&rest));
        let told = own.filter(enough);
        let says = match (&group, told) {
            (_, None) => "hand_too_few",
            (Group::All, Some(_)) => "hand_all",
            (_, Some(_)) if !is_new => "hand_same",
            (_, Some(_)) => "hand_unlike",
        };
        let row = Row {
            held: Count::of(mine.iter().flat_map(|healed| healed.parts())),
            results: own.map_or(0, |own| own.of),
            share: own,
            hurt: Count::of(mine.iter().filter_map(|healed| healed.hurt)),
            interval: told.map(|own| own.interval(z)),
            apart: None,
            says,
            group,
        };
        let others = others.filter(enough).filter(|_| row.says == "hand_unlike");
        (row, others)
    }
}

/// Holds a row against the rest of the work.
fn compare(mut row: Row, rest: Option<Share>, z: f64) -> Row {
    let (Some(own), Some(rest)) = (row.share, rest) else { return row };
    let interval = own.less(rest, z);
    let standing = standing(interval);
    row.says = match standing {
        Standing::Below => "hand_below",
        Standing::Alike => "hand_alike",
        Standing::Above => "hand_above",
    };
    row.apart = Some((standing, interval));
    row
}

/// A difference whose interval leaves zero out is one.
fn standing(interval: Interval) -> Standing {
    if interval.high < 0.0 {
        Standing::Below
    } else if 0.0 < interval.low {
        Standing::Above
    } else {
        Standing::Alike
    }
}

#[cfg(test)]
mod tests;
