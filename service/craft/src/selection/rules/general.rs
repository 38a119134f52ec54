//! Weights, the usual range, how a setting is read, and the pulls.

use etui_schema::kinds::loaded;
use std::collections::BTreeMap;
use std::sync::Arc;

use etui_schema::vocabulary::{
    Effect, Give, Grouping, Oiliness, Sensitivity, SkinSign, Taper, Thickness,
};
use serde::Deserialize;

use super::{check_wish, pulls};
use crate::rules::{Origin, Parameter, RuleFault, Sourced};
use crate::selection::answer::Question;
use crate::selection::desirability::Wish;
use crate::selection::form::Form;

/// What a setting says, as far as the choice listens. Each speaks with a
/// level between 0 (silent) and 1 (loud).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    /// The hand is heavy.
    HeavyHand,
    /// The hand is light.
    LightHand,
    /// Stroke, rate and give together drive little.
    WeakMachine,
    /// Stroke, rate and give together hit hard.
    HardMachine,
    /// The give is soft or the stroke short.
    SoftMachine,
    /// The stroke is 3.5 mm or more.
    LongStroke,
    /// The stroke is above 4.0 mm.
    TattooStroke,
    /// 120 strokes a second or more.
    FastRate,
    /// A slow hand on a fast machine, for this effect.
    CrowdedHits,
    /// A fast hand on a slow machine, for this effect.
    SparseHits,
    /// On balance the skin speaks for a smaller diameter.
    ThinSkin,
    /// On balance the skin speaks for a larger diameter.
    FirmSkin,
    /// Something about the skin is fragile, whatever else it is.
    FragileSkin,
    /// Something about the skin is oily, thick or large-pored.
    OilySkin,
    /// A scar lies in the area.
    Scarred,
    /// Sixty years or older.
    Mature,
    /// Broken vessels show in the area.
    Vessels,
    /// Far more passes were told than this effect usually takes.
    ManyPasses,
    /// 60 strokes a second or fewer.
    LowRate,
}

impl Signal {
    /// How many there are.
    pub(in crate::selection) const COUNT: usize = Self::LowRate as usize + 1;
}

/// What a pull acts on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(in crate::selection) enum Property {
    /// Diameter of one needle, in mm.
    DiameterMm,
    /// Number of needles.
    Count,
    /// Place of the taper: 0 short, 1 medium, 2 long, 3 extra long; a taper
    /// that is not told is not pulled at.
    TaperStep,
}

/// One desirability that a signal adds.
#[loaded]
pub(in crate::selection) struct Pull {
    pub(in crate::selection) question: Question,
    pub(in crate::selection) signal: Signal,
    pub(in crate::selection) property: Property,
    pub(in crate::selection) wish: Wish,
    /// Exponent at the signal's full level.
    pub(in crate::selection) strength: f64,
    /// The effects it speaks to; all if empty.
    #[serde(default)]
    pub(in crate::selection) effects: Vec<Effect>,
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) agreement: Arc<str>,
}

impl Pull {
    /// Whether it speaks to an effect.
    pub(in crate::selection) fn speaks_to(&self, effect: Effect) -> bool {
        self.effects.is_empty() || self.effects.contains(&effect)
    }
}

/// Weights of the geometric means.
#[loaded]
pub(in crate::selection) struct Weights {
    pub(in crate::selection) source: Origin,
    /// Where the functions and their mean come from.
    pub(in crate::selection) mean_source: Origin,
    pub(in crate::selection) treatment: f64,
    pub(in crate::selection) effect: f64,
    pub(in crate::selection) hand: f64,
    pub(in crate::selection) machine: f64,
    pub(in crate::selection) skin: f64,
    pub(in crate::selection) form: f64,
    pub(in crate::selection) points: f64,
    pub(in crate::selection) diameter: f64,
    pub(in crate::selection) breadth: f64,
    pub(in crate::selection) taper: f64,
    /// Desirability of a taper that is not told.
    pub(in crate::selection) taper_untold: f64,
    /// Desirability by how many steps the taper is off.
    pub(in crate::selection) taper_steps: [f64; 4],
}

/// The usual range of configurations.
#[loaded]
pub(in crate::selection) struct Usual {
    pub(in crate::selection) source: Origin,
    pub(in crate::selection) diameters_mm: Vec<f64>,
    pub(in crate::selection) group: Vec<UsualGroup>,
}

/// The usual counts of one grouping.
#[loaded]
pub(in crate::selection) struct UsualGroup {
    pub(in crate::selection) grouping: Grouping,
    pub(in crate::selection) counts: Vec<u8>,
}

/// How the skin speaks for a diameter.
#[loaded(PartialEq)]
pub(in crate::selection) struct SkinReading {
    source: Origin,
    pub(in crate::selection) thickness: BTreeMap<Thickness, f64>,
    pub(in crate::selection) oiliness: BTreeMap<Oiliness, f64>,
    pub(in crate::selection) sensitivity: BTreeMap<Sensitivity, f64>,
    pub(in crate::selection) mature_from_years: u8,
    pub(in crate::selection) mature: f64,
    pub(in crate::selection) signs: BTreeMap<SkinSign, f64>,
}

/// How the machine speaks for its drive.
#[loaded(PartialEq)]
pub(in crate::selection) struct MachineReading {
    source: Origin,
    pub(in crate::selection) stroke_mm: Vec<[f64; 2]>,
    pub(in crate::selection) rate_hz: Vec<[f64; 2]>,
    pub(in crate::selection) give: BTreeMap<Give, f64>,
}

/// From where on words are used.
#[loaded(PartialEq)]
pub(in crate::selection) struct Limits {
    source: Origin,
    /// Up to this stroke a machine is soft, in mm.
    pub(in crate::selection) short_stroke_mm: f64,
    /// From this stroke on it is long, in mm.
    pub(in crate::selection) long_stroke_mm: f64,
    /// Above this stroke it is body tattooing, in mm.
    pub(in crate::selection) tattoo_stroke_mm: f64,
    /// From this rate on it is fast for soft work, per second.
    pub(in crate::selection) fast_rate_hz: f64,
    /// Up to this rate it is low and is not lowered further, per second.
    pub(in crate::selection) low_rate_hz: Sourced<f64>,
    /// A signal is put into words from this level on.
    pub(in crate::selection) speaks_from: f64,
    /// A part of the effect is called fitting from this desirability on.
    pub(in crate::selection) fitting_from: f64,
    /// From this diameter on a point is called sturdy, in mm.
    pub(in crate::selection) sturdy_mm: f64,
    /// Up to this diameter a hole is called small, in mm.
    pub(in crate::selection) small_mm: f64,
    /// From this diameter on a needle is said to carry much, in mm.
    pub(in crate::selection) large_mm: f64,
}

/// When needles of one kind stand as one.
#[loaded(PartialEq)]
pub(in crate::selection) struct Alike {
    pub(in crate::selection) source: Origin,
    /// From this share of the desirability of the best of them on.
    pub(in crate::selection) share: f64,
}

/// How much an artist's own results weigh beside the five questions.
#[loaded]
pub(in crate::selection) struct OwnResults {
    pub(in crate::selection) weight: Parameter<f64>,
}

/// From where on work is too much.
#[loaded(PartialEq)]
pub(in crate::selection) struct Overwork {
    source: Origin,
    /// So many times the most passes that an effect usually takes are too many.
    pub(in crate::selection) passes_times: f64,
}

/// `general.toml`.
#[loaded]
pub(crate) struct General {
    pub(in crate::selection) weights: Weights,
    pub(in crate::selection) usual: Usual,
    pub(in crate::selection) alike: Alike,
    pub(in crate::selection) own_results: OwnResults,
    pub(in crate::selection) skin: SkinReading,
    pub(in crate::selection) machine: MachineReading,
    pub(in crate::selection) limits: Limits,
    pub(in crate::selection) overwork: Overwork,
    pub(in crate::selection) pull: Vec<Pull>,
}

impl General {
    /// Refuses curves that fall, and pulls that could move the choice to the
    /// side that their signal does not speak for.
    pub(super) fn check(&self, file: &str) -> Result<(), RuleFault> {
        for (place, curve) in
            [("stroke_mm", &self.machine.stroke_mm), ("rate_hz", &self.machine.rate_hz)]
        {
            let rises = curve.windows(2).all(|w| w[0][0] < w[1][0] && w[0][1] <= w[1][1]);
            let why = "the points must rise, and the drive must not fall";
            let sound = rises && !curve.is_empty();
            RuleFault::unless(sound, file, format!("/machine/{place}"), why)?;
        }
        // Where a label tells one form, the usual range has to offer it.
        for grouping in Grouping::ALL.iter().filter(|g| matches!(Form::of(**g, 2), Some((_, None))))
        {
            let offered = self.usual.group.iter().any(|group| group.grouping == *grouping);
            RuleFault::unless(offered, file, "/usual/group", format!("{grouping} is missing"))?;
        }
        let is_share = 0.0 < self.alike.share && self.alike.share <= 1.0;
        RuleFault::unless(is_share, file, "/alike/share", "a share is above 0, up to 1")?;
        self.pull.iter().try_for_each(|pull| check_pull(file, pull))
    }
}

fn check_pull(file: &str, pull: &Pull) -> Result<(), RuleFault> {
    let Pull { question, signal, property, wish, strength, .. } = pull;
    check_wish(file, &format!("pull of {signal:?}"), *wish)?;
    let fault = |why: &str| Err(RuleFault::new(file, "/pull", format!("{signal:?}: {why}")));
    let is_strength = 0.0 < *strength && strength.is_finite();
    if !pulls(*question) || !is_strength {
        return fault("a pull belongs to hand, machine or skin and has a strength above 0");
    }
    let up = match wish {
        Wish::More { .. } => true,
        Wish::Less { .. } => false,
        Wish::Near { .. } => return fault("a pull must be one-sided"),
    };
    match (question, signal, property) {
        (Question::Machine, Signal::WeakMachine, Property::Count) if !up => Ok(()),
        (Question::Machine, Signal::HardMachine, Property::Count) if up => Ok(()),
        (Question::Machine, _, _) => {
            fault("the machine pulls at the count alone: a weak one down, a hard one up")
        }
        (Question::Skin, Signal::ThinSkin, Property::DiameterMm) if !up => Ok(()),
        (Question::Skin, Signal::FirmSkin, Property::DiameterMm) if up => Ok(()),
        (Question::Skin, _, Property::DiameterMm) => {
            fault("thin skin pulls the diameter down, firm skin up, nothing else at it")
        }
        _ => Ok(()),
    }
}

/// The place of a taper in the order that all makers keep.
pub(in crate::selection) const fn taper_step(taper: Taper) -> u8 {
    match taper {
        Taper::Short => 0,
        Taper::Medium => 1,
        Taper::Long => 2,
        Taper::ExtraLong => 3,
    }
}
