//! Which configuration to take, and why.
//!
//! [`Selector::select`] ranks candidates by the desirability of what they are
//! and do ([`desirability`], after Derringer and Suich) against what treatment
//! and effect want, and lets hand, machine and skin pull at diameter, count
//! and taper. Every want is rule data with the number of trade pages that
//! agree; where the trade is split, the answer shows each school.
//!
//! What holds by construction, for any candidates (the argument stands in the
//! module `score`):
//!
//! - a weaker machine never raises the best count, a stronger one never
//!   lowers it;
//! - what was not told is not held against anything;
//! - skin colour changes nothing at all, not a byte of the answer;
//! - a candidate that fails one need outright is set aside with the reason.
//!
//! And for the usual range, where every diameter exists in every group:
//! thicker or oilier skin never lowers the best diameter, thinner, drier or
//! more sensitive skin never raises it.
//!
//! An artist's own results may be asked for as one question more
//! ([`Selector::select_knowing`]). Since they speak for single needles, skin that is
//! fragile and thin at once may then move the best diameter to either side; all
//! else holds as before.
//!
//! ```
//! use etui_craft::configuration::Model;
//! use etui_craft::evidence::Register;
//! use etui_craft::selection::{Request, Selector};
//! use etui_schema::vocabulary::{Effect, Language, Setting, Treatment};
//!
//! let selector = Selector::builtin(&Register::builtin()?)?;
//! let setting = Setting::default();
//! let selection = selector.select(
//!     &Model::builtin()?,
//!     &Request {
//!         treatment: Treatment::Brows,
//!         effect: Effect::HairStrokes,
//!         setting: &setting,
//!         candidates: selector.usual(),
//!         limit: 3,
//!         folds: false,
//!         language: Language::En,
//!     },
//! )?;
//! assert_eq!(selection.ranked[0].configuration.canonical(), "0.20 1RL");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod answer;
mod because;
mod chair;
mod change;
pub mod desirability;
mod form;
mod hearing;
mod hints;
mod measured;
mod notes;
mod own;
pub(crate) mod rules;
mod score;
mod sources;
#[cfg(test)]
mod tests;
mod views;
mod write;

use std::collections::HashMap;

use etui_schema::vocabulary::{Effect, Hand, Language, Setting, Site, Treatment};

pub use self::answer::{
    Answer, Candidate, DifferingView, Heard, Lot, NeedleChange, NeedleNote, OwnAnswer, OwnQuestion,
    Question, Ranked, Request, School, Selection, SelectionError, SetAside,
};
pub use self::chair::Trauma;
use self::change::Present;
pub use self::form::Form;
use self::hearing::hear;
use self::own::{Asked, Known};
pub use self::rules::Signal;
use self::rules::{Rules, TreatmentRules, Want};
use self::score::{Field, Ranking, Traits, pull_logarithms};
use self::sources::Sources;
use crate::configuration::{Circumstances, Complete, Model, Wording};
use crate::evidence::Register;
use crate::hand::Own;
use crate::rules::RuleFault;
use crate::trauma;

/// How many configurations are ranked at once.
pub const MOST_CANDIDATES: usize = 1000;

/// The loaded rules, ready to choose.
#[derive(Debug, Clone)]
pub struct Selector {
    rules: Rules,
    sources: Sources,
    usual: Vec<Candidate>,
    wording: Wording,
    trauma: trauma::Rules,
}

impl Selector {
    /// The rules compiled into this build.
    ///
    /// # Errors
    /// [`RuleFault`] if a rule or text file is faulty or points at a source
    /// that is not registered; the tests hold that none does.
    pub fn builtin(register: &Register) -> Result<Self, RuleFault> {
        let rules = Rules::builtin(register)?;
        let usual = &rules.general.usual;
        let mut candidates = Vec::new();
        for group in &usual.group {
            for &count in &group.counts {
                candidates.extend(usual.diameters_mm.iter().map(|&diameter_mm| {
                    let grouping = group.grouping;
                    Candidate::from(Complete { diameter_mm, count, grouping, taper: None })
                }));
            }
        }
        let wording = Wording::builtin()?;
        let trauma = trauma::Rules::builtin(register)?;
        Ok(Self { rules, sources: Sources::new(), usual: candidates, wording, trauma })
    }

    /// The usual range of the trade, without tapers: every usual diameter with
    /// every usual count of every grouping.
    #[must_use]
    pub fn usual(&self) -> &[Candidate] {
        &self.usual
    }

    /// How every answer is to be taken.
    #[must_use]
    pub fn statement(&self, language: Language) -> &str {
        self.rules.texts.get(language, "statement")
    }

    /// The effects that a treatment accepts, in the order of its rules.
    pub fn effects(&self, treatment: Treatment) -> impl Iterator<Item = Effect> {
        self.rules.treatment(treatment).into_iter().flat_map(|t| t.want.iter().map(|w| w.effect))
    }

    /// Where on the body a treatment may work: the site that was told, if it is
    /// one of the treatment's; else every one of them.
    #[must_use]
    pub fn sites(&self, treatment: Treatment, told: Option<Site>) -> Vec<Site> {
        let accepted = self.rules.treatment(treatment).map(|rules| &rules.site.accepted);
        let all = accepted.into_iter().flatten().copied();
        match told.filter(|told| accepted.is_some_and(|accepted| accepted.contains(told))) {
            Some(told) => vec![told],
            None => all.collect(),
        }
    }

    /// Whether a needle suits about as well as the best (`alike.share`), by their desirabilities.
    #[must_use]
    pub fn suits_as_well(&self, one: f64, best: f64) -> bool {
        self.rules.general.alike.share * best <= one
    }

    /// How far a diameter is the one that is wished for an effect of a treatment, 0 to 1; 0 for an
    /// effect that it does not have.
    #[must_use]
    pub fn diameter_wished(&self, treatment: Treatment, effect: Effect, mm: f64) -> f64 {
        let want = self.rules.treatment(treatment).and_then(|rules| rules.want(effect));
        want.map_or(0.0, |want| want.diameter_mm.of(mm))
    }

    /// The treatment that works on a site.
    #[must_use]
    pub fn treatment_on(&self, site: Site) -> Option<Treatment> {
        let at = |treatment: &&Treatment| self.sites(**treatment, None).contains(&site);
        Treatment::ALL.iter().find(at).copied()
    }

    /// Ranks the candidates of a request and says why.
    ///
    /// Candidates of the same configuration are one, with the lots of all.
    ///
    /// # Errors
    /// [`SelectionError`] if the effect makes no sense for the treatment, or
    /// if there are more than [`MOST_CANDIDATES`] configurations.
    pub fn select(
        &self,
        model: &Model,
        request: &Request<'_>,
    ) -> Result<Selection, SelectionError> {
        self.choose(model, request, None)
    }

    /// The same with an artist's own results as one question more, of the usual weight if none
    /// is named. It moves the order alone: a rank never rises for what is not known.
    ///
    /// # Errors
    /// As [`Selector::select`].
    pub fn select_knowing(
        &self,
        model: &Model,
        request: &Request<'_>,
        own: Own<'_>,
        weight: Option<f64>,
    ) -> Result<Selection, SelectionError> {
        let weight = weight.unwrap_or(self.rules.general.own_results.weight.value).clamp(0.0, 1.0);
        self.choose(model, request, Some(Asked { own, weight }))
    }

    fn choose(
        &self,
        model: &Model,
        request: &Request<'_>,
        own: Option<Asked<'_>>,
    ) -> Result<Selection, SelectionError> {
        let (treatment, want) = self.want(request.treatment, request.effect)?;
        let candidates = rankable(request.candidates)?;
        let setting = with_site(request.setting, treatment, request.effect);
        let general = &self.rules.general;
        let heard = hear(general, &setting, want.into());
        let traits = traits_of(model, &candidates, &setting);
        let pull_lns = pull_logarithms(general, &traits);
        let known = own.map(|own| own.of(request.treatment, request.effect, &traits));
        let field = Field::new(general, treatment, want, &traits, &pull_lns)
            .knowing(known.as_ref().and_then(Known::weighed));
        let ranking = field.ranking(&heard);
        let circumstances = model.circumstances(&setting);
        let thinnest = thinnest(model, treatment, request.setting, &circumstances);
        let work = Work {
            selector: self,
            model,
            request,
            treatment,
            want,
            setting: &setting,
            heard: &heard,
            circumstances: &circumstances,
            thinnest: thinnest.as_ref(),
            candidates: &candidates,
            field: &field,
            ranking: &ranking,
            known: known.as_ref(),
        };
        let present = Present {
            rules: &self.rules,
            treatment,
            want,
            field: &field,
            setting: &setting,
            first: ranking.order.first().map(|(i, _)| *i),
            voice: self.rules.texts.voice(request.language),
            own,
        };
        let would_change = present.changes(&traits, &pull_lns);
        Ok(work.finish(would_change))
    }

    fn want(
        &self,
        treatment: Treatment,
        effect: Effect,
    ) -> Result<(&TreatmentRules, &Want), SelectionError> {
        self.rules
            .treatment(treatment)
            .and_then(|rules| rules.want(effect).map(|want| (rules, want)))
            .ok_or_else(|| hints::pair_error(treatment, effect, self.effects(treatment)))
    }
}

/// Whether a site is a lid or the lash margin.
pub(crate) const fn is_lid(site: Site) -> bool {
    matches!(site, Site::UpperLid | Site::LashLine)
}

/// As many candidates as are ranked with reasons. Only configurations count: a drawer may hold any
/// number of lots of one.
fn rankable(candidates: &[Candidate]) -> Result<Vec<Candidate>, SelectionError> {
    let merged = merged(candidates);
    match merged.len() {
        found if MOST_CANDIDATES < found => {
            Err(SelectionError::TooMany { found, most: MOST_CANDIDATES })
        }
        _ => Ok(merged),
    }
}

/// Lots that are told of one configuration: those that expire first are to be taken first, and an answer
/// must not grow with the drawer.
const MOST_LOTS: usize = 50;

/// One candidate a configuration, with the lots of all, first expired first and no more than [`MOST_LOTS`].
fn merged(candidates: &[Candidate]) -> Vec<Candidate> {
    let mut places = HashMap::with_capacity(candidates.len());
    let mut merged: Vec<Candidate> = Vec::with_capacity(candidates.len());
    for candidate in candidates {
        let Complete { diameter_mm, count, grouping, taper } = candidate.configuration;
        let place =
            *places.entry((diameter_mm.to_bits(), count, grouping, taper)).or_insert_with(|| {
                merged.push(Candidate::from(candidate.configuration));
                merged.len() - 1
            });
        if let Some(one) = merged.get_mut(place) {
            one.lots.extend(candidate.lots.iter().cloned());
        }
    }
    for candidate in &mut merged {
        candidate.lots.sort_by(|a, b| {
            let last = |lot: &Lot| lot.expires_on.is_none();
            last(a).cmp(&last(b)).then(a.expires_on.cmp(&b.expires_on)).then(a.id.cmp(&b.id))
        });
        candidate.lots.truncate(MOST_LOTS);
    }
    merged
}

/// What the choice looks at in each candidate.
fn traits_of(model: &Model, candidates: &[Candidate], setting: &Setting) -> Vec<Traits> {
    let shallow = model.circumstances(&Setting { hand: Some(Hand::Light), ..setting.clone() });
    candidates.iter().map(|c| Traits::of(model, c.configuration, &shallow)).collect()
}

/// The setting at the treatment's own site.
fn with_site(setting: &Setting, treatment: &TreatmentRules, effect: Effect) -> Setting {
    let told = setting.site.filter(|site| treatment.site.accepted.contains(site));
    let site = told.unwrap_or_else(|| treatment.site.assumed(effect));
    Setting { site: Some(site), ..setting.clone() }
}

/// Of the sites that a treatment may work on, where the depth takes the largest share of the
/// skin; none where the site was told, or where that is the one assumed. Not to know the site
/// makes no skin thicker.
fn thinnest(
    model: &Model,
    treatment: &TreatmentRules,
    told: &Setting,
    assumed: &Circumstances,
) -> Option<Circumstances> {
    let accepted = &treatment.site.accepted;
    if told.site.is_some_and(|site| accepted.contains(&site)) {
        return None;
    }
    let at = |site: &Site| model.circumstances(&Setting { site: Some(*site), ..told.clone() });
    let thinnest = accepted
        .iter()
        .map(at)
        .max_by(|one, other| model.share_of_skin(one).total_cmp(&model.share_of_skin(other)));
    thinnest.filter(|thinnest| thinnest.site != assumed.site)
}

/// Everything a selection is written from.
struct Work<'a> {
    selector: &'a Selector,
    model: &'a Model,
    request: &'a Request<'a>,
    treatment: &'a TreatmentRules,
    want: &'a Want,
    setting: &'a Setting,
    heard: &'a Heard,
    circumstances: &'a Circumstances,
    /// Where the depth reaches furthest through the skin, if that is another site than the
    /// one assumed.
    thinnest: Option<&'a Circumstances>,
    candidates: &'a [Candidate],
    field: &'a Field<'a>,
    ranking: &'a Ranking,
    known: Option<&'a Known<'a>>,
}
