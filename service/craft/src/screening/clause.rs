//! Whether one clause of a rule holds: yes, no, or not known.

use etui_schema::vocabulary::{Lab, Phototype};

use super::age;
use super::answers::{Slot, Tri};
use super::gate::Case;
use super::rule::{Clause, phototype_bit, sign_bit};
use super::rulebook::Rulebook;
use super::tone;

impl Rulebook {
    /// Whether a rule speaks of a skin's type or colour alone.
    #[must_use]
    pub fn is_tone_of_note(&self, phototype: Option<Phototype>, lab: Option<Lab>) -> bool {
        self.all_rules().iter().flat_map(|rule| &rule.clauses).any(|clause| {
            matches!(*clause, Clause::Tone { phototypes, ita_at_most }
                if dark(phototype, lab, phototypes, ita_at_most) == Tri::Yes)
        })
    }
}

pub(super) fn clause_holds(clause: &Clause, case: &Case<'_>) -> Tri {
    let sure = |holds| if holds { Tri::Yes } else { Tri::No };
    match *clause {
        Clause::Always => Tri::Yes,
        Clause::YoungerThan { years } => {
            sure(case.visit.age_day() < age::reaches(case.visit.born_on, years))
        }
        Clause::Chosen { question, mask } => match case.answers.slots[question] {
            Slot::Chosen(chosen) if chosen & mask != 0 => Tri::Yes,
            Slot::Chosen(_) if case.answers.is_open(question, mask) => Tri::Unknown,
            Slot::Chosen(_) => Tri::No,
            Slot::Empty | Slot::Day(_) | Slot::Number(_) => maybe(case, question),
        },
        Clause::Denied { question, mask } => match case.answers.slots[question] {
            Slot::Chosen(chosen) if chosen & mask != 0 => Tri::No,
            Slot::Chosen(_) if case.answers.is_open(question, mask) => Tri::Unknown,
            Slot::Chosen(_) => Tri::Yes,
            Slot::Empty | Slot::Day(_) | Slot::Number(_) => maybe(case, question),
        },
        Clause::In(country) => match case.visit.country {
            Some(here) => sure(here == country),
            None => Tri::Unknown,
        },
        Clause::AtLeast { question, limit } => match case.answers.slots[question] {
            Slot::Number(number) if limit <= number => Tri::Yes,
            Slot::Number(_) if case.answers.is_open(question, u32::MAX) => Tri::Unknown,
            Slot::Number(_) => Tri::No,
            Slot::Empty | Slot::Day(_) | Slot::Chosen(_) => maybe(case, question),
        },
        Clause::Above { question, limit } => match case.answers.slots[question] {
            Slot::Number(number) if limit < number => Tri::Yes,
            Slot::Number(_) if case.answers.is_open(question, u32::MAX) => Tri::Unknown,
            Slot::Number(_) => Tri::No,
            Slot::Empty | Slot::Day(_) | Slot::Chosen(_) => maybe(case, question),
        },
        Clause::Signs { mask } => {
            let signs = case.skin.map_or(&[][..], |skin| &skin.signs);
            sure(signs.iter().any(|sign| sign_bit(*sign) & mask != 0))
        }
        Clause::Tone { phototypes, ita_at_most } => {
            let (phototype, lab) =
                case.skin.map_or((None, None), |skin| (skin.phototype, skin.lab));
            dark(phototype, lab, phototypes, ita_at_most)
        }
    }
}

/// An empty answer leaves it open, unless the question does not arise.
fn maybe(case: &Case<'_>, question: usize) -> Tri {
    if case.answers.asked[question] == Tri::No { Tri::No } else { Tri::Unknown }
}

fn dark(phototype: Option<Phototype>, lab: Option<Lab>, mask: u32, ita_at_most: f64) -> Tri {
    let by_type = phototype.map(|phototype| phototype_bit(phototype) & mask != 0);
    let by_colour = lab.and_then(|lab| tone::ita_degrees(lab).ok()).map(|ita| ita <= ita_at_most);
    match (by_type, by_colour) {
        (None, None) => Tri::Unknown,
        (Some(true), _) | (_, Some(true)) => Tri::Yes,
        _ => Tri::No,
    }
}
