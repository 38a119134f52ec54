//! What to do when the skin shows trauma: leave the spot, ask, and make the
//! rest gentler. Nothing here is ever deeper, thicker, longer of stroke or
//! faster, and no needle is named for the spot itself.

use std::sync::Arc;

use super::Sources;
use super::answer::{Step, StepKind};
use super::rules::{Advice, TraumaRules, taper_step};
use super::score::Traits;
use crate::configuration::{Circumstances, Complete, Model};

/// What is gentler than what.
pub(super) struct Gentler<'a> {
    pub(super) sources: &'a Sources,
    pub(super) rules: &'a TraumaRules,
    pub(super) model: &'a Model,
    pub(super) circumstances: &'a Circumstances,
    /// The stroke, if it was told, in mm.
    pub(super) stroke_mm: Option<f64>,
}

impl Gentler<'_> {
    /// The steps, in the order they are to be taken. `in_order` are the
    /// candidates that suit treatment, effect and setting, best first.
    pub(super) fn steps<'t>(
        &self,
        current: &Complete,
        in_order: impl Iterator<Item = &'t Traits>,
    ) -> Vec<Step> {
        let rules = self.rules;
        let mut steps = vec![
            self.step(StepKind::LeaveSpot, &rules.leave),
            self.step(StepKind::Ask, &rules.ask),
        ];
        for change in &rules.change {
            let speaks = match (change.above_stroke_mm, self.stroke_mm) {
                (Some(limit_mm), Some(stroke_mm)) => limit_mm < stroke_mm,
                _ => true,
            };
            if speaks {
                steps.push(self.step(change.kind, &change.advice()));
            }
        }
        steps.extend(self.needles(current, in_order));
        steps.push(self.step(StepKind::Stop, &rules.stop));
        steps
    }

    fn needles<'t>(
        &self,
        current: &Complete,
        in_order: impl Iterator<Item = &'t Traits>,
    ) -> Vec<Step> {
        let rule = &self.rules.needle;
        let now = self.model.measure(current, self.circumstances).pressure_index;
        let most_needles = current.count.saturating_mul(rule.count_factor);
        let mut needles = Vec::new();
        for traits in in_order {
            let next = &traits.configuration;
            if rule.most <= needles.len() {
                break;
            }
            if !no_harder(current, next) || most_needles < next.count {
                continue;
            }
            let then = self.model.measure(next, self.circumstances).pressure_index;
            if then < now {
                let share = format!("{:.0}", 100.0 * then / now);
                let because = rule
                    .because
                    .replace("{canonical}", &next.canonical())
                    .replace("{share}", &share);
                needles.push(self.needle(*next, because));
            }
        }
        if needles.is_empty() {
            let same = rule.same.replace("{canonical}", &current.canonical());
            needles.push(self.needle(*current, same));
        }
        needles
    }

    fn needle(&self, configuration: Complete, because: String) -> Step {
        let rule = &self.rules.needle;
        Step {
            kind: StepKind::Configuration,
            change: format!("For the rest, not for this spot: {}.", configuration.canonical())
                .into(),
            configuration: Some(configuration),
            because: because.into(),
            basis: self.sources.basis(&self.sources.about_step, &rule.source),
            agreement: Arc::clone(&rule.agreement),
        }
    }

    fn step(&self, kind: StepKind, advice: &Advice) -> Step {
        Step {
            kind,
            change: Arc::clone(&advice.change),
            configuration: None,
            because: Arc::clone(&advice.because),
            basis: self.sources.basis(&self.sources.about_step, &advice.source),
            agreement: Arc::clone(&advice.agreement),
        }
    }
}

/// Whether the next needle is another one, no thicker and no blunter.
fn no_harder(current: &Complete, next: &Complete) -> bool {
    let blunter = match (current.taper, next.taper) {
        (Some(now), Some(then)) => taper_step(then) < taper_step(now),
        _ => false,
    };
    next != current && next.diameter_mm <= current.diameter_mm && !blunter
}
