//! What is not un-said in passing.
//!
//! A keloid that a client told once does not go because a form comes without it.
//! Where what was sent lacks what is kept and remains ([`Freshness`] has the
//! list), the graver answer counts. It is put right in the client's record, by
//! whoever knows better.

use std::collections::BTreeMap;

use jiff::Span;

use super::freshness::{Freshness, Remains};
use super::{Kept, Said};
use crate::screening::answers::Given;
use crate::screening::gate::Visit;
use crate::screening::question::{Kind, NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

/// The answers that count in place of what was sent, each with the kept one.
pub(super) fn graver<'a>(
    book: &Rulebook,
    freshness: &Freshness,
    visit: &Visit,
    sent: &BTreeMap<&'a str, Given<'a>>,
    kept: &[Kept<'a>],
) -> Vec<(Kept<'a>, Said)> {
    let one = |kept: &Kept<'a>| {
        let now = *sent.get(kept.question)?;
        let question = super::find(book, kept.question)?;
        let holds = freshness.of(book, question, None).holds_for;
        if !question.treatments.has(visit.treatment)
            || !holds.holds(kept.treatment, visit.treatment)
        {
            return None;
        }
        let remains = freshness.remains().filter(|row| row.question(&question.id));
        let said = remains.filter(|row| lasts(row, kept, visit)).fold(None, |said, row| {
            let now = said.as_ref().map_or(now, Said::given);
            graver_by(row, question, visit, (kept.answer, now)).or(said)
        });
        said.map(|said| (*kept, said))
    };
    kept.iter().filter_map(one).collect()
}

/// Whether what was kept still stands by a row; an unknown day is no end.
fn lasts(row: &Remains, kept: &Kept<'_>, visit: &Visit) -> bool {
    let until =
        |on: jiff::civil::Date, days: u16| on.saturating_add(Span::new().days(i64::from(days)));
    match (row.days, kept.on) {
        (Some(days), Some(on)) => visit.as_of <= until(on, days),
        (None, _) | (_, None) => true,
    }
}

/// What counts by one row; `None` if what was sent is as grave.
fn graver_by(
    row: &Remains,
    question: &Question,
    visit: &Visit,
    (kept, sent): (Given<'_>, Given<'_>),
) -> Option<Said> {
    match (&question.kind, kept, sent) {
        (Kind::YesNo, Given::YesNo(true), Given::YesNo(false)) => Some(Said::Yes),
        (Kind::Choice { options, clear }, Given::Text(told), Given::Text(now)) => {
            let is_clear = options.get(*clear).is_some_and(|clear| *clear.id == *now);
            (row.option(told) && is_clear).then(|| Said::Text(told.to_owned()))
        }
        (Kind::Choices { .. }, Given::Choices(told), Given::Choices(now)) => {
            let has_one = || now.iter().any(|id| row.option(id));
            if row.days.is_some() && has_one() {
                return None;
            }
            let offers = |id: &String| {
                question
                    .kind
                    .options()
                    .iter()
                    .any(|option| *option.id == **id && option.treatments.has(visit.treatment))
            };
            let lost = told.iter().filter(|id| ***id != *NONE_OF_THESE && row.option(id));
            let lost: Vec<&String> = lost.filter(|id| offers(id) && !now.contains(id)).collect();
            if lost.is_empty() {
                return None;
            }
            let now = now.iter().filter(|id| ***id != *NONE_OF_THESE);
            Some(Said::Choices(now.chain(lost).cloned().collect()))
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use etui_schema::vocabulary::Treatment;
    use jiff::civil::date;

    use super::super::{State, Voices, gather};
    use super::*;
    use crate::evidence::Register;

    fn list(options: &[&str]) -> Vec<String> {
        options.iter().map(|&option| option.to_owned()).collect()
    }

    /// What is a matter of a lifetime, and for how long the rest counts: our own.
    #[test]
    fn a_keloid_is_not_un_said_by_a_form_without_it() {
        let register = Register::builtin().unwrap();
        let book = Rulebook::builtin(&register).unwrap();
        let freshness = Freshness::builtin(&register).unwrap();
        let on = date(2027, 3, 18);
        let (treatment, born_on) = (Treatment::Brows, date(1990, 6, 15));
        let visit = Visit { treatment, on, on_in_studio: on, as_of: on, born_on, country: None };
        let (none, keloid) = (list(&[NONE_OF_THESE]), list(&["keloid"]));
        let (lupus, now) = (list(&["lupus"]), list(&["chemotherapy_now"]));
        let past = list(&["chemotherapy_past_year"]);
        let glaucoma = list(&["glaucoma"]);
        let choices = Given::Choices;
        for (question, kept, days_ago, sent, counts) in [
            ("skin_history", choices(&keloid), Some(700), choices(&none), true),
            ("skin_history", choices(&keloid), None, choices(&lupus), true),
            ("skin_history", choices(&keloid), Some(1), choices(&keloid), false),
            ("skin_history", choices(&none), Some(1), choices(&keloid), false),
            ("nickel_allergy", Given::YesNo(true), Some(9), Given::YesNo(false), true),
            ("pregnant", Given::YesNo(true), Some(9), Given::YesNo(false), false),
            ("isotretinoin", Given::Text("now"), Some(365), Given::Text("never"), true),
            ("isotretinoin", Given::Text("now"), Some(366), Given::Text("never"), false),
            ("isotretinoin", Given::Text("now"), Some(9), Given::Text("stopped"), false),
            ("cancer_treatment", choices(&now), Some(9), choices(&none), true),
            ("cancer_treatment", choices(&now), Some(9), choices(&past), false),
            // Asked for eyeliner alone.
            ("eyes", choices(&glaucoma), Some(9), choices(&none), false),
        ] {
            let said_on = days_ago.map(|days: i64| on.saturating_sub(Span::new().days(days)));
            let kept = [Kept { question, answer: kept, on: said_on, treatment: Some(treatment) }];
            let sent = [(question, sent)];
            let voices = Voices { sent: &sent, kept: &kept, ..Voices::default() };
            let Ok(found) = gather(&book, &freshness, &visit, &voices) else { continue };
            let is_named = found.heard.iter().any(|one| one.state == State::Contradicts);
            assert_eq!(is_named, counts, "{kept:?} and then {sent:?}");
        }
    }
}
