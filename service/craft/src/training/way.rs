//! The way of a beginner through the configurations of an effect.
//!
//! Which ones it leads through says the choice of needles: those that suit the effect
//! about as well as the best, so that what forgives a slip is no needle that nobody works it
//! with. In which order says what a slip comes to with each: a line that holds together
//! under a fast or halting hand, a veil that thin passes build up, dots that stand apart
//! without a race come first. That a beginner should go so is our own assumption.

use etui_schema::vocabulary::{Effect, Language, Setting, Site};

use super::Training;
use super::line::Line;
use crate::configuration::{Complete, Model};
use crate::selection::{Request, Selector};
use crate::text;

/// A way has at least so many steps, where so many needles suit.
const FEWEST: usize = 2;

/// One configuration on the way.
#[derive(Debug, Clone, PartialEq)]
pub struct WayStep {
    /// The configuration.
    pub configuration: Complete,
    /// How much it forgives, beside the others of the same way.
    pub forgives: f64,
    /// Why it stands where it does.
    pub because: String,
}

impl Training {
    /// The configurations that suit an effect best, the one that forgives most first;
    /// none where the site does not have the effect.
    #[must_use]
    pub fn way(
        &self,
        (model, selector): (&Model, &Selector),
        (effect, site): (Effect, Site),
        language: Language,
    ) -> Vec<WayStep> {
        let Some(treatment) = selector.treatment_on(site) else { return Vec::new() };
        let setting = Setting { site: Some(site), ..Setting::default() };
        let limit = usize::from(self.rules.way.steps.value);
        let candidates = selector.usual();
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates,
            limit,
            folds: false,
            language,
        };
        let Ok(selection) = selector.select(model, &request) else { return Vec::new() };
        let circumstances = model.circumstances(&setting);
        let step = |configuration: Complete| {
            let line = Line::of(model, &configuration, &circumstances, None);
            let (forgives, because) = self.forgives(&line, effect, language);
            WayStep { configuration, forgives, because }
        };
        let best = selection.ranked.first().map_or(0.0, |one| one.desirability);
        let ranked = selection.ranked.into_iter().take(limit).enumerate();
        let ranked = ranked
            .filter(|(at, one)| {
                let suits = || selector.suits_as_well(one.desirability, best);
                let mm = one.configuration.diameter_mm;
                let wished = || selector.diameter_wished(treatment, effect, mm);
                *at < FEWEST || (self.rules.way.diameter.value <= wished() && suits())
            })
            .map(|(_, one)| one);
        let mut way: Vec<WayStep> = ranked.map(|one| step(one.configuration)).collect();
        way.sort_by(|a, b| b.forgives.total_cmp(&a.forgives));
        way
    }

    fn forgives(&self, line: &Line, effect: Effect, language: Language) -> (f64, String) {
        let rules = &self.rules.drills;
        let (forgives, told, key, place) = match effect {
            Effect::HairStrokes | Effect::FineLine | Effect::BoldLine => {
                let speed = line.unbroken_mm_s(rules.waist.value);
                (speed, speed, "way_line", "speed")
            }
            Effect::Pixelated | Effect::ScalpDots => {
                let speed = line.apart_mm_s(rules.gap_mm.value);
                (-speed, speed, "way_dots", "speed")
            }
            Effect::SoftShading | Effect::DenseFill | Effect::AreolaShading => {
                let cover = 1.0 - (-line.per_mm2 * line.mark_area_mm2).exp();
                (1.0 - cover, 100.0 * cover, "way_field", "percent")
            }
        };
        let told = text::number(language, &format!("{told:.0}"));
        (forgives, self.fill(language, key, &[(place, &told)]))
    }
}
