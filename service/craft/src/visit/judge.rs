//! What becomes of each kept answer: counts, is asked again, is left out.

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::Date;

use super::freshness::{Freshness, Holds};
use super::remains::Weighed;
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

/// What the answers are held against.
struct Bench<'a> {
    book: &'a Rulebook,
    freshness: &'a Freshness,
    visit: &'a Visit,
    weighed: &'a Weighed<'a>,
}

/// Judges every kept answer that was not sent anew, in the order of the
/// questions, so that an answer is judged before those that follow it.
pub(super) fn all<'a>(
    (book, freshness): (&'a Rulebook, &Freshness),
    visit: &Visit,
    (sent, weighed): (&BTreeMap<&str, Given<'_>>, &Weighed<'_>),
    kept: &[Kept<'a>],
) -> Vec<(Kept<'a>, Judged)> {
    let bench = Bench { book, freshness, visit, weighed };
    let mut ordered: Vec<Kept<'a>> = Vec::with_capacity(kept.len());
    for one in kept.iter().filter(|one| !sent.contains_key(one.question)) {
        // Told twice: what was told last counts.
        match ordered.iter_mut().find(|other| other.question == one.question) {
            Some(other) if other.on <= one.on => *other = *one,
            Some(_) => {}
            None => ordered.push(*one),
        }
    }
    ordered.sort_by_key(|one| book.question(one.question));
    let mut judged: Vec<(Kept<'a>, Judged)> = Vec::with_capacity(ordered.len());
    for one in ordered {
        let verdict = bench.judge(&one, sent, &judged);
        judged.push((one, verdict));
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
        (Kind::Date { .. }, _) => freshness.row(&question.id, None).map(|row| row.until(on)),
        (Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. }, _) => None,
    }
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

impl Bench<'_> {
    fn judge(
        &self,
        kept: &Kept<'_>,
        sent: &BTreeMap<&str, Given<'_>>,
        before: &[(Kept<'_>, Judged)],
    ) -> Judged {
        let Some(question) = super::find(self.book, kept.question) else {
            return Judged::not_used();
        };
        if !question.treatments.has(self.visit.treatment) {
            return Judged::dropped(State::NotAsked);
        }
        if let Some(state) = self.lost(question, sent, before) {
            return Judged::dropped(state);
        }
        let good_until = kept.on.and_then(|on| {
            lasts(self.book, self.freshness, self.visit, question, (kept.answer, on))
        });
        match (&question.kind, kept.answer) {
            (Kind::Choices { .. }, Given::Choices(list)) => {
                self.choices(question, kept, list, good_until)
            }
            (Kind::Date { .. }, _) => self.day(question, kept, good_until),
            (Kind::Number { .. }, _) => self.number(question, kept, good_until),
            (Kind::Choice { options, clear }, Given::Text(id)) => {
                let is_clear = options.get(*clear).is_some_and(|clear| *clear.id == *id);
                self.plain(question, kept, is_clear, good_until)
            }
            (Kind::YesNo, Given::YesNo(yes)) => self.plain(question, kept, !yes, good_until),
            // Of another kind than the question: reading finds it.
            (Kind::YesNo | Kind::Choice { .. } | Kind::Choices { .. }, _) => Judged::used(None),
        }
    }

    /// Why a follow-up has lost the answer that it follows.
    fn lost(
        &self,
        question: &Question,
        sent: &BTreeMap<&str, Given<'_>>,
        before: &[(Kept<'_>, Judged)],
    ) -> Option<State> {
        let parent = self.book.all_questions().get(question.follows?.question)?;
        if let Some(given) = sent.get(&*parent.id) {
            // Told anew, so what follows from it is asked anew.
            let leads = question.is_led_to_by(parent.bits(*given));
            let restored = self.weighed.graver(&parent.id);
            let is_restored = restored.is_some_and(|g| question.is_led_to_by(parent.bits(g)));
            // It follows what remains, or it is a figure that nobody has to give again.
            let is_figure = question.optional && matches!(question.kind, Kind::Number { .. });
            if leads && is_figure || !leads && is_restored {
                return None;
            }
            return Some(if leads { State::Stale } else { State::NotUsed });
        }
        let found = before.iter().find(|(kept, _)| *kept.question == *parent.id);
        let counts = found.is_some_and(|(kept, judged)| {
            judged.counts && question.is_led_to_by(parent.bits(judged.answer(kept.answer)))
        });
        // One that contradicts what is kept beside it is found by reading.
        let contradicts = found.is_some_and(|(_, judged)| judged.state == State::Used);
        (!counts && !contradicts).then_some(State::Stale)
    }

    fn holds(&self, question: &Question, option: Option<&str>, kept: &Kept<'_>) -> Option<Holds> {
        let holds = self.freshness.of(self.book, question, option);
        holds.holds_for.holds(kept.treatment, self.visit.treatment).then_some(holds)
    }

    fn aged(&self, good_until: Option<Date>) -> bool {
        good_until.is_none_or(|until| until < self.visit.on)
    }

    /// A yes or a no, or one option.
    fn plain(
        &self,
        question: &Question,
        kept: &Kept<'_>,
        is_clear: bool,
        good_until: Option<Date>,
    ) -> Judged {
        let reassures = !self.aged(good_until);
        let holds = self.holds(question, None, kept).is_some();
        if (is_clear && !reassures) || (!holds && !Self::stays(question, is_clear)) {
            return Judged::dropped(State::Stale);
        }
        Judged::used(good_until)
    }

    /// Whether a risk stays although it was told of another area: nobody has to
    /// answer the question, so it would be lost in silence.
    const fn stays(question: &Question, is_clear: bool) -> bool {
        question.optional && !is_clear
    }

    fn number(&self, question: &Question, kept: &Kept<'_>, good_until: Option<Date>) -> Judged {
        let holds = self.holds(question, None, kept).is_some();
        if !holds && !Self::stays(question, false) {
            return Judged::dropped(State::Stale);
        }
        let used = Judged::used(good_until);
        if holds && !self.aged(good_until) {
            return used;
        }
        let reopened = self.reopened(question, u32::MAX);
        Judged { state: State::Stale, reopened, ..used }
    }

    /// A told day. It ages only where it says that something is over; then the
    /// question it belongs to is open again.
    fn day(&self, question: &Question, kept: &Kept<'_>, good_until: Option<Date>) -> Judged {
        if self.holds(question, None, kept).is_none() {
            return Judged::dropped(State::Stale);
        }
        let used = Judged::used(good_until);
        if self.freshness.row(&question.id, None).is_none() || !self.aged(good_until) {
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
        kept: &Kept<'_>,
        list: &[String],
        good_until: Option<Date>,
    ) -> Judged {
        if list.is_empty() {
            // Nobody ticked anything, not even that none applies.
            return Judged::dropped(State::Stale);
        }
        let (mut chosen, mut open, mut bits) = (Vec::new(), Vec::new(), 0);
        let known = |id: &String| question.kind.options().iter().any(|option| *option.id == **id);
        for (bit, option) in offered(question, self.visit) {
            let holds = self.holds(question, Some(&option.id), kept);
            let is_chosen = list.iter().any(|id| **id == *option.id);
            if is_chosen && holds.is_some() {
                chosen.push(option.id.to_string());
            } else if is_chosen || !self.rules_out(option, holds, kept) {
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
    fn rules_out(&self, option: &Choice, holds: Option<Holds>, kept: &Kept<'_>) -> bool {
        let was_offered = match kept.treatment {
            Some(told) => option.treatments.has(told),
            None => option.treatments == crate::screening::question::Treatments::ALL,
        };
        let until = kept.on.and_then(|on| holds.map(|holds| holds.until(on)));
        was_offered && !self.aged(until)
    }

    fn reopened(&self, question: &Question, bits: u32) -> Option<Reopened> {
        let question = self.book.question(&question.id)?;
        Some(Reopened { question, bits })
    }
}
