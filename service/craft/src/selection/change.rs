//! Which single change would put another candidate first.

use std::borrow::Cow;

use etui_schema::vocabulary::{
    Effect, Give, Hand, Machine, Oiliness, Sensitivity, Setting, Skin, Thickness,
};

use super::answer::NeedleChange;
use super::hearing::hear;
use super::rules::{Rules, TreatmentRules, Want};
use super::score::{Field, Traits};

/// The strokes that are tried, in mm: the soft one and the long one of the
/// trade's usual range.
const STROKES_MM: [(f64, &str); 2] = [(2.5, "2.5"), (3.5, "3.5")];

/// What a change is tried on.
pub(super) struct Present<'r, 'a> {
    pub(super) rules: &'r Rules,
    pub(super) treatment: &'r TreatmentRules,
    pub(super) want: &'r Want,
    pub(super) field: &'a Field<'r>,
    pub(super) setting: &'a Setting,
    pub(super) first: Option<usize>,
}

impl<'r> Present<'r, '_> {
    /// Tries every single change; keeps those that put another candidate first.
    pub(super) fn changes(&self, traits: &'r [Traits], pull_lns: &'r [f64]) -> Vec<NeedleChange> {
        let mut changes = Vec::new();
        for trial in trials(self.setting) {
            let heard = hear(&self.rules.general, &trial.setting, self.want.into());
            let then = self.field.best(&heard);
            if then != self.first {
                changes.push(change(trial.field, trial.to.into(), trial.words, then, traits));
            }
        }
        for want in self.treatment.want.iter().filter(|want| want.effect != self.want.effect) {
            let general = &self.rules.general;
            let field = Field::new(general, self.treatment, want, traits, pull_lns);
            let then = field.best(&hear(general, self.setting, want.into()));
            if then != self.first {
                let to = want.effect.as_str();
                let words = format!("for {}", words_of_effect(want.effect));
                changes.push(change("/effect", to.into(), &words, then, traits));
            }
        }
        changes
    }
}

fn change(
    field: &'static str,
    to: Cow<'static, str>,
    words: &str,
    then: Option<usize>,
    traits: &[Traits],
) -> NeedleChange {
    let then_first = then.and_then(|i| traits.get(i)).map(|t| t.configuration);
    let because = match then_first {
        Some(first) => format!("{} would come first {words}", first.canonical()),
        None => format!("nothing here would be suitable {words}"),
    };
    NeedleChange {
        change: field.into(),
        to,
        then_first: then_first.map(|first| first.canonical()),
        configuration: then_first.map(Into::into),
        because,
    }
}

struct Trial {
    field: &'static str,
    to: &'static str,
    words: &'static str,
    setting: Setting,
}

/// Every single change of hand, machine and skin that is tried. What is told
/// already is not tried again.
fn trials(setting: &Setting) -> Vec<Trial> {
    let mut trials = Vec::new();
    let told_hand = setting.hand.unwrap_or(Hand::Medium);
    for hand in Hand::ALL.iter().copied().filter(|hand| *hand != told_hand) {
        let words = match hand {
            Hand::Light => "with a light hand",
            Hand::Medium => "with a medium hand",
            Hand::Heavy => "with a heavy hand",
        };
        let setting = Setting { hand: Some(hand), ..setting.clone() };
        trials.push(Trial { field: "/setting/hand", to: hand.as_str(), words, setting });
    }
    machine_trials(setting, &mut trials);
    skin_trials(setting, &mut trials);
    trials
}

fn machine_trials(setting: &Setting, trials: &mut Vec<Trial>) {
    let machine = setting.machine.unwrap_or(Machine { stroke_mm: None, rate_hz: None, give: None });
    let with = |machine| Setting { machine: Some(machine), ..setting.clone() };
    for (stroke_mm, to) in STROKES_MM {
        if machine.stroke_mm.is_some_and(|told| (told - stroke_mm).abs() < 0.05) {
            continue;
        }
        let words = if to == "2.5" { "with a stroke of 2.5 mm" } else { "with a stroke of 3.5 mm" };
        let setting = with(Machine { stroke_mm: Some(stroke_mm), ..machine });
        trials.push(Trial { field: "/setting/machine/stroke_mm", to, words, setting });
    }
    let told_give = machine.give.unwrap_or(Give::Medium);
    for give in Give::ALL.iter().copied().filter(|give| *give != told_give) {
        let words = match give {
            Give::Soft => "on a machine of soft give",
            Give::Medium => "on a machine of medium give",
            Give::Firm => "on a machine of firm give",
        };
        let setting = with(Machine { give: Some(give), ..machine });
        trials.push(Trial { field: "/setting/machine/give", to: give.as_str(), words, setting });
    }
}

fn skin_trials(setting: &Setting, trials: &mut Vec<Trial>) {
    let skin = setting.skin.clone().unwrap_or_default();
    let with = |skin| Setting { skin: Some(skin), ..setting.clone() };
    let told = skin.thickness.unwrap_or(Thickness::Normal);
    for thickness in Thickness::ALL.iter().copied().filter(|x| *x != told) {
        let words = match thickness {
            Thickness::Fine => "on fine skin",
            Thickness::Normal => "on skin of normal thickness",
            Thickness::Thick => "on thick skin",
        };
        let setting = with(Skin { thickness: Some(thickness), ..skin.clone() });
        let to = thickness.as_str();
        trials.push(Trial { field: "/setting/skin/thickness", to, words, setting });
    }
    let told = skin.oiliness.unwrap_or(Oiliness::Normal);
    for oiliness in [Oiliness::Dry, Oiliness::Normal, Oiliness::Oily] {
        if oiliness == told {
            continue;
        }
        let words = match oiliness {
            Oiliness::Dry => "on dry skin",
            Oiliness::Oily => "on oily skin",
            Oiliness::Normal | Oiliness::Combination => "on skin that is neither dry nor oily",
        };
        let setting = with(Skin { oiliness: Some(oiliness), ..skin.clone() });
        let to = oiliness.as_str();
        trials.push(Trial { field: "/setting/skin/oiliness", to, words, setting });
    }
    let (sensitivity, words) = match skin.sensitivity {
        Some(Sensitivity::High) => (Sensitivity::Normal, "on skin of normal sensitivity"),
        Some(Sensitivity::Low | Sensitivity::Normal) | None => {
            (Sensitivity::High, "on very sensitive skin")
        }
    };
    let setting = with(Skin { sensitivity: Some(sensitivity), ..skin.clone() });
    let to = sensitivity.as_str();
    trials.push(Trial { field: "/setting/skin/sensitivity", to, words, setting });
}

const fn words_of_effect(effect: Effect) -> &'static str {
    match effect {
        Effect::HairStrokes => "hair strokes",
        Effect::Pixelated => "a pixelated effect",
        Effect::SoftShading => "soft shading",
        Effect::DenseFill => "a dense fill",
        Effect::FineLine => "a fine line",
        Effect::BoldLine => "a bold line",
        Effect::ScalpDots => "scalp dots",
        Effect::AreolaShading => "areola shading",
    }
}
