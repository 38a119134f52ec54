//! What a pack may do to a built-in rule: make it stricter, never softer.

use etui_schema::vocabulary::{Confidence, EvidenceKind, Verdict};

use super::data::RawTighten;
use super::faults::BookProblem;
use super::gate::severity;
use super::load::Loader;
use super::load_rule::MOST_POINTS;
use super::rule::{Field, Grounds, Mode, Rule};
use crate::evidence::COMMON_PRACTICE;

impl Loader<'_> {
    /// Makes one rule stricter.
    pub(super) fn tighten(&mut self, at: &str, raw: &RawTighten) {
        let Some(index) = self.rule_ids.get(raw.rule.as_str()).copied() else {
            let id = raw.rule.chars().take(60).collect();
            self.fault(&format!("{at}/rule"), BookProblem::Unknown { what: "rule", id });
            return;
        };
        let mut rule = self.rules[index].clone();
        if let Some(verdict) = raw.verdict {
            self.tighten_verdict(at, raw, &mut rule, verdict);
        }
        if let Some(period) = raw.period {
            self.tighten_period(at, &mut rule, period);
        }
        if let Some(points) = raw.points {
            self.tighten_points(at, &mut rule, points);
        }
        rule.pack = match (&rule.pack, &self.pack) {
            // Several packs made it what it is: all of them are named.
            (Some(known), Some(own)) if known != own => Some(format!("{known}+{own}").into()),
            (_, own) => own.clone(),
        };
        self.rules[index] = rule;
    }

    fn tighten_verdict(&mut self, at: &str, raw: &RawTighten, rule: &mut Rule, verdict: Verdict) {
        let at = format!("{at}/verdict");
        if severity(verdict) < severity(rule.verdict) || verdict == Verdict::Incomplete {
            let why = format!(
                "`{}` is `{}` already, which is no milder than `{verdict}`",
                rule.id, rule.verdict
            );
            self.fault(&at, BookProblem::Loosens { why });
            return;
        }
        self.contradicts(
            &at,
            verdict == Verdict::Hold && rule.verdict != Verdict::Hold,
            "a hold needs to say until what; add a rule of your own",
        );
        if verdict == Verdict::Refer {
            match &raw.refer_to {
                Some(whom) => rule.keys.whom = Some(self.sentence(&at, format!("whom.{whom}"))),
                None => self.contradicts(&at, rule.keys.whom.is_none(), "a referral says to whom"),
            }
        }
        rule.verdict = verdict;
    }

    fn tighten_period(&mut self, at: &str, rule: &mut Rule, period: super::period::Period) {
        let at = format!("{at}/period");
        let Some(time) = &mut rule.time else {
            self.contradicts(&at, true, "this rule has no period");
            return;
        };
        if time.mode == Mode::Once {
            // The longer this period, the later the milder rule takes over;
            // it alone would leave a gap that nothing speaks in.
            self.contradicts(
                &at,
                true,
                "this rule speaks once a period has passed; tighten the other one",
            );
            return;
        }
        if !period.covers(time.period) {
            let why = format!("{period} is shorter than {}", time.period);
            self.fault(&at, BookProblem::Loosens { why });
            return;
        }
        time.period = period;
        rule.grounds.retain(|grounds| grounds.field != Field::Wait);
        rule.grounds.push(studio_decision(Field::Wait));
    }

    fn tighten_points(&mut self, at: &str, rule: &mut Rule, points: u8) {
        let at = format!("{at}/points");
        if points < rule.points || MOST_POINTS < points {
            let why = format!("points of `{}` are {} to {MOST_POINTS}", rule.id, rule.points);
            self.fault(&at, BookProblem::Loosens { why });
        }
        self.contradicts(&at, rule.group.is_none(), "this rule has no group of points");
        rule.points = points;
    }
}

/// Nothing published stands behind what a studio decides for itself.
fn studio_decision(field: Field) -> Grounds {
    Grounds {
        field,
        sources: vec![COMMON_PRACTICE.into()],
        evidence: EvidenceKind::CommonPractice,
        confidence: Confidence::Low,
    }
}
