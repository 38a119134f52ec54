//! The judging of one report.

use std::sync::Arc;

use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use super::super::country::Calls;
use super::super::dating::days_between;
use super::super::say::{Say, Value};
use super::before::{Joined, earlier, of_all, open, told_long_ago};
use super::findings::{
    applies, heard, nothing_told, open_report, ordinary, spoken, temperature, with_fever,
};
use super::now::{call, now};
use super::rules::{Advice, QuestionRow, Rule, Rules, set_of};
use super::{Answer, Finding, Question, Report, ReportError, Told, Triage};

/// Judges a report; all faults at once.
pub(super) fn judge(triage: &Triage, report: &Report) -> Result<Answer, Vec<ReportError>> {
    let rules = &triage.rules;
    let date = |at| date(report, at);
    let day = days_between(date(report.performed_at), date(report.reported_at));
    let days = days(report, day);
    let last = days.iter().copied().fold(day, i32::max);
    // What began on the last day that it may be today began before the report.
    let faults = faults(rules, report, last);
    if !faults.is_empty() {
        return Err(faults);
    }
    let of_work = |mut joined: Joined| {
        let known = &joined.report;
        let days =
            self::days(known, days_between(date(known.performed_at), date(known.reported_at)));
        // What came since is one picture with what was told long ago, if it is for today itself, or if
        // it is what she takes.
        if joined.anew.as_ref().is_some_and(|anew| is_picture(rules, anew, &days)) {
            joined.report.old.clear();
        }
        let known = &joined.report;
        (gravest(rules, known, &days), joined, days)
    };
    let all: Vec<_> = of_all(rules, report).into_iter().map(of_work).collect();
    // The first of the gravest: the work that was named, where it makes no difference.
    let gravest = all.into_iter().rev().max_by_key(|(read, ..)| read.level());
    let Some((mut read, joined, days)) = gravest else { return Err(faults) };
    let known = &joined.report;
    read.hold(rules, open(rules, report).map(|(level, at, was)| (level, date(at), was)));
    // Stable: within a level the order of the rules stays.
    read.findings.sort_by_key(|finding| std::cmp::Reverse(finding.level));
    read.findings = told_once(read.findings);
    let has_pen = |fresh: &Report| days.iter().any(|day| worst(rules, fresh, *day, last).has_pen());
    read.pen = joined.fresh.as_ref().is_none_or(has_pen);
    let ask = ask(triage, known, &days, read.level());
    let mut assumed = assumed(rules, report, &read.findings);
    assumed.extend(earlier(rules, &joined, &read.findings).into_iter().map(|at| {
        ("/symptoms", Say::plain("assumed_earlier").with("date", Value::Date(date(at))))
    }));
    assumed.dedup();
    let mut answer = read.answer(triage, known, day);
    answer.ask = ask;
    assumed.append(&mut answer.assumed);
    Ok(Answer { assumed, ..answer })
}

/// The day of an instant where the report is told.
fn date(report: &Report, at: Timestamp) -> Date {
    at.to_zoned_datetime(report.zone.clone().unwrap_or(TimeZone::UTC)).date()
}

/// One finding for each reason: what two rules say in the same words stands once, with the
/// gravest, the symptoms and sources of both.
fn told_once(findings: Vec<Finding>) -> Vec<Finding> {
    let mut once: Vec<Finding> = Vec::new();
    for finding in findings {
        let Some(known) = once.iter_mut().find(|known| known.because == finding.because) else {
            once.push(finding);
            continue;
        };
        known.symptoms.extend(finding.symptoms);
        known.symptoms.sort_unstable();
        known.symptoms.dedup();
        for basis in finding.basis {
            if !known.basis.contains(&basis) {
                known.basis.push(basis);
            }
        }
    }
    once
}

/// What is kept of her and made a difference, though it was not told.
fn assumed(rules: &Rules, report: &Report, findings: &[Finding]) -> Vec<(&'static str, Say)> {
    let counts = |symptom: Symptom| {
        report.kept.contains(&symptom)
            && report.symptoms.iter().all(|told| told.symptom != symptom)
            && findings.iter().any(|finding| finding.symptoms.contains(&symptom))
    };
    let rows = rules.kept.iter().filter(|row| counts(row.symptom));
    rows.map(|row| ("/symptoms", Say::plain(&row.text))).collect()
}

/// What the rules say on the gravest of the days that a report may be of.
fn gravest<'a>(rules: &'a Rules, report: &Report, days: &[i32]) -> Read<'a> {
    let last = days.iter().copied().max().unwrap_or_default();
    let on_day = |day| {
        let mut read = Heard::of(rules, report, day).read();
        let worst = worst(rules, report, day, last);
        read.ask_how(rules, report, worst.level);
        // Every rule that speaks to what was told speaks to the worst of it, too.
        read.spoken = worst.spoken;
        read
    };
    let graver = |best: Read<'a>, one: Read<'a>| {
        // The first of the gravest: the day as counted, where it makes no difference.
        if best.level() < one.level() { one } else { best }
    };
    days.iter().map(|day| on_day(*day)).reduce(graver).unwrap_or_else(|| on_day(0))
}

/// The days that a report may be of: without a zone two of them, since midnight
/// may or may not lie between.
fn days(report: &Report, day: i32) -> Vec<i32> {
    let mut days = vec![day];
    if report.zone.is_none() {
        let since = report.reported_at.duration_since(report.performed_at);
        let whole = since.as_hours().div_euclid(24);
        // However little of another day has passed, midnight may lie in it.
        let begun = whole + i64::from(SignedDuration::from_hours(24 * whole) < since);
        days.extend([whole, begun].map(|day| i32::try_from(day).unwrap_or(i32::MAX)));
        days.dedup();
    }
    days
}

fn faults(rules: &Rules, report: &Report, last: i32) -> Vec<ReportError> {
    let mut faults = Vec::new();
    if report.reported_at < report.performed_at {
        faults.push(ReportError::BeforeTreatment {
            reported_at: report.reported_at,
            performed_at: report.performed_at,
        });
    }
    let plausible = &rules.plausible_celsius;
    if let Some(found) = report.temperature_c
        && !(plausible.least..=plausible.most).contains(&found)
    {
        let (least, most) = (plausible.least, plausible.most);
        faults.push(ReportError::Temperature { found, least, most });
    }
    for (index, told) in report.symptoms.iter().enumerate() {
        if report.symptoms.iter().take(index).any(|earlier| earlier.symptom == told.symptom) {
            faults.push(ReportError::Twice { index, symptom: told.symptom });
        }
        if let Some(began) = told.began_on_day.filter(|began| !(0..=last.max(0)).contains(began)) {
            faults.push(ReportError::Began { index, day: began, last: last.max(0) });
        }
    }
    faults
}

/// Whether what came since is more than healing that goes on beside what is open.
fn is_picture(rules: &Rules, anew: &Report, days: &[i32]) -> bool {
    let is_taken = anew.symptoms.iter().any(|told| rules.is_circumstance(told.symptom));
    let how = as_grave(anew);
    is_taken || days.iter().any(|day| Level::SameDay <= Heard::of(rules, &how, *day).level())
}

/// A report whose complaints are as grave as what was told of them lets them be.
fn as_grave(report: &Report) -> Report {
    let mut worst = report.clone();
    for told in &mut worst.symptoms {
        told.severity.get_or_insert(Severity::Severe);
        told.trend.get_or_insert(Trend::Worse);
    }
    worst
}

/// How grave the gravest of the days is, without what is said of it.
fn level(rules: &Rules, report: &Report, days: &[i32]) -> Level {
    let last = days.iter().copied().max().unwrap_or_default();
    let on_day = |day: &i32| {
        let told = Heard::of(rules, report, *day).level();
        if told == Level::Emergency {
            told
        } else {
            told.max(worst(rules, report, *day, last).level)
        }
    };
    days.iter().map(on_day).max().unwrap_or_else(|| on_day(&0))
}

/// What is heard of the worst that a report may mean.
struct Worst<'a> {
    level: Level,
    spoken: Vec<&'a Rule>,
}

impl Worst<'_> {
    fn has_pen(&self) -> bool {
        self.spoken.iter().any(|rule| rule.advice == Some(Advice::Pen))
    }
}

/// What was not told may be the worst there is: how grave it would be then, and what is said of it.
/// When it began is seldom told: as late as on the last day that the report may be of, it leaves the
/// level at most one below.
fn worst<'a>(rules: &'a Rules, report: &Report, day: i32, last: i32) -> Worst<'a> {
    let mut worst = as_grave(report);
    let how = Heard::of(rules, &worst, day);
    let level = how.level();
    let spoken = how.spoken.into_iter().map(|(rule, _)| rule).collect();
    if level == Level::Emergency || worst.symptoms.iter().all(|told| told.began_on_day.is_some()) {
        return Worst { level, spoken };
    }
    for told in &mut worst.symptoms {
        told.began_on_day.get_or_insert(last.max(0));
    }
    let late = match Heard::of(rules, &worst, day).level() {
        Level::Emergency => Level::SameDay,
        Level::SameDay => Level::Doctor,
        Level::Doctor => Level::Artist,
        Level::Artist | Level::Expected => Level::Expected,
    };
    Worst { level: level.max(late), spoken }
}

/// What is heard of a report on a day: the rules that speak, with the symptoms that they speak to, and
/// what else is found.
struct Heard<'a> {
    spoken: Vec<(&'a Rule, Vec<Symptom>)>,
    others: Vec<Finding>,
}

impl<'a> Heard<'a> {
    fn of(rules: &'a Rules, report: &Report, day: i32) -> Self {
        let told = with_fever(rules, report);
        let set = set_of(told.iter().map(|told| told.symptom));
        let may = rules.rule.iter().filter(|rule| rule.may_speak(set));
        let apply = may.filter(|rule| applies(rule, report, day));
        let spoken: Vec<_> =
            apply.filter_map(|rule| Some((rule, heard(rule, report, &told)?))).collect();
        let mut others = Vec::from_iter(temperature(rules, report));
        for told in report.symptoms.iter().filter(|told| !rules.is_circumstance(told.symptom)) {
            let is_of = |symptoms: &[Symptom]| symptoms.contains(&told.symptom);
            let is_heard = spoken.iter().any(|(_, symptoms)| is_of(symptoms))
                || others.iter().any(|finding| is_of(&finding.symptoms));
            if !is_heard {
                others.push(ordinary(rules, report, told, day));
            }
        }
        if spoken.is_empty() && others.is_empty() {
            others.push(nothing_told(rules));
        }
        let mut heard = Self { spoken: Vec::with_capacity(spoken.len()), others };
        for (rule, symptoms) in spoken {
            let is_grave = rule.level == Level::Emergency;
            match told_long_ago(rules, report, &symptoms).filter(|_| is_grave) {
                Some(at) => {
                    let open = (Level::SameDay, date(report, at), true);
                    heard.others.push(open_report(rules, open, symptoms));
                }
                None => heard.spoken.push((rule, symptoms)),
            }
        }
        heard
    }

    fn level(&self) -> Level {
        let others = self.others.iter().map(|finding| finding.level);
        let all = self.spoken.iter().map(|(rule, _)| rule.level).chain(others);
        all.max().unwrap_or(Level::Artist)
    }

    fn read(self) -> Read<'a> {
        let rules = self.spoken.iter().map(|(rule, _)| *rule).collect();
        let said = self.spoken.into_iter().map(|(rule, symptoms)| spoken(rule, symptoms));
        Read { findings: said.chain(self.others).collect(), spoken: rules, pen: true }
    }
}

/// What the rules say to a report on a day.
struct Read<'a> {
    findings: Vec<Finding>,
    spoken: Vec<&'a Rule>,
    /// Whether the signs that ask for the pen were told now, or not long ago.
    pen: bool,
}

impl Read<'_> {
    fn level(&self) -> Level {
        self.findings.iter().map(|finding| finding.level).max().unwrap_or(Level::Artist)
    }

    /// The level is that of the [`worst`] that was not told, and the answer asks.
    fn ask_how(&mut self, rules: &Rules, report: &Report, level: Level) {
        if self.level() < level {
            self.findings.push(Finding {
                rule: "not_told_how".into(),
                level,
                symptoms: without_how(rules, report),
                because: Say::plain("why_not_told_how"),
                basis: vec![rules.again_hours.source.basis("that what is not told may be grave")],
            });
        }
    }

    /// The level is that of what is open, until somebody has closed it. That it was an emergency is said.
    fn hold(&mut self, rules: &Rules, open: Option<(Level, Date, bool)>) {
        let open = open.filter(|(level, _, was_emergency)| {
            let is_old = *was_emergency && *level < Level::Emergency;
            self.level() < *level || is_old && self.level() == *level
        });
        self.findings.extend(open.map(|open| open_report(rules, open, Vec::new())));
    }

    fn answer(self, triage: &Triage, report: &Report, day: i32) -> Answer {
        let rules = &triage.rules;
        let level = self.level();
        let calls = Calls::of(&triage.countries, report.country.as_deref(), &report.contacts);
        let hours = match level {
            Level::Emergency => Some(rules.again_hours.emergency),
            Level::SameDay => Some(rules.again_hours.same_day),
            Level::Doctor => Some(rules.again_hours.doctor),
            Level::Artist => Some(rules.again_hours.artist),
            Level::Expected => None,
        };
        let by = |hours: i32| {
            report.reported_at.checked_add(SignedDuration::from_hours(hours.into())).ok()
        };
        let about = (report.treatment, rules.floor_days);
        let now = now(level, (&self.spoken, self.pen), &calls, about);
        let mut findings = self.findings;
        if let Some(gravest) = findings.first_mut() {
            let acts = rules.act.iter().filter(|act| now.iter().any(|say| say.key == act.text));
            gravest.basis.extend(acts.map(|act| act.source.basis(Arc::clone(&act.what))));
        }
        let mut assumed = Vec::new();
        if report.zone.is_none() {
            assumed.push(("/zone", Say::plain("assumed_zone")));
        }
        if calls.general {
            let key = report.country.as_ref().map_or("assumed_no_country", |_| "assumed_country");
            assumed.push(("/country", Say::plain(key)));
        }
        Answer {
            revision: rules.revision.max(triage.countries.revision),
            level,
            day,
            now,
            call: call(&calls, level, &self.spoken),
            report_again: Say::plain(match level {
                Level::Emergency => "again_emergency",
                Level::SameDay => "again_same_day",
                Level::Doctor => "again_doctor",
                Level::Artist => "again_artist",
                Level::Expected => "again_expected",
            }),
            report_again_by: hours.and_then(by),
            ask: Vec::new(),
            findings,
            cautions: vec![Say::plain("not_a_diagnosis"), Say::plain("signs_on_any_skin")],
            assumed,
        }
    }
}

/// Complaints of which severity or trend was not told; what somebody takes or wears has none.
fn without_how(rules: &Rules, report: &Report) -> Vec<Symptom> {
    let silent = report.symptoms.iter().filter(|t| t.severity.is_none() || t.trend.is_none());
    silent.map(|told| told.symptom).filter(|symptom| !rules.is_circumstance(*symptom)).collect()
}

/// What is still to be asked: everything, where no complaint was told; else how
/// strong the complaints are that came without it, and what nobody told that would
/// make the answer graver.
fn ask(triage: &Triage, report: &Report, days: &[i32], known: Level) -> Vec<Question> {
    let rules = &triage.rules;
    if known == Level::Emergency {
        // Nobody fills in a form while she calls an ambulance.
        return Vec::new();
    }
    if report.symptoms.iter().all(|told| rules.is_circumstance(told.symptom)) {
        return triage.questions(report.treatment, days.first().copied().unwrap_or_default());
    }
    let mut questions = Vec::new();
    let symptoms = without_how(rules, report);
    if !symptoms.is_empty() {
        let key: Arc<str> = "ask_how".into();
        questions.push(Question { say: Say::plain(&key), key, symptoms });
    }
    let graver: Vec<Symptom> = untold(rules, report)
        .into_iter()
        .filter(|(_, with)| known < level(rules, with, days))
        .map(|(symptom, _)| symptom)
        .collect();
    let asks = |row: &&QuestionRow| row.symptoms.iter().any(|one| graver.contains(one));
    questions.extend(rules.question.iter().filter(asks).map(Question::of));
    questions
}

/// What nobody told beside the complaints, with the report as it were with it. A normal
/// temperature, once measured, is an answer; a fever that is told needs no figure.
fn untold(rules: &Rules, report: &Report) -> Vec<(Symptom, Report)> {
    let is_told = |symptom| report.symptoms.iter().any(|told| told.symptom == symptom);
    let with = |symptom| {
        let mut with = report.clone();
        with.symptoms.push(Told::bare(symptom));
        (symptom, with)
    };
    let circumstances = rules.circumstances().iter().copied().filter(|symptom| !is_told(*symptom));
    let mut all: Vec<_> = circumstances.map(with).collect();
    if report.temperature_c.is_none() && !is_told(Symptom::Fever) {
        let temperature_c = Some(rules.fever_celsius.value);
        all.push((Symptom::Fever, Report { temperature_c, ..report.clone() }));
    }
    all
}
