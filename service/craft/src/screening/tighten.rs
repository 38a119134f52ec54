//! What a pack may do to a built-in rule: make it stricter, never softer.
//!
//! Several packs may tighten the same rule, in whatever order their names stand:
//! each is held against the rule as it is built in, and the strictest counts. What
//! the rule held before stays: a hold that becomes a referral keeps its day.

use std::sync::Arc;

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
        if rule.built.is_none() {
            rule.built = Some(Arc::new(rule.clone()));
        }
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
        let built = rule.as_built().verdict;
        if severity(verdict) < severity(built) || verdict == Verdict::Incomplete {
            let why =
                format!("`{}` is built in as `{built}`, which is harder than `{verdict}`", rule.id);
            self.fault(&at, BookProblem::Loosens { why });
            return;
        }
        if severity(verdict) < severity(rule.verdict) {
            return;
        }
        self.contradicts(
            &at,
            verdict == Verdict::Hold && rule.verdict != Verdict::Hold,
            "a hold says what it waits for, and this rule has no such event; add a rule of your own, with `until`",
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
        let built = rule.as_built().period();
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
        let built = built.unwrap_or(time.period);
        if !period.covers(built) {
            let why = format!("{period} is shorter than {built}, which is built in");
            self.fault(&at, BookProblem::Loosens { why });
            return;
        }
        if time.period.covers(period) {
            return;
        }
        if !period.covers(time.period) {
            let other = rule.pack.as_deref().unwrap_or_default();
            let why = format!(
                "neither {period} nor {} of the pack `{other}` is always the longer one",
                time.period
            );
            self.contradicts(&at, true, &why);
            return;
        }
        time.period = period;
        rule.grounds.retain(|grounds| grounds.field != Field::Wait);
        rule.grounds.push(studio_decision(Field::Wait));
    }

    fn tighten_points(&mut self, at: &str, rule: &mut Rule, points: u8) {
        let at = format!("{at}/points");
        let built = rule.as_built().points;
        if points < built || MOST_POINTS < points {
            let why = format!("points of `{}` are {built} to {MOST_POINTS}", rule.id);
            self.fault(&at, BookProblem::Loosens { why });
        }
        self.contradicts(&at, rule.group.is_none(), "this rule has no group of points");
        rule.points = points.max(rule.points);
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
