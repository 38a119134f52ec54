//! The gate: which rules speak, and what they come to.
//!
//! Order of verdicts, hardest first: decline, refer, hold, **incomplete**,
//! proceed with conditions, proceed. *Incomplete* stands where it does because
//! a definite decline, referral or hold is true whatever the missing answers
//! say, while nobody may go ahead on answers that are missing. What is
//! unanswered is named in every case. From this order follow three laws that
//! the tests hold over random answers: adding a risk factor never softens the
//! verdict, an unknown answer is never better than the clear one, and the
//! order of answers never matters.
//!
//! Holds combine by their latest day, never by their sum. A hold without a day
//! waits for an event, and the latest day of the others is then only the
//! earliest that can be. A finding that was overridden stays, counts as a
//! condition, and carries its reason; the law is never overridden, nor is a
//! missing answer.

use etui_schema::vocabulary::{Lab, Phototype, Skin, Treatment, Verdict};
use jiff::civil::Date;

use super::age;
use super::answers::{Answers, Slot, Tri};
use super::faults::{Fault, Problem};
use super::question::Question;
use super::rule::{Anchor, Clause, Mode, Rule, Time, phototype_bit, sign_bit};
use super::rulebook::Rulebook;
use super::score::Score;
use super::tone;

/// Which treatment, for whom, on which day, seen from which day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Visit {
    /// What is treated.
    pub treatment: Treatment,
    /// The day of the treatment.
    pub on: Date,
    /// The studio's local date at which this is assessed.
    pub as_of: Date,
    /// The client's day of birth.
    pub born_on: Date,
}

impl Visit {
    /// The day from which things are seen: the day of assessment, or the day
    /// of the treatment if that is past.
    #[must_use]
    pub fn today(&self) -> Date {
        self.as_of.min(self.on)
    }
}

/// Somebody's recorded decision to go ahead in spite of a finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Override {
    /// The rule.
    pub rule: String,
    /// Why, 3 to 500 characters.
    pub reason: String,
    /// Who decided, under the studio's own reference.
    pub by_ref: String,
}

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

/// One rule that spoke.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding<'b> {
    /// The rule.
    pub rule: &'b Rule,
    /// What it asks for here. An avoidable wait that can still pass in time is
    /// a condition, although its rule is a hold.
    pub verdict: Verdict,
    /// For a hold: the first day on which it no longer holds, if a day is known.
    pub hold_until: Option<Date>,
    /// For an avoidable wait that is now a condition: the last day on which it
    /// must begin.
    pub due: Option<Date>,
    /// A day the text tells.
    pub tells: Option<Date>,
    /// Index of the override in the case.
    pub overridden: Option<usize>,
}

/// The outcome of a screening.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment<'b> {
    /// What it comes to.
    pub verdict: Verdict,
    /// The latest day of all holds that stand; the earliest day possible if
    /// [`Assessment::waits_for_event`].
    pub hold_until: Option<Date>,
    /// Whether a hold waits for an event instead of a day.
    pub waits_for_event: bool,
    /// The rules that spoke, hardest first, then in the order of the book.
    pub findings: Vec<Finding<'b>>,
    /// The questions that are still to be answered.
    pub unanswered: Vec<&'b Question>,
    /// The questions that were answered and serve other treatments only.
    pub unused: Vec<&'b Question>,
    /// The caution score.
    pub score: Score<'b>,
}

/// How hard a verdict is; a higher one wins.
#[must_use]
pub const fn severity(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Proceed => 0,
        Verdict::ProceedWithConditions => 1,
        Verdict::Incomplete => 2,
        Verdict::Hold => 3,
        Verdict::Refer => 4,
        Verdict::Decline => 5,
    }
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
            match speaks(rule, case) {
                Speaks::No => {}
                Speaks::Maybe => score.maybe(rule),
                Speaks::Yes(finding) => {
                    score.counts(rule);
                    findings.push(Finding { overridden: overridden(rule, case), ..finding });
                }
            }
        }
        findings.sort_by_key(|finding| std::cmp::Reverse(severity(finding.verdict)));
        let unanswered: Vec<&Question> = case.answers.unanswered(self).collect();
        let standing = || findings.iter().filter(|finding| finding.overridden.is_none());
        let holds = || standing().filter(|finding| finding.verdict == Verdict::Hold);
        Assessment {
            verdict: verdict(&findings, !unanswered.is_empty()),
            hold_until: holds().filter_map(|finding| finding.hold_until).max(),
            waits_for_event: holds().any(|finding| finding.hold_until.is_none()),
            score: score.finish(self),
            unanswered,
            unused: case.answers.unused(self).collect(),
            findings,
        }
    }

    fn check_overrides(&self, case: &Case<'_>, faults: &mut Vec<Fault>) {
        for (at, wish) in case.overrides.iter().enumerate() {
            let mut fault = |field: &str, problem| {
                faults.push(Fault { pointer: format!("/overrides/{at}/{field}"), problem });
            };
            let id = || wish.rule.chars().take(60).collect::<String>();
            match self.rule(&wish.rule) {
                Some(rule) if rule.law => fault("rule", Problem::LawStands { id: id() }),
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

/// Hardest of the findings that stand; missing answers allow no going ahead.
fn verdict(findings: &[Finding<'_>], is_incomplete: bool) -> Verdict {
    let found = findings
        .iter()
        .map(|finding| match (finding.overridden, finding.verdict) {
            // What was overridden still asks for care.
            (Some(_), verdict) if severity(Verdict::Proceed) < severity(verdict) => {
                Verdict::ProceedWithConditions
            }
            (_, verdict) => verdict,
        })
        .max_by_key(|verdict| severity(*verdict))
        .unwrap_or(Verdict::Proceed);
    if is_incomplete && severity(found) < severity(Verdict::Incomplete) {
        return Verdict::Incomplete;
    }
    found
}

fn overridden(rule: &Rule, case: &Case<'_>) -> Option<usize> {
    case.overrides.iter().position(|wish| *wish.rule == *rule.id)
}

enum Speaks<'b> {
    No,
    Maybe,
    Yes(Finding<'b>),
}

fn speaks<'b>(rule: &'b Rule, case: &Case<'_>) -> Speaks<'b> {
    let mut holds = Tri::No;
    for clause in &rule.clauses {
        holds = holds.max(clause_holds(clause, case));
    }
    match holds {
        Tri::No => Speaks::No,
        Tri::Unknown => Speaks::Maybe,
        Tri::Yes => timed(rule, case),
    }
}

/// Lets time have its say on a rule whose clauses hold.
fn timed<'b>(rule: &'b Rule, case: &Case<'_>) -> Speaks<'b> {
    let plain = Finding {
        rule,
        verdict: rule.verdict,
        hold_until: None,
        due: None,
        tells: None,
        overridden: None,
    };
    let Some(Time { after, period, mode }) = rule.time else { return Speaks::Yes(plain) };
    let on = case.visit.on;
    let day = match after {
        Anchor::Treatment => Some(on),
        Anchor::Answer(question) => match case.answers.slots[question] {
            Slot::Day(day) => Some(day),
            Slot::Empty | Slot::Chosen(_) | Slot::Number(_) => None,
        },
    };
    match (mode, day) {
        (Mode::Tell, day) => {
            Speaks::Yes(Finding { tells: day.map(|day| period.after(day)), ..plain })
        }
        (Mode::Once, Some(day)) if period.after(day) <= on => Speaks::Yes(plain),
        (Mode::Once, _) => Speaks::No,
        (Mode::Ahead, Some(day)) if on <= period.before(day) => Speaks::No,
        // Too short, or not known: the same.
        (Mode::Ahead, _) => Speaks::Yes(plain),
        (Mode::Until | Mode::Avoidable, Some(day)) => {
            let until = period.after(day);
            if until <= on { Speaks::No } else { Speaks::Yes(held(plain, until)) }
        }
        (Mode::Until, None) => Speaks::Yes(plain),
        (Mode::Avoidable, None) => {
            let until = period.after(case.visit.today());
            if on < until {
                return Speaks::Yes(held(plain, until));
            }
            Speaks::Yes(Finding {
                verdict: softened(rule.verdict),
                due: Some(period.before(on)),
                ..plain
            })
        }
    }
}

/// A wait has a day only where the rule is a hold; a referral that ends with
/// its period is a referral until then.
fn held(finding: Finding<'_>, until: Date) -> Finding<'_> {
    let hold_until = (finding.verdict == Verdict::Hold).then_some(until);
    Finding { hold_until, ..finding }
}

/// A hold that can still pass in time is a condition. A pack may have made the
/// rule harder than a hold; then nothing softens it.
fn softened(verdict: Verdict) -> Verdict {
    if verdict == Verdict::Hold { Verdict::ProceedWithConditions } else { verdict }
}

fn clause_holds(clause: &Clause, case: &Case<'_>) -> Tri {
    let sure = |holds| if holds { Tri::Yes } else { Tri::No };
    match *clause {
        Clause::Always => Tri::Yes,
        Clause::YoungerThan { years } => {
            sure(case.visit.on < age::reaches(case.visit.born_on, years))
        }
        Clause::Chosen { question, mask } => match case.answers.slots[question] {
            Slot::Chosen(chosen) => sure(chosen & mask != 0),
            Slot::Empty | Slot::Day(_) | Slot::Number(_) => maybe(case, question),
        },
        Clause::AtLeast { question, limit } => match case.answers.slots[question] {
            Slot::Number(number) => sure(limit <= number),
            Slot::Empty | Slot::Day(_) | Slot::Chosen(_) => maybe(case, question),
        },
        Clause::Above { question, limit } => match case.answers.slots[question] {
            Slot::Number(number) => sure(limit < number),
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
