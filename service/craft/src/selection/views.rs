//! Where the trade is split: each school with what it would choose.

use super::answer::{DifferingView, School as SchoolView};
use super::because::size;
use super::notes::{Occasion, admits};
use super::rules::{School, View};
use super::score::Traits;
use crate::text::Voice;

/// The views that a request touches. `in_order` are the candidates, best
/// first, those set aside last: a school may prefer what this ranking refuses.
pub(super) fn differing(
    views: &[View],
    occasion: &Occasion<'_>,
    in_order: &[&Traits],
) -> Vec<DifferingView> {
    let voice = occasion.voice;
    views
        .iter()
        .filter(|view| view.when.touches(occasion))
        .filter_map(|view| {
            let schools: Vec<_> =
                view.school.iter().map(|school| school_view(voice, school, in_order)).collect();
            let available = schools.first().is_some_and(|s| s.configuration.is_some());
            (available || !view.when.only_if_available)
                .then(|| DifferingView { question: voice.get(&view.question).into(), schools })
        })
        .collect()
}

fn school_view(voice: Voice<'_>, school: &School, in_order: &[&Traits]) -> SchoolView {
    let School { view, reason, agreement, choose, forms, count, diameter_mm } = school;
    let configuration = match choose {
        Some(_) => None,
        None => in_order
            .iter()
            .find(|traits| admits(forms, *count, *diameter_mm, traits))
            .map(|traits| traits.configuration),
    };
    let would_choose = match (choose, configuration) {
        (Some(words), _) => voice.get(words).to_owned(),
        (None, Some(configuration)) => configuration.canonical(),
        (None, None) => voice.fill("view.absent", &[("needle", &words_of(voice, school))]),
    };
    SchoolView {
        view: voice.get(view).into(),
        reason: voice.get(reason).into(),
        would_choose,
        configuration: configuration.map(Into::into),
        agreement: agreement.in_words(voice.language()),
    }
}

/// The needles a school admits, in words.
fn words_of(voice: Voice<'_>, school: &School) -> String {
    let keys: Vec<String> = school.forms.iter().map(|form| format!("form.{form}")).collect();
    let forms: Vec<&str> = keys.iter().map(|key| voice.get(key)).collect();
    let any = voice.get("view.needle");
    let mut words =
        if forms.is_empty() { any.to_owned() } else { forms.join(voice.get("view.or")) };
    if let Some([low, high]) = school.count {
        let values = [("forms", &*words), ("low", &low.to_string()), ("high", &high.to_string())];
        words = voice.fill("view.count", &values);
    }
    if let Some([low, high]) = school.diameter_mm {
        let values =
            [("needle", &*words), ("low", &size(voice, low)), ("high", &size(voice, high))];
        words = voice.fill("view.diameter", &values);
    }
    words
}
