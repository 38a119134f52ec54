//! The outcome of a screening: which rules spoke, and what they come to.
//!
//! **How a summary must speak.** A hold ends by a day, or by an event and a
//! person, or by both. Where an event or a person is still open
//! ([`Finding::waits_for_event`]), the event is said first and the day, if there
//! is one, only as *not before*; a day is never said alone. The same goes for a
//! day beside a referral, a decline or an open question: nobody knows yet what they
//! come to ([`Finding::is_beside`]). So the outcome has [`Assessment::hold_until`]
//! only while all that stands ends by its day; else what is left is
//! [`Assessment::not_before`], which is no date to book.
//!
//! Order of verdicts, hardest first: decline, refer, hold, **incomplete**,
//! proceed with conditions, proceed. *Incomplete* stands where it does because
//! a definite decline, referral or hold is true whatever the missing answers
//! say, while nobody may go ahead on answers that are missing. For the question
//! whether ignorance is ever better than knowledge ([`may_begin`]), the four
//! hardest are one: none of them lets the work begin, and an outcome that is
//! incomplete names the question that it lacks.

use etui_schema::vocabulary::{Treatment, Verdict};
use jiff::civil::Date;

use super::question::Question;
use super::rule::{Clause, Rule};
use super::score::Score;

/// One rule that spoke.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding<'b> {
    /// The rule.
    pub rule: &'b Rule,
    /// What it asks for here. An avoidable wait that can still pass in time is
    /// a condition, although its rule is a hold; so is a wait that has passed
    /// while its event or person is open.
    pub verdict: Verdict,
    /// For a hold that ends by its day alone: the first day on which it no
    /// longer holds.
    pub hold_until: Option<Date>,
    /// For a hold: the first day on which its wait has passed, if a day is
    /// known, whether or not something else is open.
    pub not_before: Option<Date>,
    /// Whether it waits for an event, or for a person's word, that no day
    /// stands for.
    pub waits_for_event: bool,
    /// Whether the wait has passed and only the event or the person is open.
    pub stays: bool,
    /// For an avoidable wait that is now a condition: the last day on which it
    /// must begin.
    pub due: Option<Date>,
    /// Whether the latest day for what it asks was past when it was assessed.
    pub is_late: bool,
    /// Whether the day on which its period begins is known.
    pub is_dated: bool,
    /// Whether that day is still to come, and what it stands for can be left out.
    pub is_ahead: bool,
    /// A day the text tells.
    pub tells: Option<Date>,
    /// Whether something that has no day is open beside it, or another hold lasts longer: its own
    /// day is then said as *not before*, and is none to book. Of an event, whether anything else
    /// holds beside it.
    pub is_beside: bool,
    /// Whether it is the law of the country that was told.
    pub law: bool,
    /// Index of the override in the case.
    pub overridden: Option<usize>,
}

impl<'b> Finding<'b> {
    /// A finding of a rule in which time has no say.
    pub(super) fn plain(rule: &'b Rule) -> Self {
        Self {
            rule,
            verdict: rule.verdict,
            hold_until: None,
            not_before: None,
            waits_for_event: rule.verdict == Verdict::Hold,
            stays: false,
            due: None,
            is_late: false,
            is_dated: false,
            is_ahead: false,
            tells: None,
            is_beside: false,
            law: rule.law,
            overridden: None,
        }
    }

    /// The id of whom to ask, such as `oncologist`, if it names somebody.
    #[must_use]
    pub fn person(&self) -> Option<&'b str> {
        self.rule.keys.whom.as_deref().and_then(|key| key.strip_prefix("whom."))
    }

    /// Whether somebody is too young.
    pub(super) fn is_by_age(&self) -> bool {
        self.rule.clauses.iter().any(|clause| matches!(clause, Clause::YoungerThan { .. }))
    }

    /// Whether it is a hold that stands.
    pub(super) fn waits(&self) -> bool {
        self.overridden.is_none() && self.verdict == Verdict::Hold
    }

    /// Whether an event or somebody's word is open here, also of a wait that has passed.
    fn is_open(&self) -> bool {
        let asks = matches!(self.verdict, Verdict::Refer | Verdict::Decline);
        self.overridden.is_none() && (self.waits_for_event || asks)
    }
}

/// Takes from every day what it would promise while something without a day is open beside
/// it, among the findings or `elsewhere`, or a later day holds; whether anything is open.
pub(super) fn set_beside(findings: &mut [Finding<'_>], elsewhere: bool) -> bool {
    let open = findings.iter().filter(|finding| finding.is_open()).count();
    let waits = findings.iter().filter(|finding| finding.waits()).count();
    let standing = findings.iter().filter(|finding| finding.waits());
    let last = standing.filter_map(|finding| finding.not_before).max();
    for finding in findings {
        let is_open = finding.is_open();
        // A day beside an event makes the event's end no day to come on either.
        let days = if is_open { waits - usize::from(finding.waits()) } else { 0 };
        let others = open - usize::from(is_open) + days;
        let is_outlasted = finding.waits() && finding.not_before < last;
        let is_referred = finding.verdict == Verdict::Refer;
        finding.is_beside = elsewhere || 0 < others || is_outlasted || is_referred;
        if finding.is_beside {
            finding.hold_until = None;
        }
    }
    elsewhere || 0 < open
}

/// The outcome of a screening.
#[derive(Debug, Clone, PartialEq)]
pub struct Assessment<'b> {
    /// What is to be treated.
    pub treatment: Treatment,
    /// When she was born.
    pub born_on: Date,
    /// What it comes to.
    pub verdict: Verdict,
    /// The latest day of all holds that stand, if all of them end by their day and
    /// nothing else is open.
    pub hold_until: Option<Date>,
    /// The latest day that any hold that stands names: never said alone while
    /// [`Assessment::waits_for_event`].
    pub not_before: Option<Date>,
    /// Whether a hold that stands waits for an event, or a person's word, of its own
    /// or beside it.
    pub waits_for_event: bool,
    /// The rules that spoke, hardest first, of holds the longest, then in the order of the book.
    pub findings: Vec<Finding<'b>>,
    /// The questions that are still to be answered.
    pub unanswered: Vec<&'b Question>,
    /// A question that nobody has to answer, and whose answer may let a wait that stands end sooner.
    pub ends_sooner: Option<&'b Question>,
    /// The questions that were answered and serve other treatments only.
    pub unused: Vec<&'b Question>,
    /// Indices of the overrides of rules that did not speak: they changed nothing.
    pub idle_overrides: Vec<usize>,
    /// Whether neither skin type nor colour was told, so that nobody looked at what
    /// darker skin asks for.
    pub is_tone_unknown: bool,
    /// What is planned for the visit and was not told by its day.
    pub wanted_on_the_day: Vec<&'b Question>,
    /// Whether the day of the treatment was past when it was assessed.
    pub looks_back: bool,
    /// The caution score.
    pub score: Score<'b>,
}

impl Assessment<'_> {
    /// Whether something is still to be looked at or told that no rule waits for: a check that
    /// would go ahead goes ahead with that as its condition.
    #[must_use]
    pub fn is_to_be_seen(&self) -> bool {
        self.is_tone_unknown || !self.wanted_on_the_day.is_empty()
    }

    /// The same while something is open that this room does not know of, such as a
    /// signature: no day is one to book.
    #[must_use]
    pub fn while_more_is_open(mut self) -> Self {
        set_beside(&mut self.findings, true);
        self.hold_until = None;
        self.waits_for_event |= self.not_before.is_some();
        self
    }
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

/// How nearly a verdict lets the work begin: 0 at once, 1 under conditions, 2
/// not at all. Where a fact is taken away, this number never falls.
#[must_use]
pub const fn may_begin(verdict: Verdict) -> u8 {
    match verdict {
        Verdict::Proceed => 0,
        Verdict::ProceedWithConditions => 1,
        Verdict::Incomplete | Verdict::Hold | Verdict::Refer | Verdict::Decline => 2,
    }
}

/// Hardest of the findings that stand; missing answers allow no going ahead.
pub(super) fn verdict(findings: &[Finding<'_>], is_incomplete: bool) -> Verdict {
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
