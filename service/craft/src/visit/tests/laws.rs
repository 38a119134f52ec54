//! The law of this room: who knows less of a record is told no more lenient things.

use etui_schema::vocabulary::{Treatment, Verdict};
use jiff::Span;
use proptest::prelude::*;

use super::super::State;
use super::{ON, Stored, Value, ago, assess, hear, loaded, none, open_questions, said, visit};
use crate::screening::answers::Given;
use crate::screening::gate::Visit;
use crate::screening::question::{Kind, NONE_OF_THESE, Question, Stage};

/// A source of choices that proptest can shrink.
#[derive(Debug, Clone)]
struct Dice(Vec<u32>);

impl Dice {
    fn roll(&mut self, sides: u32) -> u32 {
        self.0.pop().unwrap_or(0) % sides
    }

    fn pick<'t, T>(&mut self, all: &'t [T]) -> &'t T {
        &all[self.roll(u32::try_from(all.len()).unwrap()) as usize]
    }
}

fn any_value(question: &Question, dice: &mut Dice) -> Value {
    match &question.kind {
        Kind::YesNo => Value::YesNo(dice.roll(5) == 1),
        Kind::Choice { options, .. } => Value::Text(dice.pick(options).id.to_string()),
        Kind::Choices { options } => {
            let some = options.iter().filter(|option| &*option.id != NONE_OF_THESE);
            let ticked: Vec<String> =
                some.filter(|_| dice.roll(12) == 1).map(|option| option.id.to_string()).collect();
            if ticked.is_empty() { none() } else { Value::List(ticked) }
        }
        Kind::Date { .. } => Value::Text(ago(i64::from(dice.roll(500))).unwrap().to_string()),
        Kind::Number { min, max, .. } => {
            Value::Number(min + (max - min) * f64::from(dice.roll(101)) / 100.0)
        }
    }
}

/// The answer under which nothing speaks.
fn clear(question: &Question) -> Value {
    match &question.kind {
        Kind::Choice { options, clear } => Value::Text(options[*clear].id.to_string()),
        Kind::Choices { .. } => none(),
        Kind::YesNo | Kind::Date { .. } | Kind::Number { .. } => Value::YesNo(false),
    }
}

/// A record as callers make them: most answers of one form, some of others, some
/// that fit nothing.
fn any_record(treatment: Treatment, dice: &mut Dice) -> Vec<Stored> {
    let mut record = Vec::new();
    for question in loaded().0.all_questions() {
        if dice.roll(16) == 1 {
            continue;
        }
        let value = any_value(question, dice);
        let on =
            if dice.roll(20) == 1 { None } else { ago(i64::from(dice.roll(5) * dice.roll(90))) };
        let asked_for = match dice.roll(12) {
            1 => None,
            2 => Some(*dice.pick(Treatment::ALL)),
            _ => Some(treatment),
        };
        let id = &question.id;
        record.push(Stored { question: id.to_string(), value, on, treatment: asked_for });
        // What was answered for another treatment stands beside it.
        let other = Some(*dice.pick(Treatment::ALL));
        let (book, freshness) = loaded();
        if dice.roll(4) == 1 && !freshness.is_one_place(book, id, (asked_for, other)) {
            let value = any_value(question, dice);
            record.push(Stored { question: id.to_string(), value, on, treatment: other });
        }
    }
    record
}

/// The same record with less known: one answer removed, aged, moved, told of
/// another area or of none, or told twice.
fn less_known(
    record: &[Stored],
    visited: Treatment,
    dice: &mut Dice,
) -> Option<(Vec<Stored>, String)> {
    let mut less = record.to_vec();
    let at = dice.roll(u32::try_from(less.len().max(1)).unwrap()) as usize;
    let one = less.get(at)?.clone();
    let book = &loaded().0;
    let question = &book.all_questions()[book.question(&one.question).unwrap()];
    match dice.roll(6) {
        // What nobody has to answer may be gone without a trace.
        0 if !question.optional || matches!(question.kind, Kind::Date { .. }) => {
            // All of it: where a graver word is gone and a calm one stands beside it, that one is heard.
            less.retain(|other| other.question != one.question);
        }
        1 => less[at].on = one.on.map(|on| on.saturating_sub(Span::new().days(dice.roll(400)))),
        2 => less[at].on = None,
        3 => less[at].treatment = None,
        4 => less.push(Stored {
            on: one.on.map(|on| on.saturating_sub(Span::new().days(9))),
            ..one.clone()
        }),
        _ if one.treatment == Some(visited) => {
            less[at].treatment = Some(*dice.pick(Treatment::ALL));
        }
        _ => return None,
    }
    Some((less, one.question))
}

fn goes_ahead(verdict: Verdict) -> bool {
    match verdict {
        Verdict::Proceed | Verdict::ProceedWithConditions => true,
        Verdict::Incomplete | Verdict::Hold | Verdict::Refer | Verdict::Decline => false,
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        max_shrink_iters: 150,
        ..ProptestConfig::with_cases(crate::laws::cases(2_500))
    })]

    /// Over 10,000 comparisons a run.
    #[test]
    fn to_know_less_is_never_more_lenient(
        treatment in proptest::sample::select(Treatment::ALL),
        dice in proptest::collection::vec(any::<u32>(), 400..700),
    ) {
        let mut dice = Dice(dice);
        let visit = visit(treatment);
        let record = any_record(treatment, &mut dice);
        let before = hear(&visit, &[], &record);
        let known = assess(&visit, &before);
        for _ in 0..5 {
            let Some((less, of)) = less_known(&record, treatment, &mut dice) else { continue };
            let after = hear(&visit, &[], &less);
            let now = assess(&visit, &after);
            let changed: Vec<_> = less.iter().filter(|one| !record.contains(one)).collect();
            if goes_ahead(now.verdict) {
                prop_assert!(goes_ahead(known.verdict), "{changed:?}: {:?}", known.verdict);
                let is_lost = |rule: &str| !now.findings.iter().any(|f| &*f.rule.id == rule);
                let lost: Vec<&str> =
                    known.findings.iter().map(|f| &*f.rule.id).filter(|id| is_lost(id)).collect();
                prop_assert!(lost.is_empty(), "{changed:?} lost {lost:?}");
            }
            // A question that was open stays open, unless what leads to it is open,
            // or a day that said that something is over, without which it goes on.
            let (was, is) = (open_questions(&before), open_questions(&after));
            let book = &loaded().0;
            let leads = |id: &str| {
                let follows = book.all_questions()[book.question(id).unwrap()].follows?;
                Some(book.all_questions()[follows.question].id.to_string())
            };
            for id in was.iter().filter(|id| !is.contains(id)) {
                let is_open = leads(id).is_some_and(|parent| is.contains(&parent));
                let goes_on = leads(&of).as_ref() == Some(id);
                prop_assert!(is_open || goes_on, "{id}: {of} {changed:?}");
            }
        }
    }

    /// Whatever is sent, the work comes no nearer than by what is kept alone and fresh, unless what
    /// was taken back is named.
    #[test]
    fn a_softer_second_word_is_never_more_lenient_in_silence(
        treatment in proptest::sample::select(Treatment::ALL),
        dice in proptest::collection::vec(any::<u32>(), 400..700),
    ) {
        let mut dice = Dice(dice);
        let visit = visit(treatment);
        let mut record = any_record(treatment, &mut dice);
        // All of it is of this treatment below, which has one answer to a question.
        record.dedup_by(|next, one| next.question == one.question);
        // A plan for a day is not kept for another.
        let planned = ["numbing_cream", "on_the_day", "scalp_touch_up"];
        record.retain(|one| !planned.iter().any(|id| one.question.starts_with(id)));
        for one in &mut record {
            (one.on, one.treatment) = (ago(0), Some(treatment));
        }
        let book = &loaded().0;
        // A follow-up of an answer that nobody gave is none that a client's record takes.
        let whole = record.clone();
        let asked = |id: &str| &book.all_questions()[book.question(id).unwrap()];
        record.retain(|one| {
            let Some(follows) = asked(&one.question).follows else { return true };
            let parent = &book.all_questions()[follows.question];
            let told = whole.iter().find(|other| *other.question == *parent.id);
            told.is_some_and(|told| {
                let options = parent.kind.options().iter();
                let offered = options.enumerate().filter(|(_, o)| o.treatments.has(treatment));
                let first = u32::from(parent.kind.options().is_empty());
                let offered = offered.fold(first, |bits, (bit, _)| bits | 1_u32 << bit);
                asked(&one.question).is_led_to_by(parent.bits(super::given(&told.value)) & offered)
            })
        });
        let clear: Vec<(String, Value)> = book
            .all_questions()
            .iter()
            .filter(|question| question.follows.is_none() && question.stage != Stage::Record)
            .filter(|question| question.treatments.has(treatment))
            .map(|question| (question.id.to_string(), clear(question)))
            .collect();
        let sent: Vec<_> = clear.iter().map(|(id, value)| (&**id, super::given(value))).collect();
        let now = hear(&visit, &sent, &record);
        let found = assess(&visit, &now);
        record.retain(|one| !now.withdrawn.iter().any(|back| *back.question == *one.question));
        let known = assess(&visit, &hear(&visit, &[], &record));
        if goes_ahead(found.verdict) {
            let stood = known.findings.iter().filter(|one| !goes_ahead(one.verdict));
            let lost: Vec<&str> = stood
                .map(|one| &*one.rule.id)
                .filter(|id| !found.findings.iter().any(|one| &*one.rule.id == *id))
                .collect();
            prop_assert!(lost.is_empty(), "{record:?} lost {lost:?}");
        }
    }

    /// What was sent goes before what is kept, whatever is kept: only the sent
    /// answer can be refused.
    #[test]
    fn no_record_is_a_fault(
        treatment in proptest::sample::select(Treatment::ALL),
        dice in proptest::collection::vec(any::<u32>(), 400..700),
        odd in "[a-z_]{1,12}",
    ) {
        let mut dice = Dice(dice);
        let mut record = any_record(treatment, &mut dice);
        for stored in &mut record {
            if dice.roll(10) == 1 {
                stored.value = any_value(dice.pick(loaded().0.all_questions()), &mut dice.clone());
            }
        }
        record.push(Stored { question: odd, value: none(), on: None, treatment: None });
        // One of which nothing remains that was told before.
        let gathered = hear(&visit(treatment), &[("fish_oil", Given::YesNo(false))], &record);
        prop_assert_eq!(said(&gathered, "fish_oil").state, State::Used);
    }

    /// A day later nothing reassures that did not the day before.
    #[test]
    fn a_later_visit_never_closes_a_question(
        treatment in proptest::sample::select(Treatment::ALL),
        dice in proptest::collection::vec(any::<u32>(), 400..700),
        later in 1_i64..400,
    ) {
        let mut dice = Dice(dice);
        let record = any_record(treatment, &mut dice);
        let now = visit(treatment);
        let then = Visit { on: ON.saturating_add(Span::new().days(later)), ..now };
        let states = |visit: &Visit| hear(visit, &[], &record).heard;
        for (before, after) in states(&now).iter().zip(states(&then)) {
            prop_assert!(before.state != State::Stale || after.state != State::Used, "{before:?}");
            let closed: Vec<_> = before.open.iter().filter(|o| !after.open.contains(*o)).collect();
            prop_assert!(closed.is_empty() || after.state != State::Used, "{before:?}: {closed:?}");
        }
    }
}
