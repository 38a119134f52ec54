//! The gate: which rules speak. What they come to is in [`super::outcome`],
//! with the order of verdicts.
//!
//! What is unanswered is named in every case. Laws that the tests hold over
//! random answers: adding a risk factor never softens the verdict; a fact that
//! is taken away never brings the work nearer; the order of answers never
//! matters.
//!
//! Holds combine by their latest day, never by their sum. A known day never
//! deletes the event or the person beside it: while one of them is open the
//! hold waits for it too, and once the wait has passed a condition stays until
//! the answer says that it is settled. A finding that was overridden stays,
//! counts as a condition, and carries its reason; what is firm is never
//! overridden, nor is a missing answer.

pub use etui_schema::skin_assessments::Override;
use etui_schema::vocabulary::{Skin, Verdict};
use jiff::civil::Date;

use super::age;
use super::answers::{Answers, NO, Slot, Tri};
pub use super::case::Visit;
use super::clause::clause_holds;
use super::country::CountryLaw;
use super::faults::{Fault, Problem};
pub use super::outcome::{Assessment, Finding, may_begin, severity};
use super::outcome::{set_beside, verdict};
use super::period::Period;
use super::question::Question;
use super::rule::{Anchor, Clause, Mode, Rule, Time};
use super::rulebook::Rulebook;
use super::says::lasts;
use super::score::Score;
use super::tone;
use crate::aftercare::healing::Next;

/// The question whose *no* says that it is the next pass, beside what is there.
const SCALP_TOUCH_UP: &str = "scalp_touch_up";

/// Fewest and most characters of a reason.
const REASON: (usize, usize) = (3, 500);

/// What is to be assessed.
#[derive(Debug, Clone, Copy)]
pub struct Case<'a> {
    /// Treatment, days and birth.
    pub visit: Visit,
    /// The answers, read for that visit.
    pub answers: &'a Answers,
    /// What is known of the skin.
    pub skin: Option<&'a Skin>,
    /// Recorded decisions.
    pub overrides: &'a [Override],
}

impl Rulebook {
    /// Assesses a case.
    ///
    /// # Errors
    /// Every [`Fault`]: an impossible birth, a colour that cannot be, an
    /// override of nothing, of the law, twice, or without a reason.
    pub fn assess<'b>(&'b self, case: &Case<'_>) -> Result<Assessment<'b>, Vec<Fault>> {
        let mut faults = Vec::new();
        super::answers::check_visit(self, &case.visit, &mut faults);
        check_skin(case, &mut faults);
        self.check_overrides(case, &mut faults);
        if !faults.is_empty() {
            return Err(faults);
        }
        Ok(self.judge(case))
    }

    fn judge<'b>(&'b self, case: &Case<'_>) -> Assessment<'b> {
        let mut findings = Vec::with_capacity(8);
        let mut score = Score::begin(self);
        for rule in self.rules(case.visit.treatment) {
            match speaks(self, rule, case) {
                Speaks::No => {}
                Speaks::Maybe => score.maybe(rule),
                Speaks::Yes(finding) => {
                    score.counts(rule);
                    findings.push(Finding {
                        overridden: overridden(rule, case),
                        is_late: self.is_late(&finding, &case.visit),
                        law: rule.law || self.is_law(rule, &case.visit),
                        ..finding
                    });
                }
            }
        }
        findings.sort_by_key(|finding| {
            let held = finding.waits().then(|| lasts(finding, case.visit.on));
            std::cmp::Reverse((severity(finding.verdict), held))
        });
        let unanswered: Vec<&Question> = case.answers.unanswered(self).collect();
        let is_open = set_beside(&mut findings, !unanswered.is_empty());
        let standing = || findings.iter().filter(|finding| finding.overridden.is_none());
        let holds = || standing().filter(|finding| finding.verdict == Verdict::Hold);
        let not_before = standing().filter_map(|finding| finding.not_before).max();
        let waits = holds().any(|finding| finding.waits_for_event);
        let rests = holds().any(|one| one.rule.time.is_some_and(|time| time.rests));
        Assessment {
            ends_sooner: case.answers.untold(self).find(|q| rests && &*q.id == SCALP_TOUCH_UP),
            treatment: case.visit.treatment,
            born_on: case.visit.born_on,
            verdict: verdict(&findings, !unanswered.is_empty()),
            hold_until: not_before.filter(|_| !is_open),
            not_before,
            waits_for_event: waits || is_open && not_before.is_some(),
            idle_overrides: idle(&findings, case),
            is_tone_unknown: case.skin.is_none_or(|s| s.phototype.is_none() && s.lab.is_none()),
            wanted_on_the_day: match case.visit.today() {
                today if today < case.visit.on => Vec::new(),
                _ => case.answers.untold(self).filter(|q| q.wanted_on_the_day).collect(),
            },
            looks_back: case.visit.on < case.visit.as_of,
            score: score.finish(self),
            unanswered,
            unused: case.answers.unused(self).collect(),
            findings,
        }
    }

    /// Whether the latest day for what a finding asks is past.
    fn is_late(&self, finding: &Finding<'_>, visit: &Visit) -> bool {
        let lead = finding.rule.task.and_then(|task| task.lead);
        let lead = match (lead, finding.verdict) {
            (None, Verdict::Refer) => self.refer_lead,
            (None, _) => return false,
            (Some(lead), _) => lead,
        };
        lead.before(visit.on) < visit.today()
    }

    /// Whether the country that was told forbids by law what a rule on age does.
    fn is_law(&self, rule: &Rule, visit: &Visit) -> bool {
        let too_young =
            |law: &CountryLaw| visit.age_day() < age::reaches(visit.born_on, law.never_under_years);
        let law = visit.country.and_then(|country| self.countries.get(&country));
        birthday(rule, visit).is_some() && law.is_some_and(too_young)
    }

    fn check_overrides(&self, case: &Case<'_>, faults: &mut Vec<Fault>) {
        for (at, wish) in case.overrides.iter().enumerate() {
            let mut fault = |field: &str, problem| {
                faults.push(Fault { pointer: format!("/overrides/{at}/{field}"), problem });
            };
            let id = || wish.rule.chars().take(60).collect::<String>();
            match self.rule(&wish.rule) {
                Some(rule) if rule.firm => fault("rule", Problem::LawStands { id: id() }),
                Some(rule) if rule.treatments.has(case.visit.treatment) => {}
                _ => fault("rule", Problem::UnknownRule { id: id() }),
            }
            if case.overrides[..at].iter().any(|other| other.rule == wish.rule) {
                fault("rule", Problem::OverriddenTwice { id: id() });
            }
            let length = wish.reason.trim().chars().count();
            if length < REASON.0 || REASON.1 < length {
                fault("reason", Problem::Reason { min: REASON.0, max: REASON.1 });
            }
        }
    }
}

/// The overrides that had nothing to override.
fn idle(findings: &[Finding<'_>], case: &Case<'_>) -> Vec<usize> {
    let spoke = |at: &usize| findings.iter().any(|finding| finding.overridden == Some(*at));
    (0..case.overrides.len()).filter(|at| !spoke(at)).collect()
}

fn overridden(rule: &Rule, case: &Case<'_>) -> Option<usize> {
    case.overrides.iter().position(|wish| *wish.rule == *rule.id)
}

enum Speaks<'b> {
    No,
    Maybe,
    Yes(Finding<'b>),
}

fn speaks<'b>(book: &'b Rulebook, rule: &'b Rule, case: &Case<'_>) -> Speaks<'b> {
    let any = |clauses: &[Clause]| {
        clauses.iter().map(|clause| clause_holds(clause, case)).max().unwrap_or(Tri::No)
    };
    let mut holds = any(&rule.clauses);
    if !rule.also.is_empty() {
        holds = holds.min(any(&rule.also));
    }
    if any(&rule.unless) == Tri::Yes {
        holds = Tri::No;
    }
    match holds {
        Tri::No => Speaks::No,
        Tri::Unknown => Speaks::Maybe,
        Tri::Yes => timed(book, rule, case),
    }
}

/// Lets time have its say on a rule whose clauses hold.
fn timed<'b>(book: &'b Rulebook, rule: &'b Rule, case: &Case<'_>) -> Speaks<'b> {
    let plain = Finding::plain(rule);
    let Some(Time { after, period, mode, rests }) = rule.time else {
        return Speaks::Yes(Finding { tells: birthday(rule, &case.visit), ..plain });
    };
    let on = case.visit.on;
    let day = match after {
        Anchor::Treatment => Some(on),
        Anchor::Answer(question) => match case.answers.slots[question] {
            Slot::Day(day) => Some(day),
            Slot::Empty | Slot::Chosen(_) | Slot::Number(_) => None,
        },
    };
    let plain = Finding { is_dated: day.is_some(), ..plain };
    match (mode, day) {
        (Mode::Tell, day) => {
            Speaks::Yes(Finding { tells: day.map(|day| period.after(day)), ..plain })
        }
        (Mode::Once, Some(day)) if period.after(day) <= on => Speaks::Yes(plain),
        (Mode::Once, _) => Speaks::No,
        // Once the day has passed nothing lies ahead any more; another rule speaks of that.
        (Mode::Ahead, Some(day)) if on <= period.before(day) || day < on => Speaks::No,
        // Too short, or not known: the same.
        (Mode::Ahead, _) | (Mode::Until, None) => Speaks::Yes(plain),
        (Mode::Until, Some(day)) => {
            let open = rule.release.map(|release| clause_holds(&release, case) != Tri::Yes);
            let waits = open.unwrap_or_else(|| rule.keys.waits_beside_a_day());
            let until =
                if rests { rested(rule, (book, case), (day, period)) } else { period.after(day) };
            if on < until {
                Speaks::Yes(held(plain, until, waits))
            } else if open == Some(true) && rule.keys.stays.is_some() {
                Speaks::Yes(stays(plain))
            } else {
                Speaks::No
            }
        }
        (Mode::Avoidable, day) => Speaks::avoidable(plain, day, period, &case.visit),
    }
}

/// The day on which somebody is old enough for a rule on age.
fn birthday(rule: &Rule, visit: &Visit) -> Option<Date> {
    rule.clauses.iter().find_map(|clause| match clause {
        Clause::YoungerThan { years } => Some(age::reaches(visit.born_on, *years)),
        Clause::Chosen { .. }
        | Clause::Denied { .. }
        | Clause::AtLeast { .. }
        | Clause::Above { .. }
        | Clause::Signs { .. }
        | Clause::Tone { .. }
        | Clause::In(_)
        | Clause::Always => None,
    })
}

/// The first day on which skin that was worked on a day may be worked again: by the one rule of
/// healing, so that plan, readiness and gate name the same. The rule's own period is a floor for
/// the same work again; for the next pass it is one only where a pack asks for more.
fn rested(
    rule: &Rule,
    (book, case): (&Rulebook, &Case<'_>),
    (day, period): (Date, Period),
) -> Date {
    let visit = &case.visit;
    let years = age::on(visit.born_on, day).and_then(|years| u8::try_from(years).ok());
    let rested = book.healing.after(visit.treatment, book.next_session(case.answers), years);
    // Beyond the calendar it is never.
    let from = rested.from(day).unwrap_or(Date::MAX);
    let built = rule.as_built();
    let is_built = built.pack.is_none() && built.time.as_ref().is_some_and(|t| t.period == period);
    if rested.bare && is_built { from } else { period.after(day).max(from) }
}

impl Rulebook {
    /// What a visit is to skin that was worked before. Whoever does not say that it is the next
    /// pass of a scalp waits for a touch-up.
    #[must_use]
    pub fn next_session(&self, answers: &Answers) -> Next {
        let is_pass = self
            .question(SCALP_TOUCH_UP)
            .is_some_and(|question| answers.slots[question] == Slot::Chosen(NO));
        if is_pass { Next::Pass } else { Next::TouchUp }
    }
}

/// A wait has a day only where the rule is a hold; a referral that ends with
/// its period is a referral until then.
fn held(finding: Finding<'_>, until: Date, waits_for_event: bool) -> Finding<'_> {
    if finding.verdict != Verdict::Hold {
        // A pack that made a hold harder takes nothing of its wait away.
        let was_hold = finding.rule.as_built().verdict == Verdict::Hold;
        let not_before = was_hold.then_some(until);
        return Finding { tells: Some(until), hold_until: not_before, not_before, ..finding };
    }
    let hold_until = (!waits_for_event).then_some(until);
    Finding { hold_until, not_before: Some(until), waits_for_event, ..finding }
}

/// The wait has passed; its event or its person is still open.
fn stays(finding: Finding<'_>) -> Finding<'_> {
    Finding { verdict: softened(finding.verdict), waits_for_event: true, stays: true, ..finding }
}

impl<'b> Speaks<'b> {
    /// A wait that the client can still keep: counted from the day that she told,
    /// also if it lies ahead, or from today if no day is known. It is asked for up
    /// to the day itself, however long ago the last time was. A day ahead is what
    /// she means to do: it holds like one that is past, and falls away with it.
    fn avoidable(plain: Finding<'b>, day: Option<Date>, period: Period, visit: &Visit) -> Self {
        let today = visit.today();
        let until = period.after(day.unwrap_or(today));
        if visit.on < until {
            let is_ahead = day.is_some_and(|day| today < day);
            let waits = plain.rule.keys.waits_beside_a_day();
            return Self::Yes(Finding { is_ahead, ..held(plain, until, waits) });
        }
        if day.is_some() && visit.on <= today {
            return Self::No;
        }
        Self::Yes(Finding {
            verdict: softened(plain.verdict),
            waits_for_event: false,
            due: Some(period.before(visit.on).max(today)),
            ..plain
        })
    }
}

/// A hold that can still pass in time is a condition. A pack may have made the
/// rule harder than a hold; then nothing softens it.
fn softened(verdict: Verdict) -> Verdict {
    if verdict == Verdict::Hold { Verdict::ProceedWithConditions } else { verdict }
}

/// A measured colour must be possible. The age of a skin profile is not held
/// against the birth: a profile grows old, and no rule here uses it.
fn check_skin(case: &Case<'_>, faults: &mut Vec<Fault>) {
    let Some(skin) = case.skin else { return };
    if let Some(lab) = skin.lab
        && tone::ita_degrees(lab).is_err()
    {
        let problem = Problem::ImplausibleColour { b: lab.b };
        faults.push(Fault { pointer: "/skin/lab/b".to_owned(), problem });
    }
}
