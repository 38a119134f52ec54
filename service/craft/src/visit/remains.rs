//! What is not un-said in passing.
//!
//! A keloid that a client told once does not go because a form comes without it,
//! and a treatment of last week did not become one of last year. Where what was
//! sent lacks what is kept and remains ([`Freshness`] has the list), the graver
//! answer counts: a yes, an option, the later of two days. It is put right in the
//! client's record, by whoever knows better. What may have ended since is taken
//! back by what was sent, and named ([`Weighed::withdrawn`]).

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::Span;
use jiff::civil::Date;

use super::freshness::{Freshness, HoldsFor, Implies, Lasted, Remains};
use super::{Kept, Said};
use crate::screening::answers::{self, Given};
use crate::screening::gate::Visit;
use crate::screening::question::{Kind, NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

/// What counts in place of an answer that was sent.
pub(super) struct Graver<'a> {
    /// The kept answer that it stands on.
    pub kept: Kept<'a>,
    /// The question whose sent answer it replaces.
    pub place: &'a str,
    /// What counts.
    pub said: Said,
}

/// What was told once, and taken back by what was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Withdrawn {
    /// The question's id.
    pub question: Arc<str>,
    /// What had been chosen; empty for a yes.
    pub options: Vec<Arc<str>>,
}

/// What is kept, held against what was sent.
#[derive(Default)]
pub(super) struct Weighed<'a> {
    /// What counts in place of what was sent.
    pub graver: Vec<Graver<'a>>,
    /// What of the kept answers asked for more, and was taken back.
    pub withdrawn: Vec<Withdrawn>,
}

impl Weighed<'_> {
    /// Of several kept answers that count in one place the first says it for all: every option, and
    /// the latest day.
    fn join(&mut self) {
        for first in 0..self.graver.len() {
            let (before, rest) = self.graver.split_at_mut(first + 1);
            let Some(one) = before.last_mut() else { continue };
            for other in rest.iter().filter(|other| other.place == one.place) {
                match (&mut one.said, &other.said) {
                    (Said::Choices(all), Said::Choices(more)) => {
                        let new = more.iter().filter(|id| !all.contains(id));
                        let new: Vec<String> = new.cloned().collect();
                        all.extend(new);
                    }
                    (Said::Text(day), Said::Text(other)) if *day < *other => day.clone_from(other),
                    _ => {}
                }
            }
        }
    }

    /// What counts in place of what was sent to a question.
    pub(super) fn graver(&self, id: &str) -> Option<Given<'_>> {
        self.graver.iter().find(|one| one.place == id).map(|one| one.said.given())
    }
}

/// Weighs every kept answer that was sent anew.
pub(super) fn weigh<'a>(
    book: &Rulebook,
    freshness: &Freshness,
    visit: &Visit,
    sent: &BTreeMap<&'a str, Given<'a>>,
    kept: &[Kept<'a>],
) -> Weighed<'a> {
    let scales = Scales { book, freshness, visit, kept };
    let mut found = Weighed::default();
    for one in kept {
        for row in freshness.implies().filter(|row| row.is_said_by(one.question, one.answer)) {
            found.graver.extend(implied(one, sent, row));
        }
        let Some(question) = super::find(book, one.question) else { continue };
        if !question.treatments.has(visit.treatment) {
            continue;
        }
        let Some(now) = sent.get(one.question) else { continue };
        let (said, withdrawn) = scales.weigh(question, one, *now);
        if let Some(said) = said {
            found.graver.push(Graver { kept: *one, place: one.question, said });
        }
        found.withdrawn.extend(withdrawn.map(|options| Withdrawn {
            question: one.question.into(),
            options: options.into_iter().map(Arc::from).collect(),
        }));
        let rows = freshness.lasted().filter(|row| row.question(&question.id));
        found.graver.extend(rows.filter_map(|row| scales.lasted(question, one, sent, row)));
    }
    found.join();
    found
}

/// What a kept answer says of another question, where the answer that was sent to it lacks it.
fn implied<'a>(
    kept: &Kept<'a>,
    sent: &BTreeMap<&'a str, Given<'a>>,
    row: &Implies,
) -> Option<Graver<'a>> {
    let (&place, now) = sent.get_key_value(&*row.says)?;
    let said = match (&row.option, *now) {
        (None, Given::YesNo(false)) => Said::Yes,
        (Some(option), Given::Choices(now)) if !now.contains(&option.to_string()) => {
            let now = now.iter().filter(|id| ***id != *NONE_OF_THESE).cloned();
            Said::Choices(now.chain([option.to_string()]).collect())
        }
        _ => return None,
    };
    Some(Graver { kept: *kept, place, said })
}

/// What becomes of one kept yes or option that was not sent again.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Fate {
    /// It counts.
    Remains,
    /// It was taken back.
    Withdrawn,
    /// It says nothing of this visit, or is over by its own day.
    Over,
}

struct Scales<'s, 'a> {
    book: &'s Rulebook,
    freshness: &'s Freshness,
    visit: &'s Visit,
    kept: &'s [Kept<'a>],
}

/// Whether what was told for another treatment is of this visit all the same, and lasts.
pub(super) fn stands_anywhere(
    (book, freshness): (&Rulebook, &Freshness),
    visit: &Visit,
    kept: &[Kept<'_>],
    (question, option, one): (&Question, Option<&str>, &Kept<'_>),
) -> bool {
    let scales = Scales { book, freshness, visit, kept };
    let mut rows = freshness.remains().filter(|row| row.is_anywhere && row.question(&question.id));
    rows.any(|row| {
        option.is_none_or(|option| row.option(option))
            && scales.lasts(row, scales.event(question, option).or(one.on))
    })
}

impl<'a> Scales<'_, 'a> {
    /// What counts instead of what was sent, and what was taken back: the options, or none of
    /// them for a yes.
    fn weigh(
        &self,
        question: &Question,
        kept: &Kept<'a>,
        now: Given<'a>,
    ) -> (Option<Said>, Option<Vec<&'a str>>) {
        match (&question.kind, kept.answer, now) {
            (Kind::YesNo, Given::YesNo(true), Given::YesNo(false)) => {
                let fate = self.fate(question, kept, None);
                let back = (fate == Fate::Withdrawn).then(Vec::new);
                ((fate == Fate::Remains).then_some(Said::Yes), back)
            }
            (Kind::Choice { options, clear }, Given::Text(told), Given::Text(now)) => {
                let is_clear = |id: &str| options.get(*clear).is_some_and(|c| *c.id == *id);
                if !is_clear(now) || is_clear(told) {
                    return (None, None);
                }
                let fate = self.fate(question, kept, Some(told));
                let said = (fate == Fate::Remains).then(|| Said::Text(told.to_owned()));
                (said, (fate == Fate::Withdrawn).then(|| vec![told]))
            }
            (Kind::Choices { .. }, Given::Choices(told), Given::Choices(now)) => {
                self.choices(question, kept, (told, now))
            }
            (Kind::Date { .. }, Given::Text(told), Given::Text(now)) => {
                (self.later(question, kept, (told, now)), None)
            }
            _ => (None, None),
        }
    }

    fn choices(
        &self,
        question: &Question,
        kept: &Kept<'a>,
        (told, now): (&'a [String], &[String]),
    ) -> (Option<Said>, Option<Vec<&'a str>>) {
        if now.is_empty() {
            // Nothing was ticked, so nothing was taken back: the question is open.
            return (None, None);
        }
        let offers = |id: &String| {
            let mut options = question.kind.options().iter();
            options.any(|o| *o.id == **id && o.treatments.has(self.visit.treatment))
        };
        let lost = told.iter().filter(|id| ***id != *NONE_OF_THESE && !now.contains(id));
        let lost = lost.filter(|id| offers(id) && !self.moved_on(question, id, now));
        let fates: Vec<(&'a String, Fate)> =
            lost.map(|id| (id, self.fate(question, kept, Some(id)))).collect();
        let of = |fate: Fate| fates.iter().filter(move |one| one.1 == fate);
        let remain: Vec<&String> = of(Fate::Remains).map(|one| one.0).collect();
        let back: Vec<&'a str> = of(Fate::Withdrawn).map(|one| one.0.as_str()).collect();
        let withdrawn = (!back.is_empty()).then_some(back);
        if remain.is_empty() {
            return (None, withdrawn);
        }
        let now = now.iter().filter(|id| ***id != *NONE_OF_THESE);
        (Some(Said::Choices(now.chain(remain).cloned().collect())), withdrawn)
    }

    /// The kept day, if it is the later one: a last event only moves forward.
    fn later(
        &self,
        question: &Question,
        kept: &Kept<'a>,
        (told, now): (&str, &str),
    ) -> Option<Said> {
        let holds = self.freshness.of(self.book, question, None).holds_for;
        let is_later = told.parse::<Date>().ok()? > now.parse::<Date>().ok()?;
        let counts = is_later
            && holds.may_hold(kept.treatment, self.visit.treatment)
            && self.freshness.remains().any(|row| row.question(&question.id))
            && answers::fits(question, self.visit, kept.answer);
        counts.then(|| Said::Text(told.to_owned()))
    }

    /// What was told to go on, on a day, had not ended before it: the day of its
    /// end that was sent moves on to that day.
    fn lasted(
        &self,
        question: &Question,
        kept: &Kept<'a>,
        sent: &BTreeMap<&'a str, Given<'a>>,
        row: &Lasted,
    ) -> Option<Graver<'a>> {
        let (&place, now) = sent.get_key_value(&*row.ended_on)?;
        let (Given::Text(now), Some(on)) = (*now, kept.on) else { return None };
        let ended = self.kept.iter().any(|one| one.question == place);
        let holds = self.freshness.of(self.book, question, None).holds_for;
        let asked = super::find(self.book, place)?;
        let said = on.to_string();
        let counts = row.is_told_by(kept.answer)
            && !ended
            && now.parse::<Date>().is_ok_and(|now| now < on)
            && holds.may_hold(kept.treatment, self.visit.treatment)
            && answers::fits(asked, self.visit, Given::Text(&said));
        counts.then_some(Graver { kept: *kept, place, said: Said::Text(said) })
    }

    fn fate(&self, question: &Question, kept: &Kept<'a>, option: Option<&str>) -> Fate {
        let rows = || {
            let rows = self.freshness.remains().filter(move |row| row.question(&question.id));
            rows.filter(move |row| option.is_none_or(|option| row.option(option)))
        };
        let holds = self.freshness.of(self.book, question, option).holds_for;
        let is_here = holds.may_hold(kept.treatment, self.visit.treatment);
        if !is_here && !rows().any(|row| row.is_anywhere) {
            return Fate::Over;
        }
        let event = self.event(question, option);
        if rows().any(|row| self.lasts(row, event.or(kept.on))) {
            return Fate::Remains;
        }
        let is_over =
            event.is_some() && rows().next().is_some() && !rows().any(|row| row.does_settle);
        if is_over || holds == HoldsFor::Visit { Fate::Over } else { Fate::Withdrawn }
    }

    /// Whether another option of a course was sent, such as one that has ended since.
    fn moved_on(&self, question: &Question, option: &str, now: &[String]) -> bool {
        let mut rows = self.freshness.remains().filter(|row| row.question(&question.id));
        let goes_on =
            |row: &Remains| row.course.iter().any(|one| now.iter().any(|id| **id == **one));
        rows.any(|row| row.option(option) && goes_on(row))
    }

    /// Whether what was kept still stands by a row; an unknown day is no end.
    fn lasts(&self, row: &Remains, since: Option<Date>) -> bool {
        let (Some(days), Some(since)) = (row.days, since) else { return true };
        self.visit.as_of <= since.saturating_add(Span::new().days(i64::from(days)))
    }

    /// The day that is kept of what was told: the latest that follows from it.
    fn event(&self, question: &Question, option: Option<&str>) -> Option<Date> {
        let at = self.book.question(&question.id)?;
        let bits = question.bits(option.map_or(Given::YesNo(true), Given::Text));
        let days = self.kept.iter().filter_map(|one| {
            let asked = super::find(self.book, one.question)?;
            let follows = asked.follows.is_some_and(|follows| follows.question == at);
            let dated = matches!(asked.kind, Kind::Date { .. });
            let Given::Text(day) = one.answer else { return None };
            let counts = follows && dated && asked.is_led_to_by(bits);
            day.parse().ok().filter(|_| counts)
        });
        days.max()
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
