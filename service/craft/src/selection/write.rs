//! Writes the answer of a selection.

use std::collections::BTreeSet;

use etui_schema::vocabulary::{Grouping, Taper};

use super::answer::{Answer, NeedleChange, NeedleNote, Question, Ranked, Selection, SetAside};
use super::because::Circumstance;
use super::notes::{Occasion, Speaking};
use super::rules::Rules;
use super::score::Traits;
use super::{Candidate, Trauma, Work, hints, views};
use crate::configuration::Complete;
use crate::evidence::Basis;
use crate::rules::Origin;
use crate::text::Voice;

impl Work<'_> {
    /// Writes everything out.
    pub(super) fn finish(&self, would_change: Vec<NeedleChange>) -> Selection {
        let occasion = self.occasion();
        let mut speaking =
            Speaking::new(&self.selector.sources, &self.selector.rules.notes, &occasion);
        speaking.cautions_of_all(self.foreign_site());
        let shown = self.shown(&speaking);
        let (ranked, set_aside) = (self.ranked(&speaking, &shown), self.set_aside());
        let alike: usize = ranked.iter().map(|one| one.alike.len()).sum();
        let order = self.ranking.order.iter().map(|(i, _)| *i);
        let traits = |i: usize| self.field.traits.get(i);
        let in_order: Vec<&Traits> =
            order.clone().chain(self.failed()).filter_map(traits).collect();
        let first = order.clone().next().and_then(traits);
        let step_up = first.map(|first| {
            let planned = Trauma { current: Some(&first.configuration), ..Trauma::PLANNED };
            let in_order = self.ranking.order.iter();
            let in_order: Vec<(Complete, f64)> =
                in_order.filter_map(|(i, fit)| Some((traits(*i)?.configuration, *fit))).collect();
            let chair =
                self.selector.chair(self.model, self.setting, self.heard, self.request.language);
            let effect = Some(self.want.effect);
            chair.advice(self.circumstances, &planned, effect, (true, None), &in_order)
        });
        let step_up = step_up.map(|advice| advice.steps).unwrap_or_default();
        let rules = &self.selector.rules;
        Selection {
            not_shown: self.ranking.order.len() - ranked.len() - alike,
            ranked,
            set_aside,
            step_up,
            would_change,
            differing_views: views::differing(&rules.views, &occasion, &in_order),
            hints: self.hints(rules, &occasion),
            assumed: self.assumed(),
            own: self.known.map(|known| {
                known.question(self.voice(), &rules.general.own_results.weight.source)
            }),
            basis: self.basis(rules),
        }
    }

    /// The sentences in the language that was asked for.
    fn voice(&self) -> Voice<'_> {
        self.selector.rules.texts.voice(self.request.language)
    }

    fn occasion(&self) -> Occasion<'_> {
        Occasion {
            voice: self.voice(),
            treatment: self.request.treatment,
            effect: self.request.effect,
            setting: self.setting,
            heard: self.heard,
            want: self.want,
        }
    }

    /// How to work with what is ranked; where nothing is, how deep alone.
    fn hints(&self, rules: &Rules, occasion: &Occasion<'_>) -> Vec<NeedleNote> {
        let mut hints = hints::hints(&self.selector.sources, rules, occasion, self.circumstances);
        if self.ranking.order.is_empty() {
            hints.retain(|hint| &*hint.code == "depth");
        }
        hints
    }

    fn ranked(&self, speaking: &Speaking<'_>, shown: &[Shown]) -> Vec<Ranked> {
        let sources = &self.selector.sources;
        let circumstance = self.circumstance();
        shown
            .iter()
            .filter_map(|Shown { candidate: i, ln, alike }| {
                let (traits, candidate) = (self.field.traits.get(*i)?, self.candidates.get(*i)?);
                let measures = self.model.measure(&traits.configuration, self.circumstances);
                let answers = self.answers(&circumstance, *i, traits)?;
                let (mut cautions, remarks) = speaking.of(sources, traits);
                cautions.extend(self.measured(&traits.configuration, &measures));
                let Candidate { configuration, lots } = candidate.clone();
                let (desirability, alike) = (ln.exp(), alike.clone());
                Some(Ranked {
                    configuration,
                    desirability,
                    answers,
                    own: self.known.and_then(|known| known.answer(self.voice(), *i)),
                    cautions,
                    remarks,
                    lots,
                    alike,
                })
            })
            .collect()
    }

    /// The first `limit` of the ranking, and the best of every further form. One
    /// that is about as good as an earlier one of its kind, and has nothing more to
    /// mind, stands beside that.
    fn shown(&self, speaking: &Speaking<'_>) -> Vec<Shown> {
        let share = self.selector.rules.general.alike.share.ln();
        let mut shown: Vec<Shown> = Vec::new();
        let mut forms = BTreeSet::new();
        for &(candidate, ln) in &self.ranking.order {
            let Some(traits) = self.field.traits.get(candidate) else { continue };
            let leads = |one: &&mut Shown| {
                let of = self.field.traits.get(one.candidate);
                of.is_some_and(|of| {
                    one.ln + share <= ln
                        && kind(&of.configuration) == kind(&traits.configuration)
                        && speaking.adds_nothing(of, traits)
                        && self.measures_alike(&of.configuration, &traits.configuration)
                        && self.known.is_none_or(|own| own.stand_alike(one.candidate, candidate))
                })
            };
            let leader = shown.iter_mut().find(leads).filter(|_| self.request.folds);
            if let Some(leader) = leader {
                leader.alike.push(traits.configuration);
            } else if forms.insert(traits.forms)
                || shown.len() < self.request.limit && self.has_room(&shown, traits)
            {
                shown.push(Shown { candidate, ln, alike: Vec::new() });
            }
        }
        shown
    }

    /// Whether another of its kind says anything among those shown: on a short list of the usual
    /// range a third diameter of a kind does not.
    fn has_room(&self, shown: &[Shown], traits: &Traits) -> bool {
        let others = shown.iter().filter_map(|one| self.field.traits.get(one.candidate));
        let of_kind = |one: &&Traits| kind(&one.configuration) == kind(&traits.configuration);
        !self.request.folds
            || SHORT_LIST < self.request.limit
            || others.filter(of_kind).count() < DIAMETERS_OF_A_KIND
    }

    /// Whether nothing is warned of from what one does that is not from the other.
    fn measures_alike(&self, other: &Complete, one: &Complete) -> bool {
        let cautions =
            |configuration| self.model.measure(configuration, self.circumstances).cautions;
        let known = cautions(other);
        cautions(one).iter().all(|caution| known.contains(caution))
    }

    fn circumstance(&self) -> Circumstance<'_> {
        Circumstance {
            voice: self.voice(),
            rules: &self.selector.rules,
            site: &self.treatment.site,
            want: self.want,
            setting: self.setting,
            heard: self.heard,
        }
    }

    fn answers(
        &self,
        circumstance: &Circumstance<'_>,
        candidate: usize,
        traits: &Traits,
    ) -> Option<[Answer; 5]> {
        let base = self.field.bases.get(candidate)?.as_ref().ok()?;
        let answer = |question| Answer {
            question,
            desirability: self.field.answer(&self.ranking.exponents, candidate, question),
            because: circumstance.because(question, traits, base),
            agreement: (question == Question::Effect)
                .then(|| base.form.agreement.in_words(self.request.language)),
        };
        Some([
            answer(Question::Treatment),
            answer(Question::Effect),
            answer(Question::Hand),
            answer(Question::Machine),
            answer(Question::Skin),
        ])
    }

    /// Candidates that fail, in the order they came.
    fn failed(&self) -> impl Iterator<Item = usize> {
        let mut suitable = vec![false; self.candidates.len()];
        for (i, _) in &self.ranking.order {
            if let Some(one) = suitable.get_mut(*i) {
                *one = true;
            }
        }
        suitable.into_iter().enumerate().filter(|(_, suits)| !suits).map(|(i, _)| i)
    }

    fn set_aside(&self) -> Vec<SetAside> {
        let circumstance = self.circumstance();
        self.failed()
            .filter_map(|i| {
                let failure = self.field.failure(&self.ranking.exponents, i)?;
                let (traits, candidate) = (self.field.traits.get(i)?, self.candidates.get(i)?);
                let Candidate { configuration, lots } = candidate.clone();
                let because = circumstance.set_aside(failure, traits);
                let (question, reason) = (failure.question(), failure.as_str());
                Some(SetAside { configuration, question, reason, because, lots })
            })
            .collect()
    }

    /// Said where the told site does not belong to the treatment.
    fn foreign_site(&self) -> Option<NeedleNote> {
        let told = self.request.setting.site?;
        let answered = self.setting.site?;
        if told == answered {
            return None;
        }
        let sources = &self.selector.sources;
        let site = |site| self.selector.wording.site(self.request.language, site);
        let values = [("told", &*site(told)), ("answered", &site(answered))];
        Some(NeedleNote {
            code: "foreign_site".into(),
            message: self.voice().fill("site.foreign", &values).into(),
            basis: sources.model.basis(sources.about_caution.clone()),
            agreement: None,
        })
    }

    /// What was assumed, colour left out: nothing here listens to it.
    fn assumed(&self) -> Vec<&'static str> {
        let mut assumed: Vec<_> = self
            .circumstances
            .assumed
            .iter()
            .copied()
            .filter(|pointer| !matches!(*pointer, "/skin/phototype" | "/skin/lab"))
            .collect();
        if self.request.setting.site.is_none() {
            assumed.push("/site");
        }
        assumed
    }

    fn basis(&self, rules: &Rules) -> Vec<Basis> {
        let general = &rules.general;
        let mut basis = BTreeSet::new();
        let mut add = |about: &str, source: &Origin| {
            basis.insert(source.basis(about));
        };
        add("desirability functions and their mean", &general.weights.mean_source);
        add("likings, weights and strengths", &general.weights.source);
        add("usual range of configurations", &general.usual.source);
        if self.request.folds {
            add("which needles stand as one", &general.alike.source);
        }
        add("width of the track at the site", &self.treatment.site.source);
        add("what the effect wants of the grouping", &self.want.source);
        add(&format!("diameter: {}", self.want.diameter_agreement), &self.want.source);
        for (pull, exponent) in self.field.pulls().iter().zip(&self.ranking.exponents) {
            if 0.0 < *exponent {
                let question = pull.question.as_str();
                add(&format!("pull of the {question}: {}", pull.agreement), &pull.source);
            }
        }
        add("where the trade is split", &general.usual.source);
        basis.into_iter().collect()
    }
}

/// Up to how many a list of the usual range is short, and shows this many of a kind: another kind is
/// what whoever reads it wants to see.
const SHORT_LIST: usize = 12;
const DIAMETERS_OF_A_KIND: usize = 2;

/// A candidate that is described.
struct Shown {
    candidate: usize,
    /// Natural logarithm of its desirability.
    ln: f64,
    /// Those of its kind that stand beside it.
    alike: Vec<Complete>,
}

/// What needles have in common that differ in the diameter alone.
const fn kind(configuration: &Complete) -> (Grouping, u8, Option<Taper>) {
    (configuration.grouping, configuration.count, configuration.taper)
}
