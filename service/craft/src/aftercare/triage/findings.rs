//! What the rules find in one report on one day.

use etui_schema::vocabulary::aftercare::{Level, Severity, Symptom, Trend};

use jiff::civil::Date;

use super::super::say::{Say, Value};
use super::rules::{Expected, Need, Rule, RuleSources, Rules};
use super::{Finding, Report, Told};
use crate::evidence::Basis;

/// What was told, and a fever where one was measured.
pub(super) fn with_fever(rules: &Rules, report: &Report) -> Vec<Told> {
    let mut told = report.symptoms.clone();
    if is_hot(rules, report) && told.iter().all(|told| told.symptom != Symptom::Fever) {
        let (severity, trend) = (Some(Severity::Moderate), Some(Trend::Same));
        told.push(Told { symptom: Symptom::Fever, severity, trend, began_on_day: None });
    }
    told
}

/// Whether a fever was measured.
pub(super) fn is_hot(rules: &Rules, report: &Report) -> bool {
    report.temperature_c.is_some_and(|found| rules.fever_celsius.value <= found)
}

pub(super) fn applies(rule: &Rule, report: &Report, day: i32) -> bool {
    rule.from_day <= day
        && rule.to_day.is_none_or(|to| day <= to)
        && rule.to_hours.is_none_or(|to| hours(report) <= to)
        && (rule.treatments.is_empty() || rule.treatments.contains(&report.treatment))
}

/// To which symptoms of a report a rule speaks, if it does.
pub(super) fn heard(rule: &Rule, report: &Report, told: &[Told]) -> Option<Vec<Symptom>> {
    let mut symptoms = Vec::new();
    for need in &rule.needs {
        let before = symptoms.len();
        symptoms.extend(told.iter().filter(|told| is_met(need, rule, told)).map(|t| t.symptom));
        if symptoms.len() - before < need.count {
            return None;
        }
    }
    // A measured fever is no symptom that was told, and one told may serve twice.
    symptoms.retain(|symptom| report.symptoms.iter().any(|told| told.symptom == *symptom));
    if symptoms.is_empty() {
        // The temperature alone: it has a finding of its own.
        return None;
    }
    symptoms.sort_unstable();
    symptoms.dedup();
    Some(symptoms)
}

/// What a rule says.
pub(super) fn spoken(rule: &Rule, symptoms: Vec<Symptom>) -> Finding {
    Finding {
        rule: rule.key.clone(),
        level: rule.level,
        symptoms,
        because: Say::plain(&rule.because),
        basis: basis(&rule.sources),
    }
}

fn is_met(need: &Need, rule: &Rule, told: &Told) -> bool {
    let severity = need.severity.is_none_or(|least| least <= told.severity.unwrap_or(rule.unsaid));
    let trend = need.trend.is_none_or(|least| least <= told.trend.unwrap_or(Trend::Same));
    let how = if need.either { severity || trend } else { severity && trend };
    let onset = |least| told.began_on_day.is_some_and(|began| least <= began);
    how && need.symptoms.contains(&told.symptom) && need.onset_from_day.is_none_or(onset)
}

pub(super) fn temperature(rules: &Rules, report: &Report) -> Option<Finding> {
    let found = report.temperature_c?;
    let (hot, cold) = (&rules.fever_celsius, &rules.cold_celsius);
    let is_told = report.symptoms.iter().any(|told| told.symptom == Symptom::Fever);
    let (key, because, limit) = if hot.value <= found {
        if is_told {
            return None;
        }
        ("fever_measured", "why_fever", hot)
    } else if found <= cold.value {
        ("cold_measured", "why_cold", cold)
    } else {
        return None;
    };
    Some(Finding {
        rule: key.into(),
        level: Level::SameDay,
        symptoms: Vec::new(),
        because: Say::plain(because).with("celsius", Value::Decimal(limit.value)),
        basis: vec![limit.source.basis("temperature")],
    })
}

/// That a report is open: as how urgent it holds, when it was told, and whether it was an emergency that
/// is held no longer as one.
pub(super) fn open_report(
    rules: &Rules,
    (level, at, was_emergency): (Level, Date, bool),
    symptoms: Vec<Symptom>,
) -> Finding {
    let is_old = was_emergency && level < Level::Emergency;
    let (key, source) = if is_old {
        ("why_open_emergency", &rules.emergency_holds_hours.source)
    } else {
        ("why_open_report", &rules.stands_hours.source)
    };
    Finding {
        rule: "open_report".into(),
        level,
        symptoms,
        because: Say::plain(key).with("date", Value::Date(at)),
        basis: vec![source.basis("that what is open holds")],
    }
}

pub(super) fn nothing_told(rules: &Rules) -> Finding {
    Finding {
        rule: "nothing_told".into(),
        level: Level::Artist,
        symptoms: Vec::new(),
        because: Say::plain("why_nothing"),
        basis: vec![rules.again_hours.source.basis("that silence reassures nobody")],
    }
}

/// A symptom of which no rule speaks: expected on this day, or the artist's.
pub(super) fn ordinary(rules: &Rules, report: &Report, told: &Told, day: i32) -> Finding {
    let severity = told.severity.unwrap_or(Severity::Moderate);
    let covers = |row: &&Expected| {
        row.symptoms.contains(&told.symptom)
            && (row.treatments.is_empty() || row.treatments.contains(&report.treatment))
            && row.from_day <= day
            && row.to_day.is_none_or(|to| day <= to)
            && row.severity_at_most.is_none_or(|most| severity <= most)
    };
    let symptoms: Vec<Symptom> = vec![told.symptom];
    let grows = told.trend == Some(Trend::Worse) && rules.growing_to_day.value < day;
    match rules.expected.iter().find(covers) {
        Some(_) if grows => Finding {
            rule: "grows".into(),
            level: Level::Artist,
            symptoms,
            because: Say::plain("why_grows"),
            basis: vec![rules.growing_to_day.source.basis("last day of growing by itself")],
        },
        Some(row) => Finding {
            rule: row.key.clone(),
            level: Level::Expected,
            symptoms,
            because: Say::plain(row.because.as_deref().unwrap_or("why_expected")),
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

/// Whole hours since the session, the one that is under way included.
fn hours(report: &Report) -> i32 {
    let minutes = report.reported_at.duration_since(report.performed_at).as_mins();
    i32::try_from((minutes + 59).div_euclid(60)).unwrap_or(i32::MAX - 23)
}
