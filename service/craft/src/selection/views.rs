//! Where the trade is split: each school with what it would choose.

use super::answer::{DifferingView, School as SchoolView};
use super::notes::{Occasion, admits};
use super::rules::{School, View};
use super::score::Traits;
use crate::configuration::Complete;
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
            let found: Vec<Option<Complete>> =
                view.school.iter().map(|school| found(school, in_order)).collect();
            // That one's needle is missing says something only beside one that is there.
            let is_told = found.iter().any(Option::is_some);
            let available = found.first().is_some_and(Option::is_some);
            let schools = view.school.iter().zip(found);
            let schools = schools.map(|(school, found)| school_view(voice, school, found, is_told));
            (available || !view.when.only_if_available).then(|| DifferingView {
                question: voice.get(&view.question).into(),
                schools: schools.collect(),
            })
        })
        .collect()
}

/// The best of the candidates that a school would take.
fn found(school: &School, in_order: &[&Traits]) -> Option<Complete> {
    let School { choose, forms, count, diameter_mm, .. } = school;
    let admitted = |traits: &&&Traits| admits(forms, *count, *diameter_mm, traits);
    let best = in_order.iter().find(admitted).filter(|_| choose.is_none());
    best.map(|traits| traits.configuration)
}

fn school_view(
    voice: Voice<'_>,
    school: &School,
    found: Option<Complete>,
    is_told: bool,
) -> SchoolView {
    let School { view, reason, agreement, choose, takes, .. } = school;
    let words = choose.as_ref().or(takes.as_ref()).map_or("", |key| voice.get(key));
    let would_choose = match found {
        Some(configuration) => configuration.canonical(),
        None if is_told && choose.is_none() => voice.fill("view.absent", &[("takes", words)]),
        None => words.to_owned(),
    };
    SchoolView {
        view: voice.get(view).into(),
        reason: voice.get(reason).into(),
        would_choose,
        configuration: found.map(Into::into),
        agreement: agreement.in_words(voice.language()),
    }
}
