//! What an artist's own healed results say about her hand.
//!
//! A result *held* if every part that was judged kept three quarters of its
//! colour. Held results are counted over all work, by treatment and effect,
//! and by configuration; each share comes with its interval, and each group is
//! held against the rest of the same artist's work, never against another
//! artist. Below a named number of results nothing is said of a share. Beside
//! it stands how often the skin was hurt.
//!
//! The only advice is where to look first; it is never more depth.

mod interval;

pub use interval::{Count, Interval};

use std::collections::BTreeSet;
use std::sync::Arc;

use etui_schema::vocabulary::aftercare::Retention;
use etui_schema::vocabulary::{Effect, Treatment};
use serde::Deserialize;

use crate::aftercare::LoadError;
use crate::aftercare::data::{Origin, Parameter, Sourced, read, require_text, settle};
use crate::evidence::{Basis, Register};
use crate::text::Catalogue;

const FILE: &str = "hand.toml";

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
    fn held(&self) -> bool {
        self.kept.iter().all(|kept| *kept == Retention::From75)
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

/// How a group stands to the rest of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It held less often.
    Below,
    /// No difference can be shown.
    Alike,
    /// It held more often.
    Above,
}

/// One group.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Which one.
    pub group: Group,
    /// Results that held.
    pub held: Count,
    /// Results on skin that was hurt, of those where it was said.
    pub hurt: Count,
    /// The interval of the share that held; `None` if there are too few.
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

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rules {
    #[expect(dead_code, reason = "the file says which revision it is; nothing depends on it yet")]
    revision: u32,
    z: Parameter<f64>,
    fewest: Parameter<u32>,
    sources: Sources,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sources {
    share: Origin,
    difference: Origin,
    held: Origin,
}

impl Sourced for Rules {
    fn origins(&mut self) -> Vec<&mut Origin> {
        let Sources { share, difference, held } = &mut self.sources;
        vec![&mut self.z.source, &mut self.fewest.source, share, difference, held]
    }
}

/// Every text a profile can say.
const KEYS: &[&str] = &["hand_too_few", "hand_alike", "hand_above", "hand_below", "hand_unlike"];
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
    /// [`LoadError`] if a value lies outside its range, or a source or text is
    /// unknown.
    pub fn builtin(register: &Register) -> Result<Self, LoadError> {
        let mut rules: Rules = read(FILE, include_str!("../../rules/hand.toml"))?;
        settle([&mut rules], register)?;
        if !rules.z.in_range() || !rules.fewest.in_range() {
            let fault = "a value lies outside `least` to `most`";
            return Err(LoadError::Row { file: FILE, key: "z, fewest".to_owned(), fault });
        }
        let texts = Catalogue::read(
            include_str!("../../rules/texts/hand.en.toml"),
            include_str!("../../rules/texts/hand.de.toml"),
        )?;
        for key in KEYS.iter().chain(CAUTIONS) {
            require_text(&texts, key)?;
        }
        Ok(Self { rules, texts })
    }

    /// The texts that the keys lead to.
    #[must_use]
    pub fn texts(&self) -> &Catalogue {
        &self.texts
    }

    /// Counts healed results. The order of the results does not matter.
    #[must_use]
    pub fn profile(&self, results: &[Healed]) -> Profile {
        let mut groups = BTreeSet::from([Group::All]);
        for healed in results {
            groups.insert(Group::Effect(healed.treatment, healed.effect));
            groups.extend(healed.configurations.iter().cloned().map(Group::Configuration));
        }
        let Sources { share, difference, held } = &self.rules.sources;
        Profile {
            rows: groups.into_iter().map(|group| self.row(group, results)).collect(),
            fewest: self.rules.fewest.value,
            cautions: CAUTIONS,
            basis: vec![
                share.basis("the interval of a share"),
                difference.basis("the interval of a difference"),
                self.rules.z.source.basis("95 % on both sides"),
                self.rules.fewest.source.basis("the fewest results of which a share is given"),
                held.basis("that a result held: every judged part kept three quarters"),
            ],
        }
    }

    fn row(&self, group: Group, results: &[Healed]) -> Row {
        let (z, fewest) = (self.rules.z.value, self.rules.fewest.value);
        let (mine, rest): (Vec<&Healed>, Vec<&Healed>) =
            results.iter().partition(|healed| group.has(healed));
        let held = Count::of(mine.iter().map(|healed| healed.held()));
        let others = Count::of(rest.iter().map(|healed| healed.held()));
        let enough = fewest <= held.of;
        let comparable = enough && fewest <= others.of;
        let apart = if comparable { held.less(others, z) } else { None };
        let apart = apart.map(|interval| (standing(interval), interval));
        let says = match apart {
            _ if !enough => "hand_too_few",
            None => "hand_unlike",
            Some((Standing::Below, _)) => "hand_below",
            Some((Standing::Alike, _)) => "hand_alike",
            Some((Standing::Above, _)) => "hand_above",
        };
        Row {
            group,
            held,
            hurt: Count::of(mine.iter().filter_map(|healed| healed.hurt)),
            interval: if enough { held.interval(z) } else { None },
            apart,
            says,
        }
    }
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
mod tests {
    use etui_schema::vocabulary::Language;

    use super::*;

    fn hands() -> Hands {
        Hands::builtin(&Register::builtin().unwrap()).unwrap()
    }

    fn results(configuration: &str, held: usize, lost: usize) -> Vec<Healed> {
        let one = |kept| Healed {
            treatment: Treatment::Brows,
            effect: Some(Effect::SoftShading),
            configurations: vec![configuration.into()],
            kept: vec![Retention::From75, kept],
            hurt: Some(kept != Retention::From75),
        };
        let mut all = vec![one(Retention::From75); held];
        all.extend(vec![one(Retention::From50To75); lost]);
        all
    }

    fn row<'a>(profile: &'a Profile, name: &str) -> &'a Row {
        let wanted = Group::Configuration(name.into());
        profile.rows.iter().find(|row| row.group == wanted).unwrap()
    }

    #[test]
    fn a_group_that_held_less_often_stands_apart() {
        // 48 of 80 against 56 of 70: Newcombe 1998, table II, contrast (a)
        let mut all = results("0.30 3RS", 48, 32);
        all.extend(results("0.20 1RL", 56, 14));
        let profile = hands().profile(&all);
        let (below, above) = (row(&profile, "0.30 3RS"), row(&profile, "0.20 1RL"));
        assert_eq!((below.says, above.says), ("hand_below", "hand_above"));
        let (_, interval) = above.apart.unwrap();
        assert!((interval.low - 0.0524).abs() < 0.000_06, "{interval:?}");
        assert_eq!(below.held, Count { hits: 48, of: 80 });
        assert_eq!(below.hurt, Count { hits: 32, of: 80 });
        assert_eq!(profile.rows[0].group, Group::All);
        assert_eq!(profile.rows[0].says, "hand_unlike", "all work has no rest");
    }

    #[test]
    fn too_few_results_say_nothing_however_clear_they_look() {
        let hands = hands();
        let fewest = usize::try_from(hands.rules.fewest.value).unwrap();
        let mut all = results("0.30 3RS", 0, fewest - 1);
        all.extend(results("0.20 1RL", 50, 0));
        let profile = hands.profile(&all);
        let few = row(&profile, "0.30 3RS");
        assert_eq!((few.says, few.interval, few.apart), ("hand_too_few", None, None));
        all.extend(results("0.30 3RS", 0, 1));
        assert_eq!(row(&hands.profile(&all), "0.30 3RS").says, "hand_below");
        assert_eq!(hands.profile(&[]).rows.len(), 1);
    }

    #[test]
    fn no_text_answers_poor_hold_with_depth_or_pressure() {
        let hands = hands();
        for key in hands.texts().keys() {
            for (language, harder) in
                [(Language::En, ["deeper", "harder"]), (Language::De, ["tiefer", "fester"])]
            {
                let text = hands.texts().get(language, key);
                assert!(!harder.iter().any(|word| text.contains(word)), "{key}: {text}");
            }
        }
    }

    #[test]
    fn the_order_of_the_results_does_not_matter() {
        let mut all = results("0.30 3RS", 12, 7);
        all.extend(results("0.20 1RL", 15, 2));
        let forth = hands().profile(&all);
        all.reverse();
        assert_eq!(forth, hands().profile(&all));
    }
}
