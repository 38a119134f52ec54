//! What she told before, and under other work of hers.
//!
//! What was told an hour ago is not gone because the next report does not say it again: what came to
//! nothing counts for a day, what could not wait until somebody has settled it. An emergency makes one of
//! what is told within some days; later it is what a doctor has to see today, until it is settled. Of two values the
//! newest counts. What is stronger than it was has got worse, whatever trend is told.
//!
//! It makes no difference under which of her records something is told. What is of the whole body is
//! heard with every work of hers, what is of the eyes with brows and eyeliner, and what is of one area
//! with its last session.

use std::cmp::Reverse;

use etui_schema::vocabulary::Treatment;
use etui_schema::vocabulary::aftercare::{Level, Symptom, Trend};
use jiff::Timestamp;

use super::findings::{is_hot, temperature};
use super::rules::Rules;
use super::{Finding, Report, Told};

/// A session of hers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Work {
    /// What was treated.
    pub treatment: Treatment,
    /// End of the session.
    pub performed_at: Timestamp,
}

/// Another report of hers.
#[derive(Debug, Clone, PartialEq)]
pub struct Earlier {
    /// When it was told.
    pub at: Timestamp,
    /// Under which work.
    pub of: Work,
    /// How urgent it was.
    pub level: Level,
    /// Whether that came of what it told itself, and not of an open one before it alone.
    pub is_own: bool,
    /// Whether a person has looked into it and closed it.
    pub is_settled: bool,
    /// What was told.
    pub symptoms: Vec<Told>,
    /// Measured temperature in °C.
    pub temperature_c: Option<f64>,
}

impl Earlier {
    /// Whether somebody beyond the studio has to look, and nobody has closed it.
    const fn is_open(&self) -> bool {
        match self.level {
            Level::Emergency | Level::SameDay | Level::Doctor => !self.is_settled,
            Level::Artist | Level::Expected => false,
        }
    }

    /// Whether it was told so many hours before or after the report, at most.
    fn is_within(&self, hours: i32, report: &Report) -> bool {
        is_within(hours, report, self.at)
    }

    /// As how urgent it holds the next of its area while it is open.
    fn holds(&self, rules: &Rules, report: &Report) -> Level {
        let is_over = !self.is_own || is_old(rules, report, self.at);
        self.level.min(if is_over { Level::SameDay } else { Level::Emergency })
    }
}

fn is_within(hours: i32, report: &Report, at: Timestamp) -> bool {
    report.reported_at.duration_since(at).as_hours().abs() <= i64::from(hours)
}

/// Whether what was told then is too long ago to call an ambulance by itself.
fn is_old(rules: &Rules, report: &Report, at: Timestamp) -> bool {
    !is_within(rules.emergency_holds_hours.value, report, at)
}

/// A report as it is heard of one work of hers, with all that counts.
pub(super) struct Joined {
    pub(super) report: Report,
    /// What counts though it was told before, and when; no symptom stands for the temperature.
    pub(super) counted: Vec<(Option<Symptom>, Timestamp)>,
    /// The same without what was told too long ago to call for first aid now, if there is such.
    pub(super) fresh: Option<Report>,
    /// What was told since of signs that nobody told long ago, if there is such beside some that were.
    pub(super) anew: Option<Report>,
}

/// The report as it is heard of each work that it may be about; first the one that was named.
pub(super) fn of_all(rules: &Rules, report: &Report) -> Vec<Joined> {
    let last = |treatment: &Treatment| {
        let of = report.works.iter().filter(|work| work.treatment == *treatment);
        let past = of.filter(|work| work.performed_at <= report.reported_at);
        past.max_by_key(|work| work.performed_at)
    };
    let others = Treatment::ALL.iter().filter_map(last).filter(|work| {
        work.treatment != report.treatment || report.performed_at < work.performed_at
    });
    let there = others.filter_map(|work| there(rules, report, *work));
    std::iter::once(report.clone()).chain(there).map(|one| joined(rules, &one)).collect()
}

/// What of a report is heard of another work, if anything is.
fn there(rules: &Rules, report: &Report, work: Work) -> Option<Report> {
    let Work { treatment, performed_at } = work;
    let is_same = treatment == report.treatment;
    let mut there = Report { treatment, performed_at, ..report.clone() };
    there.symptoms.retain(|told| is_same || rules.reaches(told.symptom, treatment));
    for told in &mut there.symptoms {
        // Its day was counted from the other work.
        told.began_on_day = None;
    }
    let complains = there.symptoms.iter().any(|told| !rules.is_circumstance(told.symptom));
    let is_unusual = report.temperature_c.is_some_and(|found| {
        rules.fever_celsius.value <= found || found <= rules.cold_celsius.value
    });
    (complains || is_unusual).then_some(there)
}

fn joined(rules: &Rules, report: &Report) -> Joined {
    let hours = rules.stands_hours.value;
    let stands = |one: &Earlier| !one.is_settled && (one.is_open() || one.is_within(hours, report));
    let mut earlier: Vec<Earlier> = report.earlier.clone();
    // A circumstance is no sign that goes: what she takes she takes, whatever became of the report.
    for one in earlier.iter_mut().filter(|one| !stands(one)) {
        one.symptoms.retain(|told| rules.is_circumstance(told.symptom));
        one.temperature_c = None;
    }
    let mut earlier: Vec<&Earlier> = earlier.iter().collect();
    earlier.sort_by_key(|one| Reverse(one.at));
    let (all, counted) = with(rules, report, &earlier);
    let anew = anew(rules, report, (&earlier, &all.old));
    let before = earlier.len();
    earlier.retain(|one| one.is_within(hours, report) || !stands(one));
    let fresh = (earlier.len() < before).then(|| with(rules, report, &earlier).0);
    Joined { report: all, counted, fresh, anew }
}

/// What was told since, without the signs that were told long ago.
fn anew(
    rules: &Rules,
    report: &Report,
    (earlier, old): (&[&Earlier], &[(Symptom, Timestamp)]),
) -> Option<Report> {
    let is_old_sign = |symptom: Symptom| old.iter().any(|(one, _)| *one == symptom);
    if old.is_empty() {
        return None;
    }
    let since: Vec<&Earlier> =
        earlier.iter().copied().filter(|one| !is_old(rules, report, one.at)).collect();
    // What is kept of her is no news.
    let now = Report { kept: Vec::new(), ..report.clone() };
    let (mut anew, _) = with(rules, &now, &since);
    anew.symptoms.retain(|told| !is_old_sign(told.symptom));
    (!anew.symptoms.is_empty()).then_some(anew)
}

/// A report with what was told before, the newest first, and what is kept of her.
fn with(
    rules: &Rules,
    report: &Report,
    earlier: &[&Earlier],
) -> (Report, Vec<(Option<Symptom>, Timestamp)>) {
    let mut all = Report { earlier: Vec::new(), works: Vec::new(), ..report.clone() };
    let mut counted = Vec::new();
    for told in &mut all.symptoms {
        if has_grown(rules, report, told) {
            told.trend = Some(Trend::Worse);
        }
    }
    let own = Work { treatment: report.treatment, performed_at: report.performed_at };
    for before in earlier {
        let is_here = before.of.treatment == report.treatment;
        let heard = |told: &&Told| is_here || rules.reaches(told.symptom, report.treatment);
        for told in before.symptoms.iter().filter(heard) {
            if let Some(known) = all.symptoms.iter_mut().find(|one| one.symptom == told.symptom) {
                if report.reported_at < before.at {
                    *known = graver(*known, *told);
                }
                continue;
            }
            let began_on_day = told.began_on_day.filter(|_| before.of == own);
            all.symptoms.push(Told { began_on_day, ..*told });
            counted.push((Some(told.symptom), before.at));
        }
        if all.temperature_c.is_none() && before.temperature_c.is_some() {
            all.temperature_c = before.temperature_c;
            counted.push((None, before.at));
        }
    }
    // Beside a fever of now what was told long ago is as good as told now.
    let is_measured = counted.iter().all(|(one, at)| one.is_some() || !is_old(rules, report, *at));
    if !(is_measured && is_hot(rules, &all)) {
        let told = counted.iter().filter(|(_, at)| is_old(rules, report, *at));
        all.old = told.filter_map(|(symptom, at)| Some(((*symptom)?, *at))).collect();
    }
    for symptom in &report.kept {
        if all.symptoms.iter().all(|told| told.symptom != *symptom) {
            all.symptoms.push(Told::bare(*symptom));
        }
    }
    (all, counted)
}

/// Two words on one complaint that came in the wrong order: what was not told may be the worst.
fn graver(one: Told, other: Told) -> Told {
    let severity = one.severity.zip(other.severity).map(|(one, other)| one.max(other));
    let trend = one.trend.zip(other.trend).map(|(one, other)| one.max(other));
    Told { severity, trend, ..one }
}

/// Whether a complaint of this area was told milder not long ago: the last other word counts.
fn has_grown(rules: &Rules, report: &Report, told: &Told) -> bool {
    let Some(now) = told.severity else { return false };
    let since = report.earlier.iter().filter(|before| {
        before.of.treatment == report.treatment
            && (report.performed_at..report.reported_at).contains(&before.at)
            && before.is_within(rules.grew_hours.value, report)
    });
    let severity = |before: &Earlier| {
        let same = before.symptoms.iter().find(|one| one.symptom == told.symptom)?;
        Some((before.at, same.severity?))
    };
    let other = since.filter_map(severity).filter(|(_, severity)| *severity != now);
    other.max().is_some_and(|(_, before)| before < now)
}

/// When what made a difference was told, though not now; the last first.
pub(super) fn earlier(rules: &Rules, joined: &Joined, findings: &[Finding]) -> Vec<Timestamp> {
    let is_hot = temperature(rules, &joined.report).is_some();
    let counts = |symptom: Option<Symptom>| match symptom {
        Some(symptom) => findings.iter().any(|finding| finding.symptoms.contains(&symptom)),
        None => is_hot,
    };
    let mut all: Vec<Timestamp> =
        joined.counted.iter().filter(|(symptom, _)| counts(*symptom)).map(|(_, at)| *at).collect();
    all.sort_unstable_by_key(|at| Reverse(*at));
    all
}

/// The gravest report of this area that waits for somebody to close it: as what it holds, when it was told,
/// and whether it was an emergency.
pub(super) fn open(rules: &Rules, report: &Report) -> Option<(Level, Timestamp, bool)> {
    let here = report.earlier.iter().filter(|one| one.of.treatment == report.treatment);
    let held = |one: &Earlier| (one.holds(rules, report), one.at, one.level == Level::Emergency);
    here.filter(|one| one.is_open()).map(held).max()
}

/// When the last of these was told, if all complaints among them were told long ago.
pub(super) fn told_long_ago(
    rules: &Rules,
    report: &Report,
    symptoms: &[Symptom],
) -> Option<Timestamp> {
    let complaints = symptoms.iter().filter(|symptom| !rules.is_circumstance(**symptom));
    let told = |symptom: &Symptom| report.old.iter().find(|(one, _)| one == symptom);
    let all: Option<Vec<Timestamp>> = complaints.map(|one| Some(told(one)?.1)).collect();
    all?.into_iter().max()
}
