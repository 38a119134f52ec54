//! What becomes of each kept answer: counts, is asked again, is left out.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::Date;

use super::freshness::Freshness;
use super::remains::{self, Weighed};
use super::{Kept, State};
use crate::screening::answers::{Given, Reopened};
use crate::screening::gate::Visit;
use crate::screening::question::{Choice, Kind, NONE_OF_THESE, Question};
use crate::screening::rulebook::Rulebook;

/// What becomes of one kept answer.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judged {
    pub state: State,
    /// Whether a rule may see it.
    pub counts: bool,
    /// The options that count, where some do not.
    chosen: Option<Vec<String>>,
    /// What of it is open again.
    pub reopened: Option<Reopened>,
    /// What it opens of the answer that it follows.
    pub reopens: Option<Reopened>,
    /// The options that are open again.
    pub open: Vec<Arc<str>>,
    pub good_until: Option<Date>,
}

impl Judged {
    const fn dropped(state: State) -> Self {
        Self {
            state,
            counts: false,
            chosen: None,
            reopened: None,
            reopens: None,
            open: Vec::new(),
            good_until: None,
        }
    }

    pub(super) const fn not_used() -> Self {
        Self::dropped(State::NotUsed)
    }

    fn used(good_until: Option<Date>) -> Self {
        Self { counts: true, good_until, ..Self::dropped(State::Used) }
    }

    /// What of the answer counts.
    pub(super) fn answer<'a>(&'a self, whole: Given<'a>) -> Given<'a> {
        self.chosen.as_deref().map_or(whole, Given::Choices)
    }
}

/// How far a kept answer is one of the visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Place {
    /// It is.
    Here,
    /// Nobody said for which area, or what it follows was told anew: a risk speaks and is asked
    /// again, and nothing reassures.
    Perhaps,
    /// It is of another area.
    Elsewhere,
}

/// What the answers are held against.
struct Bench<'a> {
    book: &'a Rulebook,
    freshness: &'a Freshness,
    visit: &'a Visit,
    weighed: &'a Weighed<'a>,
    kept: &'a [Kept<'a>],
}

/// Judges every kept answer that was not sent anew, in the order of the
/// questions, so that an answer is judged before those that follow it.
pub(super) fn all<'a>(
    (book, freshness): (&'a Rulebook, &Freshness),
    visit: &Visit,
    (sent, weighed): (&BTreeMap<&str, Given<'_>>, &Weighed<'_>),
    kept: &[Kept<'a>],
) -> Vec<(Kept<'a>, Judged)> {
    let bench = Bench { book, freshness, visit, weighed, kept };
    let unsent = kept.iter().filter(|one| !sent.contains_key(one.question));
    let mut ordered: Vec<Kept<'a>> = unsent.copied().collect();
    // Of several answers to a question that which says most of this visit comes first, and of two
    // that say as much the one that was told last.
    ordered.sort_by_cached_key(|one| {
        (book.question(one.question), one.question, Reverse((bench.says(one), one.on)))
    });
    let mut judged: Vec<(Kept<'a>, Judged)> = Vec::with_capacity(ordered.len());
    for told in ordered.chunk_by(|one, next| one.question == next.question) {
        if let [one, others @ ..] = told {
            let verdict = bench.judge((one, others), sent, &judged);
            judged.push((*one, verdict));
        }
    }
    judged
}

/// The last day on which an answer reassures; `None` if it does not age.
pub(super) fn lasts(
    book: &Rulebook,
    freshness: &Freshness,
    visit: &Visit,
    question: &Question,
    (given, on): (Given<'_>, Date),
) -> Option<Date> {
    let whole = || Some(freshness.of(book, question, None).until(on));
    match (&question.kind, given) {
        (Kind::YesNo, Given::YesNo(false)) | (Kind::Number { .. }, _) => whole(),
        (Kind::Choice { options, clear }, Given::Text(id)) => {
            options.get(*clear).filter(|clear| *clear.id == *id).and_then(|_| whole())
        }
        (Kind::Choices { .. }, Given::Choices(list)) => offered(question, visit)
            .filter(|(_, option)| !list.iter().any(|id| **id == *option.id))
            .map(|(_, option)| freshness.of(book, question, Some(&option.id)).until(on))
            .min(),
        (Kind::Date { .. }, given) => {
            let row = freshness.row(&question.id, None).map(|row| row.until(on));
            let before = planned(given, on).and_then(|day| day.yesterday().ok());
            row.into_iter().chain(before).min()
        }
        (Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. }, _) => None,
    }
}

/// A day that lay ahead when it was told: what is planned has not happened.
fn planned(given: Given<'_>, on: Date) -> Option<Date> {
    let Given::Text(day) = given else { return None };
    day.parse().ok().filter(|day| on < *day)
}

/// The options that a visit offers, with their bits.
fn offered<'q>(
    question: &'q Question,
    visit: &Visit,
) -> impl Iterator<Item = (u32, &'q Choice)> + use<'q> {
    let treatment = visit.treatment;
    let options = question.kind.options().iter().enumerate();
    options
        .filter(move |(_, option)| option.treatments.has(treatment))
        .filter(|(_, option)| *option.id != *NONE_OF_THESE)
        .map(|(bit, option)| (1 << bit, option))
}

/// How much a kept answer says of a visit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Says {
    /// Nothing.
    Nothing,
    /// It is of another area.
    Elsewhere,
    /// Nobody said of which area it is, and it is no risk.
    Perhaps,
    /// It is of this visit, and no risk or one of a list.
    Here,
    /// A risk, and nobody said of which area.
    PerhapsRisk,
    /// A risk.
    Risk,
}

impl Bench<'_> {
    fn says(&self, kept: &Kept<'_>) -> Says {
        let Some(question) = super::find(self.book, kept.question) else { return Says::Nothing };
        let is_risk = match (&question.kind, kept.answer) {
            (_, Given::Choices([])) => return Says::Nothing,
            (Kind::Choice { options, clear }, Given::Text(id)) => {
                options.get(*clear).is_none_or(|clear| *clear.id != *id)
            }
            (_, answer) => answer == Given::YesNo(true),
        };
        match (self.place(question, None, kept, false), is_risk) {
            (Place::Here, true) => Says::Risk,
            (Place::Here, false) => Says::Here,
            (Place::Perhaps, true) => Says::PerhapsRisk,
            (Place::Perhaps, false) => Says::Perhaps,
            (Place::Elsewhere, _) => Says::Elsewhere,
        }
    }

    fn judge(
        &self,
        (kept, others): (&Kept<'_>, &[Kept<'_>]),
        sent: &BTreeMap<&str, Given<'_>>,
        before: &[(Kept<'_>, Judged)],
    ) -> Judged {
        let Some(question) = super::find(self.book, kept.question) else {
            return Judged::not_used();
        };
        if !question.treatments.has(self.visit.treatment) {
            return Judged::dropped(State::NotAsked);
        }
        let is_retold = match self.follows(question, sent, before) {
            Ok(is_retold) => is_retold,
            Err(state) => return Judged::dropped(state),
        };
        let place = |option: Option<&str>| self.place(question, option, kept, is_retold);
        let good_until = kept.on.and_then(|on| {
            lasts(self.book, self.freshness, self.visit, question, (kept.answer, on))
        });
        match (&question.kind, kept.answer) {
            (Kind::Choices { .. }, Given::Choices(list)) => {
                self.choices(question, (kept, others), (list, is_retold), good_until)
            }
            (Kind::Date { .. }, _) => self.day(question, kept, place(None), good_until),
            (Kind::Number { .. }, _) => self.number(question, place(None), good_until),
            (Kind::Choice { options, clear }, Given::Text(id)) => {
                let is_clear = options.get(*clear).is_some_and(|clear| *clear.id == *id);
                self.plain(question, place(None), is_clear, good_until)
            }
            (Kind::YesNo, Given::YesNo(yes)) => self.plain(question, place(None), !yes, good_until),
            // Of another kind than the question: reading finds it.
            (Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. }, _) => Judged::used(None),
        }
    }

    /// Whether what a follow-up follows was told anew, so that it is asked anew; or why it has lost
    /// it.
    fn follows(
        &self,
        question: &Question,
        sent: &BTreeMap<&str, Given<'_>>,
        before: &[(Kept<'_>, Judged)],
    ) -> Result<bool, State> {
        let parent = question.follows.and_then(|it| self.book.all_questions().get(it.question));
        let Some(parent) = parent else { return Ok(false) };
        if let Some(given) = sent.get(&*parent.id) {
            let leads = question.is_led_to_by(parent.bits(*given));
            let restored = self.weighed.graver(&parent.id);
            let is_restored = restored.is_some_and(|g| question.is_led_to_by(parent.bits(g)));
            // A figure that nobody has to give again.
            let is_figure = question.optional && matches!(question.kind, Kind::Number { .. });
            return match (leads, is_restored) {
                (true, _) => Ok(!is_figure),
                // It follows what remains.
                (false, true) => Ok(false),
                (false, false) => Err(State::NotUsed),
            };
        }
        let found = before.iter().find(|(kept, _)| *kept.question == *parent.id);
        let counts = found.is_some_and(|(kept, judged)| {
            judged.counts && question.is_led_to_by(parent.bits(judged.answer(kept.answer)))
        });
        // One that contradicts what is kept beside it is found by reading.
        let contradicts = found.is_some_and(|(_, judged)| judged.state == State::Used);
        if counts || contradicts { Ok(false) } else { Err(State::Stale) }
    }

    fn place(
        &self,
        question: &Question,
        option: Option<&str>,
        kept: &Kept<'_>,
        is_retold: bool,
    ) -> Place {
        let holds_for = self.freshness.of(self.book, question, option).holds_for;
        let (asked_for, visit) = (kept.treatment, self.visit.treatment);
        match (holds_for.holds(asked_for, visit), holds_for.may_hold(asked_for, visit)) {
            (true, _) if !is_retold => Place::Here,
            (_, true) => Place::Perhaps,
            (_, false) if self.is_anywhere(question, option, kept) => Place::Perhaps,
            (_, false) if !is_retold && self.is_day_of_that(question, kept) => Place::Here,
            (_, false) => Place::Elsewhere,
        }
    }

    /// Whether an answer tells of a risk that counts wherever it was told.
    fn is_anywhere(&self, question: &Question, option: Option<&str>, kept: &Kept<'_>) -> bool {
        let rules = (self.book, self.freshness);
        let is_risk = match (option, kept.answer) {
            (Some(option), Given::Choices(told)) => told.iter().any(|id| **id == *option),
            (None, answer) => answer == Given::YesNo(true),
            (Some(_), _) => false,
        };
        is_risk && remains::stands_anywhere(rules, self.visit, self.kept, (question, option, kept))
    }

    /// Whether it is the day of what was told with it and counts wherever it was told, and nothing
    /// of the kind was told for another treatment, whose day it is not.
    fn is_day_of_that(&self, question: &Question, kept: &Kept<'_>) -> bool {
        let follows = question.follows.filter(|_| matches!(question.kind, Kind::Date { .. }));
        let parent = follows.and_then(|it| self.book.all_questions().get(it.question));
        let Some(parent) = parent else { return false };
        let leads = |one: &&Kept<'_>| {
            *one.question == *parent.id && question.is_led_to_by(parent.bits(one.answer))
        };
        let mut told = self.kept.iter().filter(leads);
        let (Some(one), None) = (told.next(), told.next()) else { return false };
        let mut options =
            parent.kind.options().iter().map(|option| Some(&*option.id)).chain([None]);
        one.treatment == kept.treatment
            && options.any(|option| {
                let bits = parent.bits(option.map_or(Given::YesNo(true), Given::Text));
                question.is_led_to_by(bits) && self.is_anywhere(parent, option, one)
            })
    }

    fn aged(&self, good_until: Option<Date>) -> bool {
        good_until.is_none_or(|until| until < self.visit.on)
    }

    /// A yes or a no, or one option.
    fn plain(
        &self,
        question: &Question,
        place: Place,
        is_clear: bool,
        good_until: Option<Date>,
    ) -> Judged {
        match place {
            Place::Here if !is_clear || !self.aged(good_until) => Judged::used(good_until),
            Place::Perhaps if !is_clear => self.asked_again(question),
            // Nobody has to answer the question, so a risk of another area would be lost in silence.
            Place::Elsewhere if question.optional && !is_clear => Judged::used(good_until),
            Place::Here | Place::Perhaps | Place::Elsewhere => Judged::dropped(State::Stale),
        }
    }

    /// What speaks as a risk, and is asked again.
    fn asked_again(&self, question: &Question) -> Judged {
        let reopened = self.reopened(question, u32::MAX);
        Judged { state: State::Stale, reopened, ..Judged::used(None) }
    }

    fn number(&self, question: &Question, place: Place, good_until: Option<Date>) -> Judged {
        match place {
            Place::Here if !self.aged(good_until) => Judged::used(good_until),
            Place::Elsewhere if !question.optional => Judged::dropped(State::Stale),
            Place::Here | Place::Perhaps | Place::Elsewhere => {
                Judged { good_until, ..self.asked_again(question) }
            }
        }
    }

    /// A told day. It ages only where it says that something is over, or where it lay ahead and has
    /// come; then the question it belongs to is open again.
    fn day(
        &self,
        question: &Question,
        kept: &Kept<'_>,
        place: Place,
        good_until: Option<Date>,
    ) -> Judged {
        let used = Judged::used(good_until);
        match place {
            // A day may reassure.
            Place::Elsewhere | Place::Perhaps => return Judged::dropped(State::Stale),
            Place::Here => {}
        }
        let lasts = match kept.on.and_then(|on| planned(kept.answer, on)) {
            Some(day) => self.visit.as_of < day,
            None => self.freshness.row(&question.id, None).is_none() || !self.aged(good_until),
        };
        if lasts {
            return used;
        }
        let parent = question.follows.and_then(|follows| {
            let parent = self.book.all_questions().get(follows.question)?;
            self.reopened(parent, parent.bits_like(question))
        });
        Judged { state: State::Stale, reopens: parent, ..used }
    }

    fn choices(
        &self,
        question: &Question,
        (kept, others): (&Kept<'_>, &[Kept<'_>]),
        (list, is_retold): (&[String], bool),
        good_until: Option<Date>,
    ) -> Judged {
        if list.is_empty() {
            // Nobody ticked anything, not even that none applies.
            return Judged::dropped(State::Stale);
        }
        let (mut chosen, mut open, mut bits) = (Vec::new(), Vec::new(), 0);
        let known = |id: &String| question.kind.options().iter().any(|option| *option.id == **id);
        for (bit, option) in offered(question, self.visit) {
            let place = self.place(question, Some(&option.id), kept, is_retold);
            let is_chosen = list.iter().any(|id| **id == *option.id);
            let speaks = is_chosen && place != Place::Elsewhere;
            // What was told for another treatment may be of this one too.
            let is_told_beside = !speaks
                && others.iter().any(|other| {
                    matches!(other.answer, Given::Choices(told) if told.iter().any(|id| **id == *option.id))
                        && self.place(question, Some(&option.id), other, is_retold)
                            != Place::Elsewhere
                });
            if speaks || is_told_beside {
                chosen.push(option.id.to_string());
            }
            let settles = place == Place::Here
                && (speaks || self.rules_out(question, option, kept))
                && !is_told_beside;
            if !settles {
                open.push(option.id.clone());
                bits |= bit;
            }
        }
        if !list.iter().all(known) {
            // Reading finds what is no option.
            return Judged::used(good_until);
        }
        if open.is_empty() {
            // What this visit does not offer is no answer to it.
            let offers = |id: &String| chosen.contains(id) || **id == *NONE_OF_THESE;
            let chosen = (!list.iter().all(offers)).then_some(chosen);
            return Judged { chosen, ..Judged::used(good_until) };
        }
        let counts = !chosen.is_empty();
        Judged {
            counts,
            chosen: counts.then_some(chosen),
            reopened: if counts { self.reopened(question, bits) } else { None },
            open,
            good_until: None,
            ..Judged::dropped(State::Stale)
        }
    }

    /// Whether an option that was not chosen is still known not to be so.
    fn rules_out(&self, question: &Question, option: &Choice, kept: &Kept<'_>) -> bool {
        let was_offered = match kept.treatment {
            Some(told) => option.treatments.has(told),
            None => option.treatments == crate::screening::question::Treatments::ALL,
        };
        let holds = self.freshness.of(self.book, question, Some(&option.id));
        let until = kept.on.map(|on| holds.until(on));
        was_offered && !self.aged(until)
    }

    fn reopened(&self, question: &Question, bits: u32) -> Option<Reopened> {
        let question = self.book.question(&question.id)?;
        Some(Reopened { question, bits })
    }
}
