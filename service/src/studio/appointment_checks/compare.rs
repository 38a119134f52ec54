//! What differs between two answers to the same booking, and why.

use etui_schema::appointment_checks::{AppointmentCheck, Difference};

/// What differs, part by part, and why as far as it can be told.
#[must_use]
pub(super) fn differences(before: &AppointmentCheck, now: &AppointmentCheck) -> Vec<Difference> {
    let parts = [
        ("verdict", before.verdict.to_string(), now.verdict.to_string()),
        ("hold_until", day(before), day(now)),
        ("findings", findings(before), findings(now)),
        ("unanswered", before.unanswered.join(", "), now.unanswered.join(", ")),
        ("score", score(before), score(now)),
        ("first_needle", first(before), first(now)),
        ("patch_test", patch_test(before), patch_test(now)),
        ("pigments", pigments(before), pigments(now)),
        ("readiness", readiness(before), readiness(now)),
        ("todo", todo(before), todo(now)),
        ("rulebook", rulebook(before), rulebook(now)),
    ];
    parts
        .into_iter()
        .filter(|(_, before, now)| before != now)
        .map(|(part, was, is)| Difference {
            part: part.to_owned(),
            because: why(part, before, now),
            before: was,
            now: is,
        })
        .collect()
}

fn why(part: &str, before: &AppointmentCheck, now: &AppointmentCheck) -> String {
    let moved = before.on != now.on || before.starts_at != now.starts_at;
    match part {
        "first_needle" => "the drawer, the setting or the effect changed".to_owned(),
        "readiness" => "the drawer, the practice, the machine or the sessions changed".to_owned(),
        "patch_test" | "pigments" if moved => "the appointment moved".to_owned(),
        "patch_test" | "pigments" => "another test or another bottle was told".to_owned(),
        _ if before.rulebook != now.rulebook => rules(before, now),
        _ if moved => "the appointment moved".to_owned(),
        "todo" if before.unanswered == now.unanswered && before.findings == now.findings => {
            format!("time passed since {}, or something was done meanwhile", before.made_at)
        }
        _ if before.made_at.0 != now.made_at.0 => {
            format!("answers changed, or time passed since {}", before.made_at)
        }
        _ => "answers changed".to_owned(),
    }
}

/// What changed in the rules: a revision of what is built in, or packs.
fn rules(before: &AppointmentCheck, now: &AppointmentCheck) -> String {
    let (was, is) = (&before.rulebook, &now.rulebook);
    if was.revision != is.revision {
        return format!("the rules were revised from {} to {}", was.revision, is.revision);
    }
    let added = is.packs.iter().filter(|pack| !was.packs.contains(pack));
    let gone = was.packs.iter().filter(|pack| !is.packs.contains(pack));
    let told: Vec<String> = added
        .map(|pack| format!("the pack `{pack}` was added"))
        .chain(gone.map(|pack| format!("the pack `{pack}` was taken away")))
        .collect();
    if told.is_empty() { "a pack or a rule was changed".to_owned() } else { told.join(", ") }
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

fn patch_test(check: &AppointmentCheck) -> String {
    check.patch_test.as_ref().map_or_else(String::new, |test| test.standing.to_string())
}

fn pigments(check: &AppointmentCheck) -> String {
    let named: Vec<&str> = check.pigments.iter().map(|pigment| pigment.fitness.as_str()).collect();
    named.join(", ")
}

fn readiness(check: &AppointmentCheck) -> String {
    let lacking = check.readiness.iter().filter(|ready| !ready.ready);
    lacking.map(|ready| ready.about.as_str()).collect::<Vec<_>>().join(", ")
}

/// Keys of the list, with what has become late.
fn todo(check: &AppointmentCheck) -> String {
    let named = check.todo.iter().map(|item| match item.late {
        true => format!("{} (late)", item.key),
        false => item.key.clone(),
    });
    named.collect::<Vec<_>>().join(", ")
}

fn rulebook(check: &AppointmentCheck) -> String {
    format!(
        "{} {} {}",
        check.rulebook.name,
        check.rulebook.revision,
        check.rulebook.packs.join("+")
    )
}
