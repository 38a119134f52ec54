//! Where the trade is split: each school with what it would choose.

use super::answer::{DifferingView, School as SchoolView};
use super::notes::{Occasion, admits};
use super::rules::{School, View};
use super::score::Traits;

/// The views that a request touches. `in_order` are the candidates, best
/// first, those set aside last: a school may prefer what this ranking refuses.
pub(super) fn differing(
    views: &[View],
    occasion: &Occasion<'_>,
    in_order: &[&Traits],
) -> Vec<DifferingView> {
    views
        .iter()
        .filter(|view| view.when.touches(occasion))
        .filter_map(|view| {
            let schools: Vec<_> =
                view.school.iter().map(|school| school_view(school, in_order)).collect();
            let available = schools.first().is_some_and(|s| s.configuration.is_some());
            (available || !view.when.only_if_available)
                .then(|| DifferingView { question: view.question.clone(), schools })
        })
        .collect()
}

fn school_view(school: &School, in_order: &[&Traits]) -> SchoolView {
    let School { view, reason, agreement, choose, forms, count, diameter_mm } = school;
    let configuration = match choose {
        Some(_) => None,
        None => in_order
            .iter()
            .find(|traits| admits(forms, *count, *diameter_mm, traits))
            .map(|traits| traits.configuration),
    };
    let would_choose = match (choose, configuration) {
        (Some(words), _) => words.to_string(),
        (None, Some(configuration)) => configuration.canonical(),
        (None, None) => format!("{}; none is among the candidates", words_of(school)),
    };
    SchoolView {
        view: view.clone(),
        reason: reason.clone(),
        would_choose,
        configuration: configuration.map(Into::into),
        agreement: agreement.clone(),
    }
}

/// The needles a school admits, in words.
fn words_of(school: &School) -> String {
    let forms: Vec<_> = school.forms.iter().map(|form| form.words()).collect();
    let mut words = if forms.is_empty() { "a needle".to_owned() } else { forms.join(" or ") };
    if let Some([low, high]) = school.count {
        words.push_str(&format!(" of {low} to {high}"));
    }
    if let Some([low, high]) = school.diameter_mm {
        words.push_str(&format!(", {low:.2} to {high:.2} mm"));
    }
    words
}
