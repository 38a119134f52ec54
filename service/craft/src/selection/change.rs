//! Which single change would put another candidate first.

use etui_schema::vocabulary::{
    Give, Hand, Machine, Oiliness, Sensitivity, Setting, Skin, Thickness,
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
        for Trial { field, to, setting } in trials(self.setting) {
            let heard = hear(general, &setting, self.want.into());
            let then = self.field.best(&heard);
            if then != self.first {
                let stroke = self.voice.number(to);
                let condition = self.voice.fill(&key_of(field, to), &[("stroke", &stroke)]);
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
                let condition = self.voice.fill(&key_of("/effect", to), &[]);
                changes.push(self.change("/effect", to, &condition, then, traits));
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
    setting: Setting,
}

/// Every single change of hand, machine and skin that is tried. What is told
/// already is not tried again.
fn trials(setting: &Setting) -> Vec<Trial> {
    let mut trials = Vec::new();
    let told_hand = setting.hand.unwrap_or(Hand::Medium);
    for hand in Hand::ALL.iter().copied().filter(|hand| *hand != told_hand) {
        let setting = Setting { hand: Some(hand), ..setting.clone() };
        trials.push(Trial { field: "/setting/hand", to: hand.as_str(), setting });
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
        let setting = with(Machine { stroke_mm: Some(stroke_mm), ..machine });
        trials.push(Trial { field: "/setting/machine/stroke_mm", to, setting });
    }
    let told_give = machine.give.unwrap_or(Give::Medium);
    for give in Give::ALL.iter().copied().filter(|give| *give != told_give) {
        let setting = with(Machine { give: Some(give), ..machine });
        trials.push(Trial { field: "/setting/machine/give", to: give.as_str(), setting });
    }
}

fn skin_trials(setting: &Setting, trials: &mut Vec<Trial>) {
    let skin = setting.skin.clone().unwrap_or_default();
    let with = |skin| Setting { skin: Some(skin), ..setting.clone() };
    let told = skin.thickness.unwrap_or(Thickness::Normal);
    for thickness in Thickness::ALL.iter().copied().filter(|x| *x != told) {
        let setting = with(Skin { thickness: Some(thickness), ..skin.clone() });
        let to = thickness.as_str();
        trials.push(Trial { field: "/setting/skin/thickness", to, setting });
    }
    let told = skin.oiliness.unwrap_or(Oiliness::Normal);
    for oiliness in [Oiliness::Dry, Oiliness::Normal, Oiliness::Oily] {
        if oiliness == told {
            continue;
        }
        let setting = with(Skin { oiliness: Some(oiliness), ..skin.clone() });
        let to = oiliness.as_str();
        trials.push(Trial { field: "/setting/skin/oiliness", to, setting });
    }
    let sensitivity = match skin.sensitivity {
        Some(Sensitivity::High) => Sensitivity::Normal,
        Some(Sensitivity::Low | Sensitivity::Normal) | None => Sensitivity::High,
    };
    let setting = with(Skin { sensitivity: Some(sensitivity), ..skin.clone() });
    let to = sensitivity.as_str();
    trials.push(Trial { field: "/setting/skin/sensitivity", to, setting });
}

/// The key of a change in words, such as `if.give.soft`. One sentence says every stroke.
fn key_of(field: &str, to: &str) -> String {
    match field.rsplit('/').next().unwrap_or_default() {
        "stroke_mm" => "if.stroke".to_owned(),
        name => format!("if.{name}.{to}"),
    }
}
