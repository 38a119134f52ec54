//! Loading of rules.

use etui_schema::vocabulary::{EvidenceKind, Verdict};

use super::data::{Latest, RawClause, RawGrounds, RawMode, RawRule, RawTime};
use super::faults::BookProblem;
use super::load::Loader;
use super::question::{Kind, Treatments};
use super::rule::{
    Anchor, Clause, Field, Grounds, Mode, Rule, Task, Time, phototype_bit, sign_bit,
};

/// Most points one factor may give.
pub(super) const MOST_POINTS: u8 = 4;

impl Loader<'_> {
    /// Reads one rule and adds it, whether or not faults were found.
    pub(super) fn rule(&mut self, at: &str, raw: &RawRule) {
        self.id(at, &raw.id, !self.rule_ids.contains_key(raw.id.as_str()));
        let mut clauses = Vec::with_capacity(raw.when.len());
        let mut reach = Treatments::of(&[]);
        for (nth, clause) in raw.when.iter().enumerate() {
            let at = format!("{at}/when/{nth}");
            if let Some((clause, treatments)) = self.clause(&at, clause) {
                clauses.push(clause);
                reach = reach.or(treatments);
            }
        }
        let treatments = raw.treatments.as_deref().map_or(reach, Treatments::of);
        if treatments.is_empty() || treatments.and(reach) != treatments {
            let why = format!("`{}` stands for a treatment in which it cannot speak", raw.id);
            self.fault(at, BookProblem::Unreachable { why });
        }
        let mut others = |part: &str, list: &[RawClause]| -> Vec<Clause> {
            let read = |(nth, clause)| self.clause(&format!("{at}/{part}/{nth}"), clause);
            list.iter().enumerate().filter_map(read).map(|(clause, _)| clause).collect()
        };
        let (also, unless) = (others("also", &raw.also), others("unless", &raw.unless));
        let release = others("release", raw.release.as_slice()).pop();
        let time = match &raw.time {
            Some(time) => self.time(&format!("{at}/time"), time, &clauses, treatments),
            None => None,
        };
        self.consistent(at, raw);
        let keys = self.keys(at, raw);
        let rule = Rule {
            id: raw.id.as_str().into(),
            pack: self.pack.clone(),
            treatments,
            law: raw.law,
            firm: raw.law || raw.firm,
            verdict: raw.verdict,
            points: raw.points,
            group: self.group(at, raw),
            grounds: self.all_grounds(at, raw),
            task: raw.todo.as_ref().map(|todo| Task {
                who: todo.who,
                lead: todo.lead,
                stays: todo.stays,
            }),
            clauses,
            also,
            unless,
            release,
            time,
            values: raw.values.clone(),
            keys,
            built: None,
        };
        self.rule_ids.insert(rule.id.clone(), self.rules.len());
        self.rules.push(rule);
    }

    fn clause(&mut self, at: &str, raw: &RawClause) -> Option<(Clause, Treatments)> {
        let forms = [
            raw.yes.is_some(),
            raw.chosen.is_some(),
            raw.number.is_some(),
            raw.younger_than_years.is_some(),
            !raw.skin_signs.is_empty(),
            !raw.phototypes.is_empty() || raw.ita_at_most.is_some(),
            raw.denied.is_some(),
            raw.country.is_some(),
            raw.always,
        ];
        if forms.iter().filter(|filled| **filled).count() != 1 {
            self.contradicts(at, true, "a clause has exactly one form");
            return None;
        }
        if let Some(id) = raw.yes.as_ref().or(raw.chosen.as_ref()) {
            let (question, mask) = self.chosen(at, id, &raw.any_of)?;
            return Some((Clause::Chosen { question, mask }, self.offered(question, mask)));
        }
        if let Some(id) = &raw.denied {
            let (question, mask) = self.chosen(at, id, &raw.any_of)?;
            return Some((Clause::Denied { question, mask }, self.offered(question, mask)));
        }
        if let Some(country) = raw.country {
            return Some((Clause::In(country), Treatments::ALL));
        }
        if let Some(id) = &raw.number {
            return self.limit(at, id, raw);
        }
        let clause = match raw.younger_than_years {
            Some(years) => Clause::YoungerThan { years },
            None if raw.always => Clause::Always,
            None if !raw.skin_signs.is_empty() => {
                Clause::Signs { mask: raw.skin_signs.iter().fold(0, |m, s| m | sign_bit(*s)) }
            }
            None => Clause::Tone {
                phototypes: raw.phototypes.iter().fold(0, |m, p| m | phototype_bit(*p)),
                ita_at_most: raw.ita_at_most.unwrap_or(f64::NEG_INFINITY),
            },
        };
        Some((clause, Treatments::ALL))
    }

    fn limit(&mut self, at: &str, id: &str, raw: &RawClause) -> Option<(Clause, Treatments)> {
        let Some(question) = self.question_ids.get(id).copied() else {
            self.fault(at, BookProblem::Unknown { what: "question", id: id.to_owned() });
            return None;
        };
        let Kind::Number { min, max, .. } = self.questions[question].kind else {
            self.contradicts(at, true, "only a number question has a limit");
            return None;
        };
        let (limit, clause) = match (raw.at_least, raw.above) {
            (Some(limit), None) => (limit, Clause::AtLeast { question, limit }),
            (None, Some(limit)) => (limit, Clause::Above { question, limit }),
            _ => {
                self.contradicts(at, true, "a number has exactly one of `at_least` and `above`");
                return None;
            }
        };
        if !(min < limit && limit < max) {
            let why = format!("limit {limit} is not within {min} to {max}");
            self.fault(at, BookProblem::Unreachable { why });
        }
        Some((clause, self.questions[question].treatments))
    }

    fn time(
        &mut self,
        at: &str,
        raw: &RawTime,
        clauses: &[Clause],
        treatments: Treatments,
    ) -> Option<Time> {
        let after = self.anchor(at, raw, clauses, treatments)?;
        let on_treatment = after == Anchor::Treatment;
        let needs_answer = matches!(raw.mode, RawMode::Once | RawMode::Ahead);
        self.contradicts(at, on_treatment && needs_answer, "this mode needs a date question");
        self.contradicts(
            at,
            raw.avoidable && (raw.mode != RawMode::Until || on_treatment),
            "only a wait after an answer can be avoidable",
        );
        if let Some((shortest, longest)) = raw.range
            && !(raw.period.covers(shortest) && longest.covers(raw.period))
        {
            let accepted = format!("{shortest} to {longest}");
            self.fault(at, BookProblem::Range { what: "the period".into(), accepted });
        }
        let mode = match raw.mode {
            RawMode::Until if raw.avoidable => Mode::Avoidable,
            RawMode::Until => Mode::Until,
            RawMode::Once => Mode::Once,
            RawMode::Ahead => Mode::Ahead,
            RawMode::Tell => Mode::Tell,
        };
        Some(Time { after, period: raw.period, mode, rests: raw.rests })
    }

    fn anchor(
        &mut self,
        at: &str,
        raw: &RawTime,
        clauses: &[Clause],
        treatments: Treatments,
    ) -> Option<Anchor> {
        if raw.after == "treatment" {
            return Some(Anchor::Treatment);
        }
        let Some(index) = self.question_ids.get(raw.after.as_str()).copied() else {
            self.fault(at, BookProblem::Unknown { what: "date question", id: raw.after.clone() });
            return None;
        };
        let question = self.questions[index].clone();
        let Kind::Date { latest } = question.kind else {
            self.contradicts(at, true, "a period begins on the day of a date question");
            return None;
        };
        self.contradicts(
            at,
            raw.mode == RawMode::Ahead && latest != Latest::Open,
            "a date ahead is an open one",
        );
        let asked = question.follows.is_none_or(|follows| {
            clauses.iter().any(|clause| {
                matches!(clause, Clause::Chosen { question, mask }
                    if *question == follows.question && mask & follows.mask != 0)
            })
        });
        if !asked || question.treatments.and(treatments) != treatments {
            let why = format!("`{}` is not asked when this rule speaks", raw.after);
            self.fault(at, BookProblem::Unreachable { why });
        }
        Some(Anchor::Answer(index))
    }

    /// Statements of one rule that cannot stand together.
    fn consistent(&mut self, at: &str, raw: &RawRule) {
        let hold = raw.verdict == Verdict::Hold;
        let waits = raw.time.as_ref().filter(|time| time.mode == RawMode::Until);
        let dated = waits.is_some_and(|time| time.after == "treatment");
        for (wrong, why) in [
            (
                raw.verdict == Verdict::Incomplete,
                "only a missing answer makes a screening incomplete",
            ),
            (
                hold && raw.until.is_none() && !dated,
                "a hold needs `until`, the event it ends with, unless its `time` counts from the treatment",
            ),
            (!hold && raw.until.is_some(), "only a hold has an `until`"),
            (!hold && waits.is_some_and(|time| time.avoidable), "only a hold can be avoidable"),
            (
                hold && raw.time.is_some() && waits.is_none(),
                "a hold ends when its period has passed",
            ),
            (raw.verdict == Verdict::Refer && raw.refer_to.is_none(), "a referral says to whom"),
            (
                raw.refer_to.is_some() && !matches!(raw.verdict, Verdict::Refer | Verdict::Hold),
                "only a referral or a hold names whom to ask",
            ),
            (
                raw.release.is_some() && !hold && raw.verdict != Verdict::Refer,
                "only a hold or a referral is released",
            ),
            (raw.law && raw.verdict != Verdict::Decline, "law declines"),
            (
                raw.law
                    != (raw.basis.condition.evidence == EvidenceKind::Law
                        && raw.verdict == Verdict::Decline),
                "what declines by law is marked as law, and only that",
            ),
            (
                raw.time.is_some() != raw.basis.wait.is_some(),
                "a period, and only it, has grounds for the wait",
            ),
            (
                raw.values.is_empty() == raw.basis.values.is_some(),
                "numbers in the text have grounds",
            ),
            (
                raw.todo.as_ref().is_some_and(|todo| todo.lead.is_some())
                    != raw.basis.lead.is_some(),
                "a lead, and only it, has grounds for the lead",
            ),
            (raw.when.is_empty(), "a rule speaks on something"),
        ] {
            self.contradicts(at, wrong, why);
        }
    }

    fn group(&mut self, at: &str, raw: &RawRule) -> Option<usize> {
        if MOST_POINTS < raw.points {
            let accepted = format!("0 to {MOST_POINTS}");
            self.fault(
                &format!("{at}/points"),
                BookProblem::Range { what: "points".into(), accepted },
            );
        }
        self.contradicts(
            at,
            (0 < raw.points) != raw.group.is_some(),
            "points, and only they, have a group",
        );
        let id = raw.group.as_deref()?;
        let found = self.groups.iter().position(|group| *group.id == *id);
        if found.is_none() {
            let id = id.to_owned();
            self.fault(&format!("{at}/group"), BookProblem::Unknown { what: "group", id });
        }
        found
    }

    fn all_grounds(&mut self, at: &str, raw: &RawRule) -> Vec<Grounds> {
        let basis = &raw.basis;
        [
            (Field::Condition, Some(&basis.condition)),
            (Field::Wait, basis.wait.as_ref()),
            (Field::Values, basis.values.as_ref()),
            (Field::Lead, basis.lead.as_ref()),
        ]
        .into_iter()
        .filter_map(|(field, raw)| raw.map(|raw| self.grounds(at, field, raw)))
        .collect()
    }

    /// Checks what a field stands on.
    pub(super) fn grounds(&mut self, at: &str, field: Field, raw: &RawGrounds) -> Grounds {
        let at = format!("{at}/basis/{}", field.as_str());
        let mut sources = Vec::with_capacity(raw.sources.len());
        let mut kinds = Vec::with_capacity(raw.sources.len());
        for id in &raw.sources {
            match self.known_source(id).map(|source| (source.id.clone(), source.kind)) {
                Some((id, kind)) => {
                    sources.push(id);
                    kinds.push(kind);
                }
                None => self.fault(&at, BookProblem::Source { id: id.clone() }),
            }
        }
        if !kinds.contains(&raw.evidence) || raw.evidence == EvidenceKind::Memory {
            let why = format!("none of the sources is of kind `{}`", raw.evidence);
            self.fault(&at, BookProblem::Evidence { why });
        }
        Grounds { field, sources, evidence: raw.evidence, confidence: raw.confidence }
    }
}
