//! Which single change would put another candidate first.

use etui_schema::vocabulary::{
    Effect, Give, Hand, Machine, Oiliness, Sensitivity, Setting, Skin, Thickness,
};

use super::answer::NeedleChange;
use super::hearing::hear;
use super::own::Asked;
use super::rules::{Rules, TreatmentRules, Want};
use super::score::{Field, Traits};
use crate::text::Voice;

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
    pub(super) voice: Voice<'a>,
    pub(super) own: Option<Asked<'a>>,
}

impl<'r> Present<'r, '_> {
    /// Tries every single change; keeps those that put another candidate first.
    pub(super) fn changes(&self, traits: &'r [Traits], pull_lns: &'r [f64]) -> Vec<NeedleChange> {
        let mut changes = Vec::new();
        let general = &self.rules.general;
        for Trial { field, to, key, setting } in trials(self.setting) {
            let heard = hear(general, &setting, self.want.into());
            let then = self.field.best(&heard);
            if then != self.first {
                let stroke = self.voice.number(to);
                let condition = self.voice.fill(key, &[("stroke", &stroke)]);
                changes.push(self.change(field, to, &condition, then, traits));
            }
        }
        for want in self.treatment.want.iter().filter(|want| want.effect != self.want.effect) {
            let known =
                self.own.map(|own| own.of(self.treatment.site.treatment, want.effect, traits));
            let field = Field::new(general, self.treatment, want, traits, pull_lns)
                .knowing(known.and_then(|known| known.weighed()));
            let then = field.best(&hear(general, self.setting, want.into()));
            if then != self.first {
                let to = want.effect.as_str();
                let condition = self.voice.get(key_of_effect(want.effect));
                changes.push(self.change("/effect", to, condition, then, traits));
            }
        }
        changes
    }

    fn change(
        &self,
        field: &'static str,
        to: &'static str,
        condition: &str,
        then: Option<usize>,
        traits: &[Traits],
    ) -> NeedleChange {
        let then_first = then.and_then(|i| traits.get(i)).map(|t| t.configuration);
        let canonical = then_first.map(|first| first.canonical());
        let because = match &canonical {
            Some(first) => {
                self.voice.fill("change.first", &[("canonical", first), ("if", condition)])
            }
            None => self.voice.fill("change.none", &[("if", condition)]),
        };
        NeedleChange {
            change: field.into(),
            to: to.into(),
            then_first: canonical,
            configuration: then_first.map(Into::into),
            because,
        }
    }
}

struct Trial {
    field: &'static str,
    to: &'static str,
    /// Key of the change in words.
    key: &'static str,
    setting: Setting,
}

/// Every single change of hand, machine and skin that is tried. What is told
/// already is not tried again.
fn trials(setting: &Setting) -> Vec<Trial> {
    let mut trials = Vec::new();
    let told_hand = setting.hand.unwrap_or(Hand::Medium);
    for hand in Hand::ALL.iter().copied().filter(|hand| *hand != told_hand) {
        let key = match hand {
            Hand::Light => "if.hand.light",
            Hand::Medium => "if.hand.medium",
            Hand::Heavy => "if.hand.heavy",
        };
        let setting = Setting { hand: Some(hand), ..setting.clone() };
        trials.push(Trial { field: "/setting/hand", to: hand.as_str(), key, setting });
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
        let key = "if.stroke";
        let setting = with(Machine { stroke_mm: Some(stroke_mm), ..machine });
        trials.push(Trial { field: "/setting/machine/stroke_mm", to, key, setting });
    }
    let told_give = machine.give.unwrap_or(Give::Medium);
    for give in Give::ALL.iter().copied().filter(|give| *give != told_give) {
        let key = match give {
            Give::Soft => "if.give.soft",
            Give::Medium => "if.give.medium",
            Give::Firm => "if.give.firm",
        };
        let setting = with(Machine { give: Some(give), ..machine });
        trials.push(Trial { field: "/setting/machine/give", to: give.as_str(), key, setting });
    }
}

fn skin_trials(setting: &Setting, trials: &mut Vec<Trial>) {
    let skin = setting.skin.clone().unwrap_or_default();
    let with = |skin| Setting { skin: Some(skin), ..setting.clone() };
    let told = skin.thickness.unwrap_or(Thickness::Normal);
    for thickness in Thickness::ALL.iter().copied().filter(|x| *x != told) {
        let key = match thickness {
            Thickness::Fine => "if.thickness.fine",
            Thickness::Normal => "if.thickness.normal",
            Thickness::Thick => "if.thickness.thick",
        };
        let setting = with(Skin { thickness: Some(thickness), ..skin.clone() });
        let to = thickness.as_str();
        trials.push(Trial { field: "/setting/skin/thickness", to, key, setting });
    }
    let told = skin.oiliness.unwrap_or(Oiliness::Normal);
    for oiliness in [Oiliness::Dry, Oiliness::Normal, Oiliness::Oily] {
        if oiliness == told {
            continue;
        }
        let key = match oiliness {
            Oiliness::Dry => "if.oiliness.dry",
            Oiliness::Oily => "if.oiliness.oily",
            Oiliness::Normal | Oiliness::Combination => "if.oiliness.normal",
        };
        let setting = with(Skin { oiliness: Some(oiliness), ..skin.clone() });
        let to = oiliness.as_str();
        trials.push(Trial { field: "/setting/skin/oiliness", to, key, setting });
    }
    let (sensitivity, key) = match skin.sensitivity {
        Some(Sensitivity::High) => (Sensitivity::Normal, "if.sensitivity.normal"),
        Some(Sensitivity::Low | Sensitivity::Normal) | None => {
            (Sensitivity::High, "if.sensitivity.high")
        }
    };
    let setting = with(Skin { sensitivity: Some(sensitivity), ..skin.clone() });
    let to = sensitivity.as_str();
    trials.push(Trial { field: "/setting/skin/sensitivity", to, key, setting });
}

const fn key_of_effect(effect: Effect) -> &'static str {
    match effect {
        Effect::HairStrokes => "if.effect.hair_strokes",
        Effect::Pixelated => "if.effect.pixelated",
        Effect::SoftShading => "if.effect.soft_shading",
        Effect::DenseFill => "if.effect.dense_fill",
        Effect::FineLine => "if.effect.fine_line",
        Effect::BoldLine => "if.effect.bold_line",
        Effect::ScalpDots => "if.effect.scalp_dots",
        Effect::AreolaShading => "if.effect.areola_shading",
    }
}
