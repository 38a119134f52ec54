//! The sentences that answer the five questions. Each says only what holds of
//! this candidate under this setting.

use std::borrow::Cow;

use etui_schema::vocabulary::{
    Give, Hand, Machine, Oiliness, Sensitivity, Setting, Skin, SkinSign, Thickness,
};

use super::answer::{Heard, Question};
use super::desirability::Wish;
use super::rules::{Limits, Rules, Signal, SiteWish, Want};
use super::score::{Base, Failure, Traits};

/// What the sentences are about.
pub(super) struct Circumstance<'a> {
    pub(super) rules: &'a Rules,
    pub(super) site: &'a SiteWish,
    pub(super) want: &'a Want,
    pub(super) setting: &'a Setting,
    pub(super) heard: &'a Heard,
}

impl Circumstance<'_> {
    fn limits(&self) -> &Limits {
        &self.rules.general.limits
    }

    /// The sentence for one question.
    pub(super) fn because(
        &self,
        question: Question,
        traits: &Traits,
        base: &Base<'_>,
        pressure_index: f64,
    ) -> Cow<'static, str> {
        match question {
            Question::Treatment => self.treatment(traits, base).into(),
            Question::Effect => self.effect(traits, base).into(),
            Question::Hand => self.hand(traits, pressure_index),
            Question::Machine => self.machine(traits),
            Question::Skin => self.skin(traits),
        }
    }

    fn treatment(&self, traits: &Traits, base: &Base<'_>) -> String {
        let sentence = if base.treatment < 1.0 { &self.site.strains } else { &self.site.fits };
        sentence.replace("{width}", &format!("{:.2}", traits.band_width_mm))
    }

    fn effect(&self, traits: &Traits, base: &Base<'_>) -> String {
        let diameter_mm = traits.configuration.diameter_mm;
        let mut text = base.form.because.to_string();
        let target_mm = target(self.want.diameter_mm);
        text.push(' ');
        let size = size(diameter_mm);
        if self.limits().fitting_from <= base.diameter {
            text.push_str(&format!("{size} mm is a fitting diameter for it"));
        } else if diameter_mm < target_mm {
            text.push_str(&format!("{size} mm is finer than it likes best"));
        } else {
            text.push_str(&format!("{size} mm is thicker than it likes best"));
        }
        let count = traits.configuration.count;
        if base.points < self.limits().fitting_from {
            let few = f64::from(count) < base.form.points.map_or(0.0, target);
            let word = if few { "few" } else { "many" };
            text.push_str(&format!(", and {count} needles are rather {word}"));
        }
        text.push('.');
        text
    }

    fn hand(&self, traits: &Traits, pressure_index: f64) -> Cow<'static, str> {
        let count = traits.configuration.count;
        let size = size(traits.configuration.diameter_mm);
        match self.setting.hand {
            None => "The hand is not told; nothing is held against this needle.".into(),
            Some(Hand::Medium) => "A medium hand asks for no other needle.".into(),
            Some(Hand::Heavy) if 3 <= count => format!(
                "A heavy hand: {count} points share it, and each takes {pressure_index:.2} times what \
                 a 0.30 3RL takes under a medium hand."
            )
            .into(),
            Some(Hand::Heavy) if traits.configuration.diameter_mm < self.limits().sturdy_mm => format!(
                "A heavy hand puts all its force on {} of only {size} mm; it cuts and goes deep.",
                points(count)
            )
            .into(),
            Some(Hand::Heavy) => format!(
                "A heavy hand puts all its force on {}, though a sturdier one of {size} mm.",
                points(count)
            )
            .into(),
            Some(Hand::Light) if 3 < count => format!(
                "A light hand presses {count} points less surely than a small group."
            )
            .into(),
            Some(Hand::Light) => {
                format!("A light hand guides {} without cutting.", points(count)).into()
            }
        }
    }

    fn machine(&self, traits: &Traits) -> Cow<'static, str> {
        let count = traits.configuration.count;
        let Some(machine) = self.setting.machine.as_ref().and_then(words_of_machine) else {
            return "The machine is not told; nothing is held against this needle.".into();
        };
        let n = points(count);
        if self.heard.speaks(Signal::WeakMachine) {
            return if count <= 3 {
                format!("A weak machine ({machine}) still drives {n}.").into()
            } else {
                format!(
                    "A weak machine ({machine}) drives {n} only in part; passes then repeat, and \
                     repeating is trauma."
                )
                .into()
            };
        }
        if self.heard.speaks(Signal::HardMachine) {
            return if 3 <= count {
                format!("A hard machine ({machine}): {n} share each hit.").into()
            } else {
                format!("A hard machine ({machine}) hits {n} alone; a small group would share it.")
                    .into()
            };
        }
        format!("This machine ({machine}) asks for no other group.").into()
    }

    fn skin(&self, traits: &Traits) -> Cow<'static, str> {
        let heard = self.heard;
        let (fragile, oily) = words_of_skin(self.setting, self.rules);
        let count = traits.configuration.count;
        let diameter_mm = traits.configuration.diameter_mm;
        let size = size(diameter_mm);
        let few = count < 3;
        if heard.speaks(Signal::ThinSkin) {
            let first = if diameter_mm <= self.limits().small_mm {
                format!("{size} mm keeps the holes small in skin that is {fragile}")
            } else {
                format!("{size} mm makes large holes for skin that is {fragile}")
            };
            let second = match (few, diameter_mm <= self.limits().small_mm) {
                (true, true) => format!(", but {} concentrates the force", points(count)),
                (true, false) => format!(", and {} concentrates the force", points(count)),
                (false, _) => format!("; {count} points spread the force"),
            };
            return format!("{first}{second}.").into();
        }
        if heard.speaks(Signal::FirmSkin) {
            let first = if self.limits().large_mm <= diameter_mm {
                format!("{size} mm carries pigment into skin that is {oily}")
            } else {
                format!("{size} mm carries little pigment into skin that is {oily}")
            };
            let second = if few { "; a single point is said to hold poorly there" } else { "" };
            return format!("{first}{second}.").into();
        }
        if heard.speaks(Signal::FragileSkin) && heard.speaks(Signal::OilySkin) {
            return format!(
                "The skin is {fragile} and {oily} at once; for the diameter the two cancel out."
            )
            .into();
        }
        if told(self.setting.skin.as_ref()) {
            "Nothing known of the skin asks for another needle.".into()
        } else {
            "The skin is not told; nothing is held against this needle.".into()
        }
    }

    /// Why a candidate is set aside.
    pub(super) fn set_aside(&self, failure: Failure, traits: &Traits) -> String {
        let configuration = traits.configuration;
        let (count, size) = (configuration.count, size(configuration.diameter_mm));
        let asks = &self.want.asks;
        match failure {
            Failure::HandBlade => "a hand blade is not driven by a machine".to_owned(),
            Failure::Form(form) => match self.want.refused(form) {
                Some(refused) => refused.because.to_string(),
                None => format!("a {form} is not in use for {asks}"),
            },
            Failure::Points(form) => {
                let few = self.want.form(form).and_then(|f| f.points).map_or(0.0, target);
                let word = if f64::from(count) < few { "few" } else { "many" };
                format!("{count} needles are too {word} for {asks} with a {form}")
            }
            Failure::Diameter => {
                let word = if configuration.diameter_mm < target(self.want.diameter_mm) {
                    "thin"
                } else {
                    "thick"
                };
                format!("{size} mm is too {word} for {asks}")
            }
            Failure::EffectWidth => {
                let breadth = traits.band_width_mm / traits.configuration.diameter_mm;
                let narrow = breadth < self.want.breadth.map_or(0.0, target);
                let word = if narrow { "narrow" } else { "broad" };
                format!("its track of {:.2} mm is too {word} for {asks}", traits.band_width_mm)
            }
            Failure::SiteWidth => {
                format!("its track of {:.2} mm is too broad for the place", traits.band_width_mm)
            }
            Failure::Pull(question) => {
                format!("{} leaves it no room here", question.as_str())
            }
        }
    }
}

/// The value a wish aims at.
fn target(wish: Wish) -> f64 {
    match wish {
        Wish::More { target, .. } | Wish::Less { target, .. } | Wish::Near { target, .. } => target,
    }
}

/// A diameter as the trade writes it, without the unit.
pub(super) fn size(diameter_mm: f64) -> String {
    let two = format!("{diameter_mm:.2}");
    let exact = two.parse::<f64>().is_ok_and(|x| (x - diameter_mm).abs() < 1e-9);
    if exact { two } else { format!("{diameter_mm:.3}") }
}

fn points(count: u8) -> Cow<'static, str> {
    match count {
        1 => "one point".into(),
        2 => "two points".into(),
        n => format!("{n} points").into(),
    }
}

fn words_of_machine(machine: &Machine) -> Option<String> {
    let Machine { stroke_mm, rate_hz, give } = machine;
    let mut words = Vec::new();
    if let Some(stroke_mm) = stroke_mm {
        words.push(format!("{stroke_mm:.1} mm stroke"));
    }
    if let Some(rate_hz) = rate_hz {
        words.push(format!("{rate_hz:.0} strokes a second"));
    }
    if let Some(give) = give {
        words.push(match give {
            Give::Soft => "soft give".to_owned(),
            Give::Medium => "medium give".to_owned(),
            Give::Firm => "firm give".to_owned(),
        });
    }
    (!words.is_empty()).then(|| words.join(", "))
}

/// What is fragile about a skin, and what is oily or thick about it.
fn words_of_skin(setting: &Setting, rules: &Rules) -> (String, String) {
    let (mut fragile, mut oily) = (Vec::new(), Vec::new());
    if let Some(skin) = &setting.skin {
        match skin.thickness {
            Some(Thickness::Fine) => fragile.push("fine"),
            Some(Thickness::Thick) => oily.push("thick"),
            Some(Thickness::Normal) | None => {}
        }
        match skin.oiliness {
            Some(Oiliness::Dry) => fragile.push("dry"),
            Some(Oiliness::Oily) => oily.push("oily"),
            Some(Oiliness::Combination) => oily.push("partly oily"),
            Some(Oiliness::Normal) | None => {}
        }
        if skin.sensitivity == Some(Sensitivity::High) {
            fragile.push("very sensitive");
        }
        let on_lid = setting.site.is_some_and(super::is_lid);
        if !on_lid && skin.age_years.is_some_and(|a| rules.general.skin.mature_from_years <= a) {
            fragile.push("mature");
        }
        for sign in &skin.signs {
            match sign {
                SkinSign::Flaking => fragile.push("flaking"),
                SkinSign::Cracked => fragile.push("cracked"),
                SkinSign::BruisesEasily => fragile.push("easily bruised"),
                SkinSign::Purpura => fragile.push("marked by purpura"),
                SkinSign::Pseudoscars => fragile.push("marked by pseudoscars"),
                SkinSign::TearsEasily => fragile.push("easily torn"),
                SkinSign::BrokenVessels => fragile.push("marked by broken vessels"),
                SkinSign::Lax => fragile.push("lax"),
                SkinSign::LargePores => oily.push("large-pored"),
                SkinSign::Scarred => {}
            }
        }
    }
    (fragile.join(", "), oily.join(", "))
}

/// Whether anything about the skin was told that the choice listens to.
fn told(skin: Option<&Skin>) -> bool {
    skin.is_some_and(|skin| {
        skin.thickness.is_some()
            || skin.oiliness.is_some()
            || skin.sensitivity.is_some()
            || skin.age_years.is_some()
            || !skin.signs.is_empty()
    })
}
