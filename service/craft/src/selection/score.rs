//! How candidates score.
//!
//! ```text
//! ln D = ( wT·ln d(treatment) + wE·ln d(effect)
//!          + Σ w(question)·strength·level·ln d(pull) ) / Σ w
//! ```
//!
//! The first two terms depend on the candidate alone: treatment and effect
//! want the same of it whoever works, and measure it where a measure is asked
//! for (width of the track). The sum runs over the pulls of hand, machine and
//! skin; a signal's level enters as an exponent, so its effect is separable
//! from all others, and since every pull is one-sided, a louder signal moves
//! the best diameter or count to its own side or not at all:
//!
//! Within the effect, group (form, count, breadth) and diameter are wished for
//! separately, so that a pull at the one leaves the best of the other alone
//! wherever every diameter exists in every group.
//!
//! *Let `x` be best at level `l` and `y` at level `l' > l`. Then
//! `ln D(y) - ln D(x)` grows from `l` to `l'`, so `ln d(pull, x) <= ln d(pull,
//! y)`: `y` lies on the side that the pull wishes for.*
//!
//! A desirability of 0 anywhere sets a candidate aside.
//!
//! Where an artist's own results are asked for they are one term more, never 0
//! and the same at every level ([`super::own`]), so the argument stands.

use std::cmp::Ordering;

use etui_schema::vocabulary::{Effect, Taper};

use super::answer::{Heard, Question};
use super::desirability::Blend;
use super::form::Form;
use super::rules::{FormWish, General, Property, Pull, SiteWish, TreatmentRules, Want, taper_step};
use crate::configuration::{Circumstances, Complete, Model};

/// What the choice looks at in a configuration.
#[derive(Debug, Clone, Copy)]
pub(super) struct Traits {
    pub(super) configuration: Complete,
    /// None for a hand blade. A second form where the packet does not tell.
    pub(super) forms: Option<(Form, Option<Form>)>,
    pub(super) band_width_mm: f64,
    /// The same in diameters, as the layout has it: divided back out of the
    /// millimetres it would lie beside an exact limit.
    breadth: f64,
    /// Share of the tips that reach the skin.
    reach: f64,
}

impl Traits {
    /// `shallow` are the circumstances with the depth that was told, or else
    /// that of a light hand: a tip that hangs in the air there is one to reckon
    /// with, and what is said of it does not depend on the hand.
    pub(super) fn of(model: &Model, configuration: Complete, shallow: &Circumstances) -> Self {
        let Complete { diameter_mm, count, grouping, taper: _ } = configuration;
        let breadth = model.layout(grouping, count).band_width;
        let in_skin = model.measure(&configuration, shallow).depths.in_skin;
        Self {
            configuration,
            forms: Form::of(grouping, count),
            band_width_mm: breadth * diameter_mm,
            breadth,
            reach: f64::from(in_skin) / f64::from(count.max(1)),
        }
    }

    fn property(&self, property: Property) -> Option<f64> {
        match property {
            Property::DiameterMm => Some(self.configuration.diameter_mm),
            Property::Count => Some(f64::from(self.configuration.count)),
            Property::TaperStep => self.configuration.taper.map(|t| f64::from(taper_step(t))),
        }
    }
}

/// Why a candidate is set aside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Failure {
    /// No machine drives a hand blade.
    HandBlade,
    /// The effect rules the form out, or does not know it.
    Form(Form),
    /// Too few or too many needles for the form.
    Points(Form),
    /// Too thin or too thick.
    Diameter,
    /// The track is too broad or too narrow for the effect.
    EffectWidth,
    /// The track is too broad for the site.
    SiteWidth,
    /// A pull of this question leaves nothing.
    Pull(Question),
}

impl Failure {
    /// What fails, as one word.
    pub(super) const fn as_str(self) -> &'static str {
        match self {
            Self::HandBlade => "hand_blade",
            Self::Form(_) => "form",
            Self::Points(_) => "count",
            Self::Diameter => "diameter",
            Self::EffectWidth => "width",
            Self::SiteWidth => "place",
            Self::Pull(question) => question.as_str(),
        }
    }

    pub(super) const fn question(self) -> Question {
        match self {
            Self::SiteWidth => Question::Treatment,
            Self::HandBlade => Question::Machine,
            Self::Form(_) | Self::Points(_) | Self::Diameter | Self::EffectWidth => {
                Question::Effect
            }
            Self::Pull(question) => question,
        }
    }
}

/// How a candidate serves treatment and effect, whoever works.
#[derive(Debug, Clone, Copy)]
pub(super) struct Base<'r> {
    pub(super) treatment: f64,
    pub(super) effect: f64,
    pub(super) form: &'r FormWish,
    pub(super) points: f64,
    pub(super) diameter: f64,
}

/// Scores one candidate for treatment and effect.
pub(super) fn base<'r>(
    general: &General,
    site: &SiteWish,
    want: &'r Want,
    traits: &Traits,
) -> Result<Base<'r>, Failure> {
    let (form, other) = traits.forms.ok_or(Failure::HandBlade)?;
    let treatment = site.band_width_mm.of(traits.band_width_mm);
    if treatment <= 0.0 {
        return Err(Failure::SiteWidth);
    }
    let first = effect(general, want, traits, form, treatment)?;
    match other {
        // Not told which of two: judged as the less suitable.
        Some(other) => {
            let second = effect(general, want, traits, other, treatment)?;
            Ok(if second.effect < first.effect { second } else { first })
        }
        None => Ok(first),
    }
}

fn effect<'r>(
    general: &General,
    want: &'r Want,
    traits: &Traits,
    form: Form,
    treatment: f64,
) -> Result<Base<'r>, Failure> {
    let weights = &general.weights;
    let wish = want.form(form).ok_or(Failure::Form(form))?;
    let mut blend = Blend::default();
    blend.add(wish.liking, weights.form);
    let points = wish.points.map_or(1.0, |w| w.of(f64::from(traits.configuration.count)));
    blend.add(points, weights.points);
    let diameter = want.diameter_mm.of(traits.configuration.diameter_mm);
    blend.add(diameter, weights.diameter);
    let width = want.breadth.map_or(1.0, |w| w.of(traits.breadth));
    blend.add(width, weights.breadth);
    blend.add(taper(general, want.taper, traits.configuration.taper), weights.taper);
    for (d, failure) in [
        (points, Failure::Points(form)),
        (diameter, Failure::Diameter),
        (width, Failure::EffectWidth),
    ] {
        if d <= 0.0 {
            return Err(failure);
        }
    }
    // Tips that hang in the air do nothing for the effect.
    Ok(Base { treatment, effect: blend.mean() * traits.reach, form: wish, points, diameter })
}

fn taper(general: &General, wanted: Taper, told: Option<Taper>) -> f64 {
    let weights = &general.weights;
    told.map_or(weights.taper_untold, |told| {
        let steps = taper_step(told).abs_diff(taper_step(wanted));
        weights.taper_steps.get(usize::from(steps)).copied().unwrap_or(weights.taper_untold)
    })
}

/// The candidates as they stand for one treatment, ready to be ranked under
/// any setting.
pub(super) struct Field<'r> {
    pub(super) traits: &'r [Traits],
    pub(super) bases: Vec<Result<Base<'r>, Failure>>,
    /// Logarithm of treatment and effect, weighted; by candidate.
    base_lns: Vec<f64>,
    /// Logarithm of every pull's desirability, by candidate and pull.
    pull_lns: &'r [f64],
    pulls: &'r [Pull],
    general: &'r General,
    effect: Effect,
    own: Weighed,
}

/// What an artist's own results add to the five questions; nothing unless asked.
#[derive(Debug, Clone, Default)]
pub(super) struct Weighed {
    pub(super) weight: f64,
    /// Logarithm of the desirability, weighted; by candidate.
    pub(super) lns: Vec<f64>,
}

/// The logarithm of every pull's desirability, by candidate and pull. It
/// depends on the candidates alone, so all rankings share it.
pub(super) fn pull_logarithms(general: &General, traits: &[Traits]) -> Vec<f64> {
    let mut logarithms = Vec::with_capacity(traits.len() * general.pull.len());
    for one in traits {
        logarithms.extend(general.pull.iter().map(|pull| {
            // A taper that is not told is not pulled at.
            one.property(pull.property).map_or(0.0, |y| pull.wish.of(y).ln())
        }));
    }
    logarithms
}

impl<'r> Field<'r> {
    pub(super) fn new(
        general: &'r General,
        rules: &'r TreatmentRules,
        want: &'r Want,
        traits: &'r [Traits],
        pull_lns: &'r [f64],
    ) -> Self {
        let weights = &general.weights;
        let bases: Vec<_> =
            traits.iter().map(|one| base(general, &rules.site, want, one)).collect();
        let base_lns = bases
            .iter()
            .map(|base| {
                base.as_ref().map_or(f64::NEG_INFINITY, |b| {
                    weights.treatment * b.treatment.ln() + weights.effect * b.effect.ln()
                })
            })
            .collect();
        Self {
            traits,
            bases,
            base_lns,
            pull_lns,
            pulls: &general.pull,
            general,
            effect: want.effect,
            own: Weighed::default(),
        }
    }

    /// The same with what her own results add.
    pub(super) fn knowing(self, own: Option<Weighed>) -> Self {
        Self { own: own.unwrap_or_default(), ..self }
    }

    /// The exponent of every pull under a setting; 0 where it is silent.
    fn exponents(&self, heard: &Heard) -> Vec<f64> {
        self.pulls
            .iter()
            .map(|pull| {
                let speaks = f64::from(u8::from(pull.speaks_to(self.effect)));
                speaks * pull.strength * heard.level(pull.signal)
            })
            .collect()
    }

    fn weight(&self, question: Question) -> f64 {
        let weights = &self.general.weights;
        match question {
            Question::Treatment => weights.treatment,
            Question::Effect => weights.effect,
            Question::Hand => weights.hand,
            Question::Machine => weights.machine,
            Question::Skin => weights.skin,
        }
    }

    fn pull_row(&self, candidate: usize) -> &[f64] {
        let width = self.pulls.len();
        self.pull_lns.get(candidate * width..(candidate + 1) * width).unwrap_or_default()
    }

    /// The weighted sum of logarithms; minus infinity where a need fails.
    fn log_sum(&self, weighted: &[f64], candidate: usize) -> f64 {
        let row = self.pull_row(candidate);
        // An exponent of 0 must not meet a logarithm of 0.
        let pulled = row.iter().zip(weighted).filter(|(_, e)| 0.0 < **e).map(|(ln, e)| ln * e);
        let base = self.base_lns.get(candidate).copied().unwrap_or(f64::NEG_INFINITY);
        let five = base + pulled.sum::<f64>();
        self.own.lns.get(candidate).map_or(five, |own| five + own)
    }

    /// Every candidate that fails nothing, best first, with its logarithm.
    pub(super) fn ranking(&self, heard: &Heard) -> Ranking {
        let weighted = self.weighted(heard);
        let mut order: Vec<(usize, f64)> = (0..self.traits.len())
            .map(|i| (i, self.log_sum(&weighted, i)))
            .filter(|(_, ln)| f64::NEG_INFINITY < *ln)
            .collect();
        order.sort_by(|a, b| self.compare(*a, *b));
        let total: f64 =
            Question::ALL.iter().map(|q| self.weight(*q)).sum::<f64>() + self.own.weight;
        for (_, ln) in &mut order {
            *ln /= total;
        }
        Ranking { order, exponents: self.exponents(heard) }
    }

    /// The best candidate alone.
    pub(super) fn best(&self, heard: &Heard) -> Option<usize> {
        let weighted = self.weighted(heard);
        (0..self.traits.len())
            .map(|i| (i, self.log_sum(&weighted, i)))
            .filter(|(_, ln)| f64::NEG_INFINITY < *ln)
            .min_by(|a, b| self.compare(*a, *b))
            .map(|(i, _)| i)
    }

    fn weighted(&self, heard: &Heard) -> Vec<f64> {
        let exponents = self.exponents(heard);
        self.pulls.iter().zip(exponents).map(|(p, e)| e * self.weight(p.question)).collect()
    }

    /// Better first. Ties (to nine decimals of the logarithm, so that the last
    /// bit of a logarithm decides nothing) go to the thinner, then the smaller
    /// group, then the order of the groupings and tapers, then the order in
    /// which the candidates came.
    fn compare(&self, (a, ln_a): (usize, f64), (b, ln_b): (usize, f64)) -> Ordering {
        let rounded = |ln: f64| (ln * 1e9).round();
        let key = |i: usize| self.traits.get(i).map(|t| t.configuration);
        rounded(ln_b).total_cmp(&rounded(ln_a)).then_with(|| match (key(a), key(b)) {
            (Some(x), Some(y)) => x
                .diameter_mm
                .total_cmp(&y.diameter_mm)
                .then(x.count.cmp(&y.count))
                .then(x.grouping.cmp(&y.grouping))
                .then(x.taper.cmp(&y.taper))
                .then(a.cmp(&b)),
            _ => a.cmp(&b),
        })
    }

    /// The desirability of one question for one candidate.
    pub(super) fn answer(&self, exponents: &[f64], candidate: usize, question: Question) -> f64 {
        let base = self.bases.get(candidate).and_then(|b| b.as_ref().ok());
        match question {
            Question::Treatment => base.map_or(0.0, |b| b.treatment),
            Question::Effect => base.map_or(0.0, |b| b.effect),
            Question::Hand | Question::Machine | Question::Skin => self
                .pull_row(candidate)
                .iter()
                .zip(exponents)
                .zip(self.pulls)
                .filter(|((_, e), pull)| 0.0 < **e && pull.question == question)
                .map(|((ln, e), _)| ln * e)
                .sum::<f64>()
                .exp(),
        }
    }

    /// Why a candidate is not in the ranking.
    pub(super) fn failure(&self, exponents: &[f64], candidate: usize) -> Option<Failure> {
        match self.bases.get(candidate)? {
            Err(failure) => Some(*failure),
            Ok(_) => [Question::Hand, Question::Machine, Question::Skin]
                .into_iter()
                .find(|q| self.answer(exponents, candidate, *q) <= 0.0)
                .map(Failure::Pull),
        }
    }

    /// The pulls, for what is to be said of them.
    pub(super) const fn pulls(&self) -> &'r [Pull] {
        self.pulls
    }
}

/// Who comes first.
pub(super) struct Ranking {
    /// Candidate and logarithm of its desirability, best first.
    pub(super) order: Vec<(usize, f64)>,
    /// The exponent of every pull.
    pub(super) exponents: Vec<f64>,
}
