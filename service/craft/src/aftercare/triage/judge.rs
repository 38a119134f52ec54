//! The judging of one report.

use std::sync::Arc;

use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};
use jiff::SignedDuration;
use jiff::tz::TimeZone;

use super::super::dating::days_between;
use super::super::say::{Say, Value, Words};
use super::rules::{Advice, Country, Expected, Rule, RuleSources, Rules};
use super::{Answer, Finding, Report, ReportError, Told};
use crate::evidence::Basis;

/// Judges a report; all faults at once.
pub(super) fn judge(rules: &Rules, report: &Report) -> Result<Answer, Vec<ReportError>> {
    let zone = report.zone.clone().unwrap_or(TimeZone::UTC);
    let date = |at: jiff::Timestamp| at.to_zoned_datetime(zone.clone()).date();
    let day = days_between(date(report.performed_at), date(report.reported_at));
    let faults = faults(rules, report, day);
    if !faults.is_empty() {
        return Err(faults);
    }

    let spoken: Vec<(&Rule, Finding)> =
        rules.rule.iter().filter_map(|rule| Some((rule, speak(rule, report, day)?))).collect();
    let advice: Vec<(Level, Advice)> =
        spoken.iter().filter_map(|(rule, _)| Some((rule.level, rule.advice?))).collect();
    let mut findings: Vec<Finding> = spoken.into_iter().map(|(_, finding)| finding).collect();
    findings.extend(fever(rules, report));
    for told in &report.symptoms {
        if !findings.iter().any(|finding| finding.symptoms.contains(&told.symptom)) {
            findings.push(ordinary(rules, report, told, day));
        }
    }
    if findings.is_empty() {
        findings.push(nothing_told(rules));
    }
    // Stable: within a level the order of the rules stays.
    findings.sort_by_key(|finding| std::cmp::Reverse(finding.level));
    let level = findings.first().map_or(Level::Expected, |finding| finding.level);
    Ok(answer(rules, report, day, level, findings, &advice))
}

fn faults(rules: &Rules, report: &Report, day: i32) -> Vec<ReportError> {
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
        if let Some(began) = told.began_on_day.filter(|began| !(0..=day.max(0)).contains(began)) {
            faults.push(ReportError::Began { index, day: began, last: day.max(0) });
        }
    }
    faults
}

fn severity(told: &Told) -> Severity {
    told.severity.unwrap_or(Severity::Moderate)
}

fn trend(told: &Told) -> Trend {
    told.trend.unwrap_or(Trend::Same)
}

/// What a rule says to a report, if anything.
fn speak(rule: &Rule, report: &Report, day: i32) -> Option<Finding> {
    let in_days = rule.from_day <= day && rule.to_day.is_none_or(|to| day <= to);
    let in_area = rule.treatments.is_empty() || rule.treatments.contains(&report.treatment);
    if !in_days || !in_area {
        return None;
    }
    let present: Vec<&Told> =
        report.symptoms.iter().filter(|told| is_present(rule, told)).collect();
    // With several symptoms asked for, one that gets worse is enough; with
    // `one_of` it must be one of those.
    let moving: Vec<&Told> = present
        .iter()
        .copied()
        .filter(|told| rule.trend.is_none_or(|least| least <= trend(told)))
        .filter(|told| rule.one_of.is_empty() || rule.one_of.contains(&told.symptom))
        .collect();
    let wanted = rule.count.unwrap_or(1);
    if present.len() < wanted || moving.is_empty() {
        return None;
    }
    let spoken = if wanted == 1 { moving } else { present };
    Some(Finding {
        rule: rule.key.clone(),
        level: rule.level,
        symptoms: spoken.iter().map(|told| told.symptom).collect(),
        because: Say::plain(&rule.because),
        basis: basis(&rule.sources),
    })
}

fn is_present(rule: &Rule, told: &Told) -> bool {
    rule.symptoms.contains(&told.symptom)
        && rule.severity.is_none_or(|least| least <= severity(told))
        && rule
            .onset_from_day
            .is_none_or(|least| told.began_on_day.is_some_and(|began| least <= began))
}

fn fever(rules: &Rules, report: &Report) -> Option<Finding> {
    let limit = &rules.fever_celsius;
    let hot = report.temperature_c.is_some_and(|found| limit.value <= found);
    hot.then(|| Finding {
        rule: "fever_measured".into(),
        level: Level::SameDay,
        symptoms: Vec::new(),
        because: Say::plain("why_fever").with("celsius", Value::Decimal(limit.value)),
        basis: vec![limit.source.basis("temperature")],
    })
}

fn nothing_told(rules: &Rules) -> Finding {
    Finding {
        rule: "nothing_told".into(),
        level: Level::Expected,
        symptoms: Vec::new(),
        because: Say::plain("why_nothing"),
        basis: vec![rules.again_hours.source.basis("that silence is taken as it is")],
    }
}

/// A symptom of which no rule speaks: expected on this day, or the artist's.
fn ordinary(rules: &Rules, report: &Report, told: &Told, day: i32) -> Finding {
    let covers = |row: &&Expected| {
        row.symptoms.contains(&told.symptom)
            && (row.treatments.is_empty() || row.treatments.contains(&report.treatment))
            && row.from_day <= day
            && day <= row.to_day
            && row.severity_at_most.is_none_or(|most| severity(told) <= most)
    };
    let symptoms: Vec<Symptom> = vec![told.symptom];
    match rules.expected.iter().find(covers) {
        Some(row) => Finding {
            rule: row.key.clone(),
            level: Level::Expected,
            symptoms,
            because: Say::plain("why_expected"),
            basis: basis(&row.sources),
        },
        None => Finding {
            rule: "not_expected_today".into(),
            level: Level::Artist,
            symptoms,
            because: Say::plain("why_unusual"),
            basis: vec![rules.again_hours.source.basis("that the unforeseen goes to the artist")],
        },
    }
}

fn basis(sources: &RuleSources) -> Vec<Basis> {
    vec![sources.signs.basis("signs"), sources.days.basis("days and level")]
}

fn answer(
    rules: &Rules,
    report: &Report,
    day: i32,
    level: Level,
    findings: Vec<Finding>,
    advice: &[(Level, Advice)],
) -> Answer {
    let calls = Calls::of(rules, report);
    let hours = match level {
        Level::Emergency => Some(rules.again_hours.emergency),
        Level::SameDay => Some(rules.again_hours.same_day),
        Level::Doctor => Some(rules.again_hours.doctor),
        Level::Artist => Some(rules.again_hours.artist),
        Level::Expected => None,
    };
    let by =
        |hours: i32| report.reported_at.checked_add(SignedDuration::from_hours(hours.into())).ok();
    let mut assumed = Vec::new();
    if report.zone.is_none() {
        assumed.push(("/zone", Say::plain("assumed_zone")));
    }
    if calls.general {
        assumed.push(("/country", Say::plain("assumed_country")));
    }
    Answer {
        revision: rules.revision,
        level,
        day,
        now: now(level, advice, &calls, rules.floor_days),
        call: calls.call(level),
        report_again: Say::plain(match level {
            Level::Emergency => "again_emergency",
            Level::SameDay => "again_same_day",
            Level::Doctor => "again_doctor",
            Level::Artist => "again_artist",
            Level::Expected => "again_expected",
        }),
        report_again_by: hours.and_then(by),
        findings,
        cautions: vec![Say::plain("not_a_diagnosis"), Say::plain("signs_on_any_skin")],
        assumed,
    }
}

/// What to do now: the level's own words, and before them those of a rule of
/// the same level that knows better.
fn now(level: Level, advice: &[(Level, Advice)], calls: &Calls, floor_days: i32) -> Vec<Say> {
    let asked = |wanted: Advice| advice.contains(&(level, wanted));
    let mut now = Vec::new();
    match level {
        Level::Emergency => now.push(calls.fill("do_emergency")),
        Level::SameDay => {
            if asked(Advice::Eye) {
                now.push(calls.fill("do_same_day_eye"));
            }
            if asked(Advice::Prescriber) {
                now.push(calls.fill("do_same_day_prescriber"));
            }
            now.push(calls.fill("do_same_day"));
        }
        Level::Doctor => now.push(calls.fill("do_doctor")),
        Level::Artist => {
            if asked(Advice::Wait) {
                now.push(calls.fill("do_wait").with("floor", Value::Number(floor_days)));
            }
            if asked(Advice::Review) {
                now.push(calls.fill("do_review"));
            }
            now.push(calls.fill("do_artist"));
        }
        Level::Expected => now.push(calls.fill("do_expected")),
    }
    now
}

/// Whom to call: the studio's words, else the country's, else general ones.
struct Calls {
    emergency: Words,
    same_day: Words,
    doctor: Words,
    artist: Words,
    general: bool,
}

impl Calls {
    fn of(rules: &Rules, report: &Report) -> Self {
        let wanted = report.country.as_deref();
        let country = rules
            .country
            .iter()
            .find(|row| wanted.is_some_and(|w| w.eq_ignore_ascii_case(&row.code)));
        let own = &report.contacts;
        let pick = |own: &Option<Arc<str>>, of: fn(&Country) -> &Arc<str>, general: &str| {
            own.clone().map_or_else(
                || Words::Key(country.map_or_else(|| general.into(), |row| of(row).clone())),
                Words::Own,
            )
        };
        Self {
            emergency: pick(&own.emergency, |row| &row.emergency, "words_emergency"),
            same_day: pick(&own.same_day, |row| &row.same_day, "words_same_day"),
            doctor: pick(&own.doctor, |row| &row.doctor, "words_doctor"),
            artist: own
                .artist
                .clone()
                .map_or_else(|| Words::Key("words_artist".into()), Words::Own),
            general: country.is_none() && (own.emergency.is_none() || own.same_day.is_none()),
        }
    }

    fn fill(&self, key: &str) -> Say {
        Say::plain(key)
            .with("emergency", Value::Words(self.emergency.clone()))
            .with("same_day", Value::Words(self.same_day.clone()))
            .with("doctor", Value::Words(self.doctor.clone()))
            .with("artist", Value::Words(self.artist.clone()))
    }

    fn call(&self, level: Level) -> Option<Say> {
        let words = match level {
            Level::Emergency => &self.emergency,
            Level::SameDay => &self.same_day,
            Level::Doctor => &self.doctor,
            Level::Artist => &self.artist,
            Level::Expected => return None,
        };
        Some(Say::plain("call").with("whom", Value::Words(words.clone())))
    }
}
