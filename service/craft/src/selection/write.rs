//! Writes the answer of a selection.

use std::collections::BTreeSet;

use super::answer::{Answer, NeedleChange, NeedleNote, Question, Ranked, Selection, SetAside};
use super::because::Circumstance;
use super::notes::{Occasion, Speaking};
use super::rules::Rules;
use super::score::{Field, Ranking, Traits};
use super::{Candidate, Trauma, Work, hints, views};
use crate::evidence::Basis;
use crate::rules::Origin;
use crate::text::Voice;

impl Work<'_> {
    /// Writes everything out.
    pub(super) fn finish(&self, would_change: Vec<NeedleChange>) -> Selection {
        let occasion = self.occasion();
        let shown = shown(self.field, self.ranking, self.request.limit);
        let (ranked, set_aside) = (self.ranked(&occasion, &shown), self.set_aside());
        let order = self.ranking.order.iter().map(|(i, _)| *i);
        let traits = |i: usize| self.field.traits.get(i);
        let in_order: Vec<&Traits> =
            order.clone().chain(self.failed()).filter_map(traits).collect();
        let first = order.clone().next().and_then(traits);
        let step_up = first.map(|first| {
            let planned = Trauma { current: Some(&first.configuration), ..Trauma::PLANNED };
            let in_order = order.clone().filter_map(traits).map(|traits| traits.configuration);
            let chair =
                self.selector.chair(self.model, self.setting, self.heard, self.request.language);
            chair.advice(self.circumstances, &planned, Some(self.want.effect), true, in_order)
        });
        let step_up = step_up.map(|advice| advice.steps).unwrap_or_default();
        let rules = &self.selector.rules;
        Selection {
            not_shown: self.ranking.order.len() - ranked.len(),
            ranked,
            set_aside,
            step_up,
            would_change,
            differing_views: views::differing(&rules.views, &occasion, &in_order),
            hints: hints::hints(&self.selector.sources, rules, &occasion, self.circumstances),
            assumed: self.assumed(),
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

    fn ranked(&self, occasion: &Occasion<'_>, shown: &[(usize, f64)]) -> Vec<Ranked> {
        let sources = &self.selector.sources;
        let mut speaking = Speaking::new(sources, &self.selector.rules.notes, occasion);
        if let Some(caution) = self.foreign_site() {
            speaking.caution(caution);
        }
        let circumstance = self.circumstance();
        shown
            .iter()
            .filter_map(|&(i, ln)| {
                let (traits, candidate) = (self.field.traits.get(i)?, self.candidates.get(i)?);
                let measures = self.model.measure(&traits.configuration, self.circumstances);
                let answers = self.answers(&circumstance, i, traits)?;
                let (mut cautions, remarks) = speaking.of(sources, traits);
                cautions.extend(self.measured(&traits.configuration, &measures));
                let Candidate { configuration, lots } = candidate.clone();
                let desirability = ln.exp();
                Some(Ranked { configuration, desirability, answers, cautions, remarks, lots })
            })
            .collect()
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
                Some(SetAside { configuration, question: failure.question(), because, lots })
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

/// The first `limit` of the ranking, and the best of every further form.
fn shown(field: &Field<'_>, ranking: &Ranking, limit: usize) -> Vec<(usize, f64)> {
    let mut shown: Vec<(usize, f64)> = Vec::new();
    let mut forms = BTreeSet::new();
    for (place, &(i, ln)) in ranking.order.iter().enumerate() {
        let form = field.traits.get(i).and_then(|traits| traits.forms);
        if forms.insert(form) || place < limit {
            shown.push((i, ln));
        }
    }
    shown
}
