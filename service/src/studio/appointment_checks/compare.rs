//! What differs between two answers to the same booking.

use etui_schema::appointment_checks::{AppointmentCheck, Difference};

/// What differs, part by part, and why as far as it can be told.
#[must_use]
pub(super) fn differences(before: &AppointmentCheck, now: &AppointmentCheck) -> Vec<Difference> {
    let rules = before.rulebook != now.rulebook;
    let why = |part: &str| match part {
        "first_needle" => "drawer, setting or effect changed",
        "rulebook" => "the rules were revised, or a pack was changed",
        _ if rules => "the rules were revised",
        _ if before.unanswered != now.unanswered => "other questions are answered",
        _ if before.on != now.on => "the appointment moved",
        _ => "answers or the day changed",
    };
    let parts = [
        ("verdict", before.verdict.to_string(), now.verdict.to_string()),
        ("hold_until", day(before), day(now)),
        ("findings", findings(before), findings(now)),
        ("unanswered", before.unanswered.join(", "), now.unanswered.join(", ")),
        ("score", score(before), score(now)),
        ("first_needle", first(before), first(now)),
        ("rulebook", rulebook(before), rulebook(now)),
    ];
    parts
        .into_iter()
        .filter(|(_, before, now)| before != now)
        .map(|(part, before, now)| Difference {
            part: part.to_owned(),
            because: why(part).to_owned(),
            before,
            now,
        })
        .collect()
}

fn day(check: &AppointmentCheck) -> String {
    check.hold_until.map_or_else(String::new, |day| day.to_string())
}

fn findings(check: &AppointmentCheck) -> String {
    let named: Vec<String> = check
        .findings
        .iter()
        .map(|finding| format!("{}: {}", finding.rule, finding.verdict))
        .collect();
    named.join(", ")
}

fn score(check: &AppointmentCheck) -> String {
    format!("{} to {}", check.score.range.min, check.score.range.max)
}

fn first(check: &AppointmentCheck) -> String {
    let first = check.needles.as_ref().and_then(|needles| needles.ranked.first());
    first.map_or_else(String::new, |needle| needle.canonical.clone())
}

fn rulebook(check: &AppointmentCheck) -> String {
    format!(
        "{} {} {}",
        check.rulebook.name,
        check.rulebook.revision,
        check.rulebook.packs.join("+")
    )
}
