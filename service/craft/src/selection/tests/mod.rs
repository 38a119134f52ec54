//! What the trade says, held against the selection.
//!
//! Source of the facts, roles, shifts and counts of agreement in these tests:
//! a survey of about 85 trade pages (about 70 independent, unnamed voices),
//! November 2026. That is common practice; nothing published stands behind it.

mod answers;
mod cases;
mod consensus;
mod facts;
mod laws;
mod lots;
mod own;
mod trauma;
mod voice;

use std::sync::LazyLock;

use etui_schema::vocabulary::{
    Effect, Give, Grouping, Hand, Language, Machine, Oiliness, Sensitivity, Setting, Skin,
    Thickness, Treatment,
};

use super::*;
use crate::configuration::Complete;

/// Everything loaded, for one test.
pub(super) struct House {
    pub(super) selector: Selector,
    pub(super) model: Model,
}

impl House {
    /// Read once: a law asks it a hundred thousand times.
    pub(super) fn open() -> &'static Self {
        static HOUSE: LazyLock<House> = LazyLock::new(|| {
            let register = Register::builtin().unwrap();
            let selector = Selector::builtin(&register).unwrap();
            House { selector, model: Model::builtin().unwrap() }
        });
        &HOUSE
    }

    /// Selects among the usual range, describing everything.
    pub(super) fn usual(
        &self,
        treatment: Treatment,
        effect: Effect,
        setting: &Setting,
    ) -> Selection {
        self.among(treatment, effect, setting, self.selector.usual())
    }

    pub(super) fn among(
        &self,
        treatment: Treatment,
        effect: Effect,
        setting: &Setting,
        candidates: &[Candidate],
    ) -> Selection {
        self.saying(Language::En, treatment, effect, setting, candidates)
    }

    pub(super) fn saying(
        &self,
        language: Language,
        treatment: Treatment,
        effect: Effect,
        setting: &Setting,
        candidates: &[Candidate],
    ) -> Selection {
        let limit = usize::MAX;
        let request =
            Request { treatment, effect, setting, candidates, limit, folds: false, language };
        self.selector.select(&self.model, &request).unwrap()
    }

    /// Every pair that makes sense.
    pub(super) fn pairs(&self) -> Vec<(Treatment, Effect)> {
        Treatment::ALL
            .iter()
            .flat_map(|treatment| self.selector.effects(*treatment).map(|e| (*treatment, e)))
            .collect()
    }
}

/// A configuration out of its canonical text, such as `0.30 3RS LT`.
pub(super) fn needle(text: &str) -> Complete {
    use etui_schema::vocabulary::Taper;
    let mut words = text.split(' ');
    let diameter_mm = words.next().unwrap().parse().unwrap();
    let group = words.next().unwrap();
    let code = group.trim_start_matches(|c: char| c.is_ascii_digit());
    let count = group[..group.len() - code.len()].parse().unwrap();
    let grouping = *Grouping::ALL.iter().find(|g| g.code() == code).unwrap();
    let taper = words.next().map(|t| *Taper::ALL.iter().find(|x| x.code() == t).unwrap());
    Complete { diameter_mm, count, grouping, taper }
}

/// Candidates out of canonical texts.
pub(super) fn list(texts: &[&str]) -> Vec<Candidate> {
    texts.iter().map(|text| Candidate::from(needle(text))).collect()
}

/// The canonical texts of a ranking.
pub(super) fn texts(selection: &Selection) -> Vec<String> {
    selection.ranked.iter().map(|r| r.configuration.canonical()).collect()
}

pub(super) fn hand(hand: Hand) -> Setting {
    Setting { hand: Some(hand), ..Setting::default() }
}

pub(super) fn machine(stroke_mm: f64, rate_hz: f64, give: Give) -> Setting {
    let machine = Machine { stroke_mm: Some(stroke_mm), rate_hz: Some(rate_hz), give: Some(give) };
    Setting { machine: Some(machine), ..Setting::default() }
}

pub(super) fn skin(change: impl FnOnce(&mut Skin)) -> Setting {
    let mut skin = Skin::default();
    change(&mut skin);
    Setting { skin: Some(skin), ..Setting::default() }
}

/// Fine, dry and very sensitive skin, each by itself.
pub(super) fn fragile_skins() -> [(&'static str, Setting); 3] {
    [
        ("fine", skin(|s| s.thickness = Some(Thickness::Fine))),
        ("dry", skin(|s| s.oiliness = Some(Oiliness::Dry))),
        ("very sensitive", skin(|s| s.sensitivity = Some(Sensitivity::High))),
    ]
}
