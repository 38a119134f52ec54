//! The sentences that answer the five questions. Each says only what holds of
//! this candidate under this setting; the words stand in
//! `rules/texts/selection.*.toml`.

use etui_schema::vocabulary::{
    Give, Hand, Machine, Oiliness, Sensitivity, Setting, Skin, SkinSign, Thickness, two_decimals,
};

use super::answer::{Heard, Question};
use super::desirability::Wish;
use super::rules::{Limits, Rules, Signal, SiteWish, Want};
use super::score::{Base, Failure, Traits};
use crate::text::{self, Voice};

/// What the sentences are about.
pub(super) struct Circumstance<'a> {
    pub(super) voice: Voice<'a>,
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
    pub(super) fn because(&self, question: Question, traits: &Traits, base: &Base<'_>) -> String {
        match question {
            Question::Treatment => self.treatment(traits, base),
            Question::Effect => self.effect(traits, base),
            Question::Hand => self.hand(traits),
            Question::Machine => self.machine(traits),
            Question::Skin => self.skin(traits),
        }
    }

    /// A sentence about a candidate: `{n}` is its count, `{size}` its diameter.
    fn says(&self, key: &str, traits: &Traits) -> String {
        let count = traits.configuration.count.to_string();
        let size = size(self.voice, traits.configuration.diameter_mm);
        self.voice.fill(key, &[("n", &count), ("size", &size)])
    }

    fn treatment(&self, traits: &Traits, base: &Base<'_>) -> String {
        let key = if base.treatment < 1.0 { &self.site.strains } else { &self.site.fits };
        self.voice.fill(key, &[("width", &width(self.voice, traits))])
    }

    fn effect(&self, traits: &Traits, base: &Base<'_>) -> String {
        let fits = self.limits().fitting_from;
        let is_thick =
            self.heard.speaks(Signal::ThinSkin) && self.is_warned_of(Signal::ThinSkin, traits);
        let key = if fits <= base.diameter && is_thick {
            "size.fits_not_skin"
        } else if fits <= base.diameter {
            "size.fits"
        } else if traits.configuration.diameter_mm < target(self.want.diameter_mm) {
            "size.fine"
        } else {
            "size.thick"
        };
        let size = self.says(key, traits);
        let mut text = format!("{} {size}", self.voice.get(&base.form.because));
        if base.points < fits {
            let wanted = base.form.points.map_or(0.0, target);
            let few = f64::from(traits.configuration.count) < wanted;
            text.push(' ');
            text.push_str(&self.says(if few { "count.few" } else { "count.many" }, traits));
        }
        text
    }

    fn hand(&self, traits: &Traits) -> String {
        let count = traits.configuration.count;
        let fine = traits.configuration.diameter_mm < self.limits().sturdy_mm;
        let key = match self.setting.hand {
            None => "hand.untold",
            Some(Hand::Medium) => "hand.medium",
            Some(Hand::Heavy) if count == 3 && self.is_warned_of(Signal::HeavyHand, traits) => {
                "hand.heavy.few"
            }
            Some(Hand::Heavy) if 3 <= count => "hand.heavy.group",
            Some(Hand::Heavy) if fine => "hand.heavy.fine",
            Some(Hand::Heavy) => "hand.heavy.sturdy",
            Some(Hand::Light) if 3 < count => "hand.light.many",
            // Where few points can cut, a light hand is no promise that they do not.
            Some(Hand::Light) if self.heard.speaks(Signal::FragileSkin) => "hand.light.fragile",
            Some(Hand::Light) => "hand.light.few",
        };
        self.says(key, traits)
    }

    fn machine(&self, traits: &Traits) -> String {
        let count = traits.configuration.count;
        let told = self.setting.machine.as_ref();
        let Some(machine) = told.and_then(|told| words_of_machine(self.voice, told)) else {
            return self.voice.get("machine.untold").to_owned();
        };
        let key = if self.heard.speaks(Signal::WeakMachine) {
            match count {
                ..=3 if self.is_warned_of(Signal::WeakMachine, traits) => "machine.weak.part",
                ..=3 => "machine.weak.few",
                4.. => "machine.weak.many",
            }
        } else if self.heard.speaks(Signal::HardMachine) {
            if count < 3 { "machine.hard.few" } else { "machine.hard.many" }
        } else {
            "machine.other"
        };
        self.voice.fill(key, &[("n", &count.to_string()), ("machine", &machine)])
    }

    /// Whether a note warns of this candidate for a signal: then nothing else is
    /// said in its favour.
    fn is_warned_of(&self, signal: Signal, traits: &Traits) -> bool {
        self.rules.notes.iter().map(|note| &note.when).any(|when| {
            when.signals.contains(&signal) && when.is_of_candidates() && when.admits(traits)
        })
    }

    fn skin(&self, traits: &Traits) -> String {
        let heard = |signal| self.heard.speaks(signal);
        let [fragile, oily] = words_of_skin(self.voice, self.setting, self.rules);
        let diameter_mm = traits.configuration.diameter_mm;
        let count = traits.configuration.count;
        let few = count < 3;
        // Three points that are few for a heavy hand spread its force nowhere.
        let is_hard = heard(Signal::HeavyHand) && self.is_warned_of(Signal::HeavyHand, traits);
        let key = if heard(Signal::ThinSkin) {
            match (diameter_mm <= self.limits().small_mm, few || count == 3 && is_hard) {
                (true, true) => "skin.thin.small.few",
                (true, false) => "skin.thin.small.group",
                (false, true) => "skin.thin.large.few",
                (false, false) => "skin.thin.large.group",
            }
        } else if heard(Signal::FirmSkin) {
            match (self.limits().large_mm <= diameter_mm, few) {
                (true, true) => "skin.firm.large.few",
                (true, false) => "skin.firm.large.group",
                (false, true) => "skin.firm.small.few",
                (false, false) => "skin.firm.small.group",
            }
        } else if heard(Signal::FragileSkin) && heard(Signal::OilySkin) {
            "skin.both"
        } else if heard(Signal::Scarred) {
            "skin.scarred"
        } else if told(self.setting.skin.as_ref()) {
            "skin.other"
        } else {
            "skin.untold"
        };
        let values = [
            ("n", &*count.to_string()),
            ("size", &size(self.voice, diameter_mm)),
            ("fragile", &fragile),
            ("oily", &oily),
        ];
        self.voice.fill(key, &values)
    }

    /// Why a candidate is set aside.
    pub(super) fn set_aside(&self, failure: Failure, traits: &Traits) -> String {
        let voice = self.voice;
        let configuration = traits.configuration;
        let (mut form, mut form_in) = (String::new(), String::new());
        let mut named = |key: &str| {
            form = voice.get(&format!("form.{key}.a")).to_owned();
            form_in = voice.get(&format!("form.{key}.in")).to_owned();
        };
        let key = match failure {
            Failure::HandBlade => "aside.hand_blade",
            Failure::Form(form) => {
                named(form.as_str());
                self.want.refused(form).map_or("aside.form", |refused| &refused.because)
            }
            Failure::Points(form) => {
                named(form.as_str());
                let wanted = self.want.form(form).and_then(|f| f.points).map_or(0.0, target);
                let few = f64::from(configuration.count) < wanted;
                if few { "aside.few" } else { "aside.many" }
            }
            Failure::Diameter if configuration.diameter_mm < target(self.want.diameter_mm) => {
                "aside.thin"
            }
            Failure::Diameter => "aside.thick",
            Failure::EffectWidth => {
                let breadth = traits.band_width_mm / configuration.diameter_mm;
                let narrow = breadth < self.want.breadth.map_or(0.0, target);
                if narrow { "aside.narrow" } else { "aside.broad" }
            }
            Failure::SiteWidth => "aside.place",
            Failure::Pull(Question::Hand) => "aside.pull.hand",
            Failure::Pull(Question::Machine) => "aside.pull.machine",
            Failure::Pull(Question::Skin | Question::Treatment | Question::Effect) => {
                "aside.pull.skin"
            }
        };
        let values = [
            ("n", &*configuration.count.to_string()),
            ("size", &size(voice, configuration.diameter_mm)),
            ("width", &width(voice, traits)),
            ("asks", voice.get(&self.want.asks)),
            ("form", &form),
            ("form_in", &form_in),
        ];
        voice.fill(key, &values)
    }
}

/// The value a wish aims at.
fn target(wish: Wish) -> f64 {
    match wish {
        Wish::More { target, .. } | Wish::Less { target, .. } | Wish::Near { target, .. } => target,
    }
}

/// A diameter as the trade writes it, without the unit.
pub(super) fn size(voice: Voice<'_>, diameter_mm: f64) -> String {
    let two = two_decimals(diameter_mm);
    let exact = two.parse::<f64>().is_ok_and(|x| (x - diameter_mm).abs() < 1e-9);
    voice.number(&if exact { two } else { format!("{diameter_mm:.3}") })
}

fn width(voice: Voice<'_>, traits: &Traits) -> String {
    voice.number(&two_decimals(traits.band_width_mm))
}

fn words_of_machine(voice: Voice<'_>, machine: &Machine) -> Option<String> {
    let Machine { stroke_mm, rate_hz, give } = machine;
    let mut words = Vec::new();
    if let Some(stroke_mm) = stroke_mm {
        let stroke = voice.number(&format!("{stroke_mm:.1}"));
        words.push(voice.fill("machine.stroke", &[("stroke", &stroke)]));
    }
    if let Some(rate_hz) = rate_hz {
        words.push(voice.fill("machine.rate", &[("rate", &format!("{rate_hz:.0}"))]));
    }
    if let Some(give) = give {
        let key = match give {
            Give::Soft => "machine.give.soft",
            Give::Medium => "machine.give.medium",
            Give::Firm => "machine.give.firm",
        };
        words.push(voice.get(key).to_owned());
    }
    (!words.is_empty()).then(|| words.join(", "))
}

/// What is fragile about a skin, and what is oily or thick about it.
fn words_of_skin(voice: Voice<'_>, setting: &Setting, rules: &Rules) -> [String; 2] {
    let (mut fragile, mut oily) = (Vec::new(), Vec::new());
    if let Some(skin) = &setting.skin {
        match skin.thickness {
            Some(Thickness::Fine) => fragile.push("skin.is.fine"),
            Some(Thickness::Thick) => oily.push("skin.is.thick"),
            Some(Thickness::Normal) | None => {}
        }
        match skin.oiliness {
            Some(Oiliness::Dry) => fragile.push("skin.is.dry"),
            Some(Oiliness::Oily) => oily.push("skin.is.oily"),
            Some(Oiliness::Combination) => oily.push("skin.is.partly_oily"),
            Some(Oiliness::Normal) | None => {}
        }
        if skin.sensitivity == Some(Sensitivity::High) {
            fragile.push("skin.is.sensitive");
        }
        let on_lid = setting.site.is_some_and(super::is_lid);
        if !on_lid && skin.age_years.is_some_and(|a| rules.general.skin.mature_from_years <= a) {
            fragile.push("skin.is.mature");
        }
        for sign in &skin.signs {
            match sign {
                SkinSign::Flaking => fragile.push("skin.is.flaking"),
                SkinSign::Cracked => fragile.push("skin.is.cracked"),
                SkinSign::BruisesEasily => fragile.push("skin.is.bruises_easily"),
                SkinSign::Purpura => fragile.push("skin.is.purpura"),
                SkinSign::Pseudoscars => fragile.push("skin.is.pseudoscars"),
                SkinSign::TearsEasily => fragile.push("skin.is.tears_easily"),
                SkinSign::BrokenVessels => fragile.push("skin.is.broken_vessels"),
                SkinSign::Lax => fragile.push("skin.is.lax"),
                SkinSign::LargePores => oily.push("skin.is.large_pores"),
                SkinSign::Scarred => {}
            }
        }
    }
    [fragile, oily].map(|keys| {
        let words: Vec<&str> = keys.into_iter().map(|key| voice.get(key)).collect();
        text::list(voice.language(), &words)
    })
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
