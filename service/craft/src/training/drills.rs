//! The drills of a configuration.

use std::sync::Arc;

use etui_schema::drills::{DrillRequest, Drills, EffectSetAside, Pace, Panel};
use etui_schema::vocabulary::{DrillKey, Effect, Language, Setting, Site, Treatment};

use super::Training;
use super::line::Line;
use super::panels::{Plan, Planner, is_for, long_mm, stroke_mm, tidy};
use crate::configuration::pattern::Chance;
use crate::configuration::{Complete, Incomplete, Model};
use crate::evidence::Basis;
use crate::selection::{Candidate, Request, Selector};
use crate::text;

/// Why there are no drills.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum DrillError {
    /// The configuration does not say enough.
    #[error(transparent)]
    Configuration(#[from] Incomplete),
    /// The effect makes no sense on the site.
    #[error("`{effect}` is no effect on `{site}`; accepted: {accepted}")]
    Effect {
        /// The effect.
        effect: Effect,
        /// The site.
        site: Site,
        /// The effects there, comma separated.
        accepted: String,
    },
}

/// The configuration at work and what it is practised for.
struct Work {
    configuration: Complete,
    line: Line,
    effects: Vec<Effect>,
    set_aside: Vec<EffectSetAside>,
    assumed: Vec<String>,
}

impl Training {
    /// The drills of a configuration: those of the effects for which the choice of
    /// needles does not set it aside, single dots first. The same request gives
    /// the same drills, byte for byte.
    ///
    /// # Errors
    /// [`DrillError`] for a configuration that does not say enough and for an
    /// effect that the site does not have.
    pub fn drills(
        &self,
        (model, selector): (&Model, &Selector),
        request: &DrillRequest,
        language: Language,
    ) -> Result<Drills, DrillError> {
        let work = work(model, selector, request, language)?;
        let plans = self.plans(request, &work);
        let reasons = self.reasons(&plans, request.level, language);
        let numbered = (1..).zip(&plans);
        let panels: Vec<Panel> = numbered
            .map(|(number, plan)| self.told(number, plan, &work.line, request.seed, language))
            .collect();
        let mut cautions = vec!["caution_unseen", "caution_skin", "caution_numbers"];
        if request.mark_mm.is_none() {
            cautions.push("caution_reckoned");
        }
        let said = |key: &str| self.texts.get(language, key).to_owned();
        Ok(Drills {
            canonical: work.configuration.canonical(),
            level: request.level,
            seed: request.seed,
            panels,
            reasons,
            set_aside: work.set_aside,
            assumed: work.assumed,
            cautions: cautions.into_iter().map(said).collect(),
            basis: self.drill_basis(request),
        })
    }

    /// The panels in the order in which they are worked.
    fn plans(&self, request: &DrillRequest, work: &Work) -> Vec<Plan> {
        let rules = &self.rules.drills;
        let grouping = work.configuration.grouping;
        let planner =
            Planner { rules, level: rules.level(request.level), line: &work.line, grouping };
        let mut chance = Chance::new(u64::from(request.seed));
        let wanted = |drill: &&DrillKey| {
            work.effects.iter().any(|effect| is_for(**drill, *effect, grouping))
        };
        let mut all = Vec::new();
        for drill in DrillKey::ALL.iter().filter(wanted) {
            let mut panels = planner.panels(*drill);
            shuffle(&mut panels, &mut chance);
            all.extend(panels);
        }
        all
    }

    fn told(&self, number: u8, plan: &Plan, line: &Line, seed: u32, language: Language) -> Panel {
        let Plan { drill, step, size_mm, passes, pace, targets } = plan.clone();
        let said = |value: f64, round: fn(f64) -> f64| spoken(language, value, round);
        let limit = |pace: Pace| pace.most.map(|most| said(most, f64::floor));
        let values = [
            // A limit is not rounded to where it no longer holds.
            ("speed", pace.and_then(limit).unwrap_or_else(|| "?".to_owned())),
            ("width", said(line.width_mm(), f64::round)),
            ("mark", said(line.mark_mm, f64::round)),
            ("apart", said(line.apart_mm_s(self.rules.drills.gap_mm.value), f64::ceil)),
        ];
        let values = values.each_ref().map(|(place, value)| (*place, value.as_str()));
        let mut panel = Panel {
            number,
            drill,
            asks: String::new(),
            because: self.fill(language, &format!("because_{drill}"), &values),
            width_mm: size_mm.0,
            height_mm: size_mm.1,
            step,
            passes,
            hand_speed_mm_s: pace,
            targets,
        };
        panel.asks = self.asks(&panel, seed, language);
        panel
    }

    /// What a panel asks, in words: of one that is kept too, in another language than it was
    /// made in.
    pub(super) fn asks(&self, panel: &Panel, seed: u32, language: Language) -> String {
        let Panel { drill, step, passes, hand_speed_mm_s: pace, .. } = *panel;
        let plain = |value: f64| text::number(language, &short(value));
        let at = |pace: Pace| pace.most.map(|most| spoken(language, most, f64::round));
        let values = [
            ("step", plain(step)),
            ("percent", plain(step * 100.0)),
            ("n", passes.to_string()),
            ("speed", pace.and_then(at).unwrap_or_else(|| "?".to_owned())),
            ("length", plain(if drill == DrillKey::LongLine { long_mm() } else { stroke_mm() })),
        ];
        let values = values.each_ref().map(|(place, value)| (*place, value.as_str()));
        let side = if bends_left(panel, seed) { "_left" } else { "" };
        self.fill(language, &format!("asks_{drill}{side}"), &values)
    }

    /// Where the numbers of drills come from.
    pub(super) fn drill_basis(&self, request: &DrillRequest) -> Vec<Basis> {
        let rules = &self.rules.drills;
        let at = |source: &crate::rules::Origin, about: &'static str| {
            source.basis(Arc::<str>::from(about))
        };
        let mut basis = vec![
            at(&rules.sources.width, "the width of a line"),
            at(&rules.sources.cover, "passes to a cover, evenness by chance"),
            at(&rules.sources.kinds, "which drills there are"),
            at(&rules.level(request.level).source, "how close the level is held"),
            at(&rules.waist.source, "from which pace on a line breaks"),
            at(&rules.evenness.source, "what evenness and bare skin are adequate"),
        ];
        basis.sort();
        basis.dedup();
        basis
    }
}

fn work(
    model: &Model,
    selector: &Selector,
    request: &DrillRequest,
    language: Language,
) -> Result<Work, DrillError> {
    let configuration = Complete::try_from(request.configuration)?;
    let setting =
        Setting { site: Some(request.site), ..request.setting.clone().unwrap_or_default() };
    let circumstances = model.circumstances(&setting);
    let line = Line::of(model, &configuration, &circumstances, request.mark_mm);
    let treatment = selector.treatment_on(request.site);
    let effects = asked(selector, treatment, request)?;
    let candidates = [Candidate::from(configuration)];
    let (mut suits, mut set_aside) = (Vec::new(), Vec::new());
    for (treatment, effect) in effects {
        let request = Request {
            treatment,
            effect,
            setting: &setting,
            candidates: &candidates,
            limit: 1,
            folds: false,
            language,
        };
        // The pair was looked up and there is one candidate: nothing is refused.
        let Ok(selection) = selector.select(model, &request) else { continue };
        match selection.set_aside.into_iter().next() {
            Some(aside) => set_aside.push(EffectSetAside { effect, because: aside.because }),
            None => suits.push(effect),
        }
    }
    Ok(Work {
        configuration,
        line,
        effects: suits,
        set_aside,
        assumed: circumstances.assumed.into_iter().map(str::to_owned).collect(),
    })
}

/// The effects that are asked for, each with its treatment.
fn asked(
    selector: &Selector,
    treatment: Option<Treatment>,
    request: &DrillRequest,
) -> Result<Vec<(Treatment, Effect)>, DrillError> {
    let all: Vec<(Treatment, Effect)> = treatment
        .into_iter()
        .flat_map(|treatment| selector.effects(treatment).map(move |effect| (treatment, effect)))
        .collect();
    let Some(wanted) = request.effect else { return Ok(all) };
    let found: Vec<(Treatment, Effect)> =
        all.iter().copied().filter(|(_, effect)| *effect == wanted).collect();
    if !found.is_empty() {
        return Ok(found);
    }
    let accepted: Vec<&str> = all.iter().map(|(_, effect)| effect.as_str()).collect();
    Err(DrillError::Effect { effect: wanted, site: request.site, accepted: accepted.join(", ") })
}

/// Brings panels into an order by chance.
pub(super) fn shuffle<T>(panels: &mut [T], chance: &mut Chance) {
    for last in (1..panels.len()).rev() {
        let places = u64::try_from(last + 1).unwrap_or(1);
        let other = usize::try_from(chance.bits() % places).unwrap_or(0);
        panels.swap(last, other);
    }
}

/// Whether the belly of a panel's strokes lies to the left: the side alternates, begun by
/// the seed.
pub(super) fn bends_left(panel: &Panel, seed: u32) -> bool {
    panel.drill == DrillKey::CurvedStrokes && (u32::from(panel.number) + seed) % 2 == 1
}

/// A measured number as somebody would say it: two figures.
pub(super) fn spoken(language: Language, value: f64, round: fn(f64) -> f64) -> String {
    let figures = value.abs().max(1e-3).log10().floor() - 1.0;
    let unit = 10.0_f64.powf(figures);
    // What is whole but for the last bit stays what it is.
    let whole = (value / unit).round();
    let near = (value / unit - whole).abs() < 1e-6;
    let rounded = if near { whole } else { round(value / unit) };
    text::number(language, &short(rounded * unit))
}

/// A number with at most three decimals.
fn short(value: f64) -> String {
    let text = format!("{:.3}", tidy(value));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
